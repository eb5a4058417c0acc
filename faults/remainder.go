package faults

import (
	"cmp"
	"math"
	"slices"
)

// Of very many sets each may have next to nothing and all together have something. Those
// that are left, neither ruled out nor weighed, are estimated: of every so many that look
// alike a few are weighed, and stand for the others.

// remainder is sets that were left, with an estimate of the log of what each has.
type remainder struct {
	sets []found
	logs []float64
}

const (
	// layers are what sets are parted into by their score, the last one half of them, the
	// one before half of what is left, and so on.
	layers = 6
	// drawn is how many of a layer are weighed.
	drawn = 12
	// faintly is how far beneath what is known, in natural logarithms, a whole layer may
	// lie to be of no account.
	faintly = 9.0
)

// estimate estimates sets that were left; by has the tolerances to look for the best place
// with, known the log of all that is known to explain the readings.
func (s *search) estimate(left []found, by *weighed, known float64) remainder {
	out := remainder{sets: left, logs: make([]float64, len(left))}
	// Scores of those that were put in order anew are bounds, of the others a rough measure:
	// they are not of one kind.
	var kinds [2][]int
	for i := range left {
		out.logs[i] = math.Inf(-1)
		if left[i].at != nil {
			kinds[0] = append(kinds[0], i)
		} else {
			kinds[1] = append(kinds[1], i)
		}
	}
	type layer struct{ sets, sample []int }
	var all []layer
	for _, sets := range kinds {
		slices.SortStableFunc(sets, func(a, b int) int { return cmp.Compare(left[b].score, left[a].score) })
		for k := layers - 1; k >= 0 && len(sets) > 0; k-- {
			n := max(len(sets)>>k, min(len(sets), drawn))
			if k == 0 {
				n = len(sets)
			}
			x := layer{sets: sets[:n]}
			for d := range min(drawn, n) {
				x.sample = append(x.sample, sets[(2*d+1)*n/(2*min(drawn, n))])
			}
			all, sets = append(all, x), sets[n:]
		}
	}
	var sample []int
	for _, x := range all {
		sample = append(sample, x.sample...)
	}
	got := make([]float64, len(left))
	enough := known - faintly - math.Log(float64(len(left)))
	s.spread(len(sample), func(w *worker, k int) {
		i := sample[k]
		set := left[i]
		got[i] = math.Inf(-1)
		if set.at == nil && !w.sift(&set, by, enough) {
			return
		}
		if x := w.integrate(&set, enough-set.said, by); x.err == nil {
			got[i] = x.all()
		}
	})
	for _, x := range all {
		mean := math.Inf(-1)
		for _, i := range x.sample {
			mean = logAdd(mean, got[i])
		}
		mean -= math.Log(float64(len(x.sample)))
		for _, i := range x.sets {
			out.logs[i] = mean
		}
	}
	return out
}
