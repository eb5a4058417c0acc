package browsertest

import (
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// One button takes off all that was typed and ticked, another brings it back; with
// anything typed since, it is too late.
func TestClearAll(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	hidden := func(id string) string { return `document.getElementById("` + id + `").hidden` }
	b.is("nothing to clear", hidden("clear")+" && "+hidden("unclear"), "true")
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "119.1")
	b.typeReading("X11/device:", "drive: ohms, H to L (supply off, connector unplugged)", "120")
	b.tick("charger", "n")
	before := b.text("#remaining-said") + b.text("#entered-table") + b.text("#asked-said")
	b.focus("#clear")
	b.press(kb.Enter)
	b.is("said", `document.getElementById("entry-said").textContent`, "Taken off: 2 readings and 1 tick.")
	b.is("all gone", `document.querySelectorAll("#entered-table tbody tr").length + document.querySelectorAll("#asked input:checked:not([value=''])").length`, "0")
	b.is("nothing is claimed", `document.getElementById("remaining-said").textContent + document.getElementById("asked-said").textContent`, "")
	b.is("hidden", `document.getElementById("remaining").hidden && document.getElementById("entered").hidden && sessionStorage.length === 0`, "true")
	b.is("focus", active, "entry-value")
	b.is("may be put back", hidden("clear")+" && !"+hidden("unclear"), "true")
	b.focus("#unclear")
	b.press(kb.Enter)
	if got := b.text("#remaining-said") + b.text("#entered-table") + b.text("#asked-said"); got != before {
		t.Errorf("put back: %q, before %q", got, before)
	}
	b.is("put back only once", hidden("unclear"), "true")
	b.do(chromedp.Reload())
	if got := b.text("#remaining-said") + b.text("#entered-table") + b.text("#asked-said"); got != before {
		t.Errorf("loaded again: %q, before %q", got, before)
	}
	b.focus("#clear")
	b.press(kb.Enter)
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "60")
	b.is("too late", hidden("unclear"), "true")
	b.is("one reading", `document.querySelectorAll("#entered-table tbody tr").length`, "1")
}

// What was kept by a page of another harness, or by nobody knows whom, is no trouble.
func TestKeptNonsense(t *testing.T) {
	b := open(t, bench, 1280, 900)
	b.typeReading("X1", "ohms, H to L", "60.4")
	for _, kept := range []string{`{`, `7`, `null`, `{"typed":[["X99","ohms, H to L (supply off)",60]],"ticked":[["X1","nobody","n"]]}`, `{"typed":5}`, `{"typed":[7],"ticked":[8]}`, `{"typed":[["X1","ohms, H to L (supply off)","sixty"]],"ticked":[]}`} {
		b.eval(`sessionStorage.setItem(Object.keys(sessionStorage)[0] ?? "x", `+"`"+kept+"`"+`)`, nil)
		b.do(chromedp.Reload())
		b.is(kept, `document.querySelectorAll("#entered-table tbody tr").length + document.getElementById("entry-said").textContent`, "0")
		b.typeReading("X1", "ohms, H to L", "60.4")
		b.is("it goes on after "+kept, `document.querySelectorAll("#entered-table tbody tr").length`, "1")
	}
}

// Readings with the connector unplugged are compared with the library's spans and go
// into the file so that whatif match takes them.
func TestTypedUnplugged(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "119.1")
	b.typeReading("X11:", "drive: ohms, H to L (supply off, connector unplugged)", "120.3")
	b.typeReading("X11/device:", "drive: ohms, H to L (supply off, connector unplugged)", "57.8k")
	var names []string
	b.eval(remaining, &names)
	c := circuitOf(t, orchard)
	var probes []faults.Probe
	values := []float64{119.1, 120.3, 57800}
	for _, at := range []struct{ place, unplugged string }{{"X1", ""}, {"X11", "X11"}, {"X11/device", "X11"}} {
		p, err := faults.ProbeAt(c, solve.Ohms, at.place, "drive.H-drive.L", solve.Condition{Unplugged: strings.Fields(at.unplugged)})
		if err != nil {
			t.Fatal(err)
		}
		probes = append(probes, p)
	}
	table, err := faults.MakeSpannedTable(c, faults.Catalogue(c), probes, faults.DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, row := range table.Rows {
		all := true
		for i, x := range values {
			all = all && row.Spans[i].Holds(solve.Ohms, solve.Value{Number: x})
		}
		if all {
			want = append(want, row.Fault.Name)
		}
	}
	if !slices.Equal(names, want) || len(want) == 0 || len(want) > 5 {
		t.Errorf("remain %q, the library has %q", names, want)
	}
	var file string
	b.eval(`document.getElementById("file").value`, &file)
	for _, want := range []string{`{at: "X11", between: "drive.H-drive.L", unplugged: "X11", ohms: 120.3}`, `{at: "X11/device", between: "drive.H-drive.L", unplugged: "X11", ohms: 57800}`} {
		if !strings.Contains(file, want) {
			t.Errorf("the file has no %s:\n%s", want, file)
		}
	}
	_, out := b.matchFile(orchard)
	if !strings.Contains(out, "A FAULT") || !strings.Contains(out, "X11/device drive.H-drive.L, ohms, X11 unplugged") {
		t.Errorf("whatif match says of the page's file:\n%s\n%s", file, out)
	}
}
