package faults

import (
	"maps"
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func smallLayout(t testing.TB, change ...func(*netlist.Harness)) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../testdata/layouts/small-6.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, do := range change {
		do(h)
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
		{"X2", nil, 12 + netlist.DefaultLookMin, "X2"},
		{"X2", []string{"X2"}, netlist.DefaultLookMin, "X2"},
		{"engine", nil, 12 + netlist.DefaultLookMin, "X2"},
		{"T1", nil, 12 + netlist.DefaultLookMin, "X2"}, // in the engine module
		{"T2", nil, 15 + netlist.DefaultLookMin, "X6"}, // plugged in
		{"P1", nil, 12 + netlist.DefaultLookWireMin, "X2"},
		{"P6", []string{"X1"}, netlist.DefaultLookWireMin, ""},
		{"P2", nil, netlist.DefaultLookWireMin, ""}, // between splices
		{"S1", nil, netlist.DefaultLookWireMin, ""},
		{"P3", nil, 6 + netlist.DefaultLookWireMin, "X4"},
		{"X5 and brush", nil, 35 + 2*netlist.DefaultLookMin, "X5"}, // reached once
		{"X2 and P8", nil, 12 + netlist.DefaultLookMin + 35 + netlist.DefaultLookWireMin, "X5"},
		{HealthyName, nil, netlist.DefaultLookWireMin, ""},
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

// A wire is got at from either end: the nearer one, here X3 with 8 min, or the one where
// someone has been.
func TestLookingAtEitherEnd(t *testing.T) {
	for _, ends := range [][2]string{{"X2", "X3"}, {"X3", "X2"}} {
		l := NewLooking(smallLayout(t, func(h *netlist.Harness) {
			extra := h.Pairs[0]
			extra.Name, extra.From, extra.To = "P9", []string{ends[0]}, []string{ends[1]}
			h.Pairs = append(h.Pairs, extra)
		}))
		for _, tt := range []struct {
			been string
			want float64
			then []string // places been to afterwards
		}{
			{"X1", 8 + netlist.DefaultLookWireMin, []string{"X1", "X3"}},
			{"X3", netlist.DefaultLookWireMin, []string{"X3"}},
			{"X2", netlist.DefaultLookWireMin, []string{"X2"}},
		} {
			been := map[string]bool{tt.been: true}
			if got := l.Minutes("P9", been); got != tt.want {
				t.Errorf("from %s to %s, been to %s: %v minutes, want %v", ends[0], ends[1], tt.been, got, tt.want)
			}
			if got := slices.Sorted(maps.Keys(been)); !slices.Equal(got, tt.then) {
				t.Errorf("from %s to %s, been to %s: %v afterwards, want %v", ends[0], ends[1], tt.been, got, tt.then)
			}
		}
	}
}

// What the harness says goes before what is built in, and what it says of a part before
// that; reach times are those of TestLookingMinutes.
func TestLookingFollowsTheHarness(t *testing.T) {
	minutes := func(x float64) *float64 { return &x }
	l := NewLooking(smallLayout(t, func(h *netlist.Harness) {
		h.LookMin, h.LookWireMin = minutes(7), minutes(40)
		h.Modules[0].LookMin = minutes(25)    // engine, T1 in it
		h.Connectors[5].LookMin = minutes(0)  // X6, T2 on it
		h.Pairs[7].LookMin = minutes(120)     // P8
		h.Splices[2].LookMin = minutes(2.5)   // S3
		h.Terminators = append(h.Terminators, // crimped into S1, and into S3
			netlist.Terminator{Name: "T3", At: "S1", Ohms: 2000}, netlist.Terminator{Name: "T4", At: "S3", Ohms: 2000, LookMin: minutes(9)})
	}))
	for part, want := range map[string]float64{
		"X2": 12 + 7, "panel": 8 + 7, "engine": 12 + 25, "T1": 12 + 25, "X6": 15, "T2": 15, "P1": 12 + 40, "P8": 35 + 120, "S1": 40, "S3": 2.5, "T3": 40, "T4": 9,
		"X2 and engine": 12 + 7 + 25, "P8 and nothing known": 35 + 120 + 40, HealthyName: 40, NoneName: 40,
	} {
		if got := l.Minutes(part, map[string]bool{}); got != want {
			t.Errorf("%s: %v minutes, want %v", part, got, want)
		}
	}
}

// Every part where a fault may be is one that the harness has minutes for; what is not
// would be taken for a wire.
func TestEveryPartIsLookedInto(t *testing.T) {
	for _, name := range []string{"bench", "star", "trunk", "orchard"} {
		c := loadDemo(t, name)
		looks := c.Harness.Looks()
		for _, f := range Catalogue(c) {
			if _, ok := looks[f.Part]; !ok {
				t.Errorf("%s: no minutes for looking into %q (%s)", name, f.Part, f.Name)
			}
		}
	}
}

// Orders worked by hand. P2 between splices, X1 where someone has been: X1 first takes 3
// and 60 more in 55 %. X5 and the brush module are at one place, 35 min away: the likelier
// two first take 38 + 3·0.6 + 15·0.25, by probability for each minute (0.25/15, 0.4/38,
// 0.35/38) 15 + 38·0.75 + 3·0.35.
func TestLookingOrder(t *testing.T) {
	hour := 60.0
	l := NewLooking(smallLayout(t, func(h *netlist.Harness) { h.Pairs[1].LookMin = &hour }))
	for _, tt := range []struct {
		parts  []string
		weight []float64
		been   string
		want   []int
		takes  float64
	}{
		{[]string{"P2", "X1"}, []float64{0.55, 0.45}, "X1", []int{1, 0}, 3 + 0.55*60},
		{[]string{"P2", "X1"}, []float64{0.98, 0.02}, "X1", []int{0, 1}, 60 + 0.02*3},
		{[]string{"P2", "X1"}, []float64{0.98, 0.02}, "X2", []int{0, 1}, 60 + 0.02*4},
		{[]string{"S1", "brush", "X5"}, []float64{0.25, 0.35, 0.4}, "X1", []int{2, 1, 0}, 38 + 0.6*3 + 0.25*15},
		{[]string{"S1", "X4", "X5"}, []float64{0.3, 0, 0.7}, "X1", []int{0, 2}, 15 + 0.7*38},
		{[]string{"S1", "X4"}, []float64{30, 10}, "X4", []int{1, 0}, 40*3 + 30*15}, // shares of any sum
		{nil, nil, "X1", nil, 0},
	} {
		been := map[string]bool{tt.been: true}
		if got := l.Order(tt.parts, tt.weight, been); !slices.Equal(got, tt.want) {
			t.Errorf("%v with %v: in the order %v, want %v", tt.parts, tt.weight, got, tt.want)
		}
		if len(been) != 1 {
			t.Errorf("places reached became %v", been)
		}
		if _, got := l.list(tt.parts).best(tt.weight, l.indices(been)); math.Abs(got-tt.takes) > 1e-9 {
			t.Errorf("%v with %v: %v minutes expected, by hand %v", tt.parts, tt.weight, got, tt.takes)
		}
	}
}

// Looking that takes no time has no place in an order by time: first, whatever its share.
func TestLookingAtOnce(t *testing.T) {
	none := 0.0
	l := NewLooking(smallLayout(t, func(h *netlist.Harness) { h.LookMin = &none }))
	order := l.Order([]string{"P2", "X1", "X2"}, []float64{0.6, 0.1, 0.3}, map[string]bool{"X1": true, "X2": true})
	if !slices.Equal(order, []int{2, 1, 0}) {
		t.Errorf("looked into in the order %v", order)
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
		if got := f.saving(been).by(tt.given, tt.at...); math.Abs(got-tt.want) > 1e-9 {
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
	if been := m.Reached(c); !been["X1"] || !been["X4"] || len(been) != 2 {
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

// After some readings measuring ends; with more minutes for looking, of all wires or of the
// very ones in question, a reading 35 min away is worth its while. Where looking takes no
// time a reading saves ways alone.
func TestMinutesForLookingDecideWhatIsAdvised(t *testing.T) {
	advised := func(taken int, change func(*netlist.Harness)) map[string]Advice {
		t.Helper()
		c := smallLayout(t, change)
		at := func(place, between string, value float64, unplugged ...string) Reading {
			p, err := ProbeAt(c, solve.Ohms, place, between, solve.Condition{Unplugged: unplugged})
			if err != nil {
				t.Fatal(err)
			}
			return Reading{p, solve.Value{Number: value}}
		}
		x := NewMatcher(c, Catalogue(c), DefaultInstrument())
		readings := []Reading{
			at("X1", "H-L", 61.2), at("X1", "H-ground", 9.3), at("X1", "L-ground", 69.6),
			at("X4/a", "H-ground", 19490, "X4"), at("X4/a", "L-ground", 19490, "X4"),
		}
		m, err := x.Match(readings[:taken], nil)
		if err != nil {
			t.Fatal(err)
		}
		advice, err := x.Next(m, nil)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]Advice{}
		for _, a := range advice {
			out[a.Probe.Site] = a
		}
		return out
	}
	minutes := func(x float64) *float64 { return &x }
	wires := func(minutes float64, pairs ...int) func(*netlist.Harness) {
		return func(h *netlist.Harness) {
			for _, i := range pairs {
				h.Pairs[i].LookMin = &minutes
			}
		}
	}
	for _, tt := range []struct {
		name   string
		taken  int // readings
		change func(*netlist.Harness)
		far    bool // a reading at X5 is advised
		any    bool
	}{
		{"as built in", 5, func(*netlist.Harness) {}, false, false},
		{"wires and splices take hours", 5, func(h *netlist.Harness) { h.LookWireMin = minutes(600) }, true, true},
		{"those in the rear do", 5, wires(600, 3, 4, 7), true, true}, // P4, P5, P8
		{"those in front do", 5, wires(600, 0, 1, 2, 5, 6), false, false},
	} {
		got := advised(tt.taken, tt.change)
		if _, far := got["X5"]; far != tt.far || tt.any != (len(got) > 0) {
			t.Errorf("%s: advised is %v", tt.name, got)
		}
	}
	glance := func(h *netlist.Harness) { h.LookMin, h.LookWireMin = minutes(0), minutes(0) }
	built, least := advised(3, func(*netlist.Harness) {})["X4"], advised(3, glance)["X4"]
	if !(least.Saves > 0 && least.Saves < built.Saves/2) {
		t.Errorf("a reading at X4 saves %v min as built in, %v where all is seen at a glance", built.Saves, least.Saves)
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
