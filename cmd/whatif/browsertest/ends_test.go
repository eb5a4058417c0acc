package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// choose picks an option of a select by how it begins, by keyboard.
func (b *tab) choose(id, text string) {
	b.t.Helper()
	b.focus("#" + id)
	b.press(kb.Home)
	for range 200 {
		var at string
		b.eval(fmt.Sprintf(`document.getElementById(%q).selectedOptions[0].text`, id), &at)
		if strings.HasPrefix(at, text) {
			return
		}
		b.press(kb.ArrowDown)
	}
	b.t.Fatalf("%s has nothing that begins with %q", id, text)
}

// Readings from one connector to another are typed by keyboard, leave the faults that the
// library leaves, and go through whatif match.
func TestTypedEnds(t *testing.T) {
	b := open(t, orchard, 360, 740)
	c := circuitOf(t, orchard)
	list := faults.Catalogue(c)
	b.is("no word of long leads yet", `document.getElementById("entry-long").hidden`, "true")
	want := list
	for _, tt := range []struct {
		place, other, kind, from, to, typed string
		value                               float64
	}{
		// Either connector may be named first.
		{"X2:", "X1:", "drive: ohms, H to H (supply off)", "X1.drive.H", "X2.drive.H", "104.5", 104.5},
		{"X1:", "X2:", "drive: ohms, L to L (supply off)", "X1.drive.L", "X2.drive.L", "0.4", 0.4},
	} {
		b.choose("entry-place", tt.place)
		b.press(kb.Tab)
		b.is("after the connector comes the other lead", active, "entry-other")
		b.choose("entry-other", tt.other)
		b.is("long leads are spoken of", `document.getElementById("entry-long").hidden`, "false")
		b.choose("entry-kind", tt.kind)
		b.is("readings of two places only", `[...document.getElementById("entry-kind").options].every(o => / (\w) to \1 /.test(o.text))`, "true")
		b.focus("#entry-value")
		for _, r := range tt.typed {
			b.press(string(r))
		}
		b.press(kb.Enter)
		p, err := faults.ProbeFromTo(c, solve.Ohms, tt.from, tt.to, solve.Condition{})
		if err != nil {
			t.Fatal(err)
		}
		table, err := faults.MakeSpannedTable(c, want, []faults.Probe{p}, faults.DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		want = nil
		var names []string
		for _, row := range table.Rows {
			if row.Spans[0].Holds(solve.Ohms, solve.Value{Number: tt.value}) {
				want = append(want, row.Fault)
				names = append(names, row.Fault.Name)
			}
		}
		var got []string
		b.eval(remaining, &got)
		if len(names) > 60 {
			names = names[:60] // the page lists no more
		}
		if !slices.Equal(got, names) || len(names) == 0 {
			t.Errorf("%s from %s to %s leaves %q, by the library %q", tt.typed, tt.from, tt.to, got, names)
		}
	}
	if len(want) > 20 || !slices.ContainsFunc(want, func(f *faults.Fault) bool { return f.Name == "high-resistance joint drive.H in pair P9" }) {
		t.Errorf("%d faults remain", len(want))
	}
	b.is("no wider than the screen", `document.scrollingElement.scrollWidth <= innerWidth`, "true")
	b.is("the row says both places", `document.querySelector("#entered-table tbody th").firstChild.nodeValue`, "X1 to X2")

	// It is there again after the page was loaded anew.
	b.do(chromedp.Reload())
	b.is("still there", `document.querySelectorAll("#entered-table tbody tr").length`, "2")

	file, out := b.matchFile(orchard)
	if !strings.Contains(out, "A FAULT") || !strings.Contains(out, "X1.drive.H to X2.drive.H, ohms") {
		t.Errorf("whatif match says of the page's file:\n%s\n%s", file, out)
	}
}

// Where no single connector says anything more, a reading from one to another is advised, and
// the button turns the controls to it.
func TestAdviceFromPlaceToPlace(t *testing.T) {
	b := open(t, bench, 1280, 900)
	// All that can be read at single places, as some fault has it.
	b.eval(`(() => {
	  const data = JSON.parse(document.getElementById("data").textContent);
	  const pick = (id, v) => { const s = document.getElementById(id); s.value = v; s.dispatchEvent(new Event("change", { bubbles: true })); };
	  window.advised = [];
	  for (let f = 0; f < data.faults.length; f += 3) {
	    document.getElementById("clear").click();
	    data.readings.forEach((r, i) => {
	      const cell = r.cells.find(([, , , , ...steps]) => { let at = 0; return steps.some(s => (at += s) === f); });
	      const v = cell ? cell[0] : r.healthy;
	      pick("entry-place", r.place); pick("entry-other", ""); pick("entry-kind", i);
	      document.getElementById("entry-value").value = v === null ? "OL" : String(v);
	      document.getElementById("entry").requestSubmit();
	    });
	    const said = document.getElementById("further").textContent;
	    if (said.startsWith("Read next from ")) window.advised.push(data.faults[f].name + ": " + said);
	    if (window.advised.length > 0) break;
	  }
	})()`, nil)
	var advised []string
	b.eval(`window.advised`, &advised)
	if len(advised) == 0 {
		t.Fatal("no fault wants a reading from one connector to another")
	}
	t.Log(advised[0])
	b.focus("#further button")
	b.press(kb.Enter)
	b.is("focus", active, "entry-value")
	b.is("two places", `document.getElementById("entry-other").value !== ""`, "true")
	var said string
	b.eval(`(() => { const of = id => document.getElementById(id).selectedOptions[0].text.split(":")[0]; return "from " + of("entry-place") + " to " + of("entry-other") + ": " + document.getElementById("entry-kind").selectedOptions[0].text; })()`, &said)
	if !strings.Contains(advised[0], said) {
		t.Errorf("the controls have %q, advised was %q", said, advised[0])
	}
}
