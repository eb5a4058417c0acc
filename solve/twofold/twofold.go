// Package twofold computes with numbers of about 32 decimal digits, each kept as
// the sum of two float64. It is for the few places where a difference of large
// numbers is wanted with all the digits of a float64: what is left of 10 MΩ when a
// short has made 10 mΩ of them.
//
// The algorithms are the classic ones: Dekker, A floating-point technique for
// extending the available precision, Numerische Mathematik 18 (1971), and Knuth,
// The Art of Computer Programming, volume 2, section 4.2.2 (the exact sum of two
// numbers); from memory. The test holds them against math/big.
package twofold

import "math"

// Number is Hi + Lo, where Lo is at most half a unit in the last place of Hi. The
// zero value is 0. Infinities and NaN give NaN.
type Number struct{ Hi, Lo float64 }

// From is a float64 as a Number.
func From(x float64) Number { return Number{Hi: x} }

// Float is the nearest float64.
func (x Number) Float() float64 { return x.Hi + x.Lo }

// sum is a + b exactly.
func sum(a, b float64) Number {
	s := a + b
	t := s - a
	return Number{s, (a - (s - t)) + (b - t)}
}

// fast is a + b exactly where |a| ≥ |b| or a is 0.
func fast(a, b float64) Number {
	s := a + b
	return Number{s, b - (s - a)}
}

// Product is a · b exactly, but for what falls below the smallest float64.
func Product(a, b float64) Number {
	p := a * b
	return Number{p, math.FMA(a, b, -p)}
}

// Add is x + y. The relative error is below 2⁻¹⁰⁴ also where they nearly cancel.
func (x Number) Add(y Number) Number {
	s, t := sum(x.Hi, y.Hi), sum(x.Lo, y.Lo)
	s = fast(s.Hi, s.Lo+t.Hi)
	return fast(s.Hi, s.Lo+t.Lo)
}

// Neg is −x.
func (x Number) Neg() Number { return Number{-x.Hi, -x.Lo} }

// Sub is x − y.
func (x Number) Sub(y Number) Number { return x.Add(y.Neg()) }

// Mul is x · y.
func (x Number) Mul(y Number) Number {
	p := Product(x.Hi, y.Hi)
	return fast(p.Hi, p.Lo+(x.Hi*y.Lo+x.Lo*y.Hi))
}

// Times is x · y.
func (x Number) Times(y float64) Number {
	p := Product(x.Hi, y)
	return fast(p.Hi, math.FMA(x.Lo, y, p.Lo))
}

// Div is x / y.
func (x Number) Div(y Number) Number {
	a := x.Hi / y.Hi
	r := x.Sub(y.Times(a))
	b := r.Hi / y.Hi
	r = r.Sub(y.Times(b))
	q := fast(a, b)
	return q.Add(From(r.Hi / y.Hi))
}

// Inverse is 1 / x.
func Inverse(x float64) Number { return From(1).Div(From(x)) }
