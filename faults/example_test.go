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
	h, err := netfile.Read("../examples/bench/harness.yaml")
	if err != nil {
		log.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		log.Fatal(err)
	}
	return c
}

// What two faults read at the measuring point.
func ExampleMakeTable() {
	c := bench()
	probe, err := faults.ProbeAt(c, solve.Ohms, "X1", "H-L", solve.Condition{})
	if err != nil {
		log.Fatal(err)
	}
	var list []*faults.Fault
	for _, f := range faults.Catalogue(c) {
		if f.Name == "terminator T1 missing" || f.Name == "open H in pair P1" {
			list = append(list, f)
		}
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
	for _, x := range []struct {
		at   string
		ohms float64
	}{{"X1", 0.5}, {"X4", 0.2}} {
		probe, err := faults.ProbeAt(c, solve.Ohms, x.at, "H-L", solve.Condition{})
		if err != nil {
			log.Fatal(err)
		}
		readings = append(readings, faults.Reading{Probe: probe, Value: solve.Value{Number: x.ohms}})
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
