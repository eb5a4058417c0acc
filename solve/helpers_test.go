package solve_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

// edge is a resistor between two nodes; 0 Ω is an ideal joint.
type edge struct {
	a, b int
	ohms float64
}

// first is the first node of a raw circuit that is no rail.
const first = 2

// raw builds a circuit from resistors alone, element i from edge i. Nodes 0 and
// 1 are ground and supply; they are there even when no edge uses them.
func raw(nodes int, edges []edge) *netlist.Circuit {
	c := &netlist.Circuit{Nodes: make([]netlist.Node, max(nodes, first))}
	for i := range c.Nodes {
		c.Nodes[i].Name = fmt.Sprintf("n%d", i)
	}
	for i, e := range edges {
		kind := netlist.WireElement
		if e.ohms == 0 {
			kind = netlist.Joint
		}
		law := netlist.Law{Value: netlist.Spread{Mid: e.ohms}}
		c.Elements = append(c.Elements, netlist.Element{
			Name: fmt.Sprintf("e%d", i), Kind: kind, A: e.a, B: e.b, Off: law, Awake: law,
		})
	}
	return c
}

// floating builds a circuit of which node i is number i of the caller, so that
// neither rail is part of it.
func floating(nodes int, edges []edge) *netlist.Circuit {
	moved := make([]edge, len(edges))
	for i, e := range edges {
		moved[i] = edge{e.a + first, e.b + first, e.ohms}
	}
	return raw(nodes+first, moved)
}

// fataler is what the helpers need of a *testing.T or a *rapid.T.
type fataler interface {
	solvetest.TB
	Fatalf(format string, args ...any)
}

func assemble(t fataler, c *netlist.Circuit, cond solve.Condition, changes ...solve.Change) *solve.Net {
	t.Helper()
	n, err := solve.Assemble(c, cond, nil, changes...)
	if err != nil {
		t.Fatalf("Assemble: %v", err)
	}
	return n
}

// respond takes a reading and holds it against the laws of circuits.
func respond(t fataler, n *solve.Net, q solve.Quantity, a, b int, meter solve.Meter) *solve.Response {
	t.Helper()
	r, err := n.Respond(q, a, b, meter)
	if err != nil {
		t.Fatalf("Respond: %v", err)
	}
	solvetest.Check(t, r)
	return r
}

// ohmsOf gives the resistance between two nodes without any meter; +Inf where
// they are apart.
func ohmsOf(t fataler, n *solve.Net, a, b int) float64 {
	t.Helper()
	ohms, ok := respond(t, n, solve.Ohms, a, b, solve.Meter{}).Ohms()
	if !ok {
		return math.Inf(1)
	}
	return ohms
}

// between is ohmsOf of two nodes of a floating circuit.
func between(t fataler, n *solve.Net, a, b int) float64 {
	t.Helper()
	return ohmsOf(t, n, a+first, b+first)
}

// near holds a value against another within a share of the greater, and within
// floor.
func near(got, want, relative, floor float64) bool {
	if got == want {
		return true // infinities too
	}
	return math.Abs(got-want) <= relative*math.Max(math.Abs(got), math.Abs(want))+floor
}

func wantNear(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !near(got, want, relative, 0) {
		t.Errorf("%s: %.15g, want %.15g (within %.0e)", what, got, want, relative)
	}
}
