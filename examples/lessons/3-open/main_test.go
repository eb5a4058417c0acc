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
	pagetest.Drawn(t, bench.LineDrawing, pagetest.Line(t).Circuit)
}

// Broken H, broken L, both broken: the same between H and L to a tenth of an ohm, on
// either side of the meter 120 as the trade has it (common practice, no source).
func TestConductorsReadAlike(t *testing.T) {
	b := pagetest.Line(t)
	for _, pair := range []string{"P3", "P6"} {
		for _, place := range []string{"X1", "X2", "X4", "X7"} {
			for _, f := range opens(pair) {
				v := b.Reads(b.Ohms(place, "H-L"), f)
				if v.OL || math.Abs(v.Number-120.3) > 0.5 {
					t.Errorf("%s at %s: %s, want near 120", f, place, v)
				}
			}
		}
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
}

// A broken stub takes nothing from the bus that X1 could see, and silences its module
// and no other.
func TestStubIsNotSeen(t *testing.T) {
	b := pagetest.Line(t)
	at := b.Ohms("X1", "H-L")
	healthy := b.Reads(at).Number
	for _, f := range opens("Q3") {
		if v := b.Reads(at, f); v.OL || math.Abs(v.Number-healthy) > 0.05 {
			t.Errorf("%s reads %s at X1, healthy %g", f, v, healthy)
		}
	}
	answers, err := faults.MakeAnswerTable(b.Circuit, b.Faults(opens("Q3")...), "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range answers.Rows {
		for k, u := range answers.Units {
			want := solve.Yes
			if b.Circuit.Units[u].Name == "dash" {
				want = solve.No
			}
			if r.Answers[k] != want {
				t.Errorf("%s: %s answers %s, want %s", r.Fault.Name, b.Circuit.Units[u].Name, r.Answers[k], want)
			}
		}
	}
}

// Along H: only a broken H changes it, to the two terminators in series.
func TestAlongTheConductor(t *testing.T) {
	b := pagetest.Line(t)
	for _, x := range []struct {
		along, broken string
		low, high     float64
	}{
		{"H", "open H in pair P3", 240, 241}, {"H", "open H in pair P6", 240, 241},
		{"H", "open L in pair P6", 0.3, 0.5}, {"L", "open H in pair P6", 0.3, 0.5},
		{"L", "open L in pair P3", 240, 241},
	} {
		v := b.Reads(b.OhmsAcross("X2."+x.along, "X7."+x.along), x.broken)
		if v.OL || v.Number < x.low || v.Number > x.high {
			t.Errorf("along %s with %s: %s, want %g to %g", x.along, x.broken, v, x.low, x.high)
		}
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
}
