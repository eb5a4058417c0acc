package main

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve/derivation"
)

type explainCommand struct {
	Harness   string   `arg:"" help:"Harness file (YAML or JSON)."`
	Read      string   `required:"" placeholder:"READING" help:"The reading, as the other commands write it: 'X1 drive.H-drive.L', 'X2 drive.H-ground, volts', 'X1.6 to X4.6', 'X11 drive.H-drive.L, ohms, X11 unplugged'. Ohms where nothing else is said."`
	Fault     []string `sep:"none" help:"Name of a fault, whole or a part that fits just one; repeat it for several at once."`
	Unplugged []string `help:"Connectors that are apart, besides those that the reading names."`
	Full      bool     `help:"Every step and every element."`
	Format    string   `enum:"text,markdown,json" default:"text" help:"Output format: ${enum}."`
}

func (c *explainCommand) Help() string {
	return cautionText + "\n\nExamples:\n  whatif explain examples/orchard/harness.yaml --read 'X1 drive.H-drive.L'\n  whatif explain examples/orchard/harness.yaml --read 'X2 drive.H-drive.L' --fault 'open drive.H in pair P9'\n  whatif explain examples/orchard/harness.yaml --read 'X1 work.H-ground, volts' --fault 'leak work.H to ground at connector X17'"
}

func (c *explainCommand) Run(s streams, _ *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	probe, err := parseRead(circuit, c.Read, c.Unplugged)
	if err != nil {
		return err
	}
	if probe.Sender != "" || probe.Traffic {
		return fmt.Errorf("whatif: --read %q: %w", c.Read, derivation.ErrNotAtRest)
	}
	q := derivation.Question{
		Quantity: probe.Quantity, Condition: probe.Condition, From: probe.From, To: probe.To,
		Meter: faults.DefaultInstrument().Meter,
	}
	names, changes, err := theseFaults(circuit, c.Fault)
	if err != nil {
		return err
	}
	q.Changes = changes
	q.Fault = strings.Join(names, "; ")
	x, err := derivation.Compare(circuit, q)
	if err != nil {
		return fmt.Errorf("whatif: %s, with %s: %w", probe, orHealthy(names), err)
	}
	if c.Format == "json" {
		return c.json(s, circuit, probe, names, x)
	}
	w := newDocument(c.Format, s)
	w.title(circuit.Harness.Name + ": " + probe.String())
	w.cautions()
	if circuit.Harness.Note != "" {
		w.paragraph(circuit.Harness.Note)
	}
	detail := derivation.Short
	if c.Full {
		detail = derivation.Full
	}
	for _, section := range x.Sections(detail) {
		w.section(section)
	}
	return w.flush()
}

// section writes a piece of a derivation.
func (d *document) section(s derivation.Section) {
	if len(s.Paragraphs)+len(s.Steps) > 0 {
		d.heading(s.Heading)
		for _, p := range s.Paragraphs {
			d.paragraph(p)
		}
		for i, step := range s.Steps {
			text := fmt.Sprintf("%d. %s", i+1, step)
			if d.format == "markdown" {
				d.out.WriteString(text + "\n") // a numbered list is one without a dash
			} else {
				d.item(text)
			}
		}
		if len(s.Steps) > 0 {
			d.endList()
		}
	}
	if len(s.Rows) > 0 {
		d.table(s.Heading, s.Header, s.Rows)
	}
}

// parseRead makes a probe of what --read and --unplugged say.
func parseRead(c *netlist.Circuit, text string, unplugged []string) (faults.Probe, error) {
	all := text
	if len(unplugged) > 0 {
		all += ", " + strings.Join(unplugged, " ") + " unplugged"
	}
	p, err := faults.ParseProbe(c, all)
	if err != nil {
		return p, fmt.Errorf("whatif: --read %q: %w", text, err)
	}
	return p, nil
}
