package derivation

import (
	"math"
	"slices"
	"strings"
)

// fold lays one conductor on the other where both are laid out alike as seen from
// the leads, and tells whether it could. The points half-way between them then are
// all at half the voltage, so nothing flows among them and they count as one
// (Bartlett's bisection, 1927). What is left is written as people draw it: both
// conductors of a wire as one resistance, a resistance between the conductors as it
// is.
func (p *paper) fold() bool {
	for i, r := range p.d.Resistances {
		if p.live[i] && r.Volts != 0 {
			return false
		}
	}
	m, ok := p.mirror(p.from, p.to)
	if !ok || !p.sides(p.from, m) {
		return false
	}
	inputs := p.all()
	for _, i := range inputs {
		p.remove(i)
	}
	p.asOne(Loop, inputs, m)
	p.step(Fold, "", inputs, p.all())
	p.from = p.pairs[p.from]
	p.drop() // what is at rest for good hangs on the middle alone
	return true
}

// image says what lies on the other side of a harness whose two conductors are alike:
// for each point and each resistance its partner, which may be itself, and whether a
// point lies on the red lead's side.
type image struct {
	points  []int
	partner map[int]int
	side    []bool
}

// alone tells whether a point is its own partner.
func (m *image) alone(k int) bool { return m.points[k] == k }

// all lists the resistances that are there.
func (p *paper) all() []int {
	var out []int
	for i, live := range p.live {
		if live {
			out = append(out, i)
		}
	}
	return out
}

// asOne puts down both conductors as one. In a loop a wire and its partner lie one behind
// the other, what lies between the conductors is as it is, and all that is half-way is
// one point, the black lead's from now on. Tied, a wire and its partner lie side by
// side, and what is between the conductors does not count.
func (p *paper) asOne(fold Folding, inputs []int, m *image) {
	middle, join, how := -1, "+", " side by side"
	if fold == Loop {
		middle, join, how = p.point(Middle), "/", ""
		p.rail[middle] = true
	}
	p.pairs = map[int]int{}
	at := func(k int) int {
		switch {
		case !m.alone(k) && m.side[k]:
			return p.pairOf(k, m.points[k], join)
		case !m.alone(k):
			return p.pairOf(m.points[k], k, join)
		case fold == Loop:
			return middle
		}
		return k
	}
	for _, i := range inputs {
		r, j := p.d.Resistances[i], m.partner[i]
		s := p.d.Resistances[j]
		a, b := at(r.a), at(r.b)
		if fold == Loop && i == j && a == b {
			b = middle // between the conductors, or from middle to middle
		}
		if j < i || a == b {
			continue // counted with its partner, or without any voltage
		}
		out := Resistance{Name: r.Name, Kind: r.Kind, Part: r.Part, Fold: fold, Ohms: r.Ohms, a: a, b: b, kin: r.kin, Elements: r.Elements}
		if i != j {
			out.Name, out.Ohms = nameOfBoth(&r, &s, how), r.Ohms+s.Ohms
			if fold == Tied {
				out.Ohms = r.Ohms * s.Ohms / (r.Ohms + s.Ohms)
			}
			out.kin, out.Elements = slices.Concat(r.kin, s.kin), slices.Concat(r.Elements, s.Elements)
		}
		if fold == Tied {
			out.Volts = r.Volts
		} else if a == middle {
			out.a, out.b = b, a
		}
		p.add(out)
	}
	if fold == Loop {
		p.to, p.ground = middle, middle
	}
}

// pairOf is the point that stands for a point and its partner.
func (p *paper) pairOf(k, m int, join string) int {
	if at, there := p.pairs[k]; there {
		return at
	}
	at := p.point(bothNames(p.names[k], p.names[m], join))
	p.depth[at], p.place[at] = p.depth[k], p.place[k]
	p.pairs[k] = at
	p.origin[at] = [2]int{k, m}
	return at
}

// mirror finds for each point and each resistance the one on the other side, given
// two points that are each other's, and tells whether there is one for all. Some
// points are their own.
func (p *paper) mirror(from, to int) (m *image, ok bool) {
	points := make([]int, len(p.names))
	for i := range points {
		points[i] = -1
	}
	points[from], points[to] = to, from
	partner := map[int]int{}
	queue := [][2]int{{from, to}}
	for len(queue) > 0 || p.seed(points, &queue) {
		if len(queue) == 0 {
			continue
		}
		a, b := queue[0][0], queue[0][1]
		queue = queue[1:]
		for _, e := range p.at[a] {
			if _, done := partner[e]; done {
				continue
			}
			x := p.other(e, a)
			best, bestScore := -1, -1
			for _, f := range p.at[b] {
				if _, done := partner[f]; done || !p.alike(e, f) {
					continue
				}
				y := p.other(f, b)
				if y == a && x != b || x == b && f != e {
					continue // between the two sides a resistance is its own partner
				}
				if points[x] >= 0 && points[x] != y || points[x] < 0 && points[y] >= 0 {
					continue
				}
				score := 0
				if p.d.Resistances[e].Part == p.d.Resistances[f].Part {
					score += 2
				}
				if points[x] == y || x == y {
					score++
				}
				if score > bestScore {
					best, bestScore = f, score
				}
			}
			if best < 0 {
				return nil, false
			}
			partner[e], partner[best] = best, e
			y := p.other(best, b)
			if points[x] < 0 {
				points[x], points[y] = y, x
				if x != y {
					queue = append(queue, [2]int{x, y})
				}
			}
		}
	}
	// Whatever the search took for granted is held against every resistance.
	for i, live := range p.live {
		if !live {
			continue
		}
		r := &p.d.Resistances[i]
		j, there := partner[i]
		if !there && points[r.a] == r.a && points[r.b] == r.b {
			partner[i] = i
			continue
		}
		if !there || partner[j] != i {
			return nil, false
		}
		s := &p.d.Resistances[j]
		if !(points[r.a] == s.a && points[r.b] == s.b || points[r.a] == s.b && points[r.b] == s.a) {
			return nil, false
		}
	}
	return &image{points: points, partner: partner}, true
}

// seed goes on with what hangs on points that are their own partners: two points of one
// place are taken for partners, a point that is alone at its place for its own. It
// tells whether there was one left.
func (p *paper) seed(points []int, queue *[][2]int) bool {
	for k := range points {
		if points[k] >= 0 || len(p.at[k]) == 0 {
			continue
		}
		for m := k + 1; m < len(points); m++ {
			if points[m] < 0 && p.place[m] == p.place[k] && len(p.at[m]) == len(p.at[k]) {
				points[k], points[m] = m, k
				*queue = append(*queue, [2]int{k, m})
				return true
			}
		}
		points[k] = k
		return true
	}
	return false
}

// alike tells whether two resistances may be each other's partners: one length cut into
// the same pieces may round differently, but no more.
func (p *paper) alike(i, j int) bool {
	r, s := &p.d.Resistances[i], &p.d.Resistances[j]
	return r.Kind == s.Kind && math.Abs(r.Ohms-s.Ohms) <= 1e-13*r.Ohms
}

// sides says which points lie on the side of the first. It fails where a
// resistance other than one between a point and its own partner crosses over.
func (p *paper) sides(first int, m *image) (ok bool) {
	points, side := m.points, make([]bool, len(m.points))
	known := make([]bool, len(points))
	for start := -1; start < len(points); start++ {
		k := start
		if start < 0 {
			k = first
		}
		if points[k] < 0 || points[k] == k || known[k] {
			continue
		}
		queue := []int{k}
		side[k], known[k], known[points[k]] = true, true, true
		for len(queue) > 0 {
			at := queue[0]
			queue = queue[1:]
			for _, i := range p.at[at] {
				to := p.other(i, at)
				if points[to] == to || m.partner[i] == i {
					continue
				}
				if known[to] {
					if !side[to] {
						return false
					}
					continue
				}
				side[to], known[to], known[points[to]] = true, true, true
				queue = append(queue, to)
			}
		}
	}
	m.side = side
	return true
}

// bothNames names a point and its partner: S1.H/L, X3.21/22.
func bothNames(a, b, join string) string {
	cut := 0
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			break
		}
		if a[i] == '.' || a[i] == ' ' {
			cut = i + 1
		}
	}
	if cut == 0 || strings.Contains(b[cut:], " ") {
		return a + " " + join + " " + b
	}
	return a + join + b[cut:]
}

// nameOfBoth names two partners as one.
func nameOfBoth(r, s *Resistance, how string) string {
	switch {
	case r.Part != s.Part || r.Part == "":
		return r.Name + " and " + s.Name + how
	case r.Kind == Wire:
		return "both wires of " + r.Part + how
	case r.Kind == Contact:
		return "both contacts of " + r.Part + how
	case r.Kind == Input:
		return "both inputs of " + r.Part + how
	case r.Kind == Terminator:
		return "terminator " + r.Part
	}
	return r.Name + " and " + s.Name + how
}
