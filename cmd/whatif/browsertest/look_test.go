package browsertest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// On a phone 360 px wide the page itself never scrolls sideways, whatever is chosen;
// only regions that are made to do. What is tapped is large enough (WCAG 2.2 AA,
// 2.5.8: 24 px).
func TestPhone(t *testing.T) {
	for _, name := range []string{bench, silentSide, hostile, "cmd/whatif/testdata/no-faults.yaml"} {
		b := open(t, name, 360, 740)
		check := func(when string) {
			t.Helper()
			b.is(name+" "+when+": width of the page", `document.scrollingElement.scrollWidth`, "360")
			var out string
			b.eval(`[...document.querySelectorAll("body *")].filter(e => {
			  for (let p = e; p; p = p.parentElement) if (p.matches(".scroll, .skip, .vh, [hidden]")) return false;
			  const r = e.getBoundingClientRect();
			  return r.width > 0 && r.right > 360.5;
			}).map(e => e.tagName + "#" + e.id + "." + e.className).slice(0, 5).join(", ")`, &out)
			if out != "" {
				t.Errorf("%s %s: off the screen: %s", name, when, out)
			}
		}
		check("as opened")
		b.eval(`(() => { const s = document.getElementById("fault"); s.selectedIndex = s.options.length - 1; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
		b.typeReading("X1", "", "59.9")
		check("with a reading")
		var small string
		b.eval(`[...document.querySelectorAll("button, select, input:not([type=radio], [type=checkbox]), textarea")].filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && (r.width < 24 || r.height < 24); }).map(e => e.outerHTML.slice(0, 80)).join("\n")`, &small)
		if small != "" {
			t.Errorf("%s: too small to tap:\n%s", name, small)
		}
		b.is("the connectors fit without scrolling", `(() => { const s = document.getElementById("connectors").closest(".scroll"); return s.scrollWidth <= s.clientWidth; })()`, "true")
	}
}

func (b *tab) pdf() []byte {
	b.t.Helper()
	var out []byte
	b.do(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		out, _, err = cdppage.PrintToPDF().WithPreferCSSPageSize(true).Do(ctx)
		return err
	}))
	return out
}

// In print there are the cautions, the picture, the chosen fault and the plan, on A4,
// and nothing that wants a screen.
func TestPrint(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.do(chromedp.WaitVisible("#why-text h4")) // unpacked after the rest
	pdf := b.pdf()
	pages := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
	if pages < 8 || pages > 18 {
		t.Errorf("%d pages", pages)
	}
	box := regexp.MustCompile(`/MediaBox\s*\[\s*0\s+0\s+([0-9.]+)\s+([0-9.]+)`).FindSubmatch(pdf)
	if box == nil || !bytes.HasPrefix(box[1], []byte("594.")) && !bytes.HasPrefix(box[1], []byte("595")) || !bytes.HasPrefix(box[2], []byte("841")) && !bytes.HasPrefix(box[2], []byte("842")) {
		t.Errorf("the paper is %s, A4 is 595 × 842 points", box)
	}
	b.do(emulation.SetEmulatedMedia().WithMedia("print"), chromedp.EmulateViewport(700, 1000)) // 186 mm between the margins
	for selector, shown := range map[string]bool{
		".caution": true, "#picture svg": true, "#said": true, "#connectors": true, "#answers": true, "#found": true, "#plan-1": true, "#plan-2": true, "table.healthy": true,
		"nav": false, "#chooser": false, "#typed": false, "#table": false, "#how": false, "#picture-help": false, "#why-controls": false,
	} {
		b.is(selector, fmt.Sprintf(`document.querySelector(%q).getClientRects().length > 0`, selector), fmt.Sprint(shown))
	}
	b.is("fits the paper", `document.scrollingElement.scrollWidth <= 700`, "true")
	var cut string
	b.eval(`[...document.querySelectorAll("table, svg")].filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.right > 700.5; }).map(e => (e.id || e.caption?.textContent || e.tagName) + " " + Math.round(e.getBoundingClientRect().right)).join(", ")`, &cut)
	if cut != "" {
		t.Errorf("wider than the paper: %s", cut)
	}
}

// In the accessibility tree every control and region has a name, the landmarks are
// there, headings go down one step at a time, and tables have captions.
func TestAccessibilityTree(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.typeReading("X1:", "drive: ohms, H to L", "60.8")
	var nodes []*accessibility.Node
	b.do(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		nodes, err = accessibility.GetFullAXTree().Do(ctx)
		return err
	}))
	value := func(v *accessibility.Value) string {
		if v == nil {
			return ""
		}
		var s any
		if err := json.Unmarshal([]byte(v.Value), &s); err != nil {
			t.Fatalf("%s: %v", v.Value, err)
		}
		return strings.TrimSpace(fmt.Sprint(s))
	}
	count := map[string]int{}
	names := map[string][]string{}
	for _, n := range nodes {
		role, name := value(n.Role), value(n.Name)
		if n.Ignored {
			continue
		}
		count[role]++
		names[role] = append(names[role], name)
		switch role {
		case "button", "link", "combobox", "textbox", "searchbox", "radio", "checkbox", "region", "table", "navigation", "heading", "complementary", "form", "group", "MenuListPopup":
			if name == "" && role != "group" && role != "MenuListPopup" && role != "form" {
				t.Errorf("a %s has no name", role)
			}
		}
	}
	for role, least := range map[string]int{"main": 1, "navigation": 1, "banner": 1, "heading": 20, "button": 200, "combobox": 7, "table": 10, "radio": 2, "status": 3, "alert": 1, "columnheader": 40, "rowheader": 100, "complementary": 1, "note": 6} {
		if count[role] < least {
			t.Errorf("%d of role %s, want %d at least", count[role], role, least)
		}
	}
	if count["main"] != 1 {
		t.Errorf("%d mains", count["main"])
	}
	for role, wanted := range map[string][]string{
		"combobox":  {"Reading", "Part", "Fault", "Connector", "Other lead"},
		"textbox":   {"The meter shows"},
		"searchbox": {"Only faults with these words"},
		"checkbox":  {"only faults that this reading shows somewhere"},
		"radio":     {"drive", "work"},
		"link":      {"Skip to the content"},
	} {
		for _, name := range wanted {
			if !slices.Contains(names[role], name) {
				t.Errorf("no %s is called %q; there are %q", role, name, names[role])
			}
		}
	}
	if !slices.ContainsFunc(names["button"], func(n string) bool {
		return strings.HasPrefix(n, "connector X2") && strings.Contains(n, "reads 18.95 kΩ, above every healthy harness")
	}) {
		t.Error("no button of the picture says what X2 reads")
	}
	if !slices.ContainsFunc(names["button"], func(n string) bool { return strings.Contains(n, "steering") && strings.HasSuffix(n, "; silent") }) {
		t.Error("no button of the picture says that steering is silent")
	}
	var levels []int
	b.eval(`[...document.querySelectorAll("h1, h2, h3, h4, h5")].filter(h => h.getClientRects().length).map(h => Number(h.tagName[1]))`, &levels)
	for i, level := range levels {
		if i == 0 && level != 1 || i > 0 && level > levels[i-1]+1 || i > 0 && level == 1 {
			t.Errorf("heading %d is of level %d after %d", i, level, levels[max(0, i-1)])
		}
	}
	b.is("tables without a caption", `[...document.querySelectorAll("table")].filter(t => t.getClientRects().length && !t.caption?.textContent.trim()).length`, "0")
	b.is("pieces of tables that are laid out as boxes, without a role", `[...document.querySelectorAll("table.cards")].flatMap(t => [...t.querySelectorAll("thead, tbody, tr, th, td")]).filter(e => !e.getAttribute("role")).length`, "0")
	b.is("heads without scope", `[...document.querySelectorAll("th")].filter(h => !h.scope).length`, "0")
	b.is("ids that stand twice", `(() => { const ids = [...document.querySelectorAll("[id]")].map(e => e.id); return ids.filter((x, i) => ids.indexOf(x) !== i).join(); })()`, "")
	b.is("references to nothing", `[...document.querySelectorAll("[aria-labelledby], [aria-describedby], [for], a[href^='#']")].flatMap(e => [e.getAttribute("aria-labelledby"), e.getAttribute("aria-describedby"), e.getAttribute("for"), e.getAttribute("href")?.slice(1)].filter(Boolean).flatMap(x => x.split(" "))).filter(id => !document.getElementById(id)).join()`, "")
	b.is("regions that scroll without a stop", `[...document.querySelectorAll(".scroll")].filter(e => e.getClientRects().length && e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0 && !e.querySelector("[tabindex='0'], button")).length`, "0")
}

// What is on the screen, text by text: the colour that it really has on the ground
// that it really has, in light and in the dark, is legible (WCAG 2.2 AA, 1.4.3).
func TestContrastOfEveryText(t *testing.T) {
	for _, scheme := range []string{"light", "dark"} {
		b := open(t, silentSide, 1280, 900, emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}))
		b.typeReading("X2:", "drive: ohms, H to L", "60.8x")
		b.typeReading("X2:", "drive: ohms, H to L", "22k")
		var texts []struct {
			Text         string
			Colour, On   [3]float64
			Large, Known bool
		}
		b.eval(`(() => {
		  const parse = c => { const m = c.match(/[\d.]+/g).map(Number); return { rgb: m.slice(0, 3), a: m.length > 3 ? m[3] : 1 }; };
		  const out = [], seen = new Set();
		  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
		  while (walker.nextNode()) {
		    const e = walker.currentNode.parentElement, text = walker.currentNode.nodeValue.trim();
		    if (!text || !e.getClientRects().length || e.closest("svg, script, noscript, .vh, .skip")) continue;
		    const s = getComputedStyle(e), size = parseFloat(s.fontSize);
		    let on = null, p = e;
		    for (; p; p = p.parentElement) { const c = parse(getComputedStyle(p).backgroundColor); if (c.a > 0) { if (c.a < 1) throw new Error("half transparent"); on = c.rgb; break; } }
		    const key = s.color + on + size;
		    if (seen.has(key)) continue;
		    seen.add(key);
		    out.push({ Text: text.slice(0, 40), Colour: parse(s.color).rgb, On: on ?? [255, 255, 255], Known: on !== null, Large: size >= 24 || size >= 18.66 && Number(s.fontWeight) >= 700 });
		  }
		  return out;
		})()`, &texts)
		if len(texts) < 12 {
			t.Errorf("%s: only %d sorts of text", scheme, len(texts))
		}
		luminance := func(c [3]float64) (sum float64) {
			for i, weight := range [3]float64{0.2126, 0.7152, 0.0722} {
				x := c[i] / 255
				if x <= 0.04045 {
					x /= 12.92
				} else {
					x = math.Pow((x+0.055)/1.055, 2.4)
				}
				sum += weight * x
			}
			return sum
		}
		dark := 0
		for _, x := range texts {
			a, on := luminance(x.Colour), luminance(x.On)
			if on < 0.2 {
				dark++
			}
			ratio := (math.Max(a, on) + 0.05) / (math.Min(a, on) + 0.05)
			least := 4.5
			if x.Large {
				least = 3
			}
			if ratio < least || !x.Known {
				t.Errorf("%s: %q has %.2f, %v on %v", scheme, x.Text, ratio, x.Colour, x.On)
			}
		}
		if (scheme == "dark") != (dark > len(texts)/2) {
			t.Errorf("%s: %d of %d texts are on a dark ground", scheme, dark, len(texts))
		}
	}
}

// Nothing is told by colour alone: with colours forced away, marks and states are
// still there in shape and words, and nothing moves by itself.
func TestNotByColourAlone(t *testing.T) {
	b := open(t, silentSide, 1280, 900)
	b.is("marked cells with shape and words", `[...document.querySelectorAll("#whatif td.outside, #whatif td.unlikely")].every(c => /[▲▼△▽]/.test(c.textContent) && /(above|below) (every|most) healthy/.test(c.textContent))`, "true")
	b.is("cells without a mark", `[...document.querySelectorAll("#whatif tbody td:not(.outside):not(.unlikely)")].every(c => !/[▲▼△▽]/.test(c.textContent))`, "true")
	b.is("marks in the picture", `[...document.querySelectorAll("#picture .outside text.note")].length > 0 && [...document.querySelectorAll("#picture .outside text.note")].every(c => /[▲▼]/.test(c.textContent))`, "true")
	b.is("what moves", `[...document.querySelectorAll("*")].filter(e => { const s = getComputedStyle(e); return s.animationName !== "none" || parseFloat(s.transitionDuration) > 0 || s.scrollBehavior === "smooth"; }).length`, "0")
}

// Without scripts the cautions, what was found, the healthy readings and the plan are
// there, and no control that would do nothing.
func TestWithoutScripts(t *testing.T) {
	b := open(t, silentSide, 1280, 900, emulation.SetScriptExecutionDisabled(true))
	data, err := os.ReadFile(page(t, silentSide))
	if err != nil {
		t.Fatal(err)
	}
	html := string(data)
	for _, want := range []string{"The maker&#39;s service information", "A FAULT at P9", "Network drive, healthy", "Plan for the wall: network work", "To choose faults, type readings and sort the table"} {
		if !strings.Contains(html, want) && !strings.Contains(strings.ReplaceAll(html, "'", "&#39;"), want) {
			t.Errorf("without scripts %q is not there", want)
		}
	}
	for _, selector := range []string{"#healthy table", "#plan-1", "#picture svg", ".caution", "noscript p"} {
		b.nodes(selector, func(ctx context.Context, found []cdp.NodeID) error {
			if len(found) == 0 {
				t.Errorf("without scripts %s is not there", selector)
				return nil
			}
			box, err := dom.GetBoxModel().WithNodeID(found[0]).Do(ctx)
			if err == nil && (box.Width < 100 || box.Height < 10) {
				t.Errorf("without scripts %s is not to be seen", selector)
			}
			return err
		})
	}
	for _, selector := range []string{"#typed", "#table", "#chooser", "#how"} {
		if !regexp.MustCompile(`id="` + selector[1:] + `"[^>]*hidden|hidden[^>]*id="` + selector[1:] + `"`).MatchString(html) {
			t.Errorf("without scripts %s is not hidden", selector)
		}
	}
}

// Names and notes that look like markup stay text; no script of theirs runs.
func TestHostileNames(t *testing.T) {
	var said []string
	b := open(t, hostile, 1280, 900)
	chromedp.ListenTarget(b.ctx, func(event any) {
		if e, ok := event.(*cdppage.EventJavascriptDialogOpening); ok {
			said = append(said, e.Message)
		}
	})
	b.is("heading", `document.querySelector("h1").textContent`, `</script><script>alert(1)</script><img src=x onerror=alert(2)>"'&{{.}}`)
	b.is("elements from texts", `document.querySelectorAll("img, b, main script, header script, [onerror], [onmouseover]").length`, "0")
	b.is("scripts", `document.scripts.length`, "3")
	b.eval(`(() => { const s = document.getElementById("fault"); s.selectedIndex = 5; s.dispatchEvent(new Event("change", { bubbles: true })); })()`, nil)
	b.typeReading("X1", "ohms", "60")
	b.is("note in the table", `document.querySelector("#connectors .note").textContent.startsWith("<img src=x onerror=alert(4)>")`, "true")
	b.is("elements from texts", `document.querySelectorAll("img, b, [onerror], [onmouseover]").length`, "0")
	if len(said) > 0 {
		t.Errorf("dialogs opened: %q", said)
	}
}
