package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Names of the two answers that are not faults.
const (
	HealthyName = "healthy wiring"
	NoneName    = "none of these"
)

// MatchOptions are settings of [Match]; nil stands for the defaults.
type MatchOptions struct {
	// Healthy is the probability, before any reading, that the wiring is
	// sound and the complaint has another cause; 0 means 0.1. From memory.
	Healthy float64
	// None is the probability, before any reading, that something is wrong
	// which the catalogue does not have (two faults at once, say); 0 means
	// 0.01. From memory.
	None float64
	// Progress, where not nil, is called after each fault.
	Progress func(done, of int)
	// Answers is what modules answered a scan tool, evidence beside readings.
	Answers []Answer
}

// Match is what readings say about a harness.
type Match struct {
	Readings []Reading
	Answers  []Answer
	// Hypotheses in the order of falling probability: every fault, healthy
	// wiring, and none of these.
	Hypotheses []Hypothesis
	// Groups are the hypotheses that these readings cannot tell apart, as
	// indices of Hypotheses, in the order of falling probability. Healthy wiring
	// forms a group with the faults that the readings do not see. Hypotheses
	// below one in a thousand are left out.
	Groups []MatchGroup
	// Parts sums the probabilities by what there is to repair.
	Parts []PartProbability
}

// MatchGroup is hypotheses that predict the same for every reading taken.
type MatchGroup struct {
	Hypotheses  []int
	Probability float64
}

// PartProbability is how probable it is that a part is at fault.
type PartProbability struct {
	Part        string
	Probability float64
}

// Hypothesis is one explanation of the readings.
type Hypothesis struct {
	// Name of the fault, or HealthyName or NoneName.
	Name string
	// Fault is nil for the answers that are not faults.
	Fault       *Fault
	Probability float64
	// Ohms is the fault's free resistance, nil where it has none.
	Ohms *Estimate
	// Metres is the fault's place along its wire from the From end, nil where
	// it has none or only one place was tried.
	Metres *Estimate
	// Predicted is each reading as this hypothesis has it, at its best free
	// values; empty for NoneName.
	Predicted []Prediction
	// Answers is what each of the modules asked does by this hypothesis; empty
	// for NoneName.
	Answers []solve.Hearing
	// ChiSquare of the readings that are numbers against the prediction, its
	// degrees of freedom, and the chance of a worse fit if the hypothesis is
	// true. The chance is 1 where no degree of freedom is left.
	ChiSquare float64
	Freedom   int
	Chance    float64

	judged  judged
	samples []sample // of the free values, by weight; nil where there are none
}

// Prediction is one reading as a hypothesis has it.
type Prediction struct {
	Value solve.Value
	// Off is how far the reading lies from the prediction in standard
	// deviations, tolerances and instrument together; for an OL reading of
	// which the hypothesis leaves little chance, that chance as a normal
	// deviation.
	Off float64
	// Against is the same with what the other readings say of the shared
	// tolerances taken into account.
	Against float64
}

// Best is the most probable explanation: a fault or healthy wiring.
func (m *Match) Best() *Hypothesis {
	if m.Hypotheses[0].Name == NoneName {
		return &m.Hypotheses[1]
	}
	return &m.Hypotheses[0]
}

// None is the probability of "none of these".
func (m *Match) None() float64 {
	for i := range m.Hypotheses {
		if m.Hypotheses[i].Name == NoneName {
			return m.Hypotheses[i].Probability
		}
	}
	return 0
}

// LooksHealthy tells whether nothing that was read speaks of a fault: healthy
// wiring is the most probable single explanation, or stands in the most probable
// group.
func (m *Match) LooksHealthy() bool {
	if m.NothingFits() {
		return false
	}
	if m.Best().Name == HealthyName {
		return true
	}
	if len(m.Groups) == 0 {
		return false
	}
	for _, i := range m.Groups[0].Hypotheses {
		if m.Hypotheses[i].Name == HealthyName {
			return true
		}
	}
	return false
}

// poorChance is the chance of a worse fit below which a fit is called poor.
const poorChance = 0.001

// Poor tells whether the readings contradict the hypothesis: the fit is worse
// than one in a thousand would be.
func (h *Hypothesis) Poor() bool {
	if h.Name == NoneName {
		return false
	}
	if h.Chance < poorChance {
		return true
	}
	for _, p := range h.Predicted {
		if math.Abs(p.Against) > 5 {
			return true
		}
	}
	return false
}

// Contrary lists the answers, as indices of Answers, that the hypothesis has
// otherwise.
func (m *Match) Contrary(h *Hypothesis) []int {
	var out []int
	for i, got := range h.Answers {
		if m.Answers[i].Answered != (got == solve.Yes) && got != solve.Marginal {
			out = append(out, i)
		}
	}
	return out
}

// nothingFits is the probability of "none of these" from which on nothing else
// is put forward.
const nothingFits = 0.9

// NothingFits tells whether no hypothesis explains the readings: the best one is
// contradicted by them, or none of these is all but certain.
func (m *Match) NothingFits() bool {
	return m.Best().Poor() || m.None() > nothingFits
}

// ErrNoReadings says that there is nothing to match.
var ErrNoReadings = errors.New("faults: no readings; take at least one")

// MakeMatch ranks faults, healthy wiring and none of these by how well they
// explain readings.
func MakeMatch(c *netlist.Circuit, faults []*Fault, readings []Reading, in Instrument, opts *MatchOptions) (*Match, error) {
	var o MatchOptions
	if opts != nil {
		o = *opts
	}
	if len(readings) == 0 && len(o.Answers) == 0 {
		return nil, ErrNoReadings
	}
	if o.Healthy == 0 {
		o.Healthy = 0.1
	}
	if o.None == 0 {
		o.None = 0.01
	}
	probes := make([]Probe, len(readings))
	for i, r := range readings {
		probes[i] = r.Probe
	}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		return nil, err
	}
	e := newEvidence(c, readings, in)
	m := &Match{Readings: readings, Answers: o.Answers}
	var q *asked
	if len(o.Answers) > 0 {
		tools, err := checkAnswers(c, o.Answers)
		if err != nil {
			return nil, err
		}
		q = &asked{answers: o.Answers}
		if q.answerer, err = newAnswerer(c, tools); err != nil {
			return nil, err
		}
	}
	var logs []float64
	add := func(h Hypothesis, prior, evidence float64) {
		m.Hypotheses = append(m.Hypotheses, h)
		logs = append(logs, math.Log(prior)+evidence)
	}

	healthy, err := p.healthy()
	if err != nil {
		return nil, err
	}
	sound := Hypothesis{Name: HealthyName, judged: e.judge(healthy)}
	sound.explain(e, values(healthy), 0)
	if q != nil {
		got, err := q.answerer.of(q.answerer.buses)
		if err != nil {
			return nil, err
		}
		sound.judged.log += q.answerer.logChance(q.answers, got)
		sound.answersBy(q, got)
	}
	add(sound, o.Healthy, sound.judged.log)

	all := 0.0
	for _, f := range faults {
		all += f.Rate
	}
	for k, f := range faults {
		fit, err := p.fit(f, e, q)
		if err != nil {
			return nil, err
		}
		h := Hypothesis{Name: f.Name, Fault: f, judged: fit.best, samples: fit.samples}
		free := 0
		if f.Free != nil {
			free++
			h.Ohms = estimate(fit.samples, fit.ohms, func(s sample) float64 { return math.Exp(s.logOhms) })
			if f.LengthM > 0 && len(fractionsFor(c, f)) > 1 {
				free++
				h.Metres = estimate(fit.samples, fit.fraction*f.LengthM, func(s sample) float64 { return s.fraction * f.LengthM })
			}
		}
		h.explain(e, fit.values, free)
		if q != nil {
			h.answersBy(q, fit.answered)
		}
		add(h, (1-o.Healthy-o.None)*f.Rate/all, fit.evidence)
		if o.Progress != nil {
			o.Progress(k+1, len(faults))
		}
	}
	add(Hypothesis{Name: NoneName, Chance: 1}, o.None, e.anything()+anyAnswer(o.Answers))

	sum := math.Inf(-1)
	for _, l := range logs {
		sum = logAdd(sum, l)
	}
	for i := range m.Hypotheses {
		m.Hypotheses[i].Probability = math.Exp(logs[i] - sum)
	}
	// What differs by rounding only keeps the catalogue's order.
	rounded := func(h Hypothesis) float64 { return math.Round(math.Log(h.Probability) * 1e7) }
	slices.SortStableFunc(m.Hypotheses, func(a, b Hypothesis) int { return cmp.Compare(rounded(b), rounded(a)) })
	m.tie()
	m.sumParts()
	return m, nil
}

// answersBy fills in what the modules asked do.
func (h *Hypothesis) answersBy(q *asked, got answered) {
	for _, x := range q.answers {
		h.Answers = append(h.Answers, got.of(q.answerer, x))
	}
}

// explain fills in how each reading lies to the prediction.
func (h *Hypothesis) explain(e *evidence, predicted []solve.Value, free int) {
	j := h.judged
	h.ChiSquare, h.Chance = j.chiSquare, 1
	if h.Freedom = max(0, len(e.finite)-free); h.Freedom > 0 {
		h.Chance = distuv.ChiSquared{K: float64(h.Freedom)}.Survival(j.chiSquare)
	}
	h.Predicted = make([]Prediction, len(predicted))
	for i, v := range predicted {
		if e.readings[i].Probe.Quantity == solve.Ohms {
			v.Number += e.leadMid // what the meter would show, leads included
		}
		h.Predicted[i].Value = v
	}
	for a, i := range e.over {
		if a < len(j.overChance) {
			off := deviation(j.overChance[a])
			h.Predicted[i].Off, h.Predicted[i].Against = off, off
		}
	}
	f := len(e.finite)
	if f == 0 {
		return
	}
	c := mat.NewSymDense(f, nil)
	residual := mat.NewVecDense(f, nil)
	for a, i := range e.finite {
		residual.SetVec(a, e.y[i]-j.mean[i])
		for b := a; b < f; b++ {
			c.SetSym(a, b, j.covariance.At(i, e.finite[b]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return
	}
	var precision mat.SymDense
	if err := chol.InverseTo(&precision); err != nil {
		if _, doubtful := err.(mat.Condition); !doubtful {
			return
		}
	}
	weighted := mat.NewVecDense(f, nil)
	weighted.MulVec(&precision, residual)
	for a, i := range e.finite {
		h.Predicted[i].Off = residual.AtVec(a) / math.Sqrt(c.At(a, a))
		// What is left of a residual once the others have said what the shared
		// tolerances are: (C⁻¹r)ᵢ / √(C⁻¹)ᵢᵢ.
		h.Predicted[i].Against = weighted.AtVec(a) / math.Sqrt(precision.At(a, a))
	}
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

// alike is the distance of two predictions, in standard deviations of a
// difference, below which they count as the same.
const alike = 0.5

// tie puts hypotheses together that these readings cannot tell apart.
func (m *Match) tie() {
	const least = 1e-3
	var open []int
	for i, h := range m.Hypotheses {
		if h.Probability >= least {
			open = append(open, i)
		}
	}
	taken := map[int]bool{}
	for _, i := range open {
		if taken[i] {
			continue
		}
		taken[i] = true
		g := MatchGroup{Hypotheses: []int{i}, Probability: m.Hypotheses[i].Probability}
		// Whatever is like a member belongs too (the cautious rule).
		for at := 0; at < len(g.Hypotheses); at++ {
			for _, k := range open {
				if !taken[k] && m.alike(g.Hypotheses[at], k) {
					taken[k] = true
					g.Hypotheses = append(g.Hypotheses, k)
					g.Probability += m.Hypotheses[k].Probability
				}
			}
		}
		slices.Sort(g.Hypotheses)
		m.Groups = append(m.Groups, g)
	}
	slices.SortStableFunc(m.Groups, func(a, b MatchGroup) int { return cmp.Compare(b.Probability, a.Probability) })
}

func (m *Match) alike(a, b int) bool {
	ja, jb := m.Hypotheses[a].judged, m.Hypotheses[b].judged
	n := len(m.Readings)
	if len(ja.mean) != n || len(jb.mean) != n {
		return false // none of these predicts nothing
	}
	if !slices.Equal(m.Hypotheses[a].Answers, m.Hypotheses[b].Answers) {
		return false
	}
	if n == 0 {
		return true
	}
	d := mat.NewVecDense(n, nil)
	for i := range ja.mean {
		d.SetVec(i, ja.mean[i]-jb.mean[i])
	}
	var chol mat.Cholesky
	if !chol.Factorize(ja.covariance) {
		return false
	}
	x := mat.NewVecDense(n, nil)
	if err := chol.SolveVecTo(x, d); err != nil {
		if _, doubtful := err.(mat.Condition); !doubtful {
			return false
		}
	}
	return mat.Dot(d, x) < alike*alike
}

func (m *Match) sumParts() {
	sums := map[string]float64{}
	var order []string
	for _, h := range m.Hypotheses {
		part := h.Name
		if h.Fault != nil {
			part = h.Fault.Part
		}
		if _, seen := sums[part]; !seen {
			order = append(order, part)
		}
		sums[part] += h.Probability
	}
	for _, part := range order {
		m.Parts = append(m.Parts, PartProbability{part, sums[part]})
	}
	slices.SortStableFunc(m.Parts, func(a, b PartProbability) int { return cmp.Compare(b.Probability, a.Probability) })
}
