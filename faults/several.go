package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"example.com/ohmloom/solve"
)

// Several faults at once. Every pair is held against the readings by bounds that
// it cannot exceed: a reading is a ratio of straight lines in each free resistance,
// so over a range of them it lies between its values at the corners. What the bound
// does not rule out is integrated over the free resistances; what changes no reading
// beside a first fault is left as "and perhaps something that was not read". Three
// at once are looked for when nothing less explains the readings, from the pairs
// that explain the most of them.

// Searched says what was weighed beside single faults.
type Searched struct {
	// Pairs of faults that could be there at once, and what became of them:
	// RuledOut by the bound; Unseen, where one of the two changes no reading
	// beside the other; Weighed over their free values; Left, neither ruled out
	// nor weighed, since by a rough measure they explain the readings less well
	// than the last of those that were, and those added next to nothing; NotSeen,
	// which this way of calculating cannot do (with the supply on, a second fault
	// beside one that changes what a module does).
	Pairs, RuledOut, Unseen, Weighed, Left, NotSeen int
	// Triples that were weighed or ruled out, 0 where nothing called for them;
	// TriplesFrom is the number of pairs that they were grown from.
	Triples, TriplesFrom int
	// LeftShare is an estimate of how probable it is that one of those Left, or of the
	// triples left, is the case; 0 where readings of a bus at work are among those taken.
	LeftShare float64
	// Silencing is how many of the smallest sets of faults explain who is silent, where
	// answers but nothing at rest was taken and no single fault does; SilencingLeft
	// that there are more.
	Silencing     int
	SilencingLeft bool
}

const (
	// mostWeighed is how many pairs, and how many triples, are integrated; mostBeside
	// where less explains the readings much better.
	mostWeighed = 400
	mostBeside  = 240
	// mostAtWork is how many are beside readings of a bus at work, which cost more.
	mostAtWork = 200
	// beneathPair is how far in natural logarithms below all that is known to
	// explain the readings a pair's bound may lie to be worth a look: 6 in 10^6 at
	// its very best, before it is averaged over its free values, which costs a
	// pair another factor of ten to ten thousand.
	beneathPair = 12
	// sharper is by how much in natural logarithms a pair may meet the readings
	// more sharply than the best explanation so far does, when both meet them
	// exactly: their tolerances do not differ by more than that in likelihood. A
	// bound without it, from the meter's own errors alone, holds always and rules
	// out next to nothing.
	sharper = 4
	// mostSeeds is how many pairs three faults at once are grown from.
	mostSeeds = 200
)

// several adds what two and three faults at once have to say.
func (r *ranking) several() error {
	s := r.search
	if r.o.Two <= 0 {
		return nil
	}
	if s == nil {
		if r.asked != nil {
			return r.bySilence()
		}
		return nil
	}
	squares := 0.0
	for _, f := range r.x.faults {
		squares += f.Rate * f.Rate
	}
	ofPairs := (r.rates*r.rates - squares) / 2
	if ofPairs <= 0 {
		return nil
	}
	s.prior = math.Log(r.o.Two / ofPairs)
	known := math.Inf(-1)
	for _, l := range r.logs {
		known = logAdd(known, l)
	}
	// The bound is of the readings at rest alone; what else there is may at most
	// be as good for a pair as it is for anything.
	elsewhere := r.e.floor - s.e.floor
	s.floor = known - elsewhere - beneathPair
	best := 0
	for i := range r.logs {
		if h := &r.m.Hypotheses[i]; r.logs[i] > r.logs[best] && h.judged.covariance != nil {
			best = i
		}
	}
	s.sharp = r.sharpness(&r.m.Hypotheses[best], sharper)
	var err error
	if s.work, err = r.hearSets(); err != nil {
		return err
	}
	to := &r.m.Searched
	open, _, unseen := s.pairs(to, false)
	for k, f := range r.x.faults {
		// Alone, or with a second fault that changes no reading.
		alone, beside := r.o.one()/r.rates*f.Rate, r.o.Two/ofPairs*f.Rate*unseen.fold[k]
		r.logs[r.of[k]] += math.Log1p(beside / alone)
		unseen.share = append(unseen.share, beside/(alone+beside))
	}
	r.unseen = unseen
	if err := r.include(open, mostWeighed, &to.Weighed, &to.Left); err != nil {
		return err
	}
	if r.o.Three <= 0 || !r.unexplained() {
		return nil
	}
	_, seeds, _ := s.pairs(&Searched{}, true)
	seeds = append(seeds, open...)
	for i := range seeds {
		if seeds[i].score == 0 {
			seeds[i].score = seeds[i].prior + seeds[i].bound - s.e.floor + s.sharp
		}
	}
	sortFound(seeds)
	if len(seeds) > mostSeeds {
		seeds = seeds[:mostSeeds]
	}
	to.TriplesFrom = len(seeds)
	s.prior = math.Log(r.o.Three / (r.rates * r.rates * r.rates / 6))
	three := s.triples(seeds, &to.Triples)
	// A closer look at those that a rough one leaves in front.
	sortFound(three)
	three = three[:min(len(three), 10*mostWeighed)]
	s.spread(len(three), func(w *worker, i int) {
		if w.load(three[i].members...) {
			w.sketch(&three[i])
		}
	})
	var weighed, left int
	return r.include(three, mostWeighed, &weighed, &left)
}

// unexplained tells whether nothing up to here explains the readings.
func (r *ranking) unexplained() bool {
	best := 0
	for i := range r.logs {
		if r.logs[i] > r.logs[best] {
			best = i
		}
	}
	h := &r.m.Hypotheses[best]
	return h.Name == NoneName || h.Poor()
}

// triples grows sets of three from pairs.
func (s *search) triples(seeds []found, count *int) []found {
	results := make([][]found, len(seeds))
	counts := make([]int, len(seeds))
	s.spread(len(seeds), func(w *worker, i int) {
		a, b := seeds[i].members[0], seeds[i].members[1]
		for c := range s.faults {
			if c == a || c == b || !s.able[c] || !w.load(a, b, c) {
				continue
			}
			counts[i]++
			w.clear()
			w.corners(0, [][]float64{s.ohms[a], s.ohms[b], s.ohms[c]}, 0, nil)
			x := found{
				members: []int{a, b, c}, bound: w.bound(),
				prior: s.prior + math.Log(s.faults[a].Rate*s.faults[b].Rate*s.faults[c].Rate),
			}
			slices.Sort(x.members)
			x.score = x.prior - w.against()/2
			if x.prior+x.bound >= s.floor {
				results[i] = append(results[i], x)
			}
		}
	})
	var out []found
	for i := range results {
		*count += counts[i]
		out = append(out, results[i]...)
	}
	// The same three may have grown from several pairs.
	slices.SortFunc(out, func(a, b found) int { return slices.Compare(a.members, b.members) })
	return slices.CompactFunc(out, func(a, b found) bool { return slices.Equal(a.members, b.members) })
}

// mostInFull is for how many sets it is worked out in full who answers, and how many are
// weighed by answers alone.
const mostInFull = 60

// include weighs sets and adds them to the ranking.
func (r *ranking) include(open []found, most int, weighedCount, leftCount *int) error {
	s := r.search
	if r.asked != nil {
		// Who is silent with one of the faults alone is silent with both, near enough
		// to put them in order.
		if err := r.askMembers(open); err != nil {
			return err
		}
		for i := range open {
			said := r.silence(open[i].members)
			open[i].said = said
			open[i].bound += said
			open[i].score += said
		}
	}
	known := math.Inf(-1)
	for _, l := range r.logs {
		known = logAdd(known, l)
	}
	done, left, by := s.weigh(open, most, known, r.unexplained())
	*weighedCount, *leftCount = len(done), len(left)
	slices.SortStableFunc(done, func(a, b weighed) int { return cmp.Compare(b.all(), a.all()) })
	made := make([]*Hypothesis, len(done))
	parallel(len(done), func() func(int) {
		return func(i int) {
			if x := &done[i]; x.err == nil && x.all() >= known-beneathPair {
				made[i] = r.weighedHypothesis(x)
			}
		}
	})
	for i := range done {
		x, h := &done[i], made[i]
		if x.err != nil {
			return x.err
		}
		if h == nil {
			continue
		}
		switch {
		case r.asked == nil:
		case i < mostInFull:
			if err := r.answerInFull(h, x); err != nil {
				return err
			}
		default:
			h.judged.log += x.said
			x.evidence += x.said
			h.Answers = r.together(x.members)
		}
		r.add(*h, x.prior+x.evidence)
	}
	if s.work == nil && len(left) > 0 {
		// Of readings of a bus at work the estimate knows nothing.
		r.left = append(r.left, s.estimate(left, by, known))
	}
	return nil
}

// askMembers works out who answers with each member of a set alone, where that was not
// called for: faults that could not be there alone were not weighed, and are what two at
// once are made of.
func (r *ranking) askMembers(open []found) error {
	if r.asked == nil {
		return nil
	}
	wanted := make([]bool, len(r.x.faults))
	var list []int
	for i := range open {
		for _, k := range open[i].members {
			if r.who[k] == nil && !wanted[k] {
				wanted[k] = true
				list = append(list, k)
			}
		}
	}
	failed := make([]error, len(list))
	parallel(len(list), func() func(int) {
		return func(i int) {
			f := r.x.faults[list[i]]
			ready, err := r.asked.prepare(f, 0.5)
			if err == nil {
				ohms := 0.0
				if f.Free != nil {
					ohms = math.Sqrt(f.Free.Min * f.Free.Max)
				}
				r.who[list[i]], err = ready.near(math.Max(ohms, 1e-3))
			}
			failed[i] = err
		}
	})
	return errors.Join(failed...)
}

// together is what the modules asked do if who is silent with one fault is silent with
// all.
func (r *ranking) together(members []int) []solve.Hearing {
	q := r.asked
	var out []solve.Hearing
	for _, x := range q.answers {
		got := solve.Yes
		for _, i := range members {
			switch of := r.who[i].of(q.answerer, x); {
			case of == solve.No:
				got = solve.No
			case of != solve.Yes && got != solve.No:
				got = of
			}
		}
		out = append(out, got)
	}
	return out
}

// silence is the log probability of the answers then.
func (r *ranking) silence(members []int) float64 {
	if r.asked == nil {
		return 0
	}
	return r.chanceOf(r.together(members))
}

// chanceOf is the log probability of the answers if modules are heard like that.
func (r *ranking) chanceOf(heard []solve.Hearing) float64 {
	return logOfAnswers(r.asked.answers, func(k int) solve.Hearing { return heard[k] })
}

// named is an explanation of a set without what it says.
func (r *ranking) named(x *weighed) *Hypothesis {
	var members []*Fault
	for _, i := range x.members {
		members = append(members, r.x.faults[i])
	}
	combined := combineAt(members, x.ohms)
	h := &Hypothesis{Name: combined.Name, Fault: combined, Chance: 1, samples: x.samples}
	for k, f := range members {
		member := Member{Fault: f}
		if f.Free != nil {
			member.Ohms = estimate(x.samples, x.ohms[k], func(s sample) float64 {
				if k == 0 {
					return math.Exp(s.logOhms)
				}
				return math.Exp(s.others[k-1])
			})
			if k == 0 {
				h.Ohms = member.Ohms
			}
		}
		h.Members = append(h.Members, member)
	}
	return h
}

// freedom is how many of a set's values are free.
func (h *Hypothesis) freedom() int {
	free := 0
	for _, m := range h.Members {
		if m.Fault.Free != nil {
			free++
		}
	}
	return free
}

// weighedHypothesis makes an explanation of a set that was weighed by all readings.
func (r *ranking) weighedHypothesis(x *weighed) *Hypothesis {
	h := r.named(x)
	h.judged = x.best
	if x.joint != nil {
		h.judged = *x.joint
	}
	predictions := make([]solve.Value, len(r.m.Readings))
	for i := range predictions {
		predictions[i] = offScale(r.m.Readings[i].Probe.Quantity, h.judged.mean[i], r.x.in.Meter.RangeOhms)
	}
	h.explain(r.e, predictions, h.freedom())
	return h
}

// answerInFull works out who answers with all faults of a set at their best free values.
func (r *ranking) answerInFull(h *Hypothesis, x *weighed) error {
	answers, err := r.asked.answerer.prepare(h.Fault, 0.5)
	if err != nil {
		return err
	}
	got, err := answers.near(max(x.ohms[0], 1e-3))
	if err != nil {
		return err
	}
	chance := r.asked.answerer.logChance(r.asked.answers, got)
	h.judged.log += chance
	x.evidence += chance
	h.answersBy(r.asked, got)
	return nil
}

// severalHypothesis makes an explanation of a set that nothing at rest was read of: a bus
// at work and answers are worked out for it at the values given.
func (r *ranking) severalHypothesis(x *weighed) (*Hypothesis, error) {
	h := r.named(x)
	ready, err := r.p.prepare(h.Fault, 0.5)
	if err != nil {
		return nil, err
	}
	responses, err := ready.at(x.ohms[0])
	if err != nil {
		return nil, err
	}
	h.judged = r.e.judge(responses)
	x.evidence += h.judged.log - x.best.log
	h.explain(r.e, values(responses), h.freedom())
	if r.asked != nil {
		err = r.answerInFull(h, x)
	}
	return h, err
}
