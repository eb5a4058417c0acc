package solve_test

import (
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func TestSensitivitiesOfUnpoweredModules(t *testing.T) {
	h, err := netfile.Read("../examples/bench/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := c.Point("X1.H")
	for u, unit := range c.Units {
		own := c.Elements[unit.GroundElement].A
		for _, tt := range []struct {
			name    string
			changes []solve.Change
		}{
			{"without supply", []solve.Change{solve.Unpower{Unit: u}}},
			{"without ground", []solve.Change{solve.Unpower{Unit: u}, solve.Part{Element: unit.GroundElement}, solve.Bridge{From: solve.AtNode(own), To: solve.AtNode(netlist.SupplyNode), Ohms: 200}}},
		} {
			read := func(z []float64) float64 {
				n, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, z, tt.changes...)
				if err != nil {
					t.Fatal(err)
				}
				v, err := n.Read(solve.Volts, x, netlist.GroundNode, solve.DefaultMeter())
				if err != nil {
					t.Fatal(err)
				}
				return v.Number
			}
			n, _ := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, tt.changes...)
			r, err := n.Respond(solve.Volts, x, netlist.GroundNode, solve.DefaultMeter())
			if err != nil {
				t.Fatal(err)
			}
			j := make([]float64, len(c.Parameters))
			r.Sensitivities(j)
			for i, p := range c.Parameters {
				z := make([]float64, len(c.Parameters))
				z[i] = 1e-3
				up := read(z)
				z[i] = -1e-3
				d := (up - read(z)) / 2e-3
				if e := j[i] - d; e > 1e-4 || e < -1e-4 {
					t.Errorf("module %s %s: volts at X1.H by %q: Sensitivities says %.6f V, a difference quotient %.6f V", unit.Name, tt.name, p.Name, j[i], d)
				}
			}
		}
	}
}
