package derivation

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Answer says in one sentence what a reading is and why.
func (d *Derivation) Answer() string {
	reading := fmt.Sprintf("From %s to %s", d.pointWords(d.From), d.pointWords(d.To))
	shown := solve.FormatReading(d.Quantity, d.Value)
	if d.Open {
		if d.Quantity == solve.Volts {
			return reading + " the meter shows nothing, 0 V: no way leads from one point to the other, so no current can flow through the meter."
		}
		return reading + " the meter shows OL: no way leads from one point to the other."
	}
	s := d.scale()
	terms := d.shownTerms(s)
	var words []string
	wires := 0.0 // of wires and contacts, which are said as one
	for i, t := range terms {
		if t.Open {
			continue
		}
		switch {
		case words == nil:
			words = append(words, fmt.Sprintf("%s %s %s", s.write(t.value), s.unit, d.startWords(t.Term)))
		case t.Group == Wires || t.Group == Contacts:
			wires += t.value
		case t.value != 0:
			words = append(words, s.plusMinus(t.value)+" "+d.termWords(t.Term))
		}
		if last := i+1 == len(terms) || terms[i+1].Group == TheMeter; last && s.round(wires*s.by) != 0 {
			words = append(words, s.plusMinus(wires)+" for wires and contacts"+d.mostlyIn())
			wires = 0
		}
	}
	text := fmt.Sprintf("%s the meter shows %s: %s.", reading, shown, strings.Join(words, ", "))
	if d.still {
		text += " Every source at work stands at the same voltage, so no current flows anywhere, and neither wires nor terminators matter."
	}
	if d.Value.OL {
		text += fmt.Sprintf(" That is beyond the meter's range of %s, so it shows OL.", ohms(d.Meter.RangeOhms))
	}
	return text
}

func (s scale) plusMinus(v float64) string {
	if v < 0 {
		return fmt.Sprintf("less %s %s", s.write(-v), s.unit)
	}
	return fmt.Sprintf("plus %s %s", s.write(v), s.unit)
}

// pointWords names a point and the conductor that it is on.
func (d *Derivation) pointWords(name string) string {
	for i := range d.circuit.Nodes {
		n := &d.circuit.Nodes[i]
		if n.Name == name && n.Conductor.Name != "" && !strings.HasSuffix(name, "."+n.Conductor.Name) {
			return name + " (" + d.circuit.Label(n.Conductor) + ")"
		}
	}
	return name
}

// mostlyIn names the wires and connectors that do most of what wires and contacts do.
func (d *Derivation) mostlyIn() string {
	var parts []string
	by := map[string]float64{}
	all := 0.0
	for _, w := range d.Weights {
		if w.Kind != Wire && w.Kind != Contact {
			continue
		}
		if _, known := by[w.Part]; !known {
			parts = append(parts, w.Part)
		}
		by[w.Part] += math.Abs(w.PerPercent)
		all += math.Abs(w.PerPercent)
	}
	slices.SortStableFunc(parts, func(a, b string) int { return -cmp.Compare(by[a], by[b]) })
	n, sum := 0, 0.0
	for n < len(parts) && n < 4 && sum < 0.7*all {
		sum += by[parts[n]]
		n++
	}
	switch {
	case n == 0:
		return ""
	case n == len(parts) || sum > 0.999*all:
		return " (in " + list(parts[:n]) + ")"
	}
	return " (most of it in " + list(parts[:n]) + ")"
}

// startWords says what the first term is made of.
func (d *Derivation) startWords(t *Term) string {
	if d.Quantity == solve.Volts {
		return d.biasWords(t)
	}
	switch t.Group {
	case Terminators:
		switch n := len(t.Parts); {
		case t.Value == 0:
			return "while wires and contacts are perfect, since the two points are joined then"
		case n == 1 && agree(t.Value, t.Ohms[0]):
			return fmt.Sprintf("because one terminator of %s lies between them (%s)", ohms(t.Ohms[0]), t.Parts[0])
		case n > 1 && agree(t.Value, parallel(t.Ohms)):
			alike := true
			for _, o := range t.Ohms {
				alike = alike && agree(o, t.Ohms[0])
			}
			if alike {
				return fmt.Sprintf("because %s of %s lie in parallel (%s)", count(n, "terminator", "terminators"), ohms(t.Ohms[0]), some(t.Parts, 4))
			}
			var each []string
			for i, part := range t.Parts {
				each = append(each, part+" "+ohms(t.Ohms[i]))
			}
			return "because terminators lie in parallel (" + some(each, 4) + ")"
		default:
			return "of the terminators " + some(t.Parts, 4)
		}
	case Transceivers:
		text := "through the inputs of " + count(len(t.Parts), "module", "modules")
		if len(t.Parts) <= 3 {
			text = "through the inputs of " + list(t.Parts)
		}
		if d.From == netlist.GroundRail || d.To == netlist.GroundRail {
			return text + " to ground (terminators alone do not lead there)"
		}
		return text + " by way of ground (terminators alone lead nowhere here)"
	case FaultOhms:
		return "of the fault's own"
	case SupplyLoads:
		if slices.Contains(t.With, FaultOhms) {
			return "through the fault and the other loads on the supply rail"
		}
		return "through the other loads on the supply rail"
	case Wires, Contacts:
		return "of wires and contacts"
	}
	return "of " + string(t.Group)
}

func parallel(ohms []float64) float64 {
	siemens := 0.0
	for _, o := range ohms {
		siemens += 1 / o
	}
	return 1 / siemens
}

// biasWords says where an idle voltage comes from.
func (d *Derivation) biasWords(t *Term) string {
	who := count(len(t.Parts), "module", "modules")
	if len(t.Parts) <= 3 {
		who = list(t.Parts)
	}
	against := ""
	switch {
	case d.FromHeld != 0 && d.ToHeld != 0:
		return fmt.Sprintf("since %s is held at %s and %s at %s", d.From, volts(d.FromHeld), d.To, volts(d.ToHeld))
	case d.FromHeld != 0:
		against = fmt.Sprintf(" against %s, which is held at %s", d.From, volts(d.FromHeld))
	case d.ToHeld != 0:
		against = fmt.Sprintf(" against %s, which is held at %s", d.To, volts(d.ToHeld))
	}
	switch {
	case len(t.Parts) == 0 && d.FromHeld != 0:
		return fmt.Sprintf("since %s is held at %s", d.From, volts(d.FromHeld))
	case len(t.Parts) == 0 && d.ToHeld != 0:
		return fmt.Sprintf("since %s is held at %s", d.To, volts(d.ToHeld))
	case len(t.Parts) == 0:
		return "with nothing else at work"
	case t.Value == 0:
		return "by the inputs of " + who + ", which hold both points alike"
	}
	return "by the inputs of " + who + against
}

// termWords says what a later term is for.
func (d *Derivation) termWords(t *Term) string {
	switch t.Group {
	case Terminators:
		return "for the terminators " + some(t.Parts, 4)
	case Transceivers:
		return fmt.Sprintf("for the inputs of %s beside them", count(len(t.Parts), "module", "modules"))
	case FaultOhms:
		if d.Quantity == solve.Volts {
			return "by the fault"
		}
		return "for the fault's own resistance"
	case Strays:
		return "for stray paths (" + some(t.Parts, 3) + ")"
	case SupplyLoads:
		return "for the other loads on the supply rail"
	case TheMeter:
		if d.Quantity == solve.Volts {
			return "because the meter itself loads the point with " + ohms(d.Meter.InputOhms)
		}
		return "for the meter's leads"
	}
	return "for " + string(t.Group)
}
