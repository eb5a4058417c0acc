package solve_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

// exact is the tolerance for networks of which the answer is a formula: some
// rounding errors, no more.
const exact = 1e-13

// The bridge of five resistors. Textbook; the arithmetic is done here.
func TestWheatstoneBridge(t *testing.T) {
	// 0 and 1 are the supply corners, 2 and 3 those of the detector.
	bridge := func(r02, r21, r03, r31, r23 float64) *netlist.Circuit {
		return floating(4, []edge{{0, 2, r02}, {2, 1, r21}, {0, 3, r03}, {3, 1, r31}, {2, 3, r23}})
	}
	// Balanced, 100/200 = 150/300: nothing flows in the detector whatever it
	// is, and 300 Ω lies beside 450 Ω.
	for _, detector := range []float64{0.001, 1, 60, 1e6, 1e9} {
		n := assemble(t, bridge(100, 200, 150, 300, detector), solve.Condition{})
		wantNear(t, fmt.Sprintf("balanced, detector %g", detector), between(t, n, 0, 1), 180, exact)
	}
	n := assemble(t, bridge(100, 200, 150, 300, 1), solve.Condition{}, solve.Part{Element: 4})
	wantNear(t, "balanced, no detector", between(t, n, 0, 1), 180, exact)
	n = assemble(t, bridge(100, 200, 150, 300, 0), solve.Condition{})
	wantNear(t, "balanced, detector shorted", between(t, n, 0, 1), 180, exact)
	n = assemble(t, bridge(100, 200, 150, 300, 1), solve.Condition{}, solve.Bridge{From: solve.AtNode(2 + first), To: solve.AtNode(3 + first)})
	wantNear(t, "balanced, detector bridged", between(t, n, 0, 1), 180, exact)

	// Unbalanced: the upper delta 10, 30, 15 is a wye of 10·30/55, 10·15/55
	// and 15·30/55, and two branches lie beside each other below it.
	n = assemble(t, bridge(10, 20, 30, 5, 15), solve.Condition{})
	left, right := 150.0/55+20, 450.0/55+5
	wantNear(t, "unbalanced", between(t, n, 0, 1), 300.0/55+left*right/(left+right), exact)
}

// The detector's voltage, unloaded: V (R2/(R1+R2) − R4/(R3+R4)). Textbook.
func TestWheatstoneBridgeVoltage(t *testing.T) {
	c := raw(4, []edge{{1, 2, 100}, {2, 0, 200}, {1, 3, 300}, {3, 0, 100}})
	supply(c, 12)
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	r := respond(t, n, solve.Volts, 2, 3, solve.Meter{})
	wantNear(t, "volts", r.Value().Number, 12*(200.0/300-100.0/400), exact)
	r = respond(t, n, solve.Volts, 3, 2, solve.Meter{})
	wantNear(t, "leads swapped", r.Value().Number, -12*(200.0/300-100.0/400), exact)
}

// supply gives a raw circuit a rail at some volts. The load's ohms do not count
// with the supply on.
func supply(c *netlist.Circuit, volts float64) {
	law := netlist.Law{Value: netlist.Spread{Mid: 10}}
	awake := law
	awake.Volts.Mid = volts
	c.Elements = append(c.Elements, netlist.Element{
		Name: "loads", Kind: netlist.LoadElement, A: netlist.SupplyNode, B: netlist.GroundNode, Off: law, Awake: awake,
	})
}

// A delta and the wye that takes its place read alike at all corners, alone and
// in a larger network. Textbook: wye arm = product of the sides that meet there
// over their sum.
func TestDeltaWye(t *testing.T) {
	r01, r12, r20 := 3.0, 5.0, 7.0
	sum := r01 + r12 + r20
	rest := []edge{{0, 3, 2}, {1, 4, 11}, {3, 4, 1}, {2, 3, 6}}
	delta := append([]edge{{0, 1, r01}, {1, 2, r12}, {2, 0, r20}}, rest...)
	wye := append([]edge{{0, 5, r01 * r20 / sum}, {1, 5, r01 * r12 / sum}, {2, 5, r12 * r20 / sum}}, rest...)
	for _, part := range []int{3, len(delta)} {
		d := assemble(t, floating(5, delta[:part]), solve.Condition{})
		w := assemble(t, floating(6, wye[:part]), solve.Condition{})
		corners := 3
		if part > 3 {
			corners = 5
		}
		for a := range corners {
			for b := range a {
				wantNear(t, fmt.Sprintf("%d edges, %d to %d", part, a, b), between(t, w, a, b), between(t, d, a, b), exact)
			}
		}
	}
	// The delta itself: one side beside the two others.
	d := assemble(t, floating(3, delta[:3]), solve.Condition{})
	wantNear(t, "delta side", between(t, d, 0, 1), r01*(r12+r20)/sum, exact)
}

// The cube of equal resistors: 7/12 R along an edge, 3/4 R across a face, 5/6 R
// through the body. Textbook.
func TestResistorCube(t *testing.T) {
	for _, ohms := range []float64{1, 120, 1e-3, 1e9} {
		var edges []edge
		for a := range 8 {
			for bit := 1; bit < 8; bit <<= 1 {
				if a&bit == 0 {
					edges = append(edges, edge{a, a | bit, ohms})
				}
			}
		}
		n := assemble(t, floating(8, edges), solve.Condition{})
		wants := []float64{0, 7.0 / 12, 3.0 / 4, 5.0 / 6}
		for a := range 8 {
			for b := range 8 {
				apart := a&1 ^ b&1 + (a>>1&1 ^ b>>1&1) + (a>>2&1 ^ b>>2&1)
				wantNear(t, fmt.Sprintf("cube of %g Ω, %d to %d", ohms, a, b), between(t, n, a, b), wants[apart]*ohms, exact)
			}
		}
	}
}

// Graphs of which all edges are alike: each edge reads (nodes − 1)/edges, by
// Foster's theorem. The other distances: octahedron 1/2, Petersen graph 4/5,
// from memory.
func TestEdgeTransitiveGraphs(t *testing.T) {
	petersen := func() []edge {
		var e []edge
		for i := range 5 {
			e = append(e, edge{i, (i + 1) % 5, 1}, edge{5 + i, 5 + (i+2)%5, 1}, edge{i, 5 + i, 1})
		}
		return e
	}()
	octahedron := func() []edge {
		var e []edge
		for a := range 6 {
			for b := range a {
				if a/2 != b/2 { // 0 and 1, 2 and 3, 4 and 5 are opposite
					e = append(e, edge{a, b, 1})
				}
			}
		}
		return e
	}()
	for _, g := range []struct {
		name      string
		nodes     int
		edges     []edge
		a, b      int     // a pair that is no edge
		otherwise float64 // and its resistance
	}{
		{"octahedron", 6, octahedron, 0, 1, 1.0 / 2},
		{"Petersen graph", 10, petersen, 0, 2, 4.0 / 5},
	} {
		n := assemble(t, floating(g.nodes, g.edges), solve.Condition{})
		for _, e := range g.edges {
			wantNear(t, g.name+" edge", between(t, n, e.a, e.b), float64(g.nodes-1)/float64(len(g.edges)), exact)
		}
		wantNear(t, g.name+" otherwise", between(t, n, g.a, g.b), g.otherwise, exact)
	}
}

// A ladder of equal series and shunt resistors: n sections read
// F(2n+1)/F(2n) R with Fibonacci's numbers, and the endless ladder the golden
// ratio. Textbook.
func TestLadder(t *testing.T) {
	const ohms = 120.0
	small, large := 1.0, 2.0 // F(2), F(3)
	for sections := 1; sections <= 40; sections++ {
		var edges []edge
		for i := range sections {
			edges = append(edges, edge{1 + i, 2 + i, ohms}, edge{2 + i, 0, ohms})
		}
		n := assemble(t, floating(sections+2, edges), solve.Condition{})
		got := between(t, n, 1, 0)
		wantNear(t, fmt.Sprintf("%d sections", sections), got, ohms*large/small, exact)
		if sections == 40 {
			wantNear(t, "golden ratio", got, ohms*(1+math.Sqrt(5))/2, exact)
		}
		small += large
		large += small
	}
	// Series r, shunt g: the endless ladder's own resistance in place of the
	// rest, x = r + x/(1 + g x): x = r/2 + √(r²/4 + r/g). Textbook.
	const r, g = 0.1, 1.0 / 15e3
	x := r/2 + math.Sqrt(r*r/4+r/g)
	var edges []edge
	const sections = 30
	for i := range sections {
		edges = append(edges, edge{1 + i, 2 + i, r}, edge{2 + i, 0, 1 / g})
	}
	edges = append(edges, edge{1 + sections, 0, x})
	n := assemble(t, floating(sections+2, edges), solve.Condition{})
	wantNear(t, "ladder closed with its own limit", between(t, n, 1, 0), x, exact)
}

// complete, cycle and path are the usual graphs of 1 Ω edges.
func complete(n int) []edge {
	var e []edge
	for a := range n {
		for b := range a {
			e = append(e, edge{a, b, 1})
		}
	}
	return e
}

func path(n int) []edge {
	var e []edge
	for a := 1; a < n; a++ {
		e = append(e, edge{a - 1, a, 1})
	}
	return e
}

func cycle(n int) []edge { return append(path(n), edge{n - 1, 0, 1}) }

// Complete graph 2/n between any two nodes; cycle k(n − k)/n at k steps.
// Textbook.
func TestCompleteGraphsAndCycles(t *testing.T) {
	for n := 2; n <= 20; n++ {
		net := assemble(t, floating(n, complete(n)), solve.Condition{})
		wantNear(t, fmt.Sprintf("K%d", n), between(t, net, 0, n-1), 2/float64(n), exact)
		if n < 3 {
			continue
		}
		net = assemble(t, floating(n, cycle(n)), solve.Condition{})
		for k := range n {
			wantNear(t, fmt.Sprintf("C%d, %d steps", n, k), between(t, net, 0, k), float64(k*(n-k))/float64(n), exact)
		}
	}
}

// Kirchhoff index: the sum of the resistances of all pairs. K_n: n − 1; C_4: 5,
// C_6: 35/2; P_4: 10, P_6: 35. MathWorld, "Kirchhoff Index" (K_n and C_n); P_n
// is a sum of distances.
func TestKirchhoffIndex(t *testing.T) {
	for _, g := range []struct {
		name  string
		nodes int
		edges []edge
		want  float64
	}{
		{"K5", 5, complete(5), 4},
		{"K12", 12, complete(12), 11},
		{"C4", 4, cycle(4), 5},
		{"C6", 6, cycle(6), 35.0 / 2},
		{"P4", 4, path(4), 10},
		{"P6", 6, path(6), 35},
	} {
		n := assemble(t, floating(g.nodes, g.edges), solve.Condition{})
		sum := 0.0
		for a := range g.nodes {
			for b := range a {
				sum += between(t, n, a, b)
			}
		}
		wantNear(t, g.name, sum, g.want, exact)
	}
}

// A divider of two equal resistors under a 10 MΩ meter: V R_m / (R + 2 R_m).
// Textbook; 10 MΩ from meter manuals.
func TestDividerUnderTheMeter(t *testing.T) {
	for _, test := range []struct{ upper, lower, want float64 }{
		{10e6, 10e6, 4},                        // the meter makes the lower half 5 MΩ of 15 MΩ
		{1e3, 1e3, 12 * 10e6 / (1e3 + 2*10e6)}, // 0.6 mV less than 6 V
		{20e6, 20e6, 12.0 / 4},                 // 20 MΩ beside 10 MΩ is 20/3 MΩ
		{2, 10, 12 * 10 / (10.0 + 2*(1+10/10e6))},
	} {
		c := raw(3, []edge{{1, 2, test.upper}, {2, 0, test.lower}})
		supply(c, 12)
		n := assemble(t, c, solve.Condition{Supply: solve.Idle})
		r := respond(t, n, solve.Volts, 2, netlist.GroundNode, solve.DefaultMeter())
		wantNear(t, fmt.Sprintf("%g over %g", test.upper, test.lower), r.Value().Number, test.want, exact)
		unloaded := respond(t, n, solve.Volts, 2, netlist.GroundNode, solve.Meter{})
		wantNear(t, "without the meter", unloaded.Value().Number, 12*test.lower/(test.upper+test.lower), exact)
	}
}

// A meter's own part in a reading of ohms: leads add, above the range is OL,
// and what is apart is OL whatever the range.
func TestMeter(t *testing.T) {
	c := floating(4, []edge{{0, 1, 39.9e6}, {1, 2, 0.2e6}})
	n := assemble(t, c, solve.Condition{})
	for _, test := range []struct {
		a, b  int
		meter solve.Meter
		want  solve.Value
	}{
		{0, 1, solve.DefaultMeter(), solve.Value{Number: 39.9e6}},
		{0, 2, solve.DefaultMeter(), solve.Over()},
		{0, 2, solve.Meter{}, solve.Value{Number: 40.1e6}}, // no range, no limit
		{1, 2, solve.Meter{RangeOhms: 0.2e6, LeadOhms: 0.3}, solve.Over()},
		{1, 2, solve.Meter{LeadOhms: 0.3}, solve.Value{Number: 0.2e6 + 0.3}},
		{1, 1, solve.Meter{LeadOhms: 0.3}, solve.Value{Number: 0.3}},
		{0, 3, solve.Meter{}, solve.Over()},
	} {
		got := respond(t, n, solve.Ohms, test.a+first, test.b+first, test.meter).Value()
		if got.OL != test.want.OL || !got.OL && !near(got.Number, test.want.Number, exact, 0) {
			t.Errorf("%d to %d with %+v: %v, want %v", test.a, test.b, test.meter, got, test.want)
		}
	}
}

// An ideal joint reads 0 Ω and nothing else, however it comes about.
func TestIdealJointsReadNothing(t *testing.T) {
	c := floating(4, []edge{{0, 1, 120}, {1, 2, 0}, {2, 3, 0.1}})
	for _, test := range []struct {
		name    string
		a, b    int
		changes []solve.Change
	}{
		{"joint", 1, 2, nil},
		{"bridge", 0, 3, []solve.Change{solve.Bridge{From: solve.AtNode(first), To: solve.AtNode(first + 3)}}},
		{"bridge to the end of a wire", 0, 3, []solve.Change{solve.Bridge{From: solve.AtNode(first), To: solve.OnWire(2, 1)}}},
		{"replaced", 0, 2, []solve.Change{solve.Replace{Element: 0}}},
	} {
		n := assemble(t, c, solve.Condition{}, test.changes...)
		if got := between(t, n, test.a, test.b); got != 0 {
			t.Errorf("%s: %v Ω", test.name, got)
		}
	}
	// Bridged ideally in the middle of the 120 Ω: half of it is left each way.
	n := assemble(t, c, solve.Condition{}, solve.Bridge{From: solve.OnWire(0, 0.5), To: solve.AtNode(first + 3)})
	wantNear(t, "to the middle", between(t, n, 0, 3), 60, exact)
	wantNear(t, "loop", between(t, n, 0, 2), 60+60*0.1/60.1, exact)
}

// bus is a plain high-speed bus: a trunk of splices, a module on a stub at each,
// a service connector on a stub at the first. Terminators sit on the splices at
// both ends.
type bus struct {
	modules     int
	kind        netlist.TransceiverKind // name none for modules without a transceiver
	terminators []float64               // ohms, from the first splice on; the second at the last
	wireOhms    float64
	contactOhms float64
}

func (b bus) harness() *netlist.Harness {
	h := &netlist.Harness{
		Name:       "bus",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X0", ContactOhms: b.contactOhms}},
	}
	if b.kind.Name != netlist.NoTransceiver {
		h.Transceivers = []netlist.TransceiverKind{b.kind}
	}
	pair := func(name, from, to string) {
		h.Pairs = append(h.Pairs, netlist.Pair{Name: name, From: []string{from}, To: []string{to}, Ohms: b.wireOhms})
	}
	for i := 1; i <= b.modules; i++ {
		s, x := fmt.Sprintf("S%d", i), fmt.Sprintf("X%d", i)
		h.Splices = append(h.Splices, netlist.Splice{Name: s})
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x, ContactOhms: b.contactOhms})
		h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("unit%d", i), Connectors: []string{x}, Transceiver: b.kind.Name})
		pair("stub"+x, s, x)
		if i > 1 {
			pair("trunk"+s, fmt.Sprintf("S%d", i-1), s)
		}
	}
	pair("service", "S1", "X0")
	for i, ohms := range b.terminators {
		at := "S1"
		if i == 1 {
			at = fmt.Sprintf("S%d", b.modules)
		}
		h.Terminators = append(h.Terminators, netlist.Terminator{Name: fmt.Sprintf("T%d", i+1), At: at, Ohms: ohms})
	}
	return h
}

func circuitOf(t testing.TB, h *netlist.Harness) *netlist.Circuit {
	t.Helper()
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func elementOf(t testing.TB, c *netlist.Circuit, name string) int {
	t.Helper()
	i, ok := c.Element(name)
	if !ok {
		t.Fatalf("no element %q", name)
	}
	return i
}

func readOhms(t testing.TB, c *netlist.Circuit, from, to string, changes ...solve.Change) solve.Value {
	t.Helper()
	n := assemble(t, c, solve.Condition{}, changes...)
	return respond(t, n, solve.Ohms, node(t, c, from), node(t, c, to), solve.DefaultMeter()).Value()
}

// What the trade goes by: 60 Ω good, 120 one end gone, 40 one terminator too
// many, near 0 a shorted pair, OL no terminator on this side. Common practice,
// no source; read with 0.1 Ω wires and 5 mΩ contacts, so to within 1 Ω.
func TestTradeRules(t *testing.T) {
	plain := bus{modules: 4, kind: netlist.TransceiverKind{Name: netlist.NoTransceiver}, terminators: []float64{120, 120}, wireOhms: 0.1, contactOhms: 0.005}
	c := circuitOf(t, plain.harness())
	t1, t2 := solve.Part{Element: elementOf(t, c, "terminator T1")}, solve.Part{Element: elementOf(t, c, "terminator T2")}
	cut := solve.Part{Element: elementOf(t, c, "pair trunkS3 H")}
	h, l := node(t, c, "X4.H"), node(t, c, "X4.L")
	for _, test := range []struct {
		name    string
		changes []solve.Change
		want    float64 // +Inf: OL
	}{
		{"good", nil, 60},
		{"first end gone", []solve.Change{t1}, 120},
		{"last end gone", []solve.Change{t2}, 120},
		{"trunk cut: only the near end is left", []solve.Change{cut}, 120},
		{"pair shorted", []solve.Change{solve.Bridge{From: solve.AtNode(h), To: solve.AtNode(l)}}, 0.8},
		{"no terminator", []solve.Change{t1, t2}, math.Inf(1)},
		{"no terminator on this side", []solve.Change{t1, cut}, math.Inf(1)},
	} {
		got := readOhms(t, c, "X0.H", "X0.L", test.changes...)
		if got.OL != math.IsInf(test.want, 1) || !got.OL && math.Abs(got.Number-test.want) > 1 {
			t.Errorf("%s: %v, want %v within 1 Ω", test.name, got, test.want)
		}
	}
	for count, want := range map[int]float64{1: 120, 2: 60, 3: 40, 4: 30} {
		more := plain
		more.terminators = []float64{120, 120, 120, 120}[:count]
		if got := readOhms(t, circuitOf(t, more.harness()), "X0.H", "X0.L"); got.OL || math.Abs(got.Number-want) > 1 {
			t.Errorf("%d terminators: %v, want %v within 1 Ω", count, got, want)
		}
	}
}

// Modules that an ohmmeter finds unpowered at 20 kΩ and more leave kilohms, not
// OL, when no terminator is on this side: common practice, no source.
func TestNoTerminatorWithOldModulesReadsKilohms(t *testing.T) {
	b := bus{modules: 4, kind: netlist.TransceiverKind{Name: "plain", UnpoweredMinOhms: 25e3, UnpoweredMaxOhms: 25e3, AwakeMinOhms: 25e3, AwakeMaxOhms: 25e3}, wireOhms: 0.1}
	// Four inputs of 25 kΩ from each conductor to ground: 2 · 25/4 kΩ.
	if got := readOhms(t, circuitOf(t, b.harness()), "X0.H", "X0.L"); got.OL || !near(got.Number, 12.5e3, 1e-4, 0) {
		t.Errorf("%v, want 12.5 kΩ", got)
	}
}

// ISO 11898-2: two terminators of 100 to 130 Ω each (quoted second-hand from the
// 2003 edition) make a bus of 50 to 65 Ω (data sheet SLLSF17B, test conditions after the
// 2016 edition). The wiring is made negligible: 1 µΩ each.
func TestISO11898TerminatorsMakeTheBusLoad(t *testing.T) {
	layer, ok := netlist.LayerByName("high-speed")
	if !ok {
		t.Fatal("no layer high-speed")
	}
	for _, test := range []struct{ one, two, want float64 }{
		{100, 100, 50}, {120, 120, 60}, {130, 130, 65}, {100, 130, 13000.0 / 230},
	} {
		b := bus{modules: 2, kind: netlist.TransceiverKind{Name: netlist.NoTransceiver}, terminators: []float64{test.one, test.two}, wireOhms: 1e-6, contactOhms: 1e-6}
		got := readOhms(t, circuitOf(t, b.harness()), "X0.H", "X0.L")
		if got.OL || math.Abs(got.Number-test.want) > 1e-5 {
			t.Errorf("%g and %g Ω: %v, want %v", test.one, test.two, got, test.want)
		}
		if got.Number < layer.LoadMinOhms-1e-5 || got.Number > layer.LoadMaxOhms+1e-5 {
			t.Errorf("%g and %g Ω: %v lies outside the layer's %g to %g Ω", test.one, test.two, got, layer.LoadMinOhms, layer.LoadMaxOhms)
		}
	}
}

// 60 Ω beside nodes of 30 kΩ each from conductor to conductor (TJA1051 data
// sheet, typical; 15 kΩ from either conductor to ground), the figures of the
// project's facts table: 30000·60/(30000 + 60 n).
func TestBusWithLiveInputs(t *testing.T) {
	kind := netlist.TransceiverKind{Name: "typical", UnpoweredMinOhms: 15e3, UnpoweredMaxOhms: 15e3, AwakeMinOhms: 15e3, AwakeMaxOhms: 15e3}
	for _, test := range []struct {
		modules int
		want    float64
	}{
		{5, 59.406}, {10, 58.824}, {20, 57.692}, {30, 56.604},
	} {
		b := bus{modules: test.modules, kind: kind, terminators: []float64{120, 120}, wireOhms: 1e-6, contactOhms: 1e-6}
		c := circuitOf(t, b.harness())
		if got := readOhms(t, c, "X0.H", "X0.L"); got.OL || math.Abs(got.Number-test.want) > 5.5e-4 {
			t.Errorf("%d modules: %v, want %v", test.modules, got, test.want)
		}
		// Each conductor to ground: half of the inputs each, n·15 kΩ beside
		// what comes back through the terminators: two equal halves in parallel
		// but for 60 Ω.
		n := float64(test.modules)
		half := 15e3 / n
		want := half * (half + 60) / (2*half + 60)
		if got := readOhms(t, c, "X0.H", "ground"); got.OL || !near(got.Number, want, 1e-6, 0) {
			t.Errorf("%d modules, H to ground: %v, want %v", test.modules, got, want)
		}
	}
	// MCP2551 data sheet: at most 112 nodes, with 20 kΩ from conductor to
	// conductor, before the bus falls below the driver's 45 Ω: the sender
	// itself and 111 more.
	kind.UnpoweredMinOhms, kind.UnpoweredMaxOhms = 10e3, 10e3
	for modules, above := range map[int]bool{111: true, 112: false} {
		b := bus{modules: modules, kind: kind, terminators: []float64{120, 120}, wireOhms: 1e-7, contactOhms: 1e-7}
		if got := readOhms(t, circuitOf(t, b.harness()), "X0.H", "X0.L"); got.Number >= 45 != above {
			t.Errorf("%d modules: %v, want at least 45 Ω: %v", modules, got, above)
		}
	}
}

// All modules awake and none sending: both conductors at the layer's 2.5 V, and
// nothing between them (data sheet SLLSF17B: 0.5 VCC).
func TestIdleBus(t *testing.T) {
	kind := netlist.TransceiverKind{Name: "typical", UnpoweredMinOhms: 15e3, UnpoweredMaxOhms: 15e3, AwakeMinOhms: 15e3, AwakeMaxOhms: 15e3}
	b := bus{modules: 5, kind: kind, terminators: []float64{120, 120}, wireOhms: 0.1, contactOhms: 0.005}
	c := circuitOf(t, b.harness())
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	h, l := node(t, c, "X0.H"), node(t, c, "X0.L")
	meter := solve.DefaultMeter()
	// The meter hangs on five 15 kΩ inputs on each side of 60 Ω.
	r := 3000.0 * 3060 / 6060
	if got := respond(t, n, solve.Volts, h, netlist.GroundNode, meter).Value().Number; !near(got, 2.5*meter.InputOhms/(meter.InputOhms+r), 1e-7, 0) {
		t.Errorf("H to ground %v V", got)
	}
	if got := respond(t, n, solve.Volts, h, l, meter).Value().Number; math.Abs(got) > 1e-12 {
		t.Errorf("H to L %v V", got)
	}
	if _, err := n.Respond(solve.Ohms, h, l, meter); err != solve.ErrSupplyOn {
		t.Errorf("ohms with the supply on: error %v", err)
	}
}

// The laws of circuits hold for every pair of points of a harness.
func TestBalanceOfEveryPair(t *testing.T) {
	c := bench(t)
	for _, cond := range []solve.Condition{{}, {Unplugged: []string{"X2"}}, {Unplugged: []string{"X4"}}, {Supply: solve.Idle}, {Supply: solve.Idle, Unplugged: []string{"X3", "X4"}}} {
		n := assemble(t, c, cond)
		q := solve.Ohms
		if cond.Supply == solve.Idle {
			q = solve.Volts
		}
		for a := range c.Nodes {
			for b := range c.Nodes {
				r, err := n.Respond(q, a, b, solve.DefaultMeter())
				if err != nil {
					t.Fatal(err)
				}
				solvetest.Check(t, r)
			}
		}
	}
}
