package main

import (
	"fmt"
	"slices"
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
	h, err := repairedExplanation(file, m)
	if err != nil {
		return err
	}
	checks, err := c.checks(circuit, file, matcher, m, h)
	if err != nil {
		return err
	}
	text, holds := repairVerdict(h, file.Repaired, checks)
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
			solve.FormatReading(q, x.Before), tellsText(h, file.Repaired, &x.After), "", "", x.note,
		}
		if x.read != nil {
			row[5], row[6] = solve.FormatReading(q, *x.read), map[bool]string{true: "as it must be", false: "NOT as it must be"}[x.holds]
		}
		rows = append(rows, row)
	}
	w.table("What must be read now", []string{"reading", "least", "greatest", "before", "tells of", "read", "", "note"}, rows)
	w.paragraph("Least to greatest: 19 of 20 harnesses in which the repair holds and that agree with what was read before it. Before: what the explanation had the meter show. Tells of: with that fault still in, the reading would lie outside; a reading that tells of none shows only that nothing else is wrong. Read with the connectors mated, module by module as they were. When the readings hold, clear the fault memories and drive the functions as the maker's service information has it, steering and brakes first at a standstill.")
	return w.flush()
}

// repairedExplanation is the explanation whose faults were repaired: the best one, or
// the best that has all the parts that the file names.
func repairedExplanation(file *readingfile.Readings, m *faults.Match) (*faults.Hypothesis, error) {
	if len(file.Repaired) == 0 {
		if h := m.Best(); h.Fault != nil {
			return h, nil
		}
		return nil, fmt.Errorf("whatif: the readings point to no fault, so nothing says what was repaired; write repaired: {part: ...} into the readings file")
	}
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if len(h.Predicted) == 0 {
			continue
		}
		all := true
		for _, part := range file.Repaired {
			all = all && slices.ContainsFunc(h.Members, func(x faults.Member) bool { return x.Fault.Part == part })
		}
		if all {
			return h, nil
		}
	}
	var parts []string
	for _, p := range m.Parts {
		if len(parts) < 5 && p.Part != faults.HealthyName && p.Part != faults.NoneName {
			parts = append(parts, p.Part)
		}
	}
	return nil, fmt.Errorf("whatif: repaired: no explanation of the readings taken before has %s; they point to %s; several parts are written as a list, [P9, X7]", strings.Join(file.Repaired, " with "), strings.Join(parts, ", "))
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
				again := slices.ContainsFunc(probes, func(q faults.Probe) bool { return q.String() == p.String() })
				if p.Site == at && !again {
					probes = append(probes, p)
				}
			}
		}
	}
	if len(probes) == 0 {
		return nil, fmt.Errorf("whatif: every reading was taken with connectors apart or modules sending; say with --at where to read after the repair, for example --at %s", circuit.Sites[0].Name)
	}
	after, err := matcher.AfterRepair(m, h, file.Repaired, probes)
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

// repairedMembers names the faults that were repaired, and the parts of those that
// were not.
func repairedMembers(h *faults.Hypothesis, parts []string) (done, left []string) {
	for k, yes := range h.Repaired(parts) {
		if f := h.Members[k].Fault; yes {
			done = append(done, f.Name)
		} else {
			left = append(left, f.Part)
		}
	}
	return done, left
}

// tellsText names the repaired faults that a reading tells of.
func tellsText(h *faults.Hypothesis, parts []string, a *faults.After) string {
	done, _ := repairedMembers(h, parts)
	var out []string
	for k, tells := range a.Tells {
		if tells {
			out = append(out, done[k])
		}
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, " and ")
}

// repairVerdict says whether the readings show that the repair holds: all are as they
// must be, and each repaired fault would have shown in one of them.
func repairVerdict(h *faults.Hypothesis, parts []string, checks []repairCheck) (string, bool) {
	done, left := repairedMembers(h, parts)
	shown := make([]bool, len(done))
	read, wrong, beyond := 0, 0, 0
	for _, x := range checks {
		if x.Beyond {
			beyond++
		}
		if x.read == nil {
			continue
		}
		read++
		if !x.holds {
			wrong++
		}
		for k, tells := range x.Tells {
			shown[k] = shown[k] || tells
		}
	}
	what := fmt.Sprintf("Repaired: %s.", strings.Join(done, " and "))
	rest := ""
	if len(left) > 0 {
		rest = fmt.Sprintf(" STILL TO BE REPAIRED by the readings taken before: %s.", strings.Join(left, ", "))
	}
	var unshown []string
	for k, yes := range shown {
		if !yes {
			unshown = append(unshown, done[k])
		}
	}
	switch {
	case beyond > 0:
		return what + " SOMETHING ELSE IS WRONG: by the readings taken before, " + count(beyond, "reading would now lie", "readings would now lie") + " where no healthy harness reads. The fault named does not explain them all, or one of them was misread.", false
	case read == 0:
		return what + " Nothing was read since. The table says what must be read." + rest, false
	case wrong > 0:
		return what + fmt.Sprintf(" NOT SHOWN: %s. Either the repair does not hold, or something else is wrong too: put the readings taken since into a readings file of their own and match them.", count(wrong, "reading is not as it must be", "readings are not as they must be")) + rest, false
	case len(unshown) > 0:
		return what + " NOT SHOWN: all readings are as they must be, but would have been with this still in: " + strings.Join(unshown, ", ") + ". Take one that tells." + rest, false
	}
	return what + fmt.Sprintf(" THE REPAIR HOLDS: %s, and each fault would have shown.", count(read, "reading is as it must be", "readings are as they must be")) + rest, len(left) == 0
}

func (c *repairedCommand) json(s streams, file *readingfile.Readings, h *faults.Hypothesis, text string, holds bool, checks []repairCheck) error {
	type item struct {
		jsonProbe
		Low    any    `json:"least"`
		High   any    `json:"greatest"`
		Before any    `json:"before"`
		Tells  string `json:"tells_of"`
		Beyond bool   `json:"beyond_healthy,omitempty"`
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
		j := item{jsonProbe: probeJSON(x.Probe), Low: jsonValue(x.Low), High: jsonValue(x.High), Before: jsonValue(x.Before), Tells: tellsText(h, file.Repaired, &x.After), Beyond: x.Beyond, Note: x.note}
		if x.read != nil {
			j.Read, j.Holds = jsonValue(*x.read), &x.holds
		}
		out.Checks = append(out.Checks, j)
	}
	return writeJSON(s, out)
}
