package solve

import (
	"cmp"
	"math"
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
// 1985; from memory) for conductances, as [elimination] is in float64. A harness is
// nearly a tree, so next to nothing is filled in.
type mesh struct {
	order []int32 // classes as they went
	start []int32 // position: where its neighbours begin in to and share
	to    []int32 // classes that went later
	share []twofold.Number
	own   []twofold.Number // position: all conductance on it when it went
}

// reference is the row of all that is held, greater than any other.
const reference = math.MaxInt32

// link is a conductance to a row.
type link struct {
	to int32
	g  twofold.Number
}

// find looks for a row in a list in order of rows.
func find(list []link, to int32) (at int, found bool) {
	return slices.BinarySearchFunc(list, to, func(l link, to int32) int { return cmp.Compare(l.to, to) })
}

// addLink adds a conductance to a list in order of rows.
func addLink(list []link, to int32, g twofold.Number) []link {
	at, found := find(list, to)
	if found {
		list[at].g = list[at].g.Add(g)
		return list
	}
	return slices.Insert(list, at, link{to, g})
}

// newMesh eliminates a net whose floating parts are tied to ground at some classes. The
// order is that of [eliminate], which grows with the net's length and no faster.
func newMesh(n *Net, ties []int) *mesh {
	// The classes that go are rows; all that are held are the reference.
	row, classes := make([]int32, n.classes), make([]int32, 0, n.classes)
	for k := range row {
		row[k] = reference
		if _, held := n.fixed[k]; !held {
			row[k] = int32(len(classes))
			classes = append(classes, int32(k))
		}
	}
	wires := make([]wire, 0, len(n.branches)+len(ties))
	for _, b := range n.branches {
		if b.a != b.b && (row[b.a] != reference || row[b.b] != reference) {
			wires = append(wires, wire{a: row[b.a], b: row[b.b], siemens: b.siemens})
		}
	}
	for _, k := range ties {
		wires = append(wires, wire{a: row[k], b: reference, siemens: tieSiemens})
	}
	_, order := eliminate(len(classes), wires)
	links := make([][]link, len(classes))
	ground := make([]twofold.Number, len(classes))
	for _, x := range wires {
		switch g := twofold.From(x.siemens); {
		case x.a == reference:
			ground[x.b] = ground[x.b].Add(g)
		case x.b == reference:
			ground[x.a] = ground[x.a].Add(g)
		default:
			links[x.a] = addLink(links[x.a], x.b, g)
			links[x.b] = addLink(links[x.b], x.a, g)
		}
	}
	m := &mesh{start: []int32{0}}
	for _, next := range order {
		own := ground[next]
		for _, l := range links[next] {
			own = own.Add(l.g)
		}
		for i, l := range links[next] {
			share := l.g.Div(own)
			m.to = append(m.to, classes[l.to])
			m.share = append(m.share, share)
			ground[l.to] = ground[l.to].Add(share.Mul(ground[next]))
			at, _ := find(links[l.to], next)
			links[l.to] = slices.Delete(links[l.to], at, at+1)
			for _, k := range links[next][:i] {
				g := share.Mul(k.g)
				links[l.to] = addLink(links[l.to], k.to, g)
				links[k.to] = addLink(links[k.to], l.to, g)
			}
		}
		m.order = append(m.order, classes[next])
		m.start = append(m.start, int32(len(m.to)))
		m.own = append(m.own, own)
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
