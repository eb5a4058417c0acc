package netlist

import (
	"math"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"github.com/google/go-cmp/cmp"
)

func TestCheckRates(t *testing.T) {
	rate := func(x float64) *float64 { return &x }
	const parts = "one of X1, X2, X3, X4, S1, one, two, T1, T2, P1, P2, P3, P4, W1"
	for _, tt := range []struct {
		name    string
		entries []FaultRate
		want    problem.List
	}{
		{"every kind of part", []FaultRate{
			{Part: "X1", Times: 2}, {Part: "X4", Times: 2}, {Part: "S1", Times: 2}, {Part: "one", Times: 2}, {Part: "T1", Times: 2},
			{Part: "P1", Times: 2}, {Part: "W1", Times: 2}, {Kind: "open", Rate: rate(3)}, {Kind: "open", Part: "P1", Rate: rate(0)},
		}, nil},
		{"at the limits", []FaultRate{{Kind: "open", Rate: rate(LeastRate)}, {Kind: "leak", Rate: rate(GreatestRate)}, {Kind: "open", Times: 1e-300}, {Kind: "open", Times: 1e6}}, nil},
		{"about nothing", []FaultRate{{Times: 2}}, problem.List{
			{Path: "rates[0]", Element: "rate entry number 1", What: "does not say which faults it is about", Write: "kind, part or both"},
		}},
		{"neither", []FaultRate{{Kind: "open", Times: 2}, {Kind: "open"}}, problem.List{
			{Path: "rates[1]", Element: "rate entry number 2", What: "has neither rate nor times", Write: "rate (in place of what it was) or times (multiplies it)"},
		}},
		{"both", []FaultRate{{Kind: "open", Rate: rate(0), Times: 2}}, problem.List{
			{Path: "rates[0]", Element: "rate entry number 1", What: "has both rate and times", Write: "one of them"},
		}},
		{"no such part", []FaultRate{{Part: "X14", Times: 2}}, problem.List{
			{Path: "rates[0].part", Element: "rate entry number 1", What: "there is no part X14", Write: parts},
		}},
		{"a stray path", []FaultRate{{Part: "Y1", Times: 2}}, problem.List{
			{Path: "rates[0].part", Element: "rate entry number 1", What: "Y1 is a stray path, at which no fault is looked for", Write: "the connector, splice, module, terminator, pair or wire that is meant"},
		}},
		{"rails", []FaultRate{{Part: "ground", Times: 2}, {Part: "supply", Times: 2}}, problem.List{
			{Path: "rates[0].part", Element: "rate entry number 1", What: "ground is a rail, at which no fault is looked for", Write: "the connector, splice, module, terminator, pair or wire that is meant"},
			{Path: "rates[1].part", Element: "rate entry number 2", What: "supply is a rail, at which no fault is looked for", Write: "the connector, splice, module, terminator, pair or wire that is meant"},
		}},
		{"a network is no part", []FaultRate{{Part: "bus", Times: 2}}, problem.List{
			{Path: "rates[0].part", Element: "rate entry number 1", What: "there is no part bus", Write: parts},
		}},
		{"next to nothing", []FaultRate{{Kind: "open", Rate: rate(1e-7)}}, problem.List{
			{Path: "rates[0].rate", Element: "rate entry number 1", What: "rate is 1e-7, must be 0 or at least 1e-6", Write: "0 if it cannot happen, else a rate from there on"},
		}},
		{"out of bounds", []FaultRate{{Kind: "open", Rate: rate(-1)}, {Kind: "open", Rate: rate(1e6 + 1)}, {Kind: "open", Times: -2}, {Kind: "open", Times: math.Inf(1)}}, problem.List{
			{Path: "rates[0].rate", Element: "rate entry number 1", What: "rate is -1, must be at least 0 and at most 1000000", Write: "rate in place of what it was, for example rate: 10"},
			{Path: "rates[1].rate", Element: "rate entry number 2", What: "rate is 1000001, must be at least 0 and at most 1000000", Write: "rate in place of what it was, for example rate: 10"},
			{Path: "rates[2].times", Element: "rate entry number 3", What: "times is -2, must be above 0 and at most 1000000", Write: "what the rate is multiplied by, for example times: 5"},
			{Path: "rates[3].times", Element: "rate entry number 4", What: "times is infinite", Write: "what the rate is multiplied by, for example times: 5"},
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := oneBus()
			h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "X2.H", Ohms: 0.1}}
			h.Strays = []Stray{{Name: "Y1", From: "X1.6", To: "ground", Ohms: 1e5}}
			h.Rates = tt.entries
			if diff := cmp.Diff(tt.want, Check(h)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// An entry covers what both of its keys cover; a key left out covers all.
func TestCovers(t *testing.T) {
	for _, tt := range []struct {
		entry      FaultRate
		kind, part string
		want       bool
	}{
		{FaultRate{Kind: "open"}, "open", "P1", true},
		{FaultRate{Kind: "open"}, "leak", "P1", false},
		{FaultRate{Part: "P1"}, "open", "P1", true},
		{FaultRate{Part: "P1"}, "open", "P11", false},
		{FaultRate{Kind: "open", Part: "P1"}, "open", "P1", true},
		{FaultRate{Kind: "open", Part: "P1"}, "leak", "P1", false},
		{FaultRate{Kind: "open", Part: "P1"}, "open", "P2", false},
	} {
		if got := tt.entry.Covers(tt.kind, tt.part); got != tt.want {
			t.Errorf("%+v covers %s at %s: %v", tt.entry, tt.kind, tt.part, got)
		}
	}
}
