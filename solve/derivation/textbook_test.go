package derivation_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// edge is a resistance between two nodes.
type edge struct {
	a, b int
	ohms float64
}

// raw builds a circuit of resistances alone. Nodes 0 and 1 are the rails.
func raw(nodes int, edges ...edge) *netlist.Circuit {
	c := &netlist.Circuit{Harness: &netlist.Harness{}, Nodes: make([]netlist.Node, max(nodes, 2))}
	for i := range c.Nodes {
		c.Nodes[i].Name = fmt.Sprintf("n%d", i)
	}
	c.Nodes[0].Name, c.Nodes[1].Name = "ground", "supply"
	for i, e := range edges {
		law := netlist.Law{Value: netlist.Spread{Mid: e.ohms}}
		c.Elements = append(c.Elements, netlist.Element{
			Name: fmt.Sprintf("e%d", i), Kind: netlist.TerminatorElement, Part: fmt.Sprintf("p%d", i), A: e.a, B: e.b, Off: law, Awake: law,
		})
	}
	return c
}

func between(t *testing.T, c *netlist.Circuit, a, b int) *derivation.Derivation {
	t.Helper()
	return explain(t, c, derivation.Question{From: a, To: b})
}

func operations(d *derivation.Derivation) map[derivation.Operation]int {
	out := map[derivation.Operation]int{}
	for _, s := range d.Steps {
		out[s.Operation]++
	}
	return out
}

// Two 120 Ω in parallel are 60 Ω: ISO 11898-2's bus of two terminators.
func TestTwoTerminators(t *testing.T) {
	d := between(t, raw(4, edge{2, 3, 120}, edge{2, 3, 120}), 2, 3)
	if d.Ohms != 60 || len(d.Steps) != 1 || d.Steps[0].Operation != derivation.Parallel {
		t.Errorf("%v Ω by %v", d.Ohms, d.Steps)
	}
	if want := "60.00 Ω because two terminators of 120 Ω lie in parallel (p0 and p1)"; len(d.Terms) != 1 || !strings.Contains(d.Answer(), want) {
		t.Errorf("%q, want %q", d.Answer(), want)
	}
}

// Star and triangle: a star of 5, 7.5 and 3 Ω is a triangle of 25, 10 and 15 Ω.
// Alexander and Sadiku, Fundamentals of Electric Circuits, example 2.14 (from memory);
// 5 = 25·10/50, 7.5 = 25·15/50, 3 = 10·15/50.
func TestStarAndTriangle(t *testing.T) {
	// The star's ends are held apart by a net that leaves only the star to take out.
	c := raw(7, edge{3, 2, 5}, edge{4, 2, 7.5}, edge{5, 2, 3}, edge{3, 4, 1000}, edge{4, 5, 1000}, edge{5, 3, 1000}, edge{5, 6, 1}, edge{6, 3, 1}, edge{6, 4, 2})
	d := between(t, c, 3, 4)
	found := false
	for _, s := range d.Steps {
		if s.Operation != derivation.Mesh || s.At != "n2" {
			continue
		}
		found = true
		want := map[string]float64{"n3 n4": 25, "n3 n5": 10, "n4 n5": 15}
		for _, i := range s.Outputs {
			r := d.Resistances[i]
			if math.Abs(r.Ohms-want[r.A+" "+r.B]) > 1e-12 {
				t.Errorf("%s to %s: %v Ω", r.A, r.B, r.Ohms)
			}
		}
	}
	if !found {
		t.Fatalf("no star was taken out: %v", d.Steps)
	}
}

// A bridge that series and parallel do not do: 10, 20 and 5 Ω from the middle to a, b
// and c, 30 Ω from a to b, 12.5 Ω from a to c, 15 Ω from c to b make 9.632 Ω from a to
// b. Alexander and Sadiku, example 2.15 (from memory); by hand, the star's triangle is
// 70, 17.5 and 35 Ω, so (12.5 ∥ 17.5 + 15 ∥ 35) ∥ 30 ∥ 70 = 17.7917 ∥ 21.
func TestUnbalancedBridge(t *testing.T) {
	d := between(t, raw(6, edge{2, 5, 10}, edge{3, 5, 20}, edge{4, 5, 5}, edge{2, 3, 30}, edge{2, 4, 12.5}, edge{4, 3, 15}), 2, 3)
	left := 12.5*17.5/30 + 15*35/50.0
	if want := left * 21 / (left + 21); math.Abs(d.Ohms-want) > 1e-12 || math.Abs(d.Ohms-9.632) > 5e-4 {
		t.Errorf("%v Ω, want %v", d.Ohms, want)
	}
	if operations(d)[derivation.Mesh] != 1 {
		t.Errorf("%v, want one star", operations(d))
	}
}

// A balanced Wheatstone bridge does not mind what its detector has: 10, 20 against 30,
// 60 (10·60 = 20·30), so 30 ∥ 90 = 22.5 Ω, and the detector has no share.
func TestBalancedBridge(t *testing.T) {
	for _, detector := range []float64{0.01, 7, 1e6} {
		d := between(t, raw(6, edge{2, 4, 10}, edge{4, 3, 20}, edge{2, 5, 30}, edge{5, 3, 60}, edge{4, 5, detector}), 2, 3)
		if math.Abs(d.Ohms-22.5) > 1e-9 {
			t.Errorf("detector %v: %v Ω", detector, d.Ohms)
		}
		for _, w := range d.Weights {
			if w.Element == "e4" && math.Abs(w.PerPercent) > 1e-9 {
				t.Errorf("detector %v: moves the reading by %v", detector, w.PerPercent)
			}
		}
	}
}

// A cube of twelve alike: 5/6 along its diagonal, 3/4 across a face, 7/12 along an edge
// of one of them (a classic, from memory).
func TestCube(t *testing.T) {
	var edges []edge
	for a := range 8 {
		for bit := 1; bit < 8; bit <<= 1 {
			if a&bit == 0 {
				edges = append(edges, edge{a + 2, a + bit + 2, 12})
			}
		}
	}
	c := raw(10, edges...)
	for _, x := range []struct {
		to   int
		want float64
	}{{7, 10}, {3, 9}, {1, 7}} {
		if d := between(t, c, 2, x.to+2); math.Abs(d.Ohms-x.want) > 1e-12 {
			t.Errorf("corner 0 to %d: %v Ω, want %v", x.to, d.Ohms, x.want)
		}
	}
}

// A ladder of alike resistances, n along and n across, is a ratio of Fibonacci numbers,
// F(2n+1)/F(2n) of one (a classic, from memory).
func TestLadderIsFibonacci(t *testing.T) {
	var edges []edge
	f := []float64{0, 1}
	for n := 1; n <= 9; n++ {
		edges = nil
		for k := range n {
			edges = append(edges, edge{k + 3, k + 4, 1}, edge{k + 4, 2, 1})
		}
		for len(f) < 2*n+2 {
			f = append(f, f[len(f)-1]+f[len(f)-2])
		}
		d := between(t, raw(n+4, edges...), 3, 2)
		if want := f[2*n+1] / f[2*n]; math.Abs(d.Ohms-want) > 1e-12 {
			t.Errorf("%d rungs: %v Ω, want %v", n, d.Ohms, want)
		}
		if operations(d)[derivation.Mesh] != 0 {
			t.Errorf("%d rungs: a ladder needs no star", n)
		}
	}
}

// A bus of two terminators and nine transceivers along 2 × 10 pieces of wire, seen from
// one end: the continued fraction, worked out here by hand, comes by folding alone.
func TestLadderOfTransceivers(t *testing.T) {
	const wire, input, end = 0.05, 30e3, 120.0
	c := raw(2)
	node := func() int {
		c.Nodes = append(c.Nodes, netlist.Node{Name: fmt.Sprintf("n%d", len(c.Nodes))})
		return len(c.Nodes) - 1
	}
	add := func(kind netlist.ElementKind, part string, a, b int, ohms float64) {
		law := netlist.Law{Value: netlist.Spread{Mid: ohms}}
		c.Elements = append(c.Elements, netlist.Element{Name: fmt.Sprintf("%s %d", part, len(c.Elements)), Kind: kind, Part: part, A: a, B: b, Off: law, Awake: law})
	}
	h, l := node(), node()
	first := [2]int{h, l}
	add(netlist.TerminatorElement, "T1", h, l, end)
	for k := 0; ; k++ {
		nextH, nextL := node(), node()
		add(netlist.WireElement, fmt.Sprintf("P%d", k), h, nextH, wire)
		add(netlist.WireElement, fmt.Sprintf("P%d", k), l, nextL, wire)
		h, l = nextH, nextL
		if k == 9 {
			break
		}
		add(netlist.InputElement, fmt.Sprintf("m%d", k), h, netlist.GroundNode, input)
		add(netlist.InputElement, fmt.Sprintf("m%d", k), l, netlist.GroundNode, input)
	}
	add(netlist.TerminatorElement, "T2", h, l, end)
	both := netlist.Conductor{Network: "bus"}
	c.Sites = []netlist.Site{{Name: "X1", Contacts: []netlist.SiteContact{
		{Conductor: both, Node: first[0], Other: -1, Element: -1}, {Conductor: both, Node: first[1], Other: -1, Element: -1},
	}}}
	want := end + 2*wire
	for range 9 {
		want = 1/(1/want+1/(2*input)) + 2*wire
	}
	want = 1 / (1/want + 1/end)
	d := between(t, c, first[0], first[1])
	if math.Abs(d.Ohms-want) > 1e-10 {
		t.Errorf("%v Ω, by hand %v", d.Ohms, want)
	}
	if o := operations(d); o[derivation.Fold] != 1 || o[derivation.Mesh] != 0 {
		t.Errorf("%v, want one fold and no star", o)
	}
	// As far as a person would go: half of 120 Ω, less R²/60 kΩ for each module (about
	// what 60 kΩ beside 60 Ω takes off), plus a quarter of the wire's ohm or so.
	terms := map[derivation.Group]float64{}
	for _, x := range d.Terms {
		terms[x.Group] = x.Value
	}
	if math.Abs(terms[derivation.Terminators]-60) > 1e-12 || math.Abs(terms[derivation.Transceivers]+9*60*60/60e3) > 0.01 || math.Abs(terms[derivation.Wires]-0.25) > 0.02 {
		t.Errorf("terms %v", terms)
	}
	// To ground it comes by tying and folding.
	if o := operations(between(t, c, first[0], netlist.GroundNode)); o[derivation.Tie] != 1 || o[derivation.Quarter] != 1 || o[derivation.Mesh] != 0 {
		t.Errorf("to ground: %v, want one tie, no star", o)
	}
}

// Millman: 12 V behind 2 Ω, 6 V behind 3 Ω and nothing behind 6 Ω to ground make
// (12/2 + 6/3) / (1/2 + 1/3 + 1/6) = 8 V behind 1 Ω.
func TestMillman(t *testing.T) {
	c := raw(3, edge{2, 0, 2}, edge{2, 0, 3}, edge{2, 0, 6})
	for i, v := range []float64{12, 6, 0} {
		c.Elements[i].Kind = netlist.InputElement
		c.Elements[i].Awake.Volts.Mid = v
	}
	d := explain(t, c, derivation.Question{Quantity: solve.Volts, Condition: solve.Condition{Supply: solve.Idle}, From: 2, To: 0, Meter: solve.Meter{InputOhms: 7}})
	if math.Abs(d.Volts-8) > 1e-12 || math.Abs(d.Ohms-1) > 1e-12 || math.Abs(d.Value.Number-7) > 1e-12 {
		t.Errorf("%v V behind %v Ω, shown %v", d.Volts, d.Ohms, d.Value)
	}
	if len(d.Sources) != 2 || math.Abs(d.Sources[0].Gives-6) > 1e-12 || math.Abs(d.Sources[1].Gives-2) > 1e-12 {
		t.Errorf("sources %v, want 6 V of 12 and 2 V of 6", d.Sources)
	}
}
