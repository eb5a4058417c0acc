package main

import (
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist/drawing"
	"example.com/ohmloom/solve"
)

// Every reading of a match stands at its connector, at the half where it was taken;
// one between two places at both.
func TestMatchNotes(t *testing.T) {
	t.Chdir("../..")
	c, err := loadHarness("examples/orchard/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	at := func(place, between string, value solve.Value, condition solve.Condition) faults.Reading {
		p, err := faults.ProbeAt(c, solve.Ohms, place, between, condition)
		if err != nil {
			t.Fatal(err)
		}
		return faults.Reading{Probe: p, Value: value}
	}
	across, err := faults.ProbeFromTo(c, solve.Ohms, "X1.6", "X14/b.H", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	toRail, err := faults.ProbeFromTo(c, solve.Ohms, "S3.H", "ground", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	m := &faults.Match{
		Readings: []faults.Reading{
			at("X1", "drive.H-drive.L", solve.Value{Number: 60.8}, solve.Condition{}),
			at("X2", "drive.H-ground", solve.Over(), solve.Condition{}),
			at("X14", "H-L", solve.Value{Number: 1500}, solve.Condition{}),
			at("X14/b", "H-L", solve.Value{Number: 61}, solve.Condition{Unplugged: []string{"X14"}}),
			at("X3/device", "H-L", solve.Value{Number: 120}, solve.Condition{Unplugged: []string{"X3"}}),
			{Probe: across, Value: solve.Value{Number: 2}},
			{Probe: toRail, Value: solve.Value{Number: 3}},
		},
		Parts:   []faults.PartProbability{{Part: "P9", Probability: 0.98}, {Part: faults.HealthyName, Probability: 0.5}, {Part: faults.NoneName, Probability: 0.4}, {Part: "P3", Probability: 0.001}},
		Answers: []faults.Answer{{Tool: "X1", Module: "dash", Answered: true}, {Tool: "X1", Module: "brakes"}},
	}
	got := matchNotes(c, m)
	want := map[string]string{
		"X1": "drive.H-drive.L 60.8 Ω|X1.6 to X14/b.H 2.00 Ω", "X2": "H-ground OL", "X14/a": "H-L 1.50 kΩ",
		"X14/b": "H-L 61.0 Ω, X14 apart|X1.6 to X14/b.H 2.00 Ω", "X3": "device H-L 120.0 Ω, X3 apart", "S3": "S3.H to ground 3.00 Ω",
		"P9": "98 %", "dash": "answers", "brakes": "silent",
	}
	for key, list := range got {
		var texts []string
		for _, n := range list {
			texts = append(texts, n.Text)
		}
		if s := strings.Join(texts, "|"); s != want[key] {
			t.Errorf("at %s: %q, want %q", key, s, want[key])
		}
	}
	if len(got) != len(want) {
		t.Errorf("notes at %d places, want %d", len(got), len(want))
	}
	if n := got["P9"][0]; n.Kind != drawing.Likely || n.Weight != 0.98 {
		t.Errorf("P9: %+v", n)
	}
	if _, err := drawing.Draw(c, &drawing.Options{Notes: got}); err != nil {
		t.Error(err)
	}
}
