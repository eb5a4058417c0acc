package browsertest

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// active describes the element that has the focus.
const active = `(() => { const e = document.activeElement; return e.id || e.dataset.part || e.name || (e.tagName.toLowerCase() + " " + (e.getAttribute("aria-label") || e.textContent).trim().slice(0, 40)); })()`

func (b *tab) press(keys ...string) {
	b.t.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

func (b *tab) focus(selector string) {
	b.t.Helper()
	b.eval(fmt.Sprintf(`document.querySelector(%q).focus()`, selector), nil)
}

func (b *tab) is(what, script, want string) {
	b.t.Helper()
	var got any
	b.eval(script, &got)
	if fmt.Sprint(got) != want {
		b.t.Errorf("%s: %v, want %s", what, got, want)
	}
}

// The whole page is reached by Tab, in an order that makes sense, each stop visible
// and shown as focused, and none of them a trap.
func TestTabOrder(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.press(kb.Tab)
	b.is("first stop", active, "a Skip to the content")
	b.press(kb.Enter, kb.Tab)
	var at string
	b.eval(active, &at)
	if !strings.HasPrefix(at, "div ") && !strings.HasPrefix(at, "a ") && !strings.HasPrefix(at, "button ") {
		t.Errorf("after the skip link comes %q", at)
	}
	b.is("the skip link leads to the content", `document.activeElement.closest("main") !== null`, "true")

	want := []string{"network", "kind", "part", "fault", "why-place", "entry-place", "entry-other", "entry-kind", "entry-value", "table-kind", "table-words", "table-differs"}
	var seen []string
	const most = 400
	n := 0
	for ; n < most; n++ {
		var stop struct {
			Name    string
			Visible bool
			Body    bool
		}
		b.press(kb.Tab)
		b.eval(`(() => {
		  const e = document.activeElement, s = getComputedStyle(e), r = e.getBoundingClientRect();
		  return { Name: `+active+`, Body: e === document.body || e === document.documentElement,
		    Visible: r.width > 0 && r.height > 0 && r.bottom > 0 && r.top < innerHeight && s.visibility === "visible" && (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2) };
		})()`, &stop)
		if stop.Body {
			break
		}
		if !stop.Visible {
			t.Errorf("stop %d, %s, is not to be seen with its focus", n, stop.Name)
		}
		if slices.Contains(want, stop.Name) {
			seen = append(seen, stop.Name)
		}
	}
	if !slices.Equal(seen, want) {
		t.Errorf("the controls come as %v, want %v", seen, want)
	}
	if n == most || n < 40 {
		t.Errorf("%d stops", n)
	}
}

// A fault is chosen by keyboard alone: network by arrow keys, reading and fault in
// their selects.
func TestChoosingByKeyboard(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.is("at first", `document.getElementById("said").textContent.startsWith("Healthy wiring")`, "true")
	b.focus("#networks input:checked")
	b.press(kb.ArrowRight)
	b.is("network", `document.querySelector("#networks input:checked").parentElement.textContent`, "work")
	b.is("kinds of the network", `document.getElementById("connectors-caption").textContent`, "ohms, H to L (supply off), work: healthy wiring")
	b.press(kb.ArrowLeft, kb.Tab)
	b.is("then", active, "kind")
	b.press(kb.ArrowDown)
	b.is("reading", `document.getElementById("kind").selectedOptions[0].text`, "ohms, H to ground (supply off)")
	b.press(kb.ArrowUp, kb.Tab, kb.Tab)
	b.is("then", active, "fault")
	b.press("o", "p", "e", "n")
	b.is("typed ahead", `document.getElementById("fault").selectedOptions[0].text.startsWith("open ")`, "true")
	b.is("said", `document.getElementById("said").textContent.startsWith("open ")`, "true")
	b.is("no horizontal scroll", `document.scrollingElement.scrollWidth <= innerWidth`, "true")
}

// The picture: one stop, arrow keys from part to part, Enter and Space choose.
func TestPictureByKeyboard(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.is("stops in the picture", `document.querySelectorAll('#picture [tabindex="0"]').length`, "1")
	b.focus(`#picture [data-part="S2"]`)
	b.press(kb.ArrowRight)
	b.is("to the right of S2", `["P3", "P4", "S3", "P9"].includes(document.activeElement.dataset.part)`, "true")
	b.is("stops in the picture", `document.querySelectorAll('#picture [tabindex="0"]').length`, "1")
	for key, ahead := range map[string]string{kb.ArrowLeft: "b.left + b.width / 2 < a.left + a.width / 2", kb.ArrowRight: "b.left + b.width / 2 > a.left + a.width / 2", kb.ArrowUp: "b.top + b.height / 2 < a.top + a.height / 2", kb.ArrowDown: "b.top + b.height / 2 > a.top + a.height / 2"} {
		b.focus(`#picture [data-part="S3"]`)
		b.eval(`window.before = document.activeElement`, nil)
		b.press(key)
		b.is("an arrow key goes its way", `(() => { const a = before.getBoundingClientRect(), b = document.activeElement.getBoundingClientRect(); return document.activeElement !== before && `+ahead+`; })()`, "true")
	}
	b.press(kb.Home)
	b.is("Home", `document.activeElement === document.querySelector('#picture [role=button]')`, "true")
	b.press(kb.End)
	b.is("End", `document.activeElement === [...document.querySelectorAll('#picture [role=button]')].pop()`, "true")
	b.focus(`#picture [data-part="P9"]`)
	b.press(kb.Enter)
	b.is("Enter", `document.getElementById("part").selectedOptions[0].text`, "P9: pair, S3 to S4, 2.7 m")
	b.is("fault", `document.getElementById("fault").selectedOptions[0].text`, "open drive.H in pair P9")
	b.is("pressed", `document.querySelector('#picture [data-part="P9"]').getAttribute("aria-pressed")`, "true")
	b.is("faults of the part only", `[...document.getElementById("fault").options].slice(1).every(o => o.text.includes("P9"))`, "true")
	b.focus(`#picture [data-part="X2"]`)
	b.press(" ")
	b.is("Space", `document.getElementById("part").selectedOptions[0].text.startsWith("X2: connector")`, "true")
	b.is("the page stays", `document.activeElement.dataset.part`, "X2")
}

// A click on any part of the picture chooses it.
func TestPictureByClick(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	for _, part := range []string{"X7", "steering", "S4", "P13", "X14", "Q6", "TD1"} {
		var there bool
		b.eval(fmt.Sprintf(`!!document.querySelector('#picture [data-part="%s"][role=button]')`, part), &there)
		if !there {
			t.Errorf("%s cannot be clicked", part)
			continue
		}
		var spot struct{ X, Y float64 }
		// A point of the part's own drawing, not of what lies over it.
		b.eval(fmt.Sprintf(`(() => {
		  const g = document.querySelector('#picture [data-part="%s"][role=button]');
		  g.scrollIntoView({ block: "center", inline: "center", behavior: "instant" });
		  for (const e of g.querySelectorAll("text, rect, path, circle")) {
		    const r = e.getBoundingClientRect();
		    for (const f of [0.5, 0.25, 0.75, 0.1, 0.9]) {
		      const x = r.left + r.width * f, y = r.top + r.height * f;
		      if (g.contains(document.elementFromPoint(x, y))) return { X: x, Y: y };
		    }
		  }
		  return { X: -1, Y: -1 };
		})()`, part), &spot)
		if spot.X < 0 {
			t.Errorf("%s has no point to click", part)
			continue
		}
		b.do(chromedp.MouseClickXY(spot.X, spot.Y))
		b.is("clicked "+part, `document.getElementById("part").selectedOptions[0].text.split(":")[0]`, part)
		b.is("ring around "+part, `[...new Set([...document.querySelectorAll("#picture .ring")].map(r => r.dataset.ring))].join()`, part)
	}
}

// Sorting: by the button in the head, up, down and back, said in aria-sort; OL is
// greatest.
func TestSorting(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	order := func() (values []float64, sort string) {
		t.Helper()
		var got struct {
			Texts []string
			Sort  []string
		}
		b.eval(`(() => {
		  const t = document.getElementById("whatif");
		  return { Texts: [...t.tBodies[0].rows].slice(3).map(r => r.cells[2].firstChild.nodeValue), Sort: [...t.tHead.rows[0].cells].map(c => c.getAttribute("aria-sort") ?? "") };
		})()`, &got)
		for _, text := range got.Texts {
			digits, unit, _ := strings.Cut(text, " ")
			x, err := strconv.ParseFloat(digits, 64)
			switch {
			case text == "OL":
				x = 1e99
			case err != nil:
				t.Fatalf("%q is no reading", text)
			case unit == "kΩ":
				x *= 1e3
			case unit == "MΩ":
				x *= 1e6
			}
			values = append(values, x)
		}
		return values, strings.Join(got.Sort, ",")
	}
	b.eval(`document.getElementById("table-more").click()`, nil)
	start, sort := order()
	if strings.Trim(sort, ",") != "" || slices.IsSorted(start) {
		t.Errorf("sorted from the start: %s", sort)
	}
	press := func(key string) {
		t.Helper()
		b.focus("#whatif thead tr th:nth-child(3) button")
		b.press(key)
		b.is("the focus stays on the head", `document.activeElement.closest("th").cellIndex`, "2")
	}
	press(kb.Enter)
	up, sort := order()
	if !slices.IsSorted(up) || !strings.HasPrefix(sort, ",,ascending,") || len(up) != len(start) {
		t.Errorf("after Enter: sorted %v, aria-sort %s", slices.IsSorted(up), sort)
	}
	if !strings.Contains(b.text("#table-said"), "sorted by X2, least first") {
		t.Errorf("said: %s", b.text("#table-said"))
	}
	press(" ")
	down, sort := order()
	slices.Reverse(down)
	if !slices.IsSorted(down) || !strings.HasPrefix(sort, ",,descending,") {
		t.Errorf("after Space: aria-sort %s", sort)
	}
	if down[len(down)-1] != 1e99 {
		t.Errorf("greatest is %v, want OL", down[len(down)-1])
	}
	press(kb.Enter)
	back, sort := order()
	if !slices.Equal(back, start) || strings.Trim(sort, ",") != "" {
		t.Errorf("the third time does not lead back: %s", sort)
	}
}

// Filtering by words and by what a reading shows.
func TestFiltering(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	rows := `[...document.getElementById("whatif").tBodies[0].rows].slice(3)`
	b.focus("#table-words")
	b.press("p", "9", " ", "o", "p", "e", "n")
	b.is("each row has the words", rows+`.every(r => /p9/i.test(r.textContent) && /open/i.test(r.textContent))`, "true")
	b.is("rows", rows+`.length`, "3")
	if got := b.text("#table-said"); !strings.HasPrefix(got, "3 faults of ") {
		t.Errorf("said: %q", got)
	}
	b.eval(`(() => { const e = document.getElementById("table-words"); e.value = "steering"; e.dispatchEvent(new Event("input", { bubbles: true })); })()`, nil)
	var with, all int
	b.eval(rows+`.length`, &with)
	b.focus("#table-differs")
	b.press(" ")
	b.eval(rows+`.length`, &all)
	if all <= with {
		t.Errorf("%d rows that differ, %d of all", with, all)
	}
	b.eval(`(() => { const e = document.getElementById("table-words"); e.value = "no such words"; e.dispatchEvent(new Event("input", { bubbles: true })); })()`, nil)
	b.is("none", rows+`.length`, "0")
	b.is("said", `document.getElementById("table-said").textContent.startsWith("0 faults of ")`, "true")
	b.is("the healthy rows stay", `document.querySelectorAll("#whatif tr.healthy").length`, "3")
}

// A fault picked from the table or the match is shown above, and the focus goes there.
func TestPickingFromTables(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.is("the page opens with what was found", `document.getElementById("fault").selectedOptions[0].text`, "open drive.H in pair P9")
	b.focus("#whatif tbody tr:nth-child(9) button.pick")
	var name string
	b.eval(`document.activeElement.textContent`, &name)
	b.press(kb.Enter)
	b.is("chosen", `document.getElementById("fault").selectedOptions[0].text`, name)
	b.is("focus", active, "look-title")
	b.is("marked in the table", `document.querySelector("#whatif tr.chosen button").textContent`, name)
	b.focus("#found button.pick")
	b.press(" ")
	b.is("chosen from the match", `document.getElementById("fault").selectedOptions[0].text`, "open drive.H in pair P9")
}

// typeReading puts one reading in by keyboard.
func (b *tab) typeReading(place, kind, value string) {
	b.t.Helper()
	b.eval(fmt.Sprintf(`(() => {
	  const pick = (id, text) => { const s = document.getElementById(id); const o = [...s.options].find(o => o.text.startsWith(text)); if (!o) throw new Error("no " + text); s.value = o.value; s.dispatchEvent(new Event("change", { bubbles: true })); };
	  pick("entry-place", %q); pick("entry-other", "at the same connector"); pick("entry-kind", %q);
	})()`, place, kind), nil)
	b.focus("#entry-value")
	for _, r := range value {
		b.press(string(r))
	}
	b.press(kb.Enter)
}

// matchFile puts the readings file that the page writes through whatif match, which must take
// it: healthy or a fault, status 0 or 1.
func (b *tab) matchFile(harness string) (file, out string) {
	b.t.Helper()
	b.eval(`document.getElementById("file").value`, &file)
	path := filepath.Join(b.t.TempDir(), "readings.yaml")
	if err := os.WriteFile(path, []byte(file), 0o644); err != nil {
		b.t.Fatal(err)
	}
	harness, err := filepath.Abs(filepath.Join(top, harness))
	if err != nil {
		b.t.Fatal(err)
	}
	said, err := exec.Command(pages.command, "match", harness, path).CombinedOutput()
	if exit, ok := err.(*exec.ExitError); err != nil && (!ok || exit.ExitCode() != 1) {
		b.t.Errorf("whatif match does not take the page's file (%v):\n%s\n%s", err, file, said)
	}
	return file, string(said)
}

// The story of the silent side, typed in: the readings leave few faults, the true one
// among them, and the file that the page writes is one that whatif match reads.
func TestTypedReadings(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	remain := func() (names []string) {
		b.eval(`[...document.querySelectorAll("#remaining-table tbody button")].map(x => x.textContent)`, &names)
		return names
	}
	b.typeReading("X1:", "drive: ohms, H to L", "60.8")
	first := b.text("#remaining-said")
	if !strings.Contains(first, "Healthy wiring may read so too.") {
		t.Errorf("after a healthy reading: %q", first)
	}
	b.is("focus stays to type on", active, "entry-value")
	b.typeReading("X2:", "drive: ohms, H to L", "22.22k")
	if got := b.text("#remaining-said"); !strings.Contains(got, "Healthy wiring never reads so") {
		t.Errorf("after the second: %q", got)
	}
	names := remain()
	if !slices.Contains(names, "open drive.H in pair P9") || len(names) > 12 {
		t.Errorf("%d faults remain: %v", len(names), names)
	}
	if slices.ContainsFunc(names, func(n string) bool { return strings.Contains(n, "pair P1 ") || strings.HasSuffix(n, "pair P1") }) {
		t.Errorf("a fault of P1 remains: %v", names)
	}
	b.typeReading("X2:", "drive: ohms, L to ground", "4,78 kΩ")
	b.typeReading("X1:", "drive: ohms, H to ground", "4820")

	// The file goes through the command.
	file, out := b.matchFile(orchard)
	if !strings.Contains(out, "A FAULT") || !strings.Contains(out, "22.22 kΩ") || !strings.Contains(out, "4.78 kΩ") {
		t.Errorf("whatif match says of the page's file:\n%s\n%s", file, out)
	}

	// The same points again: the newer reading counts.
	b.typeReading("X2:", "drive: ohms, H to L", "60.3")
	b.is("readings", `document.querySelectorAll("#entered-table tbody tr").length`, "4")
	// A reading is taken off.
	b.focus("#entered-table tbody tr:nth-child(4) button")
	b.press(kb.Enter)
	b.is("readings left", `document.querySelectorAll("#entered-table tbody tr").length`, "3")
	// Contradiction.
	b.typeReading("X1:", "work: ohms, H to L", "0.2")
	b.typeReading("X1:", "drive: ohms, H to L", "0.2")
	if got := b.text("#remaining-said"); !strings.HasPrefix(got, "Nothing remains") {
		t.Errorf("after a contradiction: %q", got)
	}
}

// The faults that remain are those whose spans, by the library, hold each reading.
func TestRemainingIsTheLibrarys(t *testing.T) {
	b := open(t, bench, 1280, 900)
	c := circuitOf(t, bench)
	list := faults.Catalogue(c)
	for _, tt := range []struct {
		place, between, kind, typed string
		value                       solve.Value
	}{
		{"X1", "H-L", "ohms, H to L", "60.4", solve.Value{Number: 60.4}},
		{"X1", "H-L", "ohms, H to L", "119.8", solve.Value{Number: 119.8}},
		{"X2", "H-L", "ohms, H to L", "2.5", solve.Value{Number: 2.5}},
		{"X3", "H-ground", "ohms, H to ground", "OL", solve.Over()},
		{"X4", "L-ground", "ohms, L to ground", "1.5k", solve.Value{Number: 1500}},
		{"X2", "H-L", "ohms, H to L", "9.2k", solve.Value{Number: 9200}},
		{"X1", "H-L", "ohms, H to L", "52", solve.Value{Number: 52}},
		{"X1", "H-L", "ohms, H to L", "68", solve.Value{Number: 68}},
	} {
		p, err := faults.ProbeAt(c, solve.Ohms, tt.place, tt.between, solve.Condition{})
		if err != nil {
			t.Fatal(err)
		}
		table, err := faults.MakeSpannedTable(c, list, []faults.Probe{p}, faults.DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		var want []string
		for _, row := range table.Rows {
			if row.Spans[0].Holds(solve.Ohms, tt.value) {
				want = append(want, row.Fault.Name)
			}
		}
		b.eval(`document.querySelectorAll("#entered-table tbody button").forEach(x => x.click())`, nil)
		b.typeReading(tt.place, tt.kind, tt.typed)
		var got []string
		b.eval(`[...document.querySelectorAll("#remaining-table tbody button")].map(x => x.textContent)`, &got)
		said := b.text("#remaining-said")
		if !strings.HasPrefix(said, fmt.Sprintf("%d fault", len(want))) && len(want) > 0 {
			t.Errorf("%s at %s: it says %q, the library has %d", tt.typed, tt.place, said, len(want))
		}
		if len(want) > 60 {
			want = want[:60]
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s at %s: remain %q, the library has %q", tt.typed, tt.place, got, want)
		}
		if healthy := table.HealthySpans[0].Holds(solve.Ohms, tt.value); healthy != strings.Contains(said, "Healthy wiring may read so too") && len(want) > 0 {
			t.Errorf("%s at %s: healthy wiring may read so: %v, it says %q", tt.typed, tt.place, healthy, said)
		}
	}
	// At the very limits, which the page carries rounded: they belong to the span.
	var limits struct{ Least, Greatest bool }
	b.eval(`(() => {
	  const data = JSON.parse(document.getElementById("data").textContent), i = data.readings.findIndex(r => r.kind === 0);
	  const at = v => {
	    document.querySelectorAll("#entered-table tbody button").forEach(x => x.click());
	    const pick = (id, v) => { const s = document.getElementById(id); s.value = v; s.dispatchEvent(new Event("change", { bubbles: true })); };
	    pick("entry-place", data.readings[i].place); pick("entry-other", ""); pick("entry-kind", i);
	    document.getElementById("entry-value").value = String(v);
	    document.getElementById("entry").requestSubmit();
	    return document.getElementById("remaining-said").textContent.includes("Healthy wiring may read so");
	  };
	  const [least, greatest] = data.readings[i].may;
	  return { Least: at(least) && !at(least - 0.1), Greatest: at(greatest) && !at(greatest + 0.1) };
	})()`, &limits)
	if !limits.Least || !limits.Greatest {
		t.Errorf("limits are not taken as the span has them: %+v", limits)
	}
}

// A fault that the chosen reading does not show turns the page to one that does, on
// the network where it is.
func TestTurnsToAReadingThatShows(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	pick := func(name string) {
		b.eval(fmt.Sprintf(`(() => { const s = document.getElementById("fault"); s.value = [...s.options].find(o => o.text === %q).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, name), nil)
	}
	state := `document.querySelector("#networks input:checked").parentElement.textContent + ", " + document.getElementById("kind").selectedOptions[0].text`
	pick("leak work.H to ground at connector X17")
	b.is("a leak on work", state, "work, ohms, H to ground (supply off)")
	pick("terminator TW1 missing")
	b.is("a terminator of work", state, "work, ohms, H to L (supply off)")
	pick("open drive.L in pair P4")
	b.is("an open wire on drive", state, "drive, ohms, H to L (supply off)")
}

// What cannot be a reading is refused, at the field, in words.
func TestTypedNonsense(t *testing.T) {
	b := open(t, bench, 1280, 900)
	for _, tt := range []struct{ kind, value, says string }{
		{"ohms, H to L", "", "Nothing is typed"},
		{"ohms, H to L", "sixty", "is no reading"},
		{"ohms, H to L", "-3", "not negative"},
		{"ohms, H to L", "12m", "milli or mega"},
		{"ohms, H to L", "1.2.3", "is no reading"},
		{"volts, H to ground", "OL", "does not read OL"},
		{"volts, H to ground", "240", "more than any network"},
		{"volts, H to ground", "2k", "no prefix"},
		{"ohms, H to L", "2.5 V", "is in volts, and this reading is in ohms"},
		{"volts, H to ground", "60 ohm", "is in ohms, and this reading is in volts"},
		{"ohms, H to L", "4,820", "could be 4.820 or 4820"},
		{"ohms, H to L", "\u22120.3", "A resistance is not negative"}, // the sign that typography has for minus
	} {
		b.eval(`document.getElementById("entry-value").value = ""`, nil)
		b.typeReading("X1", tt.kind, tt.value)
		if got := b.text("#entry-error"); !strings.Contains(got, tt.says) {
			t.Errorf("%q as %s: it says %q, want ...%s...", tt.value, tt.kind, got, tt.says)
		}
		b.is("marked", `document.getElementById("entry-value").getAttribute("aria-invalid")`, "true")
		b.is("nothing was taken", `document.getElementById("entered").hidden`, "true")
	}
	for value, shows := range map[string]string{"60.8": "60.8 Ω", "4.82k": "4.82 kΩ", "4,82 kΩ": "4.82 kΩ", "1.2M": "1.20 MΩ", "OL": "OL", "ol": "OL", ".5": "0.50 Ω", "12 ohm": "12.0 Ω", "12 Ohms": "12.0 Ω", "12 \u2126": "12.0 Ω", "OL MΩ": "OL", "4,82": "4.82 Ω", "4,820k": "4.82 kΩ", "0,120": "0.12 Ω", "0": "0.00 Ω"} {
		b.eval(`document.getElementById("entry-value").value = ""`, nil)
		b.typeReading("X1", "ohms, H to L", value)
		b.is("typed "+value, `document.querySelector("#entered-table tbody td.n").textContent`, shows)
		b.is("no complaint", `document.getElementById("entry-error").textContent`, "")
	}
}

// Why a connector reads what it reads: the derivation of the service connector,
// healthy and with the fault.
func TestReasonsAreShown(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.do(chromedp.WaitVisible("#why-text h4"))
	b.is("at first it is the nearest that shows the fault", `document.getElementById("why-place").selectedOptions[0].text.split(":")[0]`, "X2")
	b.eval(`(() => { const s = document.getElementById("why-place"); s.value = [...s.options].find(o => o.text.startsWith("X1:")).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	text := b.text("#why-text")
	for _, want := range []string{"the meter shows 60.1 Ω", "With open drive.H in pair P9", "the meter shows 60.2 Ω", "two terminators of 120 Ω lie in parallel"} {
		if !strings.Contains(text, want) {
			t.Errorf("the derivation at X1 does not say %q:\n%.600s", want, text)
		}
	}
	b.eval(`(() => { const s = document.getElementById("why-place"); s.value = [...s.options].find(o => o.text.startsWith("X2")).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	if text := b.text("#why-text"); !strings.Contains(text, "shows 18.95 kΩ") || !strings.Contains(text, "through the inputs of nine modules by way of ground") {
		t.Errorf("the derivation at X2 does not say whence 18.95 kΩ:\n%.600s", text)
	}
	b.eval(`(() => { const s = document.getElementById("why-place"); s.value = [...s.options].find(o => o.text.startsWith("X7")).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	if text := b.text("#why-text"); !strings.Contains(text, "whatif explain harness.yaml --read 'X7 drive.H-drive.L' --fault 'open drive.H in pair P9'") {
		t.Errorf("at X7 it does not say what derives it:\n%.600s", text)
	}
	b.eval(`(() => { const s = document.getElementById("why-place"); s.value = [...s.options].find(o => o.text.startsWith("X2")).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	b.eval(`(() => { const s = document.getElementById("fault"); s.value = "-1"; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	if text := b.text("#why-text"); !strings.Contains(text, "60.3 Ω") || strings.Contains(text, "18.95") {
		t.Errorf("the healthy derivation at X2:\n%.600s", text)
	}
}
