package drawing

import (
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

func circuit(t *testing.T, path string) *netlist.Circuit {
	t.Helper()
	c, err := netfile.ReadCircuit("../../" + path)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustDraw(t *testing.T, c *netlist.Circuit, o *Options) (*seen, string) {
	t.Helper()
	p, err := Draw(c, o)
	if err != nil {
		t.Fatal(err)
	}
	s, err := parse(p.SVG())
	if err != nil {
		t.Fatal(err)
	}
	return s, string(p.SVG())
}

// Trunks, read off the harness files by hand: their comments say "trunk from the
// battery-manager to the rear-box" and so on.
func TestTrunks(t *testing.T) {
	for _, tt := range []struct{ path, network, want string }{
		{"examples/orchard/harness.yaml", "drive", "battery-manager X3 P1 S1 P2 S2 P3 S3 P4 X11 rear-box X12 P15 X13 charger"},
		{"examples/orchard/harness.yaml", "work", "gateway X6 Q1 S5 Q5 X14 X14 Q6 S6 Q8 X18 basket-panel"},
		{"examples/trunk/harness.yaml", "bus", "T1 X1 B1 S1 B2 S2 B3 S3 B4 X5 X5 B5 S4 B6 S5 B7 S6 B8 X9 T2"},
		{"examples/bench/harness.yaml", "bus", "left X2 P2 S1 P4 X4 right"},
		{"testdata/layouts/farm-12.yaml", "bus", "engine X2 P1 S1 P2 X4 X4 P3 S2 P4 S3 P5 S4 P6 X8 X8 P7 S5 P8 S6 P9 S7 P10 X12 T2"},
		{"testdata/layouts/fleet-60.yaml", "power", "engine X4 P1 S1 P2 X7 X7 P3 X8 frame-box X9 P4 S2 P5 S3 P6 X15 X15 P7 S4 P8 S5 P9 S6 P10 X22 TP2"},
		{"testdata/layouts/fleet-60.yaml", "aux", "climate-master X44 A1 S20 A2 X45 X45 A3 X46 roof-box X47 A4 S21 A5 X52 X52 A6 S22 A7 S23 A8 S24"},
	} {
		way, err := Trunk(circuit(t, tt.path), tt.network)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, s := range way {
			names = append(names, s.Part)
			if s.Wire != (s.Metres > 0) {
				t.Errorf("%s: %+v", tt.path, s)
			}
		}
		if got := strings.Join(names, " "); got != tt.want {
			t.Errorf("%s, %s:\n got %s\nwant %s", tt.path, tt.network, got, tt.want)
		}
	}
	if _, err := Trunk(circuit(t, "examples/bench/harness.yaml"), "steam"); err == nil {
		t.Error("there is no network steam")
	}
}

// Of three terminators the two that lie farthest apart by metres make the trunk, not
// those with most wires between them.
func TestTrunkGoesByMetres(t *testing.T) {
	h := &netlist.Harness{Name: "three ends", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}}}
	pair := func(name, from, to string, metres float64) {
		h.Pairs = append(h.Pairs, netlist.Pair{Name: name, From: []string{from}, To: []string{to}, LengthM: metres, SectionMM2: 0.5})
	}
	for _, x := range []string{"X1", "X2", "X3"} {
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x})
		h.Terminators = append(h.Terminators, netlist.Terminator{Name: "T" + x[1:], At: x, Ohms: 120})
	}
	h.Splices = []netlist.Splice{{Name: "S1"}, {Name: "S2"}, {Name: "S3"}}
	h.Connectors = append(h.Connectors, netlist.Connector{Name: "X4"}, netlist.Connector{Name: "X5"})
	pair("A", "X1", "S1", 10)
	pair("B", "S1", "X2", 10)
	pair("C", "S1", "S2", 0.1)
	pair("D", "S2", "S3", 0.1)
	pair("E", "S3", "X3", 0.1)
	pair("F", "S2", "X4", 0.1)
	pair("G", "S3", "X5", 0.1)
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	way, err := Trunk(c, "bus")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, s := range way {
		names = append(names, s.Part)
	}
	if got := strings.Join(names, " "); got != "T1 X1 A S1 B X2 T2" {
		t.Errorf("trunk %s", got)
	}
}

// A single conductor says which it is; titles say what a part is.
func TestWords(t *testing.T) {
	s, _ := mustDraw(t, circuit(t, "examples/orchard/harness.yaml"), nil)
	for part, want := range map[string]string{
		"X14": "inline connector X14, cavities 1 work.H, 2 work.L; boom joint",
		"X1":  "connector X1, cavities 6 drive.H, 14 drive.L, 3 work.H, 11 work.L, 4 ground, 16 supply; nothing is plugged in; service connector under the console",
		"X3":  "connector X3, cavities 21 drive.H, 22 drive.L; plugs into battery-manager; battery-manager, under the battery cover",
		"TD1": "terminator TD1, 120 Ω in two halves, at battery-manager", "rear-box": "junction box rear-box, at X11, X12",
		"P9": "pair P9, network drive, S3 to S4, 2.7 m", "charger": "module charger, at X13", "dash": "module dash, transceiver older, at X5",
	} {
		if s.titles[part] != want {
			t.Errorf("%s is called %q, want %q", part, s.titles[part], want)
		}
	}
	h := *circuit(t, "examples/bench/harness.yaml").Harness
	h.Pairs = h.Pairs[:3]
	h.Wires = []netlist.Wire{{Name: "W1", From: "S1.H", To: "X4.H", LengthM: 1.1, SectionMM2: 0.5}, {Name: "W2", From: "S1.L", To: "X4.L", Ohms: 0.1}}
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Draw(c, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faultsOf(&h, nil, p.SVG()) {
		t.Error(f)
	}
	if s, err = parse(p.SVG()); err != nil {
		t.Fatal(err)
	}
	for part, want := range map[string]string{"W1": "W1 H 1.1 m", "W2": "W2 L", "P1": "P1 0.5 m"} {
		if !slices.ContainsFunc(s.labels, func(l seenLabel) bool { return l.part == part && l.text == want }) {
			t.Errorf("%s is not labelled %q", part, want)
		}
	}
}

// What joins two networks hangs on the side where the other one is, so that its
// wire goes straight there.
func TestLinksGoTheShortWay(t *testing.T) {
	s, _ := mustDraw(t, circuit(t, "examples/orchard/harness.yaml"), nil)
	for _, w := range s.wires {
		if n := len(w.points); (w.part == "P8" || w.part == "Q2") && n > 4 {
			t.Errorf("%s goes by %d corners", w.part, n-2)
		}
	}
}

// The trunk is drawn as a straight line where it fits into one row.
func TestTrunkIsStraight(t *testing.T) {
	s, _ := mustDraw(t, circuit(t, "testdata/layouts/farm-12.yaml"), nil)
	want := 0.0
	for _, w := range s.wires {
		if slices.Contains([]string{"P1", "P2", "P3", "P4", "P5", "P6", "P7", "P8", "P9", "P10"}, w.part) {
			for _, p := range w.points {
				if want == 0 {
					want = p.Y
				}
				if p.Y != want {
					t.Errorf("%s lies at %v, the trunk at %v", w.part, p.Y, want)
				}
			}
		} else if w.points[0].X != w.points[1].X {
			t.Errorf("stub %s runs along the trunk", w.part)
		}
	}
}

// A trunk that does not fit into a row goes on in the next one, and every wire is
// there all the same.
func TestLongTrunkTurns(t *testing.T) {
	h := &netlist.Harness{Name: "long", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}}}
	last := "X0"
	h.Connectors = []netlist.Connector{{Name: "X0"}}
	for i := range 60 {
		n := "S" + string(rune('A'+i/26)) + string(rune('a'+i%26))
		x := strings.Replace(n, "S", "X", 1)
		h.Splices = append(h.Splices, netlist.Splice{Name: n})
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x})
		h.Pairs = append(h.Pairs,
			netlist.Pair{Name: "P" + n, From: []string{last}, To: []string{n}, LengthM: 2, SectionMM2: 0.5},
			netlist.Pair{Name: "Q" + n, From: []string{n}, To: []string{x}, LengthM: 0.5, SectionMM2: 0.5})
		last = n
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Draw(c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.Rows < 3 {
		t.Errorf("%d rows for a trunk of 60 splices", p.Rows)
	}
	if r := p.Width / p.Height; r < 0.5 || r > 2 {
		t.Errorf("%v wide and %v high does not go on a page", p.Width, p.Height)
	}
	for _, f := range faultsOf(h, nil, p.SVG()) {
		t.Error(f)
	}
}

// Notes stand at their parts: in their groups, and beside or in their symbols.
func TestNotesAtTheirParts(t *testing.T) {
	c := circuit(t, "examples/orchard/harness.yaml")
	notes := map[string][]Note{
		"X1": {{Text: "H-L one", Kind: Reading}, {Text: "two", Kind: Reading}}, "X14/b": {{Text: "three", Kind: Reading}},
		"P9": {{Text: "98 %", Weight: 0.98, Kind: Likely}}, "steering": {{Text: "silent", Kind: Mark}}, "TD2": {{Text: "3 %", Weight: 0.03, Kind: Likely}}, "S3": {{Text: "remark"}},
	}
	s, text := mustDraw(t, c, &Options{Notes: notes, Foreword: []string{"CAUTION first."}, IDPrefix: "a-"})
	for key, list := range notes {
		part, _, _ := strings.Cut(key, "/")
		for _, n := range list {
			found := 0
			for _, l := range s.labels {
				if l.text != n.Text {
					continue
				}
				found++
				if l.part != part || l.class != "note "+n.Kind.class() {
					t.Errorf("%q is part of %s, class %s", n.Text, l.part, l.class)
				}
				least := 1e9
				for _, b := range s.boxes {
					if b.name() == key || key == "TD2" && b.part == "rear-box" {
						least = min(least, apart(b.rectangle, l.rectangle))
					}
				}
				for _, d := range s.dots {
					if d.part == key {
						least = min(least, apart(rectangle{d.at.X, d.at.Y, d.at.X, d.at.Y}, l.rectangle))
					}
				}
				for _, w := range s.wires {
					if w.part == key {
						a, b := w.points[0], w.points[1]
						least = min(least, apart(rectangle{min(a.X, b.X), min(a.Y, b.Y), max(a.X, b.X), max(a.Y, b.Y)}, l.rectangle))
					}
				}
				if least > 45 {
					t.Errorf("%q lies %v from %s", n.Text, least, key)
				}
			}
			if found != 1 {
				t.Errorf("%q stands %d times", n.Text, found)
			}
			if !strings.Contains(s.titles[part], n.Text) {
				t.Errorf("the title of %s does not say %q", part, n.Text)
			}
		}
	}
	slices.Sort(s.bands)
	if got := strings.Join(s.bands, " "); got != "P9 TD2" {
		t.Errorf("bands at %s", got)
	}
	for _, want := range []string{`id="a-part-P9"`, `data-weight="0.98"`, "CAUTION first.", `class="part pair weighted"`} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in the picture", want)
		}
	}
	if PartID("a-", "P9") != "a-part-P9" {
		t.Error("PartID does not give the id in the picture")
	}
	if i, j := strings.Index(text, "CAUTION"), strings.Index(text, " Ω"); i < 0 || j < i {
		t.Error("a resistance stands before the caution")
	}
}

// apart is how far two rectangles are from each other.
func apart(a, b rectangle) float64 {
	return max(0, a.x0-b.x1, b.x0-a.x1) + max(0, a.y0-b.y1, b.y0-a.y1)
}

// The more weight, the wider and darker the band: in grey it is still seen.
func TestBandsGrow(t *testing.T) {
	grey := func(w float64) int {
		var sum int
		for i, k := range []int{30, 59, 11} { // luma in percent, ITU-R BT.601
			v := 0
			for _, r := range shade(w)[1+2*i : 3+2*i] {
				v = v*16 + strings.IndexRune("0123456789abcdef", r)
			}
			sum += k * v
		}
		return sum / 100
	}
	for w := 0.1; w <= 1; w += 0.1 {
		if bandHalf(w) <= bandHalf(w-0.1) || grey(w) >= grey(w-0.1) {
			t.Errorf("the band of %.1f is not wider and darker than that of %.1f", w, w-0.1)
		}
	}
	if grey(1) > 190 || grey(0) < 220 {
		t.Errorf("greys from %d to %d of 255", grey(0), grey(1))
	}
}

// Networks differ in dash, not in colour alone.
func TestNetworksDifferInDash(t *testing.T) {
	h := circuit(t, "testdata/layouts/fleet-60.yaml").Harness
	seen := map[string]string{}
	for _, n := range h.Networks {
		d := networkStyle(h, n.Name).dash
		if other, ok := seen[d]; ok {
			t.Errorf("%s and %s have the same dash", n.Name, other)
		}
		seen[d] = n.Name
	}
}

// Whatever texts hold is text.
func TestTextsAreHarmless(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	h := *c.Harness
	h.Name, h.Note = `<script>alert("1")</script> & 'x'`, "</svg><a href='x'>"
	nasty := "\"><script>\x00\x1b\ufffe]]>"
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	s, text := mustDraw(t, c, &Options{Notes: map[string][]Note{"P1": {{Text: nasty, Kind: Likely, Weight: 1}}}, Foreword: []string{nasty, "<b>"}})
	if strings.Contains(text, "<script") || strings.Contains(text, "<a ") || strings.Contains(text, "<b>") {
		t.Error("a text became an element")
	}
	if !slices.ContainsFunc(s.labels, func(l seenLabel) bool { return l.text == h.Name && l.class == "title" }) {
		t.Error("the name is not to be read as it is")
	}
}

// A module may be called Inf, and a splice NaN: names are no numbers.
func TestNamesThatLookLikeNumbers(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	c.Harness.Modules[0].Name, c.Harness.Splices[0].Name = "Inf", "NaN"
	for i := range c.Sites {
		if c.Sites[i].Kind == netlist.SpliceSite {
			c.Sites[i].Name = "NaN"
		}
	}
	if _, svg := mustDraw(t, c, nil); !strings.Contains(svg, `data-part="Inf"`) || !strings.Contains(svg, `data-to="NaN"`) {
		t.Error("the module Inf or the splice NaN is not drawn")
	}
}

func TestOptionsAreChecked(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	for name, o := range map[string]*Options{
		"X9":      {Notes: map[string][]Note{"X9": {{Text: "x"}}}},
		"X1/b":    {Notes: map[string][]Note{"X1/b": {{Text: "x"}}}},
		"weight":  {Notes: map[string][]Note{"X1": {{Text: "x", Weight: 1.5}}}},
		"kind":    {Notes: map[string][]Note{"X1": {{Text: "x", Kind: 9}}}},
		"IDPrefi": {IDPrefix: "a b"},
	} {
		if _, err := Draw(c, o); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := Draw(c, &Options{Notes: map[string][]Note{"X8": {{}}, "X9": {{Weight: -1}}}})
	if err == nil || !strings.Contains(err.Error(), "X8") || !strings.Contains(err.Error(), "X9") || !strings.Contains(err.Error(), "-1") {
		t.Errorf("several mistakes: %v", err)
	}
}

func TestNoTitleNoLegend(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	full, _ := mustDraw(t, c, nil)
	bare, text := mustDraw(t, c, &Options{NoTitle: true, NoLegend: true})
	if bare.whole.y1 >= full.whole.y1 {
		t.Error("without title and legend it is as high")
	}
	if strings.Contains(text, `class="legend"`) || slices.ContainsFunc(bare.labels, func(l seenLabel) bool { return l.class == "title" }) {
		t.Error("title or legend are there")
	}
}

// partOf cuts a part's element out of a picture.
func partOf(t *testing.T, text, part string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, `id="`+PartID("", part)+`"`)
	if !ok {
		t.Fatalf("part %s is not drawn", part)
	}
	own, _, _ := strings.Cut(rest, `<g id="part-`)
	return own
}

// A connector into which nothing is plugged has a dashed box, and the legend says so
// where there is one.
func TestFreeConnectorsAreDashed(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	_, text := mustDraw(t, c, nil)
	for part, dashed := range map[string]bool{"X1": true, "X2": false, "X3": false} {
		if strings.Contains(partOf(t, text, part), "stroke-dasharray=\"4 2.5\"") != dashed {
			t.Errorf("%s: want a dashed box %t", part, dashed)
		}
	}
	if !strings.Contains(text, ">connector, nothing plugged in<") || !strings.Contains(text, ">connector<") {
		t.Error("the legend lacks a sort of connector")
	}
}

// A frame says by line and shade what kind of note it holds.
func TestFramesOfNotes(t *testing.T) {
	c := circuit(t, "examples/bench/harness.yaml")
	_, text := mustDraw(t, c, &Options{Notes: map[string][]Note{
		"X2": {{Text: "98 %", Kind: Likely, Weight: 0.98}}, "X3": {{Text: "60 Ω", Kind: Reading}}, "X4": {{Text: "silent", Kind: Mark}}, "S1": {{Text: "so", Kind: Remark}},
	}})
	for part, want := range map[string]string{
		"X2": `fill="` + shade(0.98) + `" stroke="#111" stroke-width="1.58"`, "X3": `fill="#fff" stroke="#111" stroke-width="0.6"`,
		"X4": `fill="#fff" stroke="#111" stroke-width="1" stroke-dasharray="3 1.5"`,
	} {
		_, frame, ok := strings.Cut(partOf(t, text, part), `class="frame"`)
		if frame, _, _ = strings.Cut(frame, "/>"); !ok || !strings.HasSuffix(frame, want) {
			t.Errorf("%s: frame %q, want %s", part, frame, want)
		}
	}
	if strings.Contains(partOf(t, text, "S1"), `class="frame"`) {
		t.Error("a remark stands in a frame")
	}
}

// With one terminator the trunk goes from there to what lies farthest by wire, read off
// the file: left and right lie equally far.
func TestTrunkFromOneTerminator(t *testing.T) {
	h := *circuit(t, "examples/bench/harness.yaml").Harness
	h.Terminators = []netlist.Terminator{{Name: "T1", At: "middle", Ohms: 120}}
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	way, err := Trunk(c, "bus")
	if err != nil {
		t.Fatal(err)
	}
	if first, last := way[0].Part, way[len(way)-1].Part; first != "middle" || last != "left" && last != "right" {
		t.Errorf("the trunk goes from %s to %s, want from middle to left or right", first, last)
	}
}

// Stretches that do not come near each other share a track, and no more tracks are taken
// than the most that lie side by side anywhere: two here.
func TestLanes(t *testing.T) {
	at := make([]int, 5)
	n := lanes([]span{{200, 300, &at[0]}, {0, 90, &at[1]}, {150, 250, &at[2]}, {100, 140, &at[3]}, {300 + track/2, 400, &at[4]}})
	if n != 2 || at[0] == at[2] || at[0] == at[4] || at[1] != at[3] {
		t.Errorf("%d tracks: %v", n, at)
	}
}
