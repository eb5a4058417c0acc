package derivation

import (
	"slices"

	"example.com/ohmloom/netlist/disjoint"
)

// drop leaves out whatever carries no current between the leads: what does not hang
// together with them, and what hangs on one point only, however tangled in itself.
// Of the rest every resistance lies on some way from lead to lead.
func (p *paper) drop() {
	on := p.between()
	// What is left out, in pieces that hang together without the points that stay.
	stays := make([]bool, len(p.names))
	stays[p.from], stays[p.to] = true, true
	for i, r := range p.d.Resistances {
		if p.live[i] && on[i] {
			stays[r.a], stays[r.b] = true, true
		}
	}
	sets := disjoint.New(len(p.names))
	for i, r := range p.d.Resistances {
		if p.live[i] && !on[i] && !stays[r.a] && !stays[r.b] {
			sets.Join(r.a, r.b)
		}
	}
	type piece struct {
		at     int // the point that it hangs on, −1 for none
		inputs []int
	}
	pieces := map[int]*piece{}
	var order []int
	for i, r := range p.d.Resistances {
		if !p.live[i] || on[i] {
			continue
		}
		// Not both ends stay: what lies between two such points lies on a way.
		key, at := sets.Find(r.a), -1
		switch {
		case stays[r.a]:
			key, at = sets.Find(r.b), r.a
		case stays[r.b]:
			at = r.b
		}
		if pieces[key] == nil {
			pieces[key] = &piece{at: -1}
			order = append(order, key)
		}
		pieces[key].inputs = append(pieces[key].inputs, i)
		if at >= 0 {
			pieces[key].at = at
		}
	}
	// One step for each point, and one for all that hangs on nothing.
	byPoint := map[int][]int{}
	var points []int
	for _, key := range order {
		at := pieces[key].at
		if byPoint[at] == nil {
			points = append(points, at)
		}
		byPoint[at] = append(byPoint[at], pieces[key].inputs...)
	}
	for _, at := range points {
		name := ""
		if at >= 0 {
			name = p.names[at]
		}
		for _, i := range byPoint[at] {
			p.remove(i)
		}
		p.step(Drop, name, byPoint[at], nil)
	}
}

// between marks the resistances that lie on a way from lead to lead that comes by
// no point twice: those of the biconnected component that a resistance laid between
// the leads would be in (Hopcroft and Tarjan 1973), without recursion.
func (p *paper) between() []bool {
	const leads = -1
	on := make([]bool, len(p.d.Resistances))
	order := make([]int, len(p.names)) // when a point was met, 0 for never
	low := make([]int, len(p.names))
	type frame struct {
		point, by int // by: the edge that led here
		next      int
	}
	edges := func(k int) []int {
		// The edge between the leads comes first at the red lead.
		if k == p.from {
			return append([]int{leads}, p.at[k]...)
		}
		if k == p.to {
			return append(slices.Clone(p.at[k]), leads)
		}
		return p.at[k]
	}
	other := func(e, k int) int {
		if e == leads {
			return p.from + p.to - k
		}
		return p.other(e, k)
	}
	clock := 1
	order[p.from], low[p.from] = 1, 1
	const none = leads - 1
	stack := []frame{{p.from, none, 0}}
	around := map[int][]int{p.from: edges(p.from)}
	var open []int // edges of components that are not complete
	for len(stack) > 0 {
		f := &stack[len(stack)-1]
		list := around[f.point]
		if f.next < len(list) {
			e := list[f.next]
			f.next++
			if e == f.by {
				continue
			}
			to := other(e, f.point)
			switch {
			case order[to] == 0:
				clock++
				order[to], low[to] = clock, clock
				open = append(open, e)
				around[to] = edges(to)
				stack = append(stack, frame{to, e, 0})
			case order[to] < order[f.point]:
				open = append(open, e)
				low[f.point] = min(low[f.point], order[to])
			}
			continue
		}
		done := *f
		stack = stack[:len(stack)-1]
		if len(stack) == 0 {
			break
		}
		up := stack[len(stack)-1].point
		low[up] = min(low[up], low[done.point])
		if low[done.point] < order[up] {
			continue
		}
		// A component is complete: down to the edge that led into it.
		cut := len(open) - 1
		for open[cut] != done.by {
			cut--
		}
		if component := open[cut:]; slices.Contains(component, leads) {
			for _, e := range component {
				if e != leads {
					on[e] = true
				}
			}
		}
		open = open[:cut]
	}
	return on
}
