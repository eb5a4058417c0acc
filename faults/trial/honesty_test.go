package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

func TestReliabilityCounts(t *testing.T) {
	var r Reliability
	for _, x := range []struct {
		p    float64
		held bool
	}{{0, false}, {0.05, true}, {0.1, false}, {0.85, true}, {0.899999, false}, {0.94, true}, {0.95, true}, {0.99, false}, {1, true}} {
		r.Add(x.p, x.held)
	}
	want := map[int][2]int{0: {2, 1}, 1: {1, 0}, 8: {2, 1}, 9: {1, 1}, 10: {1, 1}, 11: {2, 1}}
	for k, b := range r {
		if b.Cases != want[k][0] || b.Held != want[k][1] {
			t.Errorf("bin %d: %d of %d, want %v", k, b.Held, b.Cases, want[k])
		}
	}
	cases, held, promised, variance := r.Sum()
	// Variances by bin at its mean: 2·0.025·0.975, 0.1·0.9, 2·0.875·0.125 (nearly),
	// 0.94·0.06, 0.95·0.05, 2·0.995·0.005.
	if cases != 9 || held != 5 || math.Abs(promised-5.779999) > 1e-9 || math.Abs(variance-0.47135) > 1e-4 {
		t.Errorf("%d of %d, %v promised, variance %v", held, cases, promised, variance)
	}
}

// What is read does not hang on what is wrong: for two vehicles with other faults the same
// draws choose the same readings.
func TestReadersDoNotLookAtTheFault(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	for name, read := range map[string]Reader{"scattered": Scattered(c, 6), "thorough": Thorough(c, 2)} {
		longest := 0
		for k := range 12 {
			var chosen [2]string
			for i, fault := range []string{"open H in pair P2", "module middle without supply"} {
				v := Make(c, in, rand.New(rand.NewPCG(1, uint64(i))), find(t, list, fault), 0, 0.5)
				taken, answers, err := read(v, rand.New(rand.NewPCG(9, uint64(k))))
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range taken {
					chosen[i] += r.Probe.String() + "; "
				}
				for _, a := range answers {
					chosen[i] += a.Module + "; "
				}
				longest = max(longest, len(taken))
			}
			if chosen[0] != chosen[1] || chosen[0] == "" {
				t.Errorf("%s: %s for one fault and %s for another", name, chosen[0], chosen[1])
			}
		}
		// X1 has 3 readings, X2 to X4 have 3 mated, 3 and 3 apart.
		if most := map[string]int{"scattered": 6, "thorough": 21}[name]; longest > most || longest < most-1 {
			t.Errorf("%s: %d readings at most, want %d", name, longest, most)
		}
	}
}

// The probabilities of parts and of whole answers hold, high ones among them: over
// vehicles as they are drawn, within four standard deviations.
func TestThoroughMatchesKeepTheirPromises(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	p, err := Honesty(c, x, list, in, rand.New(rand.NewPCG(31, 32)), 40, Thorough(c, 2), Mixture{Sound: 0.1, Two: 0.04})
	if err != nil {
		t.Fatal(err)
	}
	answers := 0
	for name, r := range map[string]*Reliability{"first": &p.First, "one": &p.One, "two": &p.Two} {
		cases, held, promised, variance := r.Sum()
		t.Logf("%s: %d of %d, %.1f ± %.1f promised", name, held, cases, promised, math.Sqrt(variance))
		if d := float64(held) - promised; math.Abs(d) > 4*math.Sqrt(variance)+0.5 {
			t.Errorf("%s: %d of %d held, %.1f ± %.1f promised", name, held, cases, promised, math.Sqrt(variance))
		}
		if name != "first" {
			answers += cases
		}
	}
	if p.Vehicles != 40 || answers > 40 || answers < 35 {
		t.Errorf("%d vehicles, %d answers", p.Vehicles, answers)
	}
	if high := p.First[10].Cases + p.First[11].Cases; high < 6 {
		t.Errorf("only %d of 40 are named with 95 %% or more", high)
	}
	if got := p.FirstBrier / 40; got <= 0 || got > 0.25 {
		t.Errorf("Brier score of the part named first: %.3f; always saying a half scores 0.25", got)
	}
}

// A session that is played, and looking into parts after it, takes no less in the mean
// than the bound: every fault of a small harness once, by its rate.
func TestSessionsDoNotBeatTheBound(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	first := FirstProbe(c)
	least, err := x.Least(first)
	if err != nil {
		t.Fatal(err)
	}
	sum, weight := 0.0, 0.0
	for k, f := range list {
		if k%5 != k/5%5 { // a fifth that takes of every sort
			continue
		}
		rng := rand.New(rand.NewPCG(41, uint64(k)))
		ohms := 0.0
		if f.Free != nil {
			ohms = f.Free.Min * math.Pow(f.Free.Max/f.Free.Min, rng.Float64())
		}
		v := Make(c, in, rng, f, ohms, rng.Float64())
		course, err := Repairs(x, v, first, Rules{})
		if err != nil {
			t.Fatal(err)
		}
		sum += f.Rate * (course.Sessions[0].Minutes + course.Looking)
		weight += f.Rate
		turn, err := UnplugInTurn(v, first)
		if err != nil {
			t.Fatal(err)
		}
		if turn.Total() < first.ReachMin+faults.ReadMinutes+netlist.DefaultLookMin {
			t.Errorf("%s: %+v in turn", f.Name, *turn)
		}
	}
	t.Logf("sessions %.2f min; at least %.2f, best estimate %.2f", sum/weight, least.Bound.Minutes, least.Found.Minutes)
	if sum/weight < least.Bound.Minutes {
		t.Errorf("sessions take %.2f min, the bound is %.2f", sum/weight, least.Bound.Minutes)
	}
	if sum/weight > 1.5*least.Found.Minutes {
		t.Errorf("sessions take %.2f min, the best is about %.2f", sum/weight, least.Found.Minutes)
	}
}
