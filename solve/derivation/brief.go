package derivation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// mostInputs is how many resistances in parallel a short line names at most; a wire is
// named without its ohms where they are less than the share besideInput of what it leads
// to, since five figures would hardly show them. This project's own choice.
const (
	mostInputs  = 5
	besideInput = 2e-5
)

// brief writes steps in few lines: what a step took from one that is not written
// stands in the line itself.
type brief struct {
	d *Derivation
	// by is the step that made a resistance; absent for the harness's own.
	by map[int]*Step
	// shown marks the steps that are written.
	shown map[*Step]bool
}

func (d *Derivation) brief(shown []bool) *brief {
	b := &brief{d: d, by: map[int]*Step{}, shown: map[*Step]bool{}}
	for i := range d.Steps {
		s := &d.Steps[i]
		b.shown[s] = shown[i]
		for _, out := range s.Outputs {
			if s.Operation == Series || s.Operation == Parallel {
				b.by[out] = s
			}
		}
	}
	return b
}

// sentence is [Derivation.Sentence], of a step in parallel with what is in each branch.
func (b *brief) sentence(s *Step) string {
	if s.Operation != Parallel {
		return b.d.Sentence(s)
	}
	d := b.d
	r := &d.Resistances[s.Outputs[0]]
	inputs := slices.Clone(s.Inputs)
	slices.SortStableFunc(inputs, func(x, y int) int { return cmp.Compare(d.Resistances[x].Ohms, d.Resistances[y].Ohms) })
	var each []string
	rest, siemens, amps := Resistance{}, 0.0, 0.0
	for n, i := range inputs {
		if n < mostInputs || len(inputs) == mostInputs+1 {
			each = append(each, b.branch(i))
			continue
		}
		x := &d.Resistances[i]
		siemens += 1 / x.Ohms
		amps += x.Volts / x.Ohms
		rest.kin = append(rest.kin, x.kin...)
		rest.Kind, rest.Fold = Derived, x.Fold
	}
	if siemens > 0 {
		rest.Ohms, rest.Volts = 1/siemens, amps/siemens
		what := d.stands(&rest)
		if r.meshed {
			what = fmt.Sprintf("%d more", len(inputs)-mostInputs)
		}
		each = append(each, what+", "+d.ohmsOf(&rest)+" together")
	}
	name := r.Name + ", " + where(r)
	if !r.meshed {
		name += " (" + d.stands(r) + ")"
	}
	how := ""
	if d.driven(s) {
		how = ", each voltage counting by 1/ohms"
	}
	return fmt.Sprintf("%s: %s. In parallel %s%s.", name, strings.Join(each, "; "), d.ohmsOf(r), how)
}

// driven tells whether any of a step's inputs has a voltage in series.
func (d *Derivation) driven(s *Step) bool {
	return slices.ContainsFunc(s.Inputs, func(i int) bool { return d.Resistances[i].Volts != 0 })
}

// branch writes one of several resistances in parallel: what it is, and what wire and
// contacts lead to it.
func (b *brief) branch(i int) string {
	d := b.d
	r := &d.Resistances[i]
	s := b.by[i]
	if s == nil || b.shown[s] || s.Operation != Series {
		return b.name(i)
	}
	var mains []int
	small, parts := 0.0, []string{}
	for _, k := range s.Inputs {
		x := &d.Resistances[k]
		if x.Kind == Wire || x.Kind == Contact {
			small += x.Ohms
			parts = append(parts, x.Part)
			continue
		}
		mains = append(mains, k)
	}
	slices.Reverse(parts)
	by := some(unique(parts), 3)
	var main []string
	sum := 0.0
	for _, k := range mains {
		main = append(main, b.name(k))
		sum += d.Resistances[k].Ohms
	}
	all := strings.Join(main, " + ")
	switch {
	case len(mains) == 0:
		return by + " " + ohms(small)
	case len(mains) == 1 && small == 0:
		return all
	case len(mains) == 1 && small < besideInput*sum:
		return all + " by way of " + by
	case small > 0:
		all += fmt.Sprintf(" + %s of %s", ohms(small), by)
	}
	return all + " = " + d.ohmsOf(r)
}

// name is what a resistance is called in a short line.
func (b *brief) name(i int) string {
	d := b.d
	r := &d.Resistances[i]
	s := b.by[i]
	switch {
	case r.Kind != Derived || r.meshed:
		if r.Kind == Derived {
			return r.Name + " " + d.ohmsOf(r)
		}
		return d.label(i)
	case s != nil && b.shown[s]:
		return r.Name + " " + d.ohmsOf(r)
	}
	return d.stands(r) + " " + d.ohmsOf(r)
}
