package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/solve"
)

type nextCommand struct {
	Harness   string `arg:"" help:"Harness file (YAML or JSON)."`
	Readings  string `arg:"" help:"Readings file (YAML or JSON): what is known so far."`
	Top       int    `default:"5" help:"How many readings to advise."`
	LookAhead bool   `help:"Choose the first by what is to follow it too: the way to the part in the fewest minutes."`
	Traffic   bool   `help:"Weigh what a multimeter shows while the modules send in turn, too; done anyway where the readings file has such a reading."`
	Scope     bool   `help:"A scope is at hand: weigh the levels while one module sends, too."`
	Anyway    bool   `help:"List readings, too, that take longer than the looking into parts that they save."`
	Now       string `enum:"as-left,asleep,quiet,at-work,asked" default:"as-left" help:"What the vehicle is set to now, so that changing it is counted: ${enum}. Left out: as the last reading of the file left it. Asked: a scan tool has just asked the modules."`
	Format    string `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

// states are the words for what a vehicle is set to.
var states = map[string]faults.State{
	"as-left": faults.AsLeft, "asleep": faults.Asleep, "quiet": faults.Quiet, "at-work": faults.AtWork, "asked": faults.Asked,
}

func (c *nextCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif next examples/orchard/harness.yaml examples/orchard/first-reading.yaml\n\nEach possible reading is weighed by how much it is expected to say about which part to repair, for each minute that it takes (reach_min of the harness file, half a minute to read, one to unplug, five to switch the supply, one to have the modules send or leave off with the supply on, two to ask all modules with a scan tool). --traffic weighs what a multimeter shows while the modules send in turn, --scope the levels while one module sends, with two minutes more for each; nothing is taken apart for either. Neither is weighed unasked: on the layout that was measured single faults were not found sooner with them. What takes longer than the looking into parts that it saves is left out: the minutes for looking are look_min and look_wire_min of the harness file.\n\nExit status: 0 there is nothing worth reading, 1 there is, 2 bad input."
}

func (c *nextCommand) Run(s streams, status *int) error {
	if c.Top < 1 {
		return fmt.Errorf("whatif: --top %d shows nothing; write 1 or more", c.Top)
	}
	circuit, file, matcher, m, err := matchFiles(s, c.Harness, c.Readings)
	if err != nil {
		return err
	}
	step, end := progress(s, "explanations")
	advice, err := matcher.Next(m, &faults.NextOptions{Progress: step, LookAhead: c.LookAhead, Traffic: c.Traffic, Scope: c.Scope, Anyway: c.Anyway, Now: states[c.Now]})
	end()
	if err != nil {
		return err
	}
	if len(advice) > 0 {
		*status = exitFindings
	}
	advice = onePerPlace(advice)
	if len(advice) > c.Top {
		advice = advice[:c.Top]
	}
	if c.Format == "json" {
		return c.json(s, circuit, file, m, advice)
	}
	w := newDocument(c.Format, s)
	c.render(w, circuit, m, advice)
	return w.flush()
}

func (c *nextCommand) render(w *document, circuit *netlist.Circuit, m *faults.Match, advice []faults.Advice) {
	w.title(circuit.Harness.Name + ": what to measure next")
	w.cautions()
	w.verdict(strings.TrimSpace(verdict(m) + " " + aside(m)))
	if c.Format != "csv" {
		w.paragraph("Parts: " + partsText(m) + ".")
	}
	if len(advice) == 0 {
		w.paragraph("Measuring ends here: no single reading that is left says enough about which part to repair to be worth its while." + orderText(circuit, m) + anywayHint(c.Anyway))
		return
	}
	header := []string{"", "reading", "minutes", "bits", "bits a minute", "saves"}
	var rows [][]string
	for i, a := range advice {
		rows = append(rows, []string{strconv.Itoa(i + 1), a.String(), fmt.Sprintf("%.1f", a.Minutes), fmt.Sprintf("%.2f", a.Bits), fmt.Sprintf("%.3f", a.PerMinute()), fmt.Sprintf("%.1f", a.Saves)})
	}
	w.table("Worth measuring next", header, rows)
	if c.Format == "csv" {
		return
	}
	w.paragraph("Bits: how much the reading is expected to say about which part to repair; one bit halves what is in question. Saves: how many minutes of looking into parts it is expected to save, the way there and " + lookingText(circuit, m) + "; what takes longer than that, setting the vehicle for it left out, is not advised unasked (--anyway). Of readings at one place with the same connectors apart the best is shown.")
	if slices.ContainsFunc(advice, func(a faults.Advice) bool { return a.Probe.State() == faults.AtWork }) {
		w.paragraph("With traffic: supply on, all plugged in, the modules sending in turn as they do in service; a multimeter set to DC volts shows the mean. While a module sends: the level that a scope shows in that module's frames. Having the modules send is counted once.")
	}
	if advice[0].Basic {
		w.paragraph("Nothing that is known explains what was read so far well, so what would tell it apart is not known either: first comes what can be read at places that are reached already.")
	}
	if c.LookAhead {
		w.paragraph("The first is chosen by what is to follow it too, the others by bits a minute.")
	}
	for i, a := range advice {
		w.heading(fmt.Sprintf("%d. %s", i+1, &a))
		for k, e := range a.Expect {
			if k == mostExpectations || e.Probability < 0.02 {
				break
			}
			if a.Tool != "" {
				silent := "all answer"
				if len(a.Silent[k]) > 0 {
					silent = "silent: " + strings.Join(a.Silent[k], ", ")
				}
				w.item(fmt.Sprintf("%s at fault (%s): %s", partName(e.Part), percentText(e.Probability), silent))
				continue
			}
			w.item(fmt.Sprintf("%s at fault (%s): %s to %s", partName(e.Part), percentText(e.Probability), solve.FormatReading(a.Probe.Quantity, e.Low), solve.FormatReading(a.Probe.Quantity, e.High)))
		}
		w.endList()
	}
	w.paragraph("To go on: plug back what was apart unless the next reading wants it apart too, add the reading to the readings file and ask again.")
}

// lookingText says what looking into a part takes, for all and for those in question
// that have minutes of their own.
func lookingText(circuit *netlist.Circuit, m *faults.Match) string {
	part, opened := circuit.Harness.LookMinutes()
	text := constraint.FormatNumber(part) + " minutes at a connector, " + constraint.FormatNumber(opened) + " at a wire or a splice"
	looks := circuit.Harness.Looks()
	var own []string
	for _, p := range partsInQuestion(m) {
		if look := looks[p.Part]; look.Own {
			own = append(own, p.Part+" "+constraint.FormatNumber(look.Minutes))
		}
	}
	if len(own) > 0 {
		text += ", but " + strings.Join(own, ", ")
	}
	return text
}

// lookOrder gives the parts in question in the order to look into them, and for each the
// minutes when those before it have been looked into.
func lookOrder(circuit *netlist.Circuit, m *faults.Match) (parts []string, minutes []float64) {
	var names []string
	var weight []float64
	for _, p := range partsInQuestion(m) {
		if p.Part != faults.HealthyName && p.Part != faults.NoneName {
			names, weight = append(names, p.Part), append(weight, p.Probability)
		}
	}
	looking, been := faults.NewLooking(circuit), m.Reached(circuit)
	for _, i := range looking.Order(names, weight, been) {
		parts, minutes = append(parts, names[i]), append(minutes, looking.Minutes(names[i], been))
	}
	return parts, minutes
}

// orderText says in which order to look into the parts in question.
func orderText(circuit *netlist.Circuit, m *faults.Match) string {
	parts, minutes := lookOrder(circuit, m)
	var list []string
	for i, part := range parts {
		list = append(list, fmt.Sprintf("%s %.1f", part, minutes[i]))
	}
	const way = ", with the way there where nobody has been yet"
	switch len(parts) {
	case 0:
		return ""
	case 1:
		return " Look into " + parts[0] + " (" + strconv.FormatFloat(minutes[0], 'f', 1, 64) + " minutes" + way + "); after the repair read again."
	}
	return " Look into the parts above in the order that finds the one at fault in the fewest minutes; after each repair read again. The order, and minutes" + way + ": " + strings.Join(list, ", ") + "."
}

// anywayHint says how to have what takes longer than looking listed, too.
func anywayHint(asked bool) string {
	if asked {
		return ""
	}
	return " --anyway lists readings that take longer than the looking that they save."
}

// onePerPlace keeps the best reading at each place with the same connectors apart: the
// others there say much the same, and stand next to it when asked for again.
func onePerPlace(advice []faults.Advice) []faults.Advice {
	var out []faults.Advice
	seen := map[string]bool{}
	for _, a := range advice {
		key := a.Tool + "|" + a.Probe.Place() + "|" + a.Probe.Condition.String() + "|" + strconv.Itoa(int(a.Probe.State())) + "|" + strconv.FormatBool(a.Probe.Sender != "")
		if !seen[key] {
			seen[key] = true
			out = append(out, a)
		}
	}
	return out
}

// mostExpectations is how many parts are listed for each advised reading.
const mostExpectations = 6

func partName(part string) string {
	if part == faults.HealthyName {
		return "nothing of the wiring"
	}
	return part
}

// partsInQuestion are the probable parts that are shown.
func partsInQuestion(m *faults.Match) []faults.PartProbability {
	n := slices.IndexFunc(m.Parts, func(p faults.PartProbability) bool { return p.Probability < 0.005 })
	if n < 0 {
		n = len(m.Parts)
	}
	return m.Parts[:min(n, 8)]
}

// partsText lists the probable parts.
func partsText(m *faults.Match) string {
	var out []string
	for _, p := range partsInQuestion(m) {
		out = append(out, fmt.Sprintf("%s %s", p.Part, percentText(p.Probability)))
	}
	return strings.Join(out, ", ")
}

func (c *nextCommand) json(s streams, circuit *netlist.Circuit, file *readingfile.Readings, m *faults.Match, advice []faults.Advice) error {
	type expectation struct {
		Part        string  `json:"part"`
		Probability float64 `json:"probability"`
		Low         any     `json:"low,omitempty"`
		High        any     `json:"high,omitempty"`
		// Silent is for a scan tool.
		Silent []string `json:"do_not_answer,omitempty"`
	}
	type part struct {
		Part        string  `json:"part"`
		Probability float64 `json:"probability"`
		// Order is its place in the order to look into the parts, from 1, Minutes what
		// that takes then, the way there included; none for what is no part.
		Order   int      `json:"look_order,omitempty"`
		Minutes *float64 `json:"look_minutes,omitempty"`
	}
	type item struct {
		*jsonProbe
		Tool    string        `json:"scan_tool_at,omitempty"`
		Minutes float64       `json:"minutes"`
		Bits    float64       `json:"bits"`
		Saves   float64       `json:"saves_minutes"`
		Expect  []expectation `json:"expect"`
	}
	out := struct {
		Readings string   `json:"readings"`
		Cautions []string `json:"cautions"`
		Verdict  string   `json:"verdict"`
		Parts    []part   `json:"parts"`
		Advice   []item   `json:"advice"`
	}{file.Title, cautions, verdict(m), []part{}, []item{}}
	parts, minutes := lookOrder(circuit, m)
	for _, p := range partsInQuestion(m) {
		x := part{Part: p.Part, Probability: rounded(p.Probability)}
		if i := slices.Index(parts, p.Part); i >= 0 {
			took := rounded(minutes[i])
			x.Order, x.Minutes = i+1, &took
		}
		out.Parts = append(out.Parts, x)
	}
	for _, a := range advice {
		x := item{nil, a.Tool, a.Minutes, rounded(a.Bits), rounded(a.Saves), []expectation{}}
		if a.Tool == "" {
			p := probeJSON(a.Probe)
			x.jsonProbe = &p
		}
		for k, e := range a.Expect {
			switch {
			case e.Probability < 0.005:
			case a.Tool != "":
				x.Expect = append(x.Expect, expectation{Part: e.Part, Probability: rounded(e.Probability), Silent: a.Silent[k]})
			default:
				x.Expect = append(x.Expect, expectation{e.Part, rounded(e.Probability), jsonValue(e.Low), jsonValue(e.High), nil})
			}
		}
		out.Advice = append(out.Advice, x)
	}
	return writeJSON(s, out)
}
