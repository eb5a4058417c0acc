package faults

import (
	"errors"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

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
	// which the catalogue does not have; 0 means 0.01. From memory.
	None float64
	// Two and Three are the probabilities, before any reading, of two and of
	// three faults at once; 0 means 0.04 and 0.004, less than 0 that they are not
	// looked for. From memory.
	Two, Three float64
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
	// Parts sums the probabilities by what there is to repair, each part with all
	// explanations that it is in, alone or with others, second faults that change no
	// reading among them: where two parts are at fault at once the sum is above 1.
	Parts []PartProbability
	// Searched says what was weighed beside single faults.
	Searched Searched

	evidence *evidence
}

// MatchGroup is hypotheses that predict the same for every reading taken.
type MatchGroup struct {
	Hypotheses  []int
	Probability float64
}

// Explanations are the hypotheses of a group of this match, the most probable first.
func (m *Match) Explanations(g MatchGroup) []*Hypothesis {
	out := make([]*Hypothesis, len(g.Hypotheses))
	for i, k := range g.Hypotheses {
		out[i] = &m.Hypotheses[k]
	}
	return out
}

// PartProbability is how probable it is that a part is at fault, or that nothing
// is, or something that is not in the catalogue.
type PartProbability struct {
	Part        string
	Probability float64
}

// Hypothesis is one explanation of the readings.
type Hypothesis struct {
	// Name of the fault, or HealthyName or NoneName.
	Name string
	// Fault is nil for the answers that are not faults. For several at once it is
	// all of them in one, the first with its ohms free, the others at their best.
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

	// Members are the faults that are there at once by this explanation, one for
	// a single fault, none for the answers that are not faults.
	Members []Member

	judged  judged
	samples []sample // of the free values, by weight; nil where there are none
}

// Member is one of the faults of an explanation.
type Member struct {
	Fault *Fault
	// Ohms and Metres as in [Hypothesis].
	Ohms, Metres *Estimate
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
	return slices.ContainsFunc(m.Explanations(m.Groups[0]), func(h *Hypothesis) bool { return h.Name == HealthyName })
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
	misread := h.Misread()
	for i, p := range h.Predicted {
		if i != misread && math.Abs(p.Against) > 5 {
			return true
		}
	}
	return false
}

// Misread is the reading, as an index of Readings, that this explanation takes to
// be something else than it is said to be (a wrong cavity, the supply left on), or
// −1.
func (h *Hypothesis) Misread() int {
	for i, p := range h.judged.misread {
		if p > 0.5 {
			return i
		}
	}
	return -1
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
	return NewMatcher(c, faults, in).Match(readings, &o)
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
	sortSteadily(m.Groups, func(g *MatchGroup) float64 { return g.Probability })
}

func (m *Match) alike(a, b int) bool {
	return m.Distance(&m.Hypotheses[a], &m.Hypotheses[b]) < alike
}

// Distance is how far apart two explanations' predictions lie, in standard deviations
// of the readings taken, tolerances and meter together: their detectability d′. It is
// +Inf where one of them predicts nothing, or modules do otherwise by one than by the
// other.
func (m *Match) Distance(a, b *Hypothesis) float64 {
	ja, jb := a.judged, b.judged
	n := len(m.Readings)
	if len(ja.mean) != n || len(jb.mean) != n || a.Name == NoneName || b.Name == NoneName {
		return math.Inf(1) // none of these predicts nothing
	}
	if !slices.Equal(a.Answers, b.Answers) {
		return math.Inf(1)
	}
	if n == 0 {
		return 0
	}
	d := mat.NewVecDense(n, nil)
	for i := range ja.mean {
		d.SetVec(i, ja.mean[i]-jb.mean[i])
	}
	var chol mat.Cholesky
	if !chol.Factorize(ja.covariance) {
		return math.Inf(1)
	}
	x := mat.NewVecDense(n, nil)
	if err := chol.SolveVecTo(x, d); err != nil {
		if _, doubtful := err.(mat.Condition); !doubtful {
			return math.Inf(1)
		}
	}
	return math.Sqrt(math.Max(0, mat.Dot(d, x)))
}

// sumParts adds up what each part has in all explanations; besides is what parts have of
// them with a second fault that is not named.
func (m *Match) sumParts(besides map[string]float64) {
	sums := map[string]float64{}
	var order []string
	add := func(part string, p float64) {
		if _, seen := sums[part]; !seen {
			order = append(order, part)
		}
		sums[part] += p
	}
	for _, h := range m.Hypotheses {
		if len(h.Members) == 0 {
			add(h.Name, h.Probability)
		}
		var done []string
		for _, x := range h.Members {
			if !slices.Contains(done, x.Fault.Part) {
				done = append(done, x.Fault.Part)
				add(x.Fault.Part, h.Probability)
			}
		}
	}
	for _, part := range slices.Sorted(maps.Keys(besides)) {
		add(part, besides[part])
	}
	for _, part := range order {
		m.Parts = append(m.Parts, PartProbability{part, sums[part]})
	}
	sortSteadily(m.Parts, func(p *PartProbability) float64 { return p.Probability })
}
