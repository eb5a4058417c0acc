package faults

import (
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
)

// Each remark on a harness that has just that to be remarked on.
func TestRemarks(t *testing.T) {
	network := func(layer string, kinds []string, lengthM float64, terminators ...float64) *netlist.Harness {
		h := &netlist.Harness{Name: layer, Networks: []netlist.Network{{Name: "bus", Layer: layer}}, Splices: []netlist.Splice{{Name: "S1"}}}
		for i, kind := range kinds {
			name := string(rune('a' + i))
			h.Connectors = append(h.Connectors, netlist.Connector{Name: "X" + name})
			h.Modules = append(h.Modules, netlist.Module{Name: name, Connectors: []string{"X" + name}, Transceiver: kind})
			h.Pairs = append(h.Pairs, netlist.Pair{Name: "P" + name, From: []string{"S1"}, To: []string{"X" + name}, LengthM: lengthM, SectionMM2: 0.35})
		}
		for i, ohms := range terminators {
			h.Terminators = append(h.Terminators, netlist.Terminator{Name: "T" + string(rune('1'+i)), At: string(rune('a' + i)), Ohms: ohms})
		}
		return h
	}
	three, wire := []string{"modern", "modern", "modern"}, []string{"commander", "responder", "responder"}
	for _, tt := range []struct {
		name    string
		harness *netlist.Harness
		want    []string // part of each remark, in order
	}{
		{"nothing", network("high-speed", three, 1, 120, 120), nil},
		{"one terminator", network("high-speed", three, 1, 120), []string{"number of terminators: 1", "has 120.0 Ω"}},
		{"three terminators", network("high-speed", three, 1, 120, 120, 120), []string{"number of terminators: 3", "40"}},
		{"terminator out of range", network("high-speed", three, 1, 120, 95), []string{"is 95 Ω; the layer has 100 to 130 Ω"}},
		{"long wires", network("high-speed", []string{"modern", "modern"}, 200, 120, 120), []string{"between its conductors", "pair Pa H", "pair Pa L", "pair Pb H", "pair Pb L"}},
		{"one-wire", network("one-wire", wire, 1), nil},
		{"no commander", network("one-wire", []string{"responder", "responder"}, 1), []string{"transceiver: commander): 0"}},
		{"two commanders", network("one-wire", []string{"commander", "commander"}, 1), []string{"transceiver: commander): 2"}},
		{"terminator on fault-tolerant", network("fault-tolerant", []string{"", ""}, 1, 120), []string{"number of terminators: 1; the layer has none"}},
		{"too many modules", network("one-wire", append(append([]string{}, wire...), strings.Split("responder,responder,responder,responder,responder,responder,responder,responder,responder,responder,responder,responder,responder,responder", ",")...), 1), []string{"number of modules: 17; the layer has 16 at most"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := netlist.NewCircuit(tt.harness)
			if err != nil {
				t.Fatal(err)
			}
			got, err := Remarks(c)
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != len(tt.want) {
				t.Fatalf("%d remarks, want %d: %v", len(got), len(tt.want), got)
			}
			for i, r := range got {
				if text := r.About + " " + r.What; !strings.Contains(text, tt.want[i]) || r.Source == "" {
					t.Errorf("remark %q (%s), want %q in it", text, r.Source, tt.want[i])
				}
			}
		})
	}
}
