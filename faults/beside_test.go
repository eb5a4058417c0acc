package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// Second faults read beside a first, against the two tied together: which pairs can be,
// and all readings, plugged and unplugged, supply off and on.
func TestBesideAgreesWithKnots(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(52, uint64(len(list))))
		var candidates []Probe
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			candidates = append(candidates, Probes(c, sel)...)
		}
		f := newField(c, list, 0)
		pairs, apart, several := 0, 0, 0
		for range 12 {
			var readings []Reading
			for range 8 {
				readings = append(readings, Reading{candidates[rng.IntN(len(candidates))], solve.Value{Number: 3}})
			}
			s, err := newSearch(f, newEvidence(c, readings, in), in.Meter)
			if err != nil || s == nil {
				t.Fatal(err)
			}
			w := s.worker()
			got, want := make([]float64, len(readings)), make([]float64, len(readings))
			for range 40 {
				a := rng.IntN(len(list))
				if !s.able[a] {
					continue
				}
				steps := s.steps[a]
				if steps == nil {
					steps = s.ohms[a]
				}
				w.beside.begin(a, steps)
				for range 10 {
					b := rng.IntN(len(list))
					if !s.able[b] || a == b {
						continue
					}
					together := w.load(a, b)
					if w.beside.meet(b) != together {
						t.Fatalf("%s: %s and %s: can be together is %v by one way and not by the other", name, list[a].Name, list[b].Name, together)
					}
					if !together {
						apart++
						continue
					}
					w.beside.with()
					pairs++
					if len(w.knots[0].port) > 2 && w.knots[0].n > 2 {
						several++
					}
					for range 4 {
						at, ohms := rng.IntN(len(steps)), s.ohms[b][0]
						if free := list[b].Free; free != nil {
							ohms = free.Min * math.Pow(free.Max/free.Min, rng.Float64())
						}
						w.beside.raw(at, ohms, got)
						s.onScale(got)
						w.read([]float64{steps[at], ohms}, want)
						for i := range got {
							if d := math.Abs(got[i] - want[i]); !(d <= 1e-7) {
								t.Fatalf("%s: %s with %s (%.3g Ω) and %s (%.3g Ω): %v, tied together %v", name, readings[i].Probe, list[a].Name, steps[at], list[b].Name, ohms, got[i], want[i])
							}
						}
					}
				}
			}
		}
		t.Logf("%s: %d pairs agree, %d with more than two ports; %d cannot be together", name, pairs, several, apart)
		if pairs < 1000 || several < 50 || apart == 0 {
			t.Errorf("%s: only %d pairs, %d with more than two ports, %d that cannot be together: too few to say anything", name, pairs, several, apart)
		}
	}
}

// Behind a cut a port sees nothing; what rounding leaves must not put it on the other
// side of its pole.
func TestOwnResistancesStayOnTheirSide(t *testing.T) {
	c := loadDemo(t, "trunk")
	f := newField(c, Catalogue(c), 0)
	ports, plans, err := f.of(solve.Off)
	if err != nil {
		t.Fatal(err)
	}
	series, bridges := 0, 0
	for _, plan := range plans {
		for i := range plan.strands {
			s := &plan.strands[i]
			limit := ports.Free(&s.Port, 100)
			for _, seen := range []float64{-1e-3, -1e-13, 0, 1e-13, 1e-3} {
				own := beyond(&s.Port, limit+seen, limit)
				if s.Series() {
					series++
					if limit >= 0 || own != limit+min(seen, 0) {
						t.Fatalf("in a branch, 100 Ω count for %g, with %g seen for %g", limit, seen, own)
					}
				} else {
					bridges++
					if limit <= 0 || own != limit+max(seen, 0) {
						t.Fatalf("between two points, 100 Ω count for %g, with %g seen for %g", limit, seen, own)
					}
				}
			}
		}
	}
	if series == 0 || bridges == 0 {
		t.Fatalf("%d ports in branches, %d between points", series, bridges)
	}
}
