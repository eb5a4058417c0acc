package solve

import (
	"slices"

	"example.com/ohmloom/solve/twofold"
)

// tieSiemens ties a floating part of a net to ground while it is eliminated, so
// that its potentials mean something. Which part is tied where is known, and what a
// tie would let through is taken out by structure ([ExactPorts]), so its size plays
// no role.
const tieSiemens = 1e-3

// mesh is a net eliminated node by node, star to mesh: a node goes, and what hung
// on it hangs together directly. Only sums, products and quotients of positive
// numbers occur (never the difference that a nodal matrix's diagonal hides), in
// numbers of twice the digits, so that no spread of conductances costs any digits:
// this is elimination after Grassmann, Taksar and Heyman (Operations Research 33,
// 1985; from memory) for conductances. A harness is nearly a tree, so next to
// nothing is filled in.
type mesh struct {
	order []int32 // classes as they went
	start []int32 // position: where its neighbours begin in to and share
	to    []int32 // classes that went later
	share []twofold.Number
	own   []twofold.Number // position: all conductance on it when it went
}

// link is a conductance to a class.
type link struct {
	to int32
	g  twofold.Number
}

// addLink adds a conductance to a list in order of classes.
func addLink(list []link, to int32, g twofold.Number) []link {
	at, found := slices.BinarySearchFunc(list, to, func(l link, to int32) int { return int(l.to) - int(to) })
	if found {
		list[at].g = list[at].g.Add(g)
		return list
	}
	return slices.Insert(list, at, link{to, g})
}

func newMesh(n *Net, ties []int) *mesh {
	links := make([][]link, n.classes)
	ground := make([]twofold.Number, n.classes) // and to all held classes
	held := make([]bool, n.classes)
	for k := range n.fixed {
		held[k] = true
	}
	for _, k := range ties {
		ground[k] = twofold.From(tieSiemens)
	}
	for _, b := range n.branches {
		g := twofold.From(b.siemens)
		switch {
		case b.a == b.b || held[b.a] && held[b.b]:
		case held[b.a]:
			ground[b.b] = ground[b.b].Add(g)
		case held[b.b]:
			ground[b.a] = ground[b.a].Add(g)
		default:
			links[b.a] = addLink(links[b.a], int32(b.b), g)
			links[b.b] = addLink(links[b.b], int32(b.a), g)
		}
	}
	m := &mesh{start: []int32{0}}
	left := 0
	for k := range held {
		if !held[k] {
			left++
		}
	}
	for ; left > 0; left-- {
		// The one with the fewest neighbours goes next, the first of several.
		next := -1
		for k := range links {
			if !held[k] && (next < 0 || len(links[k]) < len(links[next])) {
				next = k
			}
		}
		own := ground[next]
		for _, l := range links[next] {
			own = own.Add(l.g)
		}
		for i, l := range links[next] {
			share := l.g.Div(own)
			m.to = append(m.to, l.to)
			m.share = append(m.share, share)
			ground[l.to] = ground[l.to].Add(share.Mul(ground[next]))
			other := links[l.to]
			at, _ := slices.BinarySearchFunc(other, int32(next), func(l link, to int32) int { return int(l.to) - int(to) })
			links[l.to] = slices.Delete(other, at, at+1)
			for _, k := range links[next][:i] {
				g := share.Mul(k.g)
				links[l.to] = addLink(links[l.to], k.to, g)
				links[k.to] = addLink(links[k.to], l.to, g)
			}
		}
		m.order = append(m.order, int32(next))
		m.start = append(m.start, int32(len(m.to)))
		m.own = append(m.own, own)
		held[next] = true
		links[next] = nil
	}
	return m
}

// solve turns currents in amperes that flow in, by class, into potentials in volts
// above the held classes, in place; held classes must have 0.
func (m *mesh) solve(v []twofold.Number) {
	for i, k := range m.order {
		x := v[k]
		if x.Hi == 0 {
			continue
		}
		for j := m.start[i]; j < m.start[i+1]; j++ {
			to := m.to[j]
			v[to] = v[to].Add(m.share[j].Mul(x))
		}
	}
	for i := len(m.order) - 1; i >= 0; i-- {
		k := m.order[i]
		x := v[k]
		if x.Hi != 0 {
			x = x.Div(m.own[i])
		}
		for j := m.start[i]; j < m.start[i+1]; j++ {
			x = x.Add(m.share[j].Mul(v[m.to[j]]))
		}
		v[k] = x
	}
}
