package plot

import (
	"errors"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist/svg"
	"example.com/ohmloom/solve"
)

// Sizes in user units, 96 to the inch.
const (
	wide      = 680.0
	tall      = 300.0 // of the field
	left      = 64.0
	right     = 18.0
	titleSize = 15.0
	textSize  = 10.0
	tickSize  = 9.5
	lineHigh  = 13.0
	overHigh  = 18.0 // above the field, where OL is
)

const (
	ink    = "#111"
	grid   = "#c9c9c9"
	grey   = "#dcdcdc"
	middle = "#555"
	colour = "#0b3d91"
)

var errNoPoints = errors.New("plot: there are no points to draw")

// SVG draws the plot.
func (p *Plot) SVG() ([]byte, error) {
	if len(p.Points) == 0 {
		return nil, errNoPoints
	}
	d := &drawer{p: p, y: p.span()}
	d.x = axis{log: p.LogX, min: math.Inf(1), max: math.Inf(-1), from: left, to: wide - right}
	for _, q := range p.Points {
		d.x.min, d.x.max = min(d.x.min, q.X), max(d.x.max, q.X)
	}
	for _, q := range p.Places {
		d.x.min, d.x.max = min(d.x.min, q.X), max(d.x.max, q.X)
	}
	if d.x.max <= d.x.min {
		d.x.max = d.x.min + 1
	}
	return d.draw()
}

type drawer struct {
	p     *Plot
	x, y  axis
	w     svg.Writer
	over  float64 // y of OL
	taken [][4]float64
}

// line is a text above the field.
type line struct {
	text  string
	size  float64
	bold  bool
	class string
}

func (d *drawer) header() []line {
	var out []line
	add := func(text string, size float64, bold bool, class string) {
		for _, l := range svg.Wrap(text, size, bold, wide-2*right) {
			out = append(out, line{l, size, bold, class})
		}
	}
	add(d.p.Title, titleSize, true, "title")
	for _, f := range d.p.Foreword {
		add(f, textSize-1, false, "foreword")
	}
	add(d.p.Subtitle, textSize, false, "remark")
	return out
}

func (d *drawer) draw() ([]byte, error) {
	p := d.p
	top := right
	for _, l := range d.header() {
		top += 1.35 * l.size
	}
	field := top + lineHigh + d.placesHigh()
	abovePlaces := field
	over := false
	for _, q := range p.Points {
		over = over || q.Value.OL
	}
	if over || p.Healthy.OL || p.High.OL {
		d.over = field + overHigh/2
		field += overHigh
	}
	d.y.from, d.y.to = field+tall, field
	height := field + tall + 3.5*lineHigh + 1.4*lineHigh*float64(d.legendLines())
	w := &d.w
	w.Open("svg", svg.Str("xmlns", "http://www.w3.org/2000/svg"), svg.Str("class", "reading-plot"),
		svg.Str("viewBox", "0 0 "+svg.Number(wide)+" "+svg.Number(height)), svg.Str("width", svg.Number(wide*25.4/96)+"mm"), svg.Str("height", svg.Number(height*25.4/96)+"mm"),
		svg.Str("role", "img"), svg.Str("font-family", svg.Font), svg.Str("fill", ink))
	w.Text("title", p.Title)
	w.Text("desc", d.describe())
	w.Empty("rect", svg.Str("class", "paper"), svg.Num("width", wide), svg.Num("height", height), svg.Str("fill", "#fff"))
	y := right
	for _, l := range d.header() {
		w.Label(svg.Label{X: right, Y: y, Size: l.size, Bold: l.bold, Text: l.text}, svg.Str("class", l.class))
		y += 1.35 * l.size
	}
	d.band()
	d.axes()
	d.places(abovePlaces)
	d.curve()
	d.ends()
	d.legend(field + tall + 3.3*lineHigh)
	w.Close()
	return w.Bytes()
}

// describe says in words what the curve does.
func (d *drawer) describe() string {
	p := d.p
	first, last := p.Points[0], p.Points[len(p.Points)-1]
	unit := " m"
	if p.LogX {
		unit = " Ω"
	}
	q := func(v solve.Value) string { return solve.FormatReading(p.Quantity, v) }
	return strings.Join(append(append([]string(nil), p.Foreword...),
		p.Subtitle+". From "+q(first.Value)+" at "+short(first.X)+unit+" to "+q(last.Value)+" at "+short(last.X)+unit+". Without the fault "+q(p.Healthy)+"; 95 % of healthy harnesses read "+q(p.Low)+" to "+q(p.High)+"."), " ")
}

// at is where a value lies in the picture.
func (d *drawer) at(v solve.Value) float64 {
	if v.OL {
		return d.over
	}
	return d.y.at(v.Number)
}

func (d *drawer) band() {
	p := d.p
	lo, hi := d.at(p.Low), d.at(p.High)
	// Grey, with a line at either edge, so that it is seen on any paper.
	high := max(lo-hi, 1)
	d.w.Empty("rect", svg.Str("class", "healthy-band"), svg.Num("x", left), svg.Num("y", hi), svg.Num("width", d.x.to-d.x.from), svg.Num("height", high), svg.Str("fill", grey))
	for _, y := range []float64{hi, hi + high} {
		d.w.Path([]svg.Point{{X: d.x.from, Y: y}, {X: d.x.to, Y: y}}, svg.Str("class", "healthy-edge"), svg.Str("stroke", middle), svg.Num("stroke-width", 0.6))
	}
	y := d.at(p.Healthy)
	d.w.Path([]svg.Point{{X: d.x.from, Y: y}, {X: d.x.to, Y: y}}, svg.Str("class", "healthy"), svg.Str("stroke", ink), svg.Num("stroke-width", 0.9), svg.Str("stroke-dasharray", "6 3"))
}

func (d *drawer) axes() {
	w := &d.w
	bottom, top := d.y.from, d.y.to
	w.Open("g", svg.Str("class", "grid"), svg.Str("stroke", grid), svg.Str("fill", "none"))
	weight := func(t tick) svg.Attr {
		if t.label == "" {
			return svg.Num("stroke-width", 0.25)
		}
		return svg.Num("stroke-width", 0.7)
	}
	xs, ys := d.x.ticks(9), d.y.ticks(6)
	for _, t := range xs {
		w.Path([]svg.Point{{X: d.x.at(t.at), Y: bottom}, {X: d.x.at(t.at), Y: top}}, weight(t))
	}
	for _, t := range ys {
		w.Path([]svg.Point{{X: d.x.from, Y: d.y.at(t.at)}, {X: d.x.to, Y: d.y.at(t.at)}}, weight(t))
	}
	w.Close()
	w.Open("g", svg.Str("class", "axes"), svg.Str("stroke", ink), svg.Str("fill", "none"), svg.Num("stroke-width", 1))
	w.Empty("rect", svg.Num("x", d.x.from), svg.Num("y", top), svg.Num("width", d.x.to-d.x.from), svg.Num("height", bottom-top))
	if d.over > 0 {
		w.Path([]svg.Point{{X: d.x.from, Y: d.over}, {X: d.x.to, Y: d.over}}, svg.Num("stroke-width", 0.5), svg.Str("stroke-dasharray", "2 3"))
	}
	w.Close()
	for _, t := range xs {
		d.label(t.label, d.x.at(t.at), bottom+3, 0.5, tickSize, "tick")
	}
	for _, t := range ys {
		d.label(t.label, d.x.from-5, d.y.at(t.at)-tickSize*svg.Height/2, 1, tickSize, "tick")
	}
	if d.over > 0 {
		d.label("OL", d.x.from-5, d.over-tickSize*svg.Height/2, 1, tickSize, "tick")
	}
	d.label(d.p.XLabel, (d.x.from+d.x.to)/2, bottom+lineHigh+5, 0.5, textSize, "axis")
	l := svg.Label{Size: textSize, Text: d.p.YLabel, Turned: true}
	l.X, l.Y = right-6, (bottom+top+svg.Width(l.Text, l.Size, false))/2
	w.Label(l, svg.Str("class", "axis"))
}

// label sets a text at x, which is its left end (0), middle (0.5) or right end (1),
// unless it would lie on another one.
func (d *drawer) label(text string, x, y, share, size float64, class string) bool {
	if text == "" {
		return false
	}
	l := svg.Label{X: x - share*svg.Width(text, size, false), Y: y, Size: size, Text: text}
	x0, y0, x1, y1 := l.Box()
	if l.X < 1 {
		l.X, x0 = 1, 1
	}
	if x1 > wide-1 {
		shift := x1 - (wide - 1)
		l.X, x0, x1 = l.X-shift, x0-shift, wide-1
	}
	const gap = 3
	for _, t := range d.taken {
		if x0-gap < t[2] && t[0] < x1+gap && y0 < t[3] && t[1] < y1 {
			return false
		}
	}
	d.taken = append(d.taken, [4]float64{x0, y0, x1, y1})
	d.w.Label(l, svg.Str("class", class))
	return true
}

// placeRows is how many rows the names of places may take, placesGap what is free
// below them for the label of the field's upper end.
const (
	placeRows = 4
	placesGap = 8.0
)

// placed is a name above the field, in one of the rows; row is -1 where there is
// no room for it.
type placed struct {
	name string
	x    float64 // left end
	at   float64 // of the place
	row  int
}

// placeNames shares the names of places out among rows: those that stand at one
// place together, the others a row higher where they would touch.
func (d *drawer) placeNames() []placed {
	var merged []Place
	for _, q := range d.p.Places {
		if n := len(merged); n > 0 && merged[n-1].X == q.X {
			if !slices.Contains(strings.Fields(merged[n-1].Name), q.Name) {
				merged[n-1].Name += " " + q.Name
			}
			continue
		}
		merged = append(merged, q)
	}
	const gap = 6
	var ends [placeRows]float64
	var out []placed
	for _, q := range merged {
		k := placed{name: svg.Shorten(q.Name, tickSize, false, 150), at: d.x.at(q.X), row: -1}
		w := svg.Width(k.name, tickSize, false)
		k.x = min(max(k.at-w/2, 1), wide-1-w)
		for r := range ends {
			if ends[r] <= k.x {
				k.row, ends[r] = r, k.x+w+gap
				break
			}
		}
		out = append(out, k)
	}
	return out
}

func (d *drawer) placesHigh() float64 {
	rows := 0
	for _, k := range d.placeNames() {
		rows = max(rows, k.row+1)
	}
	if rows == 0 {
		return 0
	}
	return float64(rows)*lineHigh + placesGap
}

// places marks the places along the trunk by lines through the field, with their
// names above it. Names for which there is no room are left out.
func (d *drawer) places(field float64) {
	for _, k := range d.placeNames() {
		d.w.Path([]svg.Point{{X: k.at, Y: d.y.from}, {X: k.at, Y: field - 2}}, svg.Str("class", "place"), svg.Str("stroke", middle), svg.Num("stroke-width", 0.8), svg.Str("stroke-dasharray", "1.5 2.5"))
		if k.row >= 0 {
			d.label(k.name, k.x, field-placesGap-float64(k.row+1)*lineHigh, 0, tickSize, "place")
		}
	}
}

// curve draws the reading. Where the meter shows OL the line runs along the top.
func (d *drawer) curve() {
	var run []svg.Point
	over := false
	flush := func() {
		if len(run) == 1 {
			run = append(run, svg.Point{X: run[0].X + 0.5, Y: run[0].Y})
		}
		if len(run) > 1 {
			class := "curve"
			if over {
				class = "curve over"
			}
			d.w.Path(run, svg.Str("class", class), svg.Str("fill", "none"), svg.Str("stroke", colour), svg.Num("stroke-width", 2.2), svg.Str("stroke-linejoin", "round"))
		}
		run = nil
	}
	for i, q := range d.p.Points {
		if q.Value.OL != over || q.Gap && i > 0 {
			flush()
			over = q.Value.OL
		}
		run = append(run, svg.Point{X: d.x.at(q.X), Y: d.at(q.Value)})
	}
	flush()
	if t := d.p.Typical; d.typical() {
		for i := 1; i < len(d.p.Points); i++ {
			a, b := d.p.Points[i-1], d.p.Points[i]
			if a.X <= t && t <= b.X && !a.Value.OL && !b.Value.OL {
				f := math.Log(t/a.X) / math.Log(b.X/a.X)
				y := d.at(a.Value) + f*(d.at(b.Value)-d.at(a.Value))
				d.w.Empty("circle", svg.Str("class", "typical"), svg.Num("cx", d.x.at(t)), svg.Num("cy", y), svg.Num("r", 3.5), svg.Str("fill", "#fff"), svg.Str("stroke", colour), svg.Num("stroke-width", 1.6))
				break
			}
		}
	}
}

// ends writes the readings at the ends of the curve, of the healthy harness, and
// the least and greatest where they are elsewhere.
func (d *drawer) ends() {
	p := d.p
	q := func(v solve.Value) string { return solve.FormatReading(p.Quantity, v) }
	first, last := p.Points[0], p.Points[len(p.Points)-1]
	write := func(x float64, v solve.Value, share float64) {
		y := d.at(v)
		for _, off := range []float64{-15, 4, -24, 13, -36, 26} {
			for _, side := range []float64{0, 1, -1} {
				l := svg.Label{Size: textSize, Text: q(v), Y: y + off}
				w := svg.Width(l.Text, l.Size, false)
				l.X = d.x.at(x) + (0.5-share)*8 - share*w + side*(w/2+6)
				x0, y0, x1, y1 := l.Box()
				if y0 < d.y.to || y1 > d.y.from || x0 < d.x.from || x1 > d.x.to || d.crossed(x0, y0, x1, y1) {
					continue
				}
				if d.label(l.Text, l.X, l.Y, 0, textSize, "end") {
					return
				}
			}
		}
	}
	write(first.X, first.Value, 0)
	write(last.X, last.Value, 1)
	low, high := first, first
	for _, c := range p.Points {
		if c.Value.OL {
			continue
		}
		if low.Value.OL || c.Value.Number < low.Value.Number {
			low = c
		}
		if high.Value.OL || c.Value.Number > high.Value.Number {
			high = c
		}
	}
	room := math.Abs(d.y.from-d.y.to) / 15
	for _, c := range []Point{low, high} {
		if math.Abs(d.at(c.Value)-d.at(first.Value)) > room && math.Abs(d.at(c.Value)-d.at(last.Value)) > room {
			write(c.X, c.Value, 0.5)
		}
	}
}

// crossed tells whether the curve runs through a box or close by it.
func (d *drawer) crossed(x0, y0, x1, y1 float64) bool {
	const gap = 2
	x0, y0, x1, y1 = x0-gap, y0-gap, x1+gap, y1+gap
	var a svg.Point
	for i, p := range d.p.Points {
		b := svg.Point{X: d.x.at(p.X), Y: d.at(p.Value)}
		if i == 0 {
			a = b
		}
		// The stretch of the line from a to b, from 0 to 1, that lies in the box.
		from, to := 0.0, 1.0
		for _, k := range [][3]float64{{a.X, b.X - a.X, x0}, {-a.X, a.X - b.X, -x1}, {a.Y, b.Y - a.Y, y0}, {-a.Y, a.Y - b.Y, -y1}} {
			switch at, step, least := k[0], k[1], k[2]; {
			case step > 0:
				from = max(from, (least-at)/step)
			case step < 0:
				to = min(to, (least-at)/step)
			case at < least:
				to = -1
			}
		}
		if from <= to {
			return true
		}
		a = b
	}
	return false
}

// legendItem is a sign with what it means.
type legendItem struct {
	text string
	sign func(x, y float64)
}

const signRoom = 30.0

func (d *drawer) legendItems() []legendItem {
	p := d.p
	q := func(v solve.Value) string { return solve.FormatReading(p.Quantity, v) }
	out := []legendItem{
		{"reading with the fault", func(x, y float64) {
			d.w.Path([]svg.Point{{X: x, Y: y}, {X: x + 24, Y: y}}, svg.Str("stroke", colour), svg.Num("stroke-width", 2.2))
		}},
		{"without (" + q(p.Healthy) + ")", func(x, y float64) {
			d.w.Path([]svg.Point{{X: x, Y: y}, {X: x + 24, Y: y}}, svg.Str("stroke", ink), svg.Num("stroke-width", 0.9), svg.Str("stroke-dasharray", "6 3"))
		}},
		{"95 % of healthy harnesses (" + q(p.Low) + " to " + q(p.High) + ")", func(x, y float64) {
			d.w.Empty("rect", svg.Num("x", x), svg.Num("y", y-4), svg.Num("width", 24), svg.Num("height", 8), svg.Str("fill", grey), svg.Str("stroke", middle), svg.Num("stroke-width", 0.6))
		}},
	}
	if d.typical() {
		out = append(out, legendItem{"in the what-if table (" + short(p.Typical) + " Ω)", func(x, y float64) {
			d.w.Empty("circle", svg.Num("cx", x+12), svg.Num("cy", y), svg.Num("r", 3.5), svg.Str("fill", "#fff"), svg.Str("stroke", colour), svg.Num("stroke-width", 1.6))
		}})
	}
	return out
}

// typical tells whether the ohms that the table shows lie within the plot.
func (d *drawer) typical() bool {
	t := d.p.Typical
	return d.p.LogX && t > d.x.min && t < d.x.max
}

func (i *legendItem) wide() float64 { return signRoom + svg.Width(i.text, textSize, false) + 18 }

// legendLines is how many lines the legend takes.
func (d *drawer) legendLines() int {
	n, x := 1, left
	for _, i := range d.legendItems() {
		if x+i.wide() > wide && x > left {
			n, x = n+1, left
		}
		x += i.wide()
	}
	return n
}

func (d *drawer) legend(y float64) {
	x := left
	for _, i := range d.legendItems() {
		if x+i.wide() > wide && x > left {
			x, y = left, y+1.4*lineHigh
		}
		i.sign(x, y+textSize*0.6)
		d.w.Label(svg.Label{X: x + signRoom, Y: y, Size: textSize, Text: i.text}, svg.Str("class", "legend"))
		x += i.wide()
	}
}
