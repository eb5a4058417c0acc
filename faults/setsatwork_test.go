package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// preparedRanking is a ranking with everything ready for sets of faults.
func preparedRanking(t *testing.T, c *netlist.Circuit, list []*Fault, readings []Reading) *ranking {
	t.Helper()
	x := NewMatcher(c, list, DefaultInstrument())
	var probes []Probe
	for _, r := range readings {
		probes = append(probes, r.Probe)
	}
	p, err := newPredictor(c, probes, x.in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	r := &ranking{x: x, p: p, e: newEvidence(c, readings, x.in), m: &Match{Readings: readings}}
	r.o.defaults()
	for _, f := range list {
		r.rates += f.Rate
	}
	if err := r.prepareSearch(); err != nil {
		t.Fatal(err)
	}
	if r.search.work, err = r.hearSets(); err != nil {
		t.Fatal(err)
	}
	return r
}

// What pairs of faults do to a bus at work, seen from ports, against nets assembled with
// both.
func TestPairsAtWorkAgreeWithNets(t *testing.T) {
	for _, tt := range []struct {
		demo   string
		probes []Probe
	}{
		{demo: "bench"}, {demo: "orchard"},
	} {
		c := loadDemo(t, tt.demo)
		list := Catalogue(c)
		at := func(place, between string) Probe { return probeAt(t, c, solve.Volts, place, between) }
		var probes []Probe
		if tt.demo == "bench" {
			probes = []Probe{
				at("X1", "H-ground").WithTraffic(), at("X4", "L-ground").WithTraffic(), at("X2", "H-L").WithSender("right"), at("X3", "L-ground").WithSender("left"),
			}
		} else {
			probes = []Probe{at("X2", "drive.H-ground").WithTraffic(), at("X14/b", "work.L-ground").WithTraffic(), at("X1", "drive.H-drive.L").WithSender("gateway")}
		}
		readings := []Reading{{probeAt(t, c, solve.Ohms, probes[0].Site, probes[len(probes)-1].Between), solve.Value{Number: 60}}}
		if tt.demo == "bench" {
			readings[0].Probe = probeAt(t, c, solve.Ohms, "X1", "H-L")
		}
		for _, p := range probes {
			readings = append(readings, Reading{p, solve.Value{Number: 2.5}})
		}
		h := preparedRanking(t, c, list, readings).search.work
		rng := rand.New(rand.NewPCG(61, 62))
		fast, slow, moved, worst := 0, 0, 0, 0.0
		set := h.reader()
		for range 250 {
			a, b := rng.IntN(len(list)), rng.IntN(len(list))
			if list[a].Part == list[b].Part {
				continue
			}
			members, ohms := []int{a, b}, []float64{0, 0}
			for k, i := range members {
				if f := list[i].Free; f != nil {
					ohms[k] = f.Min * math.Pow(f.Max/f.Min, rng.Float64())
				}
			}
			if err := set.load(members); err != nil {
				t.Fatal(err)
			}
			got, err := set.read(ohms)
			if err != nil {
				t.Fatal(err)
			}
			if set.slow {
				slow++
			} else {
				fast++
			}
			n, err := solve.Assemble(c, probes[0].Condition, nil, append(list[a].Changes(ohms[0], 0.5), list[b].Changes(ohms[1], 0.5)...)...)
			if err != nil {
				t.Fatal(err)
			}
			var leads []solve.Leads
			for _, p := range probes {
				leads = append(leads, solve.Leads{From: p.From, To: p.To})
			}
			bus, err := n.Bus(leads)
			if err != nil {
				t.Fatal(err)
			}
			for i := range probes {
				want, err := h.p.read(bus, i, i)
				if err != nil {
					t.Fatal(err)
				}
				d := got[i].(*drivenReading)
				off := max(math.Abs(d.quiet-want.quiet), math.Abs(d.sent-want.sent))
				worst = max(worst, off)
				if off > 2e-3 { // what is cut off reads a quarter of a millivolt from ports
					t.Errorf("%s, %s and %s with %.3g: %s: %.6f and %.6f V, by a net %.6f and %.6f V (slow %v)",
						tt.demo, list[a].Name, list[b].Name, ohms, probes[i], d.quiet, d.sent, want.quiet, want.sent, set.slow)
				}
				if math.Abs(want.value-h.sound.volts[i]) > 0.01 {
					moved++
				}
			}
		}
		t.Logf("%s: %d from ports, %d from nets, %d readings moved, at most %.2g V apart", tt.demo, fast, slow, moved, worst)
		if fast < 100 || moved < 100 {
			t.Errorf("%s: %d sets from ports, %d readings moved; the test checks little", tt.demo, fast, moved)
		}
	}
}
