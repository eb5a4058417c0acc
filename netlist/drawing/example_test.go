package drawing_test

import (
	"bytes"
	"fmt"
	"log"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
)

// A bus of two connectors with plug-in terminators, and what was read at one.
func ExampleDraw() {
	circuit, err := netlist.NewCircuit(&netlist.Harness{
		Name:        "bench lead",
		Networks:    []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors:  []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Terminators: []netlist.Terminator{{Name: "T1", At: "X1", Ohms: 120}, {Name: "T2", At: "X2", Ohms: 120}},
		Pairs:       []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 2, SectionMM2: 0.35}},
	})
	if err != nil {
		log.Fatal(err)
	}
	picture, err := drawing.Draw(circuit, &drawing.Options{Notes: map[string][]drawing.Note{
		"X1": {{Text: "H-L 120.1 Ω", Kind: drawing.Reading}},
		"P1": {{Text: "90 %", Weight: 0.9, Kind: drawing.Likely}},
	}})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("rows:", picture.Rows)
	fmt.Println("has P1:", bytes.Contains(picture.SVG(), []byte(`id="`+drawing.PartID("", "P1")+`"`)))
	way, err := drawing.Trunk(circuit, "bus")
	if err != nil {
		log.Fatal(err)
	}
	for _, step := range way {
		fmt.Print(step.Part, " ")
	}
	fmt.Println()
	// Output:
	// rows: 1
	// has P1: true
	// T1 X1 P1 X2 T2
}
