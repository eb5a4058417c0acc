package trial

import (
	"math"
	"slices"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// confusable is the distance of two explanations' predictions, in standard
// deviations, up to which readings cannot tell them apart with 95 % certainty: for
// two equally probable normal distributions d apart no rule errs less often than
// Φ(−d/2), which is 5 % here.
const confusable = 3.29

// alarm is the probability of a part from which on a technician takes it apart, so
// that it is a false alarm in a sound vehicle.
const alarm = 0.95

// Place is how a match places what is wrong with a vehicle: 1 where the best
// explanation is it or predicts so much the same for all that was read that the two
// cannot be told apart with 95 % certainty (an ambiguity group; the rule is pairwise,
// towards the best explanation), 2 or 3 where it is in the second or third group
// of the match, else 0. Of several faults those may be missing that change no reading
// that can be taken beside the others.
func (v *Vehicle) Place(m *faults.Match) (int, error) {
	at := func(truth []*faults.Fault) int {
		best := m.Best()
		place := 0
		if same(best, truth) {
			return 1
		}
		for i := range m.Hypotheses {
			h := &m.Hypotheses[i]
			if same(h, truth) && h.Probability > 1e-6 && m.Distance(best, h) < confusable {
				return 1
			}
		}
		for k, g := range m.Groups[:min(3, len(m.Groups))] {
			for _, i := range g.Hypotheses {
				if place == 0 && same(&m.Hypotheses[i], truth) {
					place = max(2, k+1)
				}
			}
		}
		return place
	}
	place := at(v.Faults)
	if place > 0 || len(v.Faults) < 2 {
		return place, nil
	}
	for k := range v.Faults {
		unseen, err := v.unseen(k)
		if err != nil {
			return 0, err
		}
		if !unseen {
			continue
		}
		rest := slices.Delete(slices.Clone(v.Faults), k, k+1)
		if p := at(rest); p > 0 && (place == 0 || p < place) {
			place = p
		}
	}
	return place, nil
}

func same(h *faults.Hypothesis, truth []*faults.Fault) bool {
	if h.Name == faults.NoneName || len(h.Members) != len(truth) {
		return false
	}
	for _, x := range h.Members {
		if !slices.Contains(truth, x.Fault) {
			return false
		}
	}
	return true
}

// SameParts tells whether the best explanation is about the very parts that are at fault:
// what is repaired is the same then, though it may be another fault of them (an open wire
// for a joint in it). Advice leads to parts and ends when they are known.
func (v *Vehicle) SameParts(m *faults.Match) bool {
	best := m.Best()
	if len(best.Members) != len(v.Faults) {
		return false
	}
	for _, x := range best.Members {
		if !v.at(x.Fault.Part) {
			return false
		}
	}
	for _, f := range v.Faults {
		if !slices.ContainsFunc(best.Members, func(x faults.Member) bool { return x.Fault.Part == f.Part }) {
			return false
		}
	}
	return true
}

// at tells whether a part is at fault.
func (v *Vehicle) at(part string) bool {
	return slices.ContainsFunc(v.Faults, func(f *faults.Fault) bool { return f.Part == part })
}

// unseen tells whether a fault changes no reading that can be taken by more than
// the meter's own error, the other faults being there.
func (v *Vehicle) unseen(k int) (bool, error) {
	var without []solve.Change
	for i, own := range v.laid {
		if i != k {
			without = append(without, own...)
		}
	}
	for _, sel := range []faults.Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
		for _, p := range faults.Probes(v.Circuit, sel) {
			a, err := v.net(p.Condition)
			if err != nil {
				return false, err
			}
			b, err := solve.Assemble(v.Circuit, p.Condition, v.z, without...)
			if err != nil {
				return false, err
			}
			x, err := a.Read(p.Quantity, p.From, p.To, v.in.Meter)
			if err != nil {
				return false, err
			}
			y, err := b.Read(p.Quantity, p.From, p.To, v.in.Meter)
			if err != nil {
				return false, err
			}
			if x.OL != y.OL {
				return false, nil
			}
			if !x.OL && math.Abs(x.Number-y.Number) > v.in.Limit(p.Quantity, math.Max(x.Number, y.Number)) {
				return false, nil
			}
		}
	}
	return true, nil
}

// Right tells whether the part that is named first is at fault, or nothing is and
// the match says so.
func (v *Vehicle) Right(m *faults.Match) bool {
	if len(v.Faults) == 0 {
		return m.LooksHealthy()
	}
	return v.at(m.Parts[0].Part)
}

// named tells whether a part, or "healthy wiring", is what is at fault.
func (v *Vehicle) named(part string) bool {
	if len(v.Faults) == 0 {
		return part == faults.HealthyName
	}
	return v.at(part)
}

// Score sums up sessions.
type Score struct {
	Cases              int
	First, FirstThree  int     // cases whose faults are in the first group, in one of three
	SameParts          int     // cases that are First, or whose best explanation is about the same parts
	Part               int     // cases in which the part named first is at fault
	Brier              float64 // sum of squared errors of the probabilities of all labels
	Minutes            float64
	Steps              int
	Named              int     // cases in which the part named first is at fault, or "healthy wiring" is named and true
	Promised, Variance float64 // of Named, by the probabilities given
	Alarms             int     // cases in which a part is named with 95 % or more
	// Reliability counts, by tenths of the probability of the part named first,
	// how many cases there were and in how many of them it was at fault.
	Reliability [10]struct{ Cases, Right int }
}

// Add counts a session.
func (s *Score) Add(v *Vehicle, x *Session) error {
	m := x.Match
	place, err := v.Place(m)
	if err != nil {
		return err
	}
	s.Cases++
	if place == 1 {
		s.First++
	}
	if place == 1 || v.SameParts(m) {
		s.SameParts++
	}
	if place >= 1 && place <= 3 {
		s.FirstThree++
	}
	if v.Right(m) {
		s.Part++
	}
	if p := &m.Parts[0]; p.Probability >= alarm && p.Part != faults.HealthyName && p.Part != faults.NoneName {
		s.Alarms++
	}
	s.Minutes += x.Minutes
	s.Steps += len(x.Steps)
	p := m.Parts[0].Probability
	s.Promised += p
	s.Variance += p * (1 - p)
	b := &s.Reliability[min(9, int(p*10))]
	b.Cases++
	if v.named(m.Parts[0].Part) {
		b.Right++
		s.Named++
	}
	// The Brier score of all parts: each one's probability against whether it is
	// at fault.
	for _, part := range m.Parts {
		hit := 0.0
		if v.named(part.Part) {
			hit = 1
		}
		s.Brier += (part.Probability - hit) * (part.Probability - hit)
	}
	return nil
}
