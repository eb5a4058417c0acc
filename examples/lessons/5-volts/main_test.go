package main

import (
	"math"
	"os"
	"testing"

	"example.com/ohmloom/examples/lessons/pagetest"
	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

func TestMain(m *testing.M) { os.Exit(pagetest.FromTop(m)) }

func TestLesson(t *testing.T) {
	p, err := lesson()
	if err != nil {
		t.Fatal(err)
	}
	pagetest.Check(t, p)
}

// With traffic H reads 2.6 to 2.8 V and L 2.2 to 2.4 V, together 5 V, for a bus
// dominant 10 to 30 % of the time (common practice, no source).
func TestTrafficReadsAsInTheTrade(t *testing.T) {
	b := pagetest.Line(t)
	for _, x := range []struct{ share, h, l float64 }{{0.1, 2.6, 2.4}, {0.3, 2.8, 2.2}} {
		hp, lp := ground(b, "X1")
		hp, lp = hp.WithTraffic(), lp.WithTraffic()
		hp.DominantShare, lp.DominantShare = x.share, x.share
		h, l := b.Reads(hp).Number, b.Reads(lp).Number
		if math.Abs(h-x.h) > 0.01 || math.Abs(l-x.l) > 0.01 {
			t.Errorf("dominant for %g: %.3f and %.3f V, want %g and %g", x.share, h, l, x.h, x.l)
		}
	}
}

// The page says that no idle volts and no volts with traffic lie outside of what a
// healthy bus may show.
func TestVoltsStayInTheHealthyBand(t *testing.T) {
	b := pagetest.Line(t)
	var probes []faults.Probe
	for _, x := range []string{"X1", "X7"} {
		h, l := ground(b, x)
		probes = append(probes, h, l)
		for _, q := range []faults.Probe{h, l} {
			q = q.WithTraffic()
			q.DominantShare = share
			probes = append(probes, q)
		}
	}
	b.Meter = faults.DefaultInstrument()
	for _, r := range b.Table(wrong, probes...).Rows {
		if r.Detected() {
			t.Errorf("%s: some volts lie outside of the healthy band", r.Fault.Name)
		}
	}
}

// Ohms and answers tell what volts do not.
func TestOhmsAndAnswersTell(t *testing.T) {
	b := pagetest.Line(t)
	answers, err := faults.MakeAnswerTable(b.Circuit, b.Faults(wrong[:3]...), "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	silent := map[string]bool{"lift": true, "lamp": true, "rear": true}
	for _, r := range answers.Rows {
		for k, u := range answers.Units {
			if name := b.Circuit.Units[u].Name; (r.Answers[k] == solve.No) != silent[name] {
				t.Errorf("%s: %s answers %s", r.Fault.Name, name, r.Answers[k])
			}
		}
		if v := b.Reads(b.Ohms("X1", "H-L"), r.Fault.Name); v.OL || math.Abs(v.Number-120.4) > 0.5 {
			t.Errorf("%s: %s at X1, want near 120", r.Fault.Name, v)
		}
	}
}
