package faults_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// drawnPairs are pairs of faults of different parts, since what comes first on one
// wire is not written in a deck.
func drawnPairs(list []*faults.Fault, n int, seed uint64) []*spiceVehicle {
	rng := rand.New(rand.NewPCG(seed, 3))
	var out []*spiceVehicle
	for len(out) < n {
		a, b := list[rng.IntN(len(list))], list[rng.IntN(len(list))]
		if a.Part == b.Part {
			continue
		}
		f := faults.Combine(a, b)
		out = append(out, &spiceVehicle{fault: f, changes: f.Typical()})
	}
	return out
}

// tablePairs takes the same pairs from the table; it tells how long the pairs took in
// all, and how many there were.
func tablePairs(t testing.TB, c *netlist.Circuit, list []*faults.Fault, vehicles []*spiceVehicle, probes []faults.Probe) (readings [][]float64, took time.Duration, pairs int) {
	t.Helper()
	at := map[string]int{}
	for i, v := range vehicles {
		at[v.fault.Name] = i
	}
	readings = make([][]float64, len(vehicles))
	table, err := faults.NewPairTable(context.Background(), c, list, probes, faults.DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	keep := func(b *faults.PairBlock) error {
		for k, second := range b.Second {
			x, y := list[b.First].Name, list[second].Name
			for _, name := range []string{x + " and " + y, y + " and " + x} {
				if i, ok := at[name]; ok {
					readings[i] = append([]float64{}, b.Readings(k)...)
				}
			}
		}
		return nil
	}
	counts, err := table.Stream(context.Background(), faults.PairOptions{}, keep)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	if _, err := table.Stream(context.Background(), faults.PairOptions{}, func(*faults.PairBlock) error { return nil }); err != nil {
		t.Fatal(err)
	}
	return readings, time.Since(start), counts.Pairs
}

// Drawn pairs of the demo, each as a deck of its own, against a circuit simulator that
// knows nothing of this package: 1e-6 of the reading, and 1e-6 Ω or V, which is what
// its own solution keeps of milliohms beside megohms.
func TestPairsAgainstSpice(t *testing.T) {
	needSpice(t)
	h, err := netfile.Read("../examples/bench/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	var list []*faults.Fault
	for _, f := range faults.Catalogue(c) {
		if f.Kind != faults.StuckDominant { // which a deck has no bus at work for
			list = append(list, f)
		}
	}
	for _, sel := range []faults.Selection{{}, {Quantity: solve.Volts}} {
		probes := faults.Probes(c, sel)
		vehicles := drawnPairs(list, 40, 11)
		askSpice(t, c, vehicles, probes, solve.DefaultMeter())
		readings, _, _ := tablePairs(t, c, list, vehicles, probes)
		worst := 0.0
		for i, v := range vehicles {
			for k, got := range readings[i] {
				want := v.truth[k].Number
				if v.truth[k].OL || math.IsInf(got, 1) {
					if v.truth[k].OL != math.IsInf(got, 1) {
						t.Errorf("%s with %s: %v, by ngspice %v", probes[k], v.fault.Name, got, v.truth[k])
					}
					continue
				}
				d := math.Abs(got - want)
				worst = max(worst, d/(math.Abs(want)+1))
				if d > 1e-6*math.Abs(want)+1e-6 {
					t.Errorf("%s with %s: %.12g, by ngspice %.12g", probes[k], v.fault.Name, got, want)
				}
			}
		}
		t.Logf("%s: at most %.1e apart", sel.Quantity, worst)
	}
}

// The same decks by the circuit simulator, in one batch, against the table: pairs of
// the 60-connector layout, a few drawn ones for ngspice, all of them for the table.
// The metrics are for each pair; the simulator's start is left out by a batch of one.
func BenchmarkPairsBySpice(b *testing.B) {
	needSpice(b)
	h, err := netfile.Read("../testdata/layouts/fleet-60.yaml")
	if err != nil {
		b.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		b.Fatal(err)
	}
	list := faults.Catalogue(c)
	var probes []faults.Probe
	for _, p := range faults.Probes(c, faults.Selection{}) {
		if c.Nodes[p.From].Conductor != (netlist.Conductor{}) && c.Nodes[p.To].Conductor != (netlist.Conductor{}) {
			probes = append(probes, p)
		}
	}
	vehicles := drawnPairs(list, 21, 5)
	var simulator, table float64 // seconds for a pair
	for b.Loop() {
		start := time.Now()
		askSpice(b, c, vehicles[:1], probes, solve.DefaultMeter())
		one := time.Since(start)
		start = time.Now()
		askSpice(b, c, vehicles, probes, solve.DefaultMeter())
		simulator += (time.Since(start) - one).Seconds() / float64(len(vehicles)-1)
		_, took, pairs := tablePairs(b, c, list, vehicles, probes)
		table += took.Seconds() / float64(pairs)
	}
	b.ReportMetric(0, "ns/op") // of no meaning here
	b.ReportMetric(1e9*simulator/float64(b.N), "ngspice-ns/pair")
	b.ReportMetric(1e9*table/float64(b.N), "table-ns/pair")
	b.ReportMetric(simulator/table, "times-faster")
}
