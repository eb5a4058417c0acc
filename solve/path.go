package solve

import "math"

// Current that is let into one place goes nowhere but up: to that place's
// neighbours, which are all later, to theirs, and so to the last. What it does
// in the elimination is known from the places above it alone, some tens of ten
// thousand. With a the current that comes through a place for 1 A in here, and b for
// 1 A in there, the resistance between here and there is
//
//	Σ a·b·ohms
//
// over the places that are above both. A resistance of its own is a sum of squares,
// so it keeps its digits.

// path is what 1 A at one class, or along one branch, does: amperes times the root of
// ohms, from the last place down.
type path struct {
	part   int
	place  []int32
	weight []float64
}

// climb sends current up from a place. amps is by depth: what is let in at that place
// and above it; it becomes a path's weights.
func (e *elimination) climb(lowest int32, amps []float64) {
	for p := lowest; p >= 0; p = e.up[p] {
		in := amps[e.depth[p]]
		for q := e.start[p]; q < e.start[p+1]; q++ {
			amps[e.depth[e.to[q]]] += e.share[q] * in
		}
		amps[e.depth[p]] = in * math.Sqrt(e.ohms[p])
	}
}

// mostColumns is the number of classes up to which a port keeps a column with the
// potential of every class, which is looked up three times as fast as a path; 8 kB
// for each port at most, where thousands of ports of a large net would take gigabytes
// (BenchmarkBetween).
const mostColumns = 1000

// reach is what 1 A at one class or along one branch does to all others: a column of
// potentials, class by class, in a small net and a path in a large one.
type reach struct {
	column []float64
	path
	own float64 // resistance in ohms
}

// reach for 1 A in at class a and out at class b, or at the part's reference where b
// is −1, as a column or as a path. Of the ends of a branch one is always above the other in the elimination,
// which other classes need not be.
func (n *Net) reach(a, b int, column bool) (*reach, error) {
	out := &reach{path: path{part: n.partOf[a]}}
	p := n.parts[out.part]
	if err := n.factorise(p); err != nil {
		return nil, err
	}
	in, back := int32(n.slot[a]), int32(-1)
	if b >= 0 {
		back = int32(n.slot[b])
	}
	lowest := in
	if lowest < 0 || back >= 0 && back < lowest {
		lowest = back
	}
	switch {
	case lowest < 0 || a == b: // a rail moves nothing
		if column {
			out.column = make([]float64, n.classes)
		}
		return out, nil
	case column:
		through := []amperes{{a, 1}}
		if b >= 0 {
			through = append(through, amperes{b, -1})
		}
		var err error
		if out.column, err = n.potentials(through, false); err != nil {
			return nil, err
		}
		out.own = out.column[a]
		if b >= 0 {
			out.own -= out.column[b]
		}
		return out, nil
	}
	e := p.factor
	length := e.depth[lowest] + 1
	out.place, out.weight = make([]int32, length), make([]float64, length)
	for at := lowest; at >= 0; at = e.up[at] {
		out.place[e.depth[at]] = at
	}
	if in >= 0 {
		out.weight[e.depth[in]]++
	}
	if back >= 0 {
		out.weight[e.depth[back]]--
	}
	e.climb(lowest, out.weight)
	for _, w := range out.weight {
		out.own += w * w
	}
	return out, nil
}

// at is the potential in volts at a class, of which b is the reach.
func (a *reach) at(class int, b *reach) float64 {
	if a.column != nil {
		return a.column[class]
	}
	return a.path.ohms(&b.path)
}

// along is the voltage along a branch, of which b is the reach.
func (a *reach) along(of *branch, b *reach) float64 {
	if a.column != nil {
		return a.column[of.a] - a.column[of.b]
	}
	return a.path.ohms(&b.path)
}

// ohms is the resistance between two paths: the volts along one for each ampere along
// the other.
func (a *path) ohms(b *path) float64 {
	if a.part != b.part {
		return 0
	}
	sum := 0.0
	for i, at := range a.place[:min(len(a.place), len(b.place))] {
		if b.place[i] != at {
			break
		}
		sum += a.weight[i] * b.weight[i]
	}
	return sum
}

// across is the resistance in ohms between two classes that hang together.
func (n *Net) across(a, b int) (float64, error) {
	pa, pb := n.parts[n.partOf[a]], n.parts[n.partOf[b]]
	for _, p := range [2]*part{pa, pb} {
		if err := n.factorise(p); err != nil {
			return 0, err
		}
	}
	ka, kb := int32(n.slot[a]), int32(n.slot[b])
	if pa != pb || ka < 0 || kb < 0 {
		// By way of the rails, which one potential holds for a probe.
		return pa.toReference(ka) + pb.toReference(kb), nil
	}
	e := pa.factor
	w := pa.workspace()
	defer pa.spare.Put(w)
	wa, wb := e.unit(ka, w.amps), e.unit(kb, w.volts)
	ohms := 0.0
	for ka != kb {
		var weight float64
		// The earlier place is not above the other.
		if kb < 0 || ka >= 0 && ka < kb {
			weight, ka = wa[e.depth[ka]], e.up[ka]
		} else {
			weight, kb = wb[e.depth[kb]], e.up[kb]
		}
		ohms += weight * weight
	}
	for ; ka >= 0; ka = e.up[ka] {
		d := wa[e.depth[ka]] - wb[e.depth[ka]]
		ohms += d * d
	}
	return ohms, nil
}

// unit makes the weights of the path for 1 A in at a place, in room that is large
// enough.
func (e *elimination) unit(at int32, room []float64) []float64 {
	weight := room[:e.depth[at]+1]
	clear(weight)
	weight[len(weight)-1] = 1
	e.climb(at, weight)
	return weight
}

// toReference is the resistance in ohms between a place and the part's reference, which
// has places below 0.
func (p *part) toReference(at int32) float64 {
	if at < 0 {
		return 0
	}
	w := p.workspace()
	defer p.spare.Put(w)
	ohms := 0.0
	for _, weight := range p.factor.unit(at, w.amps) {
		ohms += weight * weight
	}
	return ohms
}
