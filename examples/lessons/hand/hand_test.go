package hand_test

import (
	"math"
	"testing"

	"example.com/ohmloom/examples/lessons/hand"
)

func TestFormulas(t *testing.T) {
	for _, tt := range []struct {
		name      string
		got, want float64
		within    float64
	}{
		// The trade's readings, common practice, no source; the arithmetic is 120/k.
		{"two terminators", hand.Parallel(120, 120), 60, 1e-12},
		{"one", hand.Parallel(120), 120, 1e-12},
		{"three", hand.Parallel(120, 120, 120), 40, 1e-12},
		{"four", hand.Parallel(120, 120, 120, 120), 30, 1e-12},
		{"none", hand.Parallel(), math.Inf(1), 0},
		{"across a break", hand.Series(120, 120), 240, 1e-12},
		// ISO 11898-2 terminators of 100 to 130 Ω (quoted second-hand) and the load
		// of 50 to 65 Ω (data sheet SLLSF17B).
		{"least load", hand.Parallel(100, 100), 50, 1e-12},
		{"greatest load", hand.Parallel(130, 130), 65, 1e-12},
		// Inputs of 30 kΩ each, TJA1051 data sheet typical, beside 60 Ω.
		{"ten inputs", hand.Parallel(60, 30e3/10), 58.824, 5e-4},
		{"thirty inputs", hand.Parallel(60, 30e3/30), 56.604, 5e-4},
		{"one of two taken out", hand.Without(60, 120), 120, 1e-12},
		// 5 V less two diodes of 0.7 V, 24 Ω on either side: the difference of 2.0 V
		// at 60 Ω that the TJA1051 data sheet has as typical (3.5 V less 1.5 V).
		{"driver at 60", hand.Divider(3.6, 60, 24, 24), 2, 1e-12},
		{"driver at 120", hand.Divider(3.6, 120, 24, 24), 2.571, 5e-4},
		// Mean of 3.5 V for a tenth of the time over 2.5 V, worked in the head.
		{"traffic", hand.Mean(2.5, 3.5, 0.1), 2.6, 1e-12},
	} {
		if !(math.Abs(tt.got-tt.want) <= tt.within) && tt.got != tt.want {
			t.Errorf("%s: %v, want %v", tt.name, tt.got, tt.want)
		}
	}
}
