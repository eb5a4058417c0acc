package derivation

import (
	"math"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
)

// depths says how far each point lies from the leads along the harness as it is
// drawn, whatever is open: the conductors of one place lie equally far, so that what
// hangs there is worked out together, and healthy and faulty wiring in one order.
// Rails are nearest, what hangs on a rail alone is farthest.
func (p *paper) depths() []int {
	c := p.net.Circuit()
	places := disjoint.New(len(c.Nodes))
	for _, s := range c.Sites {
		for i, a := range s.Contacts {
			for _, b := range s.Contacts[:i] {
				if a.Rail != "" || b.Rail != "" || a.Conductor.Network != b.Conductor.Network {
					continue
				}
				places.Join(a.Node, b.Node)
				if a.Other >= 0 && b.Other >= 0 {
					places.Join(a.Other, b.Other)
				}
			}
		}
	}
	onRail := func(node int) bool { return node == netlist.GroundNode || node == netlist.SupplyNode }
	for _, e := range c.Elements {
		if e.Kind == netlist.Joint && !onRail(e.A) && !onRail(e.B) {
			places.Join(e.A, e.B)
		}
	}
	next := map[int][]int{}
	for _, e := range c.Elements {
		if e.Kind == netlist.WireElement || e.Kind == netlist.ContactElement {
			a, b := places.Find(e.A), places.Find(e.B)
			next[a], next[b] = append(next[a], b), append(next[b], a)
		}
	}
	// How far a place lies: two steps for each wire or contact, so that points within
	// one come in between.
	far := map[int]int{}
	var queue []int
	for _, k := range p.nodes {
		if at := places.Find(k); !onRail(k) && far[at] == 0 {
			far[at] = 2
			queue = append(queue, at)
		}
	}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		for _, to := range next[at] {
			if far[to] == 0 {
				far[to] = far[at] + 2
				queue = append(queue, to)
			}
		}
	}
	const unknown = -1
	out := make([]int, len(p.names))
	for i := range out {
		out[i] = unknown
	}
	for i := range c.Nodes {
		k := p.net.Class(i)
		if d := far[places.Find(i)]; d > 0 && (out[k] == unknown || d < out[k]) {
			out[k] = d
		}
	}
	p.place = make([]int, len(p.names))
	for k := range p.place {
		p.place[k] = -1 - k
	}
	for i := range c.Nodes {
		if k := p.net.Class(i); !p.rail[k] {
			p.place[k] = places.Find(i)
		}
	}
	for k, rail := range p.rail {
		if rail {
			out[k] = 0
		}
	}
	// Points within wires and terminators lie one beyond the nearest that is known.
	list := make([]int, 0, len(out))
	for k, d := range out {
		if d > 0 {
			list = append(list, k)
		}
	}
	for len(list) > 0 {
		at := list[0]
		list = list[1:]
		for _, i := range p.at[at] {
			if to := p.other(i, at); out[to] == unknown {
				out[to] = out[at] + 1
				list = append(list, to)
			}
		}
	}
	for k := range out {
		if out[k] == unknown {
			out[k] = math.MaxInt // it hangs on rails alone
		}
	}
	return out
}
