package faults

import (
	"math"
	"testing"

	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

// Every fault of every demo harness, at several resistances and places, in every
// condition: what the predictor derives from the healthy net must be what a net
// of its own gives.
func TestPredictionsAgreeWithFreshNets(t *testing.T) {
	for _, demo := range demos {
		c := loadDemo(t, demo)
		list := Catalogue(c)
		var probes []Probe
		for _, sel := range []Selection{{}, {Quantity: solve.Volts}, {Unplugged: true}} {
			for i, p := range Probes(c, sel) {
				// A share of the larger harnesses' readings is enough.
				if i%(1+len(list)/60) == 0 {
					probes = append(probes, p)
				}
			}
		}
		p, err := newPredictor(c, probes, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		for k, f := range list {
			if k%(1+len(list)/150) != 0 || f.sticks() { // TestIdleVoltsOfAStuckTransceiver has those
				continue
			}
			for _, fraction := range []float64{0.2, 0.75} {
				ready, err := p.prepare(f, fraction)
				if err != nil {
					t.Fatal(err)
				}
				tries := []float64{0}
				if f.Free != nil {
					tries = []float64{f.Free.Min, f.Free.Typical, f.Free.Max}
				}
				for _, ohms := range tries {
					fast, err := ready.at(ohms)
					if err != nil {
						t.Fatal(err)
					}
					for _, g := range p.groups {
						_, slow, err := p.direct(g, nil, f.Changes(ohms, fraction))
						if err != nil {
							t.Fatal(err)
						}
						for j, i := range g.probes {
							solvetest.Check(t, slow[j])
							a, b := fast[i].Value(), slow[j].Value()
							if a.OL != b.OL || !a.OL && math.Abs(a.Number-b.Number) > 1e-9*math.Abs(b.Number)+1e-9 {
								t.Errorf("%s: %s with %v Ω at %v: %s: %v, by a fresh net %v", demo, f.Name, ohms, fraction, probes[i], a, b)
							}
						}
					}
				}
				if len(f.Wires) == 0 {
					break
				}
			}
		}
	}
}
