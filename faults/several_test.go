package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// Two and three faults at once, as the search sees them from ports, against nets
// assembled with them: resistances and idle volts, plugged and unplugged, means and
// likelihoods.
func TestSearchAgreesWithNets(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(51, uint64(len(list))))
		var candidates []Probe
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			candidates = append(candidates, Probes(c, sel)...)
		}
		f := newField(c, list)
		seen, worst := 0, 0.0
		for trial := 0; trial < 60; trial++ {
			var readings []Reading
			for range 8 {
				p := candidates[rng.IntN(len(candidates))]
				v := solve.Value{Number: 60}
				if p.Quantity == solve.Volts {
					v.Number = 2.5
				}
				readings = append(readings, Reading{p, v})
			}
			e := newEvidence(c, readings, in)
			s, err := newSearch(f, e, in.Meter)
			if err != nil || s == nil {
				t.Fatal(err)
			}
			w := s.worker()
			members := []int{rng.IntN(len(list)), rng.IntN(len(list)), rng.IntN(len(list))}[:2+trial%2]
			able := true
			for _, i := range members {
				able = able && s.able[i]
			}
			if !able || !w.load(members...) {
				continue
			}
			ohms := make([]float64, len(members))
			var faults []*Fault
			for k, i := range members {
				faults = append(faults, list[i])
				if free := list[i].Free; free != nil {
					ohms[k] = free.Min * math.Pow(free.Max/free.Min, rng.Float64())
				}
			}
			probes := make([]Probe, len(readings))
			for i, r := range readings {
				probes[i] = r.Probe
			}
			p, err := newPredictor(c, probes, in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			ready, err := p.prepare(combineAt(faults, ohms), 0.5)
			if err != nil {
				continue // supply and ground joined, say
			}
			responses, err := ready.at(ohms[0])
			if err != nil {
				continue
			}
			seen++
			got := make([]float64, len(readings))
			w.read(ohms, got)
			for i, r := range responses {
				want := onScale(probes[i].Quantity, r.Value())
				if probes[i].Quantity == solve.Volts && math.Abs(want) < 0.05 {
					continue // nothing may close the loop through the meter
				}
				tolerance := 2e-5
				if probes[i].Quantity == solve.Volts {
					tolerance = 5e-4 // the supply shorted to a module's ground, which is no ideal joint here
				}
				if d := math.Abs(got[i] - want); d > tolerance {
					t.Errorf("%s: %s with %s (%.3g Ω): %v, want %v", name, probes[i], combineAt(faults, ohms).Name, ohms, got[i], want)
				} else {
					worst = math.Max(worst, d)
				}
			}
			j, err := w.judge(members, ohms)
			if err != nil {
				t.Fatal(err)
			}
			direct := e.judge(responses)
			for i := range readings {
				a, b := j.covariance.At(i, i), direct.covariance.At(i, i)
				// Two strands on one wire are not told apart in the wire's own share.
				if math.Abs(a-b) > 0.02*math.Abs(b)+1e-12 {
					t.Errorf("%s: variance of %s with %s: %g, want %g", name, probes[i], combineAt(faults, ohms).Name, a, b)
				}
				if loose := s.loose.variance(e, i, j.mean[i], w.rail); j.covariance.At(i, i) > loose*1.0001 {
					t.Errorf("%s: variance of %s with %s is %g, above its bound %g (y %g)", name, probes[i], combineAt(faults, ohms).Name, j.covariance.At(i, i), loose, j.mean[i])
				}
			}
		}
		t.Logf("%s: %d sets of faults, at most %.1e apart on the scale", name, seen, worst)
		if seen < 20 {
			t.Errorf("%s: only %d sets were compared", name, seen)
		}
	}
}
