package sequence

import (
	"cmp"
	"math"
	"slices"

	"example.com/ohmloom/netlist/disjoint"
)

const (
	tiny      = 1e-9  // states with less posterior are no longer looked at
	leastBits = 1e-9  // below it information is rounding
	rarest    = 1e-18 // branches with less probability are never followed
)

// Situation is what is known, and what has been done, before a test: what a
// [Chooser] chooses by.
type Situation struct {
	*shared
	states  []int32   // that are still possible, ordered by class
	weight  []float64 // their posterior, sum 1
	ends    []int     // of each class in states
	done    []bool    // by test
	been    []bool    // by place
	setting int

	probability float64 // of coming here
	depth       int     // tests done since the start
}

// shared is what all situations of one plan have in common. It has working space,
// so one plan is made by one goroutine.
type shared struct {
	problem *Problem
	stop    Stop
	class   []int32 // by state
	repairs []int   // by class, as the problem has them
	space   []float64
}

// begin is the situation before the first test of a valid problem.
func begin(p *Problem, stop Stop) *Situation {
	sh := &shared{problem: p, stop: stop, class: make([]int32, len(p.Prior))}
	index := map[int]int32{}
	sum := 0.0
	for s, x := range p.Prior {
		r := p.repair(s)
		c, ok := index[r]
		if !ok {
			c = int32(len(sh.repairs))
			index[r] = c
			sh.repairs = append(sh.repairs, r)
		}
		sh.class[s] = c
		sum += x
	}
	out := &Situation{shared: sh, done: make([]bool, len(p.Tests)), been: make([]bool, len(p.Reach)), setting: p.Setting, probability: 1}
	for _, x := range p.Been {
		out.been[x] = true
	}
	left := 0.0
	for s, x := range p.Prior {
		if x > 0 && x >= tiny*sum {
			out.states = append(out.states, int32(s))
			left += x
		}
	}
	slices.SortStableFunc(out.states, func(a, b int32) int { return cmp.Compare(sh.class[a], sh.class[b]) })
	out.weight = make([]float64, len(out.states))
	for k, s := range out.states {
		out.weight[k] = p.Prior[s] / left
	}
	out.markEnds()
	return out
}

// markEnds fills in where each class ends; states are ordered by it.
func (s *Situation) markEnds() {
	for k := range s.states {
		if k+1 == len(s.states) || s.class[s.states[k]] != s.class[s.states[k+1]] {
			s.ends = append(s.ends, k+1)
		}
	}
}

// Entropy is how much is in question about the repair, in bits.
func (s *Situation) Entropy() float64 {
	h := 0.0
	for _, x := range s.byClass() {
		h -= xlog(x)
	}
	return max(0, h/math.Ln2)
}

// byClass gives the posterior of each class that is left, in working space.
func (s *Situation) byClass() []float64 {
	out := s.room(len(s.ends))
	k := 0
	for c, end := range s.ends {
		for ; k < end; k++ {
			out[c] += s.weight[k]
		}
	}
	return out
}

// room gives n zeros of working space.
func (s *Situation) room(n int) []float64 {
	if cap(s.space) < n {
		s.space = make([]float64, n)
	}
	out := s.space[:n]
	clear(out)
	return out
}

// xlog is x ln x, 0 at 0.
func xlog(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return x * math.Log(x)
}

// Minutes is what a test takes if it is next.
func (s *Situation) Minutes(test int) float64 {
	return s.problem.minutes(&s.problem.Tests[test], s.been, s.setting)
}

// Bits is how much a test is expected to say about the repair: the mutual
// information of repair and outcome. A test that was done says nothing again.
func (s *Situation) Bits(test int) float64 {
	if s.done[test] {
		return 0
	}
	// The marginals are sums of the very joint table, so that chances that miss a
	// sum of 1 by rounding do not look like information.
	of := s.room(len(s.ends))
	joint, outcomes, all := 0.0, 0.0, 0.0
	for _, row := range s.problem.Tests[test].Chance {
		sum := 0.0
		k := 0
		for c, end := range s.ends {
			x := 0.0
			for ; k < end; k++ {
				x += s.weight[k] * float64(row[s.states[k]])
			}
			if x > 0 {
				joint += xlog(x)
				of[c] += x
				sum += x
			}
		}
		outcomes += xlog(sum)
		all += sum
	}
	classes := 0.0
	for _, x := range of {
		classes += xlog(x)
	}
	return max(0, (joint-outcomes-classes+xlog(all))/all/math.Ln2)
}

// least is the information, in bits, that makes a test worth doing.
func (s *Situation) least() float64 { return max(leastBits, s.stop.Bits) }

// Candidate is a test that could be next.
type Candidate struct {
	Test    int
	Bits    float64 // see [Situation.Bits]; of what it is a step to, where no test says anything by itself
	Minutes float64 // see [Situation.Minutes]
}

// better orders candidates: more bits a minute, then more bits, then the earlier
// test. Differences of rounding are none.
func (c Candidate) better(d Candidate) bool {
	const slack = 1 + 1e-9
	x, y := c.Bits*d.Minutes, d.Bits*c.Minutes
	if x > y*slack || y > x*slack {
		return x > y
	}
	if c.Bits > d.Bits*slack || d.Bits > c.Bits*slack {
		return c.Bits > d.Bits
	}
	return c.Test < d.Test
}

// best is the candidate with most bits a minute. It is found without weighing all:
// the cheapest first, until none that is left could say enough for its minutes.
func (s *Situation) best() (Candidate, bool) {
	best, ok := s.mostTelling()
	if !ok && len(s.ends) > 1 {
		if by := s.byGroup(); by != nil {
			return by.mostTelling()
		}
	}
	return best, ok
}

// mostTelling is the best among the tests that say something about the classes.
func (s *Situation) mostTelling() (best Candidate, ok bool) {
	left := make([]Candidate, 0, len(s.done))
	question := s.Entropy()
	for t := range s.problem.Tests {
		most := min(question, math.Log2(float64(len(s.problem.Tests[t].Chance))))
		if !s.done[t] && most >= s.least() {
			left = append(left, Candidate{Test: t, Bits: most, Minutes: s.Minutes(t)})
		}
	}
	slices.SortFunc(left, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(a.Minutes*b.Bits, b.Minutes*a.Bits), cmp.Compare(a.Test, b.Test))
	})
	for _, c := range left {
		// The bound is out by what the sums of chances are.
		if ok && c.Bits*best.Minutes*(1+10*sumSlack) < best.Bits*c.Minutes {
			break
		}
		c.Bits = s.Bits(c.Test)
		if c.Bits >= s.least() && (!ok || c.better(best)) {
			best, ok = c, true
		}
	}
	return best, ok
}

// Candidates lists the tests that are worth doing next, by index: those that say
// something about the repair. It may be that none does alone but several do
// together (as two switches that each light or dim the same lamp); then they are
// the tests that tell such groups of states apart. None: nothing more can be known,
// or only from several tests together that each are more than half in doubt.
func (s *Situation) Candidates() []Candidate {
	out := s.telling()
	if len(out) == 0 && len(s.ends) > 1 {
		if by := s.byGroup(); by != nil {
			out = by.telling()
		}
	}
	return out
}

// telling lists the tests that say something about the classes.
func (s *Situation) telling() []Candidate {
	var out []Candidate
	for t := range s.problem.Tests {
		if bits := s.Bits(t); bits >= s.least() { // none in one that is done
			out = append(out, Candidate{Test: t, Bits: bits, Minutes: s.Minutes(t)})
		}
	}
	return out
}

// byGroup is the situation with groups for classes: states that no test left tells
// apart, be it through others. It is nil if knowing the group would say nothing
// about the repair.
func (s *Situation) byGroup() *Situation {
	sets := disjoint.New(len(s.states))
	for a := range s.states {
		for b := a + 1; b < len(s.states); b++ {
			if sets.Find(a) != sets.Find(b) && !s.toldApart(s.states[a], s.states[b]) {
				sets.Join(a, b)
			}
		}
	}
	together := sets.Together()
	group := make([]int, len(s.states))
	for g, members := range together {
		for _, k := range members {
			group[k] = g
		}
	}
	class := make([]int, len(s.states))
	for k, x := range s.states {
		class[k] = int(s.class[x])
	}
	if bitsBetween(class, group, s.weight) < s.least() {
		return nil
	}
	out := *s
	out.states, out.weight, out.ends = nil, nil, nil
	for _, members := range together {
		for _, k := range members {
			out.states = append(out.states, s.states[k])
			out.weight = append(out.weight, s.weight[k])
		}
		out.ends = append(out.ends, len(out.states))
	}
	return &out
}

// toldApart says whether some test left mostly has other outcomes in state a than
// in b: less than half of their chances overlap.
func (s *Situation) toldApart(a, b int32) bool {
	for t := range s.problem.Tests {
		if s.done[t] {
			continue
		}
		overlap := float32(0)
		for _, row := range s.problem.Tests[t].Chance {
			overlap += min(row[a], row[b])
		}
		if overlap < 0.5 {
			return true
		}
	}
	return false
}

// bitsBetween is the mutual information, in bits, of two labels of weighted items.
func bitsBetween(a, b []int, weight []float64) float64 {
	of, ofA, ofB := map[[2]int]float64{}, map[int]float64{}, map[int]float64{}
	for k, w := range weight {
		of[[2]int{a[k], b[k]}] += w
		ofA[a[k]] += w
		ofB[b[k]] += w
	}
	bits := 0.0
	for k, w := range weight { // in their order, so that the sum is always the same
		bits += w * math.Log2(of[[2]int{a[k], b[k]}]/(ofA[a[k]]*ofB[b[k]]))
	}
	return bits
}

// after gives the situation after each outcome of a test; nil for outcomes that
// cannot come.
func (s *Situation) after(test int) []*Situation {
	t := &s.problem.Tests[test]
	next := make([]*Situation, len(t.Chance))
	known := *s
	known.done, known.been = slices.Clone(s.done), slices.Clone(s.been)
	known.done[test] = true
	known.depth++
	for _, x := range t.Places {
		known.been[x] = true
	}
	if t.Setting != Unset {
		known.setting = t.Setting
	}
	scaled := make([]float64, len(s.states))
	for k, x := range s.states {
		scaled[k] = s.weight[k] / t.sum(int(x))
	}
	for o, row := range t.Chance {
		all, kept, left := 0.0, 0, 0.0
		for k, x := range s.states {
			all += scaled[k] * float64(row[x])
		}
		if all == 0 {
			continue
		}
		for k, x := range s.states {
			if w := scaled[k] * float64(row[x]); w >= tiny*all {
				kept++
				left += w
			}
		}
		n := known
		n.probability *= all
		n.states, n.weight, n.ends = make([]int32, 0, kept), make([]float64, 0, kept), nil
		for k, x := range s.states {
			if w := scaled[k] * float64(row[x]); w >= tiny*all {
				n.states = append(n.states, x)
				n.weight = append(n.weight, w/left)
			}
		}
		n.markEnds()
		next[o] = &n
	}
	return next
}

// over says whether a plan ends here, whatever tests there are.
func (s *Situation) over() (End, bool) {
	switch {
	case len(s.ends) == 1:
		return Told, true
	case slices.Max(s.byClass()) >= s.stop.Sure:
		return SureEnough, true
	case s.probability < max(s.stop.Rare, rarest):
		return Rare, true
	case s.stop.Depth > 0 && s.depth >= s.stop.Depth:
		return Deep, true
	}
	return Going, false
}
