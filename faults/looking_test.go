package faults

import (
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func smallLayout(t testing.TB) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../testdata/layouts/small-6.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Reach times as testdata/layouts/small-6.yaml has them: X1 1, X2 12, X4 6, X5 35, X6 15
// minutes; the splices have none.
func TestLookingMinutes(t *testing.T) {
	l := NewLooking(smallLayout(t))
	for _, tt := range []struct {
		part string
		been []string
		want float64
		then string // a place that is reached by it
	}{
		{"X2", nil, 12 + LookMinutes, "X2"},
		{"X2", []string{"X2"}, LookMinutes, "X2"},
		{"engine", nil, 12 + LookMinutes, "X2"},
		{"T1", nil, 12 + LookMinutes, "X2"}, // in the engine module
		{"T2", nil, 15 + LookMinutes, "X6"}, // plugged in
		{"P1", nil, 12 + LookWireMinutes, "X2"},
		{"P6", []string{"X1"}, LookWireMinutes, ""},
		{"P2", nil, LookWireMinutes, ""}, // between splices
		{"S1", nil, LookWireMinutes, ""},
		{"P3", nil, 6 + LookWireMinutes, "X4"},
		{"X5 and brush", nil, 35 + 2*LookMinutes, "X5"}, // reached once
		{"X2 and P8", nil, 12 + LookMinutes + 35 + LookWireMinutes, "X5"},
		{HealthyName, nil, LookWireMinutes, ""},
	} {
		been := map[string]bool{}
		for _, s := range tt.been {
			been[s] = true
		}
		if got := l.Minutes(tt.part, been); got != tt.want {
			t.Errorf("%s, been to %v: %v minutes, want %v", tt.part, tt.been, got, tt.want)
		}
		if tt.then != "" && !been[tt.then] {
			t.Errorf("%s: %s is not marked as reached", tt.part, tt.then)
		}
	}
}

// A wire between two connectors is got at from the nearer one, here X3 with 8 min.
func TestLookingAtTheNearerEnd(t *testing.T) {
	h, err := netfile.Read("../testdata/layouts/small-6.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, ends := range [][2]string{{"X2", "X3"}, {"X3", "X2"}} {
		extra := h.Pairs[0]
		extra.Name, extra.From, extra.To = "P9", []string{ends[0]}, []string{ends[1]}
		more := *h
		more.Pairs = append(h.Pairs[:len(h.Pairs):len(h.Pairs)], extra)
		c, err := netlist.NewCircuit(&more)
		if err != nil {
			t.Fatal(err)
		}
		if got := NewLooking(c).Minutes("P9", map[string]bool{}); got != 8+LookWireMinutes {
			t.Errorf("from %s to %s: %v minutes, want %v", ends[0], ends[1], got, 8+LookWireMinutes)
		}
	}
}

// Two parts, X2 with 60 % and X6 with 40 %, worked by hand: looking takes 15 min, and 18
// more in 40 % of cases, 22.2 min. A reading at X2 that tells them apart leaves 3 min in
// 60 % and 18 in 40 %, 9 min; one that tells nothing saves the way to X2 alone, 12 min.
func TestSavedMinutes(t *testing.T) {
	c := smallLayout(t)
	f := &foresight{x: NewMatcher(c, nil, DefaultInstrument()), parts: []string{"X6", "X2"}, chance: []float64{0.4, 0.6}}
	been := map[string]bool{"X1": true}
	for _, tt := range []struct {
		name  string
		given [][]float64
		at    []string
		want  float64
	}{
		{"tells all, at X2", [][]float64{{0.4, 0}, {0, 0.6}}, []string{"X2"}, 22.2 - 9},
		{"tells nothing, at X2", [][]float64{{0.2, 0.2}, {0.3, 0.3}}, []string{"X2"}, 12},
		{"tells nothing, at X1", [][]float64{{0.4}, {0.6}}, []string{"X1"}, 0},
		// Turned round in a quarter: 0.3 against 0.15, and 0.1 against 0.45. X6 first:
		// 0.45·18 + 0.15·15; X2 first: 0.55·15 + 0.1·18.
		{"tells some, at X1", [][]float64{{0.3, 0.1}, {0.15, 0.45}}, []string{"X1"}, 22.2 - (0.45*18 + 0.15*15 + 0.55*15 + 0.1*18)},
	} {
		if got := f.saved(tt.given, been, tt.at...); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v minutes saved, want %v", tt.name, got, tt.want)
		}
	}
	if len(been) != 1 {
		t.Errorf("places reached became %v", been)
	}
}

// A short to ground in the rear of the layout reads next to nothing from both sides of
// the inline connector: which of three wires it is in, a reading 35 min away would say by
// a third of a bit. That is no advice, since it saves less than it takes; what is advised
// does save as much.
func TestNoAdviceThatTakesLongerThanLooking(t *testing.T) {
	c := smallLayout(t)
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	at := func(place, between string, value float64, unplugged ...string) Reading {
		p, err := ProbeAt(c, solve.Ohms, place, between, solve.Condition{Unplugged: unplugged})
		if err != nil {
			t.Fatal(err)
		}
		return Reading{p, solve.Value{Number: value}}
	}
	readings := []Reading{at("X1", "H-L", 61.2), at("X1", "H-ground", 9.3), at("X1", "L-ground", 69.6)}
	m, err := x.Match(readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	advice, err := x.Next(m, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(advice) == 0 || advice[0].Probe.Site != "X4" {
		t.Errorf("after the service connector the inline one is not advised: %v", advice)
	}
	for i := range advice {
		if a := &advice[i]; !a.Basic && a.Saves < a.Minutes {
			t.Errorf("%s is advised, takes %.1f min and saves %.1f", a, a.Minutes, a.Saves)
		}
	}
	readings = append(readings, at("X4/a", "H-ground", 19490, "X4"), at("X4/a", "L-ground", 19490, "X4"))
	if m, err = x.Match(readings, nil); err != nil {
		t.Fatal(err)
	}
	if advice, err = x.Next(m, nil); err != nil {
		t.Fatal(err)
	}
	if been := x.reached(m); !been["X1"] || !been["X4"] || len(been) != 2 {
		t.Errorf("read at X1 and X4, and %v are taken for reached", been)
	}
	for i := range advice {
		if a := &advice[i]; a.Probe.Site == "X5" {
			t.Errorf("%s is advised for %.2f bits and %.1f min of looking (%v)", a, a.Bits, a.Saves, m.Parts[:3])
		}
	}
	// Asked for by name it is weighed all the same.
	far := at("X5", "H-ground", 0, "X5").Probe
	if advice, err = x.Next(m, &NextOptions{Candidates: []Probe{far}}); err != nil {
		t.Fatal(err)
	}
	if len(advice) != 1 || advice[0].Saves <= 0 || advice[0].Bits < leastBitsAsked {
		t.Errorf("the reading at X5 that was asked about: %v", advice)
	}
}

// After two healthy readings at the service connector of farm-12 and a scan that all modules
// answered, the next reading pays for switching the supply off again, and no reading saves as
// much by itself. Readings go on nevertheless, since those after it do not pay for that; but
// not where a reading takes longer than that by more.
func TestOneReadingPaysForThoseThatFollow(t *testing.T) {
	c := loadLayout(t, "../testdata/layouts/farm-12.yaml")
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	readings := []Reading{
		{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 59.2}},
		{probeAt(t, c, solve.Ohms, "X1", "L-ground"), solve.Value{Number: 3922}},
	}
	var answers []Answer
	for i := range c.Units {
		answers = append(answers, Answer{Tool: "X1", Module: c.Units[i].Name, Answered: true})
	}
	m, err := x.Match(readings, &MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	advice, err := x.Next(m, &NextOptions{Now: Asked})
	if err != nil {
		t.Fatal(err)
	}
	all, err := x.Next(m, &NextOptions{Now: Asked, Anyway: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(advice) == 0 || len(advice) >= len(all) {
		t.Errorf("%d readings are advised, %d anyway", len(advice), len(all))
	}
	for i := range all {
		a := &all[i]
		advised := slices.ContainsFunc(advice, func(b Advice) bool { return sameProbe(a.Probe, b.Probe) && a.Tool == b.Tool })
		if within := a.Minutes-SupplyMinutes <= a.Saves; advised != within {
			t.Errorf("%s takes %.1f min and saves %.1f: advised %v", a, a.Minutes, a.Saves, advised)
		}
	}
}
