package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

type matchCommand struct {
	Harness  string `arg:"" help:"Harness file (YAML or JSON)."`
	Readings string `arg:"" help:"Readings file (YAML or JSON)."`
	Top      int    `default:"5" help:"How many groups of explanations to show."`
	Format   string `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *matchCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif match examples/orchard/harness.yaml examples/orchard/silent-side.yaml\n\nExit status: 0 healthy wiring explains the readings best, 1 a fault does or nothing fits, 2 bad input."
}

func (c *matchCommand) Run(s streams, status *int) error {
	if c.Top < 1 {
		return fmt.Errorf("whatif: --top %d shows nothing; write 1 or more", c.Top)
	}
	circuit, file, matcher, m, err := matchFiles(s, c.Harness, c.Readings)
	if err != nil {
		return err
	}
	if !m.LooksHealthy() {
		*status = exitFindings
	}
	if c.Format == "json" {
		return c.writeJSON(s, circuit, file, m)
	}
	w := newDocument(c.Format, s)
	if err := c.render(w, circuit, file, matcher, m); err != nil {
		return err
	}
	return w.flush()
}

// matchFiles reads a harness and readings and matches them.
func matchFiles(s streams, harness, readings string) (*netlist.Circuit, *readingfile.Readings, *faults.Matcher, *faults.Match, error) {
	circuit, err := loadHarness(harness)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	file, err := readingfile.Read(readings, circuit)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	step, end := progress(s, "faults")
	matcher := faults.NewMatcher(circuit, faults.Catalogue(circuit), file.Instrument)
	m, err := matcher.Match(file.Readings, &faults.MatchOptions{Progress: step, Answers: file.Answers})
	end()
	return circuit, file, matcher, m, err
}

func (c *matchCommand) render(w *document, circuit *netlist.Circuit, file *readingfile.Readings, matcher *faults.Matcher, m *faults.Match) error {
	w.title(circuit.Harness.Name + ": " + file.Title)
	w.cautions()
	if file.Note != "" {
		w.paragraph(file.Note)
	}
	w.verdict(strings.TrimSpace(verdict(m) + " " + aside(m)))
	doubt, err := matcher.Doubts(m, m.Best())
	if err != nil {
		return err
	}
	if text := doubtText(m, doubt); text != "" {
		w.paragraph(text)
	}
	if c.Format == "csv" {
		writeMatchCSV(w, m)
		return nil
	}
	groups := m.Groups
	if len(groups) > c.Top {
		groups = groups[:c.Top]
	}
	for len(groups) > 1 && groups[len(groups)-1].Probability < leastShown {
		groups = groups[:len(groups)-1]
	}
	var rows [][]string
	for k, g := range groups {
		for j, i := range g.Hypotheses {
			h := &m.Hypotheses[i]
			if j == mostOfGroup {
				rows = append(rows, []string{strconv.Itoa(k + 1), fmt.Sprintf("and %d more (--format json has them all)", len(g.Hypotheses)-j), percentText(remainder(m, g, j)), "", "", ""})
				break
			}
			rows = append(rows, []string{strconv.Itoa(k + 1), h.Name, percentText(h.Probability), fittedText(h), partText(h), againstText(m, h)})
		}
	}
	w.table("What explains the readings", []string{"group", "explanation", "probability", "fitted", "repair", "speaks against it"}, rows)
	w.paragraph("Faults of one group predict the same for every reading taken: no order among them but how common they are.")

	best := m.Best()
	if len(m.Readings) > 0 {
		c.renderReadings(w, file, m, best)
	}
	if len(m.Answers) > 0 {
		rows = nil
		for i, a := range m.Answers {
			rows = append(rows, []string{a.Tool, a.Module, map[bool]string{true: "yes", false: "no"}[a.Answered], best.Answers[i].String(), healthyOf(m).Answers[i].String()})
		}
		w.table("Answers to a scan tool", []string{"at", "module", "answered", "first explanation says", "healthy says"}, rows)
	}
	if second := m.Second(); second != nil && !m.NothingFits() {
		c.renderWhy(w, m, best, second)
	}
	w.paragraph("By part: " + partsText(m) + ".")
	w.paragraph(searchedText(m, len(circuit.Harness.Rates) > 0))
	return nil
}

// renderWhy says what speaks for the best explanation and against it, beside the
// first that repairs something else.
func (c *matchCommand) renderWhy(w *document, m *faults.Match, best, second *faults.Hypothesis) {
	w.heading("Why " + best.Name + " and not " + second.Name)
	type voice struct {
		about string
		log   float64
	}
	var voices []voice
	for i, x := range m.Speaks(best, second) {
		voices = append(voices, voice{fmt.Sprintf("reading %d (%s)", i+1, m.Readings[i].Probe), x})
	}
	for i, x := range m.Odds(best, second) {
		voices = append(voices, voice{fmt.Sprintf("what %s did when it was asked", m.Answers[i].Module), x})
	}
	slices.SortStableFunc(voices, func(a, b voice) int { return cmp.Compare(b.log, a.log) })
	said := false
	for k, v := range voices {
		if k < 2 && v.log > math.Log(1.5) {
			w.item(fmt.Sprintf("For it speaks %s: %s as probable.", v.about, timesText(v.log)))
			said = true
		}
	}
	if v := voices[len(voices)-1]; v.log < -math.Log(1.5) {
		w.item(fmt.Sprintf("Against it speaks %s: %s as probable the other way.", v.about, timesText(-v.log)))
		said = true
	}
	if a, b := len(best.Members), len(second.Members); b > 1 && a < b {
		w.item("For it speaks that fewer faults are needed: several at once are rarer.")
		said = true
	} else if a > 1 && a > b {
		w.item("Against it speaks that more faults are needed: several at once are rarer.")
		said = true
	}
	if !said {
		w.item("Nothing that was read tells them apart: how common such faults are makes the difference.")
	}
	w.endList()
}

// timesText writes a ratio of probabilities.
func timesText(log float64) string {
	switch times := math.Exp(log); {
	case times < 10:
		return fmt.Sprintf("%.1f times", times)
	case times < 1e4:
		return fmt.Sprintf("%.0f times", times)
	case times < 1e6:
		return fmt.Sprintf("%.0f thousand times", times/1e3)
	}
	return "more than a million times"
}

// searchedText says what was looked for.
func searchedText(m *faults.Match, ownRates bool) string {
	text := lookedFor(m)
	if ownRates {
		text += " How common faults are is as the harness file has it (whatif check lists that); what it says cannot happen was not looked for."
	}
	return text
}

func lookedFor(m *faults.Match) string {
	x := m.Searched
	if x.Silencing > 0 {
		text := fmt.Sprintf("Looked for: single faults of the catalogue, healthy wiring, none of these. Since no single fault explains who is silent, also the smallest sets of faults that do, the most common first: %d", x.Silencing)
		if x.SilencingLeft {
			text += " of more"
		}
		return text + "."
	}
	if x.Pairs == 0 {
		return "Looked for: single faults of the catalogue, healthy wiring, none of these. Two faults at once are looked for where resistances or idle volts were read, and where no single one explains who is silent."
	}
	text := fmt.Sprintf("Looked for: single faults of the catalogue, healthy wiring, none of these, and all %d pairs of faults: %d were ruled out by a bound, %d are one fault with a second that no reading sees beside it (counted with the one), %d were weighed.", x.Pairs, x.RuledOut, x.Unseen, x.Weighed)
	if x.Left > 0 {
		text += fmt.Sprintf(" %d that explain the readings less well were left", x.Left)
		if x.LeftShare >= 0.001 {
			text += fmt.Sprintf(", together about %s", percentText(x.LeftShare))
		}
		text += "."
	}
	if x.NotSeen > 0 {
		text += fmt.Sprintf(" %d with a module that lost supply or ground, or sends all the time, could not be weighed beside idle volts.", x.NotSeen)
	}
	if x.Triples > 0 {
		text += fmt.Sprintf(" Since nothing less explains the readings, %d sets of three were looked at, grown from the %d most telling pairs; not every three.", x.Triples, x.TriplesFrom)
	}
	return text
}

// doubtText says what a misread reading may be instead.
func doubtText(m *faults.Match, d *faults.Doubt) string {
	if d == nil || m.None() > 0.5 {
		return ""
	}
	r := m.Readings[d.Reading]
	text := fmt.Sprintf("Reading %d (%s: %s) does not go with the others: it is taken to be something else than it is said to be.", d.Reading+1, r.Probe, solve.FormatReading(r.Probe.Quantity, r.Value))
	if d.Same >= 0 {
		text += fmt.Sprintf(" Reading %d is of the same points and shows another value: a contact that comes and goes, or one of the two was taken elsewhere.", d.Same+1)
	}
	var instead []string
	for _, p := range d.Instead {
		instead = append(instead, p.String())
	}
	switch {
	case len(instead) > 4:
		text += fmt.Sprintf(" It would fit %s and %d other readings at the same place.", instead[0], len(instead)-1)
	case len(instead) > 0:
		text += " It would fit " + strings.Join(instead, ", or ") + "."
	}
	switch {
	case d.Prefix > 1:
		text += " It would fit if it was kilohms."
	case d.Prefix > 0:
		text += " It would fit if it was ohms and not kilohms."
	}
	if d.Supply && len(instead) == 0 && d.Prefix == 0 {
		text += " A supply that is still on, or a network that is not asleep, spoils resistances to a rail."
	}
	return text + " Take it again before anything is taken apart."
}

// renderReadings sets each reading against the best explanation and healthy
// wiring.
func (c *matchCommand) renderReadings(w *document, file *readingfile.Readings, m *faults.Match, best *faults.Hypothesis) {
	var rows [][]string
	for i, r := range m.Readings {
		row := []string{strconv.Itoa(i + 1), r.Probe.String(), solve.FormatReading(r.Probe.Quantity, r.Value)}
		for _, h := range []*faults.Hypothesis{best, healthyOf(m)} {
			if len(h.Predicted) == 0 {
				row = append(row, "", "")
				continue
			}
			p := h.Predicted[i]
			row = append(row, solve.FormatReading(r.Probe.Quantity, p.Value), offText(p.Off))
		}
		rows = append(rows, append(row, file.Notes[i]))
	}
	w.table("Readings", []string{"", "reading", "read", "first explanation says", "off", "healthy says", "off", "note"}, rows)
	text := "Off: how far the reading lies from what is said, in standard deviations of tolerances and meter together. What speaks against an explanation is what is left of that once the other readings have said what the shared tolerances are."
	if in := file.Instrument; in.LeadMaxOhms > 0 && slices.ContainsFunc(m.Readings, func(r faults.Reading) bool { return r.Probe.Quantity == solve.Ohms }) {
		text += fmt.Sprintf(" The meter is taken to be right within %g %% and %g digits in ohms.", in.OhmsPct, in.OhmsDigits)
		text += fmt.Sprintf(" The leads are taken to add %g to %g Ω to every resistance (leads_zeroed: true if they do not).", in.LeadMinOhms, in.LeadMaxOhms)
	}
	w.paragraph(text)

}

// writeMatchCSV writes every explanation that is left, as numbers.
func writeMatchCSV(w *document, m *faults.Match) {
	group := map[int]int{}
	for k, g := range m.Groups {
		for _, i := range g.Hypotheses {
			group[i] = k + 1
		}
	}
	number := func(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }
	bounds := func(e *faults.Estimate) []string {
		if e == nil {
			return []string{"", "", ""}
		}
		return []string{number(e.Best), number(e.Low), number(e.High)}
	}
	var rows [][]string
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if group[i] == 0 {
			continue
		}
		kind := ""
		if len(h.Members) == 1 {
			kind = string(h.Fault.Kind)
		}
		row := []string{strconv.Itoa(group[i]), h.Name, kind, partText(h), number(h.Probability)}
		row = append(row, bounds(h.Ohms)...)
		row = append(row, bounds(h.Metres)...)
		rows = append(rows, append(row, number(h.Chance)))
	}
	w.table("", []string{"group", "explanation", "kind", "part", "probability", "ohms", "ohms_low_95", "ohms_high_95", "metres", "metres_low_95", "metres_high_95", "chance_of_worse_fit"}, rows)
}

// leastShown is the probability of a group below which people are not shown it.
const leastShown = 0.01

// mostOfGroup is how many members of a group are listed for people.
const mostOfGroup = 12

// remainder sums the probabilities of a group's members from the j-th on.
func remainder(m *faults.Match, g faults.MatchGroup, j int) float64 {
	sum := 0.0
	for _, i := range g.Hypotheses[j:] {
		sum += m.Hypotheses[i].Probability
	}
	return sum
}

func holdsHealthy(m *faults.Match, g faults.MatchGroup) bool {
	for _, i := range g.Hypotheses {
		if m.Hypotheses[i].Name == faults.HealthyName {
			return true
		}
	}
	return false
}

// verdict says in one sentence what came out.
func verdict(m *faults.Match) string {
	best := m.Best()
	switch {
	case m.NothingFits() && !best.Poor() || best.Probability < 1e-6:
		return "NOTHING FITS. Neither healthy wiring nor one, two or three faults of the catalogue explain these readings. Look for more than one reading that was taken wrongly (supply on, other cavity), or for a harness file that differs from the vehicle."
	case best.Poor():
		return fmt.Sprintf("NOTHING FITS WELL. The best explanation, %s, is contradicted by the readings (a fit so bad comes by chance once in %s). Repeat the readings that speak against it before anything is taken apart.", best.Name, onceIn(best.Chance))
	case m.LooksHealthy():
		for _, g := range m.Groups {
			if !holdsHealthy(m, g) {
				continue
			}
			text := "NOTHING FOUND: as far as these readings see, nothing speaks against healthy wiring."
			if i := healthyOf(m).Misread(); i >= 0 {
				text = fmt.Sprintf("HEALTHY WIRING explains these readings, but for reading %d, which needs to be taken again.", i+1)
			} else if against := againstText(m, healthyOf(m)); against != noAgainst {
				text = "HEALTHY WIRING explains these readings best, though not all of them: " + against + " against it."
			}
			if n := len(g.Hypotheses) - 1; n > 0 {
				text += fmt.Sprintf(" They do not see %s at all, which only further readings rule out.", count(n, "possible fault", "possible faults"))
			}
			return text
		}
	}
	several := len(best.Members)
	if several > 1 {
		return severalVerdict(m, best)
	}
	text := "A FAULT"
	if part := m.Parts[0]; part.Probability >= 0.5 {
		text += fmt.Sprintf(" at %s (%s)", part.Part, percentText(part.Probability))
	}
	if len(m.Groups) > 0 && len(m.Groups[0].Hypotheses) > 1 {
		return text + fmt.Sprintf(": most probably one of %d that these readings cannot tell apart, together %s.", len(m.Groups[0].Hypotheses), percentText(m.Groups[0].Probability))
	}
	return text + fmt.Sprintf(": most probably %s, %s.", best.Name, percentText(best.Probability))
}

// severalVerdict names the parts that are sure of several faults at once, and those
// between which the rest lies.
func severalVerdict(m *faults.Match, best *faults.Hypothesis) string {
	const sure = 0.9
	var at, or []string
	for _, p := range m.Parts {
		switch {
		case p.Part == faults.NoneName || p.Part == faults.HealthyName:
		case p.Probability >= sure:
			at = append(at, fmt.Sprintf("%s (%s)", p.Part, percentText(p.Probability)))
		case p.Probability >= 0.05 && len(or) < 6:
			or = append(or, fmt.Sprintf("%s (%s)", p.Part, percentText(p.Probability)))
		}
	}
	text := map[int]string{2: "TWO FAULTS AT ONCE", 3: "THREE FAULTS AT ONCE"}[len(best.Members)]
	switch {
	case len(at) > 0 && len(or) > 0:
		text += ", one at " + strings.Join(at, ", one at ") + ", the other among " + strings.Join(or, ", ")
	case len(at) > 0:
		text += " at " + strings.Join(at, " and ")
	case len(or) > 0:
		text += " among " + strings.Join(or, ", ")
	}
	return text + fmt.Sprintf(". Most probable: %s, %s.", best.Name, percentText(best.Probability))
}

// aside says how much is left for what the catalogue does not have.
func aside(m *faults.Match) string {
	if none := m.None(); none > 0.02 && !m.NothingFits() {
		return fmt.Sprintf("Something that the catalogue does not have: %s.", percentText(none))
	}
	return ""
}

func onceIn(chance float64) string {
	if chance < 1e-9 {
		return "a thousand million tries"
	}
	return fmt.Sprintf("%.0f tries", 1/chance)
}

func healthyOf(m *faults.Match) *faults.Hypothesis {
	for i := range m.Hypotheses {
		if m.Hypotheses[i].Name == faults.HealthyName {
			return &m.Hypotheses[i]
		}
	}
	return &faults.Hypothesis{}
}

func percentText(p float64) string {
	switch {
	case p >= 0.9995:
		return "> 99.9 %"
	case p >= 0.995 || p < 0.01:
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

func fittedText(h *faults.Hypothesis) string {
	var out []string
	for _, x := range h.Members {
		e := x.Ohms
		switch {
		case e == nil && len(h.Members) > 1:
			out = append(out, "-")
		case e == nil:
		case e.High > 10*e.Low:
			// So wide a range has no best value worth naming.
			out = append(out, fmt.Sprintf("%s to %s", roundOhms(e.Low), roundOhms(e.High)))
		default:
			out = append(out, fmt.Sprintf("%s (%s to %s)", roundOhms(e.Best), roundOhms(e.Low), roundOhms(e.High)))
		}
	}
	if len(h.Members) > 1 {
		return strings.Join(out, " and ")
	}
	if e := h.Metres; e != nil {
		out = append(out, fmt.Sprintf("%.1f m (%.1f to %.1f m) along", e.Best, e.Low, e.High))
	}
	return strings.Join(out, ", ")
}

// roundOhms writes a fitted resistance to two figures, more would be pretence.
func roundOhms(ohms float64) string {
	if ohms <= 0 {
		return "0 Ω"
	}
	scale := math.Pow(10, math.Floor(math.Log10(ohms))-1)
	return netlist.FormatOhms(math.Round(ohms/scale) * scale)
}

func partText(h *faults.Hypothesis) string {
	if h.Fault == nil {
		return ""
	}
	return h.Fault.Part
}

func offText(off float64) string { return fmt.Sprintf("%+.1f", off) }

// noAgainst is said where nothing speaks against an explanation.
const noAgainst = "nothing"

// againstText names the reading that speaks most against a hypothesis.
func againstText(m *faults.Match, h *faults.Hypothesis) string {
	worst, at := 0.0, -1
	misread := h.Misread()
	for i, p := range h.Predicted {
		if i == misread {
			continue
		}
		if a := math.Abs(p.Against); a > worst {
			worst, at = a, i
		}
	}
	var out []string
	if misread >= 0 {
		out = append(out, fmt.Sprintf("reading %d, taken to be misread", misread+1))
	}
	if at >= 0 && worst >= 2 {
		out = append(out, fmt.Sprintf("reading %d, %.0f standard deviations off", at+1, worst))
	}
	var contrary []string
	for _, i := range m.Contrary(h) {
		contrary = append(contrary, m.Answers[i].Module)
	}
	if len(contrary) > 0 {
		out = append(out, "what "+strings.Join(contrary, ", ")+" answered or not")
	}
	if len(out) == 0 {
		return noAgainst
	}
	return strings.Join(out, "; ")
}

func (c *matchCommand) writeJSON(s streams, circuit *netlist.Circuit, file *readingfile.Readings, m *faults.Match) error {
	type predicted struct {
		Value any     `json:"value"`
		Off   float64 `json:"standard_deviations_off"`
	}
	type estimate struct {
		Best float64 `json:"best"`
		Low  float64 `json:"low_95"`
		High float64 `json:"high_95"`
	}
	type member struct {
		Name string    `json:"fault"`
		Part string    `json:"part"`
		Ohms *estimate `json:"ohms,omitempty"`
	}
	type hypothesis struct {
		Name        string      `json:"explanation"`
		Kind        string      `json:"kind,omitempty"`
		Part        string      `json:"part,omitempty"`
		Probability float64     `json:"probability"`
		Ohms        *estimate   `json:"ohms,omitempty"`
		Metres      *estimate   `json:"metres,omitempty"`
		Predicted   []predicted `json:"predicted,omitempty"`
		Answers     []string    `json:"answers,omitempty"`
		Misread     int         `json:"misread_reading,omitempty"`
		Members     []member    `json:"faults_at_once,omitempty"`
		ChiSquare   float64     `json:"chi_square"`
		Freedom     int         `json:"degrees_of_freedom"`
		Chance      float64     `json:"chance_of_worse_fit"`
	}
	type reading struct {
		jsonProbe
		Value any    `json:"value"`
		Note  string `json:"note,omitempty"`
	}
	type answer struct {
		At       string `json:"at"`
		Module   string `json:"module"`
		Answered bool   `json:"answered"`
	}
	type searched struct {
		Pairs         int     `json:"pairs"`
		RuledOut      int     `json:"ruled_out"`
		Unseen        int     `json:"second_unseen"`
		Weighed       int     `json:"weighed"`
		Left          int     `json:"left"`
		NotSeen       int     `json:"not_weighable"`
		Triples       int     `json:"sets_of_three"`
		TriplesFrom   int     `json:"grown_from_pairs"`
		LeftShare     float64 `json:"left_together"`
		Silencing     int     `json:"sets_that_silence,omitempty"`
		SilencingLeft bool    `json:"more_sets_that_silence,omitempty"`
	}
	type group struct {
		Names       []string `json:"explanations"`
		Probability float64  `json:"probability"`
	}
	bounds := func(e *faults.Estimate) *estimate {
		if e == nil {
			return nil
		}
		return &estimate{rounded(e.Best), rounded(e.Low), rounded(e.High)}
	}
	looked := searched(m.Searched)
	looked.LeftShare = rounded(looked.LeftShare)
	out := struct {
		Harness      string       `json:"harness"`
		Readings     string       `json:"readings"`
		Note         string       `json:"note,omitempty"`
		Cautions     []string     `json:"cautions"`
		Verdict      string       `json:"verdict"`
		NothingFits  bool         `json:"nothing_fits"`
		Taken        []reading    `json:"taken"`
		Answered     []answer     `json:"answered,omitempty"`
		Explanations []hypothesis `json:"explanations"`
		Groups       []group      `json:"ambiguity_groups"`
		Searched     searched     `json:"pairs_looked_at"`
	}{
		Harness: circuit.Harness.Name, Readings: file.Title, Note: file.Note, Cautions: cautions,
		Verdict: verdict(m), NothingFits: m.NothingFits(), Searched: looked,
	}
	for i, r := range m.Readings {
		out.Taken = append(out.Taken, reading{probeJSON(r.Probe), jsonValue(r.Value), file.Notes[i]})
	}
	for _, a := range m.Answers {
		out.Answered = append(out.Answered, answer{a.Tool, a.Module, a.Answered})
	}
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if h.Probability < 1e-4 && i > 0 {
			break
		}
		j := hypothesis{
			Name: h.Name, Part: partText(h), Probability: rounded(h.Probability), Ohms: bounds(h.Ohms), Metres: bounds(h.Metres),
			ChiSquare: rounded(h.ChiSquare), Freedom: h.Freedom, Chance: rounded(h.Chance),
		}
		j.Misread = h.Misread() + 1
		switch {
		case len(h.Members) > 1:
			for _, x := range h.Members {
				j.Members = append(j.Members, member{x.Fault.Name, x.Fault.Part, bounds(x.Ohms)})
			}
		case h.Fault != nil:
			j.Kind = string(h.Fault.Kind)
		}
		for _, p := range h.Predicted {
			j.Predicted = append(j.Predicted, predicted{jsonValue(p.Value), rounded(p.Off)})
		}
		for _, a := range h.Answers {
			j.Answers = append(j.Answers, a.String())
		}
		out.Explanations = append(out.Explanations, j)
	}
	for _, g := range m.Groups {
		j := group{Probability: rounded(g.Probability)}
		for _, i := range g.Hypotheses {
			j.Names = append(j.Names, m.Hypotheses[i].Name)
		}
		out.Groups = append(out.Groups, j)
	}
	return writeJSON(s, out)
}
