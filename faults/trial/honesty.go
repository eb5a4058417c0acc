package trial

import (
	"math/rand/v2"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// Mixture is how many faults vehicles have: the probabilities of none and of two, the
// rest have one. Matches are told, so that what they promise ought to hold.
type Mixture struct{ Sound, Two float64 }

// Honesty draws vehicles and has readings matched that were chosen without regard to what
// is wrong: at random places, up to so many. It says how often what was promised held.
// No session is played, so there may be thousands.
func Honesty(c *netlist.Circuit, x *faults.Matcher, list []*faults.Fault, in faults.Instrument, rng *rand.Rand, vehicles, readings int, mix Mixture) (*Promises, error) {
	probes := faults.Probes(c, faults.Selection{})
	probes = append(probes, faults.Probes(c, faults.Selection{Unplugged: true})...)
	out := &Promises{}
	for range vehicles {
		many := 1
		if u := rng.Float64(); u < mix.Sound {
			many = 0
		} else if u < mix.Sound+mix.Two {
			many = 2
		}
		v := Draw(c, list, in, rng, many)
		var taken []faults.Reading
		for _, k := range rng.Perm(len(probes))[:min(len(probes), 1+rng.IntN(readings))] {
			r, err := v.Read(probes[k])
			if err != nil {
				return nil, err
			}
			taken = append(taken, r)
		}
		m, err := x.Match(taken, &faults.MatchOptions{Healthy: mix.Sound, Two: mix.Two, Three: -1})
		if err != nil {
			return nil, err
		}
		out.Add(v, m)
	}
	return out, nil
}

// Promises counts the probabilities that were given to parts, "healthy wiring" among
// them, and how many of them held.
type Promises struct {
	Vehicles int
	// Brier is the sum of squared errors of all probabilities of a vehicle.
	Brier float64
	// By counts, by tenths of probability, how many parts were given it, the sum of
	// what they were given, and how many were at fault.
	By [10]struct {
		Parts    int
		Promised float64
		Held     int
	}
	// Named is of the part named first: how many were at fault, how many were
	// promised, and the variance of that.
	Named              int
	Promised, Variance float64
}

// Add counts a match.
func (p *Promises) Add(v *Vehicle, m *faults.Match) {
	p.Vehicles++
	for k, part := range m.Parts {
		if part.Part == faults.NoneName {
			continue // it promises no part
		}
		hit := 0.0
		if v.named(part.Part) {
			hit = 1
		}
		b := &p.By[min(9, int(part.Probability*10))]
		b.Parts++
		b.Promised += part.Probability
		b.Held += int(hit)
		p.Brier += (part.Probability - hit) * (part.Probability - hit)
		if k == 0 {
			p.Named += int(hit)
			p.Promised += part.Probability
			p.Variance += part.Probability * (1 - part.Probability)
		}
	}
}
