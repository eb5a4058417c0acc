package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/svg"
)

// Colours and dashes of networks, in turn. The dashes tell networks apart without
// the colours, which are dark enough to print black.
var (
	colours = []string{"#0b3d91", "#8a3800", "#1d5c2a", "#5b2a86"}
	dashes  = []string{"", "9 2.5", "14 3 3 3", "4 2", "18 3 3 3 3 3"}
)

const (
	ink    = "#111"
	paper  = "#fff"
	filled = "#f1f1f1"
	margin = 14.0
	title  = 16.0 // size of the title's text
)

type style struct{ colour, dash string }

func networkStyle(h *netlist.Harness, network string) style {
	for i, n := range h.Networks {
		if n.Name == network {
			return style{colours[i%len(colours)], dashes[i%len(dashes)]}
		}
	}
	return style{ink, ""}
}

// header are the lines above the drawing in a picture of that width.
func header(h *netlist.Harness, o *Options, wide float64) []words {
	var out []words
	add := func(text string, size float64, bold bool, class string) {
		for _, l := range svg.Wrap(text, size, bold, wide) {
			out = append(out, words{text: l, size: size, bold: bold, class: class})
		}
	}
	if !o.NoTitle {
		add(h.Name, title, true, "title")
		if h.Note != "" {
			add(h.Note, nameSize, false, "remark")
		}
	}
	for _, f := range o.Foreword {
		add(f, nameSize, false, "foreword")
	}
	return out
}

// leastWide is the least width of a picture, so that title and legend find room.
const leastWide = 460.0

func (p *page) width() float64 { return max(leastWide, p.right-p.left) }

// size of the whole picture.
func (p *page) size(o *Options) (w, h float64) {
	w = p.width()
	h = p.bottom
	for _, l := range header(p.g.c.Harness, o, w) {
		h += l.size * 1.35
	}
	if !o.NoLegend {
		h += p.legendHigh(o, w)
	}
	return w + 2*margin, h + 3*margin
}

// painter writes a page as SVG.
type painter struct {
	*page
	o      *Options
	w      svg.Writer
	dx, dy float64
}

func (p *page) render(o *Options, components []component) (*Picture, error) {
	w, h := p.size(o)
	k := &painter{page: p, o: o}
	scale := printed(w, h)
	id := func(s string) string { return o.IDPrefix + s }
	k.w.Open("svg",
		svg.Str("xmlns", "http://www.w3.org/2000/svg"), svg.Str("class", "harness-drawing"),
		svg.Str("viewBox", "0 0 "+svg.Number(w)+" "+svg.Number(h)),
		svg.Str("width", svg.Number(w*scale)+"mm"), svg.Str("height", svg.Number(h*scale)+"mm"),
		svg.Str("role", "graphics-document document"), svg.Str("aria-labelledby", id("drawing-title")+" "+id("drawing-desc")),
		svg.Str("font-family", svg.Font), svg.Str("fill", ink), svg.Str("stroke-linejoin", "round"))
	harness := p.g.c.Harness
	k.w.Text("title", harness.Name+": wiring", svg.Str("id", id("drawing-title")))
	k.w.Text("desc", strings.Join(append(slices.Clone(o.Foreword), summary(components, p.g)), " "), svg.Str("id", id("drawing-desc")))
	k.w.Empty("rect", svg.Str("class", "paper"), svg.Num("width", w), svg.Num("height", h), svg.Str("fill", paper))
	y := margin
	for _, l := range header(harness, o, p.width()) {
		k.w.Label(svg.Label{X: margin, Y: y, Size: l.size, Bold: l.bold, Text: l.text}, svg.Str("class", l.class))
		y += l.size * 1.35
	}
	k.dx, k.dy = margin-p.left, y+margin/2
	for i := range p.scene.rows {
		r := &p.scene.rows[i]
		for j, l := range r.heading {
			top := p.rowY[i] - r.up - float64(len(r.heading)-j)*headingHigh
			k.w.Label(svg.Label{X: p.header[i] + k.dx, Y: top + k.dy, Size: l.size, Bold: true, Text: l.text}, svg.Str("class", l.class))
		}
	}
	marks := map[string][]mark{}
	for _, m := range p.scene.marks {
		marks[m.part] = append(marks[m.part], m)
	}
	lines := map[string][]line{}
	for _, l := range p.lines {
		lines[p.g.edges[l.edge].part] = append(lines[p.g.edges[l.edge].part], l)
	}
	bars := map[string][]barLine{}
	for _, b := range p.bars {
		part := p.g.nodes[b.node].part
		bars[part] = append(bars[part], b)
	}
	parts := elements(p.g)
	// Bands lie under everything, so that they hide no neighbour.
	k.w.Open("g", svg.Str("class", "bands"))
	for _, e := range parts {
		if weight := weightOf(k.o.Notes, e.part); weight > 0 {
			k.band(e.part, weight, k.outside(marks[e.part], true), lines[e.part], bars[e.part])
		}
	}
	k.w.Close()
	for _, e := range parts {
		k.element(e, marks[e.part], lines[e.part], bars[e.part])
	}
	if !o.NoLegend {
		k.legend(margin, k.dy+p.bottom+margin/2)
	}
	k.w.Close()
	data, err := k.w.Bytes()
	if err != nil {
		return nil, err
	}
	return &Picture{Width: w, Height: h, Rows: len(p.scene.rows), svg: data}, nil
}

// weightOf is the greatest weight of the notes at a part or one of its halves.
func weightOf(notes map[string][]Note, part string) float64 {
	w := 0.0
	for _, key := range []string{part, part + "/a", part + "/b"} {
		for _, n := range notes[key] {
			w = max(w, n.Weight)
		}
	}
	return w
}

// bandHalf is half the width of a band along a wire.
func bandHalf(weight float64) float64 { return 4.5 + 4*weight }

// element draws a part: its wires, its signs, its texts.
func (k *painter) element(e element, marks []mark, lines []line, bars []barLine) {
	class, weight := "part "+e.kind, weightOf(k.o.Notes, e.part)
	if weight > 0 {
		class += " weighted"
	}
	all := []svg.Attr{svg.Str("id", PartID(k.o.IDPrefix, e.part)), svg.Str("class", class), svg.Str("data-part", e.part), svg.Str("data-kind", e.kind)}
	if e.network != "" {
		all = append(all, svg.Str("data-network", e.network))
	}
	if weight > 0 {
		all = append(all, svg.Str("data-weight", svg.Number(weight)))
	}
	k.w.Open("g", append(all, svg.Str("role", "graphics-symbol img"))...)
	text := e.title
	for _, key := range []string{e.part, e.part + "/a", e.part + "/b"} {
		for _, n := range k.o.Notes[key] {
			if n.Text != "" {
				text += "; " + n.Text
			}
		}
	}
	k.w.Text("title", text)
	if weight > 0 {
		k.band(e.part, weight, k.outside(marks, false), nil, nil)
	}
	st := networkStyle(k.g.c.Harness, e.network)
	for _, l := range lines {
		k.wire(l, st)
	}
	for _, b := range bars {
		k.w.Path(k.move(b.points), svg.Str("class", "bar"), svg.Str("fill", "none"), svg.Str("stroke", ink), svg.Num("stroke-width", barWide))
	}
	for _, m := range marks {
		if m.what != textMark {
			k.sign(m)
		}
	}
	for _, m := range marks {
		if m.what == textMark {
			k.words(m)
		}
	}
	k.w.Close()
}

func (k *painter) move(points []svg.Point) []svg.Point {
	out := make([]svg.Point, len(points))
	for i, p := range points {
		out[i] = svg.Point{X: p.X + k.dx, Y: p.Y + k.dy}
	}
	return out
}

// rect is where a mark lies in the picture: left, top, right, bottom.
func (k *painter) rect(m *mark) (x0, y0, x1, y1 float64) {
	shift := k.scene.rows[m.row].shift + k.dx
	a, b := k.y(m.row, m.up, m.v0)+k.dy, k.y(m.row, m.up, m.v1)+k.dy
	return m.x0 + shift, min(a, b), m.x1 + shift, max(a, b)
}

const (
	barWide  = 5.0
	dot      = 4.0
	pairWide = 4.6
	pairGap  = 2.2
	wireWide = 1.7
)

// shade is the colour of a weight's band.
func shade(weight float64) string {
	mix := func(light, dark float64) int { return int(math.Round(light + (dark-light)*weight)) }
	return fmt.Sprintf("#%02x%02x%02x", mix(255, 250), mix(236, 160), mix(200, 20))
}

const rim = "#7a4a00"

// outside keeps the signs that are not inside the box of a module (want), or those
// that are: a terminator's sign, whose band lies on that box.
func (k *painter) outside(marks []mark, want bool) []mark {
	var out []mark
	for _, m := range marks {
		if m.what == textMark {
			continue
		}
		inside := m.what == signMark && m.node >= 0 && k.g.nodes[m.node].kind == moduleNode
		if inside != want {
			out = append(out, m)
		}
	}
	return out
}

// band lays a band around a part, the thicker and darker the greater its weight.
func (k *painter) band(part string, weight float64, marks []mark, lines []line, bars []barLine) {
	if len(marks)+len(lines)+len(bars) == 0 {
		return
	}
	wide := bandHalf(weight)
	k.w.Open("g", svg.Str("class", "band"), svg.Str("data-band", part), svg.Str("fill", "none"), svg.Str("stroke-linecap", "round"))
	paths := make([][]svg.Point, 0, len(lines)+len(bars))
	for _, l := range lines {
		paths = append(paths, k.move(l.points))
	}
	for _, b := range bars {
		paths = append(paths, k.move(b.points))
	}
	for _, m := range marks {
		if m.what == barMark {
			x0, y0, x1, y1 := k.rect(&m)
			paths = append(paths, []svg.Point{{X: x0, Y: y0}, {X: x1 + 0.01, Y: y1}})
		}
	}
	for _, stroke := range []struct {
		colour string
		wide   float64
	}{{rim, 2*wide + 2}, {shade(weight), 2 * wide}} {
		for _, p := range paths {
			k.w.Path(p, svg.Str("stroke", stroke.colour), svg.Num("stroke-width", stroke.wide))
		}
	}
	for _, m := range marks {
		if m.what == boxMark || m.what == signMark || m.what == resistorMark {
			out := 2 + 3*weight
			x0, y0, x1, y1 := k.rect(&m)
			k.w.Empty("rect", svg.Num("x", x0-out), svg.Num("y", y0-out), svg.Num("width", x1-x0+2*out), svg.Num("height", y1-y0+2*out), svg.Num("rx", 4),
				svg.Str("fill", shade(weight)), svg.Str("stroke", rim), svg.Num("stroke-width", 1))
		}
	}
	k.w.Close()
}

// wire draws a pair as two lines, a wire as one.
func (k *painter) wire(l line, st style) {
	e := &k.g.edges[l.edge]
	points := k.move(l.points)
	kind := "wire-line"
	if e.kind == leadEdge {
		kind = "lead"
	}
	data := []svg.Attr{svg.Str("class", kind), svg.Str("data-from", k.g.nodes[l.a].name()), svg.Str("data-to", k.g.nodes[l.b].name())}
	if l.around {
		// Where it crosses others it lies above them.
		k.w.Path(trim(points, 2*dot), svg.Str("class", "clear"), svg.Str("fill", "none"), svg.Str("stroke", paper), svg.Num("stroke-width", pairWide+4))
	}
	k.pair(points, len(e.conductors) > 1 && e.pair, st, data...)
}

func (k *painter) pair(points []svg.Point, pair bool, st style, data ...svg.Attr) {
	line := func(colour string, wide float64, dash string, more ...svg.Attr) {
		all := append(more, svg.Str("fill", "none"), svg.Str("stroke", colour), svg.Num("stroke-width", wide))
		if dash != "" {
			all = append(all, svg.Str("stroke-dasharray", dash))
		}
		k.w.Path(points, all...)
	}
	if !pair {
		line(st.colour, wireWide, st.dash, data...)
		return
	}
	line(st.colour, pairWide, st.dash, data...)
	line(paper, pairGap, "", svg.Str("class", "between"))
	k.twist(points, st)
}

// twist marks a pair as twisted: its lines change sides once, in the middle of the
// longest stretch.
func (k *painter) twist(points []svg.Point, st style) {
	best, at := 0.0, 0
	for i := 1; i < len(points); i++ {
		if d := math.Abs(points[i].X-points[i-1].X) + math.Abs(points[i].Y-points[i-1].Y); d > best+1e-9 {
			best, at = d, i
		}
	}
	const half = 5.0
	if best < 4*half {
		return
	}
	a, b := points[at-1], points[at]
	m := svg.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
	turn := ""
	if math.Abs(b.Y-a.Y) > math.Abs(b.X-a.X) {
		turn = " rotate(90)"
	}
	off := svg.Number((pairWide + pairGap) / 4)
	h := svg.Number(half)
	k.w.Open("g", svg.Str("class", "twist"), svg.Str("transform", "translate("+svg.Number(m.X)+" "+svg.Number(m.Y)+")"+turn), svg.Str("fill", "none"))
	k.w.Empty("path", svg.Str("d", "M-"+h+" 0 L"+h+" 0"), svg.Str("stroke", paper), svg.Num("stroke-width", pairWide+0.6))
	for _, v := range [][2]string{{off, "-" + off}, {"-" + off, off}} {
		k.w.Empty("path", svg.Str("d", "M-"+h+" "+v[0]+" C0 "+v[0]+" 0 "+v[1]+" "+h+" "+v[1]), svg.Str("stroke", st.colour), svg.Num("stroke-width", (pairWide-pairGap)/2))
	}
	k.w.Close()
}

// trim shortens a line at both ends.
func trim(points []svg.Point, by float64) []svg.Point {
	out := slices.Clone(points)
	cut := func(a *svg.Point, b svg.Point) {
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		if d <= 0 {
			return
		}
		f := min(by, d) / d
		a.X += (b.X - a.X) * f
		a.Y += (b.Y - a.Y) * f
	}
	cut(&out[0], out[1])
	cut(&out[len(out)-1], out[len(out)-2])
	return out
}

// words sets a text, in the frame of its kind where it is a note.
func (k *painter) words(m mark) {
	x0, y0, x1, y1 := k.rect(&m)
	t := m.text
	if n := t.note; n != nil {
		frame := func(fill string, stroke float64, more ...svg.Attr) {
			all := []svg.Attr{svg.Str("class", "frame"), svg.Num("x", x0), svg.Num("y", y0+0.5), svg.Num("width", x1-x0), svg.Num("height", y1-y0-1), svg.Num("rx", 2), svg.Str("fill", fill), svg.Str("stroke", ink), svg.Num("stroke-width", stroke)}
			k.w.Empty("rect", append(all, more...)...)
		}
		switch n.Kind {
		case Reading:
			frame(paper, 0.6)
		case Likely:
			frame(shade(n.Weight), 0.8+0.8*n.Weight)
		case Mark:
			frame(paper, 1, svg.Str("stroke-dasharray", "3 1.5"))
		}
		x0 += notePad
	}
	k.w.Label(svg.Label{X: x0, Y: y0 + (y1-y0-t.size*svg.Height)/2, Size: t.size, Bold: t.bold, Text: t.text}, svg.Str("class", t.class))
}

// sign draws one sign of a part.
func (k *painter) sign(m mark) {
	x0, y0, x1, y1 := k.rect(&m)
	stroke := func(class string, wide float64) []svg.Attr {
		return []svg.Attr{svg.Str("class", class), svg.Str("fill", "none"), svg.Str("stroke", ink), svg.Num("stroke-width", wide)}
	}
	switch m.what {
	case boxMark:
		n := &k.g.nodes[m.node]
		all := []svg.Attr{svg.Str("class", "box"), svg.Num("x", x0), svg.Num("y", y0), svg.Num("width", x1-x0), svg.Num("height", y1-y0), svg.Str("stroke", ink)}
		switch {
		case n.kind == moduleNode:
			all = append(all, svg.Num("rx", 1), svg.Str("fill", filled), svg.Num("stroke-width", 1.5))
		case k.g.plugged(m.node):
			all = append(all, svg.Num("rx", 3), svg.Str("fill", paper), svg.Num("stroke-width", 1.1))
		default:
			all = append(all, svg.Num("rx", 3), svg.Str("fill", paper), svg.Num("stroke-width", 1.1), svg.Str("stroke-dasharray", "4 2.5"))
		}
		if m.half != "" {
			all = append(all, svg.Str("data-half", m.half))
		}
		k.w.Empty("rect", all...)
	case barMark:
		k.w.Path([]svg.Point{{X: x0, Y: y0}, {X: x1, Y: y1}}, append(stroke("bar", barWide), svg.Str("stroke-linecap", "round"))...)
		shift := k.scene.rows[m.row].shift + k.dx
		for _, x := range m.dots {
			k.w.Empty("circle", svg.Str("class", "dot"), svg.Num("cx", x+shift), svg.Num("cy", (y0+y1)/2), svg.Num("r", dot))
		}
	case contactMark:
		k.contact(&m)
	case signMark:
		k.terminator(&m)
	case resistorMark:
		k.w.Empty("rect", append(stroke("resistor", 1.3), svg.Num("x", x0), svg.Num("y", y0), svg.Num("width", x1-x0), svg.Num("height", y1-y0))...)
	case railMark:
		k.rail(&m)
	}
}

// contact draws a socket contact (an open half circle) and a pin contact (a full
// bar) in it: the signs of IEC 60617 for the two halves of a connector, from
// memory. The device half, or side b, has the pin.
func (k *painter) contact(m *mark) {
	x0, y0, x1, y1 := k.rect(m)
	a, b := svg.Point{X: x0, Y: y0}, svg.Point{X: x1, Y: y1}
	forward := m.toward > 0
	if !m.turned && m.up {
		forward = !forward
	}
	if !forward {
		a, b = b, a
	}
	// From a, the socket's side, to b.
	turn := 0.0
	switch {
	case b.X < a.X:
		turn = 180
	case b.Y > a.Y:
		turn = 90
	case b.Y < a.Y:
		turn = -90
	}
	k.contacts(svg.Str("transform", "translate("+svg.Number(a.X)+" "+svg.Number(a.Y)+") rotate("+svg.Number(turn)+")"))
}

// contacts draws a pair of mated contacts, 10 units long, in a frame of its own.
func (k *painter) contacts(frame svg.Attr) {
	k.w.Open("g", svg.Str("class", "contacts"), frame)
	k.w.Empty("path", svg.Str("d", "M0 0 L2 0 M5 -3 A3 3 0 0 0 5 3 M8 0 L10 0"), svg.Str("fill", "none"), svg.Str("stroke", ink), svg.Num("stroke-width", 1.2))
	k.w.Empty("rect", svg.Num("x", 4), svg.Num("y", -1.3), svg.Num("width", 4.5), svg.Num("height", 2.6), svg.Str("fill", ink))
	k.w.Close()
}

// terminator draws a resistor across a pair: the rectangle of IEC 60617 (sign
// S00555, from memory), or two in a row with a middle point, and a lead from each
// conductor.
func (k *painter) terminator(m *mark) {
	x0, y0, x1, y1 := k.rect(m)
	// Drawn in a frame of its own: the leads come from x = 0, and y runs across.
	across, along := y1-y0, x1-x0
	turn := "translate(" + svg.Number(x0) + " " + svg.Number((y0+y1)/2) + ")"
	switch {
	case m.turned && m.toward > 0:
		turn = "translate(" + svg.Number(x1) + " " + svg.Number((y0+y1)/2) + ") rotate(180)"
	case !m.turned:
		across, along = x1-x0, y1-y0
		turn = "translate(" + svg.Number((x0+x1)/2) + " " + svg.Number(y0) + ") rotate(90)"
		if m.up {
			turn = "translate(" + svg.Number((x0+x1)/2) + " " + svg.Number(y1) + ") rotate(-90)"
		}
	}
	n := svg.Number
	wide := min(resistorH, along*0.55)
	mid := along - wide/2
	half := across/2 - 2.5
	leads := "M0 -1.5 L" + n(mid/4) + " -1.5 L" + n(mid/4) + " " + n(-across/2) + " L" + n(mid) + " " + n(-across/2) + " L" + n(mid) + " " + n(-half) +
		" M0 1.5 L" + n(mid/4) + " 1.5 L" + n(mid/4) + " " + n(across/2) + " L" + n(mid) + " " + n(across/2) + " L" + n(mid) + " " + n(half)
	k.w.Open("g", svg.Str("class", "resistor"), svg.Str("transform", turn), svg.Str("fill", "none"), svg.Str("stroke", ink), svg.Num("stroke-width", 1.1))
	k.w.Empty("path", svg.Str("d", leads))
	box := func(from, to float64) {
		k.w.Empty("rect", svg.Num("x", mid-wide/2), svg.Num("y", from), svg.Num("width", wide), svg.Num("height", to-from), svg.Str("fill", paper))
	}
	if m.split {
		box(-half, -1)
		box(1, half)
		k.w.Empty("path", svg.Str("d", "M"+n(mid)+" -1 L"+n(mid)+" 1 M"+n(mid)+" 0 L"+n(along)+" 0"))
	} else {
		box(-half, half)
	}
	k.w.Close()
}

// rail draws ground (IEC 60617 sign S00200, from memory) or the supply, a circle
// with a plus in it.
func (k *painter) rail(m *mark) {
	x0, y0, x1, y1 := k.rect(m)
	cx, n := (x0+x1)/2, svg.Number
	if m.rail == netlist.SupplyRail {
		cy := (y0 + y1) / 2
		k.w.Open("g", svg.Str("class", "rail"), svg.Str("fill", paper), svg.Str("stroke", ink), svg.Num("stroke-width", 0.9))
		k.w.Empty("circle", svg.Num("cx", cx), svg.Num("cy", cy), svg.Num("r", (y1-y0)/2-0.5))
		k.w.Empty("path", svg.Str("d", "M"+n(cx-2.5)+" "+n(cy)+" L"+n(cx+2.5)+" "+n(cy)+" M"+n(cx)+" "+n(cy-2.5)+" L"+n(cx)+" "+n(cy+2.5)))
		k.w.Close()
		return
	}
	// It points away from what it hangs on; in a connector's box it stands upright.
	top, dir := y0, 1.0
	if m.up && k.g.nodes[m.node].kind == strayNode {
		top, dir = y1, -1
	}
	y := func(d float64) string { return n(top + dir*d) }
	k.w.Empty("path", svg.Str("class", "rail"), svg.Str("fill", "none"), svg.Str("stroke", ink), svg.Num("stroke-width", 1.1),
		svg.Str("d", strings.Join([]string{
			"M" + n(cx) + " " + y(0) + " L" + n(cx) + " " + y(4),
			"M" + n(cx-5) + " " + y(4) + " L" + n(cx+5) + " " + y(4),
			"M" + n(cx-3) + " " + y(6.5) + " L" + n(cx+3) + " " + y(6.5),
			"M" + n(cx-1.2) + " " + y(9) + " L" + n(cx+1.2) + " " + y(9)}, " ")))
}
