package faults_test

import (
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// Two faults of a farm machine (invented), read with a common meter, and who answers: a
// short to ground and a contact that is backed out. Neither could be there alone, so
// neither is weighed alone; what a pair of them does to the modules must be known all
// the same, or a pair that explains the readings far less well is named with certainty.
func TestPairsBesideAnswers(t *testing.T) {
	h, err := netfile.Read("../testdata/layouts/farm-12.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	list := faults.Catalogue(c)
	truth, err := faults.Named(list, "backed-out cavity X4.1 (H)", "short H to ground in pair P5")
	if err != nil {
		t.Fatal(err)
	}
	var readings []faults.Reading
	for _, x := range []struct {
		at, between, unplugged string
		ohms                   float64
	}{
		{"X1", "H-L", "", 114.5}, {"X1", "L-supply", "", 153.5}, {"X1", "H-ground", "", 0.9}, {"X8/a", "H-L", "X8", 7310}, {"X1", "L-ground", "", 114.3},
		{"X8/a", "H-L", "", 113.4}, {"X8/a", "H-ground", "", 0.3}, {"X8/a", "L-ground", "X8", 7390}, {"X4/a", "L-ground", "", 113.7},
	} {
		var condition solve.Condition
		if x.unplugged != "" {
			condition.Unplugged = []string{x.unplugged}
		}
		p, err := faults.ProbeAt(c, solve.Ohms, x.at, x.between, condition)
		if err != nil {
			t.Fatal(err)
		}
		readings = append(readings, faults.Reading{Probe: p, Value: solve.Value{Number: x.ohms}})
	}
	// Who answers is worked out for the two together, the short at 0.3 Ω.
	var changes []solve.Change
	for _, f := range truth {
		changes = append(changes, f.Changes(0.3, 0.5)...)
	}
	net, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, changes...)
	if err != nil {
		t.Fatal(err)
	}
	bus, err := net.Bus(nil, solve.Tool{Site: "X1"})
	if err != nil {
		t.Fatal(err)
	}
	talk, err := bus.Talk()
	if err != nil {
		t.Fatal(err)
	}
	got := talk.Answers(len(c.Units))
	var answers []faults.Answer
	silent := 0
	for u := range c.Units {
		if len(c.Units[u].Inputs) == 0 {
			continue
		}
		if got[u] != solve.Yes {
			silent++
		}
		answers = append(answers, faults.Answer{Tool: "X1", Module: c.Units[u].Name, Answered: got[u] == solve.Yes})
	}
	if silent < 3 {
		t.Fatalf("%d modules are silent: too few to decide anything", silent)
	}
	m, err := faults.NewMatcher(c, list, faults.DefaultInstrument()).Match(readings, &faults.MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	sum, found := 0.0, false
	for i := range m.Hypotheses {
		x := &m.Hypotheses[i]
		all, short, between := len(x.Members) == 2, false, false
		for _, member := range x.Members {
			all = all && slices.Contains(truth, member.Fault)
			short = short || member.Fault.Kind == truth[1].Kind && strings.HasPrefix(member.Fault.Name, "short H to ground")
			between = between || slices.Contains([]string{"P2", "X4", "P3"}, member.Fault.Part)
		}
		found = found || all && x.Probability > 0.01
		// Of the contact and the wires on both sides of it nothing was read that tells
		// them apart.
		if short && between {
			sum += x.Probability
		}
	}
	if !found || sum < 0.45 {
		t.Errorf("best %s (%.2g); the two are found: %v; a short to ground beside X4 or the wires next to it has %.3f", m.Best().Name, m.Best().Probability, found, sum)
	}
}
