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
	n := &p.g.nodes[x.node]
	off := leftPad
	if n.kind == spliceNode {
		off = 0
	}
	lines := p.linesOnTrunk(x)
	high := p.highOnTrunk(x.node)
	wide := p.wide(x.node)
	linesWide := widest(lines)
	axis := func(s int) float64 { return max(x0+off, sides[s]+between+leftPad) }
	better := func() int {
		if axis(above) < axis(below)-0.5 {
			return above
		}
		return below
	}
	if !fixed && len(x.children)+len(x.links) > 0 {
		// The first child is to hang straight off the node, and the first on the
		// other side too where that takes little.
		s := p.firstSide(x, better())
		free := func(s int) float64 { return max(x0, sides[s]+between+leftPad-off) }
		at := free(s)
		if other := free(1 - s); len(x.children)+len(x.links) > 1 && other > at && other < at+2*leftPad {
			at = other
		}
		x0 = at
		if len(x.children) == 0 {
			x0 = p.onLattice(x0+off) - off
		}
	}
	last := x0
	var dots, over []float64 // where wires leave; those above
	end = x0
	for _, k := range x.children {
		s := p.firstSide(&cell{children: []child{k}}, better())
		if len(lines) > 0 && p.g.edges[k.edges[0]].kind == contactEdge {
			s = below // above stand the lines
		}
		at := p.column(k, axis(s))
		g := p.stub(k, x.node, at, high, high, s)
		sides[s] = g.right
		last = max(last, slices.Max(g.axes))
		dots = append(dots, g.axes...)
		if s == above {
			over = append(over, g.axes...)
		}
		if p.g.edges[k.edges[0]].kind == contactEdge {
			end = max(end, g.near)
		}
	}
	for _, e := range x.links {
		s := below
		if p.order[p.g.edges[e].other(x.node)] < p.order[x.node] {
			s = above
		}
		at := p.onLattice(axis(s))
		sides[s] = p.leave(e, x.node, at, high, high, s)
		last = max(last, at)
		dots = append(dots, at)
		if s == above {
			over = append(over, at)
		}
	}
	a = x0
	linesAt := a
	if n.kind == spliceNode {
		linesAt += fromWire
	}
	linesAt = beside(over, linesAt, linesWide)
	switch n.kind {
	case spliceNode:
		b = last
		if len(dots) == 0 {
			dots = []float64{a}
		}
		p.mark(mark{what: barMark, part: n.part, node: x.node, x0: a, x1: b, dots: dots})
		for i, j := range []joint{left, right} {
			if len(j.edges) > 1 {
				at := []float64{a, b}[i]
				p.mark(mark{what: barMark, part: n.part, node: x.node, x0: at, x1: at, v0: -parallels, v1: parallels})
			}
		}
		p.stack(lines, nodeOwner(x.node), linesAt, -p.above(x.node, left, right)-float64(len(lines))*lineHigh, false)
		end = max(end, b, linesAt+linesWide)
	case halfNode, moduleNode:
		// The box spans what stands above it and what is docked to it, so that its
		// neighbour on the trunk is docked to it as well.
		b = max(end, x0+wide, last+leftPad, linesAt+linesWide)
		end = b
		p.box(x.node, a, -high, b, high, false)
		p.stack(lines, nodeOwner(x.node), linesAt, -high-p.above(x.node, left, right)-float64(len(lines))*lineHigh, false)
	default: // terminators and stray paths
		b = a + signWide
		end = max(b, a+linesWide)
		toward := -1
		if !left.leads() && right.leads() {
			// Plugged into what is on its right.
			b, toward = end, 1
		}
		p.resistor(x.node, a, b, toward)
		p.stack(lines, nodeOwner(x.node), a, -high-p.above(x.node, left, right)-float64(len(lines))*lineHigh, false)
		b, end = max(b, last), max(end, b, last)
	}
	return a, b, end
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
