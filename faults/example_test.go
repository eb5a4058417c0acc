package faults_test

import (
	"fmt"
	"log"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func bench() *netlist.Circuit {
	c, err := netfile.ReadCircuit("../examples/bench/harness.yaml")
	if err != nil {
		log.Fatal(err)
	}
	return c
}

// What two faults read at the measuring point.
func ExampleMakeTable() {
	c := bench()
	probe, err := faults.ParseProbe(c, "X1 H-L, ohms")
	if err != nil {
		log.Fatal(err)
	}
	list, err := faults.Named(faults.Catalogue(c), "open H in pair P1", "terminator T1 missing")
	if err != nil {
		log.Fatal(err)
	}
	table, err := faults.MakeTable(c, list, []faults.Probe{probe}, faults.DefaultInstrument(), nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("healthy:", solve.FormatReading(solve.Ohms, table.Healthy[0]))
	for _, row := range table.Rows {
		fmt.Println(row.Fault.Name+":", solve.FormatReading(solve.Ohms, row.Values[0]))
	}
	// Output:
	// healthy: 60.1 Ω
	// open H in pair P1: OL
	// terminator T1 missing: 120.0 Ω
}

// 0.4 Ω between the conductors: a short, but where? A reading at the other end
// tells.
func ExampleMakeMatch() {
	c := bench()
	var readings []faults.Reading
	for _, x := range [][2]string{{"X1 H-L", "0.5"}, {"X4 H-L", "0.2"}} {
		reading, err := faults.ParseReading(c, x[0], x[1])
		if err != nil {
			log.Fatal(err)
		}
		readings = append(readings, reading)
	}
	match, err := faults.MakeMatch(c, faults.Catalogue(c), readings, faults.DefaultInstrument(), nil)
	if err != nil {
		log.Fatal(err)
	}
	for _, h := range match.Hypotheses[:2] {
		fmt.Printf("%s, repair %s\n", h.Name, h.Fault.Part)
	}
	// Output:
	// short H to L at connector X4 (cavities H and L), repair X4
	// short H to L in pair P4, repair P4
}

// Healthy wiring, and 300 Ω to ground a quarter of the way along a pair.
func ExampleProbe_Read() {
	c := bench()
	probe, err := faults.ParseProbe(c, "X1 H-ground, volts")
	if err != nil {
		log.Fatal(err)
	}
	found, err := faults.Named(faults.Catalogue(c), "short H to ground in pair P2")
	if err != nil {
		log.Fatal(err)
	}
	leak := found[0].With(300, 0.25)
	healthy, err := probe.Read(c, solve.DefaultMeter())
	if err != nil {
		log.Fatal(err)
	}
	leaking, err := probe.Read(c, solve.DefaultMeter(), leak)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("healthy:", solve.FormatReading(probe.Quantity, healthy))
	fmt.Println(leak.Name+":", solve.FormatReading(probe.Quantity, leaking))
	// Output:
	// healthy: 2.499 V
	// short H to ground in pair P2, 300 Ω, 25 % along: 0.249 V
}
