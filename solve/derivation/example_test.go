package derivation_test

import (
	"fmt"
	"log"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// Two modules with a terminator each, read between the conductors at the first.
func ExampleExplain() {
	c, err := netlist.NewCircuit(&netlist.Harness{
		Name:       "two terminators",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Modules: []netlist.Module{
			{Name: "left", Connectors: []string{"X1"}, Transceiver: "older"},
			{Name: "right", Connectors: []string{"X2"}, Transceiver: "older"},
		},
		Terminators: []netlist.Terminator{{Name: "T1", At: "left", Ohms: 120}, {Name: "T2", At: "right", Ohms: 120}},
		Pairs:       []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 5, SectionMM2: 0.35}},
	})
	if err != nil {
		log.Fatal(err)
	}
	h, _ := c.Point("X1.H")
	l, _ := c.Point("X1.L")
	d, err := derivation.Explain(c, derivation.Question{From: h, To: l, Meter: solve.DefaultMeter()})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(d.Answer())
	for _, t := range d.Terms {
		fmt.Printf("%-12s %+7.3f %7.3f\n", t.Group, t.Value, t.Total)
	}
	// Output:
	// From X1.H to X1.L the meter shows 60.0 Ω: 60.00 Ω because two terminators of 120 Ω lie in parallel (T1 and T2), less 0.13 Ω for the inputs of two modules beside them, plus 0.14 Ω for wires and contacts (most of it in P1).
	// terminators  +60.000  60.000
	// loads on the supply rail  +0.000  60.000
	// transceivers  -0.126  59.874
	// wires         +0.129  60.004
	// contacts      +0.006  60.010
}
