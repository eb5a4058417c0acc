package netfile_test

import (
	"strings"
	"testing"

	"example.com/ohmloom/netlist/netfile"
	"github.com/google/go-cmp/cmp"
)

// Mistakes in rates are found at their place, beside those in the rest of the file,
// and what follows from others is left out.
func TestParseRates(t *testing.T) {
	const bus = `harness: bus
networks:
  - {name: bus, layer: high-speed}
connectors:
  - {name: X1}
  - {name: X2}
modules:
  - {name: M1, connectors: X1}
  - {name: M2, connectors: X2}
terminators:
  - {name: T1, at: M1, ohms: 120}
pairs:
  - {name: P1, from: X1, to: X2, length_m: 1, section_mm2: 0.35}
rates:
  - {kind: backed-out, rate: 10, source: diary}
  - {part: P1, times: 5, note: "wet, often"}
`
	const kinds = "one of open, open-both, joint, short-to-ground, short-to-supply, short-between, short-networks, leak, backed-out, unplugged, swapped, terminator-missing, terminator-value, terminator-extra, no-supply, no-ground, ground-offset, stuck-dominant, shorted-inside"
	const timesHint = "write what the rate is multiplied by, for example times: 5"
	tests := []struct {
		name    string
		changes []string // old, new, old, new...
		want    []string
	}{
		{"nothing wrong", nil, nil},
		{"none", []string{"  - {kind: backed-out, rate: 10, source: diary}\n", "", "  - {part: P1, times: 5, note: \"wet, often\"}\n", "", "rates:\n", "rates: []\n"}, nil},
		{"several at once", []string{"kind: backed-out, rate: 10", "kind: backedout, rate: 1e7", "part: P1, times: 5,", "part: P9, times: 0,", "to: X2", "to: X3"}, []string{
			`13:30: pair P1: there is no connector or splice "X3"; write one of X1, X2`,
			`15:12: rate entry number 1: kind is "backedout", must be ` + kinds + `; write backed-out`,
			`15:29: rate entry number 1: rate is 10000000, must be at least 0 and at most 1000000; write rate in place of what it was, for example rate: 10`,
			`16:12: rate entry number 2: there is no part P9; write one of X1, X2, M1, M2, T1, P1`,
			`16:23: rate entry number 2: times is 0, must be above 0 and at most 1000000; ` + timesHint,
		}},
		{"neither and both", []string{"kind: backed-out, rate: 10,", "kind: backed-out,", "times: 5,", "times: 5, rate: 0,"}, []string{
			`15:5: rate entry number 1: has neither rate nor times; write rate (in place of what it was) or times (multiplies it)`,
			`16:5: rate entry number 2: has both rate and times; write one of them`,
		}},
		{"about nothing", []string{"kind: backed-out, ", ""}, []string{
			`15:5: rate entry number 1: does not say which faults it is about; write kind, part or both`,
		}},
		{"a rate that is no number is not missing", []string{"rate: 10", "rate: often"}, []string{
			`15:30: rate entry number 1: rate is "often", must be a number; write rate in place of what it was, for example rate: 10`,
		}},
		{"nor is one under another key", []string{"times: 5", "factor: 5"}, []string{
			`16:16: rate entry number 2: unknown key "factor"; write one of the known keys kind, part, rate, times, note, source`,
		}},
		{"a name that could not be read may be meant", []string{"name: P1", "name: P 1"}, []string{
			`13:12: pair P 1: name is "P 1", but a name has only letters, digits, _ and -, not a blank; write a name such as P_1`,
		}},
		{"nor may one that is missing be held against the entry", []string{"{name: T1, ", "{", "part: P1", "part: T1"}, []string{
			`11:5: terminator number 1: name is missing; write name of the terminator`,
		}},
		{"but it is no connector of a module", []string{"{name: T1, ", "{", "connectors: X2", "connectors: X3"}, []string{
			`9:28: module M2: there is no connector X3; write one of X1, X2`,
			`11:5: terminator number 1: name is missing; write name of the terminator`,
		}},
		{"nothing refers to a stray path, be its name lost", []string{"rates:\n", "strays:\n  - {from: X1.H, to: ground, ohms: 1e5}\nrates:\n", "part: P1", "part: P9"}, []string{
			`15:5: stray path number 1: name is missing; write name of the stray path`,
			`18:12: rate entry number 2: there is no part P9; write one of X1, X2, M1, M2, T1, P1`,
		}},
		{"the other parts do not hang on rates", []string{"rates:\n", "rates: often\n", "to: X2", "to: X3", "  - {kind: backed-out, rate: 10, source: diary}\n", "", "  - {part: P1, times: 5, note: \"wet, often\"}\n", ""}, []string{
			`13:30: pair P1: there is no connector or splice "X3"; write one of X1, X2`,
			`14:8: rates is a single value, must be a list; write a list of how common faults are beside each other, where it is not as built in`,
		}},
		{"nor on an entry", []string{"- {part: P1, times: 5, note: \"wet, often\"}", "- P1", "to: X2", "to: X3"}, []string{
			`13:30: pair P1: there is no connector or splice "X3"; write one of X1, X2`,
			`16:5: rate entry number 2: entry 2 of rates is a single value, must be a mapping (key: value); write keys out of kind, part, rate, times, note, source`,
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := problemsOf(t, bus, test.changes)
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
			}
		})
	}
}

// problemsOf lists what is wrong with a file when pieces of it that are there once have
// been changed (old, new, old, new...), each with line and column.
func problemsOf(t *testing.T, file string, changes []string) []string {
	t.Helper()
	for i := 0; i < len(changes); i += 2 {
		if strings.Count(file, changes[i]) != 1 {
			t.Fatalf("%q is not there once", changes[i])
		}
		file = strings.Replace(file, changes[i], changes[i+1], 1)
	}
	var got []string
	if _, err := netfile.Parse("h.yaml", []byte(file)); err != nil {
		for _, line := range strings.Split(err.Error(), "\n") {
			got = append(got, strings.TrimPrefix(line, "h.yaml:"))
		}
	}
	return got
}
