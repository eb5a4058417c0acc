package main

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

type planCommand struct {
	Harness string  `arg:"" help:"Harness file (YAML or JSON)."`
	Network string  `help:"Only the faults and places of one network."`
	Within  float64 `help:"Only places that are reached within so many minutes."`
	Sure    float64 `default:"90" help:"Probability of a part in percent from which on the plan ends there."`
	Rare    float64 `default:"1" help:"Leave out branches that are rarer than so many percent."`
	Format  string  `enum:"text,markdown,json" default:"text" help:"Output format: ${enum}."`
}

func (c *planCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif plan examples/orchard/harness.yaml --network drive\n\nPrints a whole course of readings in advance, for the wall: what to read first, what next after each outcome, with minutes, down to the part. Every fault counts by its rate. A plan knows nothing of a vehicle's complaint and own tolerances: with readings at hand, whatif next advises better.\n\nExit status: 0, or 2 for bad input."
}

func (c *planCommand) Run(s streams, _ *int) error {
	switch {
	case !(c.Sure > 0 && c.Sure <= 100):
		return fmt.Errorf("whatif: --sure %g is no percentage; write for example --sure 90", c.Sure)
	case !(c.Rare > 0 && c.Rare < 100):
		return fmt.Errorf("whatif: --rare %g is no percentage above 0; write for example --rare 1", c.Rare)
	case c.Within < 0:
		return fmt.Errorf("whatif: --within %g is negative; write minutes", c.Within)
	}
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	if c.Network != "" {
		if _, ok := circuit.Harness.Layer(c.Network); !ok {
			var names []string
			for _, n := range circuit.Harness.Networks {
				names = append(names, n.Name)
			}
			return fmt.Errorf("whatif: there is no network %q; there is %s", c.Network, strings.Join(names, ", "))
		}
	}
	x := faults.NewMatcher(circuit, faults.Catalogue(circuit), faults.DefaultInstrument())
	plan, err := x.Plan(faults.PlanOptions{Network: c.Network, Within: c.Within, Sure: c.Sure / 100, Rare: c.Rare / 100})
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return c.json(s, circuit.Harness.Name, plan)
	}
	w := newDocument(c.Format, s)
	c.render(w, circuit, plan)
	return w.flush()
}

func (c *planCommand) render(w *document, circuit *netlist.Circuit, plan *faults.Plan) {
	title := circuit.Harness.Name + ": plan"
	if c.Network != "" {
		title += " for network " + c.Network
	}
	w.title(title)
	w.cautions()
	if circuit.Harness.Note != "" {
		w.paragraph(circuit.Harness.Note)
	}
	w.paragraph(fmt.Sprintf("Expected: %.0f minutes and %.1f readings to the end of the plan; the part named first there is at fault in %s of cases. Left out as rarer than %g %%: %s of all cases.", plan.Minutes, plan.Readings, percentText(plan.Right), c.Rare, percentText(plan.Cut)))
	w.paragraph("Start at step 1. Each outcome leads to another step, or to parts with their probabilities. Values are as a common meter shows them, leads included. A value near the edge between two outcomes belongs to either: follow both, or ask whatif next with the readings. Plug back what a step had apart before the next one, with the supply off.")
	writeSteps(w, plan.Root)
	w.paragraph("How common faults are counted is from memory, or as the harness file has it. Tolerances are counted from a rough measure.")
}

// leastBranch is the share of a step's outcomes below which one is not printed.
const leastBranch = 0.005

// writeSteps writes a plan step by step, one level after the other, so that a step's
// outcomes point downwards.
func writeSteps(w *document, root *faults.PlanNode) {
	type queued struct {
		node   *faults.PlanNode
		number int
	}
	next := 2
	open := []queued{{root, 1}}
	for len(open) > 0 {
		q := open[0]
		open = open[1:]
		if q.node.Do == nil { // a plan of nothing but its end
			w.paragraph(endText(q.node))
			continue
		}
		w.heading(fmt.Sprintf("%d. %s", q.number, q.node.Do))
		supply := "supply off, network asleep"
		if q.node.Do.Probe.Condition.Supply == solve.Idle {
			supply = "supply on"
		}
		w.item(fmt.Sprintf("%s; %.1f min; comes up in %s of cases", supply, q.node.Do.Minutes, percentText(q.node.Probability)))
		rare := 0.0
		for _, b := range q.node.Branches {
			if b.Node.Cut || b.Node.Probability < leastBranch*q.node.Probability {
				rare += b.Node.Probability
				continue
			}
			text := outcomeText(q.node.Do, &b) + " (" + percentText(b.Node.Probability/q.node.Probability) + "): "
			if b.Node.Do != nil {
				text += fmt.Sprintf("step %d", next)
				open = append(open, queued{b.Node, next})
				next++
			} else {
				text += endText(b.Node)
			}
			w.item(text)
		}
		if rare > 0 {
			w.item("anything else (" + percentText(rare/q.node.Probability) + "): go on with whatif next")
		}
		w.endList()
	}
}

// outcomeText says what is read.
func outcomeText(a *faults.Advice, b *faults.PlanBranch) string {
	q := a.Probe.Quantity
	switch {
	case a.Tool != "" && b.Other:
		return "any other pattern"
	case a.Tool != "" && len(b.Silent) == 0:
		return "all answer"
	case a.Tool != "":
		return "silent: " + strings.Join(b.Silent, ", ")
	case b.Low == nil && b.High == nil:
		return "anything"
	case b.Low == nil:
		return "below " + solve.FormatReading(q, *b.High)
	case b.High == nil && q == solve.Ohms:
		return "above " + solve.FormatReading(q, *b.Low) + ", or OL"
	case b.High == nil:
		return "above " + solve.FormatReading(q, *b.Low)
	}
	return solve.FormatReading(q, *b.Low) + " to " + solve.FormatReading(q, *b.High)
}

// endText says which parts an end leads to.
func endText(n *faults.PlanNode) string {
	var parts []string
	for i, p := range n.Parts {
		if i > 0 && p.Probability < 0.03 || i == 5 {
			if rest := len(n.Parts) - i; i == 5 {
				parts = append(parts, fmt.Sprintf("%d more", rest))
			}
			break
		}
		name := p.Part
		if name == faults.HealthyName {
			name = "healthy"
		}
		parts = append(parts, name+" "+percentText(p.Probability))
	}
	if n.Parts[0].Part == faults.HealthyName {
		return "nothing found: " + strings.Join(parts, ", ")
	}
	return "LOOK AT " + strings.Join(parts, ", ")
}

func (c *planCommand) json(s streams, name string, plan *faults.Plan) error {
	type node struct {
		Probability float64            `json:"probability"`
		Do          string             `json:"do,omitempty"`
		Minutes     float64            `json:"minutes,omitempty"`
		Outcomes    []any              `json:"outcomes,omitempty"`
		Parts       map[string]float64 `json:"parts,omitempty"`
		Why         string             `json:"ends,omitempty"`
	}
	type outcome struct {
		Low    any      `json:"from,omitempty"`
		High   any      `json:"to,omitempty"`
		Silent []string `json:"do_not_answer,omitempty"`
		Other  bool     `json:"any_other,omitempty"`
		Then   any      `json:"then"`
	}
	var convert func(n *faults.PlanNode) node
	convert = func(n *faults.PlanNode) node {
		out := node{Probability: rounded(n.Probability), Why: n.Why}
		if n.Do == nil {
			out.Parts = map[string]float64{}
			for _, p := range n.Parts {
				if p.Probability >= 0.005 {
					out.Parts[p.Part] = rounded(p.Probability)
				}
			}
			return out
		}
		out.Do, out.Minutes = n.Do.String(), n.Do.Minutes
		for i := range n.Branches {
			b := &n.Branches[i]
			o := outcome{Silent: b.Silent, Other: b.Other, Then: convert(b.Node)}
			if b.Low != nil {
				o.Low = jsonValue(*b.Low)
			}
			if b.High != nil {
				o.High = jsonValue(*b.High)
			}
			out.Outcomes = append(out.Outcomes, o)
		}
		return out
	}
	return writeJSON(s, struct {
		Harness  string   `json:"harness"`
		Cautions []string `json:"cautions"`
		Minutes  float64  `json:"expected_minutes"`
		Readings float64  `json:"expected_readings"`
		Right    float64  `json:"first_part_is_right"`
		Cut      float64  `json:"left_out"`
		Plan     node     `json:"plan"`
	}{name, cautions, rounded(plan.Minutes), rounded(plan.Readings), rounded(plan.Right), rounded(plan.Cut), convert(plan.Root)})
}
