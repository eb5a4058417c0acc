package main

import (
	"math"
	"testing"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/pagetest"
	"example.com/ohmloom/faults"
)

func TestLesson(t *testing.T) {
	p, err := lesson()
	if err != nil {
		t.Fatal(err)
	}
	pagetest.Check(t, p)
	pagetest.Drawn(t, drawing, open(t, 1, each, each).Circuit)
}

func open(t *testing.T, spread float64, ohms ...float64) *bench.Bench {
	t.Helper()
	b, err := bench.New(bus(spread, ohms...))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The trade's readings, common practice, no source: 120 one terminator, 60 two, 40
// three, 30 four; near them within what 7 m of wire out and back add.
func TestTradeReadings(t *testing.T) {
	for n, want := range map[int]float64{1: 120, 2: 60, 3: 40, 4: 30} {
		b := open(t, 1, repeat(each, n)...)
		got := b.Reads(b.Ohms("X1", "H-L")).Number
		if got < want || got > want+0.5 {
			t.Errorf("%d terminators read %.2f Ω, want %g and a little wire", n, got, want)
		}
	}
}

// ISO 11898-2:2003 terminators of 100 to 130 Ω (quoted second-hand) make the load of
// 50 to 65 Ω that data sheet SLLSF17B is tested with.
func TestLoadFollowsFromTerminators(t *testing.T) {
	b := open(t, 100*15/115.0, 115, 115)
	band := b.TableOf(nil, b.Ohms("X1", "H-L")).Bands[0]
	if low, high := band.WorstLow.Number, band.WorstHigh.Number; low < 50 || low > 50.5 || high < 65 || high > 65.5 {
		t.Errorf("two terminators at the standard's limits read %.2f to %.2f Ω, want 50 to 65 and a little wire", low, high)
	}
}

// The page says that one, two and three terminators cannot be mistaken for each
// other, at the standard's limits and with the meter's error.
func TestBandsDoNotMeet(t *testing.T) {
	above := math.Inf(1)
	for _, n := range []int{1, 2, 3} {
		b := open(t, 100*15/115.0, repeat(115, n)...)
		b.Meter = faults.DefaultInstrument()
		band := b.TableOf(nil, b.Ohms("X1", "H-L")).Bands[0]
		if band.WorstHigh.Number >= above {
			t.Errorf("%d terminators read up to %.2f Ω, one fewer from %.2f Ω on", n, band.WorstHigh.Number, above)
		}
		above = band.WorstLow.Number
	}
}
