package browsertest

import (
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
)

// shownState is what the page shows after a choice.
type shownState struct {
	Fault, Network, Kind, Said string
	Rows                       []struct{ Place, Healthy, Value, Class, Lies, Picture string }
}

// walk chooses every n-th fault by the select, then every network and reading, and
// notes what is displayed.
const walk = `(step => {
  const out = [], $ = id => document.getElementById(id);
  const set = (id, v) => { $(id).value = v; $(id).dispatchEvent(new Event("change", { bubbles: true })); };
  const faults = [...$("fault").options].map(o => o.value);
  for (let i = 0; i < faults.length; i += i === 0 ? 1 : step) {
    set("fault", faults[i]);
    const radios = [...document.querySelectorAll("#networks input")];
    for (const radio of radios) {
      radio.click();
      for (const kind of [...$("kind").options].map(o => o.value)) {
        set("kind", kind);
        const first = e => e.firstChild.nodeValue;
        out.push({
          Fault: Number($("fault").value) < 0 ? "" : $("fault").selectedOptions[0].text,
          Network: radio.parentElement.textContent, Kind: $("kind").selectedOptions[0].text, Said: $("said").textContent,
          Rows: [...$("connectors").tBodies[0].rows].map(tr => {
            const note = document.querySelector('#picture [data-part="' + tr.dataset.place.split("/")[0] + '"] text.note.reading');
            return { Place: tr.dataset.place, Healthy: first(tr.cells[1]), Value: first(tr.cells[2]), Class: tr.cells[2].className, Lies: tr.cells[2].querySelector(".lies").textContent, Picture: note ? note.textContent : "" };
          }),
        });
      }
    }
  }
  return out;
})`

// What is displayed after choosing a fault is what the library predicts: in the table
// of connectors and in the picture, value and mark.
func TestShownNumbersAreTheLibrarys(t *testing.T) {
	for _, tt := range []struct {
		name  string
		step  int
		least int
	}{{bench, 1, 2500}, {orchard, 41, 1000}} {
		b := open(t, tt.name, 1280, 900)
		c := circuitOf(t, tt.name)
		l := ask(t, c)
		var states []shownState
		b.eval(fmt.Sprintf("%s(%d)", walk, tt.step), &states)
		compared := 0
		for _, s := range states {
			outside := 0
			shownAt := map[string]bool{} // parts of the picture, which has room for one half
			for _, r := range s.Rows {
				healthy, _ := l.reads(s.Network, s.Kind, r.Place, "")
				value, mark := l.reads(s.Network, s.Kind, r.Place, s.Fault)
				what := strings.Join([]string{tt.name, s.Network, s.Kind, r.Place, s.Fault}, ", ")
				if r.Healthy != healthy || r.Value != value {
					t.Errorf("%s: shown %s and %s, the library has %s and %s", what, r.Healthy, r.Value, healthy, value)
				}
				class := map[faults.Mark]string{faults.Within: "n", faults.Unlikely: "n unlikely", faults.Outside: "n outside"}[mark]
				if r.Class != class {
					t.Errorf("%s: marked %q, want %q", what, r.Class, class)
				}
				switch {
				case mark == faults.Outside && !strings.HasSuffix(r.Lies, "every healthy harness"),
					mark == faults.Unlikely && !strings.HasSuffix(r.Lies, "most healthy harnesses"),
					mark == faults.Within && r.Lies != "the same" && r.Lies != "within the healthy band":
					t.Errorf("%s: %s is said to lie %q", what, value, r.Lies)
				}
				if mark == faults.Outside {
					outside++
				}
				compared++
				part, _, _ := strings.Cut(r.Place, "/")
				if shownAt[part] {
					continue
				}
				shownAt[part] = true
				if shown, _, _ := strings.Cut(r.Picture+" ▲", " ▲"); strings.TrimRight(shown, " ▼△▽") != value {
					t.Errorf("%s: the picture shows %q, the table %q", what, r.Picture, value)
				}
				if (mark == faults.Within) == strings.ContainsAny(r.Picture, "▲▼△▽") {
					t.Errorf("%s: the picture marks %q", what, r.Picture)
				}
				if mark != faults.Within {
					side := l.side(s.Network, s.Kind, r.Place, s.Fault)
					shapes := map[string]string{"above": "▲△", "below": "▼▽"}[side]
					if mark == faults.Outside {
						shapes = shapes[:len("▲")]
					} else {
						shapes = shapes[len("▲"):]
					}
					if !strings.HasPrefix(r.Lies, side) || !strings.HasSuffix(r.Picture, " "+shapes) {
						t.Errorf("%s: %s lies %s, it says %q and %q", what, value, side, r.Lies, r.Picture)
					}
				}
			}
			if s.Fault != "" && (outside == 0) != strings.Contains(s.Said, "nowhere") {
				t.Errorf("%s, %s: %d outside, but it says %q", s.Fault, s.Kind, outside, s.Said)
			}
		}
		if compared < tt.least {
			t.Errorf("%s: only %d numbers compared", tt.name, compared)
		}
	}
}

// The table of all faults shows the library's numbers too, in each kind.
func TestWhatIfTableIsTheLibrarys(t *testing.T) {
	b := open(t, bench, 1280, 900)
	l := ask(t, circuitOf(t, bench))
	var tables []struct {
		Kind string
		Head []string
		Rows [][]string
	}
	b.eval(`(() => {
	  const $ = id => document.getElementById(id), out = [];
	  $("table-differs").click();
	  for (const o of [...$("table-kind").options]) {
	    $("table-kind").value = o.value; $("table-kind").dispatchEvent(new Event("change", { bubbles: true }));
	    $("table-more").hidden || $("table-more").click();
	    out.push({ Kind: o.text, Head: [...$("whatif").tHead.rows[0].cells].map(c => c.textContent), Rows: [...$("whatif").tBodies[0].rows].slice(3).map(r => [...r.cells].map((c, i) => i ? c.firstChild.nodeValue : c.textContent)) });
	  }
	  return out;
	})()`, &tables)
	if len(tables) != 8 {
		t.Fatalf("%d tables", len(tables))
	}
	for _, x := range tables {
		if len(x.Rows) != len(l.table.Rows) {
			t.Errorf("%s: %d rows of %d", x.Kind, len(x.Rows), len(l.table.Rows))
		}
		for _, row := range x.Rows {
			for j := 1; j < len(row); j++ {
				if want, _ := l.reads("bus", x.Kind, x.Head[j], row[0]); row[j] != want {
					t.Errorf("%s, %s at %s: shown %s, the library has %s", x.Kind, row[0], x.Head[j], row[j], want)
				}
			}
		}
	}
}

// Which modules answer, after choosing a fault, as the library has it.
func TestShownAnswersAreTheLibrarys(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	c := circuitOf(t, orchard)
	want, err := faults.MakeAnswerTable(c, faults.Catalogue(c), "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	var shown []struct {
		Fault   string
		Answers []string
		Tags    int
	}
	b.eval(`(() => {
	  const $ = id => document.getElementById(id), out = [];
	  for (let i = 1; i < $("fault").options.length; i += 17) {
	    $("fault").selectedIndex = i; $("fault").dispatchEvent(new Event("change", { bubbles: true }));
	    out.push({ Fault: $("fault").selectedOptions[0].text, Answers: [...document.querySelectorAll("#answers li")].map(l => l.textContent), Tags: document.querySelectorAll("#picture .tag").length });
	  }
	  return out;
	})()`, &shown)
	words := map[string]string{"yes": "answers", "marginal": "marginal", "no": "silent"}
	byName := map[string]int{}
	for k, row := range want.Rows {
		byName[row.Fault.Name] = k
	}
	if len(shown) < 30 {
		t.Fatalf("only %d faults looked at", len(shown))
	}
	for _, s := range shown {
		row, silent := want.Rows[byName[s.Fault]], 0
		for i, h := range row.Answers {
			if text := c.Units[want.Units[i]].Name + ": " + words[h.String()]; s.Answers[i] != text {
				t.Errorf("%s: shown %q, want %q", s.Fault, s.Answers[i], text)
			}
			if h.String() == "no" {
				silent++
			}
		}
		if s.Tags != silent {
			t.Errorf("%s: %d modules are marked silent in the picture, want %d", s.Fault, s.Tags, silent)
		}
	}
}
