package main

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/faults"
)

type layoutCommand struct {
	Harness string  `arg:"" help:"Harness file (YAML or JSON)."`
	Within  float64 `help:"Count only places that are reached within so many minutes."`
	Pairs   bool    `help:"Also two faults at once: which pairs the places detect, and which look alike."`
	Top     int     `default:"8" help:"How many ambiguity groups and further test points to show."`
	Format  string  `enum:"text,markdown,csv,json" default:"text" help:"Output format: ${enum}."`
}

func (c *layoutCommand) Help() string {
	return cautionText + "\n\nExample:\n  whatif layout examples/orchard/harness.yaml --within 20\n\nFor the person who lays out a harness: which faults the reachable connectors detect and tell apart (FFD, FFI, ambiguity groups, the terms of IEEE 1522), and which one further test point would add the most. --pairs weighs every two faults at once as well.\n\nExit status: 0, or 2 for bad input."
}

func (c *layoutCommand) Run(s streams, _ *int) error {
	if c.Top < 1 {
		return fmt.Errorf("whatif: --top %d shows nothing; write 1 or more", c.Top)
	}
	if c.Within < 0 {
		return fmt.Errorf("whatif: --within %g is negative; write minutes", c.Within)
	}
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	x := faults.NewMatcher(circuit, faults.Catalogue(circuit), faults.DefaultInstrument())
	step, end := progress(s, "faults")
	l, err := x.AnalyseLayout(c.Within, step)
	end()
	if err != nil {
		return err
	}
	var pairs *faults.PairTestability
	if c.Pairs {
		step, end := progress(s, "pairs of faults")
		pairs, err = x.AnalysePairs(context.Background(), c.Within, c.Top, step)
		end()
		if err != nil {
			return err
		}
	}
	if c.Format == "json" {
		return c.json(s, circuit.Harness.Name, l, pairs)
	}
	w := newDocument(c.Format, s)
	w.title(circuit.Harness.Name + ": how testable the layout is")
	w.cautions()
	where := "Places: all that can be reached"
	if c.Within > 0 {
		where = fmt.Sprintf("Places that are reached within %g min", c.Within)
	}
	w.paragraph(fmt.Sprintf("%s (%s). Readings: ohms with the supply off, plugged and with each connector apart, and idle volts. Free resistances at their typical values.", where, strings.Join(l.Places, ", ")))
	if c.Format != "csv" {
		b := &l.Base
		w.lines(
			fmt.Sprintf("  faults detected (FFD)             %s of %d faults, common ones counting for more", wholePercent(b.Detected), len(l.Table.Rows)),
			fmt.Sprintf("  isolated to one fault (FFI 1)     %s of those detected", wholePercent(b.IsolatedTo1)),
			fmt.Sprintf("  isolated to three or fewer        %s", wholePercent(b.IsolatedTo3)),
			fmt.Sprintf("  isolated to one part to repair    %s", wholePercent(b.IsolatedToPart)),
			fmt.Sprintf("  ambiguity groups                  %d among the detected faults; %s not detected", len(b.Groups), count(len(b.Undetected), "fault is", "faults are")),
		)
		c.groups(w, l)
	}
	if pairs != nil {
		writePairs(w, c.Format, l, pairs)
	}
	if len(l.Further) == 0 {
		w.paragraph("There is no place that is not reached yet.")
		return w.flush()
	}
	var rows [][]string
	for i := range l.Further[:min(c.Top, len(l.Further))] {
		p := &l.Further[i]
		t := &p.Testability
		rows = append(rows, []string{p.Site, wholePercent(t.Detected), wholePercent(t.IsolatedTo1), wholePercent(t.IsolatedToPart), fmt.Sprintf("%+.1f %%", 100*p.Gain), strconv.Itoa(len(t.Groups))})
	}
	if l.Further[0].Gain < 0.0005 {
		w.paragraph("No one further test point isolates more faults to one part.")
	}
	w.table("One further test point, read with everything plugged in", []string{"at", "FFD", "FFI 1", "to one part", "of all faults", "groups"}, rows)
	w.paragraph("FFD: rates of the faults detected over the rates of all. FFI 1 and to one part: over the detected ones. Of all faults: how much more of all faults is both detected and isolated to one part. An ambiguity group is faults that no reading tells apart with 95 % certainty, directly or through others of the group.")
	return w.flush()
}

// groups lists the largest ambiguity groups of several parts.
func (c *layoutCommand) groups(w *document, l *faults.Layout) {
	var rows [][]string
	for _, g := range largestFirst(l) {
		parts := partsOf(l, g)
		if len(parts) < 2 || len(rows) == c.Top {
			continue
		}
		list := strings.Join(parts[:min(8, len(parts))], ", ")
		if len(parts) > 8 {
			list += fmt.Sprintf(" and %d more", len(parts)-8)
		}
		rows = append(rows, []string{strconv.Itoa(len(g)), l.Table.Rows[g[0]].Fault.Name, list})
	}
	if len(rows) > 0 {
		w.table("Ambiguity groups of several parts", []string{"faults", "one of them", "parts"}, rows)
	}
}

func (c *layoutCommand) json(s streams, name string, l *faults.Layout, pairs *faults.PairTestability) error {
	type figures struct {
		Detected       float64 `json:"ffd"`
		IsolatedTo1    float64 `json:"ffi_1"`
		IsolatedTo3    float64 `json:"ffi_3"`
		IsolatedToPart float64 `json:"isolated_to_part"`
		Groups         int     `json:"ambiguity_groups"`
		Undetected     int     `json:"undetected"`
	}
	of := func(t *faults.Testability) figures {
		return figures{rounded(t.Detected), rounded(t.IsolatedTo1), rounded(t.IsolatedTo3), rounded(t.IsolatedToPart), len(t.Groups), len(t.Undetected)}
	}
	type point struct {
		At string `json:"at"`
		figures
		Gain float64 `json:"gain_of_all_faults"`
	}
	out := struct {
		Harness  string     `json:"harness"`
		Cautions []string   `json:"cautions"`
		Places   []string   `json:"places"`
		Base     figures    `json:"as_it_is"`
		Groups   [][]string `json:"groups"`
		Pairs    *jsonPairs `json:"two_faults_at_once,omitempty"`
		Further  []point    `json:"further_test_points"`
	}{Harness: name, Cautions: cautions, Places: l.Places, Base: of(&l.Base), Pairs: pairsJSON(l, pairs), Further: []point{}}
	for _, g := range largestFirst(l) {
		var names []string
		for _, i := range g {
			names = append(names, l.Table.Rows[i].Fault.Name)
		}
		out.Groups = append(out.Groups, names)
	}
	for i := range l.Further {
		p := &l.Further[i]
		out.Further = append(out.Further, point{p.Site, of(&p.Testability), rounded(p.Gain)})
	}
	return writeJSON(s, out)
}

func largestFirst(l *faults.Layout) [][]int {
	groups := slices.Clone(l.Base.Groups)
	slices.SortStableFunc(groups, func(a, b []int) int { return len(b) - len(a) })
	return groups
}

func partsOf(l *faults.Layout, group []int) []string {
	var out []string
	for _, i := range group {
		if p := l.Table.Rows[i].Fault.Part; !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

func wholePercent(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
