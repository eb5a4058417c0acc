package netfile_test

import (
	"strings"
	"testing"

	"example.com/ohmloom/netlist/netfile"
)

// TestParseLeavesOutConsequences has files with a problem of form, and with a
// problem of the harness beside it that stands or is a mere consequence.
func TestParseLeavesOutConsequences(t *testing.T) {
	const bus = `harness: bus
networks:
  - {name: bus, layer: high-speed}
  - {name: aux, layer: high-speed}
connectors:
  - {name: X1, network: bus}
  - {name: X2, network: bus, cavities: {1: H, 2: L}}
  - {name: X3, cavities: {1: aux.H, 2: aux.L}}
  - {name: X4, cavities: {1: aux.H, 2: aux.L}}
splices:
  - {name: S1, network: bus}
modules:
  - {name: M1, connectors: X1}
  - {name: M2, connectors: [X2, X3]}
  - {name: M3, connectors: X4}
terminators:
  - {name: T1, at: M1, ohms: 120}
  - {name: T2, at: M3, ohms: 120, network: aux}
pairs:
  - {name: P1, from: X1, to: S1, length_m: 1, section_mm2: 0.35}
  - {name: P2, from: S1, to: X2, length_m: 1, section_mm2: 0.35}
wires:
  - {name: W1, from: X3.1, to: X4.1, length_m: 1, section_mm2: 0.35}
  - {name: W2, from: X3.2, to: X4.2, length_m: 1, section_mm2: 0.35}
`
	tests := []struct {
		name    string
		changes []string // old, new, old, new...
		want    []string // beginnings of the problems
	}{
		{"nothing wrong", nil, nil},
		{
			"a length says nothing of another wire's end",
			[]string{"to: X4.1, length_m: 1", "to: X4.1, length_m: 0", "to: X4.2", "to: X4.9"},
			[]string{"23:48: wire W1: length_m is 0", "24:32: wire W2: ends in cavity X4.9"},
		},
		{
			"nor of its own",
			[]string{"to: X4.1, length_m: 1", "to: X4.9, length_m: 0"},
			[]string{"23:32: wire W1: ends in cavity X4.9", "23:48: wire W1: length_m is 0"},
		},
		{
			"a length that is no number is not missing",
			[]string{"to: X4.1, length_m: 1", "to: X4.1, length_m: one"},
			[]string{"23:48: wire W1: length_m is \"one\""},
		},
		{
			"nor is one under a misspelt key",
			[]string{"to: X4.1, length_m: 1", "to: X4.1, length: 1"},
			[]string{"23:38: wire W1: unknown key \"length\""},
		},
		{
			"a wrong value is reported once",
			[]string{"ohms: 120, network: aux", "ohms: -1, network: aux"},
			[]string{"18:30: terminator T2: ohms is -1"},
		},
		{
			"cavities in doubt, wires to them stand for nothing",
			[]string{"{name: X4, cavities:", "{name: X4, cavites:", "to: X4.2", "to: X4.9"},
			[]string{"9:16: connector X4: unknown key \"cavites\""},
		},
		{
			"note of a connector, wires to it stand",
			[]string{"{name: X4,", "{name: X4, note: [],", "to: X4.2", "to: X4.9"},
			[]string{"9:22: connector X4: note is a list", "24:32: wire W2: ends in cavity X4.9"},
		},
		{
			"reach of a connector, wires to it stand",
			[]string{"{name: X4,", "{name: X4, reach_min: -1,", "to: X4.2", "to: X4.9"},
			[]string{"9:27: connector X4: reach_min is -1", "24:32: wire W2: ends in cavity X4.9"},
		},
		{
			"wrong name, what may mean it is left out, what cannot stands",
			[]string{"{name: X4,", "{name: X 4,", "from: X3.2", "from: X44.2", "connectors: X1", "connectors: X999"},
			[]string{"9:12: connector X 4: name is \"X 4\"", "13:28: module M1: there is no connector X999"},
		},
		{
			"wrong name with a dot",
			[]string{"{name: X4,", "{name: X.4,"},
			[]string{"9:12: connector X.4: name is \"X.4\""},
		},
		{
			"wrong name in one entry of a list, the unlike one stands",
			[]string{"{name: X4,", "{name: X 4,", "{name: M3, connectors: X4}", "{name: M3, connectors: [X 4, X999]}"},
			[]string{"9:12: connector X 4: name is \"X 4\"", "15:34: module M3: there is no connector X999"},
		},
		{
			"no name, anything may mean it",
			[]string{"{name: X4,", "{", "connectors: X1", "connectors: X999"},
			[]string{"9:5: connector number 4: name is missing"},
		},
		{
			"an entry that is no mapping, anything may mean it",
			[]string{"{name: X4, cavities: {1: aux.H, 2: aux.L}}", "X4", "connectors: X1", "connectors: X999"},
			[]string{"9:5: connector number 4: entry 4 of connectors is a single value"},
		},
		{
			"no name, but names that are built in are known",
			[]string{"{name: X4,", "{", "from: X3.2, to: X4.2", "from: X3.9, to: X3.1", "connectors: X1}", "connectors: X1, transceiver: modren}"},
			[]string{"9:5: connector number 4: name is missing", "24:22: wire W2: ends in cavity X3.9"},
		},
		{
			"no name, but rails are known",
			[]string{"{name: X4,", "{", "wires:\n", "strays:\n  - {name: R1, from: ground, to: ground, ohms: 1}\nwires:\n"},
			[]string{"9:5: connector number 4: name is missing", "23:34: stray path R1: both ends are ground"},
		},
		{
			"four wrong names, a name like none of them stands",
			[]string{"{name: X4,", "{name: X 4}\n  - {name: X 5}\n  - {name: X 6}\n  - {name: X 7,", "connectors: X1}", "connectors: X999}"},
			[]string{"9:12: connector X 4", "10:12: connector X 5", "11:12: connector X 6", "12:12: connector X 7", "16:28: module M1: there is no connector X999"},
		},
		{
			"five wrong names, no name is sure",
			[]string{"{name: X4,", "{name: X 4}\n  - {name: X 5}\n  - {name: X 6}\n  - {name: X 7}\n  - {name: X 8,", "connectors: X1}", "connectors: X999}"},
			[]string{"9:12: connector X 4", "10:12: connector X 5", "11:12: connector X 6", "12:12: connector X 7", "13:12: connector X 8"},
		},
		{
			"layer of a network, a part without a network may be on it",
			[]string{"{name: aux, layer: high-speed}", "{name: aux, layer: high}", "{name: S1, network: bus}", "{name: S1, joins: [H, M]}"},
			[]string{"4:24: network aux: layer is \"high\""},
		},
		{
			"two names, either may be meant",
			[]string{"{name: X4,", "{name: X4, name: X5,", "from: X3.2", "from: X5.1"},
			[]string{"9:16: connector X4: key \"name\" is there twice"},
		},
		{
			"no name of a wire, to which nothing refers",
			[]string{"{name: W2, ", "{", "from: X3.1", "from: X9.1"},
			[]string{"23:22: wire W1: there is no connector or splice \"X9\"", "24:5: wire number 2: name is missing"},
		},
		{
			"layer of a network, all on it is in doubt",
			[]string{"{name: bus, layer: high-speed}", "{name: bus, layer: high}", "{name: X2, network: bus, cavities: {1: H, 2: L}}", "{name: X2, network: bus, cavities: {1: H, 2: M}}", "to: X4.2", "to: X4.9"},
			[]string{"3:24: network bus: layer is \"high\"", "24:32: wire W2: ends in cavity X4.9"},
		},
		{
			"layer of a network, conductors that name it are in doubt",
			[]string{"{name: aux, layer: high-speed}", "{name: aux, layer: high}", "1: aux.H, 2: aux.L}}\n  - {name: X4", "1: aux.H, 2: aux.M}}\n  - {name: X4", "network: bus, cavities: {1: H, 2: L}", "network: bus, cavities: {1: H, 2: L, 3: M}"},
			[]string{"4:24: network aux: layer is \"high\"", "7:56: connector X2: \"M\" is no conductor"},
		},
		{
			"place of a terminator in doubt",
			[]string{"{name: M3, connectors: X4}", "{name: M3, connectors: {X4: }}"},
			[]string{"15:28: module M3: connectors is a mapping"},
		},
		{
			"unknown key with one value, no list is lost",
			[]string{"splices:", "colour: red\nsplices:", "to: X4.2", "to: X4.9"},
			[]string{"10:1: unknown key \"colour\"", "25:32: wire W2: ends in cavity X4.9"},
		},
		{
			"unknown key with a list, which may be one of the harness",
			[]string{"splices:", "slices:", "to: X4.2", "to: X4.9"},
			[]string{"10:1: unknown key \"slices\""},
		},
		{
			"list of the wrong form",
			[]string{"splices:\n  - {name: S1, network: bus}", "splices: {name: S1, network: bus}", "to: X4.2", "to: X4.9"},
			[]string{"10:10: splices is a mapping"},
		},
		{
			"values of the harness itself, all else stands",
			[]string{"harness: bus", "harness: ''\ntemperature_c: 1e9\nsupply: {volts: 0}", "to: X4.2", "to: X4.9"},
			[]string{"1:10: harness is empty", "2:16: temperature_c is 1e9", "3:17: supply: volts is 0", "26:32: wire W2: ends in cavity X4.9"},
		},
		{
			"no YAML at all",
			[]string{"harness: bus", "harness: [bus", "to: X4.2", "to: X4.9"},
			[]string{"2:9: a comma or the closing ] is missing"},
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			file := bus
			for i := 0; i < len(test.changes); i += 2 {
				if strings.Count(file, test.changes[i]) != 1 {
					t.Fatalf("%q is not there once", test.changes[i])
				}
				file = strings.Replace(file, test.changes[i], test.changes[i+1], 1)
			}
			var got []string
			if _, err := netfile.Parse("h.yaml", []byte(file)); err != nil {
				got = strings.Split(err.Error(), "\n")
			}
			ok := len(got) == len(test.want)
			for i := range test.want {
				ok = ok && strings.HasPrefix(got[i], "h.yaml:"+test.want[i])
			}
			if !ok {
				t.Errorf("got\n%s\nwant lines that begin with\n%s", strings.Join(got, "\n"), strings.Join(test.want, "\n"))
			}
		})
	}
}
