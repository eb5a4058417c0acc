package faults

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Fits from ports, their covariance between anchors, against fits from nets with one
// for each sample: the same evidence, or none is claimed.
func TestFitsFromPortsAgreeWithNets(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(5, 5))
		probes := Probes(c, Selection{})
		fits, blunt, sum := 0, 0, 0.0
		for trial := range 5 {
			x := NewMatcher(c, list, in)
			_, changes := drawFault(rng, list)
			v := newVehicle(c, rng, in, changes...)
			var readings []Reading
			for range 2 + trial {
				readings = append(readings, v.read(t, probes[rng.IntN(len(probes))]))
			}
			r := begun(t, x, readings, MatchOptions{})
			if err := r.prepareSearch(); err != nil {
				t.Fatal(err)
			}
			w := r.search.worker()
			type both struct {
				name        string
				ports, nets float64
				sharp       bool
			}
			var all []both
			best := math.Inf(-1)
			for i := trial % 3; i < len(list); i += 3 {
				looked, err := r.look(w, i)
				if err != nil {
					t.Fatal(err)
				}
				if looked.cells == nil || looked.bound < r.e.anything()-beneathNotice {
					continue
				}
				got, sharp, err := r.fitFromPorts(i, &looked, nil, w, math.Inf(-1))
				if err != nil {
					t.Fatal(err)
				}
				weights := 0.0
				for _, x := range got.samples {
					weights += x.weight
				}
				if len(got.samples) > 0 && math.Abs(weights-1) > 1e-3 {
					t.Errorf("%s: %s: the samples that are kept have %.6f of the whole", name, list[i].Name, weights)
				}
				want, err := r.p.fit(list[i], r.e, nil, nil, math.Inf(-1))
				if err != nil {
					t.Fatal(err)
				}
				if want.evidence > looked.bound+1e-6 {
					t.Errorf("%s: %s: the bound %v is below what is reached, %v", name, list[i].Name, looked.bound, want.evidence)
				}
				if sharp && want.evidence > r.e.anything() && got.best.log < want.best.log-0.2 {
					t.Errorf("%s: %s: best at %.3g Ω with %.3f, from nets at %.3g Ω with %.3f", name, list[i].Name, got.ohms, got.best.log, want.ohms, want.best.log)
				}
				best = max(best, want.evidence)
				all = append(all, both{list[i].Name, got.evidence, want.evidence, sharp})
			}
			for _, x := range all {
				switch d := math.Abs(x.ports - x.nets); {
				case max(x.ports, x.nets) < best-8:
				case !x.sharp:
					blunt++
				case d > 0.15:
					t.Errorf("%s: %s: evidence %.3f from ports, %.3f from nets", name, x.name, x.ports, x.nets)
				default:
					fits++
					sum += d
				}
			}
		}
		t.Logf("%s: %d fits, off by %.4f in the mean; %d not claimed", name, fits, sum/float64(fits), blunt)
		if fits < 60 || blunt > fits/10 || sum/float64(fits) > 0.004 {
			t.Errorf("%s: %d fits, off by %.4f in the mean, and %d not claimed", name, fits, sum/float64(fits), blunt)
		}
	}
}

// The whole of it, with all that is bounded away or weighed roughly, against every fault
// fitted from nets: what each has of the whole.
func TestSinglesAgreeWithNets(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(71, uint64(len(list))))
		probes := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		trials := 12
		if len(list) > 300 {
			trials = 4
		}
		worst, roughOff, rough := 0.0, 0.0, 0
		for trial := range trials {
			x := NewMatcher(c, list, in)
			_, changes := drawFault(rng, list)
			v := newVehicle(c, rng, in, changes...)
			var readings []Reading
			for range 1 + trial%6 {
				readings = append(readings, v.read(t, probes[rng.IntN(len(probes))]))
			}
			o := MatchOptions{Two: -1, Three: -1}
			m, err := x.Match(readings, &o)
			if err != nil {
				t.Fatal(err)
			}
			got := map[string]float64{}
			for i := range m.Hypotheses {
				got[m.Hypotheses[i].Name] = m.Hypotheses[i].Probability
			}
			r := begun(t, x, readings, o)
			logs, sum := make([]float64, len(list)), 0.0
			for i, f := range list {
				fit, err := r.p.fit(f, r.e, nil, nil, math.Inf(-1))
				if err != nil {
					t.Fatal(err)
				}
				logs[i] = math.Log(r.o.one()*f.Rate/r.rates) + fit.evidence
			}
			best := 0
			for i := range logs {
				if logs[i] > logs[best] {
					best = i
				}
			}
			for i := range logs {
				sum += math.Exp(logs[i] - logs[best])
			}
			for i, f := range list {
				want := math.Exp(logs[i]-logs[best]) / sum
				have := got[f.Name] / (1 - got[HealthyName] - got[NoneName])
				worst = max(worst, math.Abs(have-want))
				if d := math.Abs(have - want); d > 0.03*want+0.004 {
					t.Errorf("%s, %d readings: %s has %.4f of all single faults, from nets %.4f", name, len(readings), f.Name, have, want)
				}
				if want > 1e-5 && logs[i] < logs[best]-roughly {
					rough++
					roughOff += math.Abs(math.Log(have / want))
				}
			}
		}
		t.Logf("%s: shares off by %.4f at most, those far beneath the best by a factor of e^%.2f in the mean of %d", name, worst, roughOff/float64(max(rough, 1)), rough)
		if rough < 20 || roughOff > 0.5*float64(rough) {
			t.Errorf("%s: what lies far beneath the best is off by a factor of e^%.2f in the mean of %d", name, roughOff/float64(max(rough, 1)), rough)
		}
	}
}
