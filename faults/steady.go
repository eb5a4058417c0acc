package faults

import (
	"cmp"
	"math"
	"slices"
)

// sortSteadily puts a list in order by falling value. What is level but for rounding
// keeps the order that it came in: the last bit of a sum must not decide which of two
// equal parts is named first.
func sortSteadily[T any](list []T, value func(*T) float64) {
	type entry struct {
		at    int
		value float64
		x     T
	}
	order := make([]entry, len(list))
	for i := range list {
		order[i] = entry{i, value(&list[i]), list[i]}
	}
	slices.SortStableFunc(order, func(a, b entry) int { return cmp.Compare(b.value, a.value) })
	const level = 1e-6 // of the value
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && order[from].value-order[to].value <= level*math.Abs(order[from].value) {
			to++
		}
		slices.SortFunc(order[from:to], func(a, b entry) int { return a.at - b.at })
		from = to
	}
	for i := range order {
		list[i] = order[i].x
	}
}
