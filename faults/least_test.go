package faults

import (
	"math"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func firstAt(t testing.TB, c *netlist.Circuit, site string) Probe {
	t.Helper()
	p, err := ProbeAt(c, solve.Ohms, site, "H-L", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Two faults without free values: the best course is to look at once, or one reading that
// tells them apart and then looking into the right part. All readings are gone through
// here one by one, from nets of their own, to find it.
func TestLeastOfTwoFaults(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	for _, names := range [][2]string{
		{"open H in pair P2", "open H in pair P4"},
		{"backed-out cavity X3.H (H)", "module middle without supply"},
		{"connector X2 unplugged", "terminator T2 missing"},
	} {
		two := []*Fault{findFault(t, list, names[0]), findFault(t, list, names[1])}
		x := NewMatcher(c, two, in)
		first := firstAt(t, c, "X1")
		least, err := x.Least(first)
		if err != nil {
			t.Fatal(err)
		}
		read := func(f *Fault, p *Probe) float64 {
			net, err := solve.Assemble(c, p.Condition, nil, f.Typical()...)
			if err != nil {
				t.Fatal(err)
			}
			v, err := net.Read(p.Quantity, p.From, p.To, in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			if v.OL {
				return math.Inf(1)
			}
			return v.Number
		}
		// What is told apart depends on where the line is drawn: by the meter's greatest
		// error and half a hundredth for tolerances, or by five times that and seven tenths,
		// since what a module has to ground is known by no more than a half.
		apart := func(p *Probe, limits, share float64) bool {
			a, b := read(two[0], p), read(two[1], p)
			if math.IsInf(a, 1) || math.IsInf(b, 1) {
				return a != b
			}
			return math.Abs(a-b) > limits*in.Limit(p.Quantity, math.Max(a, b))+share*math.Max(a, b)
		}
		l := NewLooking(c)
		share := two[0].Rate / (two[0].Rate + two[1].Rate)
		each := func(f *Fault, been ...string) float64 {
			reached := map[string]bool{}
			for _, s := range been {
				reached[s] = true
			}
			return l.Minutes(f.Part, reached)
		}
		both := func(been ...string) float64 { return share*each(two[0], been...) + (1-share)*each(two[1], been...) }
		start := 1 + ReadMinutes // X1 is a minute away
		course := func(limits, tolerance float64) float64 {
			if apart(&first, limits, tolerance) {
				return start + both("X1")
			}
			// Looking at once: the look of the first in every case, of the second when the
			// first was the wrong one, and the way to the one that it is.
			look := func(k int) float64 {
				reached := map[string]bool{}
				for i := range c.Sites {
					reached[c.Sites[i].Name] = true
				}
				return l.Minutes(two[k].Part, reached)
			}
			want := start + both("X1") + math.Min((1-share)*look(0), share*look(1))
			for _, p := range x.allProbes() {
				if apart(&p, limits, tolerance) {
					minutes := Minutes(c, []Reading{{Probe: first}}, nil, &p)
					want = math.Min(want, start+minutes+both("X1", p.Site))
				}
			}
			answers := func(f *Fault) string {
				net, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, f.Typical()...)
				if err != nil {
					t.Fatal(err)
				}
				bus, err := net.Bus(nil, solve.Tool{Site: "X1"})
				if err != nil {
					t.Fatal(err)
				}
				talk, err := bus.Talk()
				if err != nil {
					t.Fatal(err)
				}
				text := ""
				for u, hear := range talk.Answers(len(c.Units)) {
					text += c.Units[u].Name + string(rune('0'+int(hear)))
				}
				return text
			}
			if answers(two[0]) != answers(two[1]) {
				want = math.Min(want, start+SupplyMinutes+ToolMinutes+both("X1"))
			}
			return want
		}
		low, high := course(1, 0.005), course(5, 0.7)
		t.Logf("%v: best %.2f to %.2f; worked out %.2f (at least %.2f), %.2f of readings", names, low, high, least.Found.Minutes, least.Bound.Minutes, least.Found.Readings)
		if least.Found.Minutes < low-1e-9 || least.Found.Minutes > high+1e-9 || least.Found.Depth != 0 {
			t.Errorf("%v: %.2f min worked out, the best course takes %.2f to %.2f", names, least.Found.Minutes, low, high)
		}
		// Neither part has 95 %, so where a reading tells them apart one is taken.
		if low == high && low < start+both("X1")+1 && least.Isolated.Minutes <= start+1e-9 {
			t.Errorf("%v: isolated after %.2f min, and the first reading tells nothing", names, least.Isolated.Minutes)
		}
		if least.Bound.Minutes > low+1e-9 {
			t.Errorf("%v: a bound of %.2f min, and a course takes %.2f", names, least.Bound.Minutes, low)
		}
	}
}

// Bounds keep their order, and more faults to tell apart or places further away never
// shorten the best course.
func TestLeastKeepsItsOrder(t *testing.T) {
	for _, name := range []string{"bench", "star"} {
		c := loadDemo(t, name)
		first := firstAt(t, c, "X1")
		l, err := NewMatcher(c, Catalogue(c), DefaultInstrument()).Least(first)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %+v", name, *l)
		if l.Bound.Minutes > l.Found.Minutes+1e-9 {
			t.Errorf("%s: the bound %.2f is above the estimate of the best, %.2f", name, l.Bound.Minutes, l.Found.Minutes)
		}
		for _, m := range []CourseMinutes{l.Bound, l.Found, l.Isolated} {
			if m.Readings > m.Minutes+1e-9 || m.Readings < first.ReachMin+ReadMinutes-1e-9 {
				t.Errorf("%s: %.2f min of readings in %.2f", name, m.Readings, m.Minutes)
			}
		}
		if math.Abs(l.Isolated.Minutes-l.Isolated.Readings) > 1e-9 {
			t.Errorf("%s: looking is counted in %+v", name, l.Isolated)
		}
		// Farther away.
		far := *c.Harness
		far.Connectors = append([]netlist.Connector(nil), far.Connectors...)
		for i := range far.Connectors { // each has its minutes in these files
			minutes := *far.Connectors[i].ReachMin + 3
			far.Connectors[i].ReachMin = &minutes
		}
		d, err := netlist.NewCircuit(&far)
		if err != nil {
			t.Fatal(err)
		}
		m, err := NewMatcher(d, Catalogue(d), DefaultInstrument()).Least(firstAt(t, d, "X1"))
		if err != nil {
			t.Fatal(err)
		}
		if m.Found.Minutes < l.Found.Minutes+3-1e-9 || m.Bound.Minutes < l.Bound.Minutes+3-1e-9 || m.Isolated.Minutes < l.Isolated.Minutes+3-1e-9 {
			t.Errorf("%s: every place 3 min further away, and the best goes from %+v to %+v", name, *l, *m)
		}
	}
}

// A course that is cut to a depth is a bound still, and more depth never lowers it.
func TestLeastToADepth(t *testing.T) {
	c := loadDemo(t, "bench")
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	for _, rule := range []courseRule{{sharp: true, apart: sharply}, {apart: certainly}, {apart: certainly, isolate: true}} {
		f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms}
		f.each(0.5, 0.5)
		d, err := newCourse(f, firstAt(t, c, "X1"), rule)
		if err != nil {
			t.Fatal(err)
		}
		before, deepest := 0.0, 0.0
		for depth := 1; depth < 20; depth++ {
			total, _ := d.begin(depth)
			if total < before-1e-9 {
				t.Errorf("%+v: %.3f min with %d readings in a row, %.3f with one fewer", rule, total, depth, before)
			}
			before = total
			if !d.cut {
				deepest = total
				break
			}
		}
		if deepest == 0 {
			t.Errorf("%+v: 20 readings in a row and no end", rule)
		}
		again, _ := d.begin(40)
		if math.Abs(again-deepest) > 1e-9 {
			t.Errorf("%+v: %.3f min, with more depth than needed %.3f", rule, deepest, again)
		}
	}
}

// With one fault that may be, the best course is the first reading and looking into its
// part: by the minutes of the part, and by the way from either end of a wire.
func TestLeastOfOneFault(t *testing.T) {
	hour, quick := 60.0, 2.0
	c := smallLayout(t, func(h *netlist.Harness) {
		h.Pairs[2].LookMin, h.Modules[0].LookMin, h.LookMin = &hour, &hour, &quick // P3, engine
		extra := h.Pairs[0]
		extra.Name, extra.From, extra.To = "P9", []string{"X2"}, []string{"X3"}
		h.Pairs = append(h.Pairs, extra)
	})
	list := Catalogue(c)
	for name, tt := range map[string]struct {
		at   string // the first reading
		want float64
	}{
		"open H in pair P3":            {"X1", 1 + 0.5 + 6 + 60},
		"module engine without supply": {"X1", 1 + 0.5 + 12 + 60},
		"connector X2 unplugged":       {"X1", 1 + 0.5 + 12 + 2},
		"connector X3 unplugged":       {"X3", 8 + 0.5 + 2},
		"terminator T1 missing":        {"X1", 1 + 0.5 + 12 + 60}, // in engine
		"open H in pair P9":            {"X1", 1 + 0.5 + 8 + 15},
		"short H to L in pair P9":      {"X2", 12 + 0.5 + 15},
		"short H to ground in pair P9": {"X3", 8 + 0.5 + 15},
	} {
		least, err := NewMatcher(c, []*Fault{findFault(t, list, name)}, DefaultInstrument()).Least(firstAt(t, c, tt.at))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(least.Found.Minutes-tt.want) > 1e-9 || math.Abs(least.Bound.Minutes-tt.want) > 1e-9 {
			t.Errorf("%s, read at %s: %.2f min, at least %.2f, by hand %.2f", name, tt.at, least.Found.Minutes, least.Bound.Minutes, tt.want)
		}
	}
	two, err := NewMatcher(c, []*Fault{Combine(findFault(t, list, "open H in pair P9"), findFault(t, list, "connector X3 unplugged"))}, DefaultInstrument()).Least(firstAt(t, c, "X1"))
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 + 0.5 + 8 + 15 + 2; math.Abs(two.Found.Minutes-want) > 1e-9 { // X3 is reached once
		t.Errorf("two at once: %.2f min, by hand %.2f", two.Found.Minutes, want)
	}
}

// However much there is to look at, one reading is weighed: a bound without any would be
// given as if it were exact.
func TestLeastWeighsOneReading(t *testing.T) {
	one, more := course{depth: 1}, course{depth: 2}
	one.worked(mostWork + 1)
	more.worked(mostWork)
	if one.full || more.full {
		t.Errorf("full after one reading: %v, within the limit: %v", one.full, more.full)
	}
	if more.worked(1); !more.full {
		t.Error("there is no limit")
	}
}
