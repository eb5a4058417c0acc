package trial

import (
	"slices"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Session is how a technician went from the first reading to a part.
type Session struct {
	Steps   []Step
	Minutes float64
	Match   *faults.Match // what is known at the end
}

// Step is one thing done.
type Step struct {
	What    string
	Minutes float64
}

// Rules say when a session ends.
type Rules struct {
	// Sure is the probability of a part from which on it is taken for found; 0
	// means 0.99.
	Sure float64
	// Bits that the best advice must be expected to say at least; 0 means 0.1.
	Bits float64
	// Steps at most; 0 means 25.
	Steps int
	// LookAhead follows advice that looks ahead.
	LookAhead bool
	// Traffic has volts with traffic read too, Scope levels. See [faults.NextOptions].
	Traffic, Scope bool
	// Anyway goes on where measuring takes longer than looking.
	Anyway bool
	// Options of each match.
	Match faults.MatchOptions
}

func (r *Rules) defaults() {
	if r.Sure == 0 {
		r.Sure = 0.99
	}
	if r.Bits == 0 {
		r.Bits = 0.1
	}
	if r.Steps == 0 {
		r.Steps = 25
	}
}

// Advised plays a technician who starts with a reading and then does what is
// advised until a part is all but certain or nothing more is worth reading.
func Advised(x *faults.Matcher, v *Vehicle, first faults.Probe, rules Rules) (*Session, error) {
	rules.defaults()
	s := &Session{}
	var readings []faults.Reading
	var answers []faults.Answer
	r, err := v.Read(first)
	if err != nil {
		return nil, err
	}
	readings = append(readings, r)
	s.note(first.String(), faults.Minutes(v.Circuit, nil, nil, &first))
	now := first.State()
	for {
		opts := rules.Match
		opts.Answers = answers
		if s.Match, err = x.Match(readings, &opts); err != nil {
			return nil, err
		}
		if found(s.Match, rules.Sure) || len(s.Steps) >= rules.Steps {
			return s, nil
		}
		advice, err := x.Next(s.Match, &faults.NextOptions{LookAhead: rules.LookAhead, Traffic: rules.Traffic, Scope: rules.Scope, Anyway: rules.Anyway, Now: now})
		if err != nil {
			return nil, err
		}
		most := 0.0
		for i := range advice {
			most = max(most, advice[i].Bits)
			if advice[i].Basic {
				most = max(most, rules.Bits)
			}
		}
		if most < rules.Bits {
			return s, nil
		}
		// What says too little is not gone for, however near it is.
		advice = slices.DeleteFunc(advice, func(a faults.Advice) bool { return a.Bits < rules.Bits && !a.Basic })
		a := &advice[0]
		s.note(a.String(), a.Minutes)
		if a.Tool != "" {
			more, err := v.Scan(a.Tool)
			if err != nil {
				return nil, err
			}
			answers = append(answers, more...)
			now = faults.Asked
			continue
		}
		now = a.Probe.State()
		if r, err = v.Read(a.Probe); err != nil {
			return nil, err
		}
		readings = append(readings, r)
	}
}

// Unadvised plays a technician who takes readings without advice, in the order of
// list, and has each matched, until as much is known as after until, a session by
// advice, or the list or the steps are at an end. list is a baseline: a fixed order, or
// one that was drawn.
func Unadvised(x *faults.Matcher, v *Vehicle, first faults.Probe, list []faults.Probe, rules Rules, until *Session) (*Session, error) {
	rules.defaults()
	enough := min(rules.Sure, sureness(until.Match))
	s := &Session{}
	var readings []faults.Reading
	for _, p := range append([]faults.Probe{first}, list...) {
		if slices.ContainsFunc(readings, func(r faults.Reading) bool { return r.Probe.String() == p.String() }) {
			continue
		}
		s.note(p.String(), faults.Minutes(v.Circuit, readings, nil, &p))
		r, err := v.Read(p)
		if err != nil {
			return nil, err
		}
		readings = append(readings, r)
		opts := rules.Match
		if s.Match, err = x.Match(readings, &opts); err != nil {
			return nil, err
		}
		if !s.Match.NothingFits() && sureness(s.Match) >= enough || len(s.Steps) >= rules.Steps {
			break
		}
	}
	return s, nil
}

// sureness is the probability of the parts that are most probably at fault, together
// and no others.
func sureness(m *faults.Match) float64 {
	best := 0.0
	for _, p := range labels(m) {
		best = max(best, p)
	}
	return best
}

// labels sums the probability of what is repaired.
func labels(m *faults.Match) map[string]float64 {
	out := map[string]float64{}
	for i := range m.Hypotheses {
		out[Label(&m.Hypotheses[i])] += m.Hypotheses[i].Probability
	}
	return out
}

func (s *Session) note(what string, minutes float64) {
	s.Steps = append(s.Steps, Step{what, minutes})
	s.Minutes += minutes
}

// mostOpened is how many parts named first a technician takes for an answer.
const mostOpened = 3

// Course is how a technician went about all that was wrong.
type Course struct {
	Sessions []*Session
	// Opened is how many parts were looked into, and Looking the minutes that took, as
	// [faults.Looking] has them.
	Opened  int
	Looking float64
	// Named says that each time one of the three parts named first was at fault,
	// Grouped that it was, or was one that the readings cannot tell from the best
	// explanation with 95 % certainty.
	Named, Grouped bool
}

// Repairs plays a technician who looks into the parts that a session ends with, in the
// order that takes least, repairs the fault that is there (it is seen when looked at)
// and, as long as something is wrong, starts again.
func Repairs(x *faults.Matcher, v *Vehicle, first faults.Probe, rules Rules) (*Course, error) {
	out := &Course{Named: true, Grouped: true}
	looking := faults.NewLooking(v.Circuit)
	for {
		s, err := Advised(x, v, first, rules)
		if err != nil {
			return out, err
		}
		out.Sessions = append(out.Sessions, s)
		var parts []string
		var weight []float64
		for _, p := range s.Match.Parts { // the most probable first
			if p.Part != faults.HealthyName && p.Part != faults.NoneName && p.Probability >= 1e-6 {
				parts, weight = append(parts, p.Part), append(weight, p.Probability)
			}
		}
		at := func(part string) int {
			return slices.IndexFunc(v.Faults, func(f *faults.Fault) bool { return f.Part == part })
		}
		found := -1
		been := s.Match.Reached(v.Circuit)
		for _, i := range looking.Order(parts, weight, been) {
			out.Opened++
			out.Looking += looking.Minutes(parts[i], been)
			if found = at(parts[i]); found >= 0 {
				break
			}
		}
		if named := slices.IndexFunc(parts, func(part string) bool { return at(part) >= 0 }); named < 0 || named >= mostOpened {
			out.Named = false
			if found = v.confused(s.Match); found < 0 {
				out.Grouped = false
				return out, nil
			}
		}
		if v = v.repaired(found); len(v.Faults) == 0 {
			return out, nil
		}
	}
}

// confused gives a fault that readings cannot tell from the best explanation, alone
// or with others of the vehicle, or −1.
func (v *Vehicle) confused(m *faults.Match) int {
	best := m.Best()
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if h.Probability < 1e-6 || len(h.Members) == 0 || h != best && m.Distance(best, h) >= confusable {
			continue
		}
		all := true
		for _, x := range h.Members {
			all = all && slices.Contains(v.Faults, x.Fault)
		}
		if all {
			return slices.Index(v.Faults, h.Members[0].Fault)
		}
	}
	return -1
}

// found tells whether what is at fault is known: the parts of the best explanation
// are all but certain, and so is that there are no others.
func found(m *faults.Match, sure float64) bool {
	if m.NothingFits() {
		return false
	}
	return sureness(m) >= sure
}

// Label names the parts that an explanation repairs.
func Label(h *faults.Hypothesis) string {
	if h.Fault == nil {
		return h.Name
	}
	return h.Fault.Part
}

// FirstProbe is where a session starts: conductor to conductor at the nearest
// connector without a device, supply off.
func FirstProbe(c *netlist.Circuit) faults.Probe {
	best := -1
	probes := faults.Probes(c, faults.Selection{})
	for i := range probes {
		s, _ := c.Site(probes[i].Site)
		if s.Kind != netlist.ConnectorSite || s.Device != "" || probes[i].To == netlist.GroundNode || probes[i].To == netlist.SupplyNode {
			continue
		}
		if best < 0 || probes[i].ReachMin < probes[best].ReachMin {
			best = i
		}
	}
	if best < 0 {
		best = 0
	}
	return probes[best]
}

// habitProbes are what the habit reads at a connector or one of its halves: each
// network's conductors against each other and against ground.
func habitProbes(c *netlist.Circuit, place string, unplugged ...string) []faults.Probe {
	var out []faults.Probe
	for _, sel := range []faults.Selection{{}, {Unplugged: true}} {
		for _, p := range faults.Probes(c, sel) {
			same := slices.ContainsFunc(out, func(q faults.Probe) bool { return q.From == p.From && q.To == p.To })
			if p.Place() == place && p.To != netlist.SupplyNode && !same {
				p.Condition = solve.Condition{Unplugged: unplugged}
				out = append(out, p)
			}
		}
	}
	return out
}
