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
		f := newField(c, list, 0)
		seen, worst := 0, 0.0
		for trial := 0; trial < 150; trial++ {
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
			j, err := w.judge(ohms)
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

// A pair's likelihood averaged over both free values, by cells, against a fine grid with
// the same covariance; and the bounds that rule pairs out.
func TestPairsAreIntegrated(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	index := map[string]int{}
	for i, f := range list {
		index[f.Name] = i
	}
	for k, tt := range []struct {
		a, b  string
		ohms  [2]float64
		exact float64
	}{
		{"high-resistance joint H in pair P3", "leak H to ground at connector X2", [2]float64{900, 700}, 0.3},
		{"high-resistance joint H in pair P2", "high-resistance joint L in pair P4", [2]float64{40, 3000}, 0.3},
		{"terminator T1 missing", "leak L to ground at splice S1", [2]float64{0, 200}, 0.3},
		{"open H in pair P3", "connector X4 unplugged", [2]float64{0, 0}, 1e-6},
		{"short H to ground in pair P3", "high-resistance joint H in pair P4", [2]float64{2, 50}, 0.3},
	} {
		fa, fb := list[index[tt.a]], list[index[tt.b]]
		changes := append(append([]solve.Change{}, fa.Changes(tt.ohms[0], 0.5)...), fb.Changes(tt.ohms[1], 0.5)...)
		v := newVehicle(c, rand.New(rand.NewPCG(33, uint64(k))), in, changes...)
		var readings []Reading
		for _, p := range []Probe{
			probeAt(t, c, solve.Ohms, "X1", "H-L"), probeAt(t, c, solve.Ohms, "X1", "H-ground"), probeAt(t, c, solve.Ohms, "X1", "L-ground"),
			probeAt(t, c, solve.Ohms, "X3", "H-L"), probeAt(t, c, solve.Ohms, "X2", "H-L", "X2"), probeAt(t, c, solve.Ohms, "X4", "H-ground", "X4"),
		} {
			readings = append(readings, v.read(t, p))
		}
		e := newEvidence(c, readings, in)
		s, err := newSearch(newField(c, list, 0), e, in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		w := s.worker()
		members := []int{index[tt.a], index[tt.b]}
		got := w.integrate(&found{members: members}, math.Inf(-1), nil)
		if got.err != nil {
			t.Fatal(got.err)
		}
		// Two grids: a coarse one over everything finds where the mass is, a fine one
		// there gives it.
		w.load(members...)
		mean := make([]float64, len(readings))
		z := w.e.freeze(got.best.covariance)
		var low, high [2]float64 // logarithms
		for k, f := range []*Fault{fa, fb} {
			if f.Free != nil {
				low[k], high[k] = math.Log(f.Free.Min), math.Log(f.Free.Max)
			}
		}
		volume := 1.0
		for k := range low {
			if high[k] > low[k] {
				volume *= high[k] - low[k]
			}
		}
		grid := func(n int, each func(x [2]float64, l float64)) {
			for i := range n {
				for j := range n {
					var x [2]float64
					var ohms [2]float64
					for k, at := range []int{i, j} {
						if high[k] > low[k] {
							x[k] = low[k] + (high[k]-low[k])*(float64(at)+0.5)/float64(n)
							ohms[k] = math.Exp(x[k])
						} else if at > 0 {
							ohms[k] = math.NaN() // no such dimension: one line of the grid is all
						}
					}
					if math.IsNaN(ohms[0]) || math.IsNaN(ohms[1]) {
						continue
					}
					w.read(ohms[:], mean)
					each(x, z.log(mean, nil))
				}
			}
		}
		const n = 500
		for range 3 { // closer and closer
			top := math.Inf(-1)
			grid(n, func(_ [2]float64, l float64) { top = math.Max(top, l) })
			inLow, inHigh := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
			grid(n, func(x [2]float64, l float64) {
				if l > top-14 {
					for k := range x {
						inLow[k], inHigh[k] = math.Min(inLow[k], x[k]), math.Max(inHigh[k], x[k])
					}
				}
			})
			for k := range low {
				if step := (high[k] - low[k]) / n; step > 0 {
					low[k], high[k] = math.Max(low[k], inLow[k]-2*step), math.Min(high[k], inHigh[k]+2*step)
				}
			}
		}
		sum, points := math.Inf(-1), 0
		grid(n, func(_ [2]float64, l float64) {
			points++
			sum = logAdd(sum, l)
		})
		inside := 1.0
		for k := range low {
			if high[k] > low[k] {
				inside *= high[k] - low[k]
			}
		}
		want := sum - math.Log(float64(points)) + math.Log(inside/volume)
		t.Logf("%s and %s: %.3f, on a grid %.3f; best at %.3g Ω", tt.a, tt.b, got.evidence, want, got.ohms)
		if math.Abs(got.evidence-want) > tt.exact {
			t.Errorf("%s and %s: log likelihood %.3f, on a grid of %d points %.3f", tt.a, tt.b, got.evidence, points, want)
		}
		// The bounds must hold: over everything, and tightened.
		x := found{members: members, prior: 0, bound: w.bound()}
		w.load(members...)
		w.clear()
		w.corners(0, [][]float64{s.ohms[members[0]], s.ohms[members[1]]}, 0, nil)
		if b := w.bound(); b < got.best.log-1e-9 {
			t.Errorf("%s and %s: the bound %v is below what is reached, %v", tt.a, tt.b, b, got.best.log)
		}
		w.load(members...)
		w.clear()
		w.corners(0, [][]float64{s.ohms[members[0]], s.ohms[members[1]]}, 0, nil)
		x.bound = w.bound()
		if w.sketch(&x); x.bound < got.best.log-1e-9 {
			t.Errorf("%s and %s: the tightened bound %v is below what is reached, %v", tt.a, tt.b, x.bound, got.best.log)
		}
	}
}

// A second fault that no reading sees beside a first is counted with the first: with
// nothing but a healthy reading, one and two faults that it does not see keep their
// prior odds to healthy wiring.
func TestUnseenSecondFaultsKeepTheirOdds(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	reading := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60.3}}}
	odds := func(two float64) float64 {
		m, err := MakeMatch(c, list, reading, in, &MatchOptions{Two: two, Three: -1, None: 1e-6})
		if err != nil {
			t.Fatal(err)
		}
		healthy := 0.0
		for _, h := range m.Hypotheses {
			if h.Name == HealthyName {
				healthy = h.Probability
			}
		}
		return (1 - healthy - m.None()) / healthy
	}
	// Without pairs: what share u of the faults, by rate, the reading does not see.
	u := odds(-1) * 0.1 / 0.9
	const two = 0.4
	want := ((1-0.1-two)*u + two*u*u) / 0.1
	if got := odds(two); math.Abs(got-want) > 0.1*want || u < 0.3 {
		t.Errorf("odds of any fault to healthy wiring %.2f, want about %.2f (unseen share %.2f)", got, want, u)
	}
}
