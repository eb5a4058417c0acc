package faults

import (
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/faults/sequence"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// How far the one-step choice of readings, and the one that looks ahead, are from the
// fewest minutes possible, on harnesses small enough for the exact optimum: faults
// without free values, readings taken to say what they most probably do, places
// reached once, the supply switched. Goal: within 10 %.
func TestMinutesAgainstTheOptimum(t *testing.T) {
	for _, name := range []string{"bench", "star"} {
		c := loadDemo(t, name)
		var list []*Fault
		for _, f := range Catalogue(c) {
			if slices.Contains([]Kind{Open, OpenBoth, Unplugged, TermMissing}, f.Kind) {
				list = append(list, f)
			}
		}
		x := NewMatcher(c, list, DefaultInstrument())
		f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms, overFrom: 0.99997}
		if err := f.all("", 0.1); err != nil {
			t.Fatal(err)
		}
		candidates := x.allProbes()
		mean, err := f.means(candidates)
		if err != nil {
			t.Fatal(err)
		}
		f.roughly(candidates, mean)
		p := newSequence(c, nil, AsLeft)
		for i := range f.components {
			p.Prior = append(p.Prior, f.components[i].weight)
			p.Repair = append(p.Repair, f.components[i].part)
		}
		for k := range candidates {
			chance := f.outcomes(k)
			var outcome []int
			for i := range f.components {
				best := 0
				for b := range chance {
					if chance[b][i] > chance[best][i] {
						best = b
					}
				}
				outcome = append(outcome, best)
			}
			if slices.Max(outcome) == slices.Min(outcome) {
				continue
			}
			test := sequence.Test{Name: candidates[k].String(), Chance: sequence.Certain(outcome...)}
			p.price(&test, &candidates[k], ReadMinutes, candidates[k].State())
			p.Tests = append(p.Tests, test)
		}
		// The optimum's search holds 32 states; what reads the same is one state.
		same := map[string]int{}
		var keep []int
		for i := range f.components {
			key := ""
			for _, test := range p.Tests {
				for b := range test.Chance {
					if test.Chance[b][i] > 0.5 {
						key += string(rune('a' + b))
					}
				}
			}
			if at, ok := same[key]; ok {
				p.Prior[at] += p.Prior[i]
				continue
			}
			same[key] = i
			keep = append(keep, i)
		}
		small := p.Problem
		small.Prior, small.Repair, small.Tests = nil, nil, nil
		for n, i := range keep {
			small.Prior, small.Repair = append(small.Prior, p.Prior[i]), append(small.Repair, n)
		}
		for _, test := range p.Tests {
			s := test
			s.Chance = nil
			for b := range test.Chance {
				var row []float32
				for _, i := range keep {
					row = append(row, test.Chance[b][i])
				}
				s.Chance = append(s.Chance, row)
			}
			small.Tests = append(small.Tests, s)
		}
		optimum, err := sequence.Optimal(&small)
		if err != nil {
			t.Fatal(err)
		}
		greedy, err := sequence.Plan(&small, sequence.Greedy(), nil)
		if err != nil {
			t.Fatal(err)
		}
		ahead, err := sequence.Plan(&small, sequence.LookAhead(6, 2), nil)
		if err != nil {
			t.Fatal(err)
		}
		bounds, err := small.Bounds()
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d states, %d readings: optimum %.2f min (at least %.2f by entropy and Huffman), one step %.2f (+%.1f %%), looking ahead %.2f (+%.1f %%)",
			name, len(keep), len(small.Tests), optimum.Minutes, bounds.Minutes, greedy.Minutes, 100*(greedy.Minutes/optimum.Minutes-1), ahead.Minutes, 100*(ahead.Minutes/optimum.Minutes-1))
		if optimum.Minutes < bounds.Minutes-1e-9 || greedy.Minutes < optimum.Minutes-1e-9 || ahead.Minutes < optimum.Minutes-1e-9 {
			t.Errorf("%s: minutes below what is possible", name)
		}
		if math.Min(greedy.Minutes, ahead.Minutes) > 1.1*optimum.Minutes {
			t.Errorf("%s: more than 10 %% above the optimum", name)
		}
	}
}

// A harness without modules has nobody to ask; plan and advice go on without a scan.
func TestPlanWithoutModules(t *testing.T) {
	c, err := netlist.NewCircuit(&netlist.Harness{
		Name:       "no modules",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Pairs:      []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 1, SectionMM2: 0.35}},
	})
	if err != nil {
		t.Fatal(err)
	}
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	plan, err := x.Plan(PlanOptions{Sure: 0.9, Rare: 0.01})
	if err != nil {
		t.Fatal(err)
	}
	if plan.Root.Do == nil || plan.Root.Do.Tool != "" {
		t.Errorf("it starts with %v", plan.Root.Do)
	}
	p, err := ProbeAt(c, solve.Ohms, "X1", "H-L", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := x.Match([]Reading{{Probe: p, Value: solve.Value{Number: 20}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	advice, err := x.Next(m, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range advice {
		if a.Tool != "" {
			t.Errorf("it advises %s", &a)
		}
	}
}
