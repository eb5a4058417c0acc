package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// Pairs held against all readings in one go, against each reading of theirs looked at:
// the same are not seen, what is read lies between the same ends, and the bound is the
// same, OL among what was read.
func TestPairsHeldInOneGo(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(53, uint64(len(list))))
		candidates := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		f := newField(c, list, 0)
		met, unseen, given, over := 0, 0, 0, 0
		for range 12 {
			v := newVehicle(c, rng, in, list[rng.IntN(len(list))].Changes(30, 0.5)...)
			var readings []Reading
			for _, k := range rng.Perm(len(candidates))[:8] {
				r := v.read(t, candidates[k])
				readings = append(readings, r)
				if r.Value.OL {
					over++
				}
			}
			s, err := newSearch(f, newEvidence(c, readings, in), in.Meter)
			if err != nil || s == nil {
				t.Fatal(err)
			}
			w := s.worker()
			for range 60 {
				a := rng.IntN(len(list))
				if !s.able[a] {
					continue
				}
				steps := s.steps[a]
				if steps == nil {
					steps = s.ohms[a]
				}
				ends := s.ends(a)
				w.beside.begin(a, steps)
				for range 10 {
					b := rng.IntN(len(list))
					if !s.able[b] || a == b || !w.beside.meet(b) || !w.beside.quick() {
						continue
					}
					met++
					enough := math.Inf(-1)
					if rng.IntN(3) == 0 {
						enough = s.asSound.log + 20*rng.NormFloat64()
					}
					hidden, bound := w.hold(a, b, ends, enough)
					low, high := append([]float64(nil), w.low...), append([]float64(nil), w.high...)
					want := w.unseen(a, b, ends)
					w.rail = s.rail[a] || s.rail[b]
					x := w.boundRaw(math.Inf(-1))
					if bound < enough && x < enough {
						given++
						continue
					}
					if hidden != want {
						t.Fatalf("%s: %s and %s: not seen is %b in one go, %b reading by reading", name, list[a].Name, list[b].Name, hidden, want)
					}
					if want != 0 {
						unseen++
					}
					if math.Abs(bound-x) > 1e-6*max(1, math.Abs(x)) {
						t.Fatalf("%s: %s and %s: bound %v in one go, %v reading by reading", name, list[a].Name, list[b].Name, bound, x)
					}
					s.onScale(low)
					s.onScale(high)
					s.onScale(w.low)
					s.onScale(w.high)
					for i := range low {
						if math.Abs(low[i]-w.low[i]) > 1e-9 || math.Abs(high[i]-w.high[i]) > 1e-9 {
							t.Fatalf("%s: %s with %s and %s: %v to %v in one go, %v to %v by itself", name, readings[i].Probe, list[a].Name, list[b].Name, low[i], high[i], w.low[i], w.high[i])
						}
					}
				}
			}
		}
		t.Logf("%s: %d pairs, %d of one that is not seen, %d given up, %d OL", name, met, unseen, given, over)
		if met < 1000 || unseen < 100 || given < 20 || over == 0 {
			t.Errorf("%s: %d pairs, %d of one that is not seen, %d given up, %d OL: too few to say anything", name, met, unseen, given, over)
		}
	}
}

// With the supply on, and for faults of several ports, there is no such way.
func TestPairsThatAreNotQuick(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	in := DefaultInstrument()
	f := newField(c, list, 0)
	var ohms, volts Reading
	for _, p := range Probes(c, Selection{}) {
		ohms = Reading{p, solve.Value{Number: 60}}
	}
	for _, p := range Probes(c, Selection{Quantity: solve.Volts}) {
		volts = Reading{p, solve.Value{Number: 2.5}}
	}
	for _, x := range []struct {
		readings []Reading
		none     bool
	}{{[]Reading{ohms}, false}, {[]Reading{ohms, volts}, true}} {
		s, err := newSearch(f, newEvidence(c, x.readings, in), in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		w := s.worker()
		quick, slow := 0, 0
		w.beside.begin(0, s.steps[0])
		for g := 1; g < len(list); g++ {
			if !s.able[g] || !w.beside.meet(g) {
				continue
			}
			if w.beside.quick() {
				quick++
			} else {
				slow++
			}
		}
		if slow == 0 || (quick == 0) != x.none {
			t.Errorf("%d readings: %d pairs are quick, %d are not", len(x.readings), quick, slow)
		}
	}
}
