package netfile_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Minutes for looking that cannot be are found at their place, all of them in one pass
// and beside other mistakes.
func TestParseLooks(t *testing.T) {
	const bus = `harness: bus
look_min: 4
look_wire_min: 20.5
networks:
  - {name: bus, layer: high-speed}
connectors:
  - {name: X1, look_min: 0}
  - {name: X2, look_min: 1}
splices:
  - {name: S1, look_min: 2}
modules:
  - {name: M1, connectors: X1, look_min: 3}
  - {name: M2, connectors: X2}
terminators:
  - {name: T1, at: M1, ohms: 120, look_min: 5}
pairs:
  - {name: P1, from: X1, to: S1, length_m: 1, section_mm2: 0.35, look_min: 6}
wires:
  - {name: W1, from: S1.H, to: X2.H, length_m: 1, section_mm2: 0.35, look_min: 10000}
  - {name: W2, from: S1.L, to: X2.L, length_m: 1, section_mm2: 0.35}
`
	const bounds = "must be at least 0 and at most 10000 minutes; "
	for _, tt := range []struct {
		name    string
		changes []string // old, new, old, new...
		want    []string
	}{
		{"nothing wrong", nil, nil},
		{"all at once", []string{
			"look_min: 4", "look_min: -4", "20.5", "soon", "look_min: 0}", "look_min: -1}", "look_min: 2}", "look_min: 1e5}",
			"look_min: 3", "look_min: yes", "look_min: 5", "look_min: .nan", "look_min: 6", "look_min: ~", "10000", "10001", "to: X2.H", "to: X3.H",
		}, []string{
			`2:11: look_min is -4, ` + bounds + `write minutes to look into a connector, module or terminator once one is there, for example look_min: 3`,
			`3:16: look_wire_min is "soon", must be a number; write minutes to open up a wire, pair or splice once one is there, for example look_wire_min: 15`,
			`7:26: connector X1: look_min is -1, ` + bounds + `write minutes to look into it once one is there, for example look_min: 6`,
			`10:26: splice S1: look_min is 100000, ` + bounds + `write minutes to open it up once one is there, for example look_min: 30`,
			`12:42: module M1: look_min is "yes", must be a number; write minutes to look into it once one is there, for example look_min: 25`,
			`15:45: terminator T1: look_min is not a number (NaN); write minutes to look into it once one is there, for example look_min: 10`,
			`17:76: pair P1: look_min is ~, which is no value; write minutes to open it up once one is there, for example look_min: 40, or leave the key out`,
			`19:32: wire W1: there is no connector or splice "X3"; write one of X1, X2, S1`,
			`19:80: wire W1: look_min is 10001, ` + bounds + `write minutes to open it up once one is there, for example look_min: 40`,
		}},
		{"not on what is not looked into", []string{"layer: high-speed", "layer: high-speed, look_min: 3"}, []string{
			`5:36: network bus: unknown key "look_min"; write one of the known keys name, layer`,
		}},
		{"twice", []string{"look_min: 3}", "look_min: 3, look_min: 3}"}, []string{
			`12:45: module M1: key "look_min" is there twice, first on line 12; write it once`,
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := problemsOf(t, bus, tt.changes)
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
			}
		})
	}
}
