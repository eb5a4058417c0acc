package faults

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/constraint"
)

// rates is how common the kinds are beside each other, for each place where the
// fault can be. From memory; no source. A harness can say otherwise.
var rates = map[Kind]float64{
	Open: 3, OpenBoth: 1, HighJoint: 3, ShortGround: 1.5, ShortSupply: 0.7,
	ShortConductors: 1.5, ShortNetworks: 0.3, Leak: 0.7, BackedOut: 3,
	Unplugged: 2, Swapped: 0.2, TermMissing: 1, TermValue: 0.5, TermExtra: 0.3,
	NoSupply: 4, NoGround: 2, GroundOffset: 0.3, StuckDominant: 0.3, ShortedInside: 0.3,
}

// RateChange is what one entry of a harness's rates came to.
type RateChange struct {
	Entry netlist.FaultRate
	// Faults is how many faults the entry is about, Least and Greatest are their
	// rates when all entries have acted. Those that cannot happen have 0.
	Faults          int
	Least, Greatest float64
}

// About says in words which faults the entry is about.
func (r *RateChange) About() string {
	switch e := &r.Entry; {
	case e.Kind == "":
		return "everything at " + e.Part
	case e.Part == "":
		return "every " + e.Kind
	default:
		return "every " + e.Kind + " at " + e.Part
	}
}

// Change says in words what the entry does to a rate.
func (r *RateChange) Change() string {
	switch e := &r.Entry; {
	case e.Rate == nil:
		return constraint.FormatNumber(e.Times) + " times"
	case *e.Rate == 0:
		return "cannot happen"
	default:
		return "rate " + constraint.FormatNumber(*e.Rate)
	}
}

// RateChanges lists what the entries of the harness's rates came to, in their
// order.
func RateChanges(c *netlist.Circuit) []RateChange { return makeCatalogue(c).rates.changes }

// RateAssumptions lists the built-in rates that the catalogue makes use of, as
// [netlist.Assumptions] lists the defaults of the circuit.
func RateAssumptions(c *netlist.Circuit) []netlist.Assumption {
	used := makeCatalogue(c).rates.builtIn
	byRate := map[float64][]string{}
	var steps []float64
	for _, kind := range used {
		r := rates[kind]
		if byRate[r] == nil {
			steps = append(steps, r)
		}
		byRate[r] = append(byRate[r], string(kind))
	}
	if len(used) == 0 {
		return nil
	}
	slices.Sort(steps)
	slices.Reverse(steps)
	var parts []string
	for _, r := range steps {
		parts = append(parts, strings.Join(byRate[r], ", ")+" "+constraint.FormatNumber(r))
	}
	return []netlist.Assumption{{
		About:  "faults",
		Taken:  "how common each is beside others, by kind: " + strings.Join(parts, "; "),
		Source: "from memory",
		Write:  "rates",
	}}
}

// RateRemarks says which entries of the harness's rates come to nothing, and
// whether they leave any fault to look for.
func RateRemarks(c *netlist.Circuit) []Remark {
	k := makeCatalogue(c)
	var out []Remark
	for i := range k.rates.changes {
		if x := &k.rates.changes[i]; x.Faults == 0 {
			out = append(out, Remark{
				constraint.ElementAt("", "rate entry", "", i),
				fmt.Sprintf("changes nothing, since it is about no fault (%s)", x.About()), "The catalogue of faults",
			})
		}
	}
	if len(k.out) == 0 {
		out = append(out, Remark{"rates", "are 0 for every fault, so none is looked for", "The catalogue of faults"})
	}
	return out
}

// rateBook gives the faults of a catalogue their rates, and keeps what the
// harness's entries came to.
type rateBook struct {
	changes []RateChange
	builtIn []Kind // with a fault that no entry gives a rate, in the catalogue's order
}

func newRateBook(entries []netlist.FaultRate) *rateBook {
	b := &rateBook{}
	for _, e := range entries {
		b.changes = append(b.changes, RateChange{Entry: e})
	}
	return b
}

// rate gives the rate of a fault: the built-in one of its kind, changed by each
// entry that is about the fault, in the order written. happens is false where
// they come to 0.
func (b *rateBook) rate(kind Kind, part string) (rate float64, happens bool) {
	rate, happens = rates[kind], true
	given := false
	var acted []*RateChange
	for i := range b.changes {
		x := &b.changes[i]
		if !x.Entry.Covers(string(kind), part) {
			continue
		}
		acted = append(acted, x)
		if x.Entry.Rate != nil {
			rate, happens, given = *x.Entry.Rate, *x.Entry.Rate > 0, true
		} else if happens {
			rate = min(max(rate*x.Entry.Times, netlist.LeastRate), netlist.GreatestRate)
		}
	}
	for _, x := range acted {
		x.Faults++
		if x.Faults == 1 {
			x.Least, x.Greatest = rate, rate
		}
		x.Least, x.Greatest = min(x.Least, rate), max(x.Greatest, rate)
	}
	if !given && !slices.Contains(b.builtIn, kind) {
		b.builtIn = append(b.builtIn, kind)
	}
	return rate, happens
}
