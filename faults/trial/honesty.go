package trial

import (
	"math/rand/v2"
	"slices"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// Mixture is how many faults vehicles have: the probabilities of none and of two, the
// rest have one. Matches are told, so that what they promise ought to hold.
type Mixture struct{ Sound, Two float64 }

// Reader takes the readings of a vehicle that are matched. They may hang on chance and on
// what was read before, not on what is wrong: readings chosen near the fault would tell
// of it by having been chosen, which no match could know.
type Reader func(v *Vehicle, rng *rand.Rand) ([]faults.Reading, []faults.Answer, error)

// Scattered takes readings at random, up to so many: few of them say much.
func Scattered(c *netlist.Circuit, most int) Reader {
	probes := faults.Probes(c, faults.Selection{})
	probes = append(probes, faults.Probes(c, faults.Selection{Unplugged: true})...)
	return func(v *Vehicle, rng *rand.Rand) (taken []faults.Reading, _ []faults.Answer, err error) {
		for _, k := range rng.Perm(len(probes))[:min(len(probes), 1+rng.IntN(most))] {
			r, err := v.Read(probes[k])
			if err != nil {
				return nil, nil, err
			}
			taken = append(taken, r)
		}
		return taken, nil, nil
	}
}

// Thorough reads all that can be read, supply off, with the connector mated and apart, at
// the service connector and at up to so many others that are drawn, and asks all modules
// in every second vehicle, so that there are many vehicles whose fault is all but certain.
// The supply rail is left out.
func Thorough(c *netlist.Circuit, most int) Reader {
	at := map[string][]faults.Probe{}
	service := FirstProbe(c).Site
	var places []string
	for _, sel := range []faults.Selection{{}, {Unplugged: true}} {
		for _, p := range faults.Probes(c, sel) {
			if p.To == netlist.SupplyNode {
				continue
			}
			if at[p.Site] == nil && p.Site != service {
				places = append(places, p.Site)
			}
			at[p.Site] = append(at[p.Site], p)
		}
	}
	most = min(most, len(places))
	return func(v *Vehicle, rng *rand.Rand) (taken []faults.Reading, answers []faults.Answer, err error) {
		if rng.IntN(2) == 0 {
			if answers, err = v.Scan(service); err != nil {
				return nil, nil, err
			}
		}
		probes := at[service]
		for _, k := range rng.Perm(len(places))[:rng.IntN(most+1)] {
			probes = append(probes[:len(probes):len(probes)], at[places[k]]...)
		}
		for _, p := range probes {
			r, err := v.Read(p)
			if err != nil {
				return nil, nil, err
			}
			taken = append(taken, r)
		}
		return taken, answers, nil
	}
}

// Honesty draws vehicles and has readings matched that were chosen without regard to what
// is wrong. It says how often what was promised held. No session is played, so there may
// be thousands.
func Honesty(c *netlist.Circuit, x *faults.Matcher, list []*faults.Fault, in faults.Instrument, rng *rand.Rand, vehicles int, read Reader, mix Mixture) (*Promises, error) {
	out := &Promises{}
	for range vehicles {
		many := 1
		if u := rng.Float64(); u < mix.Sound {
			many = 0
		} else if u < mix.Sound+mix.Two {
			many = 2
		}
		v := Draw(c, list, in, rng, many)
		taken, answers, err := read(v, rng)
		if err != nil {
			return nil, err
		}
		m, err := x.Match(taken, &faults.MatchOptions{Healthy: mix.Sound, Two: mix.Two, Three: -1, Answers: answers})
		if err != nil {
			return nil, err
		}
		out.Add(v, m)
	}
	return out, nil
}

// ReliabilityEdges part probabilities: the last but one bin is 95 to 99 %.
var ReliabilityEdges = [...]float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99}

// Reliability counts promises by probability, one more bin than there are edges.
type Reliability [len(ReliabilityEdges) + 1]struct {
	Cases    int
	Promised float64 // sum of the probabilities
	Held     int
}

// Add counts a promise.
func (r *Reliability) Add(p float64, held bool) {
	k, exact := slices.BinarySearch(ReliabilityEdges[:], p)
	if exact {
		k++
	}
	b := &r[k]
	b.Cases++
	b.Promised += p
	if held {
		b.Held++
	}
}

// Sum gives all bins together, and the variance of what held if what was promised is true,
// at the mean of each bin.
func (r *Reliability) Sum() (cases, held int, promised, variance float64) {
	for _, b := range r {
		if b.Cases == 0 {
			continue
		}
		cases, held, promised = cases+b.Cases, held+b.Held, promised+b.Promised
		mean := b.Promised / float64(b.Cases)
		variance += b.Promised * (1 - mean)
	}
	return cases, held, promised, variance
}

// Promises counts the probabilities that were given, and how many of them held.
type Promises struct {
	Vehicles int
	// Brier is the sum of squared errors of all probabilities of a vehicle's parts,
	// "healthy wiring" among them.
	Brier float64
	// Parts are the probabilities of all parts, First of the part named first.
	Parts, First Reliability
	// One and Two are of whole answers, that all parts are at fault which explain the
	// most together: of answers with one part, "healthy wiring" among them, and with two.
	One, Two Reliability
	// FirstBrier is the sum of squared errors of First, AnswerBrier of One and Two.
	FirstBrier, AnswerBrier float64
}

// Add counts a match.
func (p *Promises) Add(v *Vehicle, m *faults.Match) {
	p.Vehicles++
	square := func(promised float64, held bool) float64 {
		if held {
			promised = 1 - promised
		}
		return promised * promised
	}
	for k, part := range m.Parts {
		if part.Part == faults.NoneName {
			continue // it promises no part
		}
		// With a second fault parts sum up to more than 1, and rounding to 1 + 1e-16.
		given, held := min(1, part.Probability), v.named(part.Part)
		p.Parts.Add(given, held)
		p.Brier += square(given, held)
		if k == 0 {
			p.First.Add(given, held)
			p.FirstBrier += square(given, held)
		}
	}
	// The answer is the parts that explain the most together.
	by := map[string]float64{}
	var parts []string
	for i := range m.Hypotheses {
		own := partsOf(&m.Hypotheses[i])
		key := strings.Join(own, " and ")
		by[key] += m.Hypotheses[i].Probability
		if parts == nil || by[key] > by[strings.Join(parts, " and ")] {
			parts = own
		}
	}
	if parts == nil || parts[0] == faults.NoneName {
		return
	}
	promised, held := 0.0, true
	for i := range m.Hypotheses {
		other := partsOf(&m.Hypotheses[i])
		if !slices.ContainsFunc(parts, func(x string) bool { return !slices.Contains(other, x) }) {
			promised += m.Hypotheses[i].Probability
		}
	}
	for _, x := range parts {
		held = held && v.named(x)
	}
	promised = min(1, promised)
	if len(parts) == 1 {
		p.One.Add(promised, held)
	} else {
		p.Two.Add(promised, held)
	}
	p.AnswerBrier += square(promised, held)
}

// partsOf lists the parts of an explanation by name, or its own name where it is no fault.
func partsOf(h *faults.Hypothesis) []string {
	if len(h.Members) == 0 {
		return []string{h.Name}
	}
	var out []string
	for _, x := range h.Members {
		if !slices.Contains(out, x.Fault.Part) {
			out = append(out, x.Fault.Part)
		}
	}
	slices.Sort(out)
	return out
}
