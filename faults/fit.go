package faults

import (
	"math"
	"slices"
	"sync"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// asked is what modules answered, with what it takes to hold it against faults.
type asked struct {
	answers  []Answer
	answerer *answerer
	known    map[*Fault]map[float64]*preparedAnswers
	lock     *sync.Mutex // of known
}

// prepare makes a fault ready, once.
func (q *asked) prepare(f *Fault, fraction float64) (*preparedAnswers, error) {
	if q.lock == nil {
		return q.answerer.prepare(f, fraction)
	}
	q.lock.Lock()
	got, ok := q.known[f][fraction]
	q.lock.Unlock()
	if ok {
		return got, nil
	}
	got, err := q.answerer.prepare(f, fraction)
	if err == nil {
		q.lock.Lock()
		defer q.lock.Unlock()
		if q.known[f] == nil {
			q.known[f] = map[float64]*preparedAnswers{}
		}
		q.known[f][fraction] = got
	}
	return got, err
}

// fitted is a hypothesis held against the readings, its free values let go
// through their whole ranges.
type fitted struct {
	evidence float64 // log of the likelihood, averaged over the free values
	best     judged
	values   []solve.Value // predictions at the best free values
	ohms     float64
	fraction float64
	answered answered // at the best free values; nil where nothing was asked
	samples  []sample
}

// sample is one point of the free values with its share of the posterior.
type sample struct {
	logOhms, fraction float64
	others            [2]float64 // logOhms of a second and a third fault
	log, width        float64
	weight            float64
}

// beneathNotice is how far, in natural logarithms, a likelihood may lie below
// that of "none of these" before it is only bounded, not worked out: what is left
// of it would be less than one part in 10^12.
const beneathNotice = 30

// fit averages a fault's likelihood over its free resistance (all decades alike)
// and its place along the wires (all metres alike).
// What modules answered, where they were asked, is evidence beside the readings.
// within, where it is not nil, bounds the likelihood by place and logarithm of the
// ohms, so that what cannot matter is not looked into; nor is what stays beneath least.
func (p *predictor) fit(f *Fault, e *evidence, q *asked, within func(place int, x float64) float64, least float64) (fitted, error) {
	out := fitted{evidence: math.Inf(-1)}
	out.best.log = math.Inf(-1)
	var answers *preparedAnswers
	prepareAnswers := func(fraction float64) (err error) {
		if q != nil {
			answers, err = q.prepare(f, fraction)
		}
		return err
	}
	// What moves no reading of a bus at work is judged once.
	var last []predicted
	var lastJudged judged
	judge := func(ready *prepared, ohms float64, responses []predicted) (judged, error) {
		if last == nil || !slices.Equal(last, responses) {
			if err := ready.borrow(ohms, responses); err != nil {
				return judged{}, err
			}
			last, lastJudged = responses, e.judge(responses)
		}
		j := lastJudged
		var got answered
		var err error
		if q != nil {
			if got, err = answers.near(ohms); err != nil {
				return judged{}, err
			}
			j.log += q.answerer.logChance(q.answers, got)
		}
		if out.values == nil || j.log > out.best.log {
			out.best, out.ohms, out.fraction = j, ohms, ready.fraction
			out.values, out.answered = values(responses), got
		}
		return j, nil
	}
	try := func(ready *prepared, ohms float64) (judged, error) {
		responses, err := ready.bare(ohms)
		if err != nil {
			return judged{}, err
		}
		return judge(ready, ohms, responses)
	}
	driven, resting := p.driven()
	if f.Free == nil {
		ready, err := p.prepare(f, 0.5)
		if err == nil {
			err = prepareAnswers(0.5)
		}
		if err != nil {
			return out, err
		}
		j, err := try(ready, 0)
		out.evidence = j.log
		return out, err
	}
	if driven && !resting {
		return p.fitAtWork(f, e, q, least)
	}
	places := fractions(p.c, f, p.finest)
	hopeless := e.anything() - beneathNotice
	if q != nil {
		hopeless += anyAnswer(q.answers)
	}
	variance := make([]float64, len(e.readings))
	quick := make([]solve.Value, len(e.readings))
	for place, fraction := range places {
		ready, err := p.prepare(f, fraction)
		if err == nil {
			err = prepareAnswers(fraction)
		}
		if err != nil {
			return out, err
		}
		// The variances hardly change along the range: the greatest of three
		// places, doubled, is a safe bound.
		for i := range variance {
			variance[i] = 0
		}
		var middle *frozen
		for k, ohms := range []float64{f.Free.Min, math.Sqrt(f.Free.Min * f.Free.Max), f.Free.Max} {
			j, err := try(ready, ohms)
			if err != nil {
				return out, err
			}
			for i := range variance {
				variance[i] = math.Max(variance[i], 2*j.before(i))
			}
			if k == 1 {
				middle = e.freeze(j.covariance)
			}
		}
		low, high := math.Log(f.Free.Min), math.Log(f.Free.Max)
		var marks []float64
		if middle != nil && !driven {
			mean := make([]float64, len(quick))
			if marks, err = closest(low, high, looks, func(x float64) (float64, error) {
				if err := ready.values(math.Exp(x), quick); err != nil {
					return 0, err
				}
				for i, v := range quick {
					mean[i] = onScale(e.readings[i].Probe.Quantity, v)
				}
				return middle.distance(mean), nil
			}); err != nil {
				return out, err
			}
		}
		curve, err := trace(low, high, func(x float64) (float64, error) {
			if within != nil {
				if b := within(place, x); b < out.best.log-ignored {
					return b, nil
				}
			}
			ohms := math.Exp(x)
			if driven {
				responses, err := ready.bare(ohms)
				if err != nil {
					return 0, err
				}
				for i, r := range responses {
					quick[i] = r.Value()
				}
				b := e.bound(quick, variance)
				beneath := max(hopeless, least, out.best.log-ignored)
				if b >= beneath && q != nil {
					got, err := answers.near(ohms)
					if err != nil {
						return 0, err
					}
					b += q.answerer.logChance(q.answers, got)
				}
				if b < beneath {
					return b, nil
				}
				j, err := judge(ready, ohms, responses)
				return j.log, err
			}
			if err := ready.values(ohms, quick); err != nil {
				return 0, err
			}
			if b := e.bound(quick, variance); b < hopeless {
				return b, nil
			}
			j, err := try(ready, ohms)
			return j.log, err
		}, marks...)
		if err != nil {
			return out, err
		}
		for _, s := range curve {
			s.fraction = fraction
			out.samples = append(out.samples, s)
		}
	}
	span := math.Log(f.Free.Max/f.Free.Min) * float64(len(places))
	out.evidence = integrate(out.samples, span)
	return out, nil
}

// commonStep is the least difference in ohms that a common meter shows.
const commonStep = 0.25

// fractions chooses the places along a fault's wires that are tried: as many
// as a meter that shows differences of so many ohms could tell apart.
func fractions(c *netlist.Circuit, f *Fault, finest float64) []float64 {
	if len(f.Wires) == 0 {
		return []float64{0.5}
	}
	step, most := commonStep, 9 // ohms between places; places
	if finest > 0 && finest < step {
		step, most = finest, 41
	}
	n := min(most, 1+int(wireOhms(c, f)/step))
	out := make([]float64, n)
	for i := range out {
		out[i] = (float64(i) + 0.5) / float64(n)
	}
	return out
}

// wireOhms is the resistance of the wires that a fault may be along.
func wireOhms(c *netlist.Circuit, f *Fault) float64 {
	ohms := 0.0
	for _, w := range f.Wires {
		ohms += c.Elements[w].Off.Ohms(nil)
	}
	return ohms
}

// trace follows a log likelihood over [low, high], halving steps where it still
// changes and matters. Each sample's width is its share of the range, so that
// exp(log)·width sums to the integral. marks are places within the range that are looked at
// beside the first even steps.
func trace(low, high float64, at func(float64) (float64, error), marks ...float64) ([]sample, error) {
	return (&tracing{}).trace(low, high, at, marks...)
}

// tracing is scratch space for [trace]; what one call returns is good until the next.
type tracing struct {
	s, spare []sample
	first    []float64
}

func (t *tracing) trace(low, high float64, at func(float64) (float64, error), marks ...float64) ([]sample, error) {
	const (
		coarse   = 24   // first steps
		levels   = 9    // halvings at most
		change   = 0.6  // a step that changes the log by less is fine enough
		matters  = 12.0 // this far below the best a step is of no account
		mostHere = 400
		even     = 1e-6 // a step that changes it by less changes nothing
	)
	s, spare := t.s[:0], t.spare[:0]
	defer func() { t.s, t.spare = s, spare }()
	take := func(to []sample, x float64) ([]sample, error) {
		l, err := at(x)
		return append(to, sample{logOhms: x, log: l}), err
	}
	var err error
	first := append(t.first[:0], marks...)
	for i := 0; i <= coarse; i++ {
		first = append(first, low+(high-low)*float64(i)/coarse)
	}
	slices.Sort(first)
	t.first = first
	for _, x := range slices.Compact(first) {
		if s, err = take(s, x); err != nil {
			return nil, err
		}
	}
	for level := 0; level < levels; level++ {
		best := math.Inf(-1)
		for _, p := range s {
			best = math.Max(best, p.log)
		}
		n := len(s)
		out := spare[:0]
		for i, a := range s {
			out = append(out, a)
			if i+1 == n || len(out)+n-i > mostHere {
				continue
			}
			b := s[i+1]
			// A step matters by itself or by its neighbours: across the top of a
			// peak the two ends may be level.
			steepest := math.Abs(a.log - b.log)
			if i > 0 {
				steepest = math.Max(steepest, math.Abs(a.log-s[i-1].log))
			}
			if i+2 < n {
				steepest = math.Max(steepest, math.Abs(b.log-s[i+2].log))
			}
			peak := (i == 0 || s[i-1].log <= a.log) && a.log >= b.log ||
				(i+2 >= n || s[i+2].log <= b.log) && b.log >= a.log
			// A narrow peak may hide beside any point that is higher than its
			// neighbours, so those are looked into a few times regardless; not where
			// nothing changes at all.
			hidden := peak && level < 3 && steepest > even
			if steepest > change && (math.Max(a.log, b.log) > best-matters || hidden) {
				if out, err = take(out, (a.logOhms+b.logOhms)/2); err != nil {
					return nil, err
				}
			}
		}
		s, spare = out, s
		if len(s) == n {
			break
		}
	}
	for i := range s {
		left, right := low, high
		if i > 0 {
			left = (s[i-1].logOhms + s[i].logOhms) / 2
		}
		if i+1 < len(s) {
			right = (s[i].logOhms + s[i+1].logOhms) / 2
		}
		s[i].width = right - left
	}
	return s, nil
}

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// logSum sums what is known by its logarithms, with one logarithm in the end.
type logSum struct {
	top  float64 // the greatest
	more float64 // the others, in parts of that
}

func (s *logSum) add(x float64) {
	switch {
	case x > s.top:
		s.more = math.Exp(s.top-x) * (1 + s.more)
		s.top = x
	case !math.IsInf(x, -1):
		s.more += math.Exp(x - s.top)
	}
}

func (s *logSum) log() float64 {
	if s.more == 0 {
		return s.top
	}
	return s.top + math.Log1p(s.more)
}

// Estimate is a free value with the range that holds 95 % of its posterior.
type Estimate struct{ Best, Low, High float64 }

// estimate sums the posterior over one of the free values.
func estimate(samples []sample, best float64, of func(sample) float64) *Estimate {
	s := slices.Clone(samples)
	slices.SortStableFunc(s, func(a, b sample) int {
		switch {
		case of(a) < of(b):
			return -1
		case of(a) > of(b):
			return 1
		}
		return 0
	})
	out := &Estimate{Best: best, Low: best, High: best}
	sum := 0.0
	for _, x := range s {
		before := sum
		sum += x.weight
		if before < 0.025 && sum >= 0.025 {
			out.Low = math.Min(best, of(x))
		}
		if before < 0.975 && sum >= 0.975 {
			out.High = math.Max(best, of(x))
		}
	}
	return out
}

func values(responses []predicted) []solve.Value {
	out := make([]solve.Value, len(responses))
	for i, r := range responses {
		out[i] = r.Value()
	}
	return out
}
