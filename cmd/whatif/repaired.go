package main

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

type repairedCommand struct {
	Harness  string   `arg:"" help:"Harness file (YAML or JSON)."`
	Readings string   `arg:"" help:"Readings file (YAML or JSON): what was read with the fault in, and under repaired: what was read since."`
	At       []string `help:"Connectors at which to list what must be read now, beside those of the readings: X1,X2."`
	Format   string   `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *repairedCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif repaired examples/orchard/harness.yaml examples/orchard/silent-side-repaired.yaml\n\nPrints what must be read once the fault is repaired: healthy wiring, given what the readings say of this harness's own tolerances, and which of those readings would have been otherwise with the fault still in. Readings taken since (repaired: in the readings file) are held against that.\n\nExit status: 0 the readings taken since show that the repair holds, 1 they do not, or there are none, 2 bad input."
}

// repairCheck is one reading after the repair.
type repairCheck struct {
	faults.After
	read  *solve.Value
	holds bool
	note  string
}

func (c *repairedCommand) Run(s streams, status *int) error {
	*status = exitFindings
	circuit, file, matcher, m, err := matchFiles(s, c.Harness, c.Readings)
	if err != nil {
		return err
	}
	h, err := repairedExplanation(circuit, file, m)
	if err != nil {
		return err
	}
	checks, err := c.checks(circuit, file, matcher, m, h)
	if err != nil {
		return err
	}
	text, holds := repairVerdict(h, checks)
	if holds {
		*status = exitFine
	}
	if c.Format == "json" {
		return c.json(s, file, h, text, holds, checks)
	}
	w := newDocument(c.Format, s)
	w.title(circuit.Harness.Name + ": after the repair")
	w.cautions()
	w.paragraph(text)
	var rows [][]string
	for _, x := range checks {
		q := x.Probe.Quantity
		row := []string{
			x.Probe.String(), solve.FormatReading(q, x.Low), solve.FormatReading(q, x.High),
			solve.FormatReading(q, x.Before), map[bool]string{true: "yes", false: "no"}[x.Tells], "", "", x.note,
		}
		if x.read != nil {
			row[5], row[6] = solve.FormatReading(q, *x.read), map[bool]string{true: "as it must be", false: "NOT as it must be"}[x.holds]
		}
		rows = append(rows, row)
	}
	w.table("What must be read now", []string{"reading", "least", "greatest", "with the fault", "tells", "read", "", "note"}, rows)
	w.paragraph("Least to greatest: 19 of 20 harnesses that are sound now and agree with what was read before the repair. Tells: with the fault still in, the reading would lie outside; a reading that does not tell shows only that nothing else is wrong. Read with the connectors mated, module by module as they were. When the readings hold, clear the fault memories and drive the functions as the maker's service information has it, steering and brakes first at a standstill.")
	return w.flush()
}

// repairedExplanation is the explanation whose fault was repaired: the best one, or
// the best of the part that the file names.
func repairedExplanation(c *netlist.Circuit, file *readingfile.Readings, m *faults.Match) (*faults.Hypothesis, error) {
	if file.Repaired == "" {
		if h := m.Best(); h.Fault != nil {
			return h, nil
		}
		return nil, fmt.Errorf("whatif: the readings point to no fault, so nothing says what was repaired; write repaired: {part: ...} into the readings file")
	}
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if h.Fault != nil && h.Fault.Part == file.Repaired && len(h.Predicted) > 0 {
			return h, nil
		}
	}
	var parts []string
	for _, p := range m.Parts {
		if len(parts) < 5 && p.Part != faults.HealthyName && p.Part != faults.NoneName {
			parts = append(parts, p.Part)
		}
	}
	return nil, fmt.Errorf("whatif: repaired: part %s explains none of the readings taken before the repair; they point to %s", file.Repaired, strings.Join(parts, ", "))
}

func (c *repairedCommand) checks(circuit *netlist.Circuit, file *readingfile.Readings, matcher *faults.Matcher, m *faults.Match, h *faults.Hypothesis) ([]repairCheck, error) {
	var probes []faults.Probe
	for _, r := range file.After {
		probes = append(probes, r.Probe)
	}
	taken := len(probes)
	if taken == 0 {
		for _, r := range m.Readings {
			if r.Probe.Sender == "" && !r.Probe.Traffic && len(r.Probe.Condition.Unplugged) == 0 {
				probes = append(probes, r.Probe)
			}
		}
	}
	for _, at := range c.At {
		if _, err := circuit.FindSite(at); err != nil {
			return nil, fmt.Errorf("whatif: --at: %w", err)
		}
		for _, sel := range []faults.Selection{{}, {Quantity: solve.Volts}} {
			for _, p := range faults.Probes(circuit, sel) {
				if p.Site == at {
					probes = append(probes, p)
				}
			}
		}
	}
	if len(probes) == 0 {
		return nil, fmt.Errorf("whatif: every reading was taken with connectors apart or modules sending; say with --at where to read after the repair, for example --at %s", circuit.Sites[0].Name)
	}
	after, err := matcher.AfterRepair(m, h, probes)
	if err != nil {
		return nil, err
	}
	out := make([]repairCheck, len(after))
	for i, a := range after {
		out[i].After = a
		if i < taken {
			out[i].read, out[i].note = &file.After[i].Value, file.AfterNotes[i]
			out[i].holds = a.Verify(file.After[i].Value)
		}
	}
	return out, nil
}

// repairVerdict says whether the readings show that the repair holds.
func repairVerdict(h *faults.Hypothesis, checks []repairCheck) (string, bool) {
	read, wrong, tell := 0, 0, 0
	for _, x := range checks {
		if x.read == nil {
			continue
		}
		read++
		if !x.holds {
			wrong++
		}
		if x.Tells {
			tell++
		}
	}
	what := fmt.Sprintf("Repaired: %s (%s).", h.Fault.Part, h.Name)
	switch {
	case read == 0:
		return what + " Nothing was read since. The table says what must be read.", false
	case wrong > 0:
		return what + fmt.Sprintf(" NOT SHOWN: %s. Either the repair does not hold, or something else is wrong too: put the readings taken since into a readings file of their own and match them.", count(wrong, "reading is not as it must be", "readings are not as they must be")), false
	case tell == 0:
		return what + " NOT SHOWN: all readings are as they must be, but would have been with the fault still in. Take one that tells.", false
	}
	return what + fmt.Sprintf(" THE REPAIR HOLDS: %s, and %d would have been otherwise with the fault in.", count(read, "reading is as it must be", "readings are as they must be"), tell), true
}

func (c *repairedCommand) json(s streams, file *readingfile.Readings, h *faults.Hypothesis, text string, holds bool, checks []repairCheck) error {
	type item struct {
		jsonProbe
		Low    any    `json:"least"`
		High   any    `json:"greatest"`
		Before any    `json:"with_the_fault"`
		Tells  bool   `json:"tells"`
		Read   any    `json:"read,omitempty"`
		Holds  *bool  `json:"as_it_must_be,omitempty"`
		Note   string `json:"note,omitempty"`
	}
	out := struct {
		Readings string   `json:"readings"`
		Cautions []string `json:"cautions"`
		Part     string   `json:"part"`
		Fault    string   `json:"fault"`
		Verdict  string   `json:"verdict"`
		Holds    bool     `json:"repair_holds"`
		Checks   []item   `json:"must_be_read"`
	}{file.Title, cautions, h.Fault.Part, h.Name, text, holds, []item{}}
	for i := range checks {
		x := &checks[i]
		j := item{jsonProbe: probeJSON(x.Probe), Low: jsonValue(x.Low), High: jsonValue(x.High), Before: jsonValue(x.Before), Tells: x.Tells, Note: x.note}
		if x.read != nil {
			j.Read, j.Holds = jsonValue(*x.read), &x.holds
		}
		out.Checks = append(out.Checks, j)
	}
	return writeJSON(s, out)
}
