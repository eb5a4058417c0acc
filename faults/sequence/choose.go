package sequence

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Chooser says which test is next, by index; negative: none is worth doing.
type Chooser func(*Situation) int

// Greedy chooses the test that is expected to say most about the repair for each
// minute that it takes, and does not look further.
func Greedy() Chooser {
	return func(s *Situation) int {
		if best, ok := s.best(); ok {
			return best.Test
		}
		return -1
	}
}

// LookAhead weighs the candidates that are best by Greedy's measure, width of them
// (1 at least), by the minutes that each is expected to lead to: its own, then those
// of Greedy for so many tests ahead as are given, then an estimate. The estimate is
// the best test there, and what is still in question after it at that test's rate
// without the journey. With 0 ahead it so looks two tests deep. With more ahead than
// a plan is long nothing is estimated, and if all plans learn the same it is never
// worse than Greedy (rollout: Bertsekas, Tsitsiklis and Wu 1997, from memory). 2
// ahead is nearly as good; the work grows with each.
//
// Other objectives were tried on the instances of TestAgainstOptimum. The bits of
// two tests over the minutes of both, the entropy at the rate of the best test with
// its journey, and the length of a Huffman code as the estimate all come out worse
// than 1 ahead; entropy at the first test's own rate is Greedy over again. What
// helps is to follow Greedy, most so where places cost minutes to reach: what one
// journey makes cheap shows only in the tests after it.
func LookAhead(width, ahead int) Chooser {
	return func(s *Situation) int {
		all := s.Candidates()
		if len(all) == 0 {
			return -1
		}
		slices.SortFunc(all, func(a, b Candidate) int {
			switch {
			case a.better(b):
				return -1
			case b.better(a):
				return 1
			}
			return 0
		})
		price := all[0].Minutes / all[0].Bits
		choice, least := -1, math.Inf(1)
		for _, c := range all[:min(max(width, 1), len(all))] {
			minutes := s.toGo(c, ahead, price)
			if minutes < least*(1-1e-9) { // of equals, Greedy's own order
				choice, least = c.Test, minutes
			}
		}
		return choice
	}
}

// toGo is the minutes to go with a test and with Greedy after it. Bits that are
// still in question where nothing more can be done, or a plan is cut, have a price
// in minutes each, so that not knowing is never cheap.
func (s *Situation) toGo(c Candidate, ahead int, price float64) float64 {
	minutes := c.Minutes
	for _, n := range s.after(c.Test) {
		if n == nil {
			continue
		}
		share := n.probability / s.probability
		end, over := n.over()
		if over && (end == Told || end == SureEnough) {
			continue
		}
		var best Candidate
		if !over {
			var any bool
			best, any = n.best()
			over = !any
		}
		switch {
		case over:
			minutes += share * n.Entropy() * price
		case ahead <= 0:
			again := s.problem.Tests[best.Test].Minutes / best.Bits
			minutes += share * (best.Minutes + max(0, n.Entropy()-best.Bits)*again)
		default:
			minutes += share * n.toGo(best, ahead-1, price)
		}
	}
	return minutes
}

// FixedOrder chooses the first test of a list that still says something; tests
// that are not in it are not done.
func FixedOrder(tests ...int) Chooser {
	return func(s *Situation) int {
		all := s.Candidates()
		for _, t := range tests {
			if slices.ContainsFunc(all, func(c Candidate) bool { return c.Test == t }) {
				return t
			}
		}
		return -1
	}
}

// Random chooses evenly among the tests that say something. The seed fixes what it
// draws, one plan after the other; it is not for several plans at once.
func Random(seed uint64) Chooser {
	r := rand.New(rand.NewPCG(seed, 0))
	return func(s *Situation) int {
		all := s.Candidates()
		if len(all) == 0 {
			return -1
		}
		return all[r.IntN(len(all))].Test
	}
}
