package faults

import (
	"cmp"
	"slices"

	"example.com/ohmloom/netlist/disjoint"
)

// Layout is how testable a harness is from the places that can be reached, and what
// one further test point would add.
type Layout struct {
	// Base is the testability by the readings at rest (ohms with the supply off, each
	// connector plugged and unplugged, idle volts) at the places reached.
	Base   Testability
	Table  *Table
	Places []string
	// Further are the other places as test points, the most useful first.
	Further []TestPoint
}

// TestPoint is a place where a meter cannot get yet.
type TestPoint struct {
	Site string
	// Testability with the place added.
	Testability Testability
	// Gain is how much more of all faults is isolated to one part to repair.
	Gain float64
}

// Isolated is the fraction of all faults that are detected and isolated to one part.
func (t *Testability) Isolated() float64 { return t.Detected * t.IsolatedToPart }

// AnalyseLayout weighs the layout of a harness with places that are reached within so
// many minutes (0 for all that can be reached). A further test point is a place that
// takes longer, or a splice that a meter does not get to at all, read with everything
// plugged in.
func (x *Matcher) AnalyseLayout(within float64, progress func(done, of int)) (*Layout, error) {
	probes := layoutProbes(x.c)
	inside := map[string]bool{}
	out := &Layout{}
	for i := range x.c.Sites {
		s := &x.c.Sites[i]
		if inside[s.Name] = reached(s, within); inside[s.Name] {
			out.Places = append(out.Places, s.Name)
		}
	}
	t, err := MakeTable(x.c, x.faults, probes, x.in, progress)
	if err != nil {
		return nil, err
	}
	out.Table = t
	var base []int
	further := map[string][]int{}
	for k, p := range probes {
		switch {
		case inside[p.Site]:
			base = append(base, k)
		case len(p.Condition.Unplugged) == 0:
			further[p.Site] = append(further[p.Site], k)
		}
	}
	open := t.together(base)
	out.Base = t.testability(base, open)
	for i := range x.c.Sites {
		s := &x.c.Sites[i]
		columns := further[s.Name]
		if len(columns) == 0 {
			continue
		}
		left := slices.DeleteFunc(slices.Clone(open), func(pair [2]int) bool { return t.toldApartBy(pair[0], pair[1], columns) })
		p := TestPoint{Site: s.Name, Testability: t.testability(append(slices.Clone(base), columns...), left)}
		p.Gain = p.Testability.Isolated() - out.Base.Isolated()
		out.Further = append(out.Further, p)
	}
	slices.SortStableFunc(out.Further, func(a, b TestPoint) int { return cmp.Compare(b.Gain, a.Gain) })
	return out, nil
}

// toldApartBy is [Table.ToldApart] by some readings.
func (t *Table) toldApartBy(a, b int, columns []int) bool {
	for _, i := range columns {
		if !t.Rows[a].likely[i].overlaps(t.Rows[b].likely[i]) {
			return true
		}
	}
	return false
}

// together lists the pairs of rows that some readings do not tell apart.
func (t *Table) together(columns []int) [][2]int {
	var out [][2]int
	for a := range t.Rows {
		for b := a + 1; b < len(t.Rows); b++ {
			if !t.toldApartBy(a, b, columns) {
				out = append(out, [2]int{a, b})
			}
		}
	}
	return out
}

// testability analyses a table by some of its readings, given which pairs of rows
// they do not tell apart.
func (t *Table) testability(columns []int, together [][2]int) Testability {
	detected := make([]bool, len(t.Rows))
	for i := range t.Rows {
		for _, k := range columns {
			detected[i] = detected[i] || t.Rows[i].Marks[k] == Outside
		}
	}
	return t.grouped(detected, func(rows []int) [][]int {
		sets := disjoint.New(len(t.Rows))
		for _, p := range together {
			if detected[p[0]] && detected[p[1]] {
				sets.Join(p[0], p[1])
			}
		}
		var out [][]int
		for _, g := range sets.Together() {
			if detected[g[0]] {
				out = append(out, g)
			}
		}
		return out
	})
}
