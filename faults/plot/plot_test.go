package plot

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// plainLine is a pair of 2 Ω a conductor between two plug-in terminators of 120 Ω,
// 10 m long; nothing else takes part in what is read.
func plainLine(t *testing.T) *netlist.Circuit {
	t.Helper()
	zero := 0.0
	c, err := netlist.NewCircuit(&netlist.Harness{
		Name:     "plain line",
		Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "X1", ContactOhms: 1e-9}, {Name: "X2", ContactOhms: 1e-9},
		},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "X1", Ohms: 120, TolerancePct: &zero}, {Name: "T2", At: "X2", Ohms: 120, TolerancePct: &zero},
		},
		Pairs: []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, LengthM: 10, Ohms: 2, TolerancePct: &zero}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func orchard(t *testing.T) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../../examples/orchard/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func probeAt(t *testing.T, c *netlist.Circuit, q solve.Quantity, place, between string) faults.Probe {
	t.Helper()
	condition := solve.Condition{}
	if q == solve.Volts {
		condition.Supply = solve.Idle
	}
	p, err := faults.ProbeAt(c, q, place, between, condition)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func named(t *testing.T, c *netlist.Circuit, name string) *faults.Fault {
	t.Helper()
	for _, f := range faults.Catalogue(c) {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no fault %q", name)
	return nil
}

func parallel(a, b float64) float64 { return a * b / (a + b) }

func near(got solve.Value, want float64) bool {
	return !got.OL && math.Abs(got.Number-want) <= 1e-5*(1+math.Abs(want))
}

// A joint of R ohms in a line between two terminators reads 120 in parallel with
// 120 and the loop: by hand. Its ends lie by the healthy reading and by the one
// terminator that an open line leaves.
func TestJointByHand(t *testing.T) {
	c := plainLine(t)
	f := named(t, c, "high-resistance joint H in pair P1")
	p, err := AgainstOhms(c, f, probeAt(t, c, solve.Ohms, "X1", "H-L"), faults.DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	first, last := p.Points[0], p.Points[len(p.Points)-1]
	if first.X != f.Free.Min || last.X != f.Free.Max {
		t.Errorf("from %v to %v Ω, want %v to %v", first.X, last.X, f.Free.Min, f.Free.Max)
	}
	for i, q := range p.Points {
		if want := parallel(120, 120+4+q.X); !near(q.Value, want) {
			t.Errorf("%v Ω reads %v, by hand %v", q.X, q.Value, want)
		}
		if i > 0 && math.Abs(math.Log(q.X/p.Points[i-1].X)-math.Log(last.X/first.X)/float64(len(p.Points)-1)) > 1e-9 {
			t.Errorf("the step to %v Ω is not that of the others", q.X)
		}
	}
	if healthy := parallel(120, 124); !near(p.Healthy, healthy) || math.Abs(first.Value.Number-healthy) > 0.3 {
		t.Errorf("healthy %v, the curve begins at %v, by hand %v", p.Healthy, first.Value, healthy)
	}
	if open := 120.0; math.Abs(last.Value.Number-open) > 0.2 {
		t.Errorf("the curve ends at %v, an open line reads %v", last.Value, open)
	}
	if !(p.Low.Number < p.Healthy.Number && p.Healthy.Number < p.High.Number) {
		t.Errorf("the healthy reading %v lies outside its band %v to %v", p.Healthy, p.Low, p.High)
	}
}

// A short of 0 Ω at x metres reads the loop of two wires as far as there, 0.4 Ω a
// metre, with the near terminator in parallel: by hand. From the far end it is the
// same from the other side.
func TestShortByHand(t *testing.T) {
	c := plainLine(t)
	f := named(t, c, "short H to L in pair P1")
	for _, tt := range []struct {
		at   string
		from func(x float64) float64
	}{{"X1", func(x float64) float64 { return x }}, {"X2", func(x float64) float64 { return 10 - x }}} {
		p, err := AgainstPlace(c, []*faults.Fault{f}, "bus", probeAt(t, c, solve.Ohms, tt.at, "H-L"), faults.DefaultInstrument(), 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range p.Points {
			if want := parallel(120, 0.4*tt.from(q.X)); !near(q.Value, want) {
				t.Errorf("at %s, short at %v m: %v, by hand %v", tt.at, q.X, q.Value, want)
			}
		}
		if n := len(p.Points); p.Points[0].X != 0 || p.Points[n-1].X != 10 {
			t.Errorf("from %v to %v m, want 0 to 10", p.Points[0].X, p.Points[n-1].X)
		}
	}
}

// Every point is what the solver reads in a net of its own with that fault.
func TestPointsAreReadings(t *testing.T) {
	c := orchard(t)
	in := faults.DefaultInstrument()
	read := func(f *faults.Fault, probe faults.Probe, ohms, fraction float64) solve.Value {
		net, err := solve.Assemble(c, probe.Condition, nil, f.Changes(ohms, fraction)...)
		if err != nil {
			t.Fatal(err)
		}
		v, err := net.Read(probe.Quantity, probe.From, probe.To, in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	same := func(a, b solve.Value) bool {
		return a.OL == b.OL && (a.OL || math.Abs(a.Number-b.Number) <= 1e-6*(1+math.Abs(b.Number)))
	}
	for _, name := range []string{"high-resistance joint drive.H in pair P9", "short drive.H to ground in pair P2", "leak work.L to ground at splice S5", "terminator TD1 of wrong value"} {
		f := (*faults.Fault)(nil)
		for _, g := range faults.Catalogue(c) {
			if g.Name == name || f == nil && g.Free != nil && strings.Contains(g.Name, strings.Fields(name)[0]) {
				f = g
			}
		}
		for _, probe := range []faults.Probe{probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), probeAt(t, c, solve.Ohms, "X2", "drive.H-ground"), probeAt(t, c, solve.Volts, "X2", "drive.L-ground")} {
			p, err := AgainstOhms(c, f, probe, in)
			if err != nil {
				t.Fatal(err)
			}
			for i := 0; i < len(p.Points); i += 24 {
				if want := read(f, probe, p.Points[i].X, 0.5); !same(p.Points[i].Value, want) {
					t.Errorf("%s, %v: %v Ω reads %v, the solver says %v", f.Name, probe, p.Points[i].X, p.Points[i].Value, want)
				}
			}
		}
	}
	// Along the trunk of drive: X3, P1, S1, P2, S2, P3, S3, P4, X11, X12, P15, X13,
	// lengths as the harness file has them.
	type stretch struct {
		part string
		from float64
	}
	var list []*faults.Fault
	for _, f := range faults.Catalogue(c) {
		if f.Kind == faults.ShortConductors && len(f.Wires) > 0 && strings.Contains(f.Name, "drive.H to drive.L") {
			list = append(list, f)
		}
	}
	probe := probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L")
	p, err := AgainstPlace(c, list, "drive", probe, in, 3)
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	for _, s := range []stretch{{"P1", 0}, {"P2", 1.8}, {"P3", 4.2}, {"P4", 5.8}, {"P15", 9.3}} {
		f := named(t, c, "short drive.H to drive.L in pair "+s.part)
		for i := range placesOfWire {
			fraction := float64(i) / (placesOfWire - 1)
			q := p.Points[at]
			at++
			if math.Abs(q.X-s.from-fraction*f.LengthM) > 1e-9 {
				t.Fatalf("%s: point %d lies at %v m", s.part, i, q.X)
			}
			if want := read(f, probe, 3, fraction); !same(q.Value, want) {
				t.Errorf("%s at %v: %v, the solver says %v", s.part, fraction, q.Value, want)
			}
		}
	}
	if at != len(p.Points) {
		t.Errorf("%d points, want %d", len(p.Points), at)
	}
	var names []string
	for _, q := range p.Places {
		names = append(names, q.Name)
	}
	if got := strings.Join(names, " "); got != "battery-manager X3 S1 S2 S3 X11 rear-box X12 X13 charger" {
		t.Errorf("places %s", got)
	}
}

// A pair that the harness file writes against the direction of the trunk is drawn
// in that of the trunk.
func TestBackwards(t *testing.T) {
	c := plainLine(t)
	turned := *c.Harness
	turned.Pairs = []netlist.Pair{turned.Pairs[0]}
	turned.Pairs[0].From, turned.Pairs[0].To = turned.Pairs[0].To, turned.Pairs[0].From
	d, err := netlist.NewCircuit(&turned)
	if err != nil {
		t.Fatal(err)
	}
	var plots [2]*Plot
	for i, c := range []*netlist.Circuit{c, d} {
		if plots[i], err = AgainstPlace(c, []*faults.Fault{named(t, c, "short H to L in pair P1")}, "bus", probeAt(t, c, solve.Ohms, "X1", "H-L"), faults.DefaultInstrument(), 0); err != nil {
			t.Fatal(err)
		}
	}
	for i := range plots[0].Points {
		if a, b := plots[0].Points[i], plots[1].Points[i]; a.X != b.X || !near(b.Value, a.Value.Number) {
			t.Errorf("at %v m %v, turned round %v m %v", a.X, a.Value, b.X, b.Value)
		}
	}
}

// Where the fault is asked for on some wires of the trunk only, the line has gaps.
func TestGaps(t *testing.T) {
	c := orchard(t)
	var list []*faults.Fault
	for _, part := range []string{"P1", "P3", "P4"} {
		list = append(list, named(t, c, "short drive.H to drive.L in pair "+part))
	}
	p, err := AgainstPlace(c, list, "drive", probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), faults.DefaultInstrument(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, q := range p.Points {
		if q.Gap != (i == placesOfWire) {
			t.Errorf("point %d at %v m: gap %v", i, q.X, q.Gap)
		}
	}
	data, err := p.SVG()
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(data, []byte(`class="curve"`)); n != 2 {
		t.Errorf("%d lines, want 2", n)
	}
}

func TestRefusals(t *testing.T) {
	c := orchard(t)
	in := faults.DefaultInstrument()
	probe := probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L")
	if _, err := AgainstOhms(c, named(t, c, "open drive.H in pair P9"), probe, in); err == nil {
		t.Error("an open wire has no ohms to draw against")
	}
	short := named(t, c, "short drive.H to drive.L in pair P9")
	for name, list := range map[string][]*faults.Fault{
		"not on the trunk": {short},
		"none along wires": {named(t, c, "open drive.H in pair P1")},
		"two kinds":        {named(t, c, "short drive.H to drive.L in pair P1"), named(t, c, "short drive.H to ground in pair P2")},
		"twice":            {named(t, c, "short drive.H to ground in pair P1"), named(t, c, "short drive.L to ground in pair P1")},
	} {
		if _, err := AgainstPlace(c, list, "drive", probe, in, 0); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := AgainstPlace(c, []*faults.Fault{short}, "steam", probe, in, 0); err == nil {
		t.Error("there is no network steam")
	}
	if _, err := (&Plot{}).SVG(); err == nil {
		t.Error("a plot without points")
	}
}

// drawn is what a plot's SVG holds.
type drawn struct {
	labels []label
	paths  map[string][][2]float64 // by class, the points of all of a class in turn
	band   [2]float64              // upper and lower edge
	w, h   float64
}

type label struct {
	text, class    string
	x0, y0, x1, y1 float64
}

func read(t interface{ Fatal(...any) }, data []byte) *drawn {
	out := &drawn{paths: map[string][][2]float64{}}
	d := xml.NewDecoder(bytes.NewReader(data))
	num := func(s string) float64 { f, _ := strconv.ParseFloat(s, 64); return f }
	var open *label
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			a := map[string]string{}
			for _, y := range x.Attr {
				a[y.Name.Local] = y.Value
			}
			switch x.Name.Local {
			case "svg":
				f := strings.Fields(a["viewBox"])
				out.w, out.h = num(f[2]), num(f[3])
			case "text":
				size, w := num(a["font-size"]), num(a["textLength"])
				if m := a["transform"]; m != "" {
					f := strings.Fields(strings.NewReplacer("translate(", "", ")", " ").Replace(m))
					px, py := num(f[0]), num(f[1])
					open = &label{class: a["class"], x0: px - 0.8*size, x1: px + 0.22*size, y0: py - w, y1: py}
				} else {
					px, py := num(a["x"]), num(a["y"])
					open = &label{class: a["class"], x0: px, x1: px + w, y0: py - 0.8*size, y1: py + 0.22*size}
				}
			case "rect":
				if a["class"] == "healthy-band" {
					out.band = [2]float64{num(a["y"]), num(a["y"]) + num(a["height"])}
				}
			case "path":
				f := strings.Fields(strings.NewReplacer("M", " ", "L", " ").Replace(a["d"]))
				for i := 0; i+1 < len(f); i += 2 {
					out.paths[a["class"]] = append(out.paths[a["class"]], [2]float64{num(f[i]), num(f[i+1])})
				}
			}
		case xml.CharData:
			if open != nil {
				open.text += string(x)
			}
		case xml.EndElement:
			if open != nil {
				out.labels = append(out.labels, *open)
				open = nil
			}
		}
	}
}

// scaleOf finds how an axis maps values from the labels of its ticks, as a reader
// would, and fails where they do not agree.
func (d *drawn) scaleOf(t interface {
	Fatal(...any)
	Errorf(string, ...any)
}, across bool, log bool) func(float64) float64 {
	type tick struct{ value, at float64 }
	var ticks []tick
	for _, l := range d.labels {
		if l.class != "tick" || l.text == "OL" {
			continue
		}
		// Those of the y axis end where the field begins.
		if beside := math.Abs(l.x1-(left-5)) < 0.1; beside == across {
			continue
		}
		s, factor := l.text, 1.0
		switch {
		case strings.HasSuffix(s, "k"):
			s, factor = strings.TrimSuffix(s, "k"), 1e3
		case strings.HasSuffix(s, "M"):
			s, factor = strings.TrimSuffix(s, "M"), 1e6
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		at := (l.y0 + l.y1) / 2
		if across {
			at = (l.x0 + l.x1) / 2
		}
		ticks = append(ticks, tick{v * factor, at})
	}
	if len(ticks) < 2 {
		t.Fatal("fewer than two ticks ", ticks)
	}
	f := func(x float64) float64 {
		if log {
			return math.Log(x)
		}
		return x
	}
	a, b := ticks[0], ticks[len(ticks)-1]
	scale := func(x float64) float64 { return a.at + (b.at-a.at)*(f(x)-f(a.value))/(f(b.value)-f(a.value)) }
	for _, k := range ticks {
		// A label at the edge may be moved a little to stay in the picture.
		if math.Abs(scale(k.value)-k.at) > 8 {
			t.Errorf("the tick %v stands at %v, want %v", k.value, k.at, scale(k.value))
		}
	}
	return scale
}

func checkLabels(t interface{ Errorf(string, ...any) }, d *drawn) {
	for i, a := range d.labels {
		if a.x0 < 0 || a.y0 < 0 || a.x1 > d.w || a.y1 > d.h {
			t.Errorf("%q leaves the picture", a.text)
		}
		for _, b := range d.labels[i+1:] {
			if a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 {
				t.Errorf("%q and %q overlap", a.text, b.text)
			}
		}
	}
}

// What is drawn is what was computed, read off the axes like on paper.
func TestDrawn(t *testing.T) {
	c := orchard(t)
	in := faults.DefaultInstrument()
	var plots []*Plot
	for _, q := range []solve.Quantity{solve.Ohms, solve.Volts} {
		for _, name := range []string{"high-resistance joint drive.H in pair P9", "short drive.H to ground in pair P9", "leak drive.H to ground at connector X2"} {
			f := (*faults.Fault)(nil)
			for _, g := range faults.Catalogue(c) {
				if g.Name == name || f == nil && g.Kind == faults.Leak {
					f = g
				}
			}
			for _, between := range []string{"drive.H-drive.L", "drive.H-ground"} {
				p, err := AgainstOhms(c, f, probeAt(t, c, q, "X2", between), in)
				if err != nil {
					t.Fatal(err)
				}
				p.Foreword = []string{"CAUTION. Supply off, & <network> asleep before any resistance reading, whatever the time that takes; this is long enough to be wrapped."}
				plots = append(plots, p)
			}
		}
	}
	for _, p := range plots {
		data, err := p.SVG()
		if err != nil {
			t.Fatal(err)
		}
		d := read(t, data)
		checkLabels(t, d)
		y := p.span()
		atX, atY := d.scaleOf(t, true, true), d.scaleOf(t, false, y.log)
		curve := d.paths["curve"]
		if len(curve) != len(p.Points) {
			t.Fatalf("%s: %d points drawn, %d computed", p.Subtitle, len(curve), len(p.Points))
		}
		for i, q := range p.Points {
			value := q.Value.Number
			if y.log {
				value = max(value, y.min)
			}
			if x, v := atX(q.X), atY(value); math.Abs(curve[i][0]-x) > 4 || math.Abs(curve[i][1]-v) > 1.5 {
				t.Errorf("%s %s: point %v %v is drawn at %v, the axes say %v %v", p.Title, p.Subtitle, q.X, q.Value, curve[i], x, v)
				break
			}
		}
		if lo, hi := atY(p.Low.Number), atY(p.High.Number); math.Abs(d.band[1]-lo) > 2 || math.Abs(d.band[0]-hi) > 2 {
			t.Errorf("%s: the band is drawn from %v, the axes say %v to %v", p.Title, d.band, lo, hi)
		}
		for _, v := range []solve.Value{p.Points[0].Value, p.Points[len(p.Points)-1].Value} {
			if !bytes.Contains(data, []byte(">"+solve.FormatReading(p.Quantity, v)+"<")) {
				t.Errorf("%s %s: its end %v is not written beside the curve", p.Title, p.Subtitle, v)
			}
		}
	}
}

// Any plot's labels keep clear of each other, any value can be drawn, and ticks are
// round and within the axis.
func TestAnyPlot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &Plot{Title: rapid.String().Draw(t, "title"), Subtitle: "s", XLabel: "x, Ω", YLabel: "y, Ω", LogX: rapid.Bool().Draw(t, "log"), Quantity: solve.Quantity(rapid.IntRange(0, 1).Draw(t, "quantity"))}
		value := func(name string) solve.Value {
			if p.Quantity == solve.Ohms && rapid.IntRange(0, 5).Draw(t, name+" over") == 0 {
				return solve.Over()
			}
			return solve.Value{Number: math.Exp(rapid.Float64Range(-6, 16).Draw(t, name))}
		}
		x := math.Exp(rapid.Float64Range(-5, 10).Draw(t, "first x"))
		for range rapid.IntRange(1, 60).Draw(t, "points") {
			p.Points = append(p.Points, Point{X: x, Value: value("value")})
			x *= 1 + rapid.Float64Range(0.001, 3).Draw(t, "step")
		}
		p.Healthy, p.Low, p.High = value("healthy"), value("low"), value("high")
		p.Typical = x / 2
		if !p.LogX {
			at := p.Points[0].X
			for range rapid.IntRange(0, 30).Draw(t, "places") {
				p.Places = append(p.Places, Place{at, rapid.StringMatching("[A-Za-z0-9-]{1,30}").Draw(t, "name")})
				at += rapid.Float64Range(0, 5).Draw(t, "metres")
			}
		}
		data, err := p.SVG()
		if err != nil {
			t.Fatal(err)
		}
		checkLabels(t, read(t, data))
		again, err := p.SVG()
		if err != nil || !bytes.Equal(data, again) {
			t.Fatal("drawn twice it differs")
		}
	})
}

func TestTicks(t *testing.T) {
	for _, tt := range []struct {
		name   string
		axis   axis
		wanted int
		labels string
	}{
		{"0 to 10", axis{min: 0, max: 10}, 6, "0 2 4 6 8 10"},
		{"steps of 5", axis{min: 3, max: 24}, 5, "5 10 15 20"},
		{"below one", axis{min: -0.1, max: 0.33}, 5, "-0.1 0 0.1 0.2 0.3"},
		{"decades", axis{log: true, min: 1, max: 1e5}, 9, "1 10 100 1k 10k 100k"},
		{"few decades", axis{log: true, min: 50, max: 2000}, 6, "50 100 200 500 1k 2k"},
		{"too many decades", axis{log: true, min: 1e-2, max: 1e6}, 4, "0.01 1 100 10k 1M"},
	} {
		var got []string
		for _, k := range tt.axis.ticks(tt.wanted) {
			if k.at < tt.axis.min-1e-9 || k.at > tt.axis.max*(1+1e-9) {
				t.Errorf("%s: a tick at %v", tt.name, k.at)
			}
			if k.label != "" {
				got = append(got, k.label)
			}
		}
		if strings.Join(got, " ") != tt.labels {
			t.Errorf("%s: %v, want %s", tt.name, got, tt.labels)
		}
	}
}
