package faults

import (
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// The what-if table of each demo harness, all ohms readings.
func BenchmarkTable(b *testing.B) {
	for _, demo := range demos {
		c := loadDemo(b, demo)
		list, probes := Catalogue(c), Probes(c, Selection{})
		b.Run("harness="+demo, func(b *testing.B) {
			for b.Loop() {
				if _, err := MakeTable(c, list, probes, DefaultInstrument(), nil); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(list)*len(probes)), "cells")
		})
	}
}

// A match of six readings in the demo harness.
func BenchmarkMatch(b *testing.B) {
	c := loadDemo(b, "orchard")
	list := Catalogue(c)
	var readings []Reading
	for i, between := range []string{"drive.H-drive.L", "drive.H-ground", "drive.L-ground"} {
		for j, at := range []string{"X1", "X2"} {
			ohms := [][]float64{{60.8, 22220}, {4820, 17440}, {4780, 4780}}[i][j]
			readings = append(readings, Reading{probeAt(b, c, solve.Ohms, at, between), solve.Value{Number: ohms}})
		}
	}
	for b.Loop() {
		if _, err := MakeMatch(c, list, readings, DefaultInstrument(), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// One leak, one reading: by the closed form from the healthy net, and by a net of
// its own. The ratio of the two is what the closed form is worth.
func BenchmarkOneFault(b *testing.B) {
	c := loadDemo(b, "orchard")
	f := findFault(b, Catalogue(c), "leak work.H to ground at connector X17")
	probe := probeAt(b, c, solve.Ohms, "X1", "work.H-ground")
	p, err := newPredictor(c, []Probe{probe}, solve.DefaultMeter())
	if err != nil {
		b.Fatal(err)
	}
	ready, err := p.prepare(f, 0.5)
	if err != nil {
		b.Fatal(err)
	}
	out := make([]solve.Value, 1)
	b.Run("by=closed-form", func(b *testing.B) {
		for b.Loop() {
			if err := ready.values(330, out); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("by=fresh-net", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := p.direct(p.groups[0], nil, f.Changes(330, 0.5)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

var sinkCircuit *netlist.Circuit

// Deriving the circuit of the demo harness.
func BenchmarkNewCircuit(b *testing.B) {
	h := loadDemo(b, "orchard").Harness
	for b.Loop() {
		c, err := netlist.NewCircuit(h)
		if err != nil {
			b.Fatal(err)
		}
		sinkCircuit = c
	}
}
