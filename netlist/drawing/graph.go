package drawing

import (
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/svg"
)

// nodeKind tells what sort of symbol a node of the graph becomes.
type nodeKind int

const (
	spliceNode nodeKind = iota
	halfNode            // a connector's harness half, or one half of an inline connector
	moduleNode
	terminatorNode // at a splice or on a connector; those inside a module are lines of its box
	strayNode
)

// node is one symbol.
type node struct {
	kind nodeKind
	// part is the name of the part of the harness, half that of the inline
	// half, or empty.
	part, half string
	// rails are those that the connector has a cavity for, or that a stray path
	// ends at.
	rails []string
	// inside are the terminators in a module's box.
	inside []*netlist.Terminator
	value  string // of a resistor, for people
	split  bool   // a terminator of two halves
	edges  []int
	// cluster is common to what is always drawn together: a module with its
	// connectors, both halves of an inline connector.
	cluster int
}

// name of a node as the harness file writes it.
func (n *node) name() string {
	if n.half == "" {
		return n.part
	}
	return n.part + "/" + n.half
}

// edgeKind tells how two symbols hang together.
type edgeKind int

const (
	wireEdge    edgeKind = iota // a pair or a wire
	contactEdge                 // the contacts of a mated connector: the symbols stand next to each other
	leadEdge                    // the lead of a terminator at a splice or of a stray path
)

type edge struct {
	kind edgeKind
	a, b int // nodes
	// part is the pair, wire, terminator or stray path.
	part, network string
	// conductors that the line stands for, as the layer names them.
	conductors []string
	pair       bool
	metres     float64
	text       string // label: name and length
}

func (e *edge) other(n int) int {
	if e.a == n {
		return e.b
	}
	return e.a
}

// graph is the harness as symbols and what joins them.
type graph struct {
	c     *netlist.Circuit
	nodes []node
	edges []edge
}

// newGraph makes a graph of a circuit. Its order is the harness's own.
func newGraph(c *netlist.Circuit) *graph {
	g := &graph{c: c}
	h := c.Harness
	// at maps an electrical node to the symbol where wires reach it.
	at := map[int]int{}
	site := map[string]int{}
	other := map[string]int{} // side b of inline connectors
	for i := range c.Sites {
		s := &c.Sites[i]
		n := node{kind: halfNode, part: s.Name}
		switch s.Kind {
		case netlist.SpliceSite:
			n.kind = spliceNode
		case netlist.InlineSite:
			n.half = "a"
		}
		for _, k := range s.Contacts {
			if k.Rail != "" {
				n.rails = append(n.rails, k.Rail)
			}
		}
		a := g.add(n)
		site[s.Name] = a
		b := a
		if s.Kind == netlist.InlineSite {
			n.half, n.rails = "b", nil
			b = g.add(n)
			other[s.Name] = b
			g.join(edge{kind: contactEdge, a: a, b: b, part: s.Name})
		}
		for _, k := range s.Contacts {
			at[k.Node] = a
			if k.Other >= 0 {
				at[k.Other] = b
			}
		}
	}
	module := map[string]int{}
	for _, m := range h.Modules {
		n := g.add(node{kind: moduleNode, part: m.Name})
		module[m.Name] = n
		for _, x := range m.Connectors {
			if s, ok := site[x]; ok {
				g.join(edge{kind: contactEdge, a: s, b: n, part: x})
			}
		}
	}
	for i := range h.Terminators {
		t := &h.Terminators[i]
		if m, ok := module[t.At]; ok {
			g.nodes[m].inside = append(g.nodes[m].inside, t)
			continue
		}
		s, ok := site[t.At]
		if !ok {
			continue
		}
		kind := contactEdge
		if g.nodes[s].kind == spliceNode {
			kind = leadEdge
		}
		n := g.add(node{kind: terminatorNode, part: t.Name, value: netlist.FormatOhms(t.Ohms), split: t.Split})
		g.join(edge{kind: kind, a: s, b: n, part: t.Name, network: t.Network})
	}
	g.addWires(at)
	for _, s := range h.Strays {
		g.addStray(s, at)
	}
	g.cluster()
	return g
}

// plugged tells whether something is plugged into a connector's half.
func (g *graph) plugged(n int) bool {
	return slices.ContainsFunc(g.nodes[n].edges, func(e int) bool { return g.edges[e].kind == contactEdge })
}

func (g *graph) add(n node) int {
	g.nodes = append(g.nodes, n)
	return len(g.nodes) - 1
}

func (g *graph) join(e edge) {
	i := len(g.edges)
	g.edges = append(g.edges, e)
	g.nodes[e.a].edges = append(g.nodes[e.a].edges, i)
	if e.b != e.a {
		g.nodes[e.b].edges = append(g.nodes[e.b].edges, i)
	}
}

// addWires joins symbols by pairs and wires, in the order of the circuit. A pair
// whose conductors end at different places is a line for each of those.
func (g *graph) addWires(at map[int]int) {
	pairs := map[string]bool{}
	for _, p := range g.c.Harness.Pairs {
		pairs[p.Name] = true
	}
	type key struct {
		part string
		a, b int
	}
	seen := map[key]int{}
	for i := range g.c.Elements {
		x := &g.c.Elements[i]
		if x.Kind != netlist.WireElement {
			continue
		}
		k := key{x.Part, at[x.A], at[x.B]}
		if e, ok := seen[k]; ok {
			g.edges[e].conductors = append(g.edges[e].conductors, x.Conductor.Name)
			continue
		}
		seen[k] = len(g.edges)
		g.join(edge{
			kind: wireEdge, a: k.a, b: k.b, part: x.Part, network: x.Conductor.Network,
			conductors: []string{x.Conductor.Name}, pair: pairs[x.Part], metres: x.LengthM,
		})
	}
	for i := range g.edges {
		e := &g.edges[i]
		if e.kind != wireEdge {
			continue
		}
		// A single conductor says which it is.
		if layer, ok := g.c.Harness.Layer(e.network); ok && len(e.conductors) < len(layer.Conductors) {
			e.text += " " + strings.Join(e.conductors, "")
		}
		if e.metres > 0 {
			e.text += " " + strconv.FormatFloat(e.metres, 'g', 4, 64) + " m"
		}
		e.text = svg.Shorten(e.part, textSize, false, mostName-svg.Width(e.text, textSize, false)) + e.text
	}
}

// addStray draws a stray path as a resistor with a lead to each of its ends; an
// end on a rail is part of the resistor's symbol.
func (g *graph) addStray(s netlist.Stray, at map[int]int) {
	n := node{kind: strayNode, part: s.Name, value: netlist.FormatOhms(s.Ohms)}
	var ends []int
	for _, end := range []string{s.From, s.To} {
		p, err := g.c.Point(end)
		switch {
		case err != nil:
		case p == netlist.GroundNode:
			n.rails = append(n.rails, netlist.GroundRail)
		case p == netlist.SupplyNode:
			n.rails = append(n.rails, netlist.SupplyRail)
		default:
			symbol, ok := at[p]
			if !ok {
				continue
			}
			if len(ends) == 0 || ends[0] != symbol {
				ends = append(ends, symbol)
			}
		}
	}
	n.value += "  " + s.From + "–" + s.To
	i := g.add(n)
	for _, e := range ends {
		g.join(edge{kind: leadEdge, a: e, b: i, part: s.Name})
	}
}

// cluster numbers what contacts hold together.
func (g *graph) cluster() {
	for i := range g.nodes {
		g.nodes[i].cluster = -1
	}
	for i := range g.nodes {
		if g.nodes[i].cluster >= 0 {
			continue
		}
		stack := []int{i}
		for len(stack) > 0 {
			n := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if g.nodes[n].cluster >= 0 {
				continue
			}
			g.nodes[n].cluster = i
			for _, e := range g.nodes[n].edges {
				if g.edges[e].kind == contactEdge {
					stack = append(stack, g.edges[e].other(n))
				}
			}
		}
	}
}

// terminates tells whether a terminator of a network sits at the node.
func (g *graph) terminates(n int, network string) bool {
	only := len(g.c.Harness.Networks) == 1
	of := func(t string) bool { return only || t == network || t == "" }
	x := &g.nodes[n]
	switch x.kind {
	case moduleNode:
		for _, t := range x.inside {
			if of(t.Network) {
				return true
			}
		}
	case terminatorNode:
		for _, e := range x.edges {
			if g.edges[e].kind == contactEdge && of(g.edges[e].network) {
				return true
			}
		}
	case spliceNode:
		for _, e := range x.edges {
			if k := g.edges[e]; k.kind == leadEdge && g.nodes[k.other(n)].kind == terminatorNode && of(k.network) {
				return true
			}
		}
	}
	return false
}
