package faults

import (
	"math"
	"slices"
)

// polish goes from a place of the free values to the nearest one that all readings
// together speak for, by a few steps of Gauss and Newton's in the logarithms of ohms, each
// held back (after Levenberg and Marquardt) as far as it takes for the readings to come
// closer. It stays within the free ranges.
func (w *worker) polish(p *parting, at []float64, z *frozen) []float64 {
	const (
		most    = 24    // steps that are tried
		apart   = 1e-3  // between two places that a slope is taken from
		short   = 1e-3  // a step that is shorter in all directions is the last
		gain    = 1e-3  // so is one that brings the readings no closer than that, as a square
		held    = 1e-2  // at first
		relaxed = 0.2   // by a step that was good
		harder  = 8     // by one that was not
		level   = 1e-12 // added to directions in which nothing changes
	)
	dims := len(p.free)
	best := slices.Clone(at)
	if dims == 0 {
		return best
	}
	n := len(z.w)
	w.trial = sized(w.trial, (dims+2)*n)
	now, next := w.trial[:n], w.trial[n:2*n]
	slope := func(d int) []float64 { return w.trial[(d+2)*n : (d+3)*n] }
	var x, to, step, down [3]float64
	for d, k := range p.free {
		x[d] = math.Log(best[k])
	}
	ohms := slices.Clone(best)
	read := func(at *[3]float64, into []float64) float64 {
		for d, k := range p.free {
			ohms[k] = math.Exp(at[d])
		}
		w.read(ohms, w.out)
		return z.whiten(w.out, into)
	}
	least, hold := read(&x, now), held
	fresh := true // slopes are to be taken
	var curve [3][3]float64
	for range most {
		if fresh {
			for d := range dims {
				to = x
				if to[d] += apart; to[d] > p.all.high[d] {
					to[d] = x[d] - apart
				}
				s := slope(d)
				read(&to, s)
				for i := range s {
					s[i] = (s[i] - now[i]) / (to[d] - x[d])
				}
			}
			for d := range dims {
				down[d] = -dot(slope(d), now)
				for e := 0; e <= d; e++ {
					curve[d][e] = dot(slope(d), slope(e))
					curve[e][d] = curve[d][e]
				}
			}
			fresh = false
		}
		a, b := curve, down
		for d := range dims {
			a[d][d] += hold*curve[d][d] + level
			if down[d] < 0 && x[d] <= p.all.low[d] || down[d] > 0 && x[d] >= p.all.high[d] {
				// It is at its end, and stays there.
				for e := range dims {
					a[d][e], a[e][d] = 0, 0
				}
				a[d][d], b[d] = 1, 0
			}
		}
		solveSmall(&a, &b, &step, dims)
		longest := 0.0
		for d := range dims {
			to[d] = max(p.all.low[d], min(p.all.high[d], x[d]+step[d]))
			longest = max(longest, math.Abs(to[d]-x[d]))
		}
		if !(longest > short) {
			break
		}
		square := read(&to, next)
		if !(square < least) {
			hold *= harder
			continue
		}
		done := least-square < gain
		x, least, fresh = to, square, true
		now, next = next, now
		hold *= relaxed
		if done {
			break
		}
	}
	for d, k := range p.free {
		best[k] = math.Exp(x[d])
	}
	return best
}

// solveSmall solves a symmetric positive definite system of up to three equations, which
// it overwrites.
func solveSmall(a *[3][3]float64, b, x *[3]float64, n int) {
	*x = *b
	for i := range n {
		for j := i + 1; j < n; j++ {
			f := a[j][i] / a[i][i]
			for k := i; k < n; k++ {
				a[j][k] -= f * a[i][k]
			}
			x[j] -= f * x[i]
		}
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= a[i][k] * x[k]
		}
		x[i] /= a[i][i]
	}
}
