// Package minimal finds the smallest sets of things that explain what was seen: faults
// that together silence the modules that are silent, components without which a device's
// behaviour is no contradiction. Best first, so that nothing cheaper is left out.
package minimal

import (
	"container/heap"
	"slices"
)

// Sets lists minimal sets of at most so many of the things 0 to len(cost)−1, the
// cheapest first: sets that explain, and of which no subset does. A set's cost is the sum
// of its members'; costs must not be negative (a negative logarithm of a probability is
// not).
//
// explain tells whether a set explains. Where it does not, missing lists things of which
// at least one must be in every larger set that does; none, if no larger one does. The
// more missing leaves out, the less is tried. A set that explains must not stop doing so
// as more is added, or it is no longer so that the sets found are all that are minimal.
//
// limit is the greatest number of sets; all is false where there are more, or where as
// many as tries sets were looked at.
func Sets(cost []float64, most, limit, tries int, explain func(set []int) (missing []int, ok bool)) (sets [][]int, all bool) {
	open := &queue{{}}
	seen := map[string]bool{"": true}
	for open.Len() > 0 {
		x := heap.Pop(open).(candidate)
		if slices.ContainsFunc(sets, func(s []int) bool { return subset(s, x.set) }) {
			continue // a smaller one does
		}
		if len(sets) == limit || tries == 0 {
			return sets, false
		}
		tries--
		missing, ok := explain(x.set)
		if ok {
			sets = append(sets, x.set)
			continue
		}
		if len(x.set) == most {
			continue
		}
		for _, k := range missing {
			at, has := slices.BinarySearch(x.set, k)
			if has {
				continue
			}
			larger := slices.Insert(slices.Clone(x.set), at, k)
			if name := key(larger); !seen[name] {
				seen[name] = true
				heap.Push(open, candidate{larger, x.cost + cost[k]})
			}
		}
	}
	return sets, true
}

// subset tells whether all of a, which is in order as b is, is in b.
func subset(a, b []int) bool {
	for _, x := range a {
		if _, has := slices.BinarySearch(b, x); !has {
			return false
		}
	}
	return true
}

func key(set []int) string {
	var out []byte
	for _, k := range set {
		out = append(out, byte(k), byte(k>>8), byte(k>>16), byte(k>>24))
	}
	return string(out)
}

// candidate is a set that is yet to be looked at.
type candidate struct {
	set  []int // in order
	cost float64
}

// queue has the cheapest on top; of those that are level, the smallest, then the first.
type queue []candidate

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	a, b := &q[i], &q[j]
	switch {
	case a.cost != b.cost:
		return a.cost < b.cost
	case len(a.set) != len(b.set):
		return len(a.set) < len(b.set)
	}
	return slices.Compare(a.set, b.set) < 0
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(candidate)) }
func (q *queue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}
