package derivation

import "slices"

// reduce goes from the far ends towards the leads: series and parallel while they
// last, then the star with the fewest rays, the farthest of those first.
func (p *paper) reduce() {
	for {
		best, bestRays := -1, 0
		for k := range p.names {
			if k == p.from || k == p.to || len(p.at[k]) == 0 {
				continue
			}
			rays := max(p.neighbours(k), 2)
			if best < 0 || rays < bestRays || rays == bestRays && p.depth[k] > p.depth[best] {
				best, bestRays = k, rays
			}
		}
		switch {
		case best < 0:
			p.bundles(p.from)
			return
		case p.bundles(best):
		case len(p.at[best]) == 1:
			p.cut(best)
		case len(p.at[best]) == 2:
			p.chain(best)
		case p.tidy(best):
		default:
			p.mesh(best)
		}
	}
}

// tidy joins what lies in parallel at the whole place of a point that is to be taken
// out, and tells whether there was any. Where there is none it notes what stands for
// all that hangs there.
func (p *paper) tidy(k int) bool {
	var here []int
	for x := range p.names {
		if p.place[x] == p.place[k] && len(p.at[x]) > 0 {
			if p.bundles(x) {
				return true
			}
			here = append(here, x)
		}
	}
	within := func(x int) bool { return p.rail[x] || p.place[x] == p.place[k] }
	var hanging []int
	for _, x := range here {
		for _, i := range p.at[x] {
			if r := &p.d.Resistances[i]; within(r.a) && within(r.b) && (r.a == x || r.b == x && !slices.Contains(here, r.a)) {
				hanging = append(hanging, i)
			}
		}
	}
	for _, e := range p.d.Equivalents {
		if e.place == p.place[k] {
			return false
		}
	}
	if len(hanging) > 0 {
		e := Equivalent{BeforeStep: len(p.d.Steps), Resistances: hanging, place: p.place[k]}
		for _, x := range here {
			e.Points = append(e.Points, p.names[x])
		}
		p.d.Equivalents = append(p.d.Equivalents, e)
	}
	return false
}

// neighbours counts the points that a point has resistances to.
func (p *paper) neighbours(k int) int {
	if p.rays[k] < 0 {
		p.rays[k] = 0
		first := p.marks.begin(len(p.names))
		for _, i := range p.at[k] {
			if first(p.other(i, k)) {
				p.rays[k]++
			}
		}
	}
	return p.rays[k]
}

// marks tells what is met for the first time, again and again without clearing.
type marks struct {
	round int
	met   []int // the round in which each was met last
}

// begin begins a new round among n things.
func (m *marks) begin(n int) (first func(i int) bool) {
	m.round++
	m.met = append(m.met, make([]int, max(0, n-len(m.met)))...)
	return func(i int) bool {
		was := m.met[i]
		m.met[i] = m.round
		return was != m.round
	}
}

// bundles joins the resistances of a point that lie in parallel and tells whether
// there were any.
func (p *paper) bundles(k int) bool {
	var ends []int
	byEnd := map[int][]int{}
	for _, i := range p.at[k] {
		to := p.other(i, k)
		if byEnd[to] == nil {
			ends = append(ends, to)
		}
		byEnd[to] = append(byEnd[to], i)
	}
	done := false
	for _, to := range ends {
		inputs := byEnd[to]
		if len(inputs) < 2 {
			continue
		}
		done = true
		// From the first one's A to its B, so that a source keeps its sign.
		from, end := p.d.Resistances[inputs[0]].a, p.d.Resistances[inputs[0]].b
		siemens, amps := 0.0, 0.0
		for _, i := range inputs {
			g := 1 / p.d.Resistances[i].Ohms
			siemens += g
			amps += g * p.towards(i, from)
		}
		for _, i := range inputs {
			p.remove(i)
		}
		out := p.derive(from, end, 1/siemens, amps/siemens, inputs)
		p.step(Parallel, "", inputs, []int{out})
	}
	return done
}

// cut drops a dead end that a step has left.
func (p *paper) cut(k int) {
	i := p.at[k][0]
	at := p.other(i, k)
	p.remove(i)
	p.step(Drop, p.names[at], []int{i}, nil)
}

// chain joins the whole chain of resistances that a point is part of.
func (p *paper) chain(k int) {
	passes := func(x int) bool { return x != p.from && x != p.to && len(p.at[x]) == 2 && x != p.ground }
	follow := func(first int) (end int, list []int) {
		at, i := k, first
		for {
			list = append(list, i)
			at = p.other(i, at)
			if !passes(at) || at == k {
				return at, list
			}
			next := p.at[at][0]
			if next == i {
				next = p.at[at][1]
			}
			i = next
		}
	}
	farEnd, back := follow(p.at[k][0])
	nearEnd, on := follow(p.at[k][1])
	slices.Reverse(back)
	inputs := append(back, on...)
	from := farEnd
	if farEnd == p.ground {
		// From ground is not how a source is looked at.
		slices.Reverse(inputs)
		from, nearEnd = nearEnd, farEnd
	}
	if from == nearEnd {
		for _, i := range inputs {
			p.remove(i)
		}
		p.step(Drop, p.names[from], inputs, nil)
		return
	}
	ohms, volts, at := 0.0, 0.0, from
	for _, i := range inputs {
		ohms += p.d.Resistances[i].Ohms
		volts += p.towards(i, at)
		at = p.other(i, at)
	}
	for _, i := range inputs {
		p.remove(i)
	}
	out := p.derive(from, nearEnd, ohms, volts, inputs)
	p.step(Series, "", inputs, []int{out})
}

// mesh takes a point out: between each two of its neighbours comes a resistance
// that is the product of theirs times the sum of all conductances (Kennelly 1899 for
// three, Rosen 1924 for any number); its volts are the difference of theirs.
func (p *paper) mesh(k int) {
	inputs := append([]int(nil), p.at[k]...)
	siemens := 0.0
	for _, i := range inputs {
		siemens += 1 / p.d.Resistances[i].Ohms
	}
	type ray struct {
		end         int
		ohms, volts float64
	}
	var rays []ray
	for _, i := range inputs {
		rays = append(rays, ray{p.other(i, k), p.d.Resistances[i].Ohms, p.towards(i, k)})
	}
	for _, i := range inputs {
		p.remove(i)
	}
	var outputs []int
	for x, a := range rays {
		for _, b := range rays[x+1:] {
			from, to := a, b
			if from.end == p.ground {
				from, to = b, a
			}
			i := p.derive(from.end, to.end, from.ohms*to.ohms*siemens, to.volts-from.volts, inputs)
			p.d.Resistances[i].meshed = true
			outputs = append(outputs, i)
		}
	}
	p.step(Mesh, p.names[k], inputs, outputs)
}
