// Command whichend reads a harness file, matches two readings that any open
// trunk gives, and shows how unplugging one connector tells which end it is.
package main

import (
	"fmt"
	"log"
	"os"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func main() {
	path := "examples/bench/harness.yaml"
	if len(os.Args) > 1 {
		path = os.Args[1]
	}
	harness, err := netfile.Read(path)
	if err != nil {
		log.Fatal(err)
	}
	circuit, err := netlist.NewCircuit(harness)
	if err != nil {
		log.Fatal(err)
	}
	catalogue := faults.Catalogue(circuit)

	// 120 ohms at the measuring point: one terminator is out of reach.
	at := func(ohms float64, unplugged ...string) faults.Reading {
		probe, err := faults.ProbeAt(circuit, solve.Ohms, "X1", "H-L", solve.Condition{Unplugged: unplugged})
		if err != nil {
			log.Fatal(err)
		}
		return faults.Reading{Probe: probe, Value: solve.Value{Number: ohms}}
	}
	readings := []faults.Reading{at(120.4)}
	show("120.4 ohms at X1", circuit, catalogue, readings)

	// With the left module unplugged the reading stays: its terminator was not
	// the one that was left, so the fault is on its side.
	readings = append(readings, at(120.4, "X2"))
	show("and the same with X2 unplugged", circuit, catalogue, readings)
}

func show(title string, circuit *netlist.Circuit, catalogue []*faults.Fault, readings []faults.Reading) {
	match, err := faults.MakeMatch(circuit, catalogue, readings, faults.DefaultInstrument(), nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(title + ":")
	for _, part := range match.Parts {
		if part.Probability < 0.05 {
			break
		}
		fmt.Printf("  %-14s %2.0f %%\n", part.Part, 100*part.Probability)
	}
}
