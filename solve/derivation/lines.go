package derivation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.com/ohmloom/solve"
)

// onPaper is the section of the steps.
func (d *Derivation) onPaper(detail Detail) (Section, bool) {
	out := Section{Heading: "On paper"}
	if d.Result < 0 {
		switch {
		case d.Quantity == solve.Volts:
			out.Paragraphs = append(out.Paragraphs, "Both points are held, or joined, so there is nothing to work out.")
		default:
			out.Paragraphs = append(out.Paragraphs, "The two points are joined without any resistance between them.")
		}
		return out, true
	}
	if d.still && detail == Short {
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("Every input holds its conductor at %s, nothing else pulls, and no current flows: all points are at that voltage. Behind it lie %s, all inputs together (each step: --full).", volts(d.Sources[0].Volts), ohms(d.Ohms)))
		return out, true
	}
	shown := d.chosen(detail)
	equivalent, brief := 0, d.brief(shown)
	for i := range d.Steps {
		if detail == Short {
			for ; equivalent < len(d.Equivalents) && d.Equivalents[equivalent].BeforeStep <= i; equivalent++ {
				if !d.worthALine(&d.Equivalents[equivalent]) {
					continue
				}
				out.Steps = append(out.Steps, d.equivalentSentence(&d.Equivalents[equivalent]))
			}
		}
		if shown[i] {
			if detail == Full {
				out.Steps = append(out.Steps, d.Sentence(&d.Steps[i]))
			} else {
				out.Steps = append(out.Steps, brief.sentence(&d.Steps[i]))
			}
		}
	}
	r := &d.Resistances[d.Result]
	end := "That is all: " + d.ohmsOf(r) + "."
	if d.FromHeld != 0 || d.ToHeld != 0 {
		end = fmt.Sprintf("From the red lead to the black one that makes %s.", volts(d.Volts))
	}
	if d.Quantity == solve.Volts && d.Meter.InputOhms > 0 {
		end += fmt.Sprintf(" The meter's %s divide that: %s × %s / (%s + %s) = %s.", ohms(d.Meter.InputOhms), volts(d.Volts), ohms(d.Meter.InputOhms), ohms(d.Meter.InputOhms), ohms(d.Ohms), volts(d.Value.Number))
	}
	out.Steps = append(out.Steps, end)
	how := "From the far ends towards the leads."
	if len(d.Steps) > countTrue(shown) {
		how = fmt.Sprintf("From the far ends towards the leads, the main steps of %d.", len(d.Steps))
	}
	if meshes(d.Steps) > 0 {
		how += " Series and parallel alone do not go through here, since a point is left with three ways to go. So place after place is taken out, the star around each of its points turned into a triangle: between a and b it has R = Ra × Rb × (1/Ra + 1/Rb + 1/Rc)."
		if detail == Short {
			how += " What stands for all beyond a place is given as it is taken out."
		}
	}
	out.Paragraphs = append(out.Paragraphs, how)
	return out, true
}

func countTrue(list []bool) int {
	n := 0
	for _, b := range list {
		if b {
			n++
		}
	}
	return n
}

// mostSteps is how many steps a short derivation shows at most, leastShare how much of
// the answer must lie in a step for it to be one of them. This project's own choice.
const (
	mostSteps  = 12
	leastShare = 0.003
)

// chosen marks the steps that are worth a line.
func (d *Derivation) chosen(detail Detail) []bool {
	shown := make([]bool, len(d.Steps))
	if detail == Full {
		for i := range shown {
			shown[i] = true
		}
		return shown
	}
	share := func(step int) float64 { return d.Resistances[d.Steps[step].Outputs[0]].Share }
	var candidates []int
	meshed := meshes(d.Steps) > 0
	for i, s := range d.Steps {
		switch s.Operation {
		case Fold, Hold, Tie, Quarter:
			shown[i] = true
		case Parallel:
			if !meshed && share(i) >= leastShare {
				candidates = append(candidates, i)
			}
		}
	}
	slices.SortFunc(candidates, func(a, b int) int {
		return cmp.Or(cmp.Compare(share(b), share(a)), b-a) // of equal ones the nearer to the leads
	})
	for n, i := range candidates {
		shown[i] = n < mostSteps
	}
	// How it ends is always told: the steps behind the last star.
	for i := len(d.Steps) - 1; i >= 0; i-- {
		if meshed && d.Steps[i].Operation == Mesh || len(d.Steps)-i > 4 {
			break
		}
		if slices.Contains(d.Steps[i].Outputs, d.Result) || meshed {
			shown[i] = true
		}
	}
	d.showWhatIsUsed(shown)
	return shown
}

// showWhatIsUsed marks the steps in parallel that lines shown already make use of, the
// latest first, so that no weighty number comes out of nowhere.
func (d *Derivation) showWhatIsUsed(shown []bool) {
	by := map[int]int{}
	for i, s := range d.Steps {
		if s.Operation == Series || s.Operation == Parallel {
			by[s.Outputs[0]] = i
		}
	}
	var use func(output int)
	lines := countTrue(shown)
	use = func(output int) {
		i, ok := by[output]
		if !ok || shown[i] || d.Resistances[output].Share < leastShare || lines >= 2*mostSteps {
			return
		}
		if d.Steps[i].Operation == Parallel {
			shown[i] = true
			lines++
		}
		for _, input := range d.Steps[i].Inputs {
			use(input)
		}
	}
	for i := len(d.Steps) - 1; i >= 0; i-- {
		if s := &d.Steps[i]; shown[i] && (s.Operation == Series || s.Operation == Parallel || s.Operation == Quarter) {
			for _, input := range s.Inputs {
				use(input)
			}
		}
	}
}

// worthALine tells whether an equivalent stands for more than two elements of its own place
// and matters.
func (d *Derivation) worthALine(e *Equivalent) bool {
	derived, share := false, 0.0
	for _, i := range e.Resistances {
		derived = derived || d.Resistances[i].Kind == Derived
		share += d.Resistances[i].Share
	}
	return derived && share >= leastShare
}

func (d *Derivation) equivalentSentence(e *Equivalent) string {
	place := strings.TrimRight(commonPrefix(e.Points), "./ ")
	for _, n := range d.circuit.Harness.Networks {
		place = strings.TrimSuffix(place, " "+n.Name)
	}
	if place == "" || len(e.Points) == 1 {
		place = list(e.Points)
	}
	// What is left of a name once the place is said.
	short := func(name string) string {
		if len(e.Points) > 1 && slices.Contains(e.Points, name) {
			return name[len(commonPrefix(e.Points)):]
		}
		return name
	}
	var each []string
	seen := map[int]bool{}
	all := Resistance{}
	for _, i := range e.Resistances {
		r := &d.Resistances[i]
		a, b := short(r.A), short(r.B)
		if d.Quantity == solve.Ohms && a > b && slices.Contains(e.Points, r.B) {
			a, b = b, a
		}
		if len(e.Points) == 1 {
			each = append(each, d.ohmsOf(r)+" to "+b)
		} else {
			each = append(each, a+" to "+b+" "+d.ohmsOf(r))
		}
		for _, k := range r.kin {
			if !seen[k] {
				seen[k] = true
				all.kin = append(all.kin, k)
			}
		}
	}
	slices.Sort(all.kin)
	return fmt.Sprintf("At %s and beyond (%s): %s.", place, d.stands(&all), strings.Join(each, "; "))
}

// commonPrefix is what names have in common, up to a point or a blank.
func commonPrefix(names []string) string {
	common := names[0]
	for _, n := range names[1:] {
		for !strings.HasPrefix(n, common) {
			common = common[:len(common)-1]
		}
	}
	return common[:strings.LastIndexAny(common, ". ")+1]
}
