package main

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"example.com/ohmloom/cmd/whatif/report"
)

// document writes titles, paragraphs and tables as plain text, Markdown or CSV, or
// gathers them as blocks for a page.
// In CSV only the tables remain; what is said beside them goes to stderr, so that
// a spreadsheet gets nothing else and the cautions are shown all the same.
type document struct {
	format string
	s      streams
	out    bytes.Buffer
	aside  bytes.Buffer
	// blocks are what a page is made of; listOpen says that the next item goes on
	// with the last of them.
	blocks   []report.Block
	listOpen bool
}

func newDocument(format string, s streams) *document { return &document{format: format, s: s} }

// pageFormat is the format of a document that only gathers blocks.
const pageFormat = "page"

func (d *document) block(b report.Block) {
	d.blocks, d.listOpen = append(d.blocks, b), false
}

func (d *document) title(text string) {
	switch d.format {
	case pageFormat: // a page has its own
	case "markdown":
		d.out.WriteString("# " + text + "\n\n")
	case "csv":
		d.aside.WriteString(text + "\n")
	default:
		d.out.WriteString(text + "\n" + strings.Repeat("=", utf8.RuneCountInString(text)) + "\n\n")
	}
}

func (d *document) heading(text string) {
	switch d.format {
	case pageFormat:
		d.block(report.Block{Kind: report.Heading, Text: text})
	case "markdown":
		d.out.WriteString("## " + text + "\n\n")
	case "csv":
		d.aside.WriteString(text + "\n")
	default:
		d.out.WriteString(text + "\n" + strings.Repeat("-", utf8.RuneCountInString(text)) + "\n")
	}
}

func (d *document) cautions() {
	if d.format == pageFormat {
		d.block(report.Block{Kind: report.Caution, Text: cautionText})
		return
	}
	d.paragraph(cautionText)
}

// textWidth is where paragraphs break.
const textWidth = 100

// endList sets a list off from what follows.
func (d *document) endList() {
	d.listOpen = false
	if d.format != "csv" {
		d.out.WriteString("\n")
	}
}

// paragraph writes a paragraph and the empty line behind it.
func (d *document) paragraph(text string) {
	switch d.format {
	case pageFormat:
		d.block(report.Block{Kind: report.Paragraph, Text: text})
	case "markdown":
		d.out.WriteString(text + "\n\n")
	case "csv":
		d.aside.WriteString(text + "\n")
	default:
		d.out.WriteString(wrap(text, textWidth) + "\n\n")
	}
}

// verdict writes what came out.
func (d *document) verdict(text string) {
	if d.format == pageFormat {
		d.block(report.Block{Kind: report.Verdict, Text: text})
		return
	}
	d.paragraph(text)
}

// item writes one point of a list.
func (d *document) item(text string) {
	switch d.format {
	case pageFormat:
		if !d.listOpen {
			d.block(report.Block{Kind: report.List})
			d.listOpen = true
		}
		last := &d.blocks[len(d.blocks)-1]
		last.Items = append(last.Items, text)
	case "markdown":
		d.out.WriteString("- " + text + "\n")
	case "csv":
		d.aside.WriteString(text + "\n")
	default:
		d.out.WriteString("  " + strings.ReplaceAll(wrap(text, textWidth-2), "\n", "\n    ") + "\n")
	}
}

// lines writes preformatted lines.
func (d *document) lines(text ...string) {
	for _, l := range text {
		switch d.format {
		case "markdown":
			d.out.WriteString("- " + strings.TrimSpace(l) + "\n")
		case "csv":
			d.aside.WriteString(l + "\n")
		default:
			d.out.WriteString(l + "\n")
		}
	}
	if d.format != "csv" {
		d.out.WriteString("\n")
	}
}

// table writes a heading and a table; numbers are expected to be short text.
func (d *document) table(heading string, header []string, rows [][]string) {
	switch d.format {
	case pageFormat:
		d.block(report.Block{Kind: report.Table, Text: heading, Header: header, Rows: rows})
		return
	case "csv":
		w := csv.NewWriter(&d.out)
		_ = w.Write(header) // a bytes.Buffer does not fail
		_ = w.WriteAll(rows)
		return
	case "markdown":
		d.heading(heading)
		writeRow := func(cells []string) {
			d.out.WriteString("|")
			for _, c := range cells {
				d.out.WriteString(" " + strings.ReplaceAll(c, "|", "\\|") + " |")
			}
			d.out.WriteString("\n")
		}
		writeRow(header)
		d.out.WriteString("|" + strings.Repeat(" --- |", len(header)) + "\n")
		for _, r := range rows {
			writeRow(r)
		}
	default:
		d.heading(heading)
		var padded bytes.Buffer
		w := tabwriter.NewWriter(&padded, 0, 4, 2, ' ', 0)
		for _, r := range alignNumbers(append([][]string{header}, rows...)) {
			_, _ = w.Write([]byte(strings.Join(r, "\t") + "\n"))
		}
		_ = w.Flush() // a bytes.Buffer does not fail
		for _, line := range strings.Split(strings.TrimRight(padded.String(), "\n"), "\n") {
			d.out.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	d.out.WriteString("\n")
}

// number is a cell such as 60.1, 14.2k*, OL~ or +1.2.
var number = regexp.MustCompile(`^([+-]?[0-9.]+[kM]?|OL|off|stuck)([*~]?)$`)

// alignNumbers pads the columns that hold nothing but numbers, so that they stand
// right-aligned with their marks hanging behind them. The first row is the
// header.
func alignNumbers(rows [][]string) [][]string {
	out := make([][]string, len(rows))
	for i := range rows {
		out[i] = append([]string(nil), rows[i]...)
	}
	for column := 0; len(rows) > 1 && column < len(rows[0]); column++ {
		numeric, marked, width := true, false, 0
		for _, r := range rows[1:] {
			m := number.FindStringSubmatch(r[column])
			numeric = numeric && m != nil
			marked = marked || m != nil && m[2] != ""
		}
		if !numeric {
			continue
		}
		for i, r := range out {
			if marked && (i == 0 || !strings.ContainsAny(r[column], "*~")) {
				r[column] += " "
			}
			width = max(width, utf8.RuneCountInString(r[column]))
		}
		for _, r := range out {
			r[column] = strings.Repeat(" ", width-utf8.RuneCountInString(r[column])) + r[column]
		}
	}
	return out
}

func (d *document) flush() error {
	if d.aside.Len() > 0 {
		if err := write(d.s.err, d.aside.String()); err != nil {
			return err
		}
	}
	return write(d.s.out, d.out.String())
}

// words parts a text at its blanks, but keeps a unit with its number.
func words(text string) []string {
	var out []string
	for _, w := range strings.Fields(text) {
		switch strings.TrimRight(w, ".,;:)") {
		case "%", "Ω", "kΩ", "MΩ", "mΩ", "V", "°C", "m", "min":
			if len(out) > 0 {
				out[len(out)-1] += " " + w
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

func wrap(text string, width int) string {
	var b strings.Builder
	for i, paragraph := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		if i > 0 {
			b.WriteString("\n")
		}
		n := 0
		for _, word := range words(paragraph) {
			k := utf8.RuneCountInString(word)
			if n > 0 && n+1+k > width {
				b.WriteString("\n")
				n = 0
			}
			if n > 0 {
				b.WriteString(" ")
				n++
			}
			b.WriteString(word)
			n += k
		}
	}
	return b.String()
}
