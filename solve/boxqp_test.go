package solve

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// program is a quadratic program with bounds.
type program struct {
	q         *mat.SymDense
	c         []float64
	low, high []float64
}

func (p program) objective(x []float64) float64 {
	sum := 0.0
	for i := range x {
		sum += p.c[i] * x[i]
		for j := range x {
			sum += x[i] * p.q.At(i, j) * x[j] / 2
		}
	}
	return sum
}

// size is what the terms of the objective add up to without their signs: its
// rounding is a share of that.
func (p program) size(x []float64) float64 {
	sum := 0.0
	for i := range x {
		sum += math.Abs(p.c[i] * x[i])
		for j := range x {
			sum += math.Abs(x[i]*p.q.At(i, j)*x[j]) / 2
		}
	}
	return sum
}

// inside tells whether x keeps to the bounds.
func (p program) inside(x []float64, slack float64) bool {
	for i := range x {
		if !(x[i] >= p.low[i]-slack && x[i] <= p.high[i]+slack) {
			return false
		}
	}
	return true
}

// brute looks at every one of the 3^n ways to hold each variable at its lower
// bound, at its upper bound or not at all: the free ones follow from a linear
// system (LU, where boxQP uses Cholesky), and the best point within the bounds is
// the answer.
func (p program) brute() (best []float64, value float64) {
	n := len(p.c)
	value = math.Inf(1)
	ways := 1
	for range n {
		ways *= 3
	}
	for way := range ways {
		x := make([]float64, n)
		var free []int
		possible := true
		for i, w := 0, way; i < n; i, w = i+1, w/3 {
			switch w % 3 {
			case 0:
				free = append(free, i)
			case 1:
				x[i] = p.low[i]
			case 2:
				x[i] = p.high[i]
			}
			possible = possible && !math.IsInf(x[i], 0)
		}
		if !possible {
			continue
		}
		if len(free) > 0 {
			a := mat.NewDense(len(free), len(free), nil)
			b := mat.NewVecDense(len(free), nil)
			for k, i := range free {
				sum := -p.c[i]
				for j := range x {
					sum -= p.q.At(i, j) * x[j] // 0 where j is free
				}
				b.SetVec(k, sum)
				for l, j := range free {
					a.Set(k, l, p.q.At(i, j))
				}
			}
			var lu mat.LU
			lu.Factorize(a)
			if err := lu.SolveVecTo(b, false, b); err != nil {
				if _, doubtful := err.(mat.Condition); !doubtful {
					continue
				}
			}
			for k, i := range free {
				x[i] = b.AtVec(k)
			}
		}
		// Points a rounding outside count: their neighbour on the bound does too.
		if p.inside(x, 1e-12*(1+biggest(x))) {
			if v := p.objective(x); v < value {
				best, value = x, v
			}
		}
	}
	return best, value
}

func biggest(x []float64) float64 {
	m := 0.0
	for _, v := range x {
		m = math.Max(m, math.Abs(v))
	}
	return m
}

// drawProgram draws a program of a kind: matrices of small whole numbers, so that
// minimisers fall on bounds exactly; ones that are singular but for a ridge, as a
// bus is but for its switches' resistances (Z of two drivers on one pair of
// conductors has equal rows); random ones over several decades.
func drawProgram(t *rapid.T, most int) program {
	n := rapid.IntRange(1, most).Draw(t, "n")
	p := program{q: mat.NewSymDense(n, nil), c: make([]float64, n), low: make([]float64, n), high: make([]float64, n)}
	rank, ridge, scale := n, 1.0, 1.0
	switch rapid.SampledFrom([]string{"whole", "bus", "wide"}).Draw(t, "kind") {
	case "bus":
		// 60 Ω seen by everybody, 24 Ω for each switch.
		rank = rapid.IntRange(0, 1).Draw(t, "rank")
		ridge, scale = 24, 60
	case "wide":
		ridge = math.Pow(10, float64(rapid.IntRange(-6, 3).Draw(t, "ridge")))
		rank = rapid.IntRange(0, n).Draw(t, "rank")
	}
	for range rank {
		row := make([]float64, n)
		for i := range row {
			row[i] = float64(rapid.IntRange(-3, 3).Draw(t, "row"))
		}
		p.q.SymRankOne(p.q, scale, mat.NewVecDense(n, row))
	}
	for i := range n {
		p.q.SetSym(i, i, p.q.At(i, i)+ridge)
	}
	for i := range n {
		p.low[i] = float64(rapid.IntRange(-3, 2).Draw(t, "low"))
		p.high[i] = p.low[i] + float64(rapid.IntRange(0, 4).Draw(t, "width")) // of no width too
		if rapid.IntRange(0, 3).Draw(t, "no low") == 0 {
			p.low[i] = math.Inf(-1)
		}
		if rapid.IntRange(0, 3).Draw(t, "no high") == 0 {
			p.high[i] = math.Inf(1)
		}
	}
	if rapid.Bool().Draw(t, "at") {
		// The unbound minimiser is a whole number: often right on a bound.
		at := make([]float64, n)
		for i := range at {
			at[i] = float64(rapid.IntRange(-3, 4).Draw(t, "minimiser"))
		}
		for i := range n {
			for j := range n {
				p.c[i] -= p.q.At(i, j) * at[j]
			}
		}
	} else {
		for i := range n {
			p.c[i] = float64(rapid.IntRange(-200, 200).Draw(t, "c"))
		}
	}
	return p
}

// boxQP against every set of bounds, and against the conditions of a minimum
// (Karush, Kuhn and Tucker; textbook: with a positive definite matrix they are
// enough, and there is one minimum). That it returns at all is half of the test.
func TestBoxQPAgainstEverySetOfBounds(t *testing.T) {
	worst, atBound, free := 0.0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawProgram(t, 5)
		x, ok := boxQP(p.q, p.c, p.low, p.high)
		if !ok {
			t.Fatalf("no answer for a positive definite matrix %v", mat.Formatted(p.q))
		}
		if !p.inside(x, 0) {
			t.Fatalf("%v is not within %v to %v", x, p.low, p.high)
		}
		best, value := p.brute()
		d := (p.objective(x) - value) / (p.size(best) + p.size(x) + 1e-300)
		worst = math.Max(worst, math.Abs(d))
		if !(math.Abs(d) <= 1e-12) {
			t.Errorf("objective %.17g at %v, by trying all sets %.17g at %v", p.objective(x), x, value, best)
		}
		for i := range x {
			if x[i] == p.low[i] || x[i] == p.high[i] {
				atBound++
			} else {
				free++
			}
		}
	})
	t.Logf("objective off by %.2g of its terms at worst; %d variables at a bound, %d free", worst, atBound, free)
	if atBound == 0 || free == 0 {
		t.Error("the programs do not cover both")
	}
}

// With up to 14 variables, more than seven senders at once: it ends, meets the
// conditions of a minimum, and no point within the bounds is better.
func TestBoxQPIsTheMinimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProgram(t, 14)
		x, ok := boxQP(p.q, p.c, p.low, p.high)
		if !ok || !p.inside(x, 0) {
			t.Fatalf("ok %v, %v within %v to %v", ok, x, p.low, p.high)
		}
		for i := range x {
			slope, size := p.c[i], math.Abs(p.c[i])
			for j := range x {
				slope += p.q.At(i, j) * x[j]
				size += math.Abs(p.q.At(i, j) * x[j])
			}
			// Uphill is allowed at the lower bound, downhill at the upper one.
			if x[i] != p.low[i] && slope > 1e-9*size || x[i] != p.high[i] && slope < -1e-9*size {
				t.Errorf("slope %g (terms of %g) at x[%d] = %v within %v to %v", slope, size, i, x[i], p.low[i], p.high[i])
			}
		}
		rng := rand.New(rand.NewPCG(3, uint64(len(x))))
		value := p.objective(x)
		for range 200 {
			y := make([]float64, len(x))
			for i := range y {
				// Near and far, and exactly on bounds.
				y[i] = x[i] + rng.NormFloat64()*math.Pow(10, float64(rng.IntN(8)-6))
				if rng.IntN(3) == 0 {
					y[i] = x[i]
				}
				y[i] = math.Min(math.Max(y[i], p.low[i]), p.high[i])
			}
			if v := p.objective(y); v < value-1e-12*(p.size(y)+p.size(x)) {
				t.Errorf("%.17g at %v is below %.17g at %v", v, y, value, x)
			}
		}
	})
}

// Programs of which the answer can be read off.
func TestBoxQPByHand(t *testing.T) {
	inf := math.Inf(1)
	for _, test := range []struct {
		name         string
		q            []float64
		c, low, high []float64
		want         []float64
	}{
		{"free", []float64{2}, []float64{-6}, []float64{-inf}, []float64{inf}, []float64{3}},
		{"minimiser exactly at the upper bound", []float64{2}, []float64{-6}, []float64{0}, []float64{3}, []float64{3}},
		{"minimiser exactly at the lower bound", []float64{2}, []float64{-6}, []float64{3}, []float64{4}, []float64{3}},
		{"above", []float64{2}, []float64{-6}, []float64{0}, []float64{1}, []float64{1}},
		{"below", []float64{2}, []float64{6}, []float64{0}, []float64{1}, []float64{0}},
		{"no width", []float64{2}, []float64{6}, []float64{5}, []float64{5}, []float64{5}},
		// The steeper slope is that of the variable that cannot move.
		{"no width beside one that is let go of", []float64{1, 0, 0, 1}, []float64{-9, -2}, []float64{0, 0}, []float64{0, 9}, []float64{0, 2}},
		{"no slope at the start", []float64{2}, []float64{0}, []float64{0}, []float64{1}, []float64{0}},
		{"two alike share", []float64{25, 1, 1, 25}, []float64{-26, -26}, []float64{0, 0}, []float64{9, 9}, []float64{1, 1}},
		// The second at its limit of 1 leaves the first (26 − 1)/25.
		{"one limits", []float64{25, 1, 1, 25}, []float64{-26, -52}, []float64{0, 0}, []float64{9, 1}, []float64{1, 1}},
		// The first alone: x = 2, and the second's slope −1 + 2·2 is uphill.
		{"one blocks the other", []float64{1, 2, 2, 5}, []float64{-2, -1}, []float64{0, 0}, []float64{9, 9}, []float64{2, 0}},
		// Both are let go of in turn and the first has to come back.
		{"taken up again", []float64{5, 4, 4, 5}, []float64{-4, -5}, []float64{0, 0}, []float64{9, 9}, []float64{0, 1}},
	} {
		n := len(test.c)
		x, ok := boxQP(mat.NewSymDense(n, test.q), test.c, test.low, test.high)
		if !ok {
			t.Errorf("%s: no answer", test.name)
			continue
		}
		for i := range x {
			if math.Abs(x[i]-test.want[i]) > 1e-15 {
				t.Errorf("%s: %v, want %v", test.name, x, test.want)
				break
			}
		}
	}
	if x, ok := boxQP(mat.NewSymDense(2, []float64{1, 2, 2, 1}), []float64{-1, -1}, []float64{-inf, -inf}, []float64{inf, inf}); ok {
		t.Errorf("a matrix that is not positive definite gives %v", x)
	}
}
