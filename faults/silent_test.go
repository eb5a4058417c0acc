package faults

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/solve"
)

// Two modules of two branches are silent, everybody else answers: no single fault does
// that, so pairs are looked for by answers alone. All pairs of which each silences one of
// them and nobody else are there, none other, with priors by their rates; a single fault
// that does explain leaves no room for pairs.
func TestPairsBySilence(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	x := NewMatcher(c, list, DefaultInstrument())
	answers := func(silent ...string) []Answer {
		var out []Answer
		for _, u := range c.Units {
			for _, tr := range c.Transceivers {
				if c.Units[tr.Unit].Name == u.Name && tr.Network == "drive" {
					out = append(out, Answer{Tool: "X1", Module: u.Name, Answered: !slices.Contains(silent, u.Name)})
				}
			}
		}
		return out
	}
	m, err := x.Match(nil, &MatchOptions{Answers: answers("traction-left", "charger")})
	if err != nil {
		t.Fatal(err)
	}
	// By hand: who is silent with each fault at the middle of five steps of its range.
	table, err := MakeAnswerTable(c, list, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	alone := map[string][]*Fault{}
	for _, row := range table.Rows {
		var silent []string
		for k, u := range table.Units {
			asked := slices.ContainsFunc(m.Answers, func(a Answer) bool { return a.Module == c.Units[u].Name })
			if asked && row.Answers[k] == solve.No {
				silent = append(silent, c.Units[u].Name)
			}
		}
		if row.Fault.Free == nil && len(silent) == 1 {
			alone[silent[0]] = append(alone[silent[0]], row.Fault)
		}
	}
	a, b := alone["traction-left"], alone["charger"]
	if len(a) < 5 || len(b) < 5 {
		t.Fatalf("%d and %d faults without free values silence one of the two alone: too few to say anything", len(a), len(b))
	}
	found := map[string]*Hypothesis{}
	pairs := 0
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		found[h.Name] = h
		if len(h.Members) == 2 {
			pairs++
		}
	}
	if pairs != m.Searched.Silencing || m.Searched.SilencingLeft {
		t.Errorf("%d pairs in the ranking, %+v", pairs, m.Searched)
	}
	squares, rates := 0.0, 0.0
	for _, f := range list {
		rates += f.Rate
		squares += f.Rate * f.Rate
	}
	one := found[a[0].Name]
	for _, f := range a {
		for _, g := range b {
			h := found[f.Name+" and "+g.Name]
			if h == nil {
				h = found[g.Name+" and "+f.Name]
			}
			if h == nil {
				t.Errorf("%s and %s are not weighed", f.Name, g.Name)
				continue
			}
			// The pair has everybody right, the single fault one of them wrong.
			want := math.Log(0.04*f.Rate*g.Rate/((rates*rates-squares)/2)*(1-answersAnyway)) -
				math.Log((1-0.1-0.01-0.04-0.004)*a[0].Rate/rates*silentAnyway)
			if got := math.Log(h.Probability / one.Probability); math.Abs(got-want) > 1e-6 {
				t.Errorf("%s: log odds to %s %.4f, by hand %.4f", h.Name, one.Name, got, want)
			}
		}
	}
	for name, h := range found {
		if len(h.Members) == 2 {
			for k, ans := range m.Answers {
				if (h.Answers[k] == solve.No) == ans.Answered {
					t.Errorf("%s: %s answered is %v, by the explanation %v", name, ans.Module, ans.Answered, h.Answers[k])
				}
			}
		}
	}
	// One fault that silences both: nothing more is looked for.
	m, err = x.Match(nil, &MatchOptions{Answers: answers("traction-left", "traction-right", "steering", "brakes")})
	if err != nil {
		t.Fatal(err)
	}
	if m.Searched.Silencing != 0 || !strings.Contains(m.Best().Name, "P9") {
		t.Errorf("four on one side are silent: %s, %+v", m.Best().Name, m.Searched)
	}
}
