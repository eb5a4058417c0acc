package main

import (
	"math"
	"os"
	"testing"

	"example.com/ohmloom/examples/lessons/pagetest"
)

func TestMain(m *testing.M) { os.Exit(pagetest.FromTop(m)) }

func load(t *testing.T) *way {
	t.Helper()
	w, err := open()
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestLesson(t *testing.T) {
	p, err := lesson()
	if err != nil {
		t.Fatal(err)
	}
	pagetest.Check(t, p)
	pagetest.Drawn(t, drawing, load(t).Circuit)
}

// The trunk is the 40 m that SAE J1939-11 allows (second-hand). AWG 20 has 33.31 mΩ/m:
// ASTM B258 diameter and 17.241 Ω·mm²/km, worked apart from this code.
func TestTrunk(t *testing.T) {
	w := load(t)
	if w.metres != 40 {
		t.Errorf("%g m, want 40", w.metres)
	}
	if got := w.perMetre() / 2; math.Abs(got-0.03331) > 0.00001 {
		t.Errorf("%g Ω/m, want 0.03331", got)
	}
}

// Both ways of working find the short to a few decimetres wherever it is: the
// contacts of X5, 12.5 mΩ, are a fifth of a metre of pair.
func TestPlaceIsFound(t *testing.T) {
	w := load(t)
	for _, pair := range trunk {
		front, rear, err := w.short(pair, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := w.place(front, rear), w.before(pair); math.Abs(got-want) > 0.2 {
			t.Errorf("%s: by share %.2f m, want %.2f", pair, got, want)
		}
		for _, ohms := range []float64{0, 1, 5, 20} {
			front, rear, err := w.short(pair, ohms)
			if err != nil {
				t.Fatal(err)
			}
			// The far terminator stands beside the short, behind more or less
			// wire: 20 Ω beside 120 and beside 122.7 differ by 0.06 Ω, a little
			// under a metre of pair, half of which goes into the place.
			if got, want := w.placeByDifference(front, rear), w.before(pair); math.Abs(got-want) > 0.2+ohms/100 {
				t.Errorf("%s with %g Ω: by difference %.2f m, want %.2f", pair, ohms, got, want)
			}
		}
	}
}

// Ohms of the short pull the share to the middle, as the page says.
func TestOwnOhmsMislead(t *testing.T) {
	w := load(t)
	off := 0.0
	for _, ohms := range []float64{0, 1, 5, 20} {
		front, rear, err := w.short("B8", ohms)
		if err != nil {
			t.Fatal(err)
		}
		now := w.before("B8") - w.place(front, rear)
		if ohms > 0 && now <= off {
			t.Errorf("with %g Ω the share misses by %.2f m, with less by %.2f m", ohms, now, off)
		}
		off = now
	}
	if off < 15 {
		t.Errorf("with 20 Ω the share misses by %.1f m only", off)
	}
}

// A short in a stub reads at the ends as if it sat where the stub leaves the trunk,
// with the stub's wire as its ohms.
func TestShortInAStub(t *testing.T) {
	w := load(t)
	const name = "short H to L at connector X7 (cavities H and L)" // at the end of D5
	front, rear := w.Reads(w.Ohms("X1", "H-L"), name), w.Reads(w.Ohms("X9", "H-L"), name)
	if err := w.Err(); err != nil {
		t.Fatal(err)
	}
	want := w.before("B6") + w.Metres("pair B6 H")/2 // S5
	if got := w.placeByDifference(front.Number, rear.Number); math.Abs(got-want) > 0.2 {
		t.Errorf("%.2f m, want %.2f", got, want)
	}
}

// At the service connector, a tap 38 m along with a stub of 1 m, a short at 26 m
// reads the 12 m between and the stub, less a little for T2 beside the 12 m.
func TestAtATap(t *testing.T) {
	w := load(t)
	v := w.Reads(w.Ohms("X8", "H-L"), "short H to L in pair B6")
	if err := w.Err(); err != nil {
		t.Fatal(err)
	}
	if want := (12 + 1) * 2 * 0.03331; v.OL || math.Abs(v.Number-want) > 0.01 {
		t.Errorf("X8 reads %s, want %.3f Ω", v, want)
	}
}
