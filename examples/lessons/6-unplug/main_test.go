package main

import (
	"math"
	"os"
	"testing"

	"example.com/ohmloom/examples/lessons/bench"
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

// Each half that an unplugged connector leaves: 60 without, 120 with a terminator
// taken away (common practice, no source).
func TestHalves(t *testing.T) {
	b := pagetest.Line(t)
	for _, x := range []struct {
		place, apart string
		want         float64
	}{
		{"X1", "X2", 120}, {"X1", "X7", 120}, {"X1", "X4", 60}, {"X1", "X8", 120}, {"X1", "X9", 120},
		{"X8/a", "X8", 120}, {"X8/b", "X8", 120}, {"X2/device", "X2", 120}, {"X7/device", "X7", 120}, {"X7", "X7", 120}, {"X4", "X4", 60},
	} {
		v := b.Reads(b.Ohms(x.place, "H-L", x.apart))
		if v.OL || v.Number < x.want-0.1 || v.Number > x.want+1 {
			t.Errorf("%s with %s apart: %s, want %g", x.place, x.apart, v, x.want)
		}
	}
	for _, x := range []string{"X3", "X4", "X5", "X6"} {
		if v := b.Reads(b.Ohms(x+"/device", "H-L", x)); v.OL || v.Number < 1e6 {
			t.Errorf("the module at %s by itself: %s, want megohms", x, v)
		}
	}
	if v := b.Reads(b.Ohms("X1", "H-L", "X2", "X3", "X4", "X5", "X6", "X7")); !v.OL {
		t.Errorf("all apart: %s, want OL", v)
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
}

// After two readings the library is sure of the side, and of no single part of it.
func TestUnpluggingTellsTheEnd(t *testing.T) {
	b := pagetest.Line(t)
	for _, x := range []struct {
		truth   string
		suspect map[string]bool
	}{
		{"open H in pair P3", map[string]bool{"P1": true, "P2": true, "P3": true, "X2": true, "X8": true, "T1": true}},
		{"open L in pair P6", map[string]bool{"P4": true, "P5": true, "P6": true, "P7": true, "X7": true, "X9": true, "T2": true}},
	} {
		var readings []faults.Reading
		for _, at := range []faults.Probe{b.Ohms("X1", "H-L"), b.Ohms("X1", "H-L", "X2")} {
			v := b.Reads(at, x.truth)
			readings = append(readings, faults.Reading{Probe: at, Value: solve.Value{Number: v.Number, OL: v.OL}})
		}
		match, err := faults.MakeMatch(b.Circuit, faults.Catalogue(b.Circuit), readings, faults.DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, p := range match.Parts {
			if x.suspect[p.Part] {
				sum += p.Probability
				if p.Probability > 0.5 {
					t.Errorf("%s: %s has %.2f, and nothing tells it from its neighbours", x.truth, p.Part, p.Probability)
				}
			}
		}
		if sum < 0.95 {
			t.Errorf("%s: the parts on its side have %.3f together", x.truth, sum)
		}
	}
}

// Both ways of searching find every section. Halving eight equal places takes three
// answers each (log₂ 8); in turn it is (1 + 2 + 3 + 4 + 5 + 6 + 7 + 7) / 8.
func TestSearches(t *testing.T) {
	b, err := bench.New(long())
	if err != nil {
		t.Fatal(err)
	}
	for s := 1; s <= sections; s++ {
		if found, steps := search(b, s, inMiddle); found != s || len(steps) != 3 {
			t.Errorf("section %d: halving finds %d in %d", s, found, len(steps))
		}
		if found, steps := search(b, s, inTurn); found != s || len(steps) != min(s, 7) {
			t.Errorf("section %d: in turn finds %d in %d", s, found, len(steps))
		}
	}
	if got := mean(b, inTurn); math.Abs(got-4.375) > 1e-12 {
		t.Errorf("in turn takes %g on average, want 4.375", got)
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
}
