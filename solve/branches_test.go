package solve_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// A wire that a bridge cuts is two branches, an insert is told apart from the wire's own
// ohms, a bridge names its change.
func TestBranches(t *testing.T) {
	c := raw(4, []edge{{2, 3, 8}, {2, 3, 120}})
	n := assemble(t, c, solve.Condition{}, solve.Part{Element: 1}, solve.Insert{Element: 0, Ohms: 5}, solve.Bridge{From: solve.OnWire(0, 0.25), To: solve.AtNode(0), Ohms: 7})
	got := n.Branches()
	if len(got) != 3 {
		t.Fatalf("%d branches: %+v", len(got), got)
	}
	first, second, bridge := got[0], got[1], got[2]
	if first.Element != 0 || first.From != 0 || first.To != 0.25 || first.Ohms != 7 || first.InsertOhms != 5 || first.A != n.Class(2) {
		t.Errorf("first piece %+v, want 2 Ω of its own and 5 Ω inserted", first)
	}
	if second.Element != 0 || second.From != 0.25 || second.To != 1 || math.Abs(second.Ohms-6) > 1e-12 || second.InsertOhms != 0 || second.A != first.B || second.B != n.Class(3) {
		t.Errorf("second piece %+v, want 6 Ω", second)
	}
	if bridge.Element != -1 || bridge.Bridge != 2 || bridge.A != first.B || bridge.B != n.Class(0) || math.Abs(bridge.Ohms-7) > 1e-12 {
		t.Errorf("bridge %+v, want 7 Ω from the cut to ground, change 2", bridge)
	}
	if n.Classes() <= first.B || n.Held()[n.Class(netlist.GroundNode)] != 0 || len(n.Held()) != 1 {
		t.Errorf("%d classes, held %v", n.Classes(), n.Held())
	}
}

// With the branches and the potentials of a reading the laws of circuits hold: nothing
// piles up at a point but the ampere at the leads, and the power is the resistance.
func TestBranchesCarryTheProbe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var edges []edge
		for range rapid.IntRange(1, 12).Draw(t, "edges") {
			edges = append(edges, edge{rapid.IntRange(0, 6).Draw(t, "a"), rapid.IntRange(0, 6).Draw(t, "b"), math.Pow(10, rapid.Float64Range(-2, 5).Draw(t, "ohms"))})
		}
		n := assemble(t, raw(7, edges), solve.Condition{})
		from, to := rapid.IntRange(0, 6).Draw(t, "from"), rapid.IntRange(0, 6).Draw(t, "to")
		r := respond(t, n, solve.Ohms, from, to, solve.Meter{})
		ohms, joined := r.Ohms()
		probe, drive := r.Potentials()
		if !joined {
			if probe != nil {
				t.Errorf("an open reading has potentials")
			}
			return
		}
		if drive != nil {
			t.Errorf("a resistance has no other potentials than the probe's")
		}
		sum := make([]float64, n.Classes())
		sum[n.Class(from)]++
		sum[n.Class(to)]--
		power := 0.0
		for _, b := range n.Branches() {
			i := (probe[b.A] - probe[b.B]) / b.Ohms
			sum[b.A] -= i
			sum[b.B] += i
			power += i * i * b.Ohms
		}
		for k, s := range sum {
			if math.Abs(s) > 1e-8 {
				t.Errorf("class %d: %v A too many", k, s)
			}
		}
		if !near(power, ohms, 1e-8, 1e-12) {
			t.Errorf("power %v W of 1 A in %v Ω", power, ohms)
		}
	})
}
