package sequence

import (
	"math"
	"slices"
)

// Bounds are what no plan that tells all repairs apart can do better than.
type Bounds struct {
	// Bits is the entropy of the repairs.
	Bits float64
	// Tests is the mean length of a Huffman code for the repairs, with as many
	// letters as the test with most outcomes has: any plan is such a code, of which
	// Huffman's is the shortest. +Inf if no test has two outcomes.
	Tests float64
	// Minutes is the higher of two: Tests with the minutes of the shortest test, and
	// Bits at the highest rate that there could be (the logarithm of a test's
	// outcomes over its minutes). Reaching places and changing the setting are left
	// out, since they may be paid for already.
	Minutes float64
}

// Bounds works out the lower bounds of a problem. They hold for plans that end with
// one repair left in every branch, Optimal's among them if the tests allow it.
func (p *Problem) Bounds() (Bounds, error) {
	if err := p.Validate(); err != nil {
		return Bounds{}, err
	}
	s := begin(p, Stop{})
	out := Bounds{Bits: s.Entropy()}
	if len(s.ends) == 1 {
		return out, nil
	}
	letters, shortest, perBit := 1, math.Inf(1), math.Inf(1)
	for i := range p.Tests {
		if n := len(p.Tests[i].Chance); n > 1 {
			letters = max(letters, n)
			shortest = min(shortest, p.Tests[i].Minutes)
			perBit = min(perBit, p.Tests[i].Minutes/math.Log2(float64(n)))
		}
	}
	out.Tests = huffman(s.byClass(), letters)
	out.Minutes = max(out.Tests*shortest, out.Bits*perBit)
	return out, nil
}

// huffman is the mean length of the shortest code with so many letters for several
// probabilities.
func huffman(probability []float64, letters int) float64 {
	if letters < 2 {
		return math.Inf(1)
	}
	w := slices.Clone(probability)
	for (len(w)-1)%(letters-1) != 0 { // so that every step takes as many as there are letters
		w = append(w, 0)
	}
	mean := 0.0
	for len(w) > 1 {
		slices.Sort(w)
		sum := 0.0
		for _, x := range w[:letters] {
			sum += x
		}
		mean += sum
		w = append(w[letters:], sum)
	}
	return mean
}
