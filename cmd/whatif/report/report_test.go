package report

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func circuitOf(t testing.TB, path string) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../../../" + path)
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// written makes a page and gives it as a reader gets it.
func written(t testing.TB, c *netlist.Circuit, o Options) string {
	t.Helper()
	o.Instrument = faults.DefaultInstrument()
	if o.HarnessFile == "" {
		o.HarnessFile = "harness.yaml"
	}
	p, err := Make(c, o)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := p.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// pageOf is the page of a demo harness with a scan tool at X1, made once for all
// tests: its derivations take a while.
func pageOf(t testing.TB, demo string) (*netlist.Circuit, string) {
	t.Helper()
	made.Lock()
	defer made.Unlock()
	c := circuitOf(t, demo)
	if made.pages[demo] == "" {
		made.pages[demo] = written(t, c, Options{Tools: []string{"X1"}, Cautions: []string{"supply off first"}})
	}
	return c, made.pages[demo]
}

var made = struct {
	sync.Mutex
	pages map[string]string
}{pages: map[string]string{}}

// numbersOf parses the numbers out of a page.
func numbersOf(t testing.TB, html string) *data {
	t.Helper()
	_, rest, ok := strings.Cut(html, `<script type="application/json" id="data">`)
	if !ok {
		t.Fatal("the page has no data")
	}
	text, _, _ := strings.Cut(rest, "</script>")
	var d data
	decoder := json.NewDecoder(strings.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&d); err != nil {
		t.Fatal(err)
	}
	return &d
}

var demos = []string{"examples/bench/harness.yaml", "examples/star/harness.yaml", "examples/trunk/harness.yaml", "examples/orchard/harness.yaml"}

// Every number in the page is the library's: each reading healthy and with every
// fault, its mark, its band and its span, against tables of its own making.
func TestNumbersAreTheLibrarys(t *testing.T) {
	for _, demo := range demos {
		c, html := pageOf(t, demo)
		d := numbersOf(t, html)
		list := faults.Catalogue(c)
		if len(d.Faults) != len(list) {
			t.Fatalf("%s: %d faults of %d", demo, len(d.Faults), len(list))
		}
		var probes []faults.Probe
		unplugged := 0
		for _, r := range d.Readings {
			k := d.Kinds[r.Kind]
			q, condition := solve.Ohms, solve.Condition{}
			if k.Volts {
				q, condition.Supply = solve.Volts, solve.Idle
			}
			if k.Unplugged {
				condition.Unplugged = []string{d.Places[r.Place].Part}
				unplugged++
			}
			between := k.Between
			if r.Between != "" {
				between = r.Between
			}
			p, err := faults.ProbeAt(c, q, d.Places[r.Place].Name, between, condition)
			if err != nil {
				t.Fatalf("%s: %v", demo, err)
			}
			if name := c.Nodes[p.From].Conductor.Network; name != d.Networks[k.Network] {
				t.Errorf("%s: %s is on network %s, not %s", demo, p, name, d.Networks[k.Network])
			}
			probes = append(probes, p)
		}
		in := faults.DefaultInstrument()
		plain, err := faults.MakeTable(c, list, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		spanned, err := faults.MakeSpannedTable(c, list, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		same := func(what string, q solve.Quantity, n number, v solve.Value) {
			t.Helper()
			if got, want := solve.FormatReading(q, solve.Value{Number: n.value, OL: n.over}), solve.FormatReading(q, v); got != want && !(got == strings.TrimPrefix(want, "-") && n.value == 0) {
				t.Errorf("%s: %s: the page has %s, the library %s", demo, what, got, want)
			}
		}
		compared := 0
		for i, r := range d.Readings {
			q := probes[i].Quantity
			same(probes[i].String()+" healthy", q, r.Healthy, plain.Healthy[i])
			same(probes[i].String()+" least", q, r.Worst[0], plain.Bands[i].WorstLow)
			same(probes[i].String()+" greatest", q, r.Worst[1], plain.Bands[i].WorstHigh)
			same(probes[i].String()+" least of 95 %", q, r.Usual[0], plain.Bands[i].Low)
			same(probes[i].String()+" greatest of 95 %", q, r.Usual[1], plain.Bands[i].High)
			of := cellsByFault(len(list), cell{Value: r.Healthy, May: r.May}, r.Cells)
			for k := range list {
				what := probes[i].String() + ", " + list[k].Name
				same(what, q, of[k].Value, plain.Rows[k].Values[i])
				if of[k].Mark != plain.Rows[k].Marks[i] {
					t.Errorf("%s: %s: mark %d, want %d", demo, what, of[k].Mark, plain.Rows[k].Marks[i])
				}
				around(t, demo+": "+what, q, of[k].May, spanned.Rows[k].Spans[i])
				compared++
			}
			around(t, demo+": "+probes[i].String()+" healthy", q, r.May, spanned.HealthySpans[i])
		}
		if compared != len(list)*len(probes) || compared < 1000 || unplugged < 15 {
			t.Errorf("%s: %d numbers compared, %d readings unplugged", demo, compared, unplugged)
		}
		for i, f := range list {
			if d.Faults[i].Rate != f.Rate || d.Faults[i].Name != f.Name || d.Faults[i].Kind != string(f.Kind) || d.Parts[d.Faults[i].Part].Name != f.Part || (f.Free == nil) != (d.Faults[i].Shown == "") {
				t.Errorf("%s: fault %d is %v, want %s", demo, i, d.Faults[i], f.Name)
			}
		}
	}
}

// cellsByFault gives the cell of each fault, that of healthy wiring where it has none.
func cellsByFault(faults int, healthy cell, cells []cell) []cell {
	of := slices.Repeat([]cell{healthy}, faults)
	for _, x := range cells {
		for _, k := range x.Faults {
			of[k] = x
		}
	}
	return of
}

// around says where limits in the page are narrower than the library's, or so much
// wider that they would let pass what they should not.
func around(t *testing.T, what string, q solve.Quantity, page [2]number, span faults.Span) {
	t.Helper()
	y := func(over bool, x float64) float64 {
		if over {
			return math.Inf(1)
		}
		return x
	}
	low, high := y(page[0].over, page[0].value), y(page[1].over, page[1].value)
	least, greatest := y(span.Low.OL, span.Low.Number), y(span.High.OL, span.High.Number)
	slack := func(x float64) float64 {
		if q == solve.Volts {
			return 0.0101
		}
		return math.Max(0.101, 0.0101*math.Abs(x)) // three figures
	}
	if q == solve.Ohms {
		least, greatest = math.Max(least, 0), math.Max(greatest, 0)
	}
	if low > least || high < greatest {
		t.Errorf("%s: the page has %v to %v, the library %v to %v: narrower", what, low, high, least, greatest)
	}
	if !math.IsInf(least, 1) && low < least-slack(least) || !math.IsInf(greatest, 1) && high > greatest+slack(greatest) || math.IsInf(high, 1) != math.IsInf(greatest, 1) {
		t.Errorf("%s: the page has %v to %v, the library %v to %v: too wide", what, low, high, least, greatest)
	}
}

// Which modules answer, against the library's own table.
func TestAnswersAreTheLibrarys(t *testing.T) {
	c, html := pageOf(t, "examples/orchard/harness.yaml")
	d := numbersOf(t, html)
	want, err := faults.MakeAnswerTable(c, faults.Catalogue(c), "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Answers) != 1 || d.Answers[0].Tool != "X1" {
		t.Fatalf("answers at %v", d.Answers)
	}
	words := map[byte]string{'y': "yes", 'm': "marginal", 'n': "no"}
	silent := 0
	for k, row := range want.Rows {
		got, differs := d.Answers[0].Differs[k]
		if !differs {
			got = d.Answers[0].Healthy
		}
		for i, h := range row.Answers {
			if words[got[i]] != h.String() {
				t.Errorf("%s: %s: %s, want %s", row.Fault.Name, d.Answers[0].Modules[i], words[got[i]], h)
			}
			if h == solve.No {
				silent++
			}
		}
	}
	if silent < 100 {
		t.Errorf("only %d silences compared", silent)
	}
}

// The healthy table stands in the page as HTML, so that it is there without scripts.
func TestHealthyTableIsPlainHTML(t *testing.T) {
	_, html := pageOf(t, "examples/bench/harness.yaml")
	tables := strings.Split(html, `<table class="healthy">`)[1:]
	if len(tables) != 2 {
		t.Fatalf("%d healthy tables, want one plugged in and one unplugged", len(tables))
	}
	d := numbersOf(t, html)
	for _, r := range d.Readings {
		q := solve.Ohms
		if d.Kinds[r.Kind].Volts {
			q = solve.Volts
		}
		table, _, _ := strings.Cut(tables[0], "</table>")
		if d.Kinds[r.Kind].Unplugged {
			table, _, _ = strings.Cut(tables[1], "</table>")
		}
		text := solve.FormatReading(q, solve.Value{Number: r.Healthy.value, OL: r.Healthy.over})
		band := solve.FormatReading(q, solve.Value{Number: r.Worst[0].value, OL: r.Worst[0].over}) + " to " + solve.FormatReading(q, solve.Value{Number: r.Worst[1].value, OL: r.Worst[1].over})
		if !strings.Contains(table, ">"+text+`<span class="band">`+band+"</span>") {
			t.Errorf("%s %s: %s (%s) is not in the healthy table", d.Places[r.Place].Name, d.Kinds[r.Kind].Between, text, band)
		}
	}
	caution, first := strings.Index(html, "supply off first"), strings.Index(html, "<section")
	if caution < 0 || caution > first {
		t.Error("the caution does not lead")
	}
	if n := strings.Count(html, "supply off first"); n != 1 {
		t.Errorf("the caution stands %d times", n)
	}
}

// hostileHarness has names and notes that would be markup, script or style if they
// were not escaped.
func hostileHarness() *netlist.Harness {
	bad := `</script><script>alert(1)</script><img src=x onerror=alert(2)>"'&{{.}}`
	return &netlist.Harness{
		Name: bad, Note: "note " + bad,
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1", Note: bad}, {Name: "X2", Note: bad}, {Name: "X3"}},
		Modules:    []netlist.Module{{Name: "left", Connectors: []string{"X2"}}, {Name: "right", Connectors: []string{"X3"}}},
		Splices:    []netlist.Splice{{Name: "S1"}},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "left", Ohms: 120}, {Name: "T2", At: "right", Ohms: 120},
		},
		Pairs: []netlist.Pair{
			{Name: "P1", From: []string{"X1"}, To: []string{"S1"}, LengthM: 1, SectionMM2: 0.35},
			{Name: "P2", From: []string{"X2"}, To: []string{"S1"}, LengthM: 1, SectionMM2: 0.35},
			{Name: "P3", From: []string{"X3"}, To: []string{"S1"}, LengthM: 1, SectionMM2: 0.35},
		},
	}
}

// No text of a person becomes markup or script.
func TestTextsStayTexts(t *testing.T) {
	c, err := netlist.NewCircuit(hostileHarness())
	if err != nil {
		t.Fatal(err)
	}
	bad := c.Harness.Name
	blocks := []Block{
		{Kind: Heading, Text: "1. " + bad}, {Kind: Paragraph, Text: bad}, {Kind: Verdict, Text: bad}, {Kind: Caution, Text: bad},
		{Kind: List, Items: []string{bad, bad + ": step 2"}}, {Kind: Table, Text: bad, Header: []string{bad}, Rows: [][]string{{bad}}},
	}
	section := &Section{Name: "found", Title: bad, Blocks: blocks}
	html := written(t, c, Options{Cautions: []string{bad}, HarnessFile: bad, Found: section, Next: section, Plans: []Section{{Name: "plan-1", Title: bad, Blocks: blocks}}})
	if n := strings.Count(html, "<script"); n != 3 {
		t.Errorf("%d script elements, want the data, the derivations and the page's own", n)
	}
	if n := strings.Count(html, "</script"); n != 3 {
		t.Errorf("%d ends of scripts", n)
	}
	for _, markup := range []string{"<img", `>"'`, "<script>alert"} {
		if i := strings.Index(html, markup); i >= 0 {
			t.Errorf("markup got through: %.80s", html[max(0, i-20):])
		}
	}
	if got := numbersOf(t, html).Places[0].Note; got != bad {
		t.Errorf("the note came out as %q, want %q", got, bad)
	}
	if n := strings.Count(html, "alert(1)"); n < 10 {
		t.Errorf("the name is there only %d times", n)
	}
}

// The page names nothing to fetch, and its policy forbids it.
func TestFetchesNothing(t *testing.T) {
	_, html := pageOf(t, "examples/orchard/harness.yaml")
	for _, bad := range []string{"http:", "https:", "//cdn", " src=", "@import", "url(", "<link", "<iframe", "<object", "<embed", "<base", "fetch(", "XMLHttpRequest", "import(", "WebSocket", "sendBeacon", "EventSource"} {
		text := strings.ReplaceAll(html, `xmlns="http://www.w3.org/2000/svg"`, "") // a name, not an address
		text = strings.ReplaceAll(text, `"http://www.w3.org/2000/svg"`, "")
		if i := strings.Index(text, bad); i >= 0 {
			t.Errorf("the page holds %q: ...%.60s", bad, text[max(0, i-20):])
		}
	}
	m := regexp.MustCompile(`<meta http-equiv="Content-Security-Policy" content="([^"]*)">`).FindStringSubmatch(html)
	if m == nil {
		t.Fatal("there is no policy")
	}
	text := strings.ReplaceAll(strings.ReplaceAll(m[1], "&#39;", "'"), "&#43;", "+")
	var names []string
	for _, directive := range strings.Split(text, "; ") {
		name, value, _ := strings.Cut(directive, " ")
		names = append(names, name)
		switch name {
		case "script-src", "style-src":
			if !regexp.MustCompile(`^'sha256-[A-Za-z0-9+/]{43}='$`).MatchString(value) {
				t.Errorf("%s lets %s", name, value)
			}
		default:
			if value != "'none'" {
				t.Errorf("%s lets %s", name, value)
			}
		}
	}
	if want := []string{"default-src", "script-src", "style-src", "base-uri", "form-action"}; !slices.Equal(names, want) {
		t.Errorf("the policy has %v, want %v", names, want)
	}
	if i := strings.Index(html, "<style"); i < strings.Index(html, "Content-Security-Policy") {
		t.Error("the policy comes after what it is for")
	}
	if regexp.MustCompile(`<[a-z][^>]*\sstyle=`).MatchString(html) {
		t.Error("there is a style attribute, which the policy blocks")
	}
	if regexp.MustCompile(`<[a-z][^>]*\son[a-z]+=`).MatchString(html) {
		t.Error("there is an inline handler, which the policy blocks")
	}
}

// Sizes that a page may have; more, and something has gone wrong with the packing.
func TestSizeStaysSane(t *testing.T) {
	_, html := pageOf(t, "examples/orchard/harness.yaml")
	if n := len(html); n > 1_400_000 {
		t.Errorf("the orchard's page has %d bytes", n)
	}
}

// The same harness makes the same page, byte for byte, whatever the workers do.
func TestSameEveryTime(t *testing.T) {
	c := circuitOf(t, "examples/star/harness.yaml")
	first, second := written(t, c, Options{}), written(t, c, Options{})
	if first != second {
		t.Error("two pages of one harness differ")
	}
}

// contrast is WCAG 2.2's contrast ratio of two colours (success criterion 1.4.3 and
// the definition of relative luminance there).
func contrast(t *testing.T, a, b string) float64 {
	luminance := func(hex string) float64 {
		n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
		if err != nil || len(hex) != 7 {
			t.Fatalf("%q is no colour", hex)
		}
		sum := 0.0
		for i, weight := range []float64{0.0722, 0.7152, 0.2126} {
			x := float64(n>>(8*i)&255) / 255
			if x <= 0.04045 {
				x /= 12.92
			} else {
				x = math.Pow((x+0.055)/1.055, 2.4)
			}
			sum += weight * x
		}
		return sum
	}
	la, lb := luminance(a), luminance(b)
	if la < lb {
		la, lb = lb, la
	}
	return (la + 0.05) / (lb + 0.05)
}

// Text has a contrast of 4.5 at least, edges and marks that mean something of 3, in
// light, in the dark and on paper (WCAG 2.2 AA, 1.4.3 and 1.4.11).
func TestContrast(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); got != 21 {
		t.Fatalf("black on white has %v, WCAG says 21", got)
	}
	if got := contrast(t, "#767676", "#ffffff"); math.Abs(got-4.54) > 0.005 {
		t.Fatalf("#767676 on white has %v, known to be 4.54", got)
	}
	blocks := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(common().style, -1)
	if len(blocks) != 3 {
		t.Fatalf("%d sets of colours, want light, dark and print", len(blocks))
	}
	for i, block := range blocks {
		colours := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6})`).FindAllStringSubmatch(block[1], -1) {
			colours[m[1]] = m[2]
		}
		for _, pair := range []struct {
			least float64
			text  string
			on    []string
		}{
			{4.5, "ink", []string{"ground", "raised", "sunk"}},
			{4.5, "soft", []string{"ground", "raised", "sunk"}},
			{4.5, "link", []string{"ground", "raised", "sunk"}},
			{4.5, "on-mark", []string{"mark"}},
			{4.5, "warn", []string{"warn-ground"}},
			{4.5, "out", []string{"out-ground", "ground", "raised"}},
			{4.5, "doubt", []string{"doubt-ground"}},
			{3, "line", []string{"ground", "raised"}},
			{3, "focus", []string{"ground", "raised", "sunk"}},
			{3, "mark", []string{"ground", "raised"}},
			{3, "warn-line", []string{"ground", "warn-ground"}},
		} {
			for _, on := range pair.on {
				if colours[pair.text] == "" || colours[on] == "" {
					t.Fatalf("set %d has no %s or no %s", i, pair.text, on)
				}
				if got := contrast(t, colours[pair.text], colours[on]); got < pair.least {
					t.Errorf("set %d: %s on %s has %.2f, want %g", i, pair.text, on, got, pair.least)
				}
			}
		}
	}
}

// Numbers are carried as they are shown, and limits rounded outward.
func TestNumbers(t *testing.T) {
	for _, tt := range []struct {
		q    solve.Quantity
		v    solve.Value
		json string
	}{
		{solve.Ohms, solve.Value{Number: 60.0496}, "60"},
		{solve.Ohms, solve.Value{Number: 0.3149}, "0.31"},
		{solve.Ohms, solve.Value{Number: 18945.67}, "18950"},
		{solve.Ohms, solve.Value{Number: 1234567}, "1230000"},
		{solve.Ohms, solve.Over(), "null"},
		{solve.Volts, solve.Value{Number: 2.49951}, "2.5"},
		{solve.Volts, solve.Value{Number: -0.0001}, "0"},
	} {
		got, err := json.Marshal(shown(tt.q, tt.v))
		if err != nil || string(got) != tt.json {
			t.Errorf("%v is carried as %s (%v), want %s", tt.v, got, err, tt.json)
		}
	}
	for _, tt := range []struct {
		q         solve.Quantity
		low, high float64
		want      string
	}{
		{solve.Ohms, 57.04, 63.21, "57 63.3"},
		{solve.Ohms, 0.031, 0.62, "0 0.7"},
		{solve.Ohms, 18945, 18945, "18900 19000"},
		{solve.Ohms, 1234567, 1234567, "1230000 1240000"},
		{solve.Ohms, -3, -1, "0 0"},
		{solve.Volts, -0.0349, 2.4951, "-0.04 2.5"},
	} {
		low, high := outward(tt.q, solve.Value{Number: tt.low}, solve.Value{Number: tt.high})
		if got := fmt.Sprint(low.value, " ", high.value); strings.ReplaceAll(got, "  ", " ") != tt.want && fmt.Sprintf("%v %v", plain(low), plain(high)) != tt.want {
			t.Errorf("%g to %g is carried as %s %s, want %s", tt.low, tt.high, plain(low), plain(high), tt.want)
		}
	}
}

func plain(n number) string { return strconv.FormatFloat(n.value, 'f', -1, 64) }

// Derivations come out of the page as they went in, and end at the reading that the
// page shows.
func TestReasonsGoWithTheReadings(t *testing.T) {
	_, html := pageOf(t, "examples/orchard/harness.yaml")
	d := numbersOf(t, html)
	_, rest, _ := strings.Cut(html, `<script type="application/json" id="reasons">`)
	text, _, _ := strings.Cut(rest, "</script>")
	var packed string
	if err := json.Unmarshal([]byte(text), &packed); err != nil {
		t.Fatal(err)
	}
	raw, err := base64.StdEncoding.DecodeString(packed)
	if err != nil {
		t.Fatal(err)
	}
	var why reasons
	if err := json.NewDecoder(flate.NewReader(bytes.NewReader(raw))).Decode(&why); err != nil {
		t.Fatal(err)
	}
	if len(why.Healthy) != len(d.Readings) {
		t.Fatalf("%d derivations for %d readings", len(why.Healthy), len(d.Readings))
	}
	says := func(sections []derived) string { return fmt.Sprint(sections) }
	with := 0
	for i, r := range d.Readings {
		q := solve.Ohms
		if d.Kinds[r.Kind].Volts {
			q = solve.Volts
		}
		if reads := solve.FormatReading(q, solve.Value{Number: r.Healthy.value, OL: r.Healthy.over}); !strings.Contains(says(why.Healthy[i]), reads) {
			t.Errorf("reading %d is %s, its derivation says %.200s", i, reads, says(why.Healthy[i]))
		}
		for _, x := range r.Cells {
			for _, f := range x.Faults {
				sections, derived := why.Faulty[i][f]
				if !derived {
					continue
				}
				with++
				reads := solve.FormatReading(q, solve.Value{Number: x.Value.value, OL: x.Value.over})
				if text := says(sections); !strings.Contains(text, reads) && !strings.Contains(text, "nothing is at rest") && !(x.Value.value == 0 && strings.Contains(text, "shows nothing, 0 V")) {
					t.Errorf("reading %d with %s is %s, its derivation says %.400s", i, d.Faults[f].Name, reads, text)
				}
			}
		}
	}
	if with < 1000 {
		t.Errorf("only %d derivations with faults", with)
	}
	// Of each kind of reading there is the nearest that shows a fault, with it.
	nearest, elsewhere, unplugged := 0, 0, 0
	for f := range d.Faults {
		for k := range d.Kinds {
			best := -1
			for i, r := range d.Readings {
				shows := slices.ContainsFunc(r.Cells, func(c cell) bool { return c.Mark == faults.Outside && slices.Contains(c.Faults, f) })
				if r.Kind == k && shows && (best < 0 || d.Places[r.Place].Minutes < d.Places[d.Readings[best].Place].Minutes) {
					best = i
				}
			}
			if best < 0 {
				continue
			}
			nearest++
			if d.Kinds[k].Unplugged {
				unplugged++
			}
			if d.Places[d.Readings[best].Place].Name != "X1" {
				elsewhere++
			}
			if why.Faulty[best][f] == nil {
				t.Errorf("%s is not derived at %s, the nearest that shows it", d.Faults[f].Name, d.Places[d.Readings[best].Place].Name)
			}
		}
	}
	if nearest < 1000 || elsewhere < 100 || unplugged < 500 {
		t.Errorf("only %d derivations at the nearest that shows, %d of them not at X1, %d unplugged", nearest, elsewhere, unplugged)
	}
	// Where stars are needed it says first that this may be skipped.
	stars := 0
	for _, of := range why.Faulty {
		for _, sections := range of {
			for _, s := range sections {
				if text := strings.Join(s.Paragraphs, " "); strings.Contains(text, "into a triangle") {
					stars++
					if s.Paragraphs[0] != maySkip {
						t.Errorf("stars without a word before: %.200s", text)
					}
				}
			}
		}
	}
	if stars < 100 {
		t.Errorf("only %d derivations with stars", stars)
	}
}

// A cell survives being packed.
func TestCellsArePacked(t *testing.T) {
	in := cell{Value: number{value: 60.1}, May: [2]number{{value: 57}, {over: true}}, Mark: faults.Outside, Faults: []int{3, 4, 90}}
	text, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	if want := "[60.1,57,null,2,3,1,86]"; string(text) != want {
		t.Errorf("packed as %s, want %s", text, want)
	}
	var out cell
	if err := json.Unmarshal(text, &out); err != nil || !slices.Equal(out.Faults, in.Faults) || out.Value != in.Value || out.May != in.May || out.Mark != in.Mark {
		t.Errorf("unpacked as %+v (%v)", out, err)
	}
	if err := json.Unmarshal([]byte("[1,2]"), &out); err == nil {
		t.Error("a cell without a fault was taken")
	}
}

// The page's own cautions stand after those of the commands, before everything else.
func TestOwnCautions(t *testing.T) {
	_, html := pageOf(t, "examples/bench/harness.yaml")
	for _, want := range []string{"on stands", "chocked", "pierce no insulation", "Dry a wet connector", "After a repair read again", "brakes and steering"} {
		i := strings.Index(html, want)
		if i < strings.Index(html, "supply off first") || i > strings.Index(html, "<section") {
			t.Errorf("%q does not stand with the cautions", want)
		}
	}
}
