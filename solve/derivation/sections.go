package derivation

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/solve"
)

// Detail says how much of a derivation is written.
type Detail int

// Short writes what matters of the steps, Full every one of them.
const (
	Short Detail = iota
	Full
)

// Section is a piece of a derivation in words, for any renderer: a heading, then
// paragraphs, then numbered steps, then a table, each of which may be missing.
type Section struct {
	Heading    string
	Paragraphs []string
	Steps      []string
	Header     []string
	Rows       [][]string
}

// Sections writes a comparison in words. Resistances lead to cautions that are the
// caller's to show first.
func (x *Comparison) Sections(detail Detail) []Section {
	var out []Section
	d := x.Healthy
	if x.Faulty != nil {
		d = x.Faulty
		out = append(out, Section{Heading: "Healthy wiring", Paragraphs: []string{x.Healthy.Answer()}})
		changed := Section{Heading: "With " + orChanges(d.Fault), Paragraphs: []string{d.Answer(), x.changes()}}
		out = append(out, changed)
	} else {
		out = append(out, Section{Heading: "In one sentence", Paragraphs: []string{d.Answer()}})
	}
	if s, ok := x.terms(); ok {
		out = append(out, s)
	}
	if d.Open {
		out = append(out, d.apart())
		return out
	}
	if x.Faulty != nil && detail == Full && !x.Healthy.Open {
		if s, ok := x.Healthy.onPaper(detail); ok {
			s.Heading += ", healthy"
			out = append(out, s)
		}
	}
	if s, ok := d.onPaper(detail); ok {
		if x.Faulty != nil {
			s.Heading += ", with the fault"
		}
		out = append(out, s)
	}
	if v := x.Divider; v != nil {
		out = append(out, Section{Heading: "At the fault", Paragraphs: []string{v.words()}})
	}
	if s, ok := d.sources(detail); ok {
		out = append(out, s)
	}
	if s, ok := d.weights(detail); ok {
		out = append(out, s)
	}
	return out
}

func orChanges(fault string) string {
	if fault == "" {
		return "the changes"
	}
	return fault
}

func (x *Comparison) changes() string {
	text := "What is changed: " + list(x.Changed) + "."
	if h, f := x.Healthy, x.Faulty; !h.Open && !f.Open {
		moved, before, after := f.Ohms-h.Ohms, ohms(h.Ohms), ohms(f.Ohms)
		if f.Quantity == solve.Volts {
			moved, before, after = f.Volts-h.Volts, fmt.Sprintf("%.4f V", h.Volts), fmt.Sprintf("%.4f V", f.Volts)
		}
		switch {
		case math.Abs(moved) <= 1e-9*math.Max(h.Ohms, 1):
			text += " That does not move this reading."
		case before == after:
			text += " That moves this reading by next to nothing."
		default:
			text += fmt.Sprintf(" That takes this reading from %s to %s.", before, after)
		}
	}
	cut := without(x.Healthy.terminators(), x.Faulty.terminators())
	if len(cut) > 0 && x.Faulty.Quantity == solve.Ohms {
		text += fmt.Sprintf(" Terminators that no longer lie between the leads: %s.", list(cut))
	}
	if x.Faulty.Open || x.Healthy.Open {
		return text
	}
	switch lost, gained := some(without(x.mattering(x.Lost), cut), 6), some(x.mattering(x.Gained), 6); {
	case lost != "" && gained != "":
		text += " Between the leads no more: " + lost + "; but now: " + gained + "."
	case lost != "":
		text += " Between the leads no more: " + lost + "."
	case gained != "":
		text += " Between the leads now too: " + gained + "."
	}
	return text
}

// mattering keeps of parts the terminators and modules; where there are none, wires.
func (x *Comparison) mattering(parts []string) []string {
	of := func(wanted ...Kind) []string {
		var out []string
		for _, e := range x.Healthy.circuit.Elements {
			if slices.Contains(wanted, kinds[e.Kind]) && slices.Contains(parts, e.Part) && !slices.Contains(out, e.Part) {
				out = append(out, e.Part)
			}
		}
		return out
	}
	if out := of(Terminator, Input); len(out) > 0 {
		return out
	}
	return of(Wire, Load, Stray)
}

// terminators lists those that carry current with all else perfect.
func (d *Derivation) terminators() []string {
	for i := range d.Terms {
		if d.Terms[i].Group == Terminators {
			return d.Terms[i].Parts
		}
	}
	return nil
}

// apart is the section about a reading that nothing joins.
func (d *Derivation) apart() Section {
	a := d.Apart
	out := Section{Heading: "Why there is no way"}
	say := func(format string, args ...any) {
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf(format, args...))
	}
	say("With %s hang together: %s.", d.From, orNothing(a.AtFrom))
	say("With %s hang together: %s.", d.To, orNothing(a.AtTo))
	switch {
	case len(a.Cuts) == 1:
		say("The cut is at %s.", a.Cuts[0])
	case len(a.Cuts) > 1:
		say("The cut is at %s; each of them alone would join the two again.", some(a.Cuts, 8))
	case len(a.OpenCuts) > 0:
		say("No single element would join them again. Open around them: %s.", some(a.OpenCuts, 8))
	}
	if a.Always {
		say("In healthy wiring with everything plugged in nothing joins the two either.")
	}
	return out
}

func orNothing(names []string) string {
	if len(names) == 0 {
		return "nothing else"
	}
	return some(names, 12)
}
