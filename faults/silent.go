package faults

import (
	"math"
	"slices"

	"example.com/ohmloom/faults/minimal"
	"example.com/ohmloom/solve"
)

// Several faults by answers alone. Where nothing was read at rest there are no bounds to
// go by; but a module that is silent is so by one of the faults that silence it, so the
// smallest sets of faults that leave nobody silent unexplained can be listed, the most
// common first.

const (
	// rangeSteps is at how many places of a free range it is looked who answers.
	rangeSteps = 5
	// mostSilencing is how many such sets are listed at most, triesSilencing how many
	// sets are looked at for that.
	mostSilencing  = 400
	triesSilencing = 20000
)

// silencer is a fault that silences some of the silent modules and nobody else.
type silencer struct {
	fault int
	whom  []bool // by answer
	count int
	ohms  float64
	share float64 // of the free range, that does this
}

// silencers lists them.
func (r *ranking) silencers() ([]silencer, error) {
	q := r.asked
	out := make([]silencer, len(r.x.faults))
	failed := make([]error, len(out))
	parallel(len(out), func() func(int) {
		return func(i int) { out[i], failed[i] = r.silencer(q, i) }
	})
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(out, func(s silencer) bool { return s.count == 0 }), nil
}

func (r *ranking) silencer(q *asked, i int) (silencer, error) {
	f := r.x.faults[i]
	ready, err := q.prepare(f, 0.5)
	if err != nil {
		return silencer{}, err
	}
	best := silencer{fault: i}
	ohms := []float64{0}
	if f.Free != nil {
		ohms = nil
		for k := range rangeSteps {
			ohms = append(ohms, f.Free.Min*math.Pow(f.Free.Max/f.Free.Min, (float64(k)+0.5)/rangeSteps))
		}
	}
	for _, x := range ohms {
		got, err := ready.near(math.Max(x, 1e-3))
		if err != nil {
			return best, err
		}
		s := silencer{fault: i, whom: make([]bool, len(q.answers)), ohms: x, share: 1 / float64(len(ohms))}
		for k, a := range q.answers {
			if s.whom[k] = got.of(q.answerer, a) == solve.No; s.whom[k] {
				if s.count++; a.Answered {
					s.count = math.MinInt
					break // it would silence one that answers
				}
			}
		}
		switch {
		case s.count <= 0:
		case s.count > best.count:
			best = s
		case slices.Equal(s.whom, best.whom):
			best.share += s.share
		}
	}
	return best, nil
}

// bySilence adds sets of faults that explain who is silent, where no single one does.
func (r *ranking) bySilence() error {
	list, err := r.silencers()
	if err != nil || len(list) == 0 {
		return err
	}
	cost := make([]float64, len(list))
	for k, s := range list {
		// Rarer than all together is none, so that no cost is negative.
		cost[k] = -math.Log(r.x.faults[s.fault].Rate / r.rates * s.share)
	}
	most := 2
	if r.o.Three > 0 {
		most = 3
	}
	sets, all := minimal.Sets(cost, most, mostSilencing, triesSilencing, func(set []int) ([]int, bool) {
		var missing []int
		unexplained := false
		for k, a := range r.asked.answers {
			if a.Answered || slices.ContainsFunc(set, func(s int) bool { return list[s].whom[k] }) {
				continue
			}
			var who []int
			for s := range list {
				if list[s].whom[k] {
					who = append(who, s)
				}
			}
			// A module that nothing silences is silent for its own reasons.
			if len(who) > 0 && (!unexplained || len(who) < len(missing)) {
				missing, unexplained = who, true
			}
		}
		return missing, !unexplained
	})
	if len(sets) == 0 || len(sets[0]) < 2 {
		return nil
	}
	r.m.Searched.Silencing, r.m.Searched.SilencingLeft = len(sets), !all
	squares := 0.0
	for _, f := range r.x.faults {
		squares += f.Rate * f.Rate
	}
	for n, set := range sets {
		if len(set) < 2 {
			continue
		}
		prior := math.Log(r.o.Two / ((r.rates*r.rates - squares) / 2))
		if len(set) == 3 {
			prior = math.Log(r.o.Three / (r.rates * r.rates * r.rates / 6))
		}
		slices.SortFunc(set, func(a, b int) int { return list[a].fault - list[b].fault })
		x := &weighed{found: found{prior: prior}}
		for _, s := range set {
			x.members = append(x.members, list[s].fault)
			x.ohms = append(x.ohms, list[s].ohms)
			x.prior += math.Log(r.x.faults[list[s].fault].Rate * list[s].share)
		}
		// The first are worked out; of the others it is taken that who is silent with one
		// fault is silent with all.
		if n < mostInFull {
			h, err := r.severalHypothesis(x)
			if err != nil {
				return err
			}
			r.add(*h, x.prior+x.evidence)
			continue
		}
		if len(r.m.Readings) > 0 {
			break // a bus at work was read too, which has to be worked out
		}
		h := r.named(x)
		for k := range r.asked.answers {
			heard := solve.Yes
			for _, s := range set {
				if list[s].whom[k] {
					heard = solve.No
				}
			}
			h.Answers = append(h.Answers, heard)
		}
		h.judged.log = r.chanceOf(h.Answers)
		r.add(*h, x.prior+h.judged.log)
	}
	return nil
}
