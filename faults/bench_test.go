package faults

import (
	"math/rand/v2"
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

// Matches in the demo harness, all pairs of faults with them: of six readings that were
// written down, and of twelve as a drawn vehicle with one wire open reads; cold with the
// catalogue and the ports made anew each time, warm with a matcher that has matched.
func BenchmarkMatch(b *testing.B) {
	c := loadDemo(b, "orchard")
	list := Catalogue(c)
	places := []string{"X1", "X2", "X5", "X11"}
	betweens := []string{"drive.H-drive.L", "drive.H-ground", "drive.L-ground"}
	var six, twelve []Reading
	for i, between := range betweens {
		for j, at := range places[:2] {
			ohms := [][]float64{{60.8, 22220}, {4820, 17440}, {4780, 4780}}[i][j]
			six = append(six, Reading{probeAt(b, c, solve.Ohms, at, between), solve.Value{Number: ohms}})
		}
	}
	v := newVehicle(c, rand.New(rand.NewPCG(12, 12)), DefaultInstrument(), findFault(b, list, "open drive.H in pair P9").Changes(0, 0.5)...)
	for _, at := range places {
		for _, between := range betweens {
			twelve = append(twelve, v.read(b, probeAt(b, c, solve.Ohms, at, between)))
		}
	}
	for _, x := range []struct {
		name     string
		readings []Reading
	}{{"6", six}, {"12", twelve}} {
		b.Run("readings="+x.name+"/cold", func(b *testing.B) {
			for b.Loop() {
				if _, err := MakeMatch(c, list, x.readings, DefaultInstrument(), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
		warm := NewMatcher(c, list, DefaultInstrument())
		b.Run("readings="+x.name+"/warm", func(b *testing.B) {
			for b.Loop() {
				if _, err := warm.Match(x.readings, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
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
