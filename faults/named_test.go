package faults_test

import (
	"strings"
	"testing"

	"example.com/ohmloom/faults"
)

func TestNamed(t *testing.T) {
	list := faults.Catalogue(bench())
	got, err := faults.Named(list, "terminator T2 missing", "open H in pair P1")
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 2 || got[0].Name != "terminator T2 missing" || got[1].Name != "open H in pair P1" {
		t.Errorf("got %v, want the two faults in the order of the names", got)
	}
	if none, err := faults.Named(list); err != nil || len(none) != 0 {
		t.Errorf("no names give %v, %v", none, err)
	}

	got, err = faults.Named(list, "open H in pair P9", "open H in pair P1", "break of L in P2")
	if err == nil || got != nil {
		t.Fatalf("got %v, %v", got, err)
	}
	for _, want := range []string{`no fault is called "open H in pair P9"; write a name of the catalogue whole, for example "`, `no fault is called "break of L in P2"; write one of "open H in pair P2"`, `"open L in pair P2"`} {
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
	if _, err = faults.Named(nil, "open H in pair P1"); err == nil || !strings.Contains(err.Error(), "the catalogue is empty") {
		t.Errorf("an empty catalogue: %v", err)
	}
}
