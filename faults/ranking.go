package faults

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/solve"
)

// Matcher matches readings of one harness again and again: what depends on the
// harness alone is worked out once. It is not safe for concurrent use.
type Matcher struct {
	c      *netlist.Circuit
	faults []*Fault
	in     Instrument
	field  *field
	high   *field // with the supply at its upper limit, made when first needed
	asked  map[string]*preparedAsked
	every  []Probe // that Next chooses from, at rest
	busy   []Probe // and with traffic
	levels []Probe // and with a scope

	looking *Looking // made when first asked for
}

// preparedAsked is who answers certain tools, with each fault.
type preparedAsked struct {
	answerer *answerer
	byFault  map[*Fault]map[float64]*preparedAnswers // by fraction
	lock     sync.Mutex
}

// NewMatcher makes ready to match readings against a catalogue.
func NewMatcher(c *netlist.Circuit, faults []*Fault, in Instrument) *Matcher {
	return &Matcher{c: c, faults: faults, in: in, field: newField(c, faults, in.finest()), asked: map[string]*preparedAsked{}}
}

// defaults fills in what is left open.
func (o *MatchOptions) defaults() {
	set := func(p *float64, v float64) {
		switch {
		case *p == 0:
			*p = v
		case *p < 0:
			*p = 0
		}
	}
	set(&o.Healthy, 0.1)
	set(&o.None, 0.01)
	set(&o.Two, 0.04)
	set(&o.Three, 0.004)
}

// one is the probability of a single fault before any reading.
func (o *MatchOptions) one() float64 { return 1 - o.Healthy - o.None - o.Two - o.Three }

// ask prepares for answers.
func (x *Matcher) ask(answers []Answer) (*asked, error) {
	if len(answers) == 0 {
		return nil, nil
	}
	tools, err := checkAnswers(x.c, answers)
	if err != nil {
		return nil, err
	}
	key := strings.Join(tools, "|")
	if x.asked[key] == nil {
		a, err := newAnswerer(x.c, tools)
		if err != nil {
			return nil, err
		}
		x.asked[key] = &preparedAsked{answerer: a, byFault: map[*Fault]map[float64]*preparedAnswers{}}
	}
	return &asked{answers: answers, answerer: x.asked[key].answerer, known: x.asked[key].byFault, lock: &x.asked[key].lock}, nil
}

// Match ranks faults, healthy wiring and none of these by how well they explain
// readings. Readings that cannot be ([Reading.Wrong]) are an error, a [problem.List] of
// all of them.
func (x *Matcher) Match(readings []Reading, opts *MatchOptions) (*Match, error) {
	var o MatchOptions
	if opts != nil {
		o = *opts
	}
	if len(readings) == 0 && len(o.Answers) == 0 {
		return nil, ErrNoReadings
	}
	var wrong problem.List
	for i, r := range readings {
		for _, w := range r.Wrong(x.c) {
			w.Element = fmt.Sprintf("reading number %d, %s", i+1, w.Element)
			wrong = append(wrong, w)
		}
	}
	if err := wrong.Err(); err != nil {
		return nil, err
	}
	o.defaults()
	if !(o.one() > 0) {
		return nil, fmt.Errorf("faults: the probabilities before any reading leave %.3g for one fault (healthy %g, none %g, two %g, three %g); make them add up to less than 1", o.one(), o.Healthy, o.None, o.Two, o.Three)
	}
	probes := make([]Probe, len(readings))
	for i, r := range readings {
		probes[i] = r.Probe
	}
	p, err := newPredictor(x.c, probes, x.in.Meter)
	if err != nil {
		return nil, err
	}
	p.finest = x.in.finest()
	e := newEvidence(x.c, readings, x.in)
	if err := x.slips(e); err != nil {
		return nil, err
	}
	r := &ranking{x: x, o: o, p: p, e: e, m: &Match{Readings: readings, Answers: o.Answers, evidence: e}}
	if r.asked, err = x.ask(o.Answers); err != nil {
		return nil, err
	}
	for _, f := range x.faults {
		r.rates += f.Rate
	}
	if err := r.healthy(); err != nil {
		return nil, err
	}
	r.none = math.Log(o.None) + r.e.anything() + anyAnswer(o.Answers)
	if err := r.prepareSearch(); err != nil {
		return nil, err
	}
	if err := r.singles(); err != nil {
		return nil, err
	}
	r.add(Hypothesis{Name: NoneName, Chance: 1}, r.none)
	if err := r.several(); err != nil {
		return nil, err
	}
	return r.finish(), nil
}

// ranking is a match in the making.
type ranking struct {
	x      *Matcher
	o      MatchOptions
	p      *predictor
	e      *evidence
	asked  *asked
	m      *Match
	rates  float64 // of all faults
	none   float64 // log of prior and likelihood of "none of these"
	logs   []float64
	search *search        // of the readings at rest; nil where there are none
	rest   []int          // those readings
	of     []int          // fault: its hypothesis
	who    []answered     // fault: who answers with it, at its best; nil where not asked
	left   []remainder    // sets that were neither ruled out nor weighed
	unseen *unseenSeconds // nil where no pairs were looked at
}

func (r *ranking) add(h Hypothesis, log float64) {
	r.m.Hypotheses = append(r.m.Hypotheses, h)
	r.logs = append(r.logs, log)
}

func (r *ranking) healthy() error {
	responses, err := r.p.healthy()
	if err != nil {
		return err
	}
	h := Hypothesis{Name: HealthyName, judged: r.e.judge(responses)}
	h.explain(r.e, values(responses), 0)
	if q := r.asked; q != nil {
		got, err := q.answerer.of(q.answerer.buses)
		if err != nil {
			return err
		}
		h.judged.log += q.answerer.logChance(q.answers, got)
		h.answersBy(q, got)
	}
	r.add(h, math.Log(r.o.Healthy)+h.judged.log)
	return nil
}

// prepareSearch sees the readings at rest from ports.
func (r *ranking) prepareSearch() error {
	var rest []Reading
	for i, x := range r.m.Readings {
		if !x.Probe.driven() {
			rest = append(rest, x)
			r.rest = append(r.rest, i)
		}
	}
	if len(rest) == 0 {
		return nil
	}
	var err error
	e := newEvidence(r.x.c, rest, r.x.in)
	for k, i := range r.rest {
		e.slip[k] = r.e.slip[i]
	}
	r.search, err = newSearch(r.x.field, e, r.x.in.Meter)
	return err
}

// finish turns logarithms into probabilities and puts all in order.
func (r *ranking) finish() *Match {
	m := r.m
	sum := math.Inf(-1)
	for _, l := range r.logs {
		sum = logAdd(sum, l)
	}
	for _, x := range r.left {
		for _, l := range x.logs {
			sum = logAdd(sum, l)
		}
	}
	for i := range m.Hypotheses {
		m.Hypotheses[i].Probability = math.Exp(r.logs[i] - sum)
	}
	besides := map[string]float64{}
	if r.unseen != nil {
		besides = r.unseen.parts(r.x.faults, func(k int) float64 { return m.Hypotheses[r.of[k]].Probability })
	}
	for _, x := range r.left {
		for i, set := range x.sets {
			p := math.Exp(x.logs[i] - sum)
			m.Searched.LeftShare += p
			for k, f := range set.members {
				part := r.x.faults[f].Part
				if !slices.ContainsFunc(set.members[:k], func(g int) bool { return r.x.faults[g].Part == part }) {
					besides[part] += p
				}
			}
		}
	}
	sortSteadily(m.Hypotheses, func(h *Hypothesis) float64 { return h.Probability })
	r.exactly()
	m.tie()
	m.sumParts(besides)
	return m
}

// answersBy fills in what the modules asked do.
func (h *Hypothesis) answersBy(q *asked, got answered) {
	for _, x := range q.answers {
		h.Answers = append(h.Answers, got.of(q.answerer, x))
	}
}

// explain fills in how each reading lies to the prediction. A reading that the
// explanation takes to be misread is held against it, and not the others against
// that reading.
func (h *Hypothesis) explain(e *evidence, predicted []solve.Value, free int) {
	j := h.judged
	misread := h.Misread()
	h.Predicted = make([]Prediction, len(predicted))
	for i, v := range predicted {
		v = e.shown(i, v)
		if e.readings[i].Probe.Traffic {
			v.Number = j.mean[i] // by the dominant shares that the readings leave
		}
		h.Predicted[i].Value = v
	}
	for a, i := range e.over {
		if a < len(j.overChance) {
			off := deviation(j.overChance[a])
			h.Predicted[i].Off, h.Predicted[i].Against = off, off
		}
	}
	var trusted []int // readings that are numbers and not misread
	for _, i := range e.finite {
		if i != misread {
			trusted = append(trusted, i)
		}
	}
	h.ChiSquare, h.Chance = 0, 1
	h.Freedom = max(0, len(trusted)-free)
	defer func() {
		if h.Freedom > 0 {
			h.Chance = distuv.ChiSquared{K: float64(h.Freedom)}.Survival(h.ChiSquare)
		}
	}()
	f := len(trusted)
	weighted, precision := mat.NewVecDense(max(f, 1), nil), mat.NewSymDense(max(f, 1), nil)
	if f > 0 {
		c := mat.NewSymDense(f, nil)
		residual := mat.NewVecDense(f, nil)
		for a, i := range trusted {
			residual.SetVec(a, e.y[i]-j.mean[i])
			for b := a; b < f; b++ {
				c.SetSym(a, b, j.covariance.At(i, trusted[b]))
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(c) {
			return
		}
		if err := chol.InverseTo(precision); err != nil {
			if _, doubtful := err.(mat.Condition); !doubtful {
				return
			}
		}
		weighted.MulVec(precision, residual)
		h.ChiSquare = mat.Dot(weighted, residual)
		for a, i := range trusted {
			h.Predicted[i].Off = residual.AtVec(a) / math.Sqrt(c.At(a, a))
			// What is left of a residual once the others have said what the shared
			// tolerances are: (C⁻¹r)ᵢ / √(C⁻¹)ᵢᵢ.
			h.Predicted[i].Against = weighted.AtVec(a) / math.Sqrt(precision.At(a, a))
		}
	}
	if misread < 0 || e.readings[misread].Value.OL {
		return
	}
	mean, variance := j.mean[misread], j.covariance.At(misread, misread)
	h.Predicted[misread].Off = (e.y[misread] - mean) / math.Sqrt(variance)
	for a, i := range trusted {
		mean += j.covariance.At(misread, i) * weighted.AtVec(a)
		for b, k := range trusted {
			variance -= j.covariance.At(misread, i) * precision.At(a, b) * j.covariance.At(misread, k)
		}
	}
	h.Predicted[misread].Against = (e.y[misread] - mean) / math.Sqrt(math.Max(variance, e.own[misread]))
}

// deviation turns a small chance into the normal deviation that is as rare.
func deviation(chance float64) float64 {
	if chance >= 0.5 {
		return 0
	}
	if chance < 1e-300 {
		chance = 1e-300
	}
	return -distuv.UnitNormal.Quantile(chance)
}
