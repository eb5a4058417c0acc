package twofold_test

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/solve/twofold"
)

func exact(x twofold.Number) *big.Rat {
	hi, lo := new(big.Rat).SetFloat64(x.Hi), new(big.Rat).SetFloat64(x.Lo)
	return hi.Add(hi, lo)
}

// near tells whether got is want within 2⁻¹⁰⁰ of it.
func near(got twofold.Number, want *big.Rat) bool {
	d := new(big.Rat).Sub(exact(got), want)
	limit := new(big.Rat).Mul(want, new(big.Rat).SetFrac64(1, 1<<50))
	limit.Mul(limit, new(big.Rat).SetFrac64(1, 1<<50))
	return d.Abs(d).Cmp(limit.Abs(limit)) <= 0
}

// Sums, products and quotients against rational numbers; sums also of numbers that
// nearly cancel.
func TestAgainstRationals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) twofold.Number {
			x := rapid.Float64Range(1e-12, 1e12).Draw(t, name)
			if rapid.Bool().Draw(t, name+" is negative") {
				x = -x
			}
			rest := rapid.Float64Range(-1, 1).Draw(t, name+" low")
			return twofold.From(x).Add(twofold.From(x * rest * 0x1p-54))
		}
		x, y := draw("x"), draw("y")
		if rapid.Bool().Draw(t, "cancel") {
			y = x.Neg().Add(twofold.From(x.Hi * rapid.Float64Range(-1e-14, 1e-14).Draw(t, "what is left")))
		}
		a, b := exact(x), exact(y)
		if got, want := x.Add(y), new(big.Rat).Add(a, b); !near(got, want) {
			t.Errorf("%v + %v = %v, want %v", x, y, got, want.FloatString(50))
		}
		if got, want := x.Sub(y), new(big.Rat).Sub(a, b); !near(got, want) {
			t.Errorf("%v − %v = %v, want %v", x, y, got, want.FloatString(50))
		}
		if got, want := x.Mul(y), new(big.Rat).Mul(a, b); !near(got, want) {
			t.Errorf("%v · %v = %v, want %v", x, y, got, want.FloatString(50))
		}
		if got, want := x.Times(y.Hi), new(big.Rat).Mul(a, new(big.Rat).SetFloat64(y.Hi)); !near(got, want) {
			t.Errorf("%v · %v = %v, want %v", x, y.Hi, got, want.FloatString(50))
		}
		if y.Hi == 0 {
			return
		}
		if got, want := x.Div(y), new(big.Rat).Quo(a, b); !near(got, want) {
			t.Errorf("%v / %v = %v, want %v", x, y, got, want.FloatString(50))
		}
		if got, want := twofold.Inverse(y.Hi), new(big.Rat).Inv(new(big.Rat).SetFloat64(y.Hi)); !near(got, want) {
			t.Errorf("1 / %v = %v, want %v", y.Hi, got, want.FloatString(50))
		}
		if got, _ := exact(x).Float64(); got != x.Float() {
			t.Errorf("%v as float64 is %v, want %v", x, x.Float(), got)
		}
	})
}

// bᵀ A⁻¹ b of matrices with a positive and a negative definite block, of very
// unequal size and in any order, against elimination in rational numbers. A zero on
// the diagonal is drawn as well.
func TestSymmetricAgainstRationals(t *testing.T) {
	var s twofold.Symmetric
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "rows")
		a := make([][]*big.Rat, n)
		b := make([]twofold.Number, n)
		s.Reset(n)
		draw := func(name string) float64 {
			return rapid.Float64Range(-1, 1).Draw(t, name)
		}
		m := make([][]float64, n)
		for i := range m {
			m[i] = make([]float64, n)
			for j := range m {
				m[i][j] = draw("m")
			}
			b[i] = twofold.From(draw("b"))
		}
		positive := rapid.IntRange(0, n).Draw(t, "positive")
		zero := positive > 0 && positive < n && rapid.Bool().Draw(t, "zero on the diagonal")
		for i := range a {
			a[i] = make([]*big.Rat, n)
		}
		for i := 0; i < n; i++ {
			for j := 0; j <= i; j++ {
				x := 0.0
				switch {
				case (i < positive) != (j < positive):
					x = m[i][j]
				default:
					for k := range n {
						x += m[i][k] * m[j][k]
					}
					if i == j {
						x += 0.1
					}
					if i >= positive {
						x = -x
					}
				}
				if zero && i == 0 {
					x = 0
				}
				if zero && j == 0 && i < positive {
					x = 0
				}
				if zero && j == 0 && i == positive {
					x = 1
				}
				s.Set(i, j, twofold.From(x))
				a[i][j] = new(big.Rat).SetFloat64(x)
				a[j][i] = a[i][j]
			}
		}
		if !s.Factor() {
			t.Fatal("singular")
		}
		w := make([]twofold.Number, n)
		s.Reduce(b, w)
		var got twofold.Number
		for k := range w {
			got = got.Add(w[k].Mul(w[k]).Div(s.Pivot(k)))
		}
		want := quadratic(a, b)
		d := new(big.Rat).Sub(exact(got), want)
		if e, _ := d.Abs(d).Float64(); e > 1e-18*(1+abs(want)) {
			t.Errorf("%v, want %s", got, want.FloatString(40))
		}
	})
	s.Reset(2)
	if s.Factor() {
		t.Error("a matrix of zeros is not singular")
	}
	// Nothing on the diagonal at all: [0 3; 3 0], and the same beside another row.
	s.Reset(3)
	a := [][]*big.Rat{{new(big.Rat), big.NewRat(3, 1), big.NewRat(1, 2)}, {big.NewRat(3, 1), new(big.Rat), big.NewRat(1, 4)}, {big.NewRat(1, 2), big.NewRat(1, 4), new(big.Rat)}}
	for i := range a {
		for j := range i {
			x, _ := a[i][j].Float64()
			s.Set(i, j, twofold.From(x))
		}
	}
	b, w := []twofold.Number{twofold.From(1), twofold.From(-2), twofold.From(5)}, make([]twofold.Number, 3)
	if !s.Factor() {
		t.Fatal("singular")
	}
	s.Reduce(b, w)
	var got twofold.Number
	for k := range w {
		got = got.Add(w[k].Mul(w[k]).Div(s.Pivot(k)))
	}
	if want := quadratic(a, b); !near(got, want) {
		t.Errorf("%v, want %s", got, want.FloatString(40))
	}
}

func abs(x *big.Rat) float64 {
	y, _ := new(big.Rat).Abs(x).Float64()
	return y
}

// quadratic is bᵀ A⁻¹ b by elimination with any pivot that is not zero.
func quadratic(a [][]*big.Rat, b []twofold.Number) *big.Rat {
	n := len(a)
	rows := make([][]*big.Rat, n)
	for i := range rows {
		rows[i] = append(append([]*big.Rat{}, a[i]...), exact(b[i]))
		for j := range rows[i] {
			rows[i][j] = new(big.Rat).Set(rows[i][j])
		}
	}
	for k := range n {
		p := k
		for rows[p][k].Sign() == 0 {
			p++
		}
		rows[k], rows[p] = rows[p], rows[k]
		for i := range rows {
			if i == k || rows[i][k].Sign() == 0 {
				continue
			}
			f := new(big.Rat).Quo(rows[i][k], rows[k][k])
			for j := range rows[i] {
				rows[i][j].Sub(rows[i][j], new(big.Rat).Mul(f, rows[k][j]))
			}
		}
	}
	sum := new(big.Rat)
	for k := range n {
		x := new(big.Rat).Quo(rows[k][n], rows[k][k])
		sum.Add(sum, x.Mul(x, exact(b[k])))
	}
	return sum
}
