package faults

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/faults/sequence"
	"example.com/ohmloom/solve"
)

// Plan is a whole course of readings for a layout, made in advance: a decision tree
// from the first reading to the part.
type Plan struct {
	Root *PlanNode
	// Minutes expected until the plan ends, and readings.
	Minutes, Readings float64
	// Right is the probability that the part named first where the plan ends is at
	// fault.
	Right float64
	// Cut is the share of the probability in branches that were left out as too
	// rare or too long.
	Cut float64
}

// PlanNode is one reading and what follows, or an end.
type PlanNode struct {
	// Probability that the plan comes here.
	Probability float64
	// Do is what to do here, nil at an end. Its Bits and Expect are not filled in.
	Do *Advice
	// Branches are the outcomes of the reading.
	Branches []PlanBranch
	// Parts at an end, most probable first; Why it ends.
	Parts []PartProbability
	Why   string
	// Cut says that the plan does not end here but is left out from here on.
	Cut bool
}

// PlanBranch is one outcome of a reading.
type PlanBranch struct {
	// Low and High bound what is read; of a scan Silent are the modules that do not
	// answer, and Other says that the pattern is none of those foreseen.
	Low, High *solve.Value
	Silent    []string
	Other     bool
	Node      *PlanNode
}

// PlanOptions are settings of [Matcher.Plan]; the zero value stands for the
// defaults.
type PlanOptions struct {
	// Network takes only faults and readings of one network; empty takes all.
	Network string
	// Sure is the probability of a part from which on it is looked at; 0 means 0.9.
	Sure float64
	// Rare is the probability below which a branch is left out; 0 means 0.01.
	Rare float64
	// Within leaves out places that take more minutes to reach; 0 takes all.
	Within float64
	// Healthy as in [MatchOptions].
	Healthy float64
}

// Plan makes a plan for a harness. Every fault counts by its rate, with a few values
// of its free resistance; what tolerances add is taken from a rough measure, and
// readings are taken as independent of each other once the fault is given. It has no
// readings of a bus at work: those share how much of the time the bus is dominant, which
// no plan knows in advance.
func (x *Matcher) Plan(o PlanOptions) (*Plan, error) {
	match := MatchOptions{Healthy: o.Healthy}
	match.defaults()
	if o.Sure == 0 {
		o.Sure = 0.9
	}
	if o.Rare == 0 {
		o.Rare = 0.01
	}
	f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms}
	f.overFrom = newEvidence(x.c, nil, x.in).overFrom
	if err := f.all(o.Network, match.Healthy); err != nil {
		return nil, err
	}
	var candidates []Probe
	for _, p := range x.allProbes() {
		if o.Network != "" && x.c.Nodes[p.From].Conductor.Network != o.Network {
			continue
		}
		if o.Within > 0 && p.ReachMin > o.Within {
			continue
		}
		candidates = append(candidates, p)
	}
	if len(candidates) == 0 {
		return nil, fmt.Errorf("faults: no reading of network %q can be taken within %g min", o.Network, o.Within)
	}
	mean, err := f.means(candidates)
	if err != nil {
		return nil, err
	}
	f.roughly(candidates, mean)

	p := newSequence(x.c, nil, AsLeft)
	for i := range f.components {
		p.Prior = append(p.Prior, f.components[i].weight)
		p.Repair = append(p.Repair, f.components[i].part)
	}
	var todo []Advice
	var edges [][]float64
	for k := range candidates {
		t := sequence.Test{Name: candidates[k].String(), Chance: f.outcomes(k)}
		if len(t.Chance) < 2 {
			continue // says nothing
		}
		p.price(&t, &candidates[k], ReadMinutes, candidates[k].State())
		p.Tests = append(p.Tests, t)
		todo = append(todo, Advice{Probe: candidates[k]})
		edges = append(edges, f.gaps(k))
	}
	var modules []string
	patterns := map[int][][]bool{}
	for _, at := range x.tools() {
		names, lists, err := f.answers(at)
		if err != nil {
			return nil, err
		}
		modules = names
		a := Advice{Tool: at, Probe: Probe{Site: at, Condition: solve.Condition{Supply: solve.Idle}}}
		t := sequence.Test{Name: a.String()}
		patterns[len(todo)], t.Chance = f.hearing(lists)
		p.priceScan(&t, &a.Probe)
		p.Tests = append(p.Tests, t)
		todo = append(todo, a)
		edges = append(edges, nil)
	}
	tree, err := sequence.Plan(&p.Problem, sequence.Greedy(), &sequence.Stop{Sure: o.Sure, Bits: 0.1, Rare: o.Rare, Depth: 12})
	if err != nil {
		return nil, err
	}
	out := &Plan{Minutes: tree.Minutes, Readings: tree.Tests, Right: tree.Right, Cut: tree.Cut()}
	var grow func(n *sequence.Node) *PlanNode
	grow = func(n *sequence.Node) *PlanNode {
		to := &PlanNode{Probability: n.Probability}
		if n.End != sequence.Going {
			to.Why, to.Cut = n.End.String(), n.End == sequence.Rare || n.End == sequence.Deep
			for _, r := range n.Repairs {
				to.Parts = append(to.Parts, PartProbability{f.parts[r.Repair], r.Probability})
			}
			return to
		}
		a := todo[n.Test]
		a.Minutes = n.Minutes
		to.Do = &a
		for b, child := range n.Outcomes {
			if child == nil || child.Probability == 0 {
				continue
			}
			branch := PlanBranch{Node: grow(child)}
			if list, ok := patterns[n.Test]; ok {
				if branch.Other = b == len(list); !branch.Other {
					for m, answers := range list[b] {
						if !answers {
							branch.Silent = append(branch.Silent, modules[m])
						}
					}
				}
			} else {
				branch.Low, branch.High = f.between(a.Probe.Quantity, edges[n.Test], b)
			}
			to.Branches = append(to.Branches, branch)
		}
		if !slices.ContainsFunc(to.Branches, func(b PlanBranch) bool { return !b.Node.Cut }) {
			// A reading after which nothing is followed is not worth the way.
			return &PlanNode{Probability: n.Probability, Why: sequence.Rare.String(), Cut: true}
		}
		return to
	}
	out.Root = grow(tree.Root)
	return out, nil
}

// between gives the values that bound an outcome, as the meter shows them.
func (f *foresight) between(q solve.Quantity, edges []float64, b int) (low, high *solve.Value) {
	lead, _ := f.x.in.leads()
	value := func(y float64) *solve.Value {
		v := offScale(q, y, f.rangeOhms)
		if q == solve.Ohms && !v.OL {
			v.Number += lead
		}
		return &v
	}
	if b > 0 {
		low = value(edges[b-1])
	}
	if b < len(edges) {
		high = value(edges[b])
	}
	return low, high
}

// planOhms is how many values of a free resistance stand for all in a plan.
const planOhms = 3

// all makes a component of every fault, and of healthy wiring.
func (f *foresight) all(network string, healthy float64) error {
	f.parts, f.chance = []string{HealthyName}, []float64{healthy}
	f.components = append(f.components, component{part: 0, weight: healthy})
	index := map[string]int{}
	total := 0.0
	for _, x := range f.x.faults {
		if network == "" || f.x.onNetwork(x, network) {
			total += x.Rate
		}
	}
	if total == 0 {
		return fmt.Errorf("faults: there is no fault on a network %q", network)
	}
	for _, x := range f.x.faults {
		if network != "" && !f.x.onNetwork(x, network) {
			continue
		}
		part, ok := index[x.Part]
		if !ok {
			part = len(f.parts)
			index[x.Part] = part
			f.parts, f.chance = append(f.parts, x.Part), append(f.chance, 0)
		}
		weight := (1 - healthy) * x.Rate / total
		f.chance[part] += weight
		n := 1
		if x.Free != nil {
			n = planOhms
		}
		for k := range n {
			c := component{part: part, weight: weight / float64(n), members: []*Fault{x}, ohms: []float64{0}, fraction: 0.5}
			if x.Free != nil {
				c.ohms[0] = x.Free.Min * math.Pow(x.Free.Max/x.Free.Min, (float64(k)+0.5)/planOhms)
			}
			f.components = append(f.components, c)
		}
	}
	return nil
}

// onNetwork tells whether a fault touches a network.
func (x *Matcher) onNetwork(f *Fault, network string) bool {
	node := func(n int) bool { return x.c.Nodes[n].Conductor.Network == network }
	element := func(e int) bool {
		return x.c.Elements[e].Conductor.Network == network || node(x.c.Elements[e].A) || node(x.c.Elements[e].B)
	}
	spot := func(s solve.Spot) bool {
		if s.Wire >= 0 {
			return element(s.Wire)
		}
		return node(s.Node)
	}
	for _, ch := range f.Typical() {
		switch ch := ch.(type) {
		case solve.Part:
			if element(ch.Element) {
				return true
			}
		case solve.Insert:
			if element(ch.Element) {
				return true
			}
		case solve.Bridge:
			if spot(ch.From) || spot(ch.To) {
				return true
			}
		case solve.Unplug:
			s, _ := x.c.Site(ch.Connector)
			for _, k := range s.Contacts {
				if k.Conductor.Network == network {
					return true
				}
			}
		case solve.Unpower:
			if x.unitOn(ch.Unit, network) {
				return true
			}
		case solve.Shift:
			if x.unitOn(ch.Unit, network) {
				return true
			}
		case solve.Stick:
			if x.c.Transceivers[ch.Transceiver].Network == network {
				return true
			}
		}
	}
	return false
}

func (x *Matcher) unitOn(unit int, network string) bool {
	for _, t := range x.c.Transceivers {
		if t.Unit == unit && t.Network == network {
			return true
		}
	}
	return false
}
