package derivation

import "slices"

// tieAndReduce works out a reading from one conductor to a point that the two
// conductors see alike (ground, as a rule), where they are laid out alike. A current
// into one of them is half of it into both alike and half of it in at the one and out
// at the other. The first is the reading of both tied together; the second makes half
// of what it would across the two, and half of that falls on the one: a quarter of the
// reading across. It tells whether it could.
func (p *paper) tieAndReduce() bool {
	from, to := p.from, p.to
	a, before := p.peel(from, to)
	b, behind := p.peel(to, a)
	peeled := append(slices.Clone(before), behind...)
	for _, i := range peeled {
		p.remove(i)
	}
	m, ok := p.otherSide(a, b)
	if !ok || !p.evenSources(m) || !p.sides(a, m) {
		return false
	}
	inputs := p.all()
	for _, i := range inputs {
		p.remove(i)
	}
	p.asOne(Tied, inputs, m)
	p.step(Tie, p.names[b], inputs, p.all())
	p.from, p.to = p.pairs[a], b
	p.drop()
	p.reduce()
	common := p.all()
	if len(common) != 1 {
		return false
	}
	p.remove(common[0]) // put aside
	ground := p.ground
	p.asOne(Loop, inputs, m)
	p.step(Fold, "", inputs, p.all())
	p.from = p.pairs[a]
	p.drop()
	p.reduce()
	across := p.all()
	if len(across) != 1 {
		return false
	}
	p.remove(across[0])
	c, l := &p.d.Resistances[common[0]], &p.d.Resistances[across[0]]
	out := Resistance{Kind: Derived, Ohms: c.Ohms + l.Ohms/4, Volts: p.towards(common[0], p.pairedAs(c, a)), a: a, b: b}
	last := []int{common[0], across[0]}
	out.kin = p.kinOf(last)
	p.ground = ground
	i := p.add(out)
	p.step(Quarter, p.names[b], last, []int{i})
	p.from, p.to = from, to
	if len(peeled) > 0 {
		for _, i := range peeled {
			p.restore(i)
		}
		p.reduce()
	}
	return true
}

// pairedAs is the end of a resistance that stands for a point.
func (p *paper) pairedAs(r *Resistance, k int) int {
	if p.origin[r.a][0] == k {
		return r.a
	}
	return r.b
}

// restore puts a resistance back.
func (p *paper) restore(i int) {
	p.live[i] = true
	r := &p.d.Resistances[i]
	p.rays[r.a], p.rays[r.b] = -1, -1
	p.at[r.a] = append(p.at[r.a], i)
	p.at[r.b] = append(p.at[r.b], i)
}

// peel goes along a lead's own wire to the first point where the way parts.
func (p *paper) peel(from, stop int) (at int, along []int) {
	at, last := from, -1
	for {
		next := -1
		for _, i := range p.at[at] {
			if i == last {
				continue
			}
			if next >= 0 {
				return at, along
			}
			next = i
		}
		if next < 0 || p.other(next, at) == stop {
			return at, along
		}
		at, last = p.other(next, at), next
		along = append(along, next)
	}
}

// otherSide finds the mirror image of everything as seen from a point, with its
// partner at the same place.
func (p *paper) otherSide(a, b int) (m *image, ok bool) {
	for k := range p.names {
		if k == a || k == b || p.rail[k] || p.place[k] != p.place[a] || len(p.at[k]) == 0 {
			continue
		}
		if m, ok = p.mirror(a, k); ok && m.alone(b) {
			return m, true
		}
	}
	return nil, false
}

// evenSources tells whether sources drive both sides alike.
func (p *paper) evenSources(m *image) bool {
	for i, live := range p.live {
		if !live {
			continue
		}
		r, j := &p.d.Resistances[i], m.partner[i]
		if j == i {
			if r.Volts != 0 && !m.alone(r.a) {
				return false
			}
			continue
		}
		if r.Volts != p.towards(j, m.points[r.a]) {
			return false
		}
	}
	return true
}
