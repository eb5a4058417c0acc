package report

import (
	"math"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// A fault of which readings say a resistance is shown with it: its readings are the
// library's with that value, its words say whence it comes, and no other fault changes.
func TestFittedFaults(t *testing.T) {
	const demo, name, ohms = "examples/bench/harness.yaml", "leak H to ground at connector X2", 236.4
	c, plain := pageOf(t, demo)
	before := numbersOf(t, plain)
	d := numbersOf(t, written(t, c, Options{Tools: []string{"X1"}, Fitted: map[string]faults.Estimate{name: {Best: ohms, Low: 231.2, High: 241.7}, "no such fault": {Best: 1}}}))
	list := faults.Catalogue(c)
	at := -1
	for k, f := range list {
		if f.Name == name {
			at = k
		}
	}
	if at < 0 {
		t.Fatal("the fault is not in the catalogue")
	}
	if typical := list[at].Free.Typical; typical != 1000 {
		t.Errorf("the catalogue has %g Ω now", typical)
	}
	if want := "shown with 236 Ω, as fitted to the readings (95 %: 230 Ω to 240 Ω); a real one may have 30 Ω to 100 kΩ"; d.Faults[at].Shown != want || d.Faults[at].With != "236 Ω" {
		t.Errorf("it says %q, %q, want %q", d.Faults[at].Shown, d.Faults[at].With, want)
	}
	value := func(d *data, reading, fault int) number {
		for _, x := range d.Readings[reading].Cells {
			for _, k := range x.Faults {
				if k == fault {
					return x.Value
				}
			}
		}
		return d.Readings[reading].Healthy
	}
	moved := 0
	for i, r := range d.Readings {
		for k := range list {
			if a, b := value(before, i, k), value(d, i, k); a != b {
				if k != at {
					t.Errorf("reading %d with %s moved from %v to %v", i, list[k].Name, a, b)
				}
				moved++
			}
		}
		kind := d.Kinds[r.Kind]
		condition := solve.Condition{}
		if kind.Volts {
			condition.Supply = solve.Idle
		}
		if kind.Unplugged {
			condition.Unplugged = []string{d.Places[r.Place].Part}
		}
		p, err := faults.ProbeAt(c, kind.quantity(), d.Places[r.Place].Name, kind.Between, condition)
		if err != nil {
			t.Fatal(err)
		}
		// By the solver itself.
		net, err := solve.Assemble(c, condition, nil, list[at].Changes(236, 0.5)...)
		if err != nil {
			t.Fatal(err)
		}
		v, err := net.Read(kind.quantity(), p.From, p.To, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		if got, want := value(d, i, at).text(kind.quantity()), solve.FormatReading(kind.quantity(), v); got != want && strings.TrimLeft(got, "-") != strings.TrimLeft(want, "-") {
			t.Errorf("%s with the fitted leak: the page has %s, the solver %s", p, got, want)
		}
	}
	if moved < 5 {
		t.Errorf("only %d readings moved", moved)
	}
}

func TestFigures(t *testing.T) {
	for _, tt := range []struct {
		ohms float64
		n    int
		want float64
	}{{236.4, 3, 236}, {236.4, 2, 240}, {13876, 3, 13900}, {0.01234, 3, 0.0123}, {99.96, 3, 100}, {0, 3, 0}, {math.NaN(), 3, 0}} {
		if got := figures(tt.ohms, tt.n); math.Abs(got-tt.want) > 1e-9*tt.want {
			t.Errorf("%g to %d figures is %g, want %g", tt.ohms, tt.n, got, tt.want)
		}
	}
}

// Each reading that was taken is derived, unplugged and from end to end too, healthy
// and by the explanation; where modules send it says that it is not.
func TestTakenReadingsAreDerived(t *testing.T) {
	c := circuitOf(t, "examples/orchard/harness.yaml")
	at := func(q solve.Quantity, place, between string, unplugged ...string) faults.Probe {
		t.Helper()
		p, err := faults.ProbeAt(c, q, place, between, solve.Condition{Unplugged: unplugged})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	end, err := faults.ProbeFromTo(c, solve.Ohms, "X1.14", "X13.9", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	driven, err := faults.ProbeAt(c, solve.Volts, "X2", "drive.H-ground", solve.Condition{Supply: solve.Idle})
	if err != nil {
		t.Fatal(err)
	}
	list, err := faults.Named(faults.Catalogue(c), "backed-out cavity X11.2 (drive.L)")
	if err != nil {
		t.Fatal(err)
	}
	o := Options{
		Instrument: faults.DefaultInstrument(),
		Taken: []Taken{
			{at(solve.Ohms, "X1", "drive.H-drive.L", "X3"), solve.Value{Number: 13980}},
			{end, solve.Value{Number: 236.2}},
			{driven.WithTraffic(), solve.Value{Number: 2.51}},
		},
		Best: Explanation{Name: list[0].Name, Changes: list[0].Typical()},
	}
	got, err := deriveTaken(c, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][]string{
		// As whatif explain has them.
		{"1. X1 drive.H-drive.L, ohms, X3 unplugged: 13.98 kΩ", "the meter shows 119.7 Ω", "With backed-out cavity X11.2", "the meter shows 15.47 kΩ"},
		{"2. X1.14 to X13.9, ohms: 236.2 Ω", "the meter shows 0.39 Ω", "the meter shows 239.3 Ω"},
		{"3. X2 drive.H-ground, volts", "while modules send"},
	} {
		text := got[i].Title
		for _, p := range got[i].Parts {
			text += " " + p.Heading + " " + strings.Join(p.Paragraphs, " ")
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("reading %d does not say %q: %.500s", i+1, w, text)
			}
		}
	}
	o.Best = Explanation{}
	if got, err = deriveTaken(c, o, nil); err != nil || len(got[0].Parts) == 0 {
		t.Errorf("without an explanation: %v, %v", got, err)
	}
}

// With no module in the harness there is nobody to ask.
func TestWithoutModules(t *testing.T) {
	h := &netlist.Harness{
		Name:       "no modules",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1", Note: "near"}, {Name: "X2"}},
		Pairs:      []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 1, SectionMM2: 0.35}},
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	html := written(t, c, Options{Tools: []string{"X1"}})
	if d := numbersOf(t, html); len(d.Answers) != 0 || len(d.Faults) == 0 {
		t.Errorf("answers %v, %d faults", d.Answers, len(d.Faults))
	}
}

// A place with several cavities of a conductor has a row for each reading, which says
// between which it is; no cell takes another's place.
func TestHealthyRowsBySeveralCavities(t *testing.T) {
	d := &data{
		Networks: []string{"bus"},
		Kinds:    []kind{{Label: "ohms, H to L (supply off)"}, {Label: "ohms, H to ground (supply off)"}},
		Places:   []place{{Name: "X1"}, {Name: "X11"}},
		Readings: []reading{
			{Kind: 0, Place: 0, Between: "1-2", Healthy: number{value: 60}}, {Kind: 0, Place: 0, Between: "11-2", Healthy: number{value: 61}},
			{Kind: 1, Place: 0, Between: "1-ground", Healthy: number{value: 5000}}, {Kind: 1, Place: 0, Between: "11-ground", Healthy: number{value: 6000}},
			{Kind: 0, Place: 1, Between: "1-2", Healthy: number{value: 62}},
		},
	}
	var got []string
	for _, table := range healthyTables(d) {
		for _, row := range table.Rows {
			got = append(got, row.Place+": "+row.Cells[0].Reads+"|"+row.Cells[1].Reads)
		}
	}
	if want := "X1 1-2: 60.0 Ω|, X1 11-2: 61.0 Ω|, X1 1-ground: |5.00 kΩ, X1 11-ground: |6.00 kΩ, X11 1-2: 62.0 Ω|"; strings.Join(got, ", ") != want {
		t.Errorf("rows are %q, want %q", strings.Join(got, ", "), want)
	}
}
