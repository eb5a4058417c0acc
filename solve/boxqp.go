package solve

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// boxQP minimises ½ xᵀQx + cᵀx over low ≤ x ≤ high, Q symmetric and positive
// definite, and gives x. It is the problem that a bus with drivers comes down to:
// each x is a driver's current, 0 when its diode blocks, the limit when it
// limits, and between the two it follows its resistance.
//
// It is the primal active-set method. It stops: each pass either reaches the one
// minimiser on the current set of bounds, and then lets go of a bound against
// which the objective still falls, or takes up a bound that stands in the way.
// From one minimiser to the next the objective falls strictly, a minimiser
// belongs to its set of bounds alone, and there are 3^n such sets; between two
// minimisers bounds are only taken up, n at most. In floating point a fall may be
// mere rounding; should a set come back, its minimiser is the answer.
func boxQP(q *mat.SymDense, c, low, high []float64) ([]float64, bool) {
	n := len(c)
	x := make([]float64, n)
	held := make([]bool, n)
	for i := range x {
		// Start at the bound nearest to 0, drivers blocked.
		x[i] = math.Min(math.Max(0, low[i]), high[i])
		held[i] = x[i] == low[i] || x[i] == high[i]
	}
	seen := map[string]bool{}
	gradient := make([]float64, n)
	slope := func() {
		for i := range gradient {
			gradient[i] = c[i]
			for j := range x {
				gradient[i] += q.At(i, j) * x[j]
			}
		}
	}
	for {
		target, ok := minimiseFree(q, c, x, held)
		if !ok {
			return nil, false
		}
		// Go there as far as the bounds allow.
		step, blocked := 1.0, false
		for i := range x {
			d := target[i] - x[i]
			switch {
			case held[i]:
			case target[i] < low[i]:
				step, blocked = math.Min(step, (low[i]-x[i])/d), true
			case target[i] > high[i]:
				step, blocked = math.Min(step, (high[i]-x[i])/d), true
			}
		}
		for i := range x {
			if held[i] {
				continue
			}
			d := target[i] - x[i]
			switch {
			case !blocked:
				x[i] = target[i]
			case target[i] < low[i] && (low[i]-x[i])/d <= step:
				x[i], held[i] = low[i], true
			case target[i] > high[i] && (high[i]-x[i])/d <= step:
				x[i], held[i] = high[i], true
			default:
				x[i] += step * d
			}
		}
		if blocked {
			continue
		}
		// At the minimiser on these bounds: let go of the one against which the
		// objective falls fastest, in the units of its own curvature.
		slope()
		worst, at := 0.0, -1
		for i := range x {
			if !held[i] || low[i] == high[i] {
				continue // one of no width stays where it is
			}
			fall := 0.0
			if x[i] == low[i] {
				fall = math.Max(fall, -gradient[i])
			}
			if x[i] == high[i] {
				fall = math.Max(fall, gradient[i])
			}
			// What rounding makes of a slope of nothing is no slope.
			noise := 1e-13 * (math.Abs(c[i]) + math.Abs(gradient[i]-c[i]))
			if fall > noise && fall*fall/q.At(i, i) > worst {
				worst, at = fall*fall/q.At(i, i), i
			}
		}
		set := boundSet(x, low, high, held)
		if at < 0 || seen[set] {
			return x, true
		}
		seen[set] = true
		held[at] = false
	}
}

// boundSet names a set of held bounds.
func boundSet(x, low, high []float64, held []bool) string {
	set := make([]byte, len(x))
	for i := range x {
		switch {
		case !held[i]:
			set[i] = '-'
		case x[i] == low[i]:
			set[i] = 'l'
		default:
			set[i] = 'h'
		}
	}
	return string(set)
}

// minimiseFree minimises over the free variables, the held ones as they are.
func minimiseFree(q *mat.SymDense, c, x []float64, held []bool) ([]float64, bool) {
	out := append([]float64(nil), x...)
	var free []int
	for i := range x {
		if !held[i] {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return out, true
	}
	// Without an estimate of the condition, which would cost more than all the rest: each
	// driver's own resistance keeps the matrix away from being singular, and one that is
	// says so.
	m := len(free)
	a := blas64.Symmetric{N: m, Stride: m, Data: make([]float64, m*m), Uplo: blas.Upper}
	b := blas64.General{Rows: m, Cols: 1, Stride: 1, Data: make([]float64, m)}
	for k, i := range free {
		sum := -c[i]
		for j := range x {
			if held[j] {
				sum -= q.At(i, j) * x[j]
			}
		}
		b.Data[k] = sum
		for l := k; l < m; l++ {
			a.Data[k*m+l] = q.At(i, free[l])
		}
	}
	chol, ok := lapack64.Potrf(a)
	if !ok {
		return nil, false
	}
	lapack64.Potrs(chol, b)
	for k, i := range free {
		out[i] = b.Data[k]
	}
	return out, true
}
