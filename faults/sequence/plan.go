package sequence

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Stop says where a plan ends beside where it must; the zero value, and nil, cut
// nothing.
type Stop struct {
	// Sure: enough is known when one repair is at least so probable (0 to 1). 0
	// stands for 1: only when all others are ruled out.
	Sure float64
	// Bits: a test that is expected to say less about the repair is not worth doing.
	Bits float64
	// Rare: branches with less probability are not followed.
	Rare float64
	// Depth: no more tests than so many in a row. 0: no limit.
	Depth int
}

// MostNodes bounds a plan. More is an error: with uncertain outcomes a tree grows
// with each test unless Stop.Rare or Stop.Depth cut it.
const MostNodes = 200_000

// End says why a branch of a plan ends.
type End int

const (
	Going      End = iota // it does not: a test follows
	Told                  // one repair is left
	SureEnough            // one repair is probable enough, Stop.Sure
	Silent                // several are left, and the chooser found no test worth doing
	Rare                  // cut: less probable than Stop.Rare
	Deep                  // cut: more tests than Stop.Depth would follow
)

// String names an end as a phrase.
func (e End) String() string {
	names := [...]string{"a test follows", "told apart", "sure enough", "no test worth doing", "rare, not followed", "too deep, not followed"}
	if e < 0 || int(e) >= len(names) {
		return fmt.Sprintf("end %d", int(e))
	}
	return names[e]
}

// Node is a point of a plan: a test with what follows each outcome, or an end.
type Node struct {
	// Probability of coming here.
	Probability float64
	// Test is the next one, by index, and Minutes what it takes coming from here; −1
	// and 0 at an end.
	Test    int
	Minutes float64
	// Outcomes of the test and what follows; nil for one that cannot come.
	Outcomes []*Node
	// End says why nothing follows.
	End End
	// Repairs are those left at an end, most probable first. The first is what the
	// plan says to repair.
	Repairs []Share
}

// Share is a repair, as Problem.Repair has it, and its probability.
type Share struct {
	Repair      int
	Probability float64
}

// Tree is a plan and its figures.
type Tree struct {
	Root *Node
	// Minutes and Tests are expected ones, over all states and outcomes.
	Minutes, Tests float64
	// Right is the probability that the repair the plan ends with is the right one.
	Right float64
	// Ended is the probability of each way to end; they sum to 1. Outcomes that no
	// branch was grown for, being all but impossible, count as Rare.
	Ended [Deep + 1]float64
	// Nodes of the tree, ends included.
	Nodes int
}

// Cut is the probability of the branches that were not followed.
func (t *Tree) Cut() float64 { return t.Ended[Rare] + t.Ended[Deep] }

// Plan grows the decision tree that a chooser leads to. A nil stop is the zero one.
func Plan(p *Problem, choose Chooser, stop *Stop) (*Tree, error) {
	var st Stop
	if stop != nil {
		st = *stop
	}
	errs := []error{p.Validate()}
	if !(st.Sure >= 0 && st.Sure <= 1) {
		errs = append(errs, fmt.Errorf("sequence: sure at %v, must be 0 to 1", st.Sure))
	}
	if !(st.Bits >= 0) {
		errs = append(errs, fmt.Errorf("sequence: least bits %v, must not be negative", st.Bits))
	}
	if !(st.Rare >= 0 && st.Rare <= 1) {
		errs = append(errs, fmt.Errorf("sequence: rare at %v, must be 0 to 1", st.Rare))
	}
	if st.Depth < 0 {
		errs = append(errs, fmt.Errorf("sequence: depth %d, must not be negative", st.Depth))
	}
	if choose == nil {
		errs = append(errs, errors.New("sequence: no chooser given"))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if st.Sure == 0 {
		st.Sure = 1
	}
	g := grower{choose: choose}
	root, err := g.grow(begin(p, st))
	if err != nil {
		return nil, err
	}
	return figures(p, root), nil
}

type grower struct {
	choose Chooser
	nodes  int
}

func (g *grower) grow(s *Situation) (*Node, error) {
	if g.nodes++; g.nodes > MostNodes {
		return nil, fmt.Errorf("sequence: the plan grows beyond %d nodes; cut rare branches or long ones", MostNodes)
	}
	n := &Node{Probability: s.probability, Test: -1}
	if end, over := s.over(); over {
		return n.end(s, end), nil
	}
	t := g.choose(s)
	if t < 0 {
		return n.end(s, Silent), nil
	}
	if t >= len(s.done) || s.done[t] {
		return nil, fmt.Errorf("sequence: the chooser chose test %d, which is done or does not exist", t)
	}
	n.Test, n.Minutes = t, s.Minutes(t)
	next := s.after(t)
	n.Outcomes = make([]*Node, len(next))
	for o, x := range next {
		if x == nil {
			continue
		}
		var err error
		if n.Outcomes[o], err = g.grow(x); err != nil {
			return nil, err
		}
	}
	return n, nil
}

// end makes a node one that ends, with what is left.
func (n *Node) end(s *Situation, why End) *Node {
	n.End = why
	first := 0
	for c, x := range s.byClass() {
		n.Repairs = append(n.Repairs, Share{s.repairs[s.class[s.states[first]]], x})
		first = s.ends[c]
	}
	slices.SortStableFunc(n.Repairs, func(a, b Share) int { return cmp.Compare(b.Probability, a.Probability) })
	return n
}

// figures walks a tree with all states, also those that the plan lost sight of
// because they had become all but impossible.
func figures(p *Problem, root *Node) *Tree {
	out := &Tree{Root: root}
	sum := 0.0
	for _, x := range p.Prior {
		sum += x
	}
	var all []possible
	for s, x := range p.Prior {
		if x > 0 {
			all = append(all, possible{s, x / sum})
		}
	}
	out.walk(p, root, all)
	return out
}

// possible is a state and the probability of being in it and coming to a node.
type possible struct {
	state  int
	weight float64
}

// walk adds what a node and those below it bring in.
func (t *Tree) walk(p *Problem, n *Node, all []possible) {
	here := 0.0
	for _, x := range all {
		here += x.weight
	}
	if n == nil { // an outcome that only states lost sight of can have
		t.Ended[Rare] += here
		return
	}
	t.Nodes++
	if n.Test < 0 {
		t.Ended[n.End] += here
		for _, x := range all {
			if p.repair(x.state) == n.Repairs[0].Repair {
				t.Right += x.weight
			}
		}
		return
	}
	t.Minutes += here * n.Minutes
	t.Tests += here
	test := &p.Tests[n.Test]
	for o, row := range test.Chance {
		var next []possible
		for _, x := range all {
			if row[x.state] > 0 {
				next = append(next, possible{x.state, x.weight * float64(row[x.state]) / test.sum(x.state)})
			}
		}
		if len(next) > 0 {
			t.walk(p, n.Outcomes[o], next)
		}
	}
}
