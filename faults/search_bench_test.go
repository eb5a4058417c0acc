package faults

import (
	"math"
	"testing"

	"example.com/ohmloom/solve"
)

// All pairs of faults of the demo held against twelve readings, by bounds alone.
func BenchmarkBoundPairs(b *testing.B) {
	c := loadDemo(b, "orchard")
	list := Catalogue(c)
	in := DefaultInstrument()
	var readings []Reading
	for _, at := range []string{"X1", "X2", "X11", "X4"} {
		for between, ohms := range map[string]float64{"drive.H-drive.L": 60.3, "drive.H-ground": 3720, "drive.L-ground": 3720} {
			readings = append(readings, Reading{probeAt(b, c, solve.Ohms, at, between), solve.Value{Number: ohms}})
		}
	}
	s, err := newSearch(newField(c, list, 0), newEvidence(c, readings, in), in.Meter)
	if err != nil {
		b.Fatal(err)
	}
	s.floor = math.Inf(1) // no closer look
	var to Searched
	b.ReportAllocs()
	for b.Loop() {
		to = Searched{}
		s.pairs(&to, false)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(to.Pairs), "ns/pair")
}
