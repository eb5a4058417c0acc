package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

type tableCommand struct {
	Harness   string   `arg:"" help:"Harness file (YAML or JSON)."`
	Reading   string   `enum:"ohms,volts,levels,traffic,answers" default:"ohms" help:"What is read: ohms (supply off), volts (modules awake, none sending), levels (dominant, while --sender sends), traffic (what a multimeter shows while modules send in turn), answers (which modules answer a scan tool at the connector --at)."`
	Dominant  *float64 `placeholder:"PERCENT" help:"Share of time in which the bus is dominant, in percent, for --reading traffic; left out: not known, 0 to 50."`
	Sender    string   `help:"Module (or module/network) that sends, for --reading levels."`
	Fault     []string `sep:"none" help:"Only the fault of this name, or faults of this part (P9) or kind (open, short-to-ground), or whose names hold these words; * stands for any text, ? for any character, capitals do not matter. May be repeated."`
	At        []string `help:"Only readings at these connectors, halves (X5/a) or splices."`
	Between   []string `help:"Only these readings: H-L, H-ground, L-supply and so on, of every network, or drive.H-drive.L of one. Left out: H-L for ohms, H-ground and L-ground for volts; csv and json have all."`
	Doubles   bool     `help:"The double faults around splices in place of the single ones: one conductor open in each of two wires that meet there."`
	Pairs     bool     `help:"Every two faults at once, streamed line by line, with --format csv or json; --fault then picks the pairs of which one is such a fault."`
	Unplugged bool     `help:"Each connector unplugged in turn, read at its two halves."`
	All       bool     `help:"Also the rows in which no reading leaves the healthy band."`
	Format    string   `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *tableCommand) Help() string {
	return cautionText + "\n\nExamples:\n  whatif table examples/orchard/harness.yaml\n  whatif table examples/orchard/harness.yaml --fault 'open*P9' --at X1,X2 --between drive.H-ground\n  whatif table examples/orchard/harness.yaml --reading volts --format csv > table.csv\n  whatif table examples/orchard/harness.yaml --pairs --between H-L --fault P9 --format csv > pairs.csv\n\nMarks: * no healthy harness reads so, ~ fewer than one healthy harness in twenty does."
}

func (c *tableCommand) Run(s streams, _ *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	all := faults.Catalogue(circuit)
	if c.Pairs {
		return c.pairs(s, circuit, all)
	}
	if c.Doubles {
		if all = faults.BothSides(circuit); len(all) == 0 {
			return fmt.Errorf("whatif: --doubles: no splice joins two wires; leave it out")
		}
	}
	list, err := chooseFaults(all, c.Fault)
	if err != nil {
		return err
	}
	if c.Reading == "answers" {
		return c.answers(s, circuit, list)
	}
	probes, err := c.probes(circuit)
	if err != nil {
		return err
	}
	step, end := progress(s, "faults")
	t, err := faults.MakeTable(circuit, list, probes, faults.DefaultInstrument(), step)
	end()
	if err != nil {
		return err
	}
	switch c.Format {
	case "json":
		return writeTableJSON(s, t)
	case "csv":
		return writeTableCSV(s, t)
	}
	return c.render(s, t)
}

// chooseFaults keeps the faults that --fault picks.
func chooseFaults(all []*faults.Fault, filters []string) ([]*faults.Fault, error) {
	list, err := faults.Select(all, filters...)
	if err != nil {
		return nil, fmt.Errorf("whatif: --fault: %w", err)
	}
	return list, nil
}

// probes lists the readings that the filters leave.
func (c *tableCommand) probes(circuit *netlist.Circuit) ([]faults.Probe, error) {
	sel := faults.Selection{Unplugged: c.Unplugged}
	if c.Reading != "ohms" {
		sel.Quantity = solve.Volts
	}
	sel.Traffic = c.Reading == "traffic"
	if c.Dominant != nil {
		sel.DominantShare = *c.Dominant / 100
	}
	switch {
	case c.Dominant != nil && (c.Reading != "traffic" || !(*c.Dominant >= 1 && *c.Dominant <= 100)):
		return nil, fmt.Errorf("whatif: --dominant is percent of the time, 1 to 100, and goes with --reading traffic; write for example --dominant 20")
	case c.Reading == "levels" && c.Sender == "":
		return nil, fmt.Errorf("whatif: --reading levels needs --sender; write the module that sends, for example --sender %s", circuit.Harness.Modules[0].Name)
	case c.Reading != "levels" && c.Sender != "":
		return nil, fmt.Errorf("whatif: --sender goes with --reading levels")
	case c.Reading == "levels":
		if err := faults.CheckSender(circuit, c.Sender); err != nil {
			return nil, fmt.Errorf("whatif: --sender %s: %w", c.Sender, err)
		}
		sel.Sender = c.Sender
	}
	for _, name := range c.At {
		site, err := circuit.FindSite(siteOf(name))
		if err != nil {
			return nil, fmt.Errorf("whatif: --at %s: %w", name, err)
		}
		if !site.Reachable {
			sel.Unreachable = true // asked for by name
		}
	}
	all := faults.Probes(circuit, sel)
	between := c.Between
	if len(between) == 0 && (c.Format == "text" || c.Format == "markdown") {
		between = usualBetween(circuit, all, sel.Quantity)
	}
	var here, out []faults.Probe
	for _, p := range all {
		if len(c.At) == 0 || contains(c.At, p.Site) || contains(c.At, p.Place()) {
			here = append(here, p)
		}
	}
	for _, name := range c.At {
		if !slices.ContainsFunc(here, func(p faults.Probe) bool { return p.Site == siteOf(name) }) {
			why := "there is nothing to read there"
			if c.Sender != "" {
				why = "the network of " + c.Sender + " is not there"
			}
			if c.Unplugged {
				why = "nothing is plugged in there; leave out --unplugged, or name another connector"
			}
			return nil, fmt.Errorf("whatif: --at %s: %s", name, why)
		}
	}
	var have []string
	for _, p := range here {
		if !contains(have, p.Between) {
			have = append(have, p.Between)
		}
		if len(between) == 0 || contains(between, p.Between) || contains(between, withoutNetworks(circuit, p.Between)) {
			out = append(out, p)
		}
	}
	for _, b := range c.Between {
		if !slices.ContainsFunc(out, func(p faults.Probe) bool { return p.Between == b || withoutNetworks(circuit, p.Between) == b }) {
			return nil, fmt.Errorf("whatif: --between %s: no such reading; there are %s", b, strings.Join(have, ", "))
		}
	}
	return out, nil
}

func siteOf(place string) string {
	site, _, _ := strings.Cut(place, "/")
	return site
}

// withoutNetworks turns drive.H-ground into H-ground.
func withoutNetworks(c *netlist.Circuit, between string) string {
	for _, n := range c.Harness.Networks {
		between = strings.TrimPrefix(between, n.Name+".")
		between = strings.ReplaceAll(between, "-"+n.Name+".", "-")
	}
	return between
}

// usualBetween lists what people measure first: ohms between the conductors,
// volts from each to ground.
func usualBetween(c *netlist.Circuit, probes []faults.Probe, q solve.Quantity) []string {
	var out []string
	for _, p := range probes {
		toGround := strings.HasSuffix(p.Between, "-"+netlist.GroundRail)
		toSupply := strings.HasSuffix(p.Between, "-"+netlist.SupplyRail)
		usual := !toGround && !toSupply || oneConductor(c, p) && toGround
		if q == solve.Volts {
			usual = toGround || usual && probes[0].Sender != ""
		}
		if usual && !contains(out, p.Between) {
			out = append(out, p.Between)
		}
	}
	return out
}

// oneConductor tells whether a reading is of a network of one conductor.
func oneConductor(c *netlist.Circuit, p faults.Probe) bool {
	layer, ok := c.Harness.Layer(c.Nodes[p.From].Conductor.Network)
	return ok && len(layer.Conductors) == 1
}

func contains(list []string, s string) bool { return slices.Contains(list, s) }

var marks = map[faults.Mark]string{faults.Within: "", faults.Unlikely: "~", faults.Outside: "*"}

// cell writes a reading in few characters: 59.9, 14.2k, OL, with its mark.
func cell(q solve.Quantity, v solve.Value, m faults.Mark) string {
	return bare(q, v) + marks[m]
}

func bare(q solve.Quantity, v solve.Value) string {
	switch n := v.Number; {
	case v.OL:
		return "OL"
	case q == solve.Volts:
		return strings.TrimPrefix(strconv.FormatFloat(n, 'f', 2, 64), map[bool]string{true: "-"}[math.Abs(n) < 0.005])
	case n >= 1e6:
		return fmt.Sprintf("%.3gM", n/1e6)
	case n >= 999.5:
		return fmt.Sprintf("%.3gk", n/1e3)
	case n >= 99.95:
		return fmt.Sprintf("%.0f", n)
	default:
		return fmt.Sprintf("%.1f", n)
	}
}

// render writes a table for people: a block for each kind of reading, with the
// places as columns.
func (c *tableCommand) render(s streams, t *faults.Table) error {
	w := newDocument(c.Format, s)
	w.title(t.Circuit.Harness.Name + ": what if")
	w.cautions()
	if t.Circuit.Harness.Note != "" {
		w.paragraph(t.Circuit.Harness.Note)
	}
	w.paragraph(c.explanation(t))
	var order []string
	blocks := map[string][]int{}
	for i, p := range t.Probes {
		if blocks[p.Between] == nil {
			order = append(order, p.Between)
		}
		blocks[p.Between] = append(blocks[p.Between], i)
	}
	for _, between := range order {
		c.block(w, t, between, blocks[between])
	}
	writeTestability(w, t)
	return w.flush()
}

func (c *tableCommand) explanation(t *faults.Table) string {
	state := "Supply off, ohms"
	switch c.Reading {
	case "volts":
		state = "Modules awake, none sending, volts"
	case "levels":
		state = "Modules awake, " + c.Sender + " sending dominant, volts"
	case "traffic":
		share := "a quarter of the time (the band allows 0 to 50 %)"
		if c.Dominant != nil {
			share = fmt.Sprintf("%g %% of the time (the band allows none up to twice as much)", *c.Dominant)
		}
		state = "Modules awake and sending in turn, the bus dominant " + share + ", volts as a multimeter shows them"
	}
	if c.Unplugged {
		state += "; the connector at the head of each column is unplugged, the others are not"
	}
	return state + ". Bad joints are shown with 100 Ω, leaks and terminators of wrong value with 1 kΩ, shorts with 0 Ω half-way along the wire; the meter's leads are zeroed. " +
		"A mark * says that no healthy harness reads so, every tolerance and the meter's error at their limits; ~ that fewer than one in twenty does."
}

func (c *tableCommand) block(w *document, t *faults.Table, between string, probes []int) {
	header := []string{"fault"}
	healthy, least, greatest := []string{"healthy"}, []string{"  least"}, []string{"  greatest"}
	for _, i := range probes {
		p := t.Probes[i]
		header = append(header, p.Place())
		healthy = append(healthy, bare(p.Quantity, t.Healthy[i]))
		least = append(least, bare(p.Quantity, t.Bands[i].WorstLow))
		greatest = append(greatest, bare(p.Quantity, t.Bands[i].WorstHigh))
	}
	rows := [][]string{healthy, least, greatest}
	hidden := 0
	for k := range t.Rows {
		row := []string{t.Rows[k].Fault.Name}
		differs := false
		for _, i := range probes {
			q := t.Probes[i].Quantity
			row = append(row, cell(q, t.Rows[k].Values[i], t.Rows[k].Marks[i]))
			differs = differs || t.Rows[k].Marks[i] != faults.Within
		}
		if !differs && !c.All {
			hidden++
			continue
		}
		rows = append(rows, row)
	}
	w.table(between+", "+t.Probes[probes[0]].Quantity.Unit(), header, rows)
	if hidden > 0 {
		w.paragraph(fmt.Sprintf("%s no reading of this block out of the healthy band; --all prints them too.", count(hidden, "more fault drives", "more faults drive")))
	}
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func writeTestability(w *document, t *faults.Table) {
	if len(t.Rows) < 2 {
		return
	}
	a := t.Testability()
	percent := func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
	w.heading("What these readings can tell")
	w.lines(
		fmt.Sprintf("  faults detected (FFD)             %s of %d faults, common ones counting for more", percent(a.Detected), len(t.Rows)),
		fmt.Sprintf("  isolated to one fault (FFI 1)     %s of those detected", percent(a.IsolatedTo1)),
		fmt.Sprintf("  isolated to three or fewer        %s", percent(a.IsolatedTo3)),
		fmt.Sprintf("  isolated to one part to repair    %s", percent(a.IsolatedToPart)),
		fmt.Sprintf("  ambiguity groups                  %d among the detected faults; %s not detected", len(a.Groups), count(len(a.Undetected), "fault is", "faults are")),
	)
	w.paragraph("Detected: some reading above has a mark *. An ambiguity group is faults that no reading above tells apart with 95 % certainty, directly or through others of the group. How common a fault is counted is from memory, or as the harness file has it.")
}

func writeTableCSV(s streams, t *faults.Table) error {
	d := newDocument("csv", s)
	d.title(t.Circuit.Harness.Name)
	d.cautions()
	if t.Circuit.Harness.Note != "" {
		d.paragraph(t.Circuit.Harness.Note)
	}
	header := []string{"fault", "kind", "part", "place", "between", "unplugged", "supply", "unit", "reading", "mark", "healthy", "healthy_least", "healthy_greatest", "healthy_least_95", "healthy_greatest_95"}
	var rows [][]string
	for i, p := range t.Probes {
		rows = append(rows, csvRow(t, "healthy", "", "", i, p, t.Healthy[i], faults.Within))
	}
	for k := range t.Rows {
		f := t.Rows[k].Fault
		for i, p := range t.Probes {
			rows = append(rows, csvRow(t, f.Name, string(f.Kind), f.Part, i, p, t.Rows[k].Values[i], t.Rows[k].Marks[i]))
		}
	}
	d.table("", header, rows)
	return d.flush()
}

var unitNames = map[solve.Quantity]string{solve.Ohms: "ohm", solve.Volts: "V"}

func csvRow(t *faults.Table, name, kind, part string, i int, p faults.Probe, v solve.Value, m faults.Mark) []string {
	return []string{
		name, kind, part, p.Place(), p.Between, strings.Join(p.Condition.Unplugged, " "), p.Condition.Supply.String(), unitNames[p.Quantity],
		plain(v), marks[m], plain(t.Healthy[i]), plain(t.Bands[i].WorstLow), plain(t.Bands[i].WorstHigh), plain(t.Bands[i].Low), plain(t.Bands[i].High),
	}
}

func plain(v solve.Value) string {
	if v.OL {
		return "OL"
	}
	return strconv.FormatFloat(v.Number, 'g', 6, 64)
}

// jsonValue is a number, or the text OL.
func jsonValue(v solve.Value) any {
	if v.OL {
		return "OL"
	}
	// Six figures are more than any meter shows, and they are the same on every
	// machine.
	n, _ := strconv.ParseFloat(strconv.FormatFloat(v.Number, 'g', 6, 64), 64)
	return n
}

type jsonProbe struct {
	Place     string   `json:"place,omitempty"`
	Between   string   `json:"between"`
	Unplugged []string `json:"unplugged,omitempty"`
	Supply    string   `json:"supply"`
	Traffic   bool     `json:"traffic,omitempty"`
	Sender    string   `json:"sender,omitempty"`
	Unit      string   `json:"unit"`
}

func probeJSON(p faults.Probe) jsonProbe {
	return jsonProbe{p.Place(), p.Between, p.Condition.Unplugged, p.Condition.Supply.String(), p.Traffic, p.Sender, unitNames[p.Quantity]}
}

type jsonBand struct {
	Least      any `json:"least"`
	Greatest   any `json:"greatest"`
	Least95    any `json:"least_95"`
	Greatest95 any `json:"greatest_95"`
}

type jsonRow struct {
	Fault  string   `json:"fault"`
	Kind   string   `json:"kind"`
	Part   string   `json:"part"`
	Values []any    `json:"values"`
	Marks  []string `json:"marks"`
}

type jsonTestability struct {
	Detected       float64    `json:"faults_detected"`
	IsolatedTo1    float64    `json:"isolated_to_1"`
	IsolatedTo3    float64    `json:"isolated_to_3"`
	IsolatedToPart float64    `json:"isolated_to_part"`
	Undetected     []string   `json:"undetected"`
	Groups         [][]string `json:"ambiguity_groups"`
}

func writeTableJSON(s streams, t *faults.Table) error {
	out := struct {
		Harness     string          `json:"harness"`
		Note        string          `json:"note,omitempty"`
		Cautions    []string        `json:"cautions"`
		Probes      []jsonProbe     `json:"readings"`
		Healthy     []any           `json:"healthy"`
		Bands       []jsonBand      `json:"healthy_bands"`
		Rows        []jsonRow       `json:"faults"`
		Testability jsonTestability `json:"testability"`
	}{Harness: t.Circuit.Harness.Name, Note: t.Circuit.Harness.Note, Cautions: cautions, Rows: []jsonRow{}}
	for i, p := range t.Probes {
		out.Probes = append(out.Probes, probeJSON(p))
		out.Healthy = append(out.Healthy, jsonValue(t.Healthy[i]))
		b := t.Bands[i]
		out.Bands = append(out.Bands, jsonBand{jsonValue(b.WorstLow), jsonValue(b.WorstHigh), jsonValue(b.Low), jsonValue(b.High)})
	}
	for _, r := range t.Rows {
		j := jsonRow{Fault: r.Fault.Name, Kind: string(r.Fault.Kind), Part: r.Fault.Part}
		for i, v := range r.Values {
			j.Values = append(j.Values, jsonValue(v))
			j.Marks = append(j.Marks, marks[r.Marks[i]])
		}
		out.Rows = append(out.Rows, j)
	}
	a := t.Testability()
	round := func(x float64) float64 { y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64); return y }
	out.Testability = jsonTestability{
		Detected: round(a.Detected), IsolatedTo1: round(a.IsolatedTo1), IsolatedTo3: round(a.IsolatedTo3), IsolatedToPart: round(a.IsolatedToPart),
		Undetected: []string{}, Groups: [][]string{},
	}
	for _, i := range a.Undetected {
		out.Testability.Undetected = append(out.Testability.Undetected, t.Rows[i].Fault.Name)
	}
	for _, g := range a.Groups {
		var names []string
		for _, i := range g {
			names = append(names, t.Rows[i].Fault.Name)
		}
		out.Testability.Groups = append(out.Testability.Groups, names)
	}
	return writeJSON(s, out)
}
