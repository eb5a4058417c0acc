package faults

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// alikeReadings is what a table of pairs promises: 1e-9 of the reading; and for volts
// that is of what the supply gives, of which they may be a small rest.
func alikeReadings(q solve.Quantity, got, want float64) bool {
	switch {
	case math.IsInf(want, 1) || math.IsInf(got, 1):
		return got == want
	case math.IsNaN(want) || math.IsNaN(got):
		return math.IsNaN(got) && math.IsNaN(want)
	case q == solve.Volts:
		return math.Abs(got-want) <= 1e-9*math.Abs(want)+1e-9
	}
	return math.Abs(got-want) <= 1e-9*want
}

// byNet takes readings from nets assembled with changes; NaN where they cannot be.
func byNet(t testing.TB, c *netlist.Circuit, probes []Probe, meter solve.Meter, changes []solve.Change) []float64 {
	t.Helper()
	out := make([]float64, len(probes))
	for _, g := range groupProbes(probes) {
		n, err := solve.Assemble(c, g.condition, nil, changes...)
		impossible := errors.Is(err, solve.ErrSupplyShorted) || errors.Is(err, solve.ErrGroundsJoined)
		if err != nil && !impossible {
			t.Fatal(err)
		}
		for _, k := range g.probes {
			if impossible {
				out[k] = math.NaN()
				continue
			}
			v, err := n.Read(probes[k].Quantity, probes[k].From, probes[k].To, meter)
			if err != nil {
				t.Fatal(err)
			}
			out[k] = plainValue(v)
		}
	}
	return out
}

func sticks(f *Fault) bool { return f.sticks() }

// All pairs of the small demo, and samples of the larger harnesses, against nets
// assembled with both faults' changes: resistances with all plugged in and each
// connector apart, and idle volts.
func TestPairsAgreeWithNets(t *testing.T) {
	for _, tt := range []struct {
		harness string
		share   float64
	}{{"../examples/bench/harness.yaml", 1}, {"../examples/star/harness.yaml", 0.05}, {"../examples/trunk/harness.yaml", 0.05}, {"../examples/orchard/harness.yaml", 0.001}, {"../testdata/layouts/farm-12.yaml", 0.002}} {
		c := loadLayout(t, tt.harness)
		list := Catalogue(c)
		for _, sel := range []Selection{{Unreachable: true}, {Unplugged: true}, {Quantity: solve.Volts, Unreachable: true}} {
			probes := Probes(c, sel)
			share := tt.share
			if sel.Unplugged && share == 1 {
				share = 0.2
			}
			in := DefaultInstrument()
			table, err := NewPairTable(context.Background(), c, list, probes, in)
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range list {
				if f.sticks() && sel.Quantity == solve.Volts {
					continue // read from a bus at work
				}
				for k, got := range table.Alone(i) {
					if want := byNet(t, c, probes[k:k+1], in.Meter, f.Typical()); !alikeReadings(sel.Quantity, got, want[0]) {
						t.Fatalf("%s: %s with %s: %.15g, by a net %.15g", tt.harness, probes[k], f.Name, got, want[0])
					}
				}
				if tt.share < 1 && i > 40 {
					break
				}
			}
			rng := rand.New(rand.NewPCG(7, uint64(len(list))))
			wrong := 0
			counts, err := table.Stream(context.Background(), PairOptions{NoFresh: true}, func(b *PairBlock) error {
				for i, second := range b.Second {
					x, y := list[b.First], list[second]
					if b.Ways[i] == PairLeft && sel.Quantity == solve.Volts && (x.sticks() || y.sticks()) {
						continue
					}
					if rng.Float64() > share && !(b.Ways[i] == PairTogether && rng.Float64() < 5*share) {
						continue
					}
					want := byNet(t, c, probes, in.Meter, append(append([]solve.Change{}, x.Typical()...), y.Typical()...))
					for k, got := range b.Readings(i) {
						if !alikeReadings(sel.Quantity, got, want[k]) {
							if wrong++; wrong < 6 {
								t.Errorf("%s: %s with %s and %s (%s): %.15g, by a net %.15g", tt.harness, probes[k], x.Name, y.Name, b.Ways[i], got, want[k])
							}
						}
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if wrong > 0 {
				t.Errorf("%d readings are wrong", wrong)
			}
			t.Logf("%s %+v: %v", tt.harness, sel, counts)
		}
	}
}

func loadLayout(t testing.TB, path string) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var _ = runtime.GOMAXPROCS

// What float64 loses in the streamed way, against the same in numbers of twice the
// digits, for all pairs of several harnesses: below 1e-9 wherever the thresholds let
// it through, with a margin.
func TestStreamedPairsKeepTheirDigits(t *testing.T) {
	for _, path := range []string{"../examples/bench/harness.yaml", "../examples/star/harness.yaml", "../testdata/layouts/small-6.yaml", "../examples/trunk/harness.yaml"} {
		c := loadLayout(t, path)
		list := Catalogue(c)
		for _, sel := range []Selection{{Unreachable: true}, {Quantity: solve.Volts, Unreachable: true}} {
			probes := Probes(c, sel)
			table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
			if err != nil {
				t.Fatal(err)
			}
			o := PairOptions{NoFresh: true}
			w := table.newWorker(context.Background(), &o)
			g := table.groups[0]
			out, exact := make([]float64, len(probes)), make([]float64, len(probes))
			lost, left := 0.0, math.Inf(1)
			n := 0
			for i := range list {
				w.begin(i)
				for j := i + 1; j < len(list); j++ {
					f, s := &g.faults[i], &g.faults[j]
					if f.way != 0 || s.way != 0 || w.stamp[j] == i+1 || g.entangled(f, s) {
						continue
					}
					a, b, growth := w.add(0, j, len(probes))
					if growth > worstGrowth {
						continue
					}
					if g.idle {
						w.kernel.idle(a, b, out, w.ohmsOf, g.meter.InputOhms)
					} else {
						w.ohms(a, b, out, growth, 0, math.Inf(1))
					}
					if way, _, err := w.refined(0, j, exact); err != nil || way != PairRefined {
						continue
					}
					for k := range out {
						if math.IsInf(exact[k], 0) || exact[k] == 0 || math.IsInf(a.grip[k], 0) {
							continue
						}
						if g.idle {
							lost = max(lost, math.Abs(out[k]-exact[k]))
							continue
						}
						relative := math.Abs(out[k]-exact[k]) / exact[k]
						if out[k] < leastLeft*growth*a.grip[k] {
							n++
							continue
						}
						lost, left = max(lost, relative), min(left, exact[k]/a.grip[k])
					}
				}
			}
			t.Logf("%s %s: float64 loses %.1e at most; the least rest streamed %.1e; %d readings refined", path, sel.Quantity, lost, left, n)
			if lost > 7e-10 {
				t.Errorf("%s %s: float64 loses %.1e", path, sel.Quantity, lost)
			}
		}
	}
}
