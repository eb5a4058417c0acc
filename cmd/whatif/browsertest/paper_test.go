package browsertest

import (
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// What was typed, what remains of it and what to read next are on paper; the first
// page is not left blank below the caution where nothing was found beforehand; a step
// of a plan stays with its outcomes.
func TestTypedInPrint(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.typeReading("X2:", "drive: ohms, H to L", "22.22k")
	b.do(emulation.SetEmulatedMedia().WithMedia("print"), chromedp.EmulateViewport(700, 1000))
	for selector, shown := range map[string]bool{
		"#entered-table": true, "#remaining-table": true, "#remaining-said": true, "#further p": true,
		".plan .caution.paper": true, ".plan .caution.screen": false, ".plan .elsewhere": false, ".plan p.paper": true,
		"#entry": false, "#asked": false, "#file": false, "#entered-table td.off": false, "#typed .notice": false, ".fold summary": false,
	} {
		b.is(selector, fmt.Sprintf(`document.querySelector(%q).getClientRects().length > 0`, selector), fmt.Sprint(shown))
	}
	b.is("no page turned before the picture", `getComputedStyle(document.getElementById("look")).breakBefore`, "auto")
	b.is("steps kept whole", `[...document.querySelectorAll(".plan h3[id]")].filter(h => { const s = h.parentElement; return !s.matches(".step") || getComputedStyle(s).breakInside !== "avoid" || !s.querySelector("ul.outcomes"); }).length`, "0")
}

// A narrow screen: plans are folded, and open on paper; a typed reading has its verdict
// and its button in sight; the picture shows the chosen fault.
func TestNarrow(t *testing.T) {
	b := open(t, orchard, 360, 740)
	b.is("plans and modules are folded", `[...document.querySelectorAll("details.fold")].map(d => d.open).join()`, "false,false,false")
	b.eval(`dispatchEvent(new Event("beforeprint"))`, nil)
	b.is("open on paper", `[...document.querySelectorAll("details.fold")].map(d => d.open).join()`, "true,true,true")
	b.eval(`dispatchEvent(new Event("afterprint"))`, nil)
	b.is("folded again", `[...document.querySelectorAll("details.fold")].map(d => d.open).join()`, "false,false,false")
	b.typeReading("X2:", "drive: ohms, H to L", "22.22k")
	b.is("all of a typed reading is in its box", `(() => { const s = document.getElementById("entered-table").closest(".scroll"); return s.scrollWidth <= s.clientWidth && [...s.querySelectorAll("td, button")].every(e => e.getBoundingClientRect().right <= s.getBoundingClientRect().right); })()`, "true")
	for _, fault := range []string{"open drive.H in pair P9", "terminator TW1 missing", "open drive.L in pair P4"} {
		b.eval(fmt.Sprintf(`(() => { const s = document.getElementById("fault"); s.value = [...s.options].find(o => o.text === %q).value; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, fault), nil)
		b.is(fault+" is in sight", `(() => { const r = document.querySelector("#picture .ring").getBoundingClientRect(), s = document.getElementById("picture").getBoundingClientRect(), m = (r.left + r.right) / 2; return m > s.left && m < s.right; })()`, "true")
	}
	b.do(chromedp.EmulateViewport(1280, 900))
	b.is("a wide one has them open", `[...document.querySelectorAll("details.fold")].map(d => d.open).join()`, "true,true,true")
}
