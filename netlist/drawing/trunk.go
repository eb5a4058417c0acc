package drawing

import (
	"math"
	"slices"

	"example.com/ohmloom/netlist"
)

// component is what is drawn around one trunk: a path through the graph, with
// trees that hang off it.
type component struct {
	network string // empty for parts without wires
	// trunk lists the nodes of the path; joints[i] are the edges from
	// trunk[i-1] to trunk[i] (several where wires run in parallel).
	trunk  []int
	joints [][]int
	// children of a node, hung off it, each by its edges.
	children map[int][]child
}

// child is a node that hangs off another by one contact or lead, or by wires in
// parallel.
type child struct {
	node  int
	edges []int
}

const (
	// mostColumns and deepest bound a tree that hangs off a trunk: what is wider
	// or deeper becomes a trunk of its own.
	mostColumns = 8
	deepest     = 5
	// mostParallel is how many wires in parallel a trunk draws next to each
	// other; the others are drawn around.
	mostParallel = 2
	// unknownMetres stands for the length of a wire that has none, as far as the
	// search for the trunk goes.
	unknownMetres = 1.0
)

// parting parts a graph into components. Edges that belong to none of them (they
// close loops, or lead to another component) are left for the router.
type parting struct {
	g      *graph
	placed []bool
	drawn  []bool // edges that belong to a component
	claim  map[int]string
	out    []component
}

func (g *graph) part() ([]component, []int) {
	p := &parting{g: g, placed: make([]bool, len(g.nodes)), drawn: make([]bool, len(g.edges)), claim: map[int]string{}}
	// A part that several networks share is drawn where it is on the trunk.
	paths := map[string][]int{}
	for _, n := range g.c.Harness.Networks {
		within := p.of(n.Name)
		paths[n.Name] = p.trunk(within, n.Name)
		for _, x := range paths[n.Name] {
			if _, taken := p.claim[g.nodes[x].cluster]; !taken {
				p.claim[g.nodes[x].cluster] = n.Name
			}
		}
	}
	for _, n := range g.c.Harness.Networks {
		p.component(n.Name, p.longestRun(paths[n.Name], n.Name))
		for {
			free := p.of(n.Name)
			for i := range free {
				c, claimed := p.claim[g.nodes[i].cluster]
				// A stray path hangs at one of its ends, wherever that is drawn.
				free[i] = free[i] && !p.placed[i] && (!claimed || c == n.Name) && g.nodes[i].kind != strayNode
			}
			path := p.trunk(free, n.Name)
			if path == nil {
				break
			}
			p.component(n.Name, path)
		}
	}
	for i := range g.nodes {
		if !p.placed[i] {
			p.component("", p.lonely(i))
		}
	}
	var links []int
	for i := range g.edges {
		if !p.drawn[i] {
			links = append(links, i)
		}
	}
	return p.out, links
}

// passes tells whether an edge is part of a network's graph.
func (p *parting) passes(e *edge, network string) bool {
	return e.kind != wireEdge || e.network == network
}

// of marks the nodes that wires of a network reach, with what contacts and leads
// add to them.
func (p *parting) of(network string) []bool {
	in := make([]bool, len(p.g.nodes))
	var stack []int
	for _, e := range p.g.edges {
		if e.kind == wireEdge && e.network == network {
			stack = append(stack, e.a, e.b)
		}
	}
	for len(stack) > 0 {
		n := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if in[n] {
			continue
		}
		in[n] = true
		if p.g.nodes[n].kind == strayNode {
			continue // leads nowhere
		}
		for _, i := range p.g.nodes[n].edges {
			if e := &p.g.edges[i]; p.passes(e, network) {
				stack = append(stack, e.other(n))
			}
		}
	}
	return in
}

// lonely is the path through a cluster that no wire reaches: a connector and what
// is plugged into it.
func (p *parting) lonely(i int) []int {
	path := []int{i}
	for _, e := range p.g.nodes[i].edges {
		k := &p.g.edges[e]
		if m := k.other(i); k.kind == contactEdge && !p.placed[m] && m != i {
			return append(path, m)
		}
	}
	return path
}

// trunk finds the path between the two terminators of a network that lie
// farthest apart by wire, or between the ends that do where there are not two.
// It goes on beyond a module that passes the network on. nil where nothing is in.
func (p *parting) trunk(in []bool, network string) []int {
	var all []int // but stray paths, which lead nowhere
	for i := range in {
		if in[i] && p.g.nodes[i].kind != strayNode {
			all = append(all, i)
		}
	}
	if len(all) == 0 {
		if stray := slices.Index(in, true); stray >= 0 {
			return []int{stray}
		}
		return nil
	}
	var ends []int
	reach, _ := p.distances(all[0], in, network, nil)
	for _, i := range all {
		if !math.IsInf(reach[i], 1) && p.g.terminates(i, network) {
			ends = append(ends, i)
		}
	}
	farthest := func(from int, among, without []int) (at int, metres float64, way []int) {
		d, back := p.distances(from, in, network, without)
		at, metres = from, -1
		for _, i := range among {
			if !math.IsInf(d[i], 1) && d[i] > metres+1e-9 {
				at, metres = i, d[i]
			}
		}
		return at, metres, walk(back, from, at)
	}
	var path []int
	switch len(ends) {
	case 0:
		end, _, _ := farthest(all[0], all, nil)
		_, _, path = farthest(end, all, nil)
	case 1:
		_, _, path = farthest(ends[0], all, nil)
	default:
		most := -1.0
		for _, a := range ends {
			if _, metres, way := farthest(a, ends, nil); metres > most+1e-9 {
				most, path = metres, way
			}
		}
	}
	// Beyond the ends.
	for range 2 {
		for {
			end := path[len(path)-1]
			if p.g.nodes[end].kind != moduleNode && p.g.nodes[end].kind != halfNode {
				break
			}
			_, metres, way := farthest(end, all, path[:len(path)-1])
			if metres <= 0 {
				break
			}
			path = append(path, way[1:]...)
		}
		slices.Reverse(path)
	}
	path = p.once(path)
	// The harness's own order decides which end is left.
	if p.rank(path[len(path)-1], network) < p.rank(path[0], network) {
		slices.Reverse(path)
	}
	return path
}

// once cuts a path that comes back to a module or inline connector that it has
// left, as one through a ring does: what is docked there is drawn there.
func (p *parting) once(path []int) []int {
	seen := map[int]bool{}
	for i, n := range path {
		k := p.g.nodes[n].cluster
		if i > 0 && p.g.nodes[path[i-1]].cluster != k && seen[k] {
			return path[:i]
		}
		seen[k] = true
	}
	return path
}

// rank orders the ends of a trunk: by the terminators there, else by the nodes.
func (p *parting) rank(n int, network string) int {
	h := p.g.c.Harness
	at := func(t *netlist.Terminator) bool {
		x := &p.g.nodes[n]
		return (t.At == x.part || t.Name == x.part) && (t.Network == "" || t.Network == network)
	}
	for i := range h.Terminators {
		if at(&h.Terminators[i]) {
			return i
		}
	}
	return len(h.Terminators) + n
}

// walk follows the way back from an end to a start.
func walk(back []int, from, to int) []int {
	path := []int{to}
	for to != from {
		to = back[to]
		path = append(path, to)
	}
	slices.Reverse(path)
	return path
}

// distances finds the shortest ways from a node (Dijkstra) by none of some nodes, and the
// node before each on the way.
func (p *parting) distances(from int, in []bool, network string, without []int) ([]float64, []int) {
	n := len(p.g.nodes)
	d, back, done := make([]float64, n), make([]int, n), make([]bool, n)
	for i := range d {
		d[i], back[i] = math.Inf(1), -1
	}
	for _, i := range without {
		done[i] = true
	}
	d[from] = 0
	for {
		at := -1
		for i := range d {
			if !done[i] && !math.IsInf(d[i], 1) && (at < 0 || d[i] < d[at]) {
				at = i
			}
		}
		if at < 0 {
			return d, back
		}
		done[at] = true
		for _, i := range p.g.nodes[at].edges {
			e := &p.g.edges[i]
			to := e.other(at)
			if done[to] || !in[to] || !p.passes(e, network) || e.kind == leadEdge {
				continue
			}
			if w := d[at] + weight(e); w < d[to]-1e-12 {
				d[to], back[to] = w, at
			}
		}
	}
}

func weight(e *edge) float64 {
	const step = 1e-3
	switch {
	case e.kind != wireEdge:
		return step
	case e.metres > 0:
		return e.metres + step
	}
	return unknownMetres + step
}

// longestRun is the longest piece of a trunk that no other network has claimed or
// placed.
func (p *parting) longestRun(path []int, network string) []int {
	var best, run []int
	for _, i := range path {
		if p.placed[i] || p.claim[p.g.nodes[i].cluster] != network {
			run = nil
			continue
		}
		run = append(run, i)
		if len(run) > len(best) {
			best = run
		}
	}
	return best
}

// component places a trunk and what hangs off it.
func (p *parting) component(network string, trunk []int) {
	if len(trunk) == 0 {
		return
	}
	g := p.g
	c := component{network: network, trunk: trunk, joints: make([][]int, len(trunk)), children: map[int][]child{}}
	for i, n := range trunk {
		p.placed[n] = true
		if i > 0 {
			c.joints[i] = p.take(trunk[i-1], n, mostParallel)
		}
	}
	// What is docked to a node comes with it, before any wire leads there.
	var queue []int
	var settle func(n int)
	settle = func(n int) {
		queue = append(queue, n)
		for _, i := range g.nodes[n].edges {
			if m := g.edges[i].other(n); g.edges[i].kind == contactEdge && !p.placed[m] {
				p.placed[m] = true
				c.children[n] = append(c.children[n], child{m, p.take(n, m, 1)})
				settle(m)
			}
		}
	}
	for _, n := range trunk {
		settle(n)
	}
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		if g.nodes[n].kind == strayNode {
			continue // it hangs at one end, and the router leads to the other
		}
		for _, kind := range []edgeKind{leadEdge, wireEdge} {
			for _, i := range g.nodes[n].edges {
				e := &g.edges[i]
				m := e.other(n)
				claimed, ok := p.claim[g.nodes[m].cluster]
				if e.kind != kind || p.drawn[i] || p.placed[m] || !p.passes(e, network) || ok && claimed != network {
					continue
				}
				p.placed[m] = true
				c.children[n] = append(c.children[n], child{m, p.take(n, m, math.MaxInt)})
				settle(m)
			}
		}
	}
	p.out = append(p.out, component{})
	at := len(p.out) - 1
	for _, n := range trunk {
		p.prune(&c, n)
	}
	p.out[at] = c
}

// take gives the edges that join two nodes and are drawn together, and marks them as
// drawn.
func (p *parting) take(a, b, most int) []int {
	var out []int
	for _, i := range p.g.nodes[a].edges {
		e := &p.g.edges[i]
		if p.drawn[i] || e.other(a) != b || len(out) == most {
			continue
		}
		if len(out) > 0 && (e.kind != wireEdge || p.g.edges[out[0]].kind != wireEdge) {
			continue
		}
		p.drawn[i] = true
		out = append(out, i)
	}
	return out
}

// prune cuts off what hangs too wide or too deep below a node, and makes it a
// component of its own.
func (p *parting) prune(c *component, n int) (columns, depth int) {
	kept := c.children[n][:0]
	for _, k := range c.children[n] {
		w, d := p.prune(c, k.node)
		wires := p.g.edges[k.edges[0]].kind == wireEdge
		if wires {
			d++
		}
		if wires && (w > mostColumns || d > deepest) {
			p.cut(c, k)
			continue
		}
		kept = append(kept, k)
		columns += w
		depth = max(depth, d)
	}
	c.children[n] = kept
	return max(1, columns), depth
}

// cut gives up a tree and draws it around a trunk of its own.
func (p *parting) cut(c *component, k child) {
	in := make([]bool, len(p.g.nodes))
	stack := []int{k.node}
	for _, e := range k.edges {
		p.drawn[e] = false
	}
	for len(stack) > 0 {
		n := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		in[n] = true
		p.placed[n] = false
		for _, x := range c.children[n] {
			for _, e := range x.edges {
				p.drawn[e] = false
			}
			stack = append(stack, x.node)
		}
		delete(c.children, n)
	}
	for {
		path := p.trunk(in, c.network)
		if path == nil {
			return
		}
		p.component(c.network, path)
		for i := range in {
			in[i] = in[i] && !p.placed[i]
		}
	}
}
