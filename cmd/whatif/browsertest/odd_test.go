package browsertest

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Harnesses at the edge come to life all the same: one conductor, letters of other
// scripts, no modules, no place for a scan tool.
func TestOddHarnesses(t *testing.T) {
	for _, tt := range []struct {
		name, place, kind string
		asks              bool
	}{
		{"cmd/whatif/testdata/one-wire.yaml", "Ж1", "ohms, D to ground", true},
		{"cmd/whatif/testdata/no-modules.yaml", "X1", "ohms, H to L", false},
		{"cmd/whatif/testdata/no-free-connector.yaml", "X1", "ohms, H to L", false},
	} {
		b := open(t, tt.name, 1280, 900)
		b.do(chromedp.WaitVisible("#why-text h4"))
		b.is(tt.name+": modules are asked", `!document.getElementById("asked-fold").hidden`, fmt.Sprint(tt.asks))
		b.is(tt.name+": answers are shown", `!document.getElementById("who").hidden`, fmt.Sprint(tt.asks))
		b.typeReading(tt.place, tt.kind, "OL")
		if said := b.text("#remaining-said"); !strings.Contains(said, "remain") {
			t.Errorf("%s: it says %q", tt.name, said)
		}
		b.eval(`(() => { const s = document.getElementById("fault"); for (const o of s.options) { s.value = o.value; s.dispatchEvent(new Event("change", { bubbles: true })); } })()`, nil)
		if said := b.text("#said"); said == "" || strings.Contains(said, "undefined") {
			t.Errorf("%s: it says %q", tt.name, said)
		}
	}
}

// A network of which nothing can be reached has no reading to choose: it is listed, and
// choosing it is not offered. Its faults can be looked at all the same.
func TestNetworkOutOfReach(t *testing.T) {
	b := open(t, "cmd/whatif/testdata/out-of-reach.yaml", 1280, 900)
	b.is("listed", `[...document.querySelectorAll("#networks label")].map(l => l.textContent).join()`, "bus,spare (nothing of it can be reached)")
	b.focus("#networks input:checked")
	b.press(kb.ArrowRight)
	b.is("the network stays", `document.querySelector("#networks input:checked").value`, "0")
	b.eval(`document.querySelectorAll("#networks input")[1].click()`, nil)
	b.is("and there is something to read", `document.getElementById("kind").options.length > 0`, "true")
	b.eval(`(() => { const s = document.getElementById("part"); s.value = [...s.options].find(o => o.text.startsWith("P3")).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	if said := b.text("#said"); !strings.Contains(said, "pair P3") || !strings.Contains(said, "shows it nowhere") {
		t.Errorf("of a fault out of reach it says %q", said)
	}
}

// Boxes that are wider than the screen say so, others do not and are no stop for the
// keyboard; what match says needs no scrolling on a narrow screen.
func TestHintsAtScrolling(t *testing.T) {
	for width, want := range map[int64]string{360: "some", 1280: "none"} {
		b := open(t, silentSide, width, 740)
		b.do(chromedp.WaitVisible("#why-text h4"))
		b.eval(`new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(1))))`, nil, awaited)
		b.is("wide boxes without a hint, narrow ones with", `[...document.querySelectorAll(".scroll")].filter(e => e.checkVisibility() && (e.scrollWidth > e.clientWidth + 1) !== (e.previousElementSibling?.matches(".hint") && !e.previousElementSibling.hidden)).map(e => e.getAttribute("aria-label") ?? e.id).join()`, "")
		b.is("stops that do not scroll", `[...document.querySelectorAll(".scroll[tabindex='0']")].filter(e => e.checkVisibility() && e.scrollWidth <= e.clientWidth + 1 && e.scrollHeight <= e.clientHeight + 1).length`, "0")
		b.is(fmt.Sprint("hints at ", width), `[...document.querySelectorAll(".hint")].some(h => h.checkVisibility() && !h.nextElementSibling.matches(".tall")) ? "some" : "none"`, want)
		if width == 360 {
			b.is("tables of match fit", `[...document.querySelectorAll("#found > .scroll")].filter(e => e.scrollWidth > e.clientWidth + 1).length`, "0")
			b.is("their cells have names", `[...document.querySelectorAll("#found > .scroll td")].filter(e => e.checkVisibility() && !/[a-z]/.test(getComputedStyle(e, "::before").content)).length`, "0")
			b.is("rows are cards", `getComputedStyle(document.querySelector("#found > .scroll tbody tr")).display`, "grid")
		}
	}
}

// Without scripts the names of faults are no buttons that do nothing; with them they
// are.
func TestNamesAreButtonsWithScriptsOnly(t *testing.T) {
	count := func(b *tab, selector string) (n int) {
		b.nodes(selector, func(_ context.Context, found []cdp.NodeID) error {
			n = len(found)
			return nil
		})
		return n
	}
	without := open(t, silentSide, 1280, 900, emulation.SetScriptExecutionDisabled(true))
	if n := count(without, "#found button, #next button"); n != 0 {
		t.Errorf("without scripts there are %d buttons that do nothing", n)
	}
	if count(without, "#found .names") == 0 || count(without, "#found details.why") != 6 {
		t.Error("without scripts the names and derivations are not there")
	}
	with := open(t, silentSide, 1280, 900)
	if n := count(with, "#found button.pick"); n == 0 || count(with, "#found .names") != 0 {
		t.Errorf("with scripts there are %d buttons", n)
	}
}

// The caution stands once in full; each section with resistances has a line that leads
// there.
func TestCautionOnce(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.is("in full", `[...document.querySelectorAll(".caution")].filter(e => e.getClientRects().length && e.textContent.includes("pretensioner")).map(e => e.id).join()`, "caution")
	b.is("sections without a line", `["found", "next", "typed", "healthy", "plan-1", "plan-2"].filter(id => { const c = document.getElementById(id).querySelector(".caution.small"); return !c || !c.getClientRects().length || !c.textContent.includes("supply off") || c.querySelector("a").hash !== "#caution"; }).join()`, "")
}
