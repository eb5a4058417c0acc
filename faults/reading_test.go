package faults_test

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/solve"
)

func demo(t *testing.T, name string) *netlist.Circuit {
	t.Helper()
	c, err := netfile.ReadCircuit("../examples/" + name + "/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Words are read as they are written: every probe of the demo harnesses comes back.
func TestParseProbeReadsWhatStringWrites(t *testing.T) {
	for name, sender := range map[string]string{"orchard": "dash", "bench": "left", "star": "", "trunk": ""} {
		c := demo(t, name)
		n := 0
		for _, sel := range []faults.Selection{
			{}, {Unplugged: true}, {Unreachable: true}, {Quantity: solve.Volts}, {Quantity: solve.Volts, Unplugged: true},
			{Quantity: solve.Volts, Traffic: true}, {Quantity: solve.Volts, Sender: sender},
		} {
			for _, p := range faults.Probes(c, sel) {
				n++
				got, err := faults.ParseProbe(c, p.String())
				if err != nil || !reflect.DeepEqual(got, p) {
					t.Errorf("%s: %q is understood as %+v (%v), want %+v", name, p, got, err, p)
				}
			}
		}
		if n < 50 {
			t.Errorf("%s: only %d probes", name, n)
		}
	}
}

func TestParseProbe(t *testing.T) {
	c := demo(t, "orchard")
	for text, want := range map[string]string{
		"X1 drive.H-drive.L":                                   "X1 drive.H-drive.L, ohms",
		"  X1   drive.H-drive.L , ohms ":                       "X1 drive.H-drive.L, ohms",
		"X1.6 to X4.5, X4 unplugged, X3 X4 unplugged":          "X1.6 to X4.5, ohms, X4 X3 unplugged",
		"X1.6  to  ground,volts":                               "X1.6 to ground, volts",
		"X1 drive.H-ground, volts  while gateway/drive  sends": "X1 drive.H-ground, volts while gateway/drive sends",
		"X1 drive.H-ground, volts while gateway sends":         "X1 drive.H-ground, volts while gateway sends", // on the network that is measured
	} {
		p, err := faults.ParseProbe(c, text)
		if err != nil || p.String() != want {
			t.Errorf("%q is understood as %q (%v), want %q", text, p, err, want)
		}
		if (p.Quantity == solve.Volts) != (p.Condition.Supply == solve.Idle) {
			t.Errorf("%q: %v in condition %v", text, p.Quantity, p.Condition)
		}
	}
	for text, want := range map[string]string{
		"":                                  "does not say where",
		"X1":                                "does not say where",
		"X1 drive.H-drive.L amps":           "does not say where",
		"X1 drive.H-drive.L, amps":          `"amps" says nothing`,
		"X1 drive.H-drive.L,":               `"" says nothing`,
		"X99 drive.H-drive.L":               "X99",
		"X1 drive.H-drive.L, X1 unplugged":  "nothing is plugged into connector X1",
		"X1 drive.H-drive.L, X98 unplugged": "X98",
		"X1.6 to X1.6":                      "both leads are on X1.6",
		"X1 drive.H-ground, volts while moon sends":        "moon",
		"X1 drive.H-ground, volts while dash/moon sends":   `network "moon"`,
		"X1 drive.H-ground, ohms while dash sends":         "says nothing",
		"X1 drive.H-ground, volts while dash sends, moons": `"moons" says nothing`,
	} {
		if p, err := faults.ParseProbe(c, text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %q, %v; want something about %s", text, p, err, want)
		}
	}
}

func TestParseReading(t *testing.T) {
	c := demo(t, "bench")
	for shown, want := range map[string]solve.Value{"60.4": {Number: 60.4}, " 6e3 ": {Number: 6000}, "-0.3": {Number: -0.3}} {
		r, err := faults.ParseReading(c, "X1 H-L", shown)
		if err != nil || r.Value != want || r.Probe.String() != "X1 H-L, ohms" {
			t.Errorf("%q: %+v, %v", shown, r, err)
		}
	}
	if r, err := faults.ParseReading(c, "X1 H-L", "ol"); err != nil || !r.Value.OL {
		t.Errorf("OL: %+v, %v", r, err)
	}
	for _, tt := range []struct{ where, shown, want string }{
		{"X9 H-L", "60", `reading "X9 H-L": there is no connector or splice "X9"`},
		{"X1 H-L", "60 ohm", `X1 H-L, ohms: "60 ohm" is neither a number`},
		{"X1 H-L", "NaN", "is neither a number"}, {"X1 H-L", "1e13", "is neither a number"}, {"X1 H-L", "", "is neither a number"},
		{"X1 H-L", "-50", "X1 H-L, ohms: is negative"},
		{"X1 H-L, volts", "OL", "OL is no voltage"},
		{"X1 H-L, volts", "2500", "2500 V, more than"},
	} {
		if r, err := faults.ParseReading(c, tt.where, tt.shown); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s, %s: %+v, %v; want %s", tt.where, tt.shown, r, err, tt.want)
		}
	}
}

// A match of what no meter shows would be one of nothing, so all such readings are
// refused, each by its number.
func TestMatchRefusesWhatCannotBe(t *testing.T) {
	c := bench()
	probe := func(text string) faults.Probe {
		p, err := faults.ParseProbe(c, text)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	ohms, volts := probe("X1 H-L"), probe("X1 H-ground, volts")
	asleep, awake, sent := volts, ohms, ohms
	asleep.Condition.Supply, awake.Condition.Supply, sent.Traffic = solve.Off, solve.Idle, true
	away := ohms
	away.From = len(c.Nodes)
	bad := []faults.Reading{
		{ohms, solve.Value{Number: math.NaN()}}, {ohms, solve.Value{Number: math.Inf(1)}}, {ohms, solve.Value{Number: -50}},
		{volts, solve.Over()}, {volts, solve.Value{Number: math.NaN()}}, {volts, solve.Value{Number: -61}}, {volts, solve.Value{Number: math.Inf(-1)}},
		{asleep, solve.Value{Number: 2.5}}, {awake, solve.Value{Number: 60}}, {sent, solve.Value{Number: 60}},
		{away, solve.Value{Number: 60}}, {faults.Probe{From: -1}, solve.Value{Number: 60}}, {faults.Probe{}, solve.Value{Number: 60}},
	}
	good := faults.Reading{Probe: ohms, Value: solve.Value{Number: 60.1}}
	_, err := faults.MakeMatch(c, faults.Catalogue(c), append([]faults.Reading{good}, bad...), faults.DefaultInstrument(), nil)
	var list problem.List
	if !errors.As(err, &list) || len(list) != len(bad) {
		t.Fatalf("%d of %d are refused: %v", len(list), len(bad), err)
	}
	for i, p := range list {
		if want := bad[i].Probe.String(); !strings.Contains(p.Element, want) || !strings.HasPrefix(p.Element, "reading number ") || p.Write == "" {
			t.Errorf("%d: %q, want one of %s with what to write", i, p, want)
		}
	}
	for _, r := range []faults.Reading{good, {ohms, solve.Over()}, {ohms, solve.Value{Number: -1}}, {volts, solve.Value{Number: 60}}, {volts, solve.Value{Number: -60}}} {
		if wrong := r.Wrong(c); len(wrong) > 0 {
			t.Errorf("%+v is refused: %v", r, wrong)
		}
	}
}

// One reading by itself is that of a table, at rest and with a bus at work, with none, one
// and several faults.
func TestProbeReadsAsATableDoes(t *testing.T) {
	c := bench()
	in := faults.ExactInstrument()
	var probes []faults.Probe
	for _, text := range []string{"X1 H-L", "X2 H-ground", "X1 H-L, X4 unplugged", "X1 H-ground, volts", "X1 H-L, volts while left sends", "X1 H-ground, volts with traffic"} {
		p, err := faults.ParseProbe(c, text)
		if err != nil {
			t.Fatal(err)
		}
		probes = append(probes, p)
	}
	list, err := faults.Named(faults.Catalogue(c), "short H to L in pair P2", "terminator T2 missing", "open H in pair P4", "leak H to ground at connector X3")
	if err != nil {
		t.Fatal(err)
	}
	three := []*faults.Fault{list[3], list[1], list[2]}
	table, err := faults.MakeTable(c, append(list, faults.Combine(three[0], three[1:]...)), probes, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, i int, want solve.Value, of ...*faults.Fault) {
		t.Helper()
		got, err := probes[i].Read(c, in.Meter, of...)
		if err != nil || got.OL != want.OL || !got.OL && math.Abs(got.Number-want.Number) > 1e-9*math.Max(1, math.Abs(want.Number)) {
			t.Errorf("%s, %s: %v, %v; the table has %v", probes[i], what, got, err, want)
		}
	}
	for i := range probes {
		same("healthy", i, table.Healthy[i])
		for k, f := range list {
			same(f.Name, i, table.Rows[k].Values[i], f)
		}
		same("three", i, table.Rows[len(list)].Values[i], three...)
	}
	wrong := probes[0]
	wrong.Condition.Supply = solve.Idle
	if v, err := wrong.Read(c, in.Meter); !errors.Is(err, solve.ErrSupplyOn) {
		t.Errorf("ohms with the supply on: %v, %v", v, err)
	}
}

// What is left open is set: against a net that is assembled with the changes, and against
// the ohms of the wire by hand.
func TestWith(t *testing.T) {
	c := bench()
	list, err := faults.Named(faults.Catalogue(c), "short H to L in pair P2", "terminator T2 missing", "high-resistance joint H in pair P2")
	if err != nil {
		t.Fatal(err)
	}
	short, missing, joint := list[0], list[1], list[2]
	set := short.With(5, 0.25)
	if set.Name != "short H to L in pair P2, 5 Ω, 25 % along" || set.Free != nil || set.Wires != nil || set.Kind != short.Kind || set.Part != "P2" || short.Free == nil {
		t.Errorf("%+v", set)
	}
	if again := set.With(7, 0.5); again.Name != set.Name {
		t.Errorf("nothing is open, and yet the name becomes %q", again.Name)
	}
	if got := missing.With(5, 0.25); got.Name != missing.Name {
		t.Errorf("%q leaves nothing open", got.Name)
	}
	if got := joint.With(330, 0.25); got.Name != joint.Name+", 330 Ω" {
		t.Errorf("%q", got.Name)
	}
	p, err := faults.ParseProbe(c, "X1 H-L")
	if err != nil {
		t.Fatal(err)
	}
	// At X1 the two conductors of P2 up to the short, beside all that is behind it: the
	// rest of P2 and T1, and at the splice T2 with its wires.
	net, err := solve.Assemble(c, p.Condition, nil, short.Changes(5, 0.25)...)
	if err != nil {
		t.Fatal(err)
	}
	want, err := net.Read(p.Quantity, p.From, p.To, solve.DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	if got, err := p.Read(c, solve.DefaultMeter(), set); err != nil || math.Abs(got.Number-want.Number) > 1e-9 {
		t.Errorf("%v (%v), want %v", got, err, want)
	}
	if got, err := p.Read(c, solve.DefaultMeter(), short.With(5, 0.75)); err != nil || !(got.Number > want.Number+1e-3) {
		t.Errorf("farther away it reads %v (%v), not more than %v", got, err, want)
	}
	// Set, it stays as it is beside others.
	both, err := p.Read(c, solve.DefaultMeter(), missing, set)
	if err != nil {
		t.Fatal(err)
	}
	net, err = solve.Assemble(c, p.Condition, nil, append(missing.Changes(0, 0), short.Changes(5, 0.25)...)...)
	if err != nil {
		t.Fatal(err)
	}
	if want, err = net.Read(p.Quantity, p.From, p.To, solve.DefaultMeter()); err != nil || math.Abs(both.Number-want.Number) > 1e-9 {
		t.Errorf("beside another %v, want %v (%v)", both, want, err)
	}
	if _, err := p.Read(c, solve.DefaultMeter(), short.With(-5, 0.25)); err == nil {
		t.Error("−5 Ω is taken")
	}
	if _, err := p.Read(c, solve.DefaultMeter(), short.With(5, 1.5)); err == nil {
		t.Error("a place beyond the wire is taken")
	}
}

func TestInstruments(t *testing.T) {
	exact := faults.ExactInstrument()
	for _, v := range []float64{0, 60, 1e6} {
		if exact.Limit(solve.Ohms, v) != 0 || exact.Limit(solve.Volts, v) != 0 {
			t.Errorf("an exact instrument may be off at %v", v)
		}
	}
	if exact.Meter != solve.DefaultMeter() {
		t.Errorf("%+v", exact.Meter)
	}
	usual := faults.DefaultInstrument()
	zeroed := usual.Zeroed()
	if zeroed.LeadMinOhms != 0 || zeroed.LeadMaxOhms != 0 || usual.LeadMaxOhms == 0 {
		t.Errorf("%+v of %+v", zeroed, usual)
	}
	zeroed.LeadMinOhms, zeroed.LeadMaxOhms = usual.LeadMinOhms, usual.LeadMaxOhms
	if zeroed != usual {
		t.Errorf("more than the leads has changed: %+v", zeroed)
	}
}

// Three at once read as a net with all of them in it, and are rarer than any two.
func TestCombineThree(t *testing.T) {
	c := bench()
	list, err := faults.Named(faults.Catalogue(c), "leak H to ground at connector X3", "terminator T2 missing", "open L in pair P2")
	if err != nil {
		t.Fatal(err)
	}
	all := faults.Combine(list[0], list[1:]...)
	if want := list[0].Name + " and " + list[1].Name + " and " + list[2].Name; all.Name != want || all.Part != "X3 and T2 and P2" {
		t.Errorf("%q at %q", all.Name, all.Part)
	}
	if two := faults.Combine(list[0], list[1]); !(all.Rate > 0 && all.Rate < two.Rate) {
		t.Errorf("three have the rate %g, two %g", all.Rate, two.Rate)
	}
	if one := faults.Combine(list[0]); one.Name != list[0].Name || one.Rate != list[0].Rate {
		t.Errorf("one alone becomes %+v", one)
	}
	for _, text := range []string{"X1 H-L", "X2 H-L", "X3 L-ground", "X4 H-ground"} {
		p, err := faults.ParseProbe(c, text)
		if err != nil {
			t.Fatal(err)
		}
		var changes []solve.Change
		for _, f := range list {
			changes = append(changes, f.Typical()...)
		}
		net, err := solve.Assemble(c, p.Condition, nil, changes...)
		if err != nil {
			t.Fatal(err)
		}
		want, err := net.Read(p.Quantity, p.From, p.To, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.Read(c, solve.DefaultMeter(), list...); err != nil || got.OL != want.OL || !got.OL && math.Abs(got.Number-want.Number) > 1e-9*want.Number {
			t.Errorf("%s: %v (%v), want %v", p, got, err, want)
		}
	}
}
