package browsertest

import (
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// A fault that turns the page to another reading says so, once.
func TestSaysThatItTurned(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	pick := func(name string) string {
		b.eval(fmt.Sprintf(`(() => { const s = document.getElementById("fault"); s.value = [...s.options].find(o => o.text === %q).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, name), nil)
		return b.text("#said")
	}
	if said := pick("leak work.H to ground at connector X17"); !strings.Contains(said, "switched to work, ohms, H to ground (supply off), since drive, ohms, H to L (supply off) shows this fault nowhere") {
		t.Errorf("it says %q", said)
	}
	if said := pick("leak work.H to ground at connector X16"); strings.Contains(said, "switched") {
		t.Errorf("not turned, yet it says %q", said)
	}
}

// Beside the modules stands at which value of the fault they answer so, and what they
// may do at others, by the library.
func TestSaysAtWhichValueModulesAnswer(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	c := circuitOf(t, orchard)
	table, err := faults.MakeAnswerTable(c, faults.Catalogue(c), "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	reach, err := faults.AnswersOverRange(table, nil)
	if err != nil {
		t.Fatal(err)
	}
	more := 0
	for k := 0; k < len(table.Rows); k += 11 {
		b.eval(fmt.Sprintf(`(() => { const s = document.getElementById("fault"); s.value = "%d"; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, k), nil)
		said := b.text("#answers .answer-said")
		row := table.Rows[k]
		if free := row.Fault.Free != nil; free != strings.Contains(said, "That is at ") {
			t.Errorf("%s: it says %q", row.Fault.Name, said)
		}
		var silent []string
		for i, u := range table.Units {
			for _, other := range reach[k] {
				if other[i] == solve.No && row.Answers[i] != solve.No {
					silent = append(silent, c.Units[u].Name)
					break
				}
			}
		}
		if want := strings.Join(silent, ", ") + " may be silent too"; len(silent) > 0 != strings.Contains(said, "may be silent too") || len(silent) > 0 && !strings.Contains(said, want) {
			t.Errorf("%s: it says %q, the library has %q silent at other values", row.Fault.Name, said, silent)
		}
		if len(silent) > 0 {
			more++
		}
	}
	if more < 5 {
		t.Errorf("only %d faults may silence more", more)
	}
}
