package caution_test

import (
	"strings"
	"testing"

	"example.com/ohmloom/faults/caution"
)

// What must not get lost: the supply, the two circuits to keep off, the machine that
// may roll, and whose word comes first.
func TestText(t *testing.T) {
	text := caution.Text()
	for _, want := range []string{"CAUTION.", "service information", "Ohms: supply off (battery off, charger out)", "asleep", "unplug with the supply off", "0 V", "airbag", "high-voltage", "chock"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text has lost %q", want)
		}
	}
	points := caution.Points()
	for _, p := range points {
		if !strings.Contains(text, p) {
			t.Errorf("the text lacks %q", p)
		}
	}
	points[0] = "changed"
	if caution.Points()[0] == "changed" {
		t.Error("who changes the points changes them for all")
	}
}
