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
	Rates       []rateChange         `json:"rates,omitempty"`
	Assumptions []netlist.Assumption `json:"assumptions"`
}

// rateChange is one entry of the file's rates.
type rateChange struct {
	About    string  `json:"about"`
	Change   string  `json:"change"`
	Faults   int     `json:"faults"`
	Least    float64 `json:"least"`
	Greatest float64 `json:"greatest"`
	Note     string  `json:"note,omitempty"`
	Source   string  `json:"source,omitempty"`
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
		Assumptions: append(netlist.Assumptions(h), faults.RateAssumptions(circuit)...),
	}
	if report.Remarks, err = faults.Remarks(circuit); err != nil {
		return err
	}
	report.Remarks = append(report.Remarks, faults.RateRemarks(circuit)...)
	for _, x := range faults.RateChanges(circuit) {
		report.Rates = append(report.Rates, rateChange{x.About(), x.Change(), x.Faults, x.Least, x.Greatest, x.Entry.Note, x.Entry.Source})
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
	if len(report.Rates) > 0 {
		w.heading("Rates of faults that the file sets")
		for i, r := range report.Rates {
			w.item(fmt.Sprintf("entry %d, %s", i+1, r.text()))
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

// text is the entry, and what its faults come to when all entries have acted.
func (r *rateChange) text() string {
	text := fmt.Sprintf("%s: %s; %d fault", r.About, r.Change, r.Faults)
	if r.Faults != 1 {
		text += "s"
	}
	switch {
	case r.Faults == 0:
	case r.Greatest == 0:
		text += ", left out in the end"
	case r.Least == r.Greatest:
		text += fmt.Sprintf(", %g in the end", r.Least)
	default:
		text += fmt.Sprintf(", %g to %g in the end", r.Least, r.Greatest)
	}
	for _, more := range []string{r.Note, r.Source} {
		if more != "" {
			text += "; " + strings.Join(strings.Fields(more), " ")
		}
	}
	return text + "."
}
