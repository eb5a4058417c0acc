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
	// drawn is how many of a layer are weighed, one of fewOf before the others.
	drawn, fewOf = 12, 4
	// faintly is how far beneath what is known, in natural logarithms, a whole layer may
	// lie at most to be of no account: one in a thousand.
	faintly = 7.0
	// otherwise is by how much a set's own tolerances may make more of it than another
	// one's do.
	otherwise = 5.0
)

// layer is sets that look alike by their score, as indices, with those that stand for them.
type layer struct{ sets, sample []int }

// inLayers parts sets into layers.
func inLayers(left []found) []layer {
	// Scores of those that were put in order anew are bounds, of the others a rough measure:
	// they are not of one kind.
	var kinds [2][]int
	for i := range left {
		kind := 1
		if left[i].at != nil {
			kind = 0
		}
		kinds[kind] = append(kinds[kind], i)
	}
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
	return all
}

// estimate estimates sets that were left; by has the tolerances to look for the best place
// with, known the log of all that is known to explain the readings.
func (s *search) estimate(left []found, by *weighed, known float64) remainder {
	out := remainder{sets: left, logs: make([]float64, len(left))}
	for i := range out.logs {
		out.logs[i] = math.Inf(-1)
	}
	all := inLayers(left)
	mean := func(x layer, of []float64) float64 {
		sum := math.Inf(-1)
		for _, i := range x.sample {
			sum = logAdd(sum, of[i])
		}
		return sum - math.Log(float64(len(x.sample)))
	}
	var sample []int
	for _, x := range all {
		sample = append(sample, x.sample...)
	}
	below := known - faintly - math.Log(float64(len(left)))
	// At their very best first: most layers are of no account.
	most, got := make([]float64, len(left)), make([]float64, len(left))
	s.spread(len(sample), func(w *worker, k int) {
		i := sample[k]
		w.sift(&left[i], by, false, below-otherwise)
		most[i] = left[i].score
	})
	sample = sample[:0]
	all = slices.DeleteFunc(all, func(x layer) bool {
		return mean(x, most)+math.Log(float64(len(x.sets))) < known-faintly-otherwise
	})
	weigh := func(w *worker, k int) {
		i := sample[k]
		if most[i] < below-otherwise {
			return
		}
		if x := w.integrate(&left[i], below-left[i].said, by); x.err == nil {
			got[i] = x.all()
		}
	}
	for i := range got {
		got[i] = math.Inf(-1)
	}
	// A few of a layer show whether it is worth the others.
	for _, x := range all {
		for d := 1; d < len(x.sample); d += fewOf {
			sample = append(sample, x.sample[d])
		}
	}
	s.spread(len(sample), weigh)
	sample = sample[:0]
	for _, x := range all {
		worth := len(x.sample) < drawn
		for d := 1; d < len(x.sample); d += fewOf {
			worth = worth || got[x.sample[d]] > below
		}
		for d, i := range x.sample {
			if worth && d%fewOf != 1 {
				sample = append(sample, i)
			}
		}
	}
	s.spread(len(sample), weigh)
	for _, x := range all {
		log := mean(x, got)
		for _, i := range x.sets {
			out.logs[i] = log
		}
	}
	return out
}
