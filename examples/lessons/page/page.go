// Package page lays a lesson out as plain text, read from top to bottom: what to
// guess, what the library computes, the same worked by hand, what to remember.
package page

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"example.com/ohmloom/faults/caution"
	"example.com/ohmloom/solve"
)

// width is where paragraphs break, in characters.
const width = 92

// Page is a lesson as far as it is written.
type Page struct {
	text strings.Builder
	sums []Sum
}

// Sum is a reading with the same worked by hand beside it.
type Sum struct {
	Case     string
	Quantity solve.Quantity
	// Meter is what the library has a meter show.
	Meter solve.Value
	// Working is the formula with its numbers, Hand what it comes to.
	Working string
	Hand    float64
	// Within is how far the two may lie apart, in ohms or volts, by what the
	// formula leaves out.
	Within float64
}

// New begins a lesson: its title, and what must be said before any reading.
func New(title string) *Page {
	p := &Page{}
	p.text.WriteString(title + "\n" + strings.Repeat("=", utf8.RuneCountInString(title)) + "\n\n")
	p.Text("%s", caution.Text())
	p.Text("The harness is invented. The readings are computed by the library as this runs; figures from standards and data sheets are named at the end.")
	return p
}

// String is the text so far.
func (p *Page) String() string { return strings.TrimRight(p.text.String(), "\n") + "\n" }

// Worked are all sums of the page.
func (p *Page) Worked() []Sum { return p.sums }

// Heading begins a section.
func (p *Page) Heading(text string) {
	p.text.WriteString(text + "\n" + strings.Repeat("-", utf8.RuneCountInString(text)) + "\n")
}

// Text writes a paragraph.
func (p *Page) Text(format string, args ...any) {
	p.text.WriteString(wrap(fmt.Sprintf(format, args...), "", "") + "\n\n")
}

// Points writes a list.
func (p *Page) Points(items ...string) {
	for _, item := range items {
		p.text.WriteString(wrap(item, "- ", "  ") + "\n")
	}
	p.text.WriteString("\n")
}

// Steps writes a numbered list.
func (p *Page) Steps(items ...string) {
	for i, item := range items {
		mark := fmt.Sprintf("%d. ", i+1)
		p.text.WriteString(wrap(item, mark, strings.Repeat(" ", len(mark))) + "\n")
	}
	p.text.WriteString("\n")
}

// Drawing writes lines as they are, set in.
func (p *Page) Drawing(lines string) {
	for _, line := range strings.Split(strings.Trim(lines, "\n"), "\n") {
		p.text.WriteString(strings.TrimRight("    "+line, " ") + "\n")
	}
	p.text.WriteString("\n")
}

// Table writes rows below a header; columns of numbers stand to the right.
func (p *Page) Table(header []string, rows ...[]string) {
	all := append([][]string{header}, rows...)
	widths, numeric := make([]int, len(header)), make([]bool, len(header))
	for c := range header {
		numeric[c] = c > 0
		for r, row := range all {
			widths[c] = max(widths[c], utf8.RuneCountInString(row[c]))
			numeric[c] = numeric[c] && (r == 0 || strings.ContainsAny(row[c][:min(1, len(row[c]))], "0123456789O"))
		}
	}
	for r, row := range all {
		var line strings.Builder
		for c, cell := range row {
			gap := strings.Repeat(" ", widths[c]-utf8.RuneCountInString(cell))
			if numeric[c] {
				line.WriteString(gap + cell)
			} else {
				line.WriteString(cell + gap)
			}
			line.WriteString("   ")
		}
		p.text.WriteString("  " + strings.TrimRight(line.String(), " ") + "\n")
		if r == 0 {
			total := 0
			for _, w := range widths {
				total += w + 3
			}
			p.text.WriteString("  " + strings.Repeat("-", total-3) + "\n")
		}
	}
	p.text.WriteString("\n")
}

// Sums writes a table of readings beside what they come to by hand. first names
// what the cases are.
func (p *Page) Sums(first string, sums ...Sum) {
	p.sums = append(p.sums, sums...)
	var rows [][]string
	for _, s := range sums {
		rows = append(rows, []string{s.Case, Show(s.Quantity, s.Meter), Show(s.Quantity, solve.Value{Number: s.Hand}), s.Working})
	}
	p.Table([]string{first, "meter", "by hand", "worked"}, rows...)
}

// Show writes a value as a meter does, volts to two places.
func Show(q solve.Quantity, v solve.Value) string {
	if q == solve.Volts && !v.OL {
		n := v.Number
		if n > -0.005 && n < 0 {
			n = 0
		}
		return fmt.Sprintf("%.2f V", n)
	}
	return solve.FormatReading(q, v)
}

// Ohms writes a resistance as a meter does.
func Ohms(ohms float64) string { return Show(solve.Ohms, solve.Value{Number: ohms}) }

// wrap breaks a text into lines, the first set in by first, the others by rest. A
// number stays with its unit.
func wrap(text, first, rest string) string {
	lines := []string{first}
	used := false
	for _, word := range words(text) {
		last := &lines[len(lines)-1]
		switch {
		case !used:
			*last += word
		case utf8.RuneCountInString(*last)+1+utf8.RuneCountInString(word) > width:
			lines = append(lines, rest+word)
		default:
			*last += " " + word
		}
		used = true
	}
	return strings.Join(lines, "\n")
}

// words parts a text at its blanks, but not within "60 Ω" or "1 / 120".
func words(text string) []string {
	var out []string
	glue := false
	for _, w := range strings.Fields(text) {
		switch strings.TrimRight(w, ".,;:)") {
		case "Ω", "kΩ", "MΩ", "mΩ", "V", "mA", "A", "m", "%", "=", "×", "/", "+", "−":
			if len(out) > 0 {
				out[len(out)-1] += " " + w
				glue = strings.ContainsAny(w, "=×/+−")
				continue
			}
		}
		if glue {
			out[len(out)-1] += " " + w
			glue = false
			continue
		}
		out = append(out, w)
	}
	return out
}
