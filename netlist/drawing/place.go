package drawing

import (
	"slices"
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
	switch {
	case j.bar:
		return 2 * between
	case len(j.edges) == 0:
		return 0
	}
	w := 0.0
	for _, e := range j.edges {
		w = max(w, widest(p.wireLines(e)))
	}
	return max(w, 2*between) + between
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
	}
	return band
}
