package faults

import (
	"slices"
	"testing"
)

// Faults that no reachable place tells apart must be told apart by the test point that
// is advised, and the figures must be those of a table with just these readings.
func TestFurtherTestPoint(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	x := NewMatcher(c, list, DefaultInstrument())
	l, err := x.AnalyseLayout(12, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Further) < 10 || len(l.Places) < 3 {
		t.Fatalf("%d further test points beside %d places", len(l.Further), len(l.Places))
	}
	check := func(name string, got Testability, sites []string, extra string) {
		var probes []Probe
		for _, p := range l.Table.Probes {
			if slices.Contains(sites, p.Site) || p.Site == extra && len(p.Condition.Unplugged) == 0 {
				probes = append(probes, p)
			}
		}
		table, err := MakeTable(c, list, probes, DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		want := table.Testability()
		if got.Detected != want.Detected || got.IsolatedTo1 != want.IsolatedTo1 || got.IsolatedToPart != want.IsolatedToPart || len(got.Groups) != len(want.Groups) {
			t.Errorf("%s: %+v, by a table of its own %+v", name, brief(got), brief(want))
		}
	}
	check("as it is", l.Base, l.Places, "")
	for _, p := range l.Further[:2] {
		check("with "+p.Site, p.Testability, l.Places, p.Site)
		if p.Gain <= 0 {
			t.Errorf("%s adds %v", p.Site, p.Gain)
		}
	}
	for i, p := range l.Further[1:] {
		if p.Gain > l.Further[i].Gain {
			t.Errorf("%s is worth more than the one before", p.Site)
		}
	}
}

func brief(t Testability) []float64 {
	return []float64{t.Detected, t.IsolatedTo1, t.IsolatedTo3, t.IsolatedToPart, float64(len(t.Groups))}
}
