package drawing

import (
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/svg"
)

// The sides of a trunk.
const (
	below = iota
	above
)

// placer lays components out in rows, no wider than a width where that can be.
type placer struct {
	g     *graph
	notes map[string][]Note
	width float64
	links map[int][]int // node: edges that leave it for the router
	// order is the strip that each node is in, to send links the right way.
	order map[int]int
	// kids are the children of every node.
	kids  map[int][]child
	scene scene
	// Of the row at work: its number, and what is kept free along the trunk below
	// and above it.
	row  int
	band [2]float64
}

// cell is a node of the trunk with the children that it carries here. A splice
// with many is several cells, joined by its bar.
type cell struct {
	node     int
	children []child
	links    []int
	first    bool // carries the label
	joint    joint
}

// joint is how a cell hangs together with the one before it on the trunk.
type joint struct {
	edges []int // wires or a contact; none for a bar, and where a trunk begins
	bar   bool
}

func (p *placer) docked(j joint) bool {
	return len(j.edges) > 0 && p.g.edges[j.edges[0]].kind == contactEdge
}

// unit is what a row is never broken within: cells that are docked to each other.
type unit []cell

// mostOfCell is how many children a splice carries in one cell.
const mostOfCell = 8

func (p *placer) units(c *component) []unit {
	var out []unit
	for i, n := range c.trunk {
		children, links := c.children[n], p.links[n]
		parts := 1
		if p.g.nodes[n].kind == spliceNode {
			parts = max(1, (len(children)+len(links)+mostOfCell-1)/mostOfCell)
		}
		size := (len(children) + len(links) + parts - 1) / parts
		for k := range parts {
			x := cell{node: n, first: k == 0, joint: joint{c.joints[i], k > 0}}
			if k > 0 {
				x.joint.edges = nil
			}
			take := min(size, len(children))
			x.children, children = children[:take], children[take:]
			take = min(size-take, len(links))
			x.links, links = links[:take], links[take:]
			if p.docked(x.joint) && len(out) > 0 && i > 0 {
				out[len(out)-1] = append(out[len(out)-1], x)
			} else {
				out = append(out, unit{x})
			}
		}
	}
	return out
}

// placed is a row that has been laid out.
type placed struct {
	row
	// first and last are where the trunk enters and leaves the row.
	first, last float64
}

// strip lays components out one after the other, from a new row on. Where a trunk
// does not fit into the row it goes on in the next one, in the other direction.
func (p *placer) strip(components []component, heading []words) {
	var units []unit
	for i := range components {
		units = append(units, p.units(&components[i])...)
	}
	reverse := false
	for from := 0; from < len(units); {
		p.row = len(p.scene.rows)
		to := from + 1
		for to < len(units) && p.trial(units, from, to+1, reverse) <= p.width {
			to++
		}
		r := p.place(units, from, to, reverse)
		if from == 0 {
			r.heading = heading
		}
		p.scene.rows = append(p.scene.rows, r.row)
		if k := len(p.scene.wraps); k > 0 && p.scene.wraps[k-1].row == p.row-1 {
			p.scene.wraps[k-1].xTo = r.first
		}
		if to == len(units) {
			return
		}
		next := &units[to][0]
		goesOn := next.joint.leads()
		if goesOn {
			before := units[to-1][len(units[to-1])-1]
			w := wrap{edges: next.joint.edges, from: before.node, to: next.node, row: p.row, right: !reverse, xFrom: r.last}
			if next.joint.bar {
				w.bar = p.g.nodes[next.node].part
			}
			p.scene.wraps = append(p.scene.wraps, w)
		}
		reverse = goesOn && !reverse
		from = to
	}
}

// trial tells how wide a row would be.
func (p *placer) trial(units []unit, from, to int, reverse bool) float64 {
	at := p.scene.snapshot()
	r := p.place(units, from, to, reverse)
	p.scene.restore(at)
	return r.wide
}

// place lays out one row of units. The trunk lies on v = 0.
func (p *placer) place(units []unit, from, to int, reverse bool) placed {
	var cells []cell
	for _, u := range units[from:to] {
		cells = append(cells, u...)
	}
	// joints[i] joins cells i-1 and i from left to right; the outer ones lead to
	// the rows before and after.
	joints := make([]joint, len(cells)+1)
	for i, x := range cells {
		joints[i] = x.joint
	}
	if to < len(units) {
		joints[len(cells)] = units[to][0].joint
	}
	if reverse {
		slices.Reverse(cells)
		slices.Reverse(joints)
	}
	start := p.scene.snapshot()
	p.band = p.bandOf(cells, joints)
	// A wire that leaves for the next row has its label where it leaves.
	core := 0.0
	if reverse {
		core = p.roomFor(joints[0])
		p.jointLabels(joints[0], 0, core)
	}
	sides := [2]float64{core - between, core - between}
	var left, right float64 // the trunk's first and last port
	for i := range cells {
		x := &cells[i]
		x0, fixed := core, false
		switch {
		case i == 0:
		case p.docked(joints[i]):
			x0, fixed = core+contact, true
		case joints[i].leads():
			x0 = core + p.roomFor(joints[i])
		default:
			x0 = core + 3*between
		}
		a, b, end := p.cell(x, x0, fixed, joints[i], joints[i+1], &sides)
		if i == 0 {
			left = a
		} else {
			p.join(joints[i], &cells[i-1], x, right, core, a)
		}
		right, core = b, end
	}
	if !reverse {
		room := p.roomFor(joints[len(cells)])
		p.jointLabels(joints[len(cells)], core, core+room)
		core += room
	}
	r := placed{first: left, last: right}
	r.reverse = reverse
	if reverse {
		r.first, r.last = right, left
	}
	r.wide = max(core, sides[below], sides[above])
	for _, m := range p.scene.marks[start.marks:] {
		if m.up {
			r.up, r.down = max(r.up, m.v1), max(r.down, -m.v0)
		} else {
			r.up, r.down = max(r.up, -m.v0), max(r.down, m.v1)
		}
	}
	return r
}

func (j joint) leads() bool { return j.bar || len(j.edges) > 0 }

// offsets are where parallel wires run beside the middle of the trunk.
func offsets(n int) []float64 {
	if n < 2 {
		return []float64{0}
	}
	return []float64{-parallels, parallels}
}

// roomFor is how long a joint of the trunk must be for its labels.
func (p *placer) roomFor(j joint) float64 {
	if len(j.edges) == 0 {
		return map[bool]float64{true: 2 * between, false: 0}[j.bar]
	}
	w := 0.0
	for _, e := range j.edges {
		w = max(w, widest(p.wireLines(e)))
	}
	return max(w, 2*between) + between
}

// wireLines are the label of a wire and what is noted about it.
func (p *placer) wireLines(e int) []words {
	x := &p.g.edges[e]
	if x.kind != wireEdge {
		return nil
	}
	return append([]words{{text: x.text, size: textSize, class: "name"}}, p.noteLines(x.part)...)
}

func (p *placer) noteLines(keys ...string) []words {
	var out []words
	for i, k := range keys {
		if i > 0 && k == keys[0] {
			continue
		}
		for j := range p.notes[k] {
			n := &p.notes[k][j]
			if n.Text == "" {
				continue
			}
			out = append(out, words{text: svg.Shorten(n.Text, noteSize, n.bold(), mostNote), size: noteSize, bold: n.bold(), class: "note " + n.Kind.class(), note: n})
		}
	}
	return out
}

// jointLabels sets the labels of a joint between two places on the trunk: above
// it, and below it where two wires run in parallel; notes on a single wire below.
func (p *placer) jointLabels(j joint, x0, x1 float64) {
	if len(j.edges) == 0 || p.docked(j) {
		return
	}
	off := offsets(len(j.edges))
	for i, e := range j.edges {
		lines := p.wireLines(e)
		gap := fromTrunk + p.clear(p.g.edges[e].part)
		at := func(lines []words, v float64) {
			for k, l := range lines {
				p.text(l, edgeOwner(e), (x0+x1-l.wide())/2, v+float64(k)*lineHigh, false)
			}
		}
		switch {
		case i > 0:
			at(lines, off[i]+gap)
		case len(j.edges) > 1:
			at(lines, off[i]-gap-float64(len(lines))*lineHigh)
		default:
			at(lines[:1], -gap-lineHigh)
			at(lines[1:], gap)
		}
	}
}

// join draws a joint between two cells of a row: from the right port of the one,
// whose label ends at end, to the left port of the other.
func (p *placer) join(j joint, a, b *cell, x0, end, x1 float64) {
	switch {
	case p.docked(j):
		// The device half, or side b, has the pins.
		toward := 1
		e := &p.g.edges[j.edges[0]]
		if e.b == a.node {
			toward = -1
		}
		p.mark(mark{what: contactMark, part: e.part, node: e.a, x0: x0, x1: x1, toward: toward, turned: true})
	case j.bar:
		p.mark(mark{what: barMark, part: p.g.nodes[a.node].part, node: a.node, x0: x0, x1: x1})
	case len(j.edges) > 0:
		p.jointLabels(j, end, x1)
		for i, e := range j.edges {
			v := offsets(len(j.edges))[i]
			p.scene.runs = append(p.scene.runs, run{e, spot{p.row, false, x0, v}, spot{p.row, false, x1, v}, a.node, b.node})
		}
	}
}

// clear is how much farther from a part its labels stand for the band of its
// weight.
func (p *placer) clear(part string) float64 {
	if w := weightOf(p.notes, part); w > 0 {
		return bandHalf(w) - 2
	}
	return 0
}

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

// bandOf is how much space the trunk itself takes, below and above.
func (p *placer) bandOf(cells []cell, joints []joint) [2]float64 {
	band := [2]float64{below: fromTrunk, above: fromTrunk + lineHigh}
	for _, j := range joints {
		for i, e := range j.edges {
			n := float64(len(p.wireLines(e))) * lineHigh
			gap := fromTrunk + p.clear(p.g.edges[e].part)
			switch {
			case p.docked(j):
			case i > 0:
				band[below] = max(band[below], parallels+gap+n)
			case len(j.edges) > 1:
				band[above] = max(band[above], parallels+gap+n)
			default:
				band[above] = max(band[above], gap+lineHigh)
				band[below] = max(band[below], gap+n-lineHigh)
			}
		}
	}
	for i := range cells {
		x := &cells[i]
		high := p.highOnTrunk(x.node)
		band[above] = max(band[above], high)
		band[below] = max(band[below], high)
		if lines := p.linesOnTrunk(x); len(lines) > 0 {
			band[above] = max(band[above], high+p.above(x.node, joints[i], joints[i+1])+float64(len(lines))*lineHigh)
		}
		for _, k := range x.children {
			if p.g.edges[k.edges[0]].kind == contactEdge {
				reach := high + p.dockedReach(k.node, x.node)
				band[above] = max(band[above], reach)
				band[below] = max(band[below], reach)
			}
		}
	}
	return band
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

// alsoNamed is the other name that notes at a connector's half may go by.
func (p *placer) alsoNamed(n *node) string {
	if n.half == "a" {
		return n.part
	}
	return n.name()
}

// ownLines are a node's name and what goes with it, where they stand beside the
// symbol or in its box.
func (p *placer) ownLines(n int) []words {
	x := &p.g.nodes[n]
	switch x.kind {
	case spliceNode, terminatorNode, strayNode:
		text := x.part
		if x.value != "" {
			text += "  " + x.value
		}
		return append([]words{{text: shortName(text), size: textSize, bold: true, class: "name"}}, p.noteLines(x.part)...)
	case halfNode:
		return []words{{text: shortName(x.name()), size: nameSize, bold: true, class: "name"}}
	}
	return nil
}

func shortName(text string) string { return svg.Shorten(text, nameSize, true, mostName) }

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
		if !left.leads() {
			// Plugged into what is on its right.
			if right.leads() {
				b = end
				toward = 1
			}
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
	lean := 0
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

// wide is the least width of a node's box.
func (p *placer) wide(n int) float64 {
	x := &p.g.nodes[n]
	switch x.kind {
	case halfNode:
		return widest(p.ownLines(n)) + leftPad + float64(len(x.rails))*(railWide+2)
	case moduleNode:
		w := 0.0
		for _, l := range p.moduleLines(n) {
			w = max(w, l.wide+l.words.wide())
		}
		return w + leftPad
	}
	return 0
}

// high is the height of a module's box.
func (p *placer) high(n int) float64 {
	h := 2 * inBox
	for _, l := range p.moduleLines(n) {
		h += l.high()
	}
	return h
}

// boxLine is a line of a module's box; sign marks the line of a terminator.
type boxLine struct {
	words
	sign  *netlist.Terminator
	wide  float64 // before the text
	owner owner
}

func (l *boxLine) high() float64 {
	if l.sign != nil {
		return signLine
	}
	return lineHigh
}

func (p *placer) moduleLines(n int) []boxLine {
	x := &p.g.nodes[n]
	out := []boxLine{{words: words{text: shortName(x.part), size: nameSize, bold: true, class: "name"}, owner: nodeOwner(n)}}
	for _, l := range p.noteLines(x.part) {
		out = append(out, boxLine{words: l, owner: nodeOwner(n)})
	}
	for _, t := range x.inside {
		of := owner{node: n, part: t.Name}
		out = append(out, boxLine{words: words{text: shortName(t.Name + "  " + ohmsText(t.Ohms)), size: textSize, class: "name"}, sign: t, wide: glyphWide, owner: of})
		for _, l := range p.noteLines(t.Name) {
			out = append(out, boxLine{words: l, wide: glyphWide, owner: of})
		}
	}
	return out
}

// box draws the box of a connector or module with what stands in it.
func (p *placer) box(n int, x0, v0, x1, v1 float64, up bool) {
	x := &p.g.nodes[n]
	p.mark(mark{what: boxMark, node: n, part: x.part, half: x.half, x0: x0, v0: v0, x1: x1, v1: v1, up: up})
	if x.kind == halfNode {
		at := x0 + leftPad/2
		l := p.ownLines(n)[0]
		p.text(l, nodeOwner(n), at, v0+(boxHigh-lineHigh)/2, up)
		at += l.wide() + 4
		for _, r := range x.rails {
			p.mark(mark{what: railMark, part: x.part, node: n, rail: r, x0: at, x1: at + railWide, v0: v0 + (boxHigh-railHigh)/2, v1: v0 + (boxHigh+railHigh)/2, up: up})
			at += railWide + 2
		}
		return
	}
	down := inBox // from the box's upper edge
	for _, l := range p.moduleLines(n) {
		high := l.high()
		v := v0 + down
		if up {
			v = v1 - down - high
		}
		down += high
		at := x0 + leftPad/2
		if l.sign != nil {
			p.mark(mark{what: signMark, part: l.sign.Name, node: n, x0: at, x1: at + signHigh, v0: v + 1, v1: v + high - 1, up: up, toward: -1, turned: true, split: l.sign.Split})
		}
		p.text(l.words, l.owner, at+l.wide, v+(high-lineHigh)/2, up)
	}
}

// dockedReach is how far a docked child reaches from its parent's box, with what
// is docked to it.
func (p *placer) dockedReach(n, parent int) float64 {
	reach := 0.0
	for _, i := range p.g.nodes[n].edges {
		e := &p.g.edges[i]
		if m := e.other(n); e.kind == contactEdge && m != parent {
			reach = max(reach, p.dockedReach(m, n))
		}
	}
	x := &p.g.nodes[n]
	switch x.kind {
	case halfNode:
		reach += boxHigh + float64(len(p.noteLines(x.name(), p.alsoNamed(x))))*lineHigh
	case moduleNode:
		reach += p.high(n)
	default:
		reach += max(signHigh, float64(len(p.ownLines(n)))*lineHigh)
	}
	return contact + reach
}

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

// owner is what a mark belongs to: a node or an edge, or a terminator inside a
// module's box.
type owner struct {
	node, edge int
	part       string
}

func nodeOwner(n int) owner { return owner{node: n, edge: -1} }
func edgeOwner(e int) owner { return owner{node: -1, edge: e} }

// stack sets lines of text from v on away from the trunk, the first one on top,
// and gives their height.
func (p *placer) stack(lines []words, of owner, x, v float64, up bool) float64 {
	for i, l := range lines {
		k := i
		if up {
			k = len(lines) - 1 - i
		}
		p.text(l, of, x, v+float64(k)*lineHigh, up)
	}
	return float64(len(lines)) * lineHigh
}

func (p *placer) text(l words, of owner, x, v float64, up bool) {
	m := mark{what: textMark, node: of.node, part: of.part, x0: x, x1: x + l.wide(), v0: v, v1: v + lineHigh, up: up, text: l}
	switch {
	case of.part != "":
	case of.node >= 0:
		m.part, m.half = p.g.nodes[of.node].part, p.g.nodes[of.node].half
	default:
		m.part = p.g.edges[of.edge].part
	}
	p.mark(m)
}

func (p *placer) mark(m mark) {
	m.row = p.row
	p.scene.marks = append(p.scene.marks, m)
}
