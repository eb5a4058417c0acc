package browsertest

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// The reading that the page says to take next leaves faults at the fewest parts, by
// the library's own spans; there is none where no reading leaves fewer.
func TestFurtherReadingIsTheBest(t *testing.T) {
	c := circuitOf(t, bench)
	list := faults.Catalogue(c)
	var probes []faults.Probe
	var labels []string
	for _, q := range []solve.Quantity{solve.Ohms, solve.Volts} {
		for _, p := range faults.Probes(c, faults.Selection{Quantity: q}) {
			if p.From == netlist.SupplyNode || p.To == netlist.SupplyNode || q == solve.Volts && p.To != netlist.GroundNode {
				continue
			}
			label, state := "ohms, ", " (supply off)"
			if q == solve.Volts {
				label, state = "volts, ", " (modules awake, none sending)"
			}
			to := "ground"
			if p.To != netlist.GroundNode {
				to = c.Nodes[p.To].Conductor.Name
			}
			probes = append(probes, p)
			labels = append(labels, "Read next at "+p.Place()+": "+label+c.Nodes[p.From].Conductor.Name+" to "+to+state+".")
		}
	}
	table, err := faults.MakeSpannedTable(c, list, probes, faults.DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	b := open(t, bench, 1280, 900)
	suggested := map[string]bool{}
	for _, tt := range []struct{ place, kind, typed string }{
		{"X1", "ohms, H to L", "119.8"}, {"X1", "ohms, H to L", "60.4"}, {"X2", "ohms, H to L", "2.5"}, {"X2", "ohms, H to L", "9.2k"},
		{"X4", "ohms, L to ground", "1.5k"}, {"X1", "ohms, H to L", "68"}, {"X1", "ohms, H to L", "52"}, {"X3", "ohms, H to ground", "OL"},
	} {
		b.eval(`document.querySelectorAll("#entered-table tbody button").forEach(x => x.click())`, nil)
		b.typeReading(tt.place, tt.kind, tt.typed)
		// Which faults remain is held against the library elsewhere.
		var left []int
		taken := -1
		for i, l := range labels {
			if strings.HasPrefix(l, "Read next at "+tt.place+": "+tt.kind+" ") {
				taken = i
			}
		}
		q := solve.Ohms
		typed := map[string]solve.Value{"119.8": {Number: 119.8}, "60.4": {Number: 60.4}, "2.5": {Number: 2.5}, "9.2k": {Number: 9200}, "1.5k": {Number: 1500}, "68": {Number: 68}, "52": {Number: 52}, "OL": solve.Over()}[tt.typed]
		parts := map[string]bool{}
		for k, row := range table.Rows {
			if row.Spans[taken].Holds(q, typed) {
				left = append(left, k)
				parts[row.Fault.Part] = true
			}
		}
		said := b.text("#further")
		if len(parts) < 2 {
			want := ""
			for part := range parts {
				want = "Look at " + part + "."
			}
			if !strings.HasPrefix(said, want) || (want == "") != (said == "") {
				t.Errorf("%s at %s leaves %v, it says %q", tt.typed, tt.place, parts, said)
			}
			continue
		}
		// scores are the mean numbers of parts that each reading leaves.
		scores := make([]float64, len(probes))
		for i := range probes {
			for _, f := range left {
				stay := map[string]bool{}
				for _, g := range left {
					if g == f || table.Rows[g].Spans[i].Holds(probes[i].Quantity, table.Rows[f].Values[i]) {
						stay[table.Rows[g].Fault.Part] = true
					}
				}
				scores[i] += float64(len(stay)) / float64(len(left))
			}
		}
		scores[taken] = math.Inf(1)
		least := slices.Min(scores)
		at := slices.IndexFunc(labels, func(l string) bool { return strings.HasPrefix(said, l) })
		const slack = 0.15 // the page's limits are rounded outward
		switch {
		case at < 0 && !strings.HasPrefix(said, "No reading on this page tells these apart"):
			t.Errorf("%s at %s: it says %q", tt.typed, tt.place, said)
		case at < 0 && least < float64(len(parts))-slack:
			t.Errorf("%s at %s: it says %q, but %q leaves %.2f of %d parts", tt.typed, tt.place, said, labels[slices.Index(scores, least)], least, len(parts))
		case at >= 0 && scores[at] > least+slack:
			t.Errorf("%s at %s: it says %.60q, which leaves %.2f of %d parts; %q leaves %.2f", tt.typed, tt.place, said, scores[at], len(parts), labels[slices.Index(scores, least)], least)
		}
		if at >= 0 {
			suggested[labels[at]] = true
			if groups := groupsOf(table, left, at); groups > 1 != strings.Contains(said, "groups whose readings do not overlap") {
				t.Errorf("%s at %s: %d groups, it says %q", tt.typed, tt.place, groups, said)
			}
		}
	}
	if len(suggested) < 3 {
		t.Errorf("only these were suggested: %v", suggested)
	}
}

// groupsOf counts the groups of faults whose spans do not touch.
func groupsOf(table *faults.Table, left []int, probe int) int {
	y := func(v solve.Value) float64 {
		if v.OL {
			return math.Inf(1)
		}
		return v.Number
	}
	order := slices.Clone(left)
	slices.SortFunc(order, func(a, b int) int {
		x, z := y(table.Rows[a].Spans[probe].Low), y(table.Rows[b].Spans[probe].Low)
		switch {
		case x < z:
			return -1
		case x > z:
			return 1
		}
		return 0
	})
	n, end := 0, math.Inf(-1)
	for _, k := range order {
		s := table.Rows[k].Spans[probe]
		if n == 0 || y(s.Low) > end {
			n++
		}
		end = math.Max(end, y(s.High))
	}
	return n
}
