package faults

import (
	"math"
	"slices"

	"example.com/ohmloom/faults/sequence"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// scan weighs asking every module with a scan tool: the outcome is which of them
// answer, each with the error rates of an answer.
func (f *foresight) scan(at string, cost float64, saves *saving) (*Advice, error) {
	a := &Advice{Tool: at, Minutes: cost}
	a.Probe.Site = at
	a.Probe.Condition.Supply = solve.Idle
	modules, lists, err := f.answers(at)
	if err != nil {
		return nil, err
	}
	_, given := f.heard(lists)
	a.Bits = information(given, f.chance)
	a.Saves = saves.by(given, at)
	order := f.byChance()
	for _, i := range order {
		if i == f.none {
			continue
		}
		// What most of the part's weight says of each module.
		var silent []string
		for m, name := range modules {
			no, all := 0.0, 0.0
			for k := range f.components {
				if c := &f.components[k]; c.part == i {
					all += c.weight
					if lists[k][m] == solve.No {
						no += c.weight
					}
				}
			}
			if no > all/2 {
				silent = append(silent, name)
			}
		}
		a.Expect = append(a.Expect, Expectation{Part: f.parts[i], Probability: f.chance[i]})
		a.Silent = append(a.Silent, silent)
	}
	return a, nil
}

// answers gives who answers a tool by each component.
func (f *foresight) answers(at string) (modules []string, lists [][]solve.Hearing, err error) {
	var ask []Answer
	for i := range f.x.c.Units {
		if u := &f.x.c.Units[i]; len(u.Inputs) > 0 {
			ask = append(ask, Answer{Tool: at, Module: u.Name})
			modules = append(modules, u.Name)
		}
	}
	q, err := f.x.ask(ask)
	if err != nil {
		return nil, nil, err
	}
	for i := range f.components {
		c := &f.components[i]
		var got answered
		switch len(c.members) {
		case 0:
			got, err = q.answerer.of(q.answerer.buses)
		case 1:
			var ready *preparedAnswers
			if ready, err = q.prepare(c.members[0], c.fraction); err == nil {
				got, err = ready.near(math.Max(c.ohms[0], 1e-3))
			}
		default:
			var ready *preparedAnswers
			if ready, err = q.answerer.prepare(combineAt(c.members, c.ohms), c.fraction); err == nil {
				got, err = ready.near(math.Max(c.ohms[0], 1e-3))
			}
		}
		if err != nil {
			return nil, nil, err
		}
		list := make([]solve.Hearing, len(ask))
		for k, x := range ask {
			list[k] = got.of(q.answerer, x)
		}
		lists = append(lists, list)
	}
	return modules, lists, nil
}

// heard is the chance of each outcome of a scan together with each part, as logOfAnswers
// has it. The outcomes are what the components say, as if each module did just that, and
// any other; taking all others as one can only lose information.
func (f *foresight) heard(lists [][]solve.Hearing) (outcomes [][]bool, given [][]float64) {
	for _, list := range lists {
		o := make([]bool, len(list))
		for m, h := range list {
			o[m] = h == solve.Yes
		}
		if !slices.ContainsFunc(outcomes, func(x []bool) bool { return slices.Equal(x, o) }) {
			outcomes = append(outcomes, o)
		}
	}
	given = make([][]float64, len(f.parts))
	for i := range given {
		given[i] = make([]float64, len(outcomes)+1)
	}
	for k, list := range lists {
		c := &f.components[k]
		rest := 1.0
		for j, o := range outcomes {
			well, failed := 1-ScanFails, ScanFails
			for m, h := range list {
				if o[m] {
					well, failed = well*chance(h), failed*answersAnyway
				} else {
					well, failed = well*(1-chance(h)), failed*(1-answersAnyway)
				}
			}
			p := well + failed
			given[c.part][j] += c.weight * p
			rest -= p
		}
		given[c.part][len(outcomes)] += c.weight * math.Max(0, rest)
	}
	if f.none >= 0 {
		for b := range given[f.none] {
			given[f.none][b] = f.chance[f.none] / float64(len(outcomes)+1)
		}
	}
	return outcomes, given
}

// lookAhead chooses among advices by the minutes of what follows too; −1 for none.
func (f *foresight) lookAhead(m *Match, now State, advice []Advice) (int, error) {
	p := newSequence(f.x.c, m.Reached(f.x.c), now)
	for i := range f.components {
		p.Prior = append(p.Prior, f.components[i].weight)
		p.Repair = append(p.Repair, f.components[i].part)
	}
	for k := range advice {
		t := sequence.Test{Name: advice[k].String()}
		if at := advice[k].Tool; at != "" {
			_, lists, err := f.answers(at)
			if err != nil {
				return 0, err
			}
			_, t.Chance = f.hearing(lists)
			p.priceScan(&t, &advice[k].Probe)
		} else {
			t.Chance = f.outcomes(advice[k].candidate)
			p.price(&t, &advice[k].Probe, advice[k].Probe.taking(), advice[k].Probe.State())
		}
		p.Tests = append(p.Tests, t)
	}
	tree, err := sequence.Plan(&p.Problem, sequence.LookAhead(6, 1), &sequence.Stop{Sure: 0.95, Depth: 1})
	if err != nil {
		return 0, err
	}
	if tree.Root.End != sequence.Going {
		return -1, nil
	}
	return tree.Root.Test, nil
}

// outcomes is the chance of each bin of a candidate's readings by component.
func (f *foresight) outcomes(k int) [][]float32 {
	edges := f.gaps(k)
	out := make([][]float32, len(edges)+1)
	for b := range out {
		out[b] = make([]float32, len(f.components))
	}
	for i := range f.components {
		x := &f.components[i]
		before := 0.0
		for b := range out {
			upTo := 1.0
			if b < len(edges) {
				upTo = normal((edges[b] - x.mean[k]) / x.sd[k])
			}
			out[b][i] = float32(upTo - before)
			before = upTo
		}
	}
	return out
}

// mostOutcomes is into how many outcomes a reading is parted where a whole tree is
// grown.
const mostOutcomes = 6

// gaps parts a candidate's readings where explanations lie furthest apart, counted
// in their standard deviations.
func (f *foresight) gaps(k int) []float64 {
	order := make([]int, len(f.components))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch x, y := f.components[a].mean[k], f.components[b].mean[k]; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return a - b
	})
	type gap struct{ at, width float64 }
	var gaps []gap
	for n := 1; n < len(order); n++ {
		a, b := &f.components[order[n-1]], &f.components[order[n]]
		s := a.sd[k] + b.sd[k]
		d := b.mean[k] - a.mean[k]
		if s > 0 && d/s > 0.5 {
			// Where both are equally far in their own deviations.
			gaps = append(gaps, gap{a.mean[k] + d*a.sd[k]/s, d / s})
		}
	}
	slices.SortStableFunc(gaps, func(a, b gap) int {
		switch {
		case a.width > b.width:
			return -1
		case a.width < b.width:
			return 1
		}
		return 0
	})
	if len(gaps) > mostOutcomes-1 {
		gaps = gaps[:mostOutcomes-1]
	}
	var out []float64
	for _, g := range gaps {
		out = append(out, g.at)
	}
	slices.Sort(out)
	return out
}

// hearing is the same for a scan: who answers, as whole patterns.
func (f *foresight) hearing(lists [][]solve.Hearing) ([][]bool, [][]float32) {
	one := foresight{parts: make([]string, len(f.components)), none: -1}
	for i := range f.components {
		one.components = append(one.components, component{part: i, weight: 1})
	}
	patterns, given := one.heard(lists)
	out := make([][]float32, len(given[0]))
	for b := range out {
		out[b] = make([]float32, len(given))
		for i := range given {
			out[b][i] = float32(given[i][b])
		}
	}
	return patterns, out
}

// sequenceOf is a problem of which test comes next, with the harness's places.
type sequenceOf struct {
	sequence.Problem
	c     *netlist.Circuit
	place map[string]int
}

// newSequence begins with places been to, in a vehicle that is set to now.
func newSequence(c *netlist.Circuit, been map[string]bool, now State) *sequenceOf {
	p := &sequenceOf{c: c, place: map[string]int{}}
	p.Setting, p.Changes = sequence.Unset, changes()
	if now != AsLeft {
		p.Setting = int(now)
	}
	for i := range c.Sites {
		p.place[c.Sites[i].Name] = i
		p.Reach = append(p.Reach, c.Sites[i].ReachMin)
		if been[c.Sites[i].Name] {
			p.Been = append(p.Been, i)
		}
	}
	return p
}

// priceScan fills in what asking all modules costs, and where the tool is.
func (p *sequenceOf) priceScan(t *sequence.Test, probe *Probe) { p.price(t, probe, ToolMinutes, Asked) }

// price fills in what a reading costs, each time and for the state that it wants, and
// where it is taken.
func (p *sequenceOf) price(t *sequence.Test, probe *Probe, each float64, state State) {
	t.Minutes = each + float64(len(probe.Condition.Unplugged))*UnplugMinutes
	t.Setting = int(state)
	for _, name := range probe.places(p.c) {
		if i, ok := p.place[name]; ok {
			t.Places = append(t.Places, i)
		}
	}
}
