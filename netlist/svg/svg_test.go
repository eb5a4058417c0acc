package svg

import (
	"encoding/xml"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Widths of Helvetica in thousandths, from the font metrics that Adobe published
// (Helvetica.afm), from memory: the sums of these words.
func TestWidths(t *testing.T) {
	for _, tt := range []struct {
		text string
		want float64
	}{{"", 0}, {" ", 278}, {"i", 222}, {"M", 833}, {"W", 944}, {"0123456789", 5560}, {"Ohm", 778 + 556 + 833}, {"~", 584}, {"X1", 667 + 556}} {
		if got := Width(tt.text, 1000, false); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%q is %v wide, want %v", tt.text, got, tt.want)
		}
	}
	if Width("Ω", 10, false) <= 0 || Width("電", 10, false) < 10 || Width("x", 10, true) <= Width("x", 10, false) {
		t.Error("letters beyond ASCII have no width, or bold ones are not wider")
	}
}

func TestNumber(t *testing.T) {
	for x, want := range map[float64]string{0: "0", -0.001: "0", 1: "1", 1.5: "1.5", 1.25: "1.25", 100: "100", -20.10: "-20.1", 1e6: "1000000", 0.126: "0.13"} {
		if got := Number(x); got != want {
			t.Errorf("%v is written %s, want %s", x, got, want)
		}
	}
}

// Any text comes back from an XML reader as it went in, but for what XML cannot
// hold and for blanks.
func TestAnyTextIsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		var w Writer
		w.Open("svg", Str("data-x", text))
		w.Text("title", text)
		w.Close()
		data, err := w.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			X     string `xml:"data-x,attr"`
			Title string `xml:"title"`
		}
		if err := xml.Unmarshal(data, &got); err != nil {
			t.Fatalf("%v: %s", err, data)
		}
		want := strings.Map(func(r rune) rune {
			switch {
			case r == '\t' || r == '\n' || r == '\r':
				return ' '
			case r < ' ' || r == 0xfffe || r == 0xffff:
				return '\uFFFD'
			}
			return r
		}, strings.ToValidUTF8(text, "\uFFFD"))
		if got.X != want || got.Title != want {
			t.Fatalf("%q came back as %q and %q", text, got.X, got.Title)
		}
	})
}

func TestWriterRefuses(t *testing.T) {
	for name, write := range map[string]func(w *Writer){
		"open element":  func(w *Writer) { w.Open("svg") },
		"closed twice":  func(w *Writer) { w.Open("svg"); w.Close(); w.Close() },
		"not a number":  func(w *Writer) { w.Empty("rect", Num("x", math.NaN())) },
		"infinite":      func(w *Writer) { w.Empty("rect", Num("x", math.Inf(-1))) },
		"path to there": func(w *Writer) { w.Path([]Point{{0, 0}, {math.Inf(1), 0}}) },
	} {
		var w Writer
		write(&w)
		if _, err := w.Bytes(); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	var w Writer
	w.Text("title", "NaN and Inf", Str("data-part", "Infeed"), Str("data-from", "Inf"), Str("data-to", "NaN"))
	if _, err := w.Bytes(); err != nil {
		t.Errorf("names that hold these letters, or are nothing else: %v", err)
	}
}

func TestShortenAndWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, most := rapid.String().Draw(t, "text"), rapid.Float64Range(20, 300).Draw(t, "most")
		short := Shorten(text, 10, true, most)
		if w := Width(short, 10, true); w > most {
			t.Fatalf("%q is %v wide", short, w)
		}
		if flat := strings.Join(strings.Fields(text), " "); Width(flat, 10, true) <= most && short != flat {
			t.Fatalf("%q fits and became %q", flat, short)
		}
		lines := Wrap(text, 10, false, most)
		for _, l := range lines {
			if Width(l, 10, false) > most {
				t.Fatalf("line %q is too wide", l)
			}
		}
		if !strings.Contains(strings.Join(lines, " "), "…") && strings.Join(lines, " ") != strings.Join(strings.Fields(text), " ") {
			t.Fatalf("%q became %q", text, lines)
		}
	})
	if got := Shorten("battery-manager", 10, false, 40); got != "battery…" {
		t.Errorf("shortened to %q", got)
	}
}

// A label's box is where the text is put.
func TestLabelBox(t *testing.T) {
	for _, l := range []Label{{X: 10, Y: 20, Size: 10, Text: "drive"}, {X: 10, Y: 20, Size: 10, Text: "drive", Turned: true, Bold: true}} {
		x0, y0, x1, y1 := l.Box()
		long, high := x1-x0, y1-y0
		if l.Turned {
			long, high = high, long
			if y1 != l.Y {
				t.Error("a turned text begins at its lower end")
			}
		}
		if math.Abs(long-Width(l.Text, l.Size, l.Bold)) > 1e-9 || math.Abs(high-12) > 1e-9 {
			t.Errorf("%+v takes %v by %v", l, long, high)
		}
	}
	var w Writer
	w.Label(Label{Text: "  "})
	if data, err := w.Bytes(); err != nil || len(data) > 0 {
		t.Errorf("an empty label is written: %s %v", data, err)
	}
}
