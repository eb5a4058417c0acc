package main

import (
	"fmt"
	"math"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// hearingMarks mark what is not as the standard has it.
var hearingMarks = map[solve.Hearing]string{solve.Yes: "", solve.Marginal: "~", solve.No: "*"}

// toolSite is the connector where a scan tool sits: the one asked for, or the
// first that nothing plugs into and that carries a network whole.
func toolSite(c *netlist.Circuit, at []string) (string, error) {
	if len(at) > 1 {
		return "", fmt.Errorf("whatif: a scan tool sits at one connector; write one --at")
	}
	if len(at) == 1 {
		s, err := c.FindSite(siteOf(at[0]))
		if err != nil {
			return "", fmt.Errorf("whatif: --at %s: %w", at[0], err)
		}
		if s.Kind != netlist.ConnectorSite {
			return "", fmt.Errorf("whatif: --at %s: a scan tool plugs into a connector that is not inline; write one of those", at[0])
		}
		return s.Name, nil
	}
	for _, s := range c.Sites {
		if s.Kind != netlist.ConnectorSite || s.Device != "" {
			continue
		}
		carried := map[netlist.Conductor]bool{}
		for _, k := range s.Contacts {
			carried[k.Conductor] = true
		}
		for _, n := range c.Harness.Networks {
			layer, ok := c.Harness.Layer(n.Name)
			whole := ok
			for _, k := range layer.Conductors {
				whole = whole && carried[netlist.Conductor{Network: n.Name, Name: k}]
			}
			if whole {
				return s.Name, nil
			}
		}
	}
	return "", fmt.Errorf("whatif: no connector is free for a scan tool; write where it sits, for example --at %s", c.Sites[0].Name)
}

// answers prints which modules answer a scan tool, for every fault.
func (c *tableCommand) answers(s streams, circuit *netlist.Circuit, list []*faults.Fault) error {
	if len(c.Between) > 0 || c.Unplugged || c.Sender != "" {
		return fmt.Errorf("whatif: --between, --unplugged and --sender are for readings; a scan tool only has --at")
	}
	tool, err := toolSite(circuit, c.At)
	if err != nil {
		return err
	}
	step, end := progress(s, "faults")
	t, err := faults.MakeAnswerTable(circuit, list, tool, step)
	end()
	if err != nil {
		return err
	}
	header := []string{"fault"}
	healthy := []string{"healthy"}
	for k, u := range t.Units {
		header = append(header, circuit.Units[u].Name)
		healthy = append(healthy, t.Healthy[k].String())
	}
	rows := [][]string{healthy}
	hidden := 0
	for _, r := range t.Rows {
		row := []string{r.Fault.Name}
		differs := false
		for k, h := range r.Answers {
			row = append(row, h.String())
			differs = differs || h != t.Healthy[k]
		}
		if !differs && !c.All && c.Format != "csv" && c.Format != "json" {
			hidden++
			continue
		}
		rows = append(rows, row)
	}
	if c.Format == "json" {
		type jsonAnswers struct {
			Fault   string            `json:"fault"`
			Kind    string            `json:"kind"`
			Part    string            `json:"part"`
			Answers map[string]string `json:"answers"`
		}
		out := struct {
			Harness  string            `json:"harness"`
			Cautions []string          `json:"cautions"`
			Tool     string            `json:"scan_tool_at"`
			Healthy  map[string]string `json:"healthy"`
			Rows     []jsonAnswers     `json:"faults"`
		}{circuit.Harness.Name, cautions, tool, map[string]string{}, []jsonAnswers{}}
		for k, u := range t.Units {
			out.Healthy[circuit.Units[u].Name] = t.Healthy[k].String()
		}
		for _, r := range t.Rows {
			j := jsonAnswers{r.Fault.Name, string(r.Fault.Kind), r.Fault.Part, map[string]string{}}
			for k, u := range t.Units {
				j.Answers[circuit.Units[u].Name] = r.Answers[k].String()
			}
			out.Rows = append(out.Rows, j)
		}
		return writeJSON(s, out)
	}
	w := newDocument(c.Format, s)
	w.title(circuit.Harness.Name + ": who answers")
	w.cautions()
	w.paragraph(fmt.Sprintf("A scan tool at %s. yes: a request and its answer get through, by the standard's thresholds; marginal: only if the parts at hand are better than the standard asks; no: they do not.", tool))
	w.table("Answers at "+tool, header, rows)
	if hidden > 0 {
		w.paragraph(fmt.Sprintf("%s no module; --all prints them too.", count(hidden, "more fault silences", "more faults silence")))
	}
	return w.flush()
}

type talkCommand struct {
	Harness string   `arg:"" help:"Harness file (YAML or JSON)."`
	Fault   []string `sep:"none" help:"Name of a fault, whole or a part that fits just one; repeat it for several at once."`
	At      []string `help:"Connector where a scan tool sits."`
	Format  string   `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *talkCommand) Help() string {
	return cautionText + "\n\nExamples:\n  whatif talk examples/orchard/harness.yaml\n  whatif talk examples/orchard/harness.yaml --fault 'open drive.H in pair P9'\n\nEach number is the difference between the conductors, in volts, that the module of the column sees while that of the row sends. Marks: * not understood, ~ between the thresholds.\n\nExit status: 0 everybody hears everybody, 1 somebody does not, 2 bad input."
}

// theseFaults finds the faults that are there at once, each meant by one text, with their
// names and what they change.
func theseFaults(circuit *netlist.Circuit, texts []string) (names []string, changes []solve.Change, err error) {
	list, err := faults.Named(faults.Catalogue(circuit), texts...)
	if err != nil {
		return nil, nil, fmt.Errorf("whatif: --fault: %w", err)
	}
	for _, f := range list {
		if contains(names, f.Name) {
			return nil, nil, fmt.Errorf("whatif: --fault %q is given twice; write each once", f.Name)
		}
		names = append(names, f.Name)
		changes = append(changes, f.Typical()...)
	}
	return names, changes, nil
}

func (c *talkCommand) Run(s streams, status *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	names, changes, err := theseFaults(circuit, c.Fault)
	if err != nil {
		return err
	}
	net, err := solve.Assemble(circuit, solve.Condition{Supply: solve.Idle}, nil, changes...)
	if err != nil {
		return fmt.Errorf("whatif: with %s: %w", orHealthy(names), err)
	}
	var tools []solve.Tool
	if len(c.At) > 0 {
		site, err := toolSite(circuit, c.At)
		if err != nil {
			return err
		}
		tools = append(tools, solve.Tool{Site: site})
	}
	bus, err := net.Bus(nil, tools...)
	if err != nil {
		return err
	}
	t, err := bus.Talk()
	if err != nil {
		return err
	}
	for a := range t.Stations {
		for b := range t.Stations {
			if a != b && t.Stations[a].Network == t.Stations[b].Network && t.Hears(a, b) != solve.Yes {
				*status = exitFindings
			}
		}
	}
	if c.Format == "json" {
		return c.json(s, circuit, t, names)
	}
	w := newDocument(c.Format, s)
	w.title(circuit.Harness.Name + ": who hears whom")
	w.cautions()
	w.paragraph("With: " + orHealthy(names) + ".")
	w.paragraph("Volts between the conductors as the module of the column sees them while that of the row sends. * it does not understand, ~ only if its part is better than the standard asks. The row \"nobody\" is the recessive bus. These are levels of direct current: what a missing or misplaced terminator does by reflections is not in them.")
	for _, n := range circuit.Harness.Networks {
		c.network(w, circuit, t, n.Name)
	}
	return w.flush()
}

func orHealthy(names []string) string {
	if len(names) == 0 {
		return "healthy wiring"
	}
	return strings.Join(names, "; ")
}

func (c *talkCommand) network(w *document, circuit *netlist.Circuit, t *solve.Talk, network string) {
	var on []int
	header := []string{"sends"}
	for i, s := range t.Stations {
		if s.Network == network {
			on = append(on, i)
			header = append(header, s.Name)
		}
	}
	// On a network of one conductor people measure it to ground; the difference
	// that is judged is from the supply down to it.
	shown := func(difference float64) string { return volts(difference) }
	unit := ", V"
	if layer, ok := circuit.Harness.Layer(network); ok && len(layer.Conductors) == 1 {
		shown = func(difference float64) string { return volts(circuit.Harness.SupplyVolts() - difference) }
		unit = ", V of " + layer.Conductors[0] + " to ground"
	}
	nobody := []string{"nobody"}
	for _, r := range on {
		nobody = append(nobody, shown(t.Stations[r].Layer.RecessiveVolts-t.RecessiveMarginVolts[r])+hearingMarks[t.Recessive[r]])
	}
	rows := [][]string{nobody}
	for _, s := range on {
		row := []string{t.Stations[s].Name}
		for _, r := range on {
			switch {
			case !t.Stations[s].Powered:
				row = append(row, "off*")
			case t.Stations[s].Stuck:
				row = append(row, "stuck*")
			case r == s:
				row = append(row, shown(t.MarginVolts[s][r]+t.Stations[r].Layer.DominantVolts)+hearingMarks[t.Dominant[s][s]])
			default:
				row = append(row, shown(t.MarginVolts[s][r]+t.Stations[r].Layer.DominantVolts)+hearingMarks[t.Hears(s, r)])
			}
		}
		rows = append(rows, row)
	}
	w.table("Network "+network+unit, header, rows)
	var groups []string
	for _, g := range t.Groups(network) {
		var names []string
		for _, i := range g {
			names = append(names, t.Stations[i].Name)
		}
		groups = append(groups, strings.Join(names, ", "))
	}
	switch {
	case len(groups) == 0:
		w.paragraph("Nobody talks to anybody on this network" + whySilent(t, on) + ".")
	case len(groups) == 1 && strings.Count(groups[0], ", ") == len(on)-1:
		w.paragraph("All of them talk to each other.")
	default:
		w.paragraph("Still talking to each other: " + strings.Join(groups, "; and apart from them: ") + ".")
	}
}

// whySilent names what keeps all of a network from talking.
func whySilent(t *solve.Talk, on []int) string {
	powered, stuck, recessive, dominant := 0, false, solve.No, solve.No
	for _, s := range on {
		stuck = stuck || t.Stations[s].Stuck
		if t.Stations[s].Powered {
			powered++
		}
		recessive = max(recessive, t.Recessive[s])
		for _, r := range on {
			if r != s {
				dominant = max(dominant, t.Dominant[s][r])
			}
		}
	}
	switch {
	case powered < 2:
		return ": fewer than two modules have supply and ground"
	case stuck:
		return ": one module sends dominant all the time"
	case recessive == solve.No:
		return ": nobody sees it recessive, something holds the conductors apart"
	case dominant == solve.No:
		return ": nobody sees it dominant, something holds the conductors together or where they are"
	}
	return ": whoever is heard does not hear the one that should acknowledge"
}

func volts(v float64) string {
	if math.Abs(v) < 0.005 {
		v = 0
	}
	return fmt.Sprintf("%.2f", v)
}

func (c *talkCommand) json(s streams, circuit *netlist.Circuit, t *solve.Talk, names []string) error {
	type pair struct {
		From  string  `json:"from"`
		To    string  `json:"to"`
		Hears string  `json:"hears"`
		Volts float64 `json:"volts"`
	}
	type group struct {
		Network string     `json:"network"`
		Pairs   []pair     `json:"pairs"`
		Groups  [][]string `json:"groups"`
	}
	out := struct {
		Harness  string   `json:"harness"`
		Cautions []string `json:"cautions"`
		Faults   []string `json:"faults"`
		Networks []group  `json:"networks"`
	}{circuit.Harness.Name, cautions, append([]string{}, names...), nil}
	for _, n := range circuit.Harness.Networks {
		g := group{Network: n.Name, Pairs: []pair{}, Groups: [][]string{}}
		for a := range t.Stations {
			for b := range t.Stations {
				if a == b || t.Stations[a].Network != n.Name || t.Stations[b].Network != n.Name {
					continue
				}
				v := 0.0
				if t.Stations[a].Powered && !t.Stations[a].Stuck {
					v = t.MarginVolts[a][b] + t.Stations[b].Layer.DominantVolts
				}
				g.Pairs = append(g.Pairs, pair{t.Stations[a].Name, t.Stations[b].Name, t.Hears(a, b).String(), math.Round(v*1e4) / 1e4})
			}
		}
		for _, members := range t.Groups(n.Name) {
			var names []string
			for _, i := range members {
				names = append(names, t.Stations[i].Name)
			}
			g.Groups = append(g.Groups, names)
		}
		out.Networks = append(out.Networks, g)
	}
	return writeJSON(s, out)
}
