package faults_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
)

func names(list []*faults.Fault) []string {
	var out []string
	for _, f := range list {
		out = append(out, f.Name)
	}
	return out
}

func TestNamed(t *testing.T) {
	list := faults.Catalogue(bench())
	got, err := faults.Named(list, "terminator T2 missing", "open H in pair P1")
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"terminator T2 missing", "open H in pair P1"}; !slices.Equal(names(got), want) {
		t.Errorf("got %q, want them in the order of the texts, %q", names(got), want)
	}
	if none, err := faults.Named(list); err != nil || len(none) != 0 {
		t.Errorf("no names give %v, %v", none, err)
	}
	if got, err := faults.Named(list, "T2 MISSING", "open?H in*P1"); err != nil || !slices.Equal(names(got), []string{"terminator T2 missing", "open H in pair P1"}) {
		t.Errorf("words that fit just one give %q, %v", names(got), err)
	}

	got, err = faults.Named(list, "open H in pair P9", "open H in pair P1", "break of L in P2", "pair P1")
	if err == nil || got != nil {
		t.Fatalf("got %v, %v", got, err)
	}
	for _, want := range []string{
		`is called "open H in pair P9"; write a name ("`, `no fault is called "break of L in P2"; write one of "open H in pair P2"`, `"open L in pair P2"`,
		`"pair P1" fits `, `; write one of "open H in pair P1", `,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error lacks %s: %v", want, err)
		}
	}
	if strings.Contains(err.Error(), `called "open H in pair P1"`) {
		t.Errorf("a name that exists is reported: %v", err)
	}

	_, err = faults.Named(list, "open middle of S1")
	if err == nil || strings.Contains(err.Error(), "pair P1") {
		t.Errorf("faults of other parts are offered: %v", err)
	}
	if _, err = faults.Named(nil, "open H in pair P1"); err == nil || !strings.Contains(err.Error(), "there are none") {
		t.Errorf("an empty catalogue: %v", err)
	}
	all, err := faults.Select(list, "short")
	if err != nil {
		t.Fatal(err)
	}
	if _, err = faults.Named(list, "short"); err == nil || !strings.HasSuffix(err.Error(), fmt.Sprintf("and %d more", len(all)-12)) || strings.Count(err.Error(), `"`) != 2*13 {
		t.Errorf("a text that fits %d: %v", len(all), err)
	}
	for _, text := range []string{"", " "} {
		if got, err := faults.Named(list, text); err == nil {
			t.Errorf("%q means %q", text, names(got))
		}
	}
}

// A text means the fault that is called so before all others, then a part or kind, then
// whole words of a name.
func TestSelect(t *testing.T) {
	catalogue := []*faults.Fault{
		{Name: "open H in pair P1", Kind: faults.Open, Part: "P1"},
		{Name: "open H in pair P1 behind X5", Kind: faults.Open, Part: "P1-b"},
		{Name: "open H in pair P10", Kind: faults.Open, Part: "P10"},
		{Name: "short H to L in pair P10 (cavities 1, 2)", Kind: faults.ShortConductors, Part: "P10"},
		{Name: "leak drive.H to ground at connector open", Kind: faults.Leak, Part: "open"},
	}
	for _, tt := range []struct {
		texts []string
		want  []int
	}{
		{nil, []int{0, 1, 2, 3, 4}},
		{[]string{"open H in pair P1"}, []int{0}},
		{[]string{"P10"}, []int{2, 3}},
		{[]string{"leak"}, []int{4}},
		{[]string{"open"}, []int{0, 1, 2, 4}},                  // a kind and a part
		{[]string{"pair P1"}, []int{0, 1}},                     // P10 is another word
		{[]string{"pair P1*"}, []int{0, 1, 2, 3}},              //
		{[]string{"OPEN*p10"}, []int{2}},                       //
		{[]string{"P1?"}, []int{2, 3}},                         //
		{[]string{"drive"}, []int{4}},                          // a point ends a word
		{[]string{"(cavities 1, 2)"}, []int{3}},                // signs mean themselves
		{[]string{"P1-b", "leak", "P1-b"}, []int{1, 4}},        // in the catalogue's order
		{[]string{"short*", "open H in pair P1"}, []int{0, 3}}, //
	} {
		got, err := faults.Select(catalogue, tt.texts...)
		var want []string
		for _, i := range tt.want {
			want = append(want, catalogue[i].Name)
		}
		if err != nil || !slices.Equal(names(got), want) {
			t.Errorf("%q: %q, %v; want %q", tt.texts, names(got), err, want)
		}
	}
	for _, text := range []string{"air P1", "pair P", "P1.", ".*", "H in pair P1 b"} {
		if got, err := faults.Select(catalogue, "P10", text); err == nil || got != nil || !strings.Contains(err.Error(), text) {
			t.Errorf("%q: %q, %v", text, names(got), err)
		}
	}
}
