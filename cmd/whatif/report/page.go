package report

import (
	"cmp"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// Options is what goes into a page beside the harness.
type Options struct {
	// Cautions lead the page. Sections that have a meter taken in hand have a line that
	// points there, and on paper each plan has them in full once more: it is hung up
	// apart from the rest.
	Cautions []string
	// HarnessFile is the file's name, for the commands that the page shows.
	HarnessFile string
	// Tools are the connectors at which a scan tool is foreseen.
	Tools []string
	// Found, Next and Plans are what the commands match, next and plan say.
	Found, Next *Section
	Plans       []Section
	// Derive are places, beside the nearest of each network, whose readings are
	// derived with each fault.
	Derive []string
	// Fault is the fault that the page opens with: an index of the catalogue, or −1.
	Fault int
	// Fitted are resistances in ohms that readings say of faults, by name: such a
	// fault is shown with the best of them instead of the typical one.
	Fitted map[string]faults.Estimate
	// Taken are the readings that were taken, to be derived one by one, and Best what
	// explains them.
	Taken []Taken
	Best  Explanation
	// Instrument is the meter.
	Instrument faults.Instrument
	// Progress, where not nil, is called as work goes on.
	Progress func(what string, done, of int)
}

// Page is a page ready to be written.
type Page struct {
	Title, Note string
	Options     Options
	Healthy     []healthyTable
	// Connectors, Readings and Faults count what the page holds.
	Connectors, Readings, Faults int
	// Ends counts the readings from one place to another; EndPlaces the places that they
	// are between where those are not all, else 0.
	Ends, EndPlaces int
	// Derived has the derivation of each reading that was taken.
	Derived          []derivedReading
	data             *data
	json             []byte
	picture, reasons string
}

// healthyTable is what each place of one network reads in healthy wiring, for
// readers without scripts and for the wall: with everything plugged in, or each
// connector with itself unplugged.
type healthyTable struct {
	Network   string
	Unplugged bool
	Header    []string
	Rows      []healthyRow
}

type healthyRow struct {
	// Place has the cavities too where a place has several rows.
	Place, Note string
	Minutes     float64
	Cells       []healthyCell
}

type healthyCell struct{ Reads, Least, Greatest string }

// Make computes a page.
func Make(c *netlist.Circuit, o Options) (*Page, error) {
	list := fitted(faults.Catalogue(c), o.Fitted)
	step := func(what string) func(done, of int) {
		if o.Progress == nil {
			return nil
		}
		return func(done, of int) { o.Progress(what, done, of) }
	}
	t, err := faults.MakeSpannedTable(c, list, probesOf(c), o.Instrument, step("faults"))
	if err != nil {
		return nil, err
	}
	var scans []scan
	for _, tool := range o.Tools {
		s, err := faults.MakeAnswerTable(c, list, tool, step("answers at "+tool))
		if err != nil {
			return nil, err
		}
		reach, err := faults.AnswersOverRange(s, nil)
		if err != nil {
			return nil, err
		}
		if len(s.Units) > 0 { // else there is nobody to answer
			scans = append(scans, scan{s, reach})
		}
	}
	p := &Page{Title: c.Harness.Name, Note: c.Harness.Note, Options: o, Readings: len(t.Probes), Faults: len(list), data: gather(t, scans, o.Fitted)}
	p.data.First = o.Fault
	if p.EndPlaces, err = addEnds(p.data, c, list, o.Instrument, step("readings from place to place")); err != nil {
		return nil, err
	}
	p.Ends = len(p.data.Ends)
	p.Connectors = len(c.Harness.Connectors)
	p.Healthy = healthyTables(p.data)
	if p.picture, err = draw(c, p.data); err != nil {
		return nil, err
	}
	why, err := deriveReadings(t, p.data, append(nearestPlaces(c, p.data), o.Derive...), step("derivations"))
	if err != nil {
		return nil, err
	}
	if p.reasons, err = pack(why); err != nil {
		return nil, err
	}
	if p.Derived, err = deriveTaken(c, o, step("readings taken")); err != nil {
		return nil, err
	}
	if p.json, err = json.Marshal(p.data); err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	return p, nil
}

func healthyTables(d *data) []healthyTable {
	var out []healthyTable
	for i := range 2 * len(d.Networks) {
		n, unplugged := i/2, i%2 == 1
		t := healthyTable{Network: d.Networks[n], Unplugged: unplugged, Header: []string{}}
		column := map[int]int{}
		for k, kind := range d.Kinds {
			if kind.Network == n && kind.Unplugged == unplugged {
				column[k] = len(t.Header)
				short, _, _ := strings.Cut(kind.Label, " (")
				t.Header = append(t.Header, short)
			}
		}
		type rowKey struct{ place, between string }
		rows := map[rowKey]int{}
		for _, r := range d.Readings {
			j, ours := column[r.Kind]
			if !ours {
				continue
			}
			at := d.Places[r.Place]
			key := rowKey{at.Name, r.Between} // one row for each pair of cavities
			i, known := rows[key]
			if !known {
				i = len(t.Rows)
				rows[key] = i
				t.Rows = append(t.Rows, healthyRow{Place: strings.TrimSpace(at.Name + " " + r.Between), Note: at.Note, Minutes: at.Minutes, Cells: make([]healthyCell, len(t.Header))})
			}
			q := d.Kinds[r.Kind].quantity()
			t.Rows[i].Cells[j] = healthyCell{r.Healthy.text(q), r.Worst[0].text(q), r.Worst[1].text(q)}
		}
		slices.SortStableFunc(t.Rows, func(a, b healthyRow) int { return cmp.Compare(a.Minutes, b.Minutes) })
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

//go:embed assets
var assets embed.FS

// scripts are the modules of the page in the order in which they are put together;
// each has one idea, and uses only those before it.
var scripts = []string{"numbers", "model", "state", "dom", "chooser", "modules", "picture", "connectors", "reasons", "hint", "keep", "asked", "further", "advice", "file", "typed", "fold", "whatif", "start"}

func asset(name string) string {
	text, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic("report: " + err.Error()) // it was built in
	}
	return string(text)
}

// frame is what all pages have in common, put together when first asked for: every run of
// the command would pay for it else.
type frame struct {
	style, script string
	layout        *template.Template
	// policy is the page's Content Security Policy: nothing is fetched, nothing runs but
	// the one script, nothing is styled but by the one sheet.
	policy string
}

var common = sync.OnceValue(func() *frame {
	var b strings.Builder
	b.WriteString("(() => {\n\"use strict\";\n")
	for _, name := range scripts {
		b.WriteString(asset(name + ".js"))
	}
	b.WriteString("})();\n")
	f := &frame{style: asset("page.css"), script: b.String()}
	hash := func(text string) string {
		sum := sha256.Sum256([]byte(text))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	f.policy = "default-src 'none'; script-src " + hash(f.script) + "; style-src " + hash(f.style) + "; base-uri 'none'; form-action 'none'"
	f.layout = template.Must(template.New("page.html").Funcs(template.FuncMap{
		"minutes": func(x float64) string { return fmt.Sprintf("%g min", x) },
		"shell":   shellWord,
	}).ParseFS(assets, "assets/page.html"))
	return f
})

// Write writes the page.
func (p *Page) Write(w io.Writer) error {
	f := common()
	return f.layout.Execute(w, map[string]any{
		"Page":    p,
		"Policy":  f.policy,
		"Style":   template.CSS(f.style),
		"Script":  template.JS(f.script),
		"Data":    template.JS(p.json),      // json.Marshal escapes <, > and &
		"Picture": template.HTML(p.picture), // package drawing escapes its texts
		"Reasons": p.reasons,
		"Found":   p.section(p.Options.Found),
		"Next":    p.section(p.Options.Next),
		"Plans":   p.plans(),
	})
}
