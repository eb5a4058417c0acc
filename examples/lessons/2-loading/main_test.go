package main

import (
	"math"
	"testing"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/pagetest"
)

func TestLesson(t *testing.T) {
	p, err := lesson()
	if err != nil {
		t.Fatal(err)
	}
	pagetest.Check(t, p)
}

// 60 Ω beside n inputs of 30 kΩ (TJA1051 data sheet, typical), worked with a
// pocket calculator: 1 / (1/60 + n/30000).
func TestReadingsWithModules(t *testing.T) {
	for n, want := range map[int]float64{5: 59.406, 10: 58.824, 20: 57.692, 30: 56.604} {
		got, err := reads(n, 30e3)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-want) > 0.002 {
			t.Errorf("%d modules: %.3f Ω, want %.3f", n, got, want)
		}
	}
}

// MCP2551 data sheet DS21667F: 112 nodes with inputs of 20 kΩ, terminators of 120 Ω
// and a driver that feeds 45 Ω. The one that sends is not its own load.
func TestPublishedNumberOfNodes(t *testing.T) {
	n, err := mostAbove(45, 20e3)
	if err != nil {
		t.Fatal(err)
	}
	if n+1 != 112 {
		t.Errorf("%d nodes, the data sheet has 112", n+1)
	}
}

// The number of modules is the greatest: one more reads below the limit.
func TestMostModules(t *testing.T) {
	for _, rdiff := range []float64{leastLegal, leastLegal16, typical} {
		n, err := mostAbove(50, rdiff)
		if err != nil {
			t.Fatal(err)
		}
		at, err1 := reads(n, rdiff)
		more, err2 := reads(n+1, rdiff)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if !(at >= 50 && more < 50) {
			t.Errorf("R diff %g: %d modules read %.3f Ω and %d read %.3f Ω, want 50 between them", rdiff, n, at, n+1, more)
		}
	}
}

// Data sheet SLLSF17B, as ISO 11898-2:2016: difference 1.5 to 3.0 V at 50 to 65 Ω,
// 1.4 to 3.3 V at 45 to 70 Ω. TJA1051: 2.0 V at 60 Ω, typical.
func TestDriverFeedsTheStandardsLoads(t *testing.T) {
	for _, x := range []struct{ ohms, low, high float64 }{
		{50, 1.5, 3.0}, {65, 1.5, 3.0}, {45, 1.4, 3.3}, {70, 1.4, 3.3}, {60, 1.98, 2.02},
	} {
		b, err := bench.New(bus(2, 2*x.ohms, "modern", nil))
		if err != nil {
			t.Fatal(err)
		}
		v := b.Reads(b.Volts("X1", "H-L").WithSender("m1")).Number
		if err := b.Err(); err != nil {
			t.Fatal(err)
		}
		if v < x.low || v > x.high {
			t.Errorf("%g Ω: %.3f V, want %g to %g", x.ohms, v, x.low, x.high)
		}
	}
}
