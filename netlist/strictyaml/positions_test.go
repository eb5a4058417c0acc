package strictyaml_test

import (
	"fmt"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
	"github.com/google/go-cmp/cmp"
)

const positionsFile = `rig: bench
supply:
  volts: 12.5
parts:
- name: P1
  ends: X1
  pins:
    1: high
    a.b: low
    a: mid
- {name: P2, ends: [a, b], name: P3}
labels: [x]
`

func TestPositionsLookup(t *testing.T) {
	var r rig
	positions, _ := strictyaml.Decode("f", []byte(positionsFile), &r)
	tests := []struct {
		path string
		want string
	}{
		{"", "1:1"},
		{"rig", "1:6"},
		{"supply", "3:3"},
		{"supply.volts", "3:10"},
		{"parts", "5:1"},
		{"parts[0]", "5:3"},
		{"parts[0].name", "5:9"},
		{"parts[0].pins", "8:5"},
		{"parts[0].pins.1", "8:8"},
		{"parts[0].pins.a.b", "9:10"}, // the longer key
		{"parts[0].pins.a", "10:8"},
		{"parts[1]", "11:3"},
		{"parts[1].name", "11:10"}, // the first of two
		{"parts[1].ends[1]", "11:24"},
		// What is not there lies in the nearest value around it.
		{"parts[0].ends[0]", "6:9"},
		{"parts[1].length_m", "11:3"},
		{"parts[1].ends[2]", "11:20"},
		{"parts[1].ends[-1]", "11:20"},
		{"parts[1].ends[x]", "11:20"},
		{"parts[1].ends[1", "11:20"},
		{"parts[1].ends.x", "11:20"},
		{"parts[2].name", "5:1"},
		{"partsx", "1:1"},
		{"part", "1:1"},
		{"supply.volts.x", "3:10"},
		{"colour.red[3]", "1:1"},
	}
	for _, test := range tests {
		line, column := positions.Lookup(test.path)
		if got := fmt.Sprintf("%d:%d", line, column); got != test.want {
			t.Errorf("%q is at %s, want %s", test.path, got, test.want)
		}
	}
}

func TestPositionsIsScalar(t *testing.T) {
	var r rig
	positions, _ := strictyaml.Decode("f", []byte(positionsFile), &r)
	for path, want := range map[string]bool{
		"rig": true, "parts[0].ends": true, "parts[1].ends[1]": true,
		"": false, "supply": false, "parts": false, "parts[0]": false, "parts[0].ends[0]": false, "colour": false,
	} {
		if got := positions.IsScalar(path); got != want {
			t.Errorf("IsScalar(%q) = %v, want %v", path, got, want)
		}
	}
	if (strictyaml.Positions{}).IsScalar("rig") {
		t.Error("rig is a scalar in nothing")
	}
}

func TestPositionsLocate(t *testing.T) {
	var r rig
	positions, _ := strictyaml.Decode("f", []byte(positionsFile), &r)
	in := problem.List{
		{Path: "parts[1].ends[1]", What: "is wrong", Element: "part P2"},
		{Path: "rig", What: "is known already", File: "other.yaml", Line: 77, Column: 7},
	}
	want := problem.List{
		{Path: "parts[1].ends[1]", What: "is wrong", Element: "part P2", File: "rig.yaml", Line: 11, Column: 24},
		in[1],
	}
	before := fmt.Sprint(in)
	if diff := cmp.Diff(want, positions.Locate(in, "rig.yaml")); diff != "" {
		t.Errorf("located (-want +got):\n%s", diff)
	}
	if fmt.Sprint(in) != before {
		t.Error("Locate changed the list that it was given")
	}
}

func TestPositionsZeroValue(t *testing.T) {
	var positions strictyaml.Positions
	if line, column := positions.Lookup("rig"); line != 0 || column != 0 {
		t.Errorf("rig is at %d:%d in nothing", line, column)
	}
	got := positions.Locate(problem.List{{Path: "rig", What: "is wrong"}}, "f").Error()
	if want := "f: rig: is wrong"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
