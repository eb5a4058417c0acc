package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
	"example.com/ohmloom/solve"
)

type pictureCommand struct {
	Harness  string `arg:"" help:"Harness file (YAML or JSON)."`
	Readings string `arg:"" optional:"" help:"Readings file (YAML or JSON): readings are put at their connectors, the probability of a fault at each part, and what modules answered."`
	Output   string `short:"o" placeholder:"FILE" help:"File to write; left out: standard output."`
}

func (c *pictureCommand) Help() string {
	return cautionText + "\n\nDraws the harness as SVG, from the harness file alone: the trunk of each network, what hangs off it, and the wires between networks.\n\nExamples:\n  whatif picture examples/orchard/harness.yaml -o orchard.svg\n  whatif picture examples/orchard/harness.yaml examples/orchard/silent-side.yaml -o silent-side.svg\n\nExit status: 0; with readings 0 healthy wiring explains them best, 1 a fault does or nothing fits; 2 bad input."
}

func (c *pictureCommand) Run(s streams, status *int) error {
	o := &drawing.Options{Foreword: []string{cautionText}}
	var circuit *netlist.Circuit
	var err error
	if c.Readings == "" {
		if circuit, err = loadHarness(c.Harness); err != nil {
			return err
		}
	} else {
		readings, m := "", (*faults.Match)(nil)
		if circuit, readings, m, err = c.match(s); err != nil {
			return err
		}
		if !m.LooksHealthy() {
			*status = exitFindings
		}
		o.Foreword = append(o.Foreword, readings, strings.TrimSpace(verdict(m)+" "+aside(m)))
		o.Notes = matchNotes(circuit, m)
	}
	p, err := drawing.Draw(circuit, o)
	if err != nil {
		return fmt.Errorf("whatif: %w", err)
	}
	return writePicture(s, c.Output, p.SVG())
}

// match gives the circuit, what the readings file says of itself, and the match.
func (c *pictureCommand) match(s streams) (*netlist.Circuit, string, *faults.Match, error) {
	circuit, file, _, m, err := matchFiles(s, c.Harness, c.Readings)
	if err != nil {
		return nil, "", nil, err
	}
	text := file.Title + "."
	if file.Note != "" {
		text += " " + file.Note
	}
	return circuit, text, m, nil
}

// writePicture writes a picture to a file, or to standard output where none is
// named.
func writePicture(s streams, file string, svg []byte) error {
	if file == "" {
		return write(s.out, string(svg))
	}
	if err := os.WriteFile(file, svg, 0o644); err != nil {
		return fmt.Errorf("whatif: cannot write the picture: %w", err)
	}
	return nil
}

// matchNotes puts a match into a drawing: readings at their connectors, the
// probability of a fault at each part, what modules answered.
func matchNotes(c *netlist.Circuit, m *faults.Match) map[string][]drawing.Note {
	notes := map[string][]drawing.Note{}
	add := func(key string, n drawing.Note) { notes[key] = append(notes[key], n) }
	for _, p := range m.Parts {
		if p.Part == faults.HealthyName || p.Part == faults.NoneName || p.Probability < leastShown {
			continue
		}
		add(p.Part, drawing.Note{Text: percentText(p.Probability), Weight: min(1, p.Probability), Kind: drawing.Likely})
	}
	for _, r := range m.Readings {
		n := drawing.Note{Text: readingText(c, r), Kind: drawing.Reading}
		for _, place := range placesOf(c, r.Probe) {
			add(place, n)
		}
	}
	tools := map[string]bool{}
	for _, a := range m.Answers {
		tools[a.Tool] = true
	}
	for _, a := range m.Answers {
		text := map[bool]string{true: "answers", false: "silent"}[a.Answered]
		if len(tools) > 1 {
			text += " at " + a.Tool
		}
		add(a.Module, drawing.Note{Text: text, Kind: drawing.Mark})
	}
	return notes
}

// readingText is a reading in few words: H-L 60.8 Ω. The networks are left out
// where the connector carries one.
func readingText(c *netlist.Circuit, r faults.Reading) string {
	between := r.Probe.Between
	if s, ok := c.Site(r.Probe.Site); ok {
		network := ""
		several := false
		for _, k := range s.Contacts {
			if k.Rail == "" {
				several = several || network != "" && k.Conductor.Network != network
				network = k.Conductor.Network
			}
		}
		if !several {
			between = withoutNetworks(c, between)
		}
	}
	text := between + " " + solve.FormatReading(r.Probe.Quantity, r.Value)
	if r.Probe.Half == "device" {
		text = "device " + text
	}
	if r.Probe.Sender != "" {
		text += ", " + r.Probe.Sender + " sends"
	}
	if r.Probe.Traffic {
		text += ", traffic"
	}
	if u := r.Probe.Condition.Unplugged; len(u) > 0 {
		text += ", " + strings.Join(u, " ") + " apart"
	}
	return text
}

// placesOf names the places of a drawing at which a reading was taken.
func placesOf(c *netlist.Circuit, p faults.Probe) []string {
	name := func(site, half string) string {
		if s, ok := c.Site(site); ok && s.Kind == netlist.InlineSite {
			if half == "" {
				half = "a"
			}
			return site + "/" + half
		}
		return site
	}
	if p.Site != "" {
		return []string{name(p.Site, p.Half)}
	}
	var out []string
	for _, n := range []int{p.From, p.To} {
		place, _, dotted := strings.Cut(c.Nodes[n].Name, ".")
		if !dotted {
			continue // a rail
		}
		site, half, _ := strings.Cut(place, "/")
		if at := name(site, half); !slices.Contains(out, at) {
			out = append(out, at)
		}
	}
	return out
}
