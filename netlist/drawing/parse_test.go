package drawing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/svg"
)

// What a picture holds, read from its SVG and from nothing else, so that the tests
// judge what is drawn and not what was meant.

type rectangle struct{ x0, y0, x1, y1 float64 }

func (a rectangle) overlaps(b rectangle, by float64) bool {
	return a.x0 < b.x1-by && b.x0 < a.x1-by && a.y0 < b.y1-by && b.y0 < a.y1-by
}

func (a rectangle) holds(b rectangle, slack float64) bool {
	return b.x0 >= a.x0-slack && b.x1 <= a.x1+slack && b.y0 >= a.y0-slack && b.y1 <= a.y1+slack
}

type seenLabel struct {
	part, text, class string
	rectangle
}

type seenBox struct {
	part, half, kind string
	rectangle
}

// name as wires call it.
func (b seenBox) name() string {
	if b.half == "" {
		return b.part
	}
	return b.part + "/" + b.half
}

type seenWire struct {
	part, from, to, class string
	points                []svg.Point
}

type seenBar struct {
	part   string
	points []svg.Point
}

type seenDot struct {
	part string
	at   svg.Point
}

type seen struct {
	whole    rectangle
	parts    []string // in order, with repeats
	kinds    map[string]string
	titles   map[string]string
	ids      []string
	labels   []seenLabel
	boxes    []seenBox
	wires    []seenWire
	bars     []seenBar
	dots     []seenDot
	signs    []seenDot // where the leads of resistors begin
	bands    []string
	resistor map[string]int
	elements map[string]int
}

var translate = regexp.MustCompile(`^translate\((-?[0-9.]+) (-?[0-9.]+)\)`)

// parse reads a picture. It fails on XML that is not well-formed and on elements
// that a drawing must not have.
func parse(data []byte) (*seen, error) {
	s := &seen{kinds: map[string]string{}, titles: map[string]string{}, resistor: map[string]int{}, elements: map[string]int{}}
	d := xml.NewDecoder(bytes.NewReader(data))
	type open struct {
		name, part, kind, class string
		text                    *seenLabel
	}
	var stack []open
	number := func(v string) float64 {
		f, err := strconv.ParseFloat(strings.TrimSuffix(v, "mm"), 64)
		if err != nil {
			f = math.NaN()
		}
		return f
	}
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			a := map[string]string{}
			for _, x := range t.Attr {
				if _, twice := a[x.Name.Local]; twice {
					return nil, fmt.Errorf("attribute %s stands twice in %s", x.Name.Local, t.Name.Local)
				}
				a[x.Name.Local] = x.Value
				if strings.HasPrefix(x.Name.Local, "on") || x.Name.Local == "href" || x.Name.Local == "style" {
					return nil, fmt.Errorf("attribute %s in %s", x.Name.Local, t.Name.Local)
				}
			}
			s.elements[t.Name.Local]++
			switch t.Name.Local {
			case "svg", "g", "title", "desc", "rect", "path", "circle", "text":
			default:
				return nil, fmt.Errorf("element %s", t.Name.Local)
			}
			o := open{name: t.Name.Local, class: a["class"]}
			if len(stack) > 0 {
				o.part, o.kind = stack[len(stack)-1].part, stack[len(stack)-1].kind
			}
			if id := a["id"]; id != "" {
				s.ids = append(s.ids, id)
			}
			if p := a["data-part"]; p != "" {
				s.parts = append(s.parts, p)
				s.kinds[p] = a["data-kind"]
				o.part, o.kind = p, a["data-kind"]
			}
			if p := a["data-band"]; p != "" {
				s.bands = append(s.bands, p)
			}
			switch t.Name.Local {
			case "svg":
				v := strings.Fields(a["viewBox"])
				if len(v) != 4 {
					return nil, fmt.Errorf("viewBox %q", a["viewBox"])
				}
				s.whole = rectangle{number(v[0]), number(v[1]), number(v[2]), number(v[3])}
			case "rect":
				x, y := number(a["x"]), number(a["y"])
				r := rectangle{x, y, x + number(a["width"]), y + number(a["height"])}
				switch a["class"] {
				case "box":
					s.boxes = append(s.boxes, seenBox{o.part, a["data-half"], o.kind, r})
				case "resistor":
					s.resistor[o.part]++
					s.signs = append(s.signs, seenDot{o.part, svg.Point{X: (r.x0 + r.x1) / 2, Y: r.y0}}, seenDot{o.part, svg.Point{X: (r.x0 + r.x1) / 2, Y: r.y1}})
				}
			case "g":
				if a["class"] == "resistor" {
					s.resistor[o.part]++
					m := translate.FindStringSubmatch(a["transform"])
					if m == nil {
						return nil, fmt.Errorf("transform %q", a["transform"])
					}
					s.signs = append(s.signs, seenDot{o.part, svg.Point{X: number(m[1]), Y: number(m[2])}})
				}
			case "circle":
				if a["class"] == "dot" {
					s.dots = append(s.dots, seenDot{o.part, svg.Point{X: number(a["cx"]), Y: number(a["cy"])}})
				}
			case "path":
				points, err := pathPoints(a["d"])
				switch a["class"] {
				case "wire-line", "lead":
					if err != nil {
						return nil, err
					}
					s.wires = append(s.wires, seenWire{o.part, a["data-from"], a["data-to"], a["class"], points})
				case "bar":
					if err != nil {
						return nil, err
					}
					s.bars = append(s.bars, seenBar{o.part, points})
				}
			case "text":
				if a["transform"] != "" {
					return nil, fmt.Errorf("a turned text in a drawing")
				}
				x, y, size, w := number(a["x"]), number(a["y"]), number(a["font-size"]), number(a["textLength"])
				o.text = &seenLabel{part: o.part, class: a["class"], rectangle: rectangle{x, y - 0.8*size, x + w, y + 0.22*size}}
			}
			stack = append(stack, o)
		case xml.CharData:
			if len(stack) == 0 {
				continue
			}
			top := &stack[len(stack)-1]
			if top.text != nil {
				top.text.text += string(t)
			}
			if top.name == "title" {
				s.titles[top.part] += string(t)
			}
		case xml.EndElement:
			if top := stack[len(stack)-1]; top.text != nil {
				s.labels = append(s.labels, *top.text)
			}
			stack = stack[:len(stack)-1]
		case xml.Comment, xml.ProcInst, xml.Directive:
			return nil, fmt.Errorf("a %T in a drawing", t)
		}
	}
	return s, nil
}

func pathPoints(d string) ([]svg.Point, error) {
	var out []svg.Point
	f := strings.Fields(strings.NewReplacer("M", " ", "L", " ").Replace(d))
	for i := 0; i+1 < len(f); i += 2 {
		x, errX := strconv.ParseFloat(f[i], 64)
		y, errY := strconv.ParseFloat(f[i+1], 64)
		if errX != nil || errY != nil {
			return nil, fmt.Errorf("path %q", d)
		}
		out = append(out, svg.Point{X: x, Y: y})
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("path %q has fewer than two points", d)
	}
	return out, nil
}

// near is the slack of two decimals.
const near = 0.03

// on tells whether a point lies on a line through points.
func on(p svg.Point, line []svg.Point) bool {
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if p.X >= min(a.X, b.X)-near && p.X <= max(a.X, b.X)+near && p.Y >= min(a.Y, b.Y)-near && p.Y <= max(a.Y, b.Y)+near {
			return true
		}
	}
	return false
}

// onRim tells whether a point lies on the outline of a rectangle.
func (a rectangle) onRim(p svg.Point) bool {
	return on(p, []svg.Point{{X: a.x0, Y: a.y0}, {X: a.x1, Y: a.y0}, {X: a.x1, Y: a.y1}, {X: a.x0, Y: a.y1}, {X: a.x0, Y: a.y0}})
}

// faultsOf lists everything that is wrong with a picture of a harness with notes.
func faultsOf(h *netlist.Harness, notes map[string][]Note, data []byte) []string {
	var out []string
	bad := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	s, err := parse(data)
	if err != nil {
		return []string{err.Error()}
	}
	s.checkParts(h, bad)
	s.checkLabels(bad)
	s.checkWires(h, bad)
	want, weighted := map[string]int{}, map[string]bool{}
	for key, list := range notes {
		part, _, _ := strings.Cut(key, "/")
		times := 1
		// A wire between rows has its label, with its notes, at both ends.
		if slices.ContainsFunc(s.labels, func(l seenLabel) bool { return l.part == part && l.class == "to" }) && s.kinds[part] != "stray" {
			times = 2
		}
		for _, n := range list {
			if n.Text != "" {
				want[part] += times
			}
			if n.Weight > 0 {
				weighted[part] = true
			}
		}
	}
	got := map[string]int{}
	for _, l := range s.labels {
		if strings.HasPrefix(l.class, "note ") {
			got[l.part]++
		}
	}
	for _, p := range sortedKeys(want) {
		if got[p] != want[p] {
			bad("%d notes at %s %s, want %d", got[p], s.kinds[p], p, want[p])
		}
	}
	bands := map[string]bool{}
	for _, p := range s.bands {
		bands[p] = true
	}
	if !maps.Equal(bands, weighted) {
		bad("bands at %v, want %v", sortedKeys(bands), sortedKeys(weighted))
	}
	return out
}

func (s *seen) checkParts(h *netlist.Harness, bad func(string, ...any)) {
	want := map[string]string{}
	halves := map[string]int{}
	for _, x := range h.Connectors {
		want[x.Name], halves[x.Name] = "connector", 1
		if x.Inline {
			halves[x.Name+"/a"], halves[x.Name+"/b"] = 1, 1
			delete(halves, x.Name)
		}
	}
	for _, x := range h.Modules {
		want[x.Name], halves[x.Name] = "module", 1
	}
	for _, x := range h.Splices {
		want[x.Name] = "splice"
	}
	resistors := map[string]int{}
	for _, x := range h.Terminators {
		want[x.Name], resistors[x.Name] = "terminator", 1
	}
	for _, x := range h.Pairs {
		want[x.Name] = "pair"
	}
	for _, x := range h.Wires {
		want[x.Name] = "wire"
	}
	for _, x := range h.Strays {
		want[x.Name], resistors[x.Name] = "stray", 1
	}
	got := map[string]int{}
	for _, p := range s.parts {
		got[p]++
	}
	for _, p := range sortedKeys(want) {
		if got[p] != 1 || s.kinds[p] != want[p] {
			bad("%s %s stands %d times, as %q", want[p], p, got[p], s.kinds[p])
		}
		if !strings.Contains(s.titles[p], p) {
			bad("%s %s has the title %q", want[p], p, s.titles[p])
		}
		shown := slices.ContainsFunc(s.labels, func(l seenLabel) bool { return l.part == p && strings.Contains(l.text, p) })
		if !shown && len(p) < 20 {
			bad("the name of %s %s is not to be read", want[p], p)
		}
	}
	if len(got) != len(want) {
		bad("%d parts in the picture, %d in the harness", len(got), len(want))
	}
	boxes := map[string]int{}
	for _, b := range s.boxes {
		boxes[b.name()]++
	}
	for _, n := range sortedKeys(halves) {
		if boxes[n] != 1 {
			bad("%s has %d boxes", n, boxes[n])
		}
	}
	if len(boxes) != len(halves) {
		bad("%d boxes, want %d", len(boxes), len(halves))
	}
	for _, n := range sortedKeys(resistors) {
		if s.resistor[n] != 1 {
			bad("%s has %d resistors", n, s.resistor[n])
		}
	}
	lines := map[string]bool{}
	for _, w := range s.wires {
		lines[w.part] = true
	}
	for _, p := range sortedKeys(want) {
		if (want[p] == "pair" || want[p] == "wire") && !lines[p] {
			bad("%s has no line", p)
		}
		if want[p] == "splice" && !slices.ContainsFunc(s.dots, func(d seenDot) bool { return d.part == p }) {
			bad("splice %s has no dot", p)
		}
	}
	slices.Sort(s.ids)
	if n := len(slices.Compact(slices.Clone(s.ids))); n != len(s.ids) {
		bad("%d ids, %d different ones", len(s.ids), n)
	}
}

func (s *seen) checkLabels(bad func(string, ...any)) {
	for i, a := range s.labels {
		if !s.whole.holds(a.rectangle, 0) {
			bad("%q leaves the picture", a.text)
		}
		for _, b := range s.labels[i+1:] {
			if a.overlaps(b.rectangle, near) {
				bad("%q (%s) and %q (%s) overlap", a.text, a.part, b.text, b.part)
			}
		}
		for _, b := range s.boxes {
			// A box holds its own name, and a module's box what is inside it.
			if !b.overlaps(a.rectangle, near) {
				continue
			}
			if !b.holds(a.rectangle, near) || b.kind != "module" && a.part != b.part {
				bad("%q lies across the box of %s", a.text, b.name())
			}
		}
	}
	for i, a := range s.boxes {
		if !s.whole.holds(a.rectangle, 0) {
			bad("the box of %s leaves the picture", a.name())
		}
		for _, b := range s.boxes[i+1:] {
			if a.overlaps(b.rectangle, -2) {
				bad("%s and %s overlap or touch", a.name(), b.name())
			}
		}
	}
}

func (s *seen) checkWires(h *netlist.Harness, bad func(string, ...any)) {
	ends := map[string][]string{} // what the harness says a part joins
	place := func(points []string) []string {
		var out []string
		for _, p := range points {
			p, _, _ = strings.Cut(p, ".")
			out = append(out, p)
		}
		return out
	}
	for _, p := range h.Pairs {
		ends[p.Name] = append(place(p.From), place(p.To)...)
	}
	for _, w := range h.Wires {
		ends[w.Name] = place([]string{w.From, w.To})
	}
	for i, w := range s.wires {
		switch s.kinds[w.part] {
		case "pair", "wire", "stray", "terminator":
		default: // the contacts of a connector are no wire
			bad("%s %s is drawn as a wire from %s to %s", s.kinds[w.part], w.part, w.from, w.to)
		}
		for k, end := range []string{w.from, w.to} {
			at := w.points[0]
			if k == 1 {
				at = w.points[len(w.points)-1]
			}
			if !s.reaches(end, at) {
				bad("%s ends at %v, which is not on %s", w.part, at, end)
			}
			if of := ends[w.part]; of != nil && !slices.Contains(of, end) {
				bad("%s is drawn to %s, the harness says %v", w.part, end, of)
			}
		}
		if of := ends[w.part]; len(of) == 2 && (w.from != of[0] || w.to != of[1]) && (w.from != of[1] || w.to != of[0]) {
			bad("%s is drawn from %s to %s, the harness says %v", w.part, w.from, w.to, of)
		}
		for k := 1; k < len(w.points); k++ {
			a, b := w.points[k-1], w.points[k]
			if a.X != b.X && a.Y != b.Y {
				bad("%s runs slantwise", w.part)
			}
			seg := rectangle{min(a.X, b.X), min(a.Y, b.Y), max(a.X, b.X), max(a.Y, b.Y)}
			if !s.whole.holds(seg, 0) {
				bad("%s leaves the picture", w.part)
			}
			wide := rectangle{seg.x0 - 1, seg.y0 - 1, seg.x1 + 1, seg.y1 + 1}
			for _, box := range s.boxes {
				if box.overlaps(wide, 1+near) {
					bad("%s runs through %s", w.part, box.name())
				}
			}
			for _, l := range s.labels {
				if l.overlaps(wide, 0.5) {
					bad("%s runs through the text %q of %s", w.part, l.text, l.part)
				}
			}
			for _, d := range s.dots {
				if d.part != w.from && d.part != w.to && d.at.X > seg.x0-dot && d.at.X < seg.x1+dot && d.at.Y > seg.y0-dot && d.at.Y < seg.y1+dot {
					bad("%s runs through a dot of %s", w.part, d.part)
				}
			}
			for _, bar := range s.bars {
				for j := 1; j < len(bar.points) && bar.part != w.from && bar.part != w.to; j++ {
					p, q := bar.points[j-1], bar.points[j]
					r := rectangle{min(p.X, q.X) - 1, min(p.Y, q.Y) - 1, max(p.X, q.X) + 1, max(p.Y, q.Y) + 1}
					if len(bar.points) == 2 && r.overlaps(wide, 1) {
						bad("%s runs across the bar of %s", w.part, bar.part)
					}
				}
			}
			// Two wires may cross; they may not run on top of each other.
			for _, v := range s.wires[i+1:] {
				for j := 1; j < len(v.points); j++ {
					p, q := v.points[j-1], v.points[j]
					along := rectangle{min(p.X, q.X), min(p.Y, q.Y), max(p.X, q.X), max(p.Y, q.Y)}
					sameX := a.X == b.X && p.X == q.X && math.Abs(a.X-p.X) < 3
					sameY := a.Y == b.Y && p.Y == q.Y && math.Abs(a.Y-p.Y) < 3
					if sameX && seg.y0 < along.y1-near && along.y0 < seg.y1-near || sameY && seg.x0 < along.x1-near && along.x0 < seg.x1-near {
						bad("%s and %s run on top of each other", w.part, v.part)
					}
				}
			}
		}
	}
}

// reaches tells whether a point is a port of a symbol.
func (s *seen) reaches(name string, p svg.Point) bool {
	for _, b := range s.boxes {
		if b.name() == name && b.onRim(p) {
			return true
		}
	}
	for _, d := range s.dots {
		if d.part == name && math.Abs(d.at.X-p.X) < near && math.Abs(d.at.Y-p.Y) < near {
			return true
		}
	}
	for _, b := range s.bars {
		if b.part == name && on(p, b.points) {
			return true
		}
	}
	for _, d := range s.signs {
		if d.part == name && math.Abs(d.at.X-p.X) < near && math.Abs(d.at.Y-p.Y) < near {
			return true
		}
	}
	return false
}
