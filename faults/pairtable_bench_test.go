package faults

import (
	"context"
	"fmt"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func hlProbes(c *netlist.Circuit) []Probe {
	var out []Probe
	for _, p := range Probes(c, Selection{}) {
		if a, b := c.Nodes[p.From].Conductor, c.Nodes[p.To].Conductor; a.Network != "" && a.Network == b.Network {
			out = append(out, p)
		}
	}
	return out
}

func BenchmarkPairTable(b *testing.B) {
	for _, n := range []int{60} {
		c := loadLayout(b, "../testdata/layouts/fleet-60.yaml")
		list, probes := Catalogue(c), hlProbes(c)
		_ = solve.Ohms
		b.Run(fmt.Sprintf("connectors=%d/make", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument()); err != nil {
					b.Fatal(err)
				}
			}
		})
		t, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("connectors=%d/pairs", n), func(b *testing.B) {
			b.ReportAllocs()
			var counts PairCounts
			for b.Loop() {
				counts, err = t.Stream(context.Background(), PairOptions{}, func(*PairBlock) error { return nil })
				if err != nil {
					b.Fatal(err)
				}
			}
			b.Log(counts, len(probes))
		})
	}
}
