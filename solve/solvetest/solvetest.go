// Package solvetest holds the one invariant that every reading in a test of
// ohmloom is held against: the laws of circuits.
//
//	r, err := net.Respond(solve.Ohms, h, l, solve.DefaultMeter())
//	...
//	solvetest.Check(t, r)
//
// What it asks does not depend on what the right answer is, so it also serves
// tests that do not know one.
package solvetest

import (
	"math"

	"example.com/ohmloom/solve"
)

const (
	// MaxCurrentError is the greatest sum of currents at a node, as a share of
	// the greatest current in the net, beyond what the rounding of the
	// potentials to float64 makes by itself.
	MaxCurrentError = 1e-9
	// MaxPowerError is how far the power that the sources deliver and the power
	// that the resistances turn into heat may differ, as a share of the greater,
	// beyond what the rounding of the potentials makes by itself.
	MaxPowerError = 1e-9
)

// TB is what Check needs of a *testing.T, *testing.B, *testing.F or *rapid.T.
type TB interface {
	Helper()
	Errorf(format string, args ...any)
}

// Check fails the test unless, in the probe current and in the driven state that
// a reading rests on, the currents at each node add up to nothing, power
// delivered is power dissipated, and the condition number is one that package
// solve gives results for.
func Check(t TB, r *solve.Response) {
	t.Helper()
	for i, b := range r.Balances() {
		check(t, i, b)
	}
}

// check is written so that a NaN fails each comparison.
func check(t TB, i int, b solve.Balance) {
	t.Helper()
	if !(b.CurrentError <= MaxCurrentError) {
		t.Errorf("balance %d: currents at a node add up to %.3g of the greatest current, want at most %.0e", i, b.CurrentError, MaxCurrentError)
	}
	greater := math.Max(math.Abs(b.PowerIn), math.Abs(b.PowerOut))
	if !(math.Abs(b.PowerIn-b.PowerOut) <= MaxPowerError*greater+b.PowerRounding) {
		t.Errorf("balance %d: sources deliver %v W, resistances dissipate %v W", i, b.PowerIn, b.PowerOut)
	}
	if !(b.PowerOut >= 0) {
		t.Errorf("balance %d: resistances dissipate %v W", i, b.PowerOut)
	}
	if !(b.Condition <= solve.MaxCondition) {
		t.Errorf("balance %d: condition number %.3g is above %.0e, so there ought to be an error in place of a reading", i, b.Condition, solve.MaxCondition)
	}
}
