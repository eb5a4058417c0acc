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

// scale is a unit for a reading and the digits behind its point.
type scale struct {
	unit   string
	by     float64
	digits int
}

func (d *Derivation) scale() scale {
	greatest := 0.0
	for _, t := range d.Terms {
		greatest = math.Max(greatest, math.Abs(t.Total))
	}
	last := greatest
	if n := len(d.Terms); n > 0 {
		last = math.Abs(d.Terms[n-1].Total)
	}
	switch {
	case d.Quantity == solve.Volts:
		return scale{"V", 1, 4}
	case last >= 1e6:
		return scale{"kΩ", 1e3, 1}
	case last >= 1e3:
		return scale{"Ω", 1, 1}
	case last < 1:
		return scale{"Ω", 1, 3}
	}
	return scale{"Ω", 1, 2}
}

func (s scale) round(v float64) float64 {
	p := math.Pow(10, float64(s.digits))
	return math.Round(v/s.by*p) / p
}

func (s scale) write(v float64) string {
	if v == 0 {
		v = 0 // no −0
	}
	return strings.Replace(fmt.Sprintf("%.*f", s.digits, v), "-", "−", 1)
}

// shownTerm is a term as it is written: rounded so that what is written adds up.
type shownTerm struct {
	*Term
	value, total float64
}

func (d *Derivation) shownTerms(s scale) []shownTerm {
	var out []shownTerm
	last := 0.0
	for i := range d.Terms {
		t := &d.Terms[i]
		total := s.round(t.Total)
		out = append(out, shownTerm{t, s.round(total*s.by - last*s.by), total})
		if !t.Open {
			last = total
		}
	}
	return out
}

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
	wires := 0.0
	for i, t := range terms {
		if t.Open {
			continue
		}
		first := true
		for _, before := range terms[:i] {
			first = first && before.Open
		}
		switch {
		case first:
			words = append(words, fmt.Sprintf("%s %s %s", s.write(t.value), s.unit, d.startWords(t.Term)))
		case t.Group == Wires || t.Group == Contacts:
			wires += t.value
		case t.value != 0:
			words = append(words, s.plusMinus(t.value)+" "+d.termWords(t.Term))
		}
		if t.Group == Contacts && s.round(wires*s.by) != 0 {
			words = append(words, s.plusMinus(wires)+" "+"for wires and contacts"+d.mostlyIn())
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
		case n == 1 && close(t.Value, t.Ohms[0]):
			return fmt.Sprintf("because one terminator of %s lies between them (%s)", ohms(t.Ohms[0]), t.Parts[0])
		case n > 1 && close(t.Value, parallel(t.Ohms)):
			alike := true
			for _, o := range t.Ohms {
				alike = alike && close(o, t.Ohms[0])
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

// terms is the table of terms, healthy beside faulty.
func (x *Comparison) terms() (Section, bool) {
	d := x.Healthy
	if x.Faulty != nil && !x.Faulty.Open {
		d = x.Faulty
	}
	s := d.scale()
	columns := []*Derivation{x.Healthy}
	out := Section{Heading: "The reading as a sum", Header: []string{"put in, one after the other", "healthy, " + s.unit, "sum"}}
	if x.Faulty != nil {
		columns = append(columns, x.Faulty)
		out.Header = append(out.Header, "with the fault, "+s.unit, "sum")
	}
	groups := []Group{Terminators, FaultOhms, Strays, SupplyLoads, Transceivers, Wires, Contacts, TheMeter}
	if d.Quantity == solve.Volts {
		groups = []Group{Transceivers, Strays, FaultOhms, Wires, Contacts, TheMeter}
	}
	for _, g := range groups {
		name := map[Group]string{Terminators: "terminators, all else perfect or away", Transceivers: "inputs of the modules", FaultOhms: "the fault's own resistance", TheMeter: "the meter itself"}[g]
		switch {
		case d.Quantity == solve.Volts && g == Transceivers:
			name = "inputs of the modules, wires perfect"
		case d.Quantity == solve.Volts && g == FaultOhms:
			name = "the fault"
		case name == "":
			name = string(g)
		}
		row := []string{name}
		worth := false
		for _, column := range columns {
			cells := []string{"", ""}
			for _, t := range column.shownTerms(s) {
				if t.Group != g {
					continue
				}
				switch {
				case t.Open && d.Quantity == solve.Ohms:
					cells = []string{"OL", "OL"}
					worth = worth || g == Terminators
				default:
					sign := ""
					if t.value > 0 && t.value != t.total {
						sign = "+"
					}
					cells = []string{sign + s.write(t.value), s.write(t.total)}
					worth = worth || t.Value != 0 || t.value == t.total && g == Terminators
				}
			}
			row = append(row, cells...)
		}
		if worth {
			out.Rows = append(out.Rows, row)
		}
	}
	return out, len(out.Rows) > 0
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
	var candidates []int
	meshed := meshes(d.Steps) > 0
	for i, s := range d.Steps {
		switch s.Operation {
		case Fold, Hold, Tie, Quarter:
			shown[i] = true
		case Parallel:
			if !meshed && d.Resistances[s.Outputs[0]].Share >= leastShare {
				candidates = append(candidates, i)
			}
		}
	}
	slices.SortStableFunc(candidates, func(a, b int) int {
		x, y := d.Resistances[d.Steps[a].Outputs[0]].Share, d.Resistances[d.Steps[b].Outputs[0]].Share
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return b - a // the nearer to the leads
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

// sources is the table of what each source gives of a voltage.
func (d *Derivation) sources(detail Detail) (Section, bool) {
	if d.Quantity != solve.Volts || len(d.Sources) == 0 || d.still && d.Volts < 1e-9 {
		return Section{}, false
	}
	out := Section{Heading: "What each source gives", Header: []string{"source", "volts", "gives, V"}}
	rest, n := 0.0, 0
	for i, s := range d.Sources {
		if detail == Short && (i >= mostRows || math.Abs(s.Gives) < 1e-6*math.Abs(d.Sources[0].Gives)) {
			rest += s.Gives
			n++
			continue
		}
		out.Rows = append(out.Rows, []string{s.Name, fmt.Sprintf("%.3f", s.Volts), signed(s.Gives)})
	}
	if n > 0 {
		out.Rows = append(out.Rows, []string{fmt.Sprintf("%d more", n), "", signed(rest)})
	}
	out.Rows = append(out.Rows, []string{"together, before the meter loads it", "", signed(d.Volts)})
	return out, true
}

// mostRows is how many elements a short table lists.
const mostRows = 8

func signed(v float64) string {
	if math.Abs(v) < 0.00005 {
		v = 0
	}
	return fmt.Sprintf("%+.4f", v)
}

// weights is the table of what each part does to the reading: elements of one sort at
// one part together.
func (d *Derivation) weights(detail Detail) (Section, bool) {
	if len(d.Weights) == 0 || d.Result < 0 || d.still {
		return Section{}, false
	}
	type sum struct {
		name string
		kind Kind
		part string
		n    int
		ohms []string
		per  float64
	}
	var sums []*sum
	for _, w := range d.Weights {
		k := slices.IndexFunc(sums, func(s *sum) bool { return w.Part != "" && w.Kind != Fault && s.kind == w.Kind && s.part == w.Part })
		if k < 0 {
			k = len(sums)
			sums = append(sums, &sum{name: w.Element, kind: w.Kind, part: w.Part})
		}
		s := sums[k]
		s.n++
		s.ohms = append(s.ohms, ohms(w.Ohms))
		s.per += w.PerPercent
	}
	slices.SortStableFunc(sums, func(a, b *sum) int { return -cmp.Compare(math.Abs(a.per), math.Abs(b.per)) })
	out := Section{Heading: "What moves the reading", Header: []string{"part", "has", "1 % more of it: " + d.Quantity.Unit()}}
	rest, n := 0.0, 0
	for i, s := range sums {
		if detail == Short && (i >= mostRows || math.Abs(s.per) < 1e-4*math.Abs(sums[0].per)) {
			rest += s.per
			n++
			continue
		}
		name, has := s.name, s.ohms[0]
		if s.n > 1 {
			name = map[Kind]string{Wire: "wires of ", Contact: "contacts of ", Input: "inputs of ", Terminator: "terminator "}[s.kind] + s.part
			has = list(s.ohms)
			if len(unique(s.ohms)) == 1 {
				has = fmt.Sprintf("%d × %s", s.n, s.ohms[0])
			}
		}
		out.Rows = append(out.Rows, []string{name, has, fmt.Sprintf("%+.3g", s.per)})
	}
	if n > 0 {
		out.Rows = append(out.Rows, []string{fmt.Sprintf("%d more", n), "", fmt.Sprintf("%+.3g", rest)})
	}
	if d.Quantity == solve.Ohms {
		out.Rows = append(out.Rows, []string{"all of them: 1 % of the reading", "", fmt.Sprintf("%+.3g", 0.01*d.Ohms)})
	}
	return out, true
}
