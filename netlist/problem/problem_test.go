package problem_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"github.com/google/go-cmp/cmp"
)

func TestProblemString(t *testing.T) {
	tests := []struct {
		name string
		in   problem.Problem
		want string
	}{
		{"zero value", problem.Problem{}, ""},
		{"position alone", problem.Problem{File: "h.yaml", Line: 3}, "h.yaml:3"},
		{
			"everything known",
			problem.Problem{
				File: "harness.yaml", Line: 12, Column: 9, Path: "wires[6].to", Element: "wire W7",
				What:  "ends in cavity X3.9, which connector X3 does not have",
				Write: "one of X3.1, X3.2",
			},
			"harness.yaml:12:9: wire W7: ends in cavity X3.9, which connector X3 does not have; write one of X3.1, X3.2",
		},
		{
			"nothing to write",
			problem.Problem{File: "h.yaml", Line: 3, Column: 1, Element: "splice S1", What: "joins nothing"},
			"h.yaml:3:1: splice S1: joins nothing",
		},
		{
			"only something to write",
			problem.Problem{File: "h.yaml", Line: 3, Write: "a name"},
			"h.yaml:3: write a name",
		},
		{
			"line without column",
			problem.Problem{File: "h.yaml", Line: 3, What: "is odd"},
			"h.yaml:3: is odd",
		},
		{
			"column without line is left out",
			problem.Problem{File: "h.yaml", Column: 3, What: "is odd"},
			"h.yaml: is odd",
		},
		{
			"position without file",
			problem.Problem{Line: 3, Column: 4, What: "is odd"},
			"3:4: is odd",
		},
		{
			"no line: the path stands in for the position",
			problem.Problem{Path: "wires[6].to", What: "is missing"},
			"wires[6].to: is missing",
		},
		{
			"no line, with file: file and path",
			problem.Problem{File: "h.yaml", Path: "wires[6].to", What: "is missing"},
			"h.yaml: wires[6].to: is missing",
		},
		{
			"no line, with element: the element is enough",
			problem.Problem{Path: "wires[6].to", Element: "wire W7", What: "is missing"},
			"wire W7: is missing",
		},
		{
			"with a line the path is left out",
			problem.Problem{Line: 2, Path: "wires[6].to", What: "is missing"},
			"2: is missing",
		},
		{
			"line breaks and escape sequences of the input are escaped",
			problem.Problem{What: "bad \x1b[31m\r\nname é µ Ω", Write: "a\tb"},
			`bad \x1b[31m\r\nname é µ Ω; write a\tb`,
		},
		{
			"broken encoding is escaped",
			problem.Problem{What: "bad \xff byte"},
			`bad \ufffd byte`,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := test.in.String(); got != test.want {
				t.Errorf("String()\n got %s\nwant %s", got, test.want)
			}
		})
	}
}

func numbered(n int) problem.List {
	var list problem.List
	for i := range n {
		list = append(list, problem.Problem{Line: i + 1, What: fmt.Sprintf("problem %d", i+1)})
	}
	return list
}

func TestListError(t *testing.T) {
	tests := []struct {
		name      string
		in        problem.List
		wantLines int
		wantLast  string
	}{
		{"one", numbered(1), 1, "1: problem 1"},
		{"two", numbered(2), 2, "2: problem 2"},
		{"just as many as are printed", numbered(50), 50, "50: problem 50"},
		{"one more than is printed", numbered(51), 51, "and 1 more"},
		{"many more", numbered(1050), 51, "and 1000 more"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			lines := strings.Split(test.in.Error(), "\n")
			if len(lines) != test.wantLines {
				t.Errorf("got %d lines, want %d", len(lines), test.wantLines)
			}
			if lines[0] != "1: problem 1" {
				t.Errorf("first line is %q", lines[0])
			}
			if last := lines[len(lines)-1]; last != test.wantLast {
				t.Errorf("last line is %q, want %q", last, test.wantLast)
			}
			if n := len(lines); n > 50 && lines[49] != "50: problem 50" {
				t.Errorf("line 50 is %q", lines[49])
			}
		})
	}
}

func TestListErr(t *testing.T) {
	for name, empty := range map[string]problem.List{"nil": nil, "empty": {}} {
		if err := empty.Err(); err != nil {
			t.Errorf("%s list: Err() = %v, want nil", name, err)
		}
	}
	err := fmt.Errorf("reading: %w", numbered(2).Err())
	var list problem.List
	if !errors.As(err, &list) {
		t.Fatalf("errors.As found no List in %v", err)
	}
	if diff := cmp.Diff(numbered(2), list); diff != "" {
		t.Errorf("list changed on its way through the error (-want +got):\n%s", diff)
	}
}

func TestListSorted(t *testing.T) {
	in := problem.List{
		{Line: 9, Column: 1, What: "f"},
		{Line: 2, Column: 7, What: "d"},
		{Line: 2, Column: 3, What: "b"},
		{Line: 2, Column: 7, What: "e"},
		{Line: 0, What: "a"},
		{Line: 2, Column: 3, What: "c"},
	}
	before := fmt.Sprint(in)
	var got strings.Builder
	for _, p := range in.Sorted() {
		got.WriteString(p.What)
	}
	if got.String() != "abcdef" {
		t.Errorf("order is %s, want abcdef", got.String())
	}
	if fmt.Sprint(in) != before {
		t.Error("Sorted changed the list it was called on")
	}
}

func ExampleList_Err() {
	var list problem.List
	list = append(list, problem.Problem{
		File: "harness.yaml", Line: 12, Column: 9, Element: "wire W7",
		What:  "ends in cavity X3.9, which connector X3 does not have",
		Write: "one of X3.1, X3.2",
	})
	fmt.Println(list.Err())
	// Output:
	// harness.yaml:12:9: wire W7: ends in cavity X3.9, which connector X3 does not have; write one of X3.1, X3.2
}
