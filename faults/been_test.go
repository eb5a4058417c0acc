package faults

import (
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/faults/sequence"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Where someone has been costs no way again: to read, to unplug, to ask from, to probe a
// wire from end to end. Reach times as testdata/layouts/small-6.yaml has them: X1 1, X2 12,
// X3 8, X5 35 minutes; a reading takes half a minute, unplugging one.
func TestWaysAreCountedOnce(t *testing.T) {
	c := smallLayout(t)
	at := func(place, between string, unplugged ...string) Probe {
		p, err := ProbeAt(c, solve.Ohms, place, between, solve.Condition{Unplugged: unplugged})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	along := func(from, to string, unplugged ...string) Probe {
		p, err := ProbeFromTo(c, solve.Ohms, from, to, solve.Condition{Unplugged: unplugged})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	asked := []Answer{{Tool: "X1", Module: "engine", Answered: true}}
	for _, tt := range []struct {
		name    string
		taken   []Probe
		answers []Answer
		p       Probe
		want    float64
		been    []string // before
	}{
		{"unplugged from afar", nil, nil, at("X1", "H-L", "X5"), 1 + 35 + 1.5, nil},
		{"there where something was unplugged", []Probe{at("X1", "H-L", "X5")}, nil, at("X5", "H-L"), 0.5, []string{"X1", "X5"}},
		{"unplugged again", []Probe{at("X1", "H-L", "X5")}, nil, at("X1", "H-ground", "X5"), 1.5, []string{"X1", "X5"}},
		{"there where modules were asked from", nil, asked, at("X1", "H-L"), 0.5 + SupplyMinutes, []string{"X1"}},
		{"from end to end", nil, nil, along("X2.17", "X3.4"), 12 + 8 + 0.5, nil},
		{"from end to end, one end reached", []Probe{at("X3", "H-L")}, nil, along("X2.17", "X3.4"), 12 + 0.5, []string{"X3"}},
		{"another from end to end", []Probe{along("X2.17", "X3.4")}, nil, along("X1.6", "X3.4"), 1 + 0.5, []string{"X2", "X3"}},
		{"at an end of it", []Probe{along("X2.17", "X3.4")}, nil, at("X2", "H-L"), 0.5, []string{"X2", "X3"}},
		{"at one connector", nil, nil, along("X2.17", "X2.18"), 12 + 0.5, nil},
		{"to ground, apart", nil, nil, along("X2.17", "ground", "X3"), 12 + 8 + 1.5, nil},
		{"halves of one", nil, nil, along("X4/a.A", "X4/b.A", "X4"), 6 + 1.5, nil},
	} {
		m := &Match{Answers: tt.answers}
		for _, p := range tt.taken {
			m.Readings = append(m.Readings, Reading{Probe: p})
		}
		if got := Minutes(c, m.Readings, m.Answers, &tt.p); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v min, by hand %v", tt.name, got, tt.want)
		}
		been := m.Reached(c)
		if len(been) != len(tt.been) || slices.ContainsFunc(tt.been, func(s string) bool { return !been[s] }) {
			t.Errorf("%s: been to %v, want %v", tt.name, been, tt.been)
		}
		// What is planned ahead costs the same.
		if got := plannedMinutes(t, c, been, leftAs(m.Readings, len(tt.answers) > 0), &tt.p); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v min where it is planned, by hand %v", tt.name, got, tt.want)
		}
		if tt.taken == nil && tt.answers == nil {
			if way := tt.want - 0.5 - float64(len(tt.p.Condition.Unplugged)); tt.p.Site == "" && len(tt.p.Condition.Unplugged) == 0 && tt.p.ReachMin != way {
				t.Errorf("%s: the probe is %v min away, by hand %v", tt.name, tt.p.ReachMin, way)
			}
		}
	}
}

// plannedMinutes is what a reading costs where readings are planned ahead.
func plannedMinutes(t *testing.T, c *netlist.Circuit, been map[string]bool, now State, p *Probe) float64 {
	t.Helper()
	s := newSequence(c, been, now)
	s.Prior = []float64{1, 1}
	test := sequence.Test{Chance: sequence.Certain(0, 1)}
	s.price(&test, p, p.taking(), p.State())
	s.Tests = []sequence.Test{test}
	tree, err := sequence.Plan(&s.Problem, sequence.FixedOrder(0), nil)
	if err != nil {
		t.Fatal(err)
	}
	return tree.Minutes
}

// What a scan is expected to show has the chances that a match gives it afterwards, the
// scan that fails as a whole among them.
func TestScansAreForeseenAsTheyAreMatched(t *testing.T) {
	c := smallLayout(t)
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	f := &foresight{x: x, none: -1}
	f.each(0.5, 0.5)
	modules, lists, err := f.answers("X1")
	if err != nil {
		t.Fatal(err)
	}
	one := foresight{parts: make([]string, len(f.components)), none: -1}
	for i := range f.components {
		one.components = append(one.components, component{part: i, weight: 1})
	}
	outcomes, given := one.heard(lists)
	if len(outcomes) < 4 {
		t.Fatalf("outcomes %v", outcomes)
	}
	for k, list := range lists {
		rest := 1.0
		for j, o := range outcomes {
			var answers []Answer
			for m, yes := range o {
				answers = append(answers, Answer{Tool: "X1", Module: modules[m], Answered: yes})
			}
			want := math.Exp(logOfAnswers(answers, func(m int) solve.Hearing { return list[m] }))
			if math.Abs(given[k][j]-want) > 1e-12 {
				t.Errorf("%s: %v answers are foreseen with %v, matched with %v", f.components[k].members[0].Name, o, given[k][j], want)
			}
			rest -= want
		}
		if math.Abs(given[k][len(outcomes)]-math.Max(0, rest)) > 1e-12 {
			t.Errorf("%s: %v is left for other answers, want %v", f.components[k].members[0].Name, given[k][len(outcomes)], rest)
		}
	}
}

// The first of advice that looks ahead is one that is worth its while, and is there
// whenever anything is.
func TestLookingAheadAdvisesWhatIsWorthIt(t *testing.T) {
	c := smallLayout(t)
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	reading := func(place, between string, value float64, unplugged ...string) Reading {
		p, err := ProbeAt(c, solve.Ohms, place, between, solve.Condition{Unplugged: unplugged})
		if err != nil {
			t.Fatal(err)
		}
		return Reading{p, solve.Value{Number: value}}
	}
	for _, readings := range [][]Reading{
		{reading("X1", "H-L", 61.2), reading("X1", "H-ground", 9.3), reading("X1", "L-ground", 69.6)},
		{reading("X1", "H-L", 119.4)},
		{reading("X1", "H-L", 119.4), reading("X3", "H-L", 119.4)},
		{reading("X1", "H-L", 60.4)},
		{reading("X1", "H-L", 0.6)},
		{reading("X1", "H-L", 75)},
	} {
		m, err := x.Match(readings, nil)
		if err != nil {
			t.Fatal(err)
		}
		plain, err := x.Next(m, nil)
		if err != nil {
			t.Fatal(err)
		}
		ahead, err := x.Next(m, &NextOptions{LookAhead: true})
		if err != nil {
			t.Fatal(err)
		}
		for i := range ahead {
			if a := &ahead[i]; !a.Basic && a.Saves < a.Minutes {
				t.Errorf("after %v: %s takes %.1f min and saves %.1f", readings, a, a.Minutes, a.Saves)
			}
		}
		if len(plain) > 0 && (len(ahead) == 0 || !ahead[0].first) {
			t.Errorf("after %v: %d are advised, of those that look ahead none is first: %v", readings, len(plain), ahead)
		}
	}
}
