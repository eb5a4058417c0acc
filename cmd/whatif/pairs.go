package main

import (
	"fmt"
	"strconv"

	"example.com/ohmloom/faults"
)

// writePairs says how testable a layout is for two faults at once.
func writePairs(w *document, format string, l *faults.Layout, p *faults.PairTestability) {
	if format != "csv" {
		w.heading("Two faults at once")
		w.lines(
			fmt.Sprintf("  pairs of faults                   %d of %d faults", p.Pairs, p.Faults),
			fmt.Sprintf("  detected (FFD)                    %s, common ones counting for more; %s not detected", wholePercent(p.Detected), count(p.Undetected, "pair is", "pairs are")),
			fmt.Sprintf("  look like one fault alone         %s of those detected", wholePercent(p.LikeOne)),
			fmt.Sprintf("  look like one of the two alone    %s: the other shows when that is mended", wholePercent(p.Hidden)),
			fmt.Sprintf("  isolated to one pair (FFI 1)      %s", wholePercent(p.IsolatedTo1)),
			fmt.Sprintf("  isolated to three or fewer        %s", wholePercent(p.IsolatedTo3)),
			fmt.Sprintf("  isolated to the parts to repair   %s", wholePercent(p.IsolatedToParts)),
			fmt.Sprintf("  groups that look alike            %d, single faults among them", p.Groups),
		)
	}
	var rows [][]string
	for _, g := range p.Largest {
		one := func(i int) string { return l.Table.Rows[i].Fault.Name }
		single := "none"
		if g.Single >= 0 {
			single = one(g.Single)
		}
		rows = append(rows, []string{strconv.Itoa(g.Pairs), one(g.First[0]) + " and " + one(g.First[1]), single})
	}
	if len(rows) > 0 {
		w.table("Pairs that look alike, largest groups", []string{"pairs", "one of them", "looks like the single fault"}, rows)
	}
	w.paragraph("Two faults at once are counted by the product of how common they are. Alike: every reading within the width of the band that holds 95 % of healthy harnesses. Readings at typical free values, half-way along wires." + leftOut(p))
}

// leftOut says which pairs were not counted, and why.
func leftOut(p *faults.PairTestability) string {
	out := ""
	for _, r := range p.Worked.Reasons {
		switch r.Way {
		case faults.PairImpossible:
			out += fmt.Sprintf(" Not counted: %s that cannot be (%s).", count(r.Pairs, "pair", "pairs"), why(r.Why))
		case faults.PairLeft:
			out += fmt.Sprintf(" Not counted: %s that would take a net of their own each (%s).", count(r.Pairs, "pair", "pairs"), why(r.Why))
		}
	}
	return out
}

type jsonPairs struct {
	Pairs           int             `json:"pairs"`
	Left            int             `json:"left_out"`
	Impossible      int             `json:"impossible"`
	Detected        float64         `json:"ffd"`
	Undetected      int             `json:"undetected"`
	LikeOne         float64         `json:"look_like_one_fault"`
	Hidden          float64         `json:"look_like_one_of_the_two"`
	IsolatedTo1     float64         `json:"ffi_1"`
	IsolatedTo3     float64         `json:"ffi_3"`
	IsolatedToParts float64         `json:"isolated_to_parts"`
	Groups          int             `json:"groups"`
	Largest         []jsonPairGroup `json:"largest_groups"`
}

type jsonPairGroup struct {
	Pairs   int       `json:"pairs"`
	Singles int       `json:"single_faults"`
	One     [2]string `json:"one_pair"`
	Like    string    `json:"looks_like,omitempty"`
}

func pairsJSON(l *faults.Layout, p *faults.PairTestability) *jsonPairs {
	if p == nil {
		return nil
	}
	out := &jsonPairs{
		Pairs: p.Pairs, Left: p.Left, Impossible: p.Impossible, Detected: rounded(p.Detected), Undetected: p.Undetected,
		LikeOne: rounded(p.LikeOne), Hidden: rounded(p.Hidden), IsolatedTo1: rounded(p.IsolatedTo1), IsolatedTo3: rounded(p.IsolatedTo3),
		IsolatedToParts: rounded(p.IsolatedToParts), Groups: p.Groups, Largest: []jsonPairGroup{},
	}
	for _, g := range p.Largest {
		one := func(i int) string { return l.Table.Rows[i].Fault.Name }
		j := jsonPairGroup{Pairs: g.Pairs, Singles: g.Singles, One: [2]string{one(g.First[0]), one(g.First[1])}}
		if g.Single >= 0 {
			j.Like = one(g.Single)
		}
		out.Largest = append(out.Largest, j)
	}
	return out
}
