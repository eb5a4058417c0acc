package faults

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// From wherever it starts, polish ends no farther from the readings, within the free
// ranges, and where no step aside comes closer.
func TestPolishEndsWhereNoStepComesCloser(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range []string{"bench", "star", "trunk"} {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(71, uint64(len(list))))
		probes := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		f := newField(c, list, 0)
		done, closer, short := 0, 0, 0
		for range 8 {
			v := newVehicle(c, rng, in, list[rng.IntN(len(list))].Changes(30, 0.5)...)
			var readings []Reading
			for _, k := range rng.Perm(len(probes))[:6] {
				readings = append(readings, v.read(t, probes[k]))
			}
			s, err := newSearch(f, newEvidence(c, readings, in), in.Meter)
			if err != nil || s == nil {
				t.Fatal(err)
			}
			w := s.worker()
			z := w.e.freeze(s.asSound.covariance)
			if z == nil || len(z.w) < 3 {
				continue
			}
			for range 60 {
				a, b := rng.IntN(len(list)), rng.IntN(len(list))
				if a == b || !s.able[a] || !s.able[b] || !w.load(a, b) {
					continue
				}
				p := w.part()
				if len(p.free) == 0 {
					continue
				}
				start := slices.Clone(p.middle(&p.all))
				for d, k := range p.free {
					start[k] = math.Exp(p.all.low[d] + rng.Float64()*(p.all.high[d]-p.all.low[d]))
				}
				distance := func(ohms []float64) float64 {
					w.read(ohms, w.out)
					return z.distance(w.out)
				}
				before := distance(start)
				kept := slices.Clone(start)
				got := w.polish(p, start, z)
				after := distance(got)
				done++
				if !slices.Equal(start, kept) {
					t.Fatal("polish writes into where it starts from")
				}
				if after > before*(1+1e-12) {
					t.Fatalf("%s: %s and %s: from %v at %.6g to %v at %.6g", name, list[a].Name, list[b].Name, start, before, got, after)
				}
				if after < before-1 {
					closer++
				}
				for d, k := range p.free {
					if f := list[[]int{a, b}[k]].Free; got[k] < f.Min*(1-1e-9) || got[k] > f.Max*(1+1e-9) {
						t.Fatalf("%s: %v Ω lies outside of %v to %v", name, got[k], f.Min, f.Max)
					}
					for _, step := range []float64{-0.05, 0.05} {
						aside := slices.Clone(got)
						aside[k] = math.Exp(min(p.all.high[d], max(p.all.low[d], math.Log(got[k])+step)))
						if x := distance(aside); x < after-0.05*max(1, math.Abs(after)/100) {
							short++
						}
					}
				}
			}
		}
		t.Logf("%s: %d places, %d came closer, %d steps aside come closer still", name, done, closer, short)
		if done < 200 || closer < done/4 {
			t.Errorf("%s: %d places, %d came closer: too few to say anything", name, done, closer)
		}
		if short > done/20 {
			t.Errorf("%s: from %d of %d places a step aside comes closer", name, short, done)
		}
	}
}
