package faults

import "example.com/ohmloom/netlist/disjoint"

// Testability is how well a table's readings find and tell apart its faults, in
// the terms of IEEE 1522. Every fault counts with its rate.
type Testability struct {
	// Detected is the fraction of faults detected (FFD): the rates of the
	// faults with a reading that no healthy harness gives (all tolerances at
	// their limits, the instrument's error included), over the rates of all
	// faults of the table.
	Detected float64
	// Undetected are the rows that no reading detects, by index.
	Undetected []int
	// Groups are the ambiguity groups among the detected rows: two faults are
	// told apart where at some reading the 95 % intervals do not overlap, and
	// faults that are not told apart, be it through others, form one group. The
	// rule is the cautious one, since with tolerances "not told apart" does not
	// carry over from one to the next.
	Groups [][]int
	// IsolatedTo1 and IsolatedTo3 are the fractions of faults isolated (FFI) to
	// a group of one, and of three at most, over the detected faults.
	IsolatedTo1, IsolatedTo3 float64
	// IsolatedToPart is the fraction of detected faults whose group holds but
	// one part to repair.
	IsolatedToPart float64
}

// Testability analyses a table.
func (t *Table) Testability() Testability {
	detected := make([]bool, len(t.Rows))
	for i := range t.Rows {
		detected[i] = t.Rows[i].Detected()
	}
	return t.grouped(detected, t.group)
}

// grouped works out the figures from which rows are detected and how those fall into
// groups.
func (t *Table) grouped(detects []bool, group func(rows []int) [][]int) Testability {
	var out Testability
	var all, detected, to1, to3, toPart float64
	var rows []int
	for i := range t.Rows {
		rate := t.Rows[i].Fault.Rate
		all += rate
		if detects[i] {
			detected += rate
			rows = append(rows, i)
		} else {
			out.Undetected = append(out.Undetected, i)
		}
	}
	out.Groups = group(rows)
	for _, g := range out.Groups {
		rate := 0.0
		parts := map[string]bool{}
		for _, i := range g {
			rate += t.Rows[i].Fault.Rate
			parts[t.Rows[i].Fault.Part] = true
		}
		if len(g) == 1 {
			to1 += rate
		}
		if len(g) <= 3 {
			to3 += rate
		}
		if len(parts) == 1 {
			toPart += rate
		}
	}
	if all > 0 {
		out.Detected = detected / all
	}
	if detected > 0 {
		out.IsolatedTo1, out.IsolatedTo3, out.IsolatedToPart = to1/detected, to3/detected, toPart/detected
	}
	return out
}

// group parts rows into sets that the readings cannot tell apart.
func (t *Table) group(rows []int) [][]int {
	sets := disjoint.New(len(rows))
	for i := range rows {
		for j := i + 1; j < len(rows); j++ {
			if sets.Find(i) != sets.Find(j) && !t.ToldApart(rows[i], rows[j]) {
				sets.Join(i, j)
			}
		}
	}
	out := sets.Together()
	for _, g := range out {
		for k := range g {
			g[k] = rows[g[k]]
		}
	}
	return out
}

// ToldApart says whether some reading tells two rows apart: their 95 % intervals
// do not overlap there.
func (t *Table) ToldApart(a, b int) bool {
	for i := range t.Probes {
		if !t.Rows[a].likely[i].overlaps(t.Rows[b].likely[i]) {
			return true
		}
	}
	return false
}
