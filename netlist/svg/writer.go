package svg

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Attr is one attribute of an element, made by [Str] or [Num].
type Attr struct {
	Name, Value string
	number      bool // which must be finite; a name may be Inf
}

// Str is an attribute with a text.
func Str(name, value string) Attr { return Attr{Name: name, Value: value} }

// Num is an attribute with a number, to two decimals.
func Num(name string, value float64) Attr {
	return Attr{Name: name, Value: Number(value), number: true}
}

// Number writes a number to two decimals and no further than needed.
func Number(x float64) string {
	s := strconv.FormatFloat(x, 'f', 2, 64)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

// Writer builds one picture. The zero value is ready for use.
type Writer struct {
	out  bytes.Buffer
	open []string
	bad  error
}

// Open starts an element that has others inside it.
func (w *Writer) Open(name string, attributes ...Attr) {
	w.start(name, attributes)
	w.out.WriteString(">\n")
	w.open = append(w.open, name)
}

// Close ends the element that was opened last.
func (w *Writer) Close() {
	if len(w.open) == 0 {
		w.fail("an element is closed that was not opened")
		return
	}
	last := len(w.open) - 1
	w.out.WriteString("</" + w.open[last] + ">\n")
	w.open = w.open[:last]
}

// Empty writes an element with nothing in it.
func (w *Writer) Empty(name string, attributes ...Attr) {
	w.start(name, attributes)
	w.out.WriteString("/>\n")
}

// Text writes an element that holds a text, such as title.
func (w *Writer) Text(name, text string, attributes ...Attr) {
	w.start(name, attributes)
	w.out.WriteString(">" + Escape(text) + "</" + name + ">\n")
}

// Path writes a path through points, with straight lines.
func (w *Writer) Path(points []Point, attributes ...Attr) {
	for _, p := range points {
		if x := p.X + p.Y; math.IsNaN(x) || math.IsInf(x, 0) {
			w.fail(fmt.Sprintf("a path goes to %v, %v", p.X, p.Y))
		}
	}
	w.Empty("path", append([]Attr{Str("d", Through(points))}, attributes...)...)
}

// Bytes gives the picture. It fails where an element is still open or a number
// was not finite.
func (w *Writer) Bytes() ([]byte, error) {
	if len(w.open) > 0 {
		w.fail("element " + w.open[len(w.open)-1] + " is not closed")
	}
	if w.bad != nil {
		return nil, w.bad
	}
	return w.out.Bytes(), nil
}

func (w *Writer) start(name string, attributes []Attr) {
	w.out.WriteString("<" + name)
	for _, a := range attributes {
		if a.number && strings.ContainsAny(a.Value, "NI") { // NaN, +Inf, -Inf
			w.fail(fmt.Sprintf("attribute %s of %s is %s", a.Name, name, a.Value))
		}
		w.out.WriteString(" " + a.Name + `="` + Escape(a.Value) + `"`)
	}
}

func (w *Writer) fail(what string) {
	if w.bad == nil {
		w.bad = fmt.Errorf("svg: %s", what)
	}
}

// Point is a place in the picture: x to the right, y down, in user units.
type Point struct{ X, Y float64 }

// Through is the path data of straight lines through points.
func Through(points []Point) string {
	var b strings.Builder
	for i, p := range points {
		if i == 0 {
			b.WriteString("M")
		} else {
			b.WriteString(" L")
		}
		b.WriteString(Number(p.X) + " " + Number(p.Y))
	}
	return b.String()
}

// Escape makes a text fit for XML, between tags and in attributes. What XML 1.0
// cannot hold at all becomes U+FFFD.
func Escape(text string) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&quot;")
		case r == '\'':
			b.WriteString("&#39;")
		case r == '\t' || r == '\n' || r == '\r':
			b.WriteString(" ")
		case r < 0x20 || r == 0xfffe || r == 0xffff:
			b.WriteRune('\uFFFD')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
