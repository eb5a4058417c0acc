package faults

import (
	"errors"
	"math"
	"slices"
)

// fitAtWork is [predictor.fit] for a fault with free ohms where all readings are of a bus at
// work: how uncertain they are is worked out in steps of the ohms, and who answers only where
// the readings leave something to be told.
func (p *predictor) fitAtWork(f *Fault, e *evidence, q *asked, least float64) (fitted, error) {
	out := fitted{evidence: math.Inf(-1)}
	low, high := math.Log(f.Free.Min), math.Log(f.Free.Max)
	places := fractions(p.c, f, p.finest)
	top := math.Inf(-1)
	var best *prepared
	var bestAnswers *preparedAnswers
	for _, fraction := range places {
		ready, err := p.prepare(f, fraction)
		if err != nil {
			return out, err
		}
		var answers *preparedAnswers
		if q != nil {
			if answers, err = q.prepare(f, fraction); err != nil {
				return out, err
			}
		}
		near := &nearAtWork{e: e, ready: ready, sticks: map[int]*jointStick{}}
		curve, err := trace(low, high, func(x float64) (float64, error) {
			ohms := math.Exp(x)
			log, err := near.log(ohms)
			if err != nil {
				return 0, err
			}
			// What lies far beneath is only bounded: the first that is worked out is kept
			// whatever it is.
			if best != nil && log < max(least, top-ignored) {
				return log, nil
			}
			if q != nil {
				got, err := answers.near(ohms)
				if err != nil {
					return 0, err
				}
				log += q.answerer.logChance(q.answers, got)
			}
			if best == nil || log > top {
				top, best, bestAnswers, out.ohms = log, ready, answers, ohms
			}
			return log, nil
		})
		if err != nil {
			return out, err
		}
		for _, s := range curve {
			s.fraction = fraction
			out.samples = append(out.samples, s)
		}
	}
	responses, err := best.at(out.ohms)
	if err != nil {
		return out, err
	}
	out.best, out.values, out.fraction = e.judge(responses), values(responses), best.fraction
	if q != nil {
		if out.answered, err = bestAnswers.near(out.ohms); err != nil {
			return out, err
		}
		out.best.log += q.answerer.logChance(q.answers, out.answered)
	}
	out.evidence = integrate(out.samples, (high-low)*float64(len(places)))
	return out, nil
}

// nearAtWork is the likelihood of readings of a bus at work, with one fault at one place.
// Their covariance is worked out in the steps of its free ohms in which their uncertainty
// is. One goroutine uses it.
type nearAtWork struct {
	e          *evidence
	ready      *prepared
	sticks     map[int]*jointStick // by step
	mean, lift []float64
	last       []predicted // and what it came to
	lastLog    float64
}

func (n *nearAtWork) log(ohms float64) (float64, error) {
	responses, err := n.ready.bare(ohms)
	if err != nil {
		return 0, err
	}
	// What moves nothing on the bus has the readings of sound wiring, the very same.
	if n.last != nil && slices.Equal(n.last, responses) {
		return n.lastLog, nil
	}
	step := n.ready.step(ohms)
	k, known := n.sticks[step]
	if !known {
		if err := n.ready.borrow(ohms, responses); err != nil {
			return 0, err
		}
		j := n.e.judge(responses)
		k = n.e.joint(&j)
		n.sticks[step] = k
	}
	n.last, n.lastLog = responses, math.Inf(-1)
	if k == nil {
		return n.lastLog, nil
	}
	n.mean, n.lift = n.mean[:0], n.lift[:0]
	for _, r := range responses {
		d, ok := r.(*drivenReading)
		if !ok {
			return 0, errors.New("faults: a reading at rest among those of a bus at work")
		}
		n.mean, n.lift = append(n.mean, d.value), append(n.lift, d.dutyLimit())
	}
	n.lastLog = k.log(n.mean, n.lift)
	return n.lastLog, nil
}
