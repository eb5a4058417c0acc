package derivation

import (
	"math"
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
	points, partner, ok := p.mirror()
	if !ok {
		return false
	}
	side, ok := p.sides(points, partner)
	if !ok {
		return false
	}
	var inputs []int
	for i, live := range p.live {
		if live {
			inputs = append(inputs, i)
		}
	}
	names := make([]string, len(p.names))
	for k, m := range points {
		if side[k] && m >= 0 && m != k {
			names[k] = bothNames(p.names[k], p.names[m])
		}
	}
	for _, i := range inputs {
		p.remove(i)
	}
	middle := p.point(Middle)
	for k, name := range names {
		if name != "" {
			p.names[k] = name
		}
	}
	p.makeUnique()
	p.at = append(p.at, nil)
	p.depth, p.place = append(p.depth, 0), append(p.place, -1-middle)
	var outputs []int
	for _, i := range inputs {
		r := p.d.Resistances[i]
		j := partner[i]
		s := &p.d.Resistances[j]
		if r.a != p.from && !side[r.a] && points[r.a] != r.a || r.b != p.from && !side[r.b] && points[r.b] != r.b {
			if i != j {
				continue // counted with its partner
			}
		}
		alone := func(k int) bool { return points[k] == k }
		if alone(r.a) && alone(r.b) {
			continue // from middle to middle: no voltage, no current
		}
		out := Resistance{Kind: r.Kind, Part: r.Part, Both: true}
		switch {
		case i == j: // from one side to the other
			out.Ohms, out.Name = r.Ohms, r.Name
			out.a, out.b = r.a, middle
			if !side[r.a] {
				out.a = r.b
			}
			out.kin, out.Elements = []int{i}, []string{r.Name}
		default:
			out.Ohms, out.Name = r.Ohms+s.Ohms, nameOfBoth(&r, s)
			out.a, out.b = r.a, r.b
			if alone(r.a) {
				out.a, out.b = r.b, middle
			} else if alone(r.b) {
				out.b = middle
			}
			out.kin, out.Elements = []int{i, j}, []string{r.Name, s.Name}
		}
		outputs = append(outputs, p.add(out))
	}
	p.step(Fold, "", inputs, outputs)
	p.to, p.ground, p.mirrored = middle, middle, points
	p.rail[middle] = true
	return true
}

// mirror finds for each point and each resistance the one on the other side, and
// tells whether there is one for all. Some points are their own.
func (p *paper) mirror() (points []int, partner map[int]int, ok bool) {
	points = make([]int, len(p.names))
	for i := range points {
		points[i] = -1
	}
	points[p.from], points[p.to] = p.to, p.from
	partner = map[int]int{}
	queue := [][2]int{{p.from, p.to}}
	for len(queue) > 0 {
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
				return nil, nil, false
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
			return nil, nil, false
		}
		s := &p.d.Resistances[j]
		if !(points[r.a] == s.a && points[r.b] == s.b || points[r.a] == s.b && points[r.b] == s.a) {
			return nil, nil, false
		}
	}
	return points, partner, true
}

// alike tells whether two resistances may be each other's partners.
func (p *paper) alike(i, j int) bool {
	r, s := &p.d.Resistances[i], &p.d.Resistances[j]
	return r.Kind == s.Kind && math.Abs(r.Ohms-s.Ohms) <= 1e-13*r.Ohms
}

// sides says which points lie on the side of the red lead. It fails where a
// resistance other than one between a point and its own partner crosses over.
func (p *paper) sides(points []int, partner map[int]int) (side []bool, ok bool) {
	side = make([]bool, len(points))
	known := make([]bool, len(points))
	for start := -1; start < len(points); start++ {
		k := start
		if start < 0 {
			k = p.from
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
				if points[to] == to || partner[i] == i {
					continue
				}
				if known[to] {
					if !side[to] {
						return nil, false
					}
					continue
				}
				side[to], known[to], known[points[to]] = true, true, true
				queue = append(queue, to)
			}
		}
	}
	return side, true
}

// bothNames names a point and its partner: S1.H/L, X3.21/22.
func bothNames(a, b string) string {
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
		return a + " and " + b
	}
	return a + "/" + b[cut:]
}

// nameOfBoth names two partners as one.
func nameOfBoth(r, s *Resistance) string {
	switch {
	case r.Part != s.Part || r.Part == "":
		return r.Name + " and " + s.Name
	case r.Kind == Wire:
		return "both wires of " + r.Part
	case r.Kind == Contact:
		return "both contacts of " + r.Part
	case r.Kind == Input:
		return "both inputs of " + r.Part
	case r.Kind == Terminator:
		return "terminator " + r.Part
	}
	return r.Name + " and " + s.Name
}
