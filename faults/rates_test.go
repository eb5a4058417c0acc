package faults

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/solve"
)

// withRates gives the orchard harness, its rates changed.
func withRates(t *testing.T, entries ...netlist.FaultRate) *netlist.Circuit {
	t.Helper()
	h := *loadDemo(t, "orchard").Harness
	h.Rates = entries
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func set(kind Kind, part string, rate float64) netlist.FaultRate {
	return netlist.FaultRate{Kind: string(kind), Part: part, Rate: &rate}
}

func times(kind Kind, part string, factor float64) netlist.FaultRate {
	return netlist.FaultRate{Kind: string(kind), Part: part, Times: factor}
}

// allKinds sets the rate of every kind.
func allKinds(rate float64) []netlist.FaultRate {
	var out []netlist.FaultRate
	for kind := range rates {
		out = append(out, set(kind, "", rate))
	}
	return out
}

// The words of the harness file are those of the catalogue.
func TestRatesKnowEveryKind(t *testing.T) {
	var words []string
	for _, f := range constraint.Fields(reflect.TypeFor[netlist.FaultRate]()) {
		switch f.Key {
		case "kind":
			words = f.Enum
		case "rate":
			if f.Max == nil || f.Max.Value != netlist.GreatestRate {
				t.Errorf("rate is bounded by %v, GreatestRate is %v", f.Max, netlist.GreatestRate)
			}
		}
	}
	var kinds []string
	for kind, rate := range rates {
		kinds = append(kinds, string(kind))
		if rate < netlist.LeastRate || rate > netlist.GreatestRate {
			t.Errorf("%s has rate %v", kind, rate)
		}
	}
	words = slices.Clone(words)
	slices.Sort(words)
	slices.Sort(kinds)
	if diff := cmp.Diff(kinds, words); diff != "" {
		t.Errorf("kinds of the catalogue and of the harness file (-catalogue +file):\n%s", diff)
	}
}

// Each entry changes the faults that it is about, and no others.
func TestRates(t *testing.T) {
	const (
		openH  = "open drive.H in pair P9"             // open, 3
		openL  = "open drive.L in pair P9"             // open, 3
		other  = "open drive.H in pair P1"             // open, 3
		both   = "open drive.H and drive.L in pair P9" // open-both, 1
		backed = "backed-out cavity X14.1 (work.H)"    // backed-out, 3
		leak   = "leak work.H to ground at splice S6"  // leak, 0.7
		dark   = "module dash without supply"          // no-supply, 4
		gone   = "terminator TD1 missing"              // terminator-missing, 1
	)
	built := map[string]float64{openH: 3, openL: 3, other: 3, both: 1, backed: 3, leak: 0.7, dark: 4, gone: 1}
	for _, tt := range []struct {
		name    string
		entries []netlist.FaultRate
		want    map[string]float64 // what differs from built in; −1: left out
	}{
		{"none", nil, nil},
		{"a kind", []netlist.FaultRate{set(Open, "", 7)}, map[string]float64{openH: 7, openL: 7, other: 7}},
		{"a part", []netlist.FaultRate{set("", "P9", 7)}, map[string]float64{openH: 7, openL: 7, both: 7}},
		{"a kind at a part", []netlist.FaultRate{set(Open, "P9", 7)}, map[string]float64{openH: 7, openL: 7}},
		{"a part, times", []netlist.FaultRate{times("", "P9", 2)}, map[string]float64{openH: 6, openL: 6, both: 2}},
		{"a kind, times", []netlist.FaultRate{times(Open, "", 0.5)}, map[string]float64{openH: 1.5, openL: 1.5, other: 1.5}},
		{"a kind at a part, times", []netlist.FaultRate{times(OpenBoth, "P9", 2)}, map[string]float64{both: 2}},
		{"a connector", []netlist.FaultRate{times("", "X14", 5)}, map[string]float64{backed: 15}},
		{"a splice", []netlist.FaultRate{times("", "S6", 10)}, map[string]float64{leak: 7}},
		{"a module", []netlist.FaultRate{set("", "dash", 9)}, map[string]float64{dark: 9}},
		{"a terminator", []netlist.FaultRate{set("", "TD1", 9)}, map[string]float64{gone: 9}},
		{"a kind that the part does not have", []netlist.FaultRate{set(BackedOut, "P9", 9)}, nil},
		{"0 leaves out", []netlist.FaultRate{set(Open, "P9", 0)}, map[string]float64{openH: -1, openL: -1}},
		{"set, then times", []netlist.FaultRate{set(Open, "", 10), times("", "P9", 2)}, map[string]float64{openH: 20, openL: 20, other: 10, both: 2}},
		{"times, then set", []netlist.FaultRate{times("", "P9", 2), set(Open, "", 10)}, map[string]float64{openH: 10, openL: 10, other: 10, both: 2}},
		{"times twice", []netlist.FaultRate{times("", "P9", 2), times(Open, "", 5)}, map[string]float64{openH: 30, openL: 30, other: 15, both: 2}},
		{"the special, then the general", []netlist.FaultRate{set(Open, "P9", 20), set(Open, "", 10)}, map[string]float64{openH: 10, openL: 10, other: 10}},
		{"the general, then the special", []netlist.FaultRate{set(Open, "", 10), set(Open, "P9", 20)}, map[string]float64{openH: 20, openL: 20, other: 10}},
		{"0, then times: it stays 0", []netlist.FaultRate{set(Open, "P9", 0), times("", "P9", 5)}, map[string]float64{openH: -1, openL: -1, both: 5}},
		{"0, then set: it can happen after all", []netlist.FaultRate{set(Open, "", 0), set(Open, "P9", 5)}, map[string]float64{openH: 5, openL: 5, other: -1}},
		{"held at the greatest", []netlist.FaultRate{times(Open, "", 1e6), times(Open, "P9", 1e6), times(Open, "P9", 0.1)}, map[string]float64{openH: 1e5, openL: 1e5, other: 1e6}},
		{"held at the least", []netlist.FaultRate{times(Open, "", 1e-300), times(Open, "P9", 1e-300), times(Open, "P9", 5)}, map[string]float64{openH: 5e-6, openL: 5e-6, other: 1e-6}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := withRates(t, tt.entries...)
			got := map[string]float64{}
			var names []string
			for _, f := range Catalogue(c) {
				got[f.Name] = f.Rate
				names = append(names, f.Name)
			}
			for name, want := range built {
				if changed, ok := tt.want[name]; ok {
					want = changed
				}
				rate, there := got[name]
				switch {
				case want < 0 && there:
					t.Errorf("%s is still there, with rate %v", name, rate)
				case want >= 0 && (!there || math.Abs(rate-want) > 1e-9*want):
					t.Errorf("%s has rate %v (%v), want %v", name, rate, there, want)
				}
			}
			// What is left stands in the order that it had, and what no entry
			// covers has its kind's rate.
			at := 0
			for _, f := range Catalogue(withRates(t)) {
				covered := slices.ContainsFunc(tt.entries, func(e netlist.FaultRate) bool {
					return (e.Kind == "" || Kind(e.Kind) == f.Kind) && (e.Part == "" || e.Part == f.Part)
				})
				if at < len(names) && names[at] == f.Name {
					at++
				} else if !covered {
					t.Fatalf("%s is missing or out of order", f.Name)
				}
				if !covered && got[f.Name] != rates[f.Kind] {
					t.Errorf("%s has rate %v though nothing is said of it", f.Name, got[f.Name])
				}
			}
			if at != len(names) {
				t.Errorf("only %d of %d faults are those without rates", at, len(names))
			}
		})
	}
}

// A catalogue may be empty. Healthy wiring and none of these are still weighed, and
// no number is lost.
func TestRatesAllZero(t *testing.T) {
	c := withRates(t, allKinds(0)...)
	list := Catalogue(c)
	if len(list) != 0 {
		t.Fatalf("%d faults are left", len(list))
	}
	if got := BothSides(c); len(got) != 0 {
		t.Errorf("%d double faults", len(got))
	}
	probe := probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L")
	table, err := MakeTable(c, list, []Probe{probe}, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if x := table.Testability(); x.Detected != 0 || x.IsolatedTo1 != 0 || x.IsolatedTo3 != 0 || x.IsolatedToPart != 0 {
		t.Errorf("testability of nothing: %+v", x)
	}
	for _, ohms := range []float64{60.3, 120} {
		m, err := MakeMatch(c, list, []Reading{{probe, solve.Value{Number: ohms}}}, DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, h := range m.Hypotheses {
			sum += h.Probability
		}
		if len(m.Hypotheses) != 2 || math.Abs(sum-1) > 1e-9 {
			t.Errorf("%v Ω: %d hypotheses, probability %v in all", ohms, len(m.Hypotheses), sum)
		}
		if healthy := ohms == 60.3; m.LooksHealthy() != healthy || m.NothingFits() == healthy {
			t.Errorf("%v Ω: looks healthy %v, nothing fits %v", ohms, m.LooksHealthy(), m.NothingFits())
		}
		if _, err := Next(c, m, DefaultInstrument(), nil); err != nil {
			t.Errorf("%v Ω: %v", ohms, err)
		}
	}
}

// One fault may be all that is left: there are no two of it.
func TestRatesLeaveOneFault(t *testing.T) {
	c := withRates(t, append(allKinds(0), set(TermMissing, "TD1", 1))...)
	list := Catalogue(c)
	if len(list) != 1 {
		t.Fatalf("%d faults are left", len(list))
	}
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), solve.Value{Number: 120.2}}}
	m, err := MakeMatch(c, list, readings, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, h := range m.Hypotheses {
		sum += h.Probability
	}
	if best := m.Best(); best.Name != list[0].Name || best.Probability < 0.9 || math.Abs(sum-1) > 1e-9 {
		t.Errorf("best is %s with %v, probability %v in all", best.Name, best.Probability, sum)
	}
}

// What is ten times as common is ten times as probable beside what is not, but for
// the little that two faults at once have to do with it.
func TestRatesMoveTheMatch(t *testing.T) {
	beside := func(entries ...netlist.FaultRate) float64 {
		c := withRates(t, entries...)
		readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), solve.Value{Number: 119.1}}}
		m, err := MakeMatch(c, Catalogue(c), readings, DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		p := map[string]float64{}
		for _, h := range m.Hypotheses {
			p[h.Name] = h.Probability
		}
		return p["open drive.H in pair P4"] / p["connector X11 unplugged"]
	}
	if ratio := beside(times("", "P4", 10)) / beside(); math.Abs(ratio-10) > 0.5 {
		t.Errorf("a fault of P4 is %v times as probable beside one of X11, want 10", ratio)
	}
}

// What the entries came to is told: how many faults, with which rates in the end.
func TestRateChanges(t *testing.T) {
	c := withRates(t,
		set(BackedOut, "", 10), times("", "X14", 5), set(Open, "P9", 20), times(Open, "P9", 0.5), set(Swapped, "", 0), times(Swapped, "", 2), set(BackedOut, "P9", 1))
	var got []string
	for _, x := range RateChanges(c) {
		got = append(got, fmt.Sprintf("%s: %s, %d faults, %g to %g", x.About(), x.Change(), x.Faults, x.Least, x.Greatest))
	}
	count := func(hit func(f *Fault) bool) (n int) {
		for _, f := range Catalogue(withRates(t)) {
			if hit(f) {
				n++
			}
		}
		return n
	}
	want := []string{
		fmt.Sprintf("every backed-out: rate 10, %d faults, 10 to 50", count(func(f *Fault) bool { return f.Kind == BackedOut })),
		fmt.Sprintf("everything at X14: 5 times, %d faults, 0 to 50", count(func(f *Fault) bool { return f.Part == "X14" })),
		"every open at P9: rate 20, 2 faults, 10 to 10",
		"every open at P9: 0.5 times, 2 faults, 10 to 10",
		fmt.Sprintf("every swapped: cannot happen, %d faults, 0 to 0", count(func(f *Fault) bool { return f.Kind == Swapped })),
		fmt.Sprintf("every swapped: 2 times, %d faults, 0 to 0", count(func(f *Fault) bool { return f.Kind == Swapped })),
		"every backed-out at P9: rate 1, 0 faults, 0 to 0",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// Entries that come to nothing are remarked on.
func TestRateRemarks(t *testing.T) {
	for _, tt := range []struct {
		name    string
		entries []netlist.FaultRate
		want    []string
	}{
		{"none", nil, nil},
		{"all of use", []netlist.FaultRate{set(Open, "P9", 3), set(Open, "P9", 0)}, nil},
		{"a kind that the part does not have", []netlist.FaultRate{set(Open, "P9", 3), set(BackedOut, "P9", 3)}, []string{"rate entry number 2: changes nothing, since it is about no fault (every backed-out at P9)"}},
		{"a junction box", []netlist.FaultRate{times("", "rear-box", 3)}, []string{"rate entry number 1: changes nothing, since it is about no fault (everything at rear-box)"}},
		{"nothing left", allKinds(0), []string{"rates: are 0 for every fault, so none is looked for"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var got []string
			for _, r := range RateRemarks(withRates(t, tt.entries...)) {
				got = append(got, r.About+": "+r.What)
				if r.Source == "" {
					t.Errorf("%q has no source", r.What)
				}
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// The built-in rates are listed while a fault rests on them.
func TestRateAssumptions(t *testing.T) {
	listed := func(entries ...netlist.FaultRate) map[string]bool {
		t.Helper()
		got := RateAssumptions(withRates(t, entries...))
		if len(got) == 0 {
			return nil
		}
		a := got[0]
		if len(got) > 1 || a.About == "" || a.Source != "from memory" || a.Write != "rates" {
			t.Errorf("assumptions %+v", got)
		}
		_, figures, _ := strings.Cut(a.Taken, ": ")
		out := map[string]bool{}
		last := math.Inf(1)
		for _, step := range strings.Split(figures, "; ") {
			gap := strings.LastIndex(step, " ")
			kinds := step[:gap]
			var figure float64
			if _, err := fmt.Sscan(step[gap:], &figure); err != nil || figure >= last {
				t.Errorf("%q: %v, or not less than %v", step, err, last)
			}
			last = figure
			for _, kind := range strings.Split(kinds, ", ") {
				if rates[Kind(kind)] != figure || out[kind] {
					t.Errorf("%s is listed with rate %v", kind, figure)
				}
				out[kind] = true
			}
		}
		return out
	}
	if got := listed(); len(got) != len(rates) {
		t.Errorf("nothing is said, but %d kinds are assumed: %v", len(got), got)
	}
	got := listed(set(Open, "", 3), set(Leak, "", 0), times(BackedOut, "", 2), set(HighJoint, "P9", 2))
	if len(got) != len(rates)-2 || got["open"] || got["leak"] || !got["backed-out"] || !got["joint"] {
		t.Errorf("assumed: %v", got)
	}
	if got := listed(allKinds(1)...); got != nil {
		t.Errorf("all is said, but assumed: %v", got)
	}
}
