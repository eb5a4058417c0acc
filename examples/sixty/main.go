// Command sixty builds a small harness in Go and shows where 60 and 120 ohms
// come from.
package main

import (
	"fmt"
	"log"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func main() {
	harness := &netlist.Harness{
		Name:     "sixty",
		Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "X1"}, // the measuring point
			{Name: "X2"},
			{Name: "X3"},
		},
		Splices: []netlist.Splice{{Name: "S1"}},
		Modules: []netlist.Module{
			{Name: "left", Connectors: []string{"X2"}, Transceiver: "modern"},
			{Name: "right", Connectors: []string{"X3"}, Transceiver: "modern"},
		},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "left", Ohms: 120},
			{Name: "T2", At: "right", Ohms: 120},
		},
		Pairs: []netlist.Pair{
			{Name: "P1", From: []string{"X1"}, To: []string{"S1"}, LengthM: 0.5, SectionMM2: 0.35},
			{Name: "P2", From: []string{"S1"}, To: []string{"X2"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P3", From: []string{"S1"}, To: []string{"X3"}, LengthM: 3, SectionMM2: 0.35},
		},
	}
	circuit, err := netlist.NewCircuit(harness)
	if err != nil {
		log.Fatal(err)
	}
	h, err := circuit.Point("X1.H")
	if err != nil {
		log.Fatal(err)
	}
	l, err := circuit.Point("X1.L")
	if err != nil {
		log.Fatal(err)
	}
	// Supply off and the network asleep, as for every resistance reading.
	for _, unplugged := range [][]string{nil, {"X2"}, {"X2", "X3"}} {
		net, err := solve.Assemble(circuit, solve.Condition{Unplugged: unplugged}, nil)
		if err != nil {
			log.Fatal(err)
		}
		value, err := net.Read(solve.Ohms, h, l, solve.DefaultMeter())
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("unplugged %v: %s\n", unplugged, solve.FormatReading(solve.Ohms, value))
	}
}
