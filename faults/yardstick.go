package faults

import "math"

// yardstick is the tolerances of one explanation, by which others are measured before
// their own are worked out, which costs much more. It is one goroutine's own.
type yardstick struct {
	z *frozen
	// loose is, by finite reading, how uncertain the explanation's prediction may be at
	// most. Where another predicts something that may be more uncertain, a reading off it
	// counts for less in proportion. nil for tolerances that are the measured one's own.
	loose []float64
	// trusting says that none of the readings is taken to be misread.
	trusting bool
}

// measure makes a yardstick of an explanation, kept for the next time; nil where it has no
// tolerances.
func (w *worker) measure(by *judged) *yardstick {
	if w.by == by {
		return w.stick
	}
	w.by, w.stick = by, nil
	if by.covariance == nil {
		return nil
	}
	z := w.e.freeze(by.covariance)
	if z == nil {
		return nil
	}
	w.stick = &yardstick{z: z, trusting: by.trusting()}
	for _, i := range w.s.e.finite {
		w.stick.loose = append(w.stick.loose, w.s.loose.variance(w.s.e, i, by.mean[i], false))
	}
	return w.stick
}

// doubtful is how probable it must be that a reading is misread for the readings to be no
// longer taken together in a bound.
const doubtful = 0.3

// trusting tells whether none of the readings is doubted by an explanation.
func (j *judged) trusting() bool {
	for _, p := range j.misread {
		if p >= doubtful {
			return false
		}
	}
	return true
}

// above bounds the log likelihood of what lies between low and high, on the scale. The
// residuals are made independent of each other first: what a box of readings leaves to
// each of those adds up.
func (w *worker) above(k *yardstick) float64 {
	sum, chi := w.aboveTrusted(k)
	if k.trusting {
		return sum
	}
	return w.aboveDoubted(k, sum, chi)
}

// aboveTrusted is that bound with no reading misread, and the least that χ² can be.
func (w *worker) aboveTrusted(k *yardstick) (sum, chi float64) {
	e, z := w.s.e, k.z
	f := len(e.finite)
	w.mid, w.half = sized(w.mid, f), sized(w.half, f)
	for a, i := range e.finite {
		low, high := e.y[i]-w.high[i], e.y[i]-w.low[i]
		if k.loose != nil && (low > 0 || high < 0) {
			near := w.high[i]
			if high < 0 {
				near = w.low[i]
			}
			if v := w.s.loose.variance(e, i, near, w.rail); v > k.loose[a] {
				share := math.Sqrt(k.loose[a] / v)
				low, high = low*share, high*share
			}
		}
		w.mid[a], w.half[a] = (low+high)/2, (high-low)/2
	}
	for _, row := range z.root {
		if x := away(row, w.mid, w.half); x > 0 {
			chi += x * x
		}
	}
	// An OL reading has a chance of 1 at most.
	return z.top - chi/2, chi
}

// aboveDoubted adds to it that one reading may be misread. What is left of χ² without one
// of them is what all have against the box, less its own share, which no place in the box
// has greater.
func (w *worker) aboveDoubted(k *yardstick, sum, chi float64) float64 {
	const little = 6.0
	z := k.z
	all := logSum{top: sum}
	for a, row := range z.precision {
		if z.top+z.doubt[a] < all.top-little {
			continue // at its best it adds next to nothing
		}
		rest := 0.0
		if own := reach(row, w.mid, w.half); chi*row[a] > own*own {
			rest = chi - own*own/row[a]
		}
		if x := z.top + z.doubt[a] - rest/2; x > all.top-little {
			all.add(x)
		}
	}
	return all.log()
}

// away is how far from nothing a weighed sum of what lies in a box must be.
func away(weights, mid, half []float64) float64 {
	x, free := 0.0, 0.0
	mid, half = mid[:len(weights)], half[:len(weights)]
	for a, u := range weights {
		x += u * mid[a]
		free += math.Abs(u) * half[a]
	}
	return math.Abs(x) - free
}

// reach is how far from nothing it can be at most.
func reach(weights, mid, half []float64) float64 {
	x, free := 0.0, 0.0
	mid, half = mid[:len(weights)], half[:len(weights)]
	for a, u := range weights {
		x += u * mid[a]
		free += math.Abs(u) * half[a]
	}
	return math.Abs(x) + free
}
