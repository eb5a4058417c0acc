package netlist

import (
	"fmt"

	"example.com/ohmloom/netlist/constraint"
)

// Covers tells whether the entry is about faults of a kind at a part.
func (r *FaultRate) Covers(kind, part string) bool {
	return (r.Kind == "" || r.Kind == kind) && (r.Part == "" || r.Part == part)
}

// checkRates refuses entries of rates that say nothing, or that say it of a part
// which is not there. The circuit takes nothing from them.
func (b *builder) checkRates() {
	for i := range b.h.Rates {
		r := &b.h.Rates[i]
		path, element := fmt.Sprintf("rates[%d]", i), constraint.ElementAt("", "rate entry", "", i)
		if r.Kind == "" && r.Part == "" {
			b.wrong(path, element, "kind, part or both", "does not say which faults it is about")
		}
		switch {
		case r.Rate == nil && r.Times == 0:
			b.wrong(path, element, "rate (in place of what it was) or times (multiplies it)", "has neither rate nor times")
		case r.Rate != nil && r.Times != 0:
			b.wrong(path, element, "one of them", "has both rate and times")
		}
		if r.Rate != nil && *r.Rate > 0 && *r.Rate < LeastRate {
			b.wrong(path+".rate", element, "0 if it cannot happen, else a rate from there on", "rate is %s, must be 0 or at least %s", constraint.FormatNumber(*r.Rate), constraint.FormatNumber(LeastRate))
		}
		b.checkRatePart(r.Part, path+".part", element)
	}
}

func (b *builder) checkRatePart(part, path, element string) {
	if part == "" {
		return
	}
	kind, there := b.names[part]
	switch {
	case !there:
		b.wrong(path, element, "one of "+listNames(b.partNames), "there is no part %s", part)
	case kind == strayPath, part == GroundRail, part == SupplyRail:
		b.wrong(path, element, "the connector, splice, module, terminator, pair or wire that is meant", "%s is a %s, at which no fault is looked for", part, kind)
	}
}
