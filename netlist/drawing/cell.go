package drawing

import (
	"slices"
)

// above is how far over a node of the trunk its lines stand, between two joints.
func (p *placer) above(n int, left, right joint) float64 {
	up := fromTrunk + p.clear(p.g.nodes[n].part)
	for _, j := range []joint{left, right} {
		if len(j.edges) > 1 && p.g.nodes[n].kind == spliceNode {
			up += parallels
			break
		}
	}
	return up
}

// highOnTrunk is half the height of a node's symbol on the trunk.
func (p *placer) highOnTrunk(n int) float64 {
	switch x := &p.g.nodes[n]; x.kind {
	case spliceNode:
		return 0
	case moduleNode:
		return p.high(n) / 2
	case halfNode:
		return boxHigh / 2
	case strayNode:
		if len(x.rails) > 0 {
			return strayHigh
		}
	}
	return signWide / 2
}

// linesOnTrunk are the lines that stand above a node on the trunk.
func (p *placer) linesOnTrunk(x *cell) []words {
	n := &p.g.nodes[x.node]
	switch {
	case n.kind == spliceNode && x.first, n.kind == terminatorNode, n.kind == strayNode:
		return p.ownLines(x.node)
	case n.kind == halfNode:
		return p.noteLines(n.name(), p.alsoNamed(n))
	}
	return nil
}

// cell lays out a node of the trunk at x0 or, where the joint before it can be
// longer, to the right of it; and its children on both sides. It gives the ports
// of the trunk on its left and right and where the node ends with its labels.
func (p *placer) cell(x *cell, x0 float64, fixed bool, left, right joint, sides *[2]float64) (a, b, end float64) {
	s := setting{p: p, x: x, n: &p.g.nodes[x.node], x0: x0, off: leftPad, lines: p.linesOnTrunk(x), high: p.highOnTrunk(x.node), sides: sides}
	if s.n.kind == spliceNode {
		s.off = 0
	}
	if !fixed && len(x.children)+len(x.links) > 0 {
		s.shift()
	}
	s.last, s.end = s.x0, s.x0
	s.hangChildren()
	s.leadLinks()
	b, end = s.draw(left, right)
	return s.x0, b, end
}

// setting is a node of the trunk while it is laid out.
type setting struct {
	p     *placer
	x     *cell
	n     *node
	x0    float64 // its left edge
	off   float64 // from there to its first wire
	lines []words // that stand above it
	high  float64 // half the height of its symbol
	sides *[2]float64

	last       float64   // the rightmost wire that leaves
	end        float64   // where it ends, as far as that is known
	dots, over []float64 // where wires leave; those above
}

// axis is where on a side the next wire can leave.
func (s *setting) axis(side int) float64 {
	return max(s.x0+s.off, s.sides[side]+between+leftPad)
}

// better is the side with room further to the left.
func (s *setting) better() int {
	if s.axis(above) < s.axis(below)-0.5 {
		return above
	}
	return below
}

// shift moves the node to the right: the first child is to hang straight off it, and
// the first on the other side too where that takes little.
func (s *setting) shift() {
	side := s.p.firstSide(s.x, s.better())
	free := func(side int) float64 { return max(s.x0, s.sides[side]+between+leftPad-s.off) }
	at := free(side)
	if other := free(1 - side); len(s.x.children)+len(s.x.links) > 1 && other > at && other < at+2*leftPad {
		at = other
	}
	s.x0 = at
	if len(s.x.children) == 0 {
		s.x0 = s.p.onLattice(s.x0+s.off) - s.off
	}
}

// leaves notes wires that leave on a side.
func (s *setting) leaves(side int, axes ...float64) {
	s.last = max(s.last, slices.Max(axes))
	s.dots = append(s.dots, axes...)
	if side == above {
		s.over = append(s.over, axes...)
	}
}

// hangChildren lays out the trees that hang off the node.
func (s *setting) hangChildren() {
	p := s.p
	for _, k := range s.x.children {
		docked := p.g.edges[k.edges[0]].kind == contactEdge
		side := p.firstSide(&cell{children: []child{k}}, s.better())
		if len(s.lines) > 0 && docked {
			side = below // above stand the lines
		}
		g := p.stub(k, s.x.node, p.column(k, s.axis(side)), s.high, s.high, side)
		s.sides[side] = g.right
		s.leaves(side, g.axes...)
		if docked {
			s.end = max(s.end, g.near)
		}
	}
}

// leadLinks has wires to other rows leave.
func (s *setting) leadLinks() {
	p := s.p
	for _, e := range s.x.links {
		side := below
		if p.order[p.g.edges[e].other(s.x.node)] < p.order[s.x.node] {
			side = above
		}
		at := p.onLattice(s.axis(side))
		s.sides[side] = p.leave(e, s.x.node, at, s.high, s.high, side)
		s.leaves(side, at)
	}
}

// draw draws the node itself and its lines. It gives its port on the right and where it
// ends.
func (s *setting) draw(left, right joint) (b, end float64) {
	p, n, x, a := s.p, s.n, s.x, s.x0
	linesWide := widest(s.lines)
	// stack sets the lines over what is so high.
	stack := func(at, high float64) {
		p.stack(s.lines, nodeOwner(x.node), at, -high-p.above(x.node, left, right)-float64(len(s.lines))*lineHigh, false)
	}
	switch n.kind {
	case spliceNode:
		linesAt := beside(s.over, a+fromWire, linesWide)
		s.bar(left, right)
		stack(linesAt, 0)
		return s.last, max(s.end, s.last, linesAt+linesWide)
	case halfNode, moduleNode:
		// The box spans what stands above it and what is docked to it, so that its
		// neighbour on the trunk is docked to it as well.
		linesAt := beside(s.over, a, linesWide)
		b = max(s.end, a+p.wide(x.node), s.last+leftPad, linesAt+linesWide)
		p.box(x.node, a, -s.high, b, s.high, false)
		stack(linesAt, s.high)
		return b, b
	}
	// Terminators and stray paths.
	b = a + signWide
	end = max(b, a+linesWide)
	toward := -1
	if !left.leads() && right.leads() {
		// Plugged into what is on its right.
		b, toward = end, 1
	}
	p.resistor(x.node, a, b, toward)
	stack(a, s.high)
	return max(b, s.last), max(end, b, s.last)
}

// bar draws a splice: a line as long as its wires are apart, and upright ones where several
// wires come in side by side.
func (s *setting) bar(left, right joint) {
	p, a, b := s.p, s.x0, s.last
	dots := s.dots
	if len(dots) == 0 {
		dots = []float64{a}
	}
	p.mark(mark{what: barMark, part: s.n.part, node: s.x.node, x0: a, x1: b, dots: dots})
	for i, j := range []joint{left, right} {
		if len(j.edges) > 1 {
			at := []float64{a, b}[i]
			p.mark(mark{what: barMark, part: s.n.part, node: s.x.node, x0: at, x1: at, v0: -parallels, v1: parallels})
		}
	}
}

// beside finds the first place from x on where lines of text stand between wires
// that run across.
func beside(axes []float64, x, wide float64) float64 {
	axes = slices.Sorted(slices.Values(axes))
	for _, at := range axes {
		if wide > 0 && at > x-fromWire+0.5 && at < x+wide+fromWire {
			x = at + fromWire
		}
	}
	return x
}

// firstSide is the side on which the first child of a cell goes.
func (p *placer) firstSide(x *cell, otherwise int) int {
	var lean int
	switch {
	case len(x.children) > 0:
		lean = p.lean(x.children[0].node)
	case p.order[p.g.edges[x.links[0]].other(x.node)] < p.order[x.node]:
		lean = -1
	default:
		lean = 1
	}
	switch {
	case lean > 0:
		return below
	case lean < 0:
		return above
	}
	return otherwise
}

// lean tells on which side of the trunk a tree has its wires to other rows: below
// where it is positive, above where it is negative.
func (p *placer) lean(n int) int {
	sum := 0
	for _, e := range p.links[n] {
		if p.order[p.g.edges[e].other(n)] < p.order[n] {
			sum--
		} else {
			sum++
		}
	}
	for _, k := range p.kids[n] {
		sum += p.lean(k.node)
	}
	return sum
}

// resistor draws a terminator or stray path that is a node of the trunk.
func (p *placer) resistor(n int, a, b float64, toward int) {
	x := &p.g.nodes[n]
	if x.kind == strayNode && len(x.rails) > 0 {
		p.mark(mark{what: resistorMark, part: x.part, node: n, x0: a, x1: a + resistorH, v0: 0, v1: resistorW})
		for i, r := range x.rails {
			if i == 0 {
				p.mark(mark{what: railMark, part: x.part, node: n, rail: r, x0: a + resistorH/2 - railWide/2, x1: a + resistorH/2 + railWide/2, v0: resistorW, v1: resistorW + railHigh})
			} else {
				p.mark(mark{what: railMark, part: x.part, node: n, rail: r, x0: a + resistorH/2 - railWide/2, x1: a + resistorH/2 + railWide/2, v0: 0, v1: railHigh, up: true})
			}
		}
		return
	}
	if toward > 0 {
		a = b - signHigh
	} else {
		b = a + signHigh
	}
	p.mark(mark{what: signMark, part: x.part, node: n, x0: a, x1: b, v0: -signWide / 2, v1: signWide / 2, toward: toward, turned: true, split: x.split})
}
