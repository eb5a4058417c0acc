package derivation_test

import (
	"errors"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

func orchard(t *testing.T) *netlist.Circuit {
	t.Helper()
	c, err := netfile.ReadCircuit("../../examples/orchard/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func question(t *testing.T, c *netlist.Circuit, from, to string, changes ...solve.Change) derivation.Question {
	t.Helper()
	a, err := c.Point(from)
	if err != nil {
		t.Fatal(err)
	}
	b, err := c.Point(to)
	if err != nil {
		t.Fatal(err)
	}
	return derivation.Question{From: a, To: b, Meter: solve.DefaultMeter(), Changes: changes}
}

func element(t *testing.T, c *netlist.Circuit, name string) int {
	t.Helper()
	i, ok := c.Element(name)
	if !ok {
		t.Fatalf("no element %s", name)
	}
	return i
}

// Why there is no way: what hangs where, and where the cut is.
func TestApart(t *testing.T) {
	c := orchard(t)
	p1 := element(t, c, "pair P1 H")
	q := question(t, c, "X3.H", "X3.L", solve.Part{Element: p1})
	q.Condition.Unplugged = []string{"X3"}
	d := explain(t, c, q)
	if !d.Open || !d.Value.OL || d.Apart.Always || !slices.Equal(d.Apart.AtFrom, []string{"X3"}) || !slices.Equal(d.Apart.Cuts, []string{"pair P1 H"}) {
		t.Errorf("%+v", d.Apart)
	}
	if !slices.Contains(d.Apart.AtTo, "dash") || !slices.Contains(d.Apart.AtTo, "S4") || slices.Contains(d.Apart.AtTo, "battery-manager") {
		t.Errorf("with the black lead: %v", d.Apart.AtTo)
	}
	// Two opens in a row: neither alone would do.
	q.Changes = append(q.Changes, solve.Part{Element: element(t, c, "pair P2 H")}, solve.Part{Element: element(t, c, "pair P6 H")})
	if d := explain(t, c, q); len(d.Apart.Cuts) != 0 || !slices.Contains(d.Apart.OpenCuts, "pair P1 H") || !slices.Contains(d.Apart.OpenCuts, "contact X3.22") {
		t.Errorf("%+v", d.Apart)
	}
	// A lone connector's cavities have never anything between them but their wires.
	h := &netlist.Harness{
		Name: "two islands", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Pairs:      []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 1, SectionMM2: 0.35}},
	}
	lone, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	if d := explain(t, lone, question(t, lone, "X1.H", "X2.L")); !d.Open || !d.Apart.Always || len(d.Apart.Cuts) != 0 {
		t.Errorf("%+v", d.Apart)
	}
}

// Beyond the meter's range is OL too, with every step.
func TestBeyondRange(t *testing.T) {
	c := raw(4, edge{2, 3, 50e6})
	d := explain(t, c, derivation.Question{From: 2, To: 3, Meter: solve.DefaultMeter()})
	if d.Open || !d.Value.OL || !strings.Contains(d.Answer(), "beyond the meter's range of 40 MΩ") {
		t.Errorf("open %t, %v: %s", d.Open, d.Value, d.Answer())
	}
}

// What a comparison says of a fault: what was reached before and is not, what the fault
// does to a voltage.
func TestCompare(t *testing.T) {
	c := orchard(t)
	x, err := derivation.Compare(c, question(t, c, "X1.drive.H", "X1.drive.L", solve.Part{Element: element(t, c, "pair P4 H")}, solve.Part{Element: element(t, c, "pair P4 L")}))
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"TD2", "charger", "X11", "P4", "P15"} {
		if !slices.Contains(x.Lost, part) {
			t.Errorf("%s is not lost: %v", part, x.Lost)
		}
	}
	if slices.Contains(x.Lost, "TD1") || len(x.Gained) != 0 {
		t.Errorf("lost %v, gained %v", x.Lost, x.Gained)
	}
	if first := x.Faulty.Terms[0]; !slices.Equal(first.Parts, []string{"TD1"}) || math.Abs(first.Total-120) > 1e-9 {
		t.Errorf("first term %+v", first)
	}
	// A leak from the supply to H reaches for the supply, and divides.
	q := question(t, c, "X1.drive.H", "ground", solve.Bridge{From: solve.AtNode(netlist.SupplyNode), To: solve.AtNode(node(t, c, "S2.H")), Ohms: 1000})
	q.Quantity, q.Condition.Supply, q.Meter = solve.Volts, solve.Idle, solve.Meter{}
	if x, err = derivation.Compare(c, q); err != nil {
		t.Fatal(err)
	}
	net, err := solve.Assemble(c, q.Condition, nil, q.Changes...)
	if err != nil {
		t.Fatal(err)
	}
	across, err := net.Read(solve.Volts, netlist.SupplyNode, node(t, c, "S2.H"), solve.Meter{})
	if err != nil {
		t.Fatal(err)
	}
	if v := x.Divider; v == nil || math.Abs(v.Left-across.Number) > 1e-9 || math.Abs(v.Volts-10.3) > 1e-9 || v.FaultOhms != 1000 {
		t.Errorf("divider %+v, across the fault %v", v, across)
	}
	if !slices.ContainsFunc(x.Faulty.Sources, func(s derivation.Source) bool { return s.Name == "supply" && s.Gives > 1 }) {
		t.Errorf("sources %v", x.Faulty.Sources)
	}
}

func node(t *testing.T, c *netlist.Circuit, point string) int {
	t.Helper()
	i, err := c.Point(point)
	if err != nil {
		t.Fatal(err)
	}
	return i
}

// What is written adds up as it stands: in the sentence and down the table.
func TestWrittenTermsAddUp(t *testing.T) {
	c := orchard(t)
	number := regexp.MustCompile(`(less |plus |: )(−?[0-9.]+) (Ω|kΩ|V)`)
	for _, to := range []string{"X1.drive.L", "ground", "supply", "X3.H"} {
		for _, changes := range [][]solve.Change{nil, {solve.Part{Element: element(t, c, "pair P9 H")}}, {solve.Insert{Element: element(t, c, "pair P2 H"), Ohms: 33}}} {
			for _, supply := range []solve.Supply{solve.Off, solve.Idle} {
				q := question(t, c, "X1.drive.H", to, changes...)
				if q.Condition.Supply = supply; supply == solve.Idle {
					q.Quantity = solve.Volts
				}
				x, err := derivation.Compare(c, q)
				if err != nil {
					t.Fatal(err)
				}
				d := x.Healthy
				if x.Faulty != nil {
					d = x.Faulty
				}
				sum := 0.0
				for _, m := range number.FindAllStringSubmatch(d.Answer(), -1) {
					v, err := strconv.ParseFloat(strings.Replace(m[2], "−", "-", 1), 64)
					if err != nil {
						t.Fatal(err)
					}
					if m[1] == "less " {
						v = -v
					}
					sum += v
				}
				if last := d.Terms[len(d.Terms)-1].Total; math.Abs(sum-last) > 0.06*math.Max(1, last/1e3) {
					t.Errorf("%q adds up to %v, the reading is %v", d.Answer(), sum, last)
				}
				for _, s := range x.Sections(derivation.Short) {
					if s.Heading != "The reading as a sum" {
						continue
					}
					for column := 1; column < len(s.Header); column += 2 {
						total := 0.0
						for _, row := range s.Rows {
							if row[column] == "" || row[column] == "OL" {
								continue
							}
							v, err := strconv.ParseFloat(strings.ReplaceAll(row[column], "−", "-"), 64)
							if err != nil {
								t.Fatal(err)
							}
							total += v
							if want, err := strconv.ParseFloat(strings.ReplaceAll(row[column+1], "−", "-"), 64); err != nil || math.Abs(total-want) > 1e-9 {
								t.Errorf("%s to %s: %v adds up to %v", d.From, d.To, row, total)
							}
						}
					}
				}
			}
		}
	}
}

// What is no reading at rest is refused, and what the solver refuses too.
func TestRefused(t *testing.T) {
	c := orchard(t)
	q := question(t, c, "X1.drive.H", "ground")
	q.Condition.Supply = solve.Idle
	if _, err := derivation.Explain(c, q); !errors.Is(err, derivation.ErrNotAtRest) {
		t.Errorf("ohms with the supply on: %v", err)
	}
	q.Quantity, q.Condition.Supply = solve.Volts, solve.Off
	if _, err := derivation.Explain(c, q); !errors.Is(err, derivation.ErrNotAtRest) {
		t.Errorf("volts with the supply off: %v", err)
	}
	q.Condition.Supply = solve.Idle
	q.Changes = []solve.Change{solve.Stick{Transceiver: 0}}
	if _, err := derivation.Explain(c, q); !errors.Is(err, derivation.ErrNotAtRest) || !strings.Contains(err.Error(), "battery-manager") {
		t.Errorf("a module that sends: %v", err)
	}
	q.Changes = []solve.Change{solve.Stick{Transceiver: len(c.Transceivers)}}
	if _, err := derivation.Explain(c, q); err == nil || errors.Is(err, derivation.ErrNotAtRest) || !strings.Contains(err.Error(), "no transceiver") {
		t.Errorf("a transceiver that is not there: %v", err)
	}
	q.Changes = []solve.Change{solve.Bridge{From: solve.AtNode(netlist.GroundNode), To: solve.AtNode(netlist.SupplyNode)}}
	if _, err := derivation.Compare(c, q); !errors.Is(err, solve.ErrSupplyShorted) {
		t.Errorf("supply on ground: %v", err)
	}
	q = question(t, c, "X1.drive.H", "ground")
	q.Condition.Unplugged = []string{"X99"}
	if _, err := derivation.Explain(c, q); err == nil || !strings.Contains(err.Error(), "X99") {
		t.Errorf("an unknown connector: %v", err)
	}
	q = derivation.Question{From: 2, To: len(c.Nodes)}
	if _, err := derivation.Explain(c, q); err == nil {
		t.Error("a node that is not there is taken")
	}
}

// Every fault's every change is described.
func TestDescribe(t *testing.T) {
	c := orchard(t)
	p9 := element(t, c, "pair P9 H")
	for _, x := range []struct {
		ch   solve.Change
		want string
	}{
		{solve.Part{Element: p9}, "pair P9 H is open"},
		{solve.Insert{Element: p9, Ohms: 100}, "100 Ω more in pair P9 H"},
		{solve.Replace{Element: p9, Ohms: 5}, "pair P9 H has 5 Ω"},
		{solve.Bridge{From: solve.OnWire(p9, 0.5), To: solve.AtNode(netlist.GroundNode)}, "half-way along pair P9 H touches ground"},
		{solve.Bridge{From: solve.OnWire(p9, 0.25), To: solve.AtNode(netlist.SupplyNode), Ohms: 1000}, "1 kΩ between 25 % along pair P9 H and supply"},
		{solve.Unplug{Connector: "X4"}, "connector X4 is unplugged"},
		{solve.Unpower{Unit: 2}, "module dash has no supply"},
		{solve.Shift{Unit: 2, Volts: 2}, "the ground of module dash lies 2 V higher"},
		{solve.Stick{Transceiver: 2}, "module dash sends dominant all the time"},
	} {
		if got := derivation.Describe(c, x.ch); got != x.want {
			t.Errorf("%T: %q, want %q", x.ch, got, x.want)
		}
	}
}

// Healthy wiring at rest: nothing flows, and the derivation says so.
func TestNothingFlows(t *testing.T) {
	c := orchard(t)
	q := question(t, c, "X1.drive.H", "ground")
	q.Quantity, q.Condition.Supply = solve.Volts, solve.Idle
	d := explain(t, c, q)
	if !strings.Contains(d.Answer(), "no current flows anywhere") {
		t.Error(d.Answer())
	}
	q.Changes = []solve.Change{solve.Bridge{From: solve.AtNode(q.From), To: solve.AtNode(netlist.GroundNode), Ohms: 1e6}}
	if d := explain(t, c, q); strings.Contains(d.Answer(), "no current flows anywhere") {
		t.Error(d.Answer())
	}
}

// A harness into which nothing is plugged has no contacts; its wires are said all the same,
// before what the meter's leads add.
func TestWiresWithoutContacts(t *testing.T) {
	c := raw(4, edge{2, 3, 60}, edge{3, 0, 2})
	c.Elements[1].Kind = netlist.WireElement
	d := explain(t, c, derivation.Question{From: 2, To: 0, Meter: solve.Meter{LeadOhms: 0.3}})
	if got, want := d.Answer(), "60.00 Ω because one terminator of 60 Ω lies between them (p0), plus 2.00 Ω for wires and contacts (in p1), plus 0.30 Ω for the meter's leads."; !strings.HasSuffix(got, want) {
		t.Errorf("%s\nwant ... %s", got, want)
	}
}

// Points of one name are told apart, whatever else is called so.
func TestPointsOfOneName(t *testing.T) {
	c := raw(6, edge{2, 3, 1}, edge{3, 4, 2}, edge{4, 5, 3}, edge{2, 5, 6})
	c.Nodes[3].Name, c.Nodes[4].Name, c.Nodes[5].Name = "S1 (2)", "S1", "S1"
	d := explain(t, c, derivation.Question{From: 2, To: 4})
	names := map[string]bool{}
	for _, r := range d.Resistances[:4] {
		names[r.A], names[r.B] = true, true
	}
	if len(names) != 4 {
		t.Errorf("four points are called %v", names)
	}
}

// A short line names what a wire leads to; the wire's own ohms only where they are not
// lost beside that: 10 Ω before 2 MΩ are 5 in a million, 100 Ω are 50.
func TestWiresBesideInputs(t *testing.T) {
	for _, tt := range []struct {
		wire float64
		want string
	}{{10, "e1 2 MΩ by way of p2"}, {100, "e1 2 MΩ + 100 Ω of p2 = 2.0001 MΩ"}} {
		c := raw(4, edge{2, 0, 120}, edge{3, 0, 2e6}, edge{2, 3, tt.wire})
		c.Elements[2].Kind = netlist.WireElement
		q := derivation.Question{From: 2, To: 0}
		explain(t, c, q)
		x, err := derivation.Compare(c, q)
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, s := range x.Sections(derivation.Short) {
			text += strings.Join(s.Steps, "\n")
		}
		if !strings.Contains(text, tt.want) {
			t.Errorf("%v Ω: %s\nwant %s", tt.wire, text, tt.want)
		}
	}
}

// No weighty number in a short derivation comes out of nowhere: what lines make use of,
// directly or in a chain, has a line of its own where it is several in parallel.
func TestShortLinesHangTogether(t *testing.T) {
	const weighty, most = 0.003, 24 // as lines.go has it: share of the answer, lines
	fleet, err := netfile.ReadCircuit("../../testdata/layouts/fleet-60.yaml")
	if err != nil {
		t.Fatal(err)
	}
	// A ladder of more rungs that matter than there are lines to begin with.
	var rungs []edge
	for k := range 18 {
		rungs = append(rungs, edge{k + 2, k + 3, 1}, edge{k + 3, 0, 100})
	}
	ladder := raw(21, rungs...)
	head := regexp.MustCompile(`^R\d+\b`)
	looked := 0
	for at, of := range map[string]struct {
		c *netlist.Circuit
		q derivation.Question
	}{
		"fleet": {fleet, question(t, fleet, "X1.power.H", "X1.power.L")}, "ladder": {ladder, derivation.Question{From: 2, To: 0}},
	} {
		c, q := of.c, of.q
		x, err := derivation.Compare(c, q)
		if err != nil {
			t.Fatal(err)
		}
		d := x.Healthy
		lines := map[string]bool{}
		for _, section := range x.Sections(derivation.Short) {
			for _, line := range section.Steps {
				if name := head.FindString(line); name != "" {
					lines[name] = true
				}
			}
		}
		by := map[int]*derivation.Step{}
		for i := range d.Steps {
			if s := &d.Steps[i]; len(s.Outputs) == 1 {
				by[s.Outputs[0]] = s
			}
		}
		var use func(line string, i int)
		use = func(line string, i int) {
			s, r := by[i], &d.Resistances[i]
			if s == nil || r.Share < weighty || lines[r.Name] {
				return
			}
			if looked++; s.Operation == derivation.Parallel {
				t.Errorf("%s: %s, which %s makes use of, has no line", at, r.Name, line)
				return
			}
			for _, input := range s.Inputs {
				use(line, input)
			}
		}
		for i, s := range by {
			if name := d.Resistances[i].Name; lines[name] && len(lines) < most {
				for _, input := range s.Inputs {
					use(name, input)
				}
			}
		}
	}
	if looked < 5 {
		t.Errorf("only %d looked at", looked)
	}
}
