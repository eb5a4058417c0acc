package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"example.com/ohmloom/cmd/whatif/report"
	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
)

type reportCommand struct {
	Harness  string `arg:"" help:"Harness file (YAML or JSON)."`
	Readings string `arg:"" optional:"" help:"Readings file (YAML or JSON): the page then says what they point to and what to measure next."`
	Out      string `short:"o" default:"report.html" placeholder:"FILE" help:"File to write; - for standard output."`
}

func (c *reportCommand) Help() string {
	return cautionText + "\n\nExamples:\n  whatif report examples/orchard/harness.yaml\n  whatif report examples/orchard/harness.yaml examples/orchard/silent-side.yaml -o silent-side.html\n\nThe page is one file, to be opened in a browser, sent by mail or printed. It fetches nothing. It has the healthy readings, every fault with every connector's reading beside the healthy one, which modules answer then, a place to type readings and see which faults remain, and the plan for each network; with a readings file also what match and next say of it.\n\nExit status: 0, or 2 for bad input."
}

func (c *reportCommand) Run(s streams, _ *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	o := report.Options{
		Cautions: cautions, HarnessFile: filepath.Base(c.Harness), Fault: -1,
		Instrument: faults.DefaultInstrument(), Tools: scanTools(circuit),
	}
	step, end := progressOf(s)
	o.Progress = step
	defer end()
	list := faults.Catalogue(circuit)
	if c.Readings != "" {
		file, err := readingfile.Read(c.Readings, circuit)
		if err != nil {
			return err
		}
		if err := c.match(s, circuit, list, file, &o); err != nil {
			return err
		}
	}
	c.plans(s, circuit, list, &o)
	page, err := report.Make(circuit, o)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := page.Write(&out); err != nil {
		return fmt.Errorf("whatif: %w", err)
	}
	end()
	if c.Out == "-" {
		return write(s.out, out.String())
	}
	if err := os.WriteFile(c.Out, out.Bytes(), 0o644); err != nil {
		return fmt.Errorf("whatif: cannot write the page: %w; write another file with -o", err)
	}
	return write(s.out, fmt.Sprintf("%s: %s, %d connectors, %d readings, %d faults. Open it in a browser.\n", c.Out, sizeText(out.Len()), page.Connectors, page.Readings, page.Faults))
}

// sizeText writes a size in bytes.
func sizeText(bytes int) string {
	if bytes < 1e6 {
		return fmt.Sprintf("%.0f kB", float64(bytes)/1e3)
	}
	return fmt.Sprintf("%.1f MB", float64(bytes)/1e6)
}

// scanTools lists the connectors at which a scan tool is foreseen: the first that
// nothing plugs into and that carries a network whole. Where there is none, no
// answers are worked out.
func scanTools(c *netlist.Circuit) []string {
	site, err := toolSite(c, nil)
	if err != nil {
		return nil
	}
	return []string{site}
}

// progressOf shows one kind of work after the other.
func progressOf(s streams) (step func(what string, done, of int), end func()) {
	steps, ends := map[string]func(done, of int){}, []func(){}
	step = func(what string, done, of int) {
		if steps[what] == nil {
			next, end := progress(s, what)
			if next == nil {
				next = func(int, int) {}
			}
			steps[what], ends = next, append(ends, end)
		}
		steps[what](done, of)
	}
	return step, func() {
		for _, end := range ends {
			end()
		}
		ends = nil
	}
}

// match adds what the readings point to and what to measure next.
func (c *reportCommand) match(s streams, circuit *netlist.Circuit, list []*faults.Fault, file *readingfile.Readings, o *report.Options) error {
	matcher := faults.NewMatcher(circuit, list, file.Instrument)
	o.Instrument = file.Instrument
	m, err := matcher.Match(file.Readings, &faults.MatchOptions{Answers: file.Answers, Progress: func(done, of int) { o.Progress("explanations", done, of) }})
	if err != nil {
		return err
	}
	w := newDocument(pageFormat, s)
	if err := (&matchCommand{Top: 5}).render(w, circuit, file, matcher, m); err != nil {
		return err
	}
	o.Found = &report.Section{Name: "found", Title: file.Title, Blocks: w.blocks}
	o.Fitted = fittedOhms(m)
	if best := m.Best(); !m.NothingFits() && len(best.Members) > 0 {
		o.Fault = slices.IndexFunc(list, func(f *faults.Fault) bool { return f.Name == best.Members[0].Fault.Name })
		o.Best = report.Explanation{Name: best.Name, Changes: best.Changes()}
	}
	for _, r := range file.Readings {
		o.Taken = append(o.Taken, report.Taken{Probe: r.Probe, Value: r.Value})
		if place := r.Probe.Place(); place != "" && !slices.Contains(o.Derive, place) {
			o.Derive = append(o.Derive, place)
		}
	}
	advice, err := matcher.Next(m, &faults.NextOptions{Progress: func(done, of int) { o.Progress("next readings", done, of) }})
	if err != nil {
		return err
	}
	if advice = onePerPlace(advice); len(advice) > 5 {
		advice = advice[:5]
	}
	w = newDocument(pageFormat, s)
	(&nextCommand{Top: 5}).render(w, circuit, m, advice)
	o.Next = &report.Section{Name: "next", Title: "What to measure next", Blocks: w.blocks}
	return nil
}

// fittedOhms are the resistances that the readings say of faults: of those that explain
// them at all, alone or with others.
func fittedOhms(m *faults.Match) map[string]faults.Estimate {
	out := map[string]faults.Estimate{}
	for _, g := range m.Groups {
		for _, i := range g.Hypotheses {
			for _, x := range m.Hypotheses[i].Members {
				// The likelier explanation comes first and stays.
				if _, known := out[x.Fault.Name]; !known && x.Ohms != nil {
					out[x.Fault.Name] = *x.Ohms
				}
			}
		}
	}
	return out
}

// plans adds a plan for each network.
func (c *reportCommand) plans(s streams, circuit *netlist.Circuit, list []*faults.Fault, o *report.Options) {
	x := faults.NewMatcher(circuit, list, faults.DefaultInstrument())
	networks := circuit.Harness.Networks
	for i, n := range networks {
		command := planCommand{Network: n.Name, Sure: 90, Rare: 1}
		plan, err := x.Plan(faults.PlanOptions{Network: n.Name, Sure: command.Sure / 100, Rare: command.Rare / 100})
		o.Progress("plans", i+1, len(networks))
		w := newDocument(pageFormat, s)
		if err != nil {
			// A network on which nothing can happen, by its rates, has no plan; the
			// page is worth having all the same.
			w.paragraph(fmt.Sprintf("There is no plan: %v.", err))
		} else {
			command.render(w, circuit, plan)
		}
		title := "Plan for the wall"
		if len(networks) > 1 {
			title += ": network " + n.Name
		}
		o.Plans = append(o.Plans, report.Section{Name: fmt.Sprintf("plan-%d", i+1), Title: title, Blocks: w.blocks})
	}
}
