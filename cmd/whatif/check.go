package main

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

type checkCommand struct {
	Harness string `arg:"" help:"Harness file (YAML or JSON)."`
	Format  string `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *checkCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif check examples/orchard/harness.yaml\n\nExit status: 0 nothing to remark, 1 remarks, 2 the file has mistakes (all are listed, each with line and column)."
}

// checkReport is what check has to say.
type checkReport struct {
	Harness     string               `json:"harness"`
	Note        string               `json:"note,omitempty"`
	Cautions    []string             `json:"cautions"`
	Counts      map[string]int       `json:"counts"`
	Healthy     []healthyReading     `json:"healthy"`
	Remarks     []faults.Remark      `json:"remarks"`
	Assumptions []netlist.Assumption `json:"assumptions"`
}

type healthyReading struct {
	Place   string `json:"place"`
	Between string `json:"between"`
	Ohms    any    `json:"ohms"`
	Low     any    `json:"least"`
	High    any    `json:"greatest"`

	text []string // the three as people read them
}

func (c *checkCommand) Run(s streams, status *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	h := circuit.Harness
	report := checkReport{
		Harness: h.Name, Note: h.Note, Cautions: cautions,
		Counts: map[string]int{
			"networks": len(h.Networks), "connectors": len(h.Connectors), "splices": len(h.Splices), "modules": len(h.Modules),
			"terminators": len(h.Terminators), "pairs": len(h.Pairs), "wires": len(h.Wires), "strays": len(h.Strays),
		},
		Assumptions: netlist.Assumptions(h),
	}
	if report.Remarks, err = faults.Remarks(circuit); err != nil {
		return err
	}
	var probes []faults.Probe
	all := faults.Probes(circuit, faults.Selection{Quantity: solve.Ohms})
	usual := usualBetween(circuit, all, solve.Ohms)
	for _, p := range all {
		if contains(usual, p.Between) {
			probes = append(probes, p)
		}
	}
	t, err := faults.MakeTable(circuit, nil, probes, faults.DefaultInstrument(), nil)
	if err != nil {
		return err
	}
	for i, p := range probes {
		b := t.Bands[i]
		report.Healthy = append(report.Healthy, healthyReading{
			p.Place(), p.Between, jsonValue(t.Healthy[i]), jsonValue(b.WorstLow), jsonValue(b.WorstHigh),
			[]string{bare(p.Quantity, t.Healthy[i]), bare(p.Quantity, b.WorstLow), bare(p.Quantity, b.WorstHigh)},
		})
	}
	if len(report.Remarks) > 0 {
		*status = exitFindings
	}
	if c.Format == "json" {
		return writeJSON(s, report)
	}
	w := newDocument(c.Format, s)
	w.title(h.Name)
	w.cautions()
	if h.Note != "" {
		w.paragraph(h.Note)
	}
	var counts []string
	for _, k := range []string{"networks", "connectors", "splices", "modules", "terminators", "pairs", "wires", "strays"} {
		if n := report.Counts[k]; n > 0 {
			if n == 1 {
				k = strings.TrimSuffix(k, "s")
			}
			counts = append(counts, fmt.Sprintf("%d %s", n, k))
		}
	}
	w.paragraph("No mistakes found. " + strings.Join(counts, ", ") + ".")

	var rows [][]string
	for _, r := range report.Healthy {
		cells := r.text
		if c.Format == "csv" {
			cells = []string{fmt.Sprint(r.Ohms), fmt.Sprint(r.Low), fmt.Sprint(r.High)}
		}
		rows = append(rows, append([]string{r.Place, r.Between}, cells...))
	}
	w.table("Healthy, supply off, Ω", []string{"place", "between", "reads", "least", "greatest"}, rows)
	w.paragraph("Least and greatest: every tolerance at its limit, and the meter's own error.")

	if len(report.Remarks) == 0 {
		w.paragraph("Nothing to remark: termination and load are what the physical layer asks for.")
	} else {
		w.heading("Remarks")
		for _, r := range report.Remarks {
			w.item(r.About + ": " + r.What + ". " + r.Source + ".")
		}
		w.endList()
	}
	w.heading("Assumed, since the file does not say")
	for _, a := range report.Assumptions {
		text := a.About + ": " + a.Taken + " (" + a.Source + ")."
		if a.Write != "" {
			text += " To say otherwise: " + a.Write + "."
		}
		w.item(text)
	}
	return w.flush()
}
