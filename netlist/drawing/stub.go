package drawing

import (
	"math"
	"slices"
)

// grown is what a tree takes: its right end, that of its first symbol, and where
// its wires leave the node that it hangs off.
type grown struct {
	right, near float64
	axes        []float64
}

// stub lays out a child that hangs off a node: the wire at axis, from v0 away from
// the trunk, everything that belongs to it to the right of that; labels only from
// free on.
func (p *placer) stub(k child, parent int, axis, v0, free float64, s int) grown {
	n := &p.g.nodes[k.node]
	up := s == above
	first := &p.g.edges[k.edges[0]]
	docked := first.kind == contactEdge
	right, last, v := axis+leftPad, axis, v0
	axes := []float64{axis}
	switch first.kind {
	case contactEdge:
		toward := 1
		if first.b == parent {
			toward = -1
		}
		p.mark(mark{what: contactMark, part: first.part, node: first.a, x0: axis, x1: axis, v0: v, v1: v + contact, toward: toward, up: up})
		v += contact
	case leadEdge:
		v = max(free, p.band[s]) + 2*fromWire
		p.scene.runs = append(p.scene.runs, run{k.edges[0], spot{p.row, up, axis, v0}, spot{p.row, up, axis, v}, parent, k.node})
	case wireEdge:
		v = max(free, p.band[s]) + fromTrunk + p.clear(p.g.nodes[parent].part)
		high, beside := 0.0, fromWire
		for i, e := range k.edges {
			if i > 0 {
				last = right + between
				axes = append(axes, last)
			}
			lines := p.wireLines(e)
			beside = fromWire + p.clear(p.g.edges[e].part)
			high = max(high, p.stack(lines, edgeOwner(e), last+beside, v, up))
			right = max(right, last+beside+widest(lines))
		}
		v += high
		var near []words
		switch n.kind {
		case spliceNode:
			near = p.ownLines(k.node)
		case halfNode:
			near = p.noteLines(n.name(), p.alsoNamed(n))
		}
		v += p.stack(near, nodeOwner(k.node), last+beside, v, up) + fromTrunk + p.clear(n.part)
		right = max(right, last+beside+widest(near))
		for i, e := range k.edges {
			p.scene.runs = append(p.scene.runs, run{e, spot{p.row, up, axes[i], v0}, spot{p.row, up, axes[i], v}, parent, k.node})
		}
	}
	dots := slices.Clone(axes)
	// The symbol, and from where its children hang.
	near := axis + leftPad
	boxEnd, far := v, v // where wires leave it, and from where on labels may stand
	switch n.kind {
	case halfNode:
		boxEnd += boxHigh
		far = boxEnd
		if docked {
			far += float64(len(p.noteLines(n.name(), p.alsoNamed(n)))) * lineHigh
		}
	case moduleNode:
		boxEnd += p.high(k.node)
		far = boxEnd
	case terminatorNode, strayNode:
		lines := p.ownLines(k.node)
		x := axis + signWide/2 + fromWire
		p.stack(lines, nodeOwner(k.node), x, v, up)
		near = x + widest(lines)
		right = max(right, near)
		boxEnd = v + p.hanging(k.node, axis, v, up)
		far = max(boxEnd, v+float64(len(lines))*lineHigh)
	}
	next := axis
	for _, c := range p.kids[k.node] {
		next = p.column(c, next)
		g := p.stub(c, k.node, next, boxEnd, far, s)
		last = max(last, slices.Max(g.axes))
		dots = append(dots, g.axes...)
		if p.g.edges[c.edges[0]].kind == contactEdge {
			near = max(near, g.near)
		}
		right = max(right, g.right)
		next = g.right + between + leftPad
	}
	for _, e := range p.links[k.node] {
		at := p.onLattice(next)
		end := p.leave(e, k.node, at, boxEnd, far, s)
		last = max(last, at)
		dots = append(dots, at)
		right = max(right, end)
		next = end + between + leftPad
	}
	if n.kind == halfNode && docked {
		// Beside all wires that leave it.
		lines := p.noteLines(n.name(), p.alsoNamed(n))
		p.stack(lines, nodeOwner(k.node), last+fromWire, boxEnd, up)
		near = max(near, last+fromWire+widest(lines))
	}
	switch n.kind {
	case spliceNode:
		p.mark(mark{what: barMark, part: n.part, node: k.node, x0: axis, x1: last, v0: v, v1: v, up: up, dots: dots})
		near = max(near, last)
	case halfNode, moduleNode:
		x1 := max(axis-leftPad+p.wide(k.node), last+leftPad)
		p.box(k.node, axis-leftPad, v, x1, boxEnd, up)
		near = max(near, x1)
	}
	return grown{max(right, near), near, axes}
}

// hanging draws a terminator or stray path that hangs off a node, and gives its
// height.
func (p *placer) hanging(n int, axis, v float64, up bool) float64 {
	x := &p.g.nodes[n]
	if x.kind == terminatorNode || len(x.rails) == 0 && len(x.edges) < 2 {
		p.mark(mark{what: signMark, part: x.part, node: n, x0: axis - signWide/2, x1: axis + signWide/2, v0: v, v1: v + signHigh, up: up, toward: -1, split: x.split})
		return signHigh
	}
	p.mark(mark{what: resistorMark, part: x.part, node: n, x0: axis - resistorH/2, x1: axis + resistorH/2, v0: v, v1: v + resistorW, up: up})
	if len(x.rails) == 0 {
		return resistorW
	}
	p.mark(mark{what: railMark, part: x.part, node: n, rail: x.rails[0], x0: axis - railWide/2, x1: axis + railWide/2, v0: v + resistorW, v1: v + resistorW + railHigh, up: up})
	return resistorW + railHigh
}

// leave begins a wire that leaves the row, and gives the right end of its label.
func (p *placer) leave(e, n int, axis, v0, free float64, s int) float64 {
	x := &p.g.edges[e]
	up := s == above
	lines := p.wireLines(e)
	lines = append(lines, words{text: "to " + p.g.nodes[x.other(n)].name(), size: textSize, class: "to"})
	beside := fromWire + p.clear(x.part)
	p.stack(lines, edgeOwner(e), axis+beside, max(free, p.band[s])+fromTrunk+p.clear(p.g.nodes[n].part), up)
	p.scene.ends = append(p.scene.ends, end{e, n, spot{p.row, up, axis, v0}})
	return max(axis+leftPad, axis+beside+widest(lines))
}

// onLattice moves an axis right to where ends of wires that leave the row stand.
func (p *placer) onLattice(x float64) float64 {
	shift := float64(p.row%2) * lattice / 2
	return math.Ceil((x-shift)/lattice-1e-9)*lattice + shift
}

// column moves a child to where the wire can leave that goes on straight behind it:
// a stray path between two places.
func (p *placer) column(k child, at float64) float64 {
	if p.g.nodes[k.node].kind == strayNode && len(p.links[k.node]) > 0 {
		return p.onLattice(at)
	}
	return at
}
