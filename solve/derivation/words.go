package derivation

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// count writes a number in words up to twelve, with its noun.
func count(n int, one, many string) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	text := fmt.Sprint(n)
	if n < len(words) {
		text = words[n]
	}
	if n == 1 {
		return text + " " + one
	}
	return text + " " + many
}

// list joins words with commas and an and.
func list(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// some lists a few of many.
func some(words []string, most int) string {
	if len(words) <= most+1 {
		return list(words)
	}
	return strings.Join(words[:most], ", ") + fmt.Sprintf(" and %d more", len(words)-most)
}

// volts writes a voltage; below a microvolt there is none.
func volts(v float64) string {
	switch a := math.Abs(v); {
	case a < 1e-6:
		v = 0
	case a < 0.0995:
		return fmt.Sprintf("%.3g mV", 1e3*v)
	}
	return fmt.Sprintf("%.3f V", v)
}

// ohms writes a resistance in the unit that a person would choose, to five figures, so
// that 120 Ω and what a megohm beside it makes of it look different.
func ohms(v float64) string {
	switch {
	case v >= 1e6:
		return fmt.Sprintf("%.5g MΩ", v/1e6)
	case v >= 1e3:
		return fmt.Sprintf("%.5g kΩ", v/1e3)
	case v >= 1 || v == 0:
		return fmt.Sprintf("%.5g Ω", v)
	case v >= 1e-2:
		return fmt.Sprintf("%.4f Ω", v)
	}
	return fmt.Sprintf("%.3g Ω", v)
}

// ohmsOf writes a resistance, and the voltage in series with it where there is one.
func (d *Derivation) ohmsOf(r *Resistance) string {
	text := ohms(r.Ohms)
	if d.Quantity == solve.Volts && r.Fold != Loop && (r.Volts != 0 || r.Kind == Input) {
		text = volts(r.Volts) + " behind " + text
	}
	return text
}

// where says what a resistance lies between.
func where(r *Resistance) string {
	switch {
	case r.Fold == Loop && r.B == Middle:
		return "across " + r.A
	case r.Fold == Loop && r.A == Middle:
		return "across " + r.B
	}
	return r.A + " to " + r.B
}

// stands says in a few words what a resistance is made of: modules, terminators and
// faults by name where they are few, wires and contacts only where there is nothing
// else.
func (d *Derivation) stands(r *Resistance) string {
	parts := map[Kind][]string{}
	for _, k := range r.kin {
		e := &d.Resistances[k]
		name := e.Part
		switch {
		case e.Kind == Fault:
			name = "the fault"
		case e.Kind == Stray || e.Kind == Load || name == "":
			name = e.Name
		}
		if !slices.Contains(parts[e.Kind], name) {
			parts[e.Kind] = append(parts[e.Kind], name)
		}
	}
	var out []string
	for _, kind := range []Kind{Terminator, Fault, Stray, Load, Input} {
		names := parts[kind]
		switch {
		case len(names) == 0:
		case kind == Input && len(names) > 2:
			out = append(out, count(len(names), "module", "modules"))
		case len(names) > 3:
			out = append(out, fmt.Sprintf("%d %ss", len(names), kind))
		default:
			out = append(out, names...)
		}
	}
	if len(out) > 0 {
		return list(out)
	}
	return some(append(parts[Wire], parts[Contact]...), 3)
}

// label names a resistance within a step.
func (d *Derivation) label(i int) string {
	r := &d.Resistances[i]
	if r.Kind == Derived && r.meshed {
		return r.Name + " (" + where(r) + ") " + d.ohmsOf(r)
	}
	if r.Kind == Derived {
		return r.Name + " (" + d.stands(r) + ") " + d.ohmsOf(r)
	}
	return r.Name + " " + d.ohmsOf(r)
}

// labels names the inputs of a step, wires and contacts as one where they are many.
func (d *Derivation) labels(inputs []int) []string {
	var out, small []string
	sum, at := 0.0, -1
	for _, i := range inputs {
		if r := &d.Resistances[i]; r.Kind == Wire || r.Kind == Contact {
			sum += r.Ohms
			small = append(small, r.Part)
		}
	}
	for _, i := range inputs {
		r := &d.Resistances[i]
		if len(small) > 1 && (r.Kind == Wire || r.Kind == Contact) {
			if at < 0 {
				at = len(out)
				out = append(out, fmt.Sprintf("wires and contacts (%s) %s", some(unique(small), 4), ohms(sum)))
			}
			continue
		}
		out = append(out, d.label(i))
	}
	return out
}

func unique(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// Sentence writes a step in words.
func (d *Derivation) Sentence(s *Step) string {
	switch s.Operation {
	case Drop:
		return d.dropSentence(s)
	case Fold:
		return d.foldSentence(s)
	case Tie:
		return d.tieSentence(s)
	case Quarter:
		return d.quarterSentence(s)
	case Hold:
		var held []string
		for _, h := range d.Held {
			if !slices.ContainsFunc(s.Inputs, func(i int) bool { return d.Resistances[i].A == h.Point || d.Resistances[i].B == h.Point }) {
				continue
			}
			held = append(held, h.Point+" at "+volts(h.Volts))
		}
		return "Held, whatever flows: " + list(held) + ". A resistance to such a point acts as one to ground with that voltage in series."
	case Series:
		r, of := &d.Resistances[s.Outputs[0]], d.labels(s.Inputs)
		if len(of) == 1 {
			// Wires and contacts as one, whose sum is the outcome.
			return fmt.Sprintf("%s, %s: %s, all in series.", r.Name, where(r), of[0])
		}
		return fmt.Sprintf("%s, %s: in series %s = %s.", r.Name, where(r), strings.Join(of, " + "), d.ohmsOf(r))
	case Parallel:
		return d.parallelSentence(s)
	case Mesh:
		return d.meshSentence(s)
	}
	return ""
}

func (d *Derivation) dropSentence(s *Step) string {
	var parts []string
	for _, i := range s.Inputs {
		for _, k := range d.Resistances[i].kin {
			e := &d.Resistances[k]
			if name := e.Part; name != "" {
				parts = append(parts, name)
			} else {
				parts = append(parts, e.Name)
			}
		}
	}
	parts = unique(parts)
	what := some(parts, 4)
	hang := "hang"
	if len(parts) == 1 {
		hang = "hangs"
	}
	if s.At == "" {
		return fmt.Sprintf("Left out: %s, with no way to the leads.", what)
	}
	return fmt.Sprintf("Left out: %s, which %s on %s alone, so that no current goes in there.", what, hang, s.At)
}

func (d *Derivation) foldSentence(s *Step) string {
	const pairs = "So each wire counts together with its partner on the other side, and the two inputs of a module lie in series, from one conductor through ground to the other."
	for i := range d.Steps {
		if d.Steps[i].Operation == Tie {
			return "Now the other half, in at the one conductor and out at the other. Everything half-way between the two is at rest then, ground as well. " + pairs
		}
	}
	middle := ""
	if d.onMiddle(s) {
		middle = ", ground for one,"
	}
	return fmt.Sprintf("From %s and from %s the harness looks alike, element for element. So whatever is half-way between the two%s lies at half the voltage, and no current flows from one such point to another. %s", d.From, d.To, middle, pairs)
}

func (d *Derivation) tieSentence(s *Step) string {
	return fmt.Sprintf("Both conductors are laid out alike, element for element, and see %s alike. So a current into one of them may be taken in two halves: half of it into both alike, and half of it in at the one and out at the other. For the first half tie the two together all along: each wire lies beside its partner, and what is between the two does not count.", s.At)
}

func (d *Derivation) quarterSentence(s *Step) string {
	r, tied, loop := &d.Resistances[s.Outputs[0]], &d.Resistances[s.Inputs[0]], &d.Resistances[s.Inputs[1]]
	return fmt.Sprintf("%s, %s: both halves together are %s (tied) %s plus a quarter of %s (across) %s, since half of the current makes half of the voltage across, and half of that falls on one conductor = %s.", r.Name, where(r), tied.Name, d.ohmsOf(tied), loop.Name, ohms(loop.Ohms), d.ohmsOf(r))
}

// onMiddle tells whether ground is one of the points that a fold makes one.
func (d *Derivation) onMiddle(s *Step) bool {
	for _, i := range s.Inputs {
		if r := &d.Resistances[i]; r.A == netlist.GroundRail || r.B == netlist.GroundRail {
			return true
		}
	}
	return false
}

func (d *Derivation) parallelSentence(s *Step) string {
	r := &d.Resistances[s.Outputs[0]]
	var of, each []string
	sources := false
	least, greatest := math.Inf(1), 0.0
	for _, i := range s.Inputs {
		x := &d.Resistances[i]
		text := d.label(i)
		if x.Kind == Derived && x.meshed {
			text = x.Name + " " + d.ohmsOf(x) // where it lies has been said
		}
		of = append(of, text)
		each = append(each, "1/"+ohms(x.Ohms))
		least, greatest = math.Min(least, x.Ohms), math.Max(greatest, x.Ohms)
		sources = sources || x.Volts != 0
	}
	equal := greatest-least <= 1e-9*greatest
	how := ""
	switch {
	case sources:
		how = ", each voltage counting by 1/ohms"
	case equal:
		how = fmt.Sprintf(", %s of one", ordinalPart(len(of)))
	case len(of) == 2 && greatest < 100*least:
		a, b := d.Resistances[s.Inputs[0]].Ohms, d.Resistances[s.Inputs[1]].Ohms
		how = fmt.Sprintf(" (%s × %s / %s)", ohms(a), ohms(b), ohms(a+b))
	case len(of) > 2 && len(of) < 5:
		how = " (1 / (" + strings.Join(each, " + ") + "))"
	}
	return fmt.Sprintf("%s, %s: in parallel %s = %s%s.", r.Name, where(r), strings.Join(of, ", "), d.ohmsOf(r), how)
}

func ordinalPart(n int) string {
	switch n {
	case 2:
		return "half"
	case 3:
		return "a third"
	case 4:
		return "a quarter"
	}
	return fmt.Sprintf("1/%d", n)
}

func (d *Derivation) meshSentence(s *Step) string {
	var rays, sides []string
	for _, i := range s.Inputs {
		rays = append(rays, d.label(i))
	}
	for _, i := range s.Outputs {
		r := &d.Resistances[i]
		sides = append(sides, fmt.Sprintf("%s, %s, %s", r.Name, where(r), d.ohmsOf(r)))
	}
	shape := "triangle"
	if len(s.Inputs) > 3 {
		shape = fmt.Sprintf("net of %d", len(s.Outputs))
	}
	return fmt.Sprintf("%s is taken out. Its star (%s) becomes a %s: %s.", s.At, strings.Join(rays, "; "), shape, strings.Join(sides, "; "))
}
