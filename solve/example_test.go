package solve_test

import (
	"fmt"
	"log"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func twoTerminators() *netlist.Circuit {
	c, err := netlist.NewCircuit(&netlist.Harness{
		Name:       "two terminators",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Modules: []netlist.Module{
			{Name: "left", Connectors: []string{"X1"}, Transceiver: "modern"},
			{Name: "right", Connectors: []string{"X2"}, Transceiver: "modern"},
		},
		Terminators: []netlist.Terminator{{Name: "T1", At: "left", Ohms: 120}, {Name: "T2", At: "right", Ohms: 120}},
		Pairs:       []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 5, SectionMM2: 0.35}},
	})
	if err != nil {
		log.Fatal(err)
	}
	return c
}

// The smallest reading: between the conductors at one connector, supply off.
func ExampleNet_Read() {
	c := twoTerminators()
	h, _ := c.Point("X1.H")
	l, _ := c.Point("X1.L")
	net, err := solve.Assemble(c, solve.Condition{}, nil)
	if err != nil {
		log.Fatal(err)
	}
	v, err := net.Read(solve.Ohms, h, l, solve.DefaultMeter())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(solve.FormatReading(solve.Ohms, v))
	// Output: 60.1 Ω
}

// A short between the conductors half-way along a pair, for any ohms, from one
// solve.
func ExampleNet_Vary() {
	c := twoTerminators()
	h, _ := c.Point("X1.H")
	l, _ := c.Point("X1.L")
	wireH, _ := c.Element("pair P1 H")
	wireL, _ := c.Element("pair P1 L")
	net, err := solve.Assemble(c, solve.Condition{}, nil)
	if err != nil {
		log.Fatal(err)
	}
	healthy, err := net.Respond(solve.Ohms, h, l, solve.DefaultMeter())
	if err != nil {
		log.Fatal(err)
	}
	short, err := net.Vary(solve.Bridge{From: solve.OnWire(wireH, 0.5), To: solve.OnWire(wireL, 0.5)})
	if err != nil {
		log.Fatal(err)
	}
	for _, ohms := range []float64{0, 10, 1000} {
		fmt.Println(ohms, "Ω:", solve.FormatReading(solve.Ohms, short.Value(healthy, ohms)))
	}
	// Output:
	// 0 Ω: 0.26 Ω
	// 10 Ω: 8.80 Ω
	// 1000 Ω: 56.7 Ω
}
