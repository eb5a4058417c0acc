package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// tick says what a module did: y, n, or nothing where it was not asked.
func (b *tab) tick(module, did string) {
	b.t.Helper()
	b.eval(fmt.Sprintf(`document.querySelector('#asked [role=radiogroup][aria-label="%s"] input[value="%s"]').click()`, module, did), nil)
}

const remaining = `[...document.querySelectorAll("#remaining-table tbody button")].map(x => x.textContent)`

// Modules that are ticked leave the faults with which they do so, by the library, at
// some value of the fault; the file for whatif match says it too; and all is there
// again when the page is loaded again.
func TestTickedModules(t *testing.T) {
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
	for _, ticked := range []map[string]string{
		{"steering": "n", "brakes": "n", "traction-left": "n", "traction-right": "n", "dash": "y", "gateway": "y"},
		{"steering": "n", "dash": "y", "brakes": "y"},
		{"lift": "n", "pruner": "y"},
		{"dash": "n", "steering": "n", "lift": "y", "brakes": "n"},
	} {
		for _, u := range table.Units {
			name := c.Units[u].Name
			b.tick(name, ticked[name])
		}
		var want []string
		typicalOnly := 0
		for k, row := range table.Rows {
			holds := func(list []solve.Hearing) bool {
				for i, u := range table.Units {
					did := ticked[c.Units[u].Name]
					if did == "y" && list[i] == solve.No || did == "n" && list[i] == solve.Yes {
						return false
					}
				}
				return true
			}
			if slices.ContainsFunc(reach[k], holds) {
				want = append(want, row.Fault.Name)
			}
			if holds(row.Answers) {
				typicalOnly++
			}
		}
		if len(want) == 0 || len(want) == len(table.Rows) {
			t.Fatalf("%v leaves %d faults: nothing is tested", ticked, len(want))
		}
		var got []string
		b.eval(remaining, &got)
		said := b.text("#remaining-said")
		if !strings.HasPrefix(said, fmt.Sprintf("%d fault", len(want))) || !strings.Contains(said, "Healthy wiring never does so") {
			t.Errorf("%v: it says %q, the library has %d (%d at the typical value)", ticked, said, len(want), typicalOnly)
		}
		if !slices.Equal(got, want[:min(60, len(want))]) {
			t.Errorf("%v: remain %q, the library has %q", ticked, got, want)
		}
	}
	b.is("what was ticked", `document.getElementById("asked-said").textContent`, "Scan tool: lift answers; dash, steering, brakes silent.")
	b.typeReading("X2:", "drive: ohms, H to L", "60.3")
	file, out := b.matchFile(orchard)
	if !strings.Contains(file, `{at: "X1", yes: ["lift"], no: ["dash", "steering", "brakes"]}`) {
		t.Errorf("whatif match says of the page's file:\n%s\n%s", file, out)
	}

	before := b.text("#remaining-said")
	b.do(chromedp.Reload())
	if got := b.text("#remaining-said"); got != before {
		t.Errorf("loaded again: %q, before %q", got, before)
	}
	b.is("it says so", `document.getElementById("entry-said").textContent`, "What you typed before is here again.")
	b.typeReading("X2:", "drive: ohms, H to L", "61")
	b.is("a reading that takes another's place", `document.getElementById("entry-said").textContent.includes("61.0 Ω takes the place of 60.3 Ω")`, "true")
	for _, u := range table.Units {
		b.tick(c.Units[u].Name, "")
	}
	b.eval(`document.querySelector("#entered-table button").click()`, nil)
	b.is("nothing typed", `document.getElementById("remaining").hidden && document.getElementById("remaining-said").textContent === "" && sessionStorage.length === 0`, "true")
}

// Where a page may keep nothing, leaving it with readings typed is asked about.
func TestLeavingWithoutStorage(t *testing.T) {
	b := open(t, bench, 1280, 900)
	const left = `(() => { const e = new Event("beforeunload", { cancelable: true }); window.dispatchEvent(e); return e.defaultPrevented; })()`
	b.typeReading("X1", "ohms, H to L", "60.4")
	b.is("kept, so not asked", left, "false")
	b.eval(`Storage.prototype.setItem = Storage.prototype.removeItem = () => { throw new DOMException("no", "SecurityError"); }`, nil)
	b.typeReading("X1", "ohms, H to L", "60.5")
	b.is("not kept, so asked", left, "true")
	b.eval(`document.querySelector("#entered-table button").click()`, nil)
	b.is("nothing typed", left, "false")
}
