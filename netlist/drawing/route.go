package drawing

import (
	"cmp"
	"math"
	"slices"

	"example.com/ohmloom/netlist/svg"
)

// line is a wire in the picture: from a symbol to a symbol.
type line struct {
	edge, a, b int
	points     []svg.Point
	// around: it runs between rows, and may cross other wires.
	around bool
}

// page is a scene with its rows in place.
type page struct {
	g     *graph
	scene *scene
	lines []line
	// bars are splices that go on in the next row.
	bars   []barLine
	rowY   []float64
	header []float64 // x of each row's heading
	// left to right and 0 to bottom is what the drawing takes.
	left, right, bottom float64
}

type barLine struct {
	node   int
	points []svg.Point
}

// y is where a point of a row lies.
func (p *page) y(row int, up bool, v float64) float64 {
	if up {
		return p.rowY[row] - v
	}
	return p.rowY[row] + v
}

func (p *page) at(s spot) svg.Point {
	return svg.Point{X: s.x + p.scene.rows[s.row].shift, Y: p.y(s.row, s.up, s.v)}
}

// link is a wire between rows: its two ends, and the tracks that it takes.
type link struct {
	edge  int
	ends  [2]end
	x     [2]float64
	place [2]int // channels: place c is the space above row c
	lane  [2]int // tracks in them
	side  int    // -1 along the left of the picture, 1 along the right, 0: one channel will do
	run   int    // track along the side
}

// span is a stretch of a track, to find tracks in which stretches do not touch.
type span struct {
	from, to float64
	lane     *int
}

// lanes shares out as few tracks as need be, and says how many.
func lanes(spans []span) int {
	slices.SortStableFunc(spans, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	var taken []float64
	for _, s := range spans {
		at := slices.IndexFunc(taken, func(to float64) bool { return to+track < s.from })
		if at < 0 {
			at = len(taken)
			taken = append(taken, 0)
		}
		taken[at] = s.to
		*s.lane = at
	}
	return len(taken)
}

// route gives the rows their places and draws the wires between them: each end
// goes straight out of its row on a column of its own, then along a track that no
// other wire uses, and where another row's space must be reached along the side of
// the picture. So such wires cross only wires, never a symbol or a label.
func (s *scene) route(g *graph) *page {
	p := &page{g: g, scene: s}
	wide := 0.0
	for i := range s.rows {
		wide = max(wide, s.rows[i].wide)
	}
	for i := range s.rows {
		if r := &s.rows[i]; r.reverse {
			r.shift = math.Floor((wide-r.wide)/lattice) * lattice
		}
	}
	links := s.links(wide)
	// Tracks.
	channels := make([]float64, len(s.rows)+1)
	for c := range channels {
		var spans []span
		for i := range links {
			l := &links[i]
			if l.side == 0 && l.place[0] == c {
				spans = append(spans, span{min(l.x[0], l.x[1]), max(l.x[0], l.x[1]), &l.lane[0]})
				continue
			}
			for k := range l.place {
				if l.place[k] == c && l.side < 0 {
					spans = append(spans, span{math.Inf(-1), l.x[k], &l.lane[k]})
				} else if l.place[k] == c {
					spans = append(spans, span{l.x[k], math.Inf(1), &l.lane[k]})
				}
			}
		}
		channels[c] = float64(lanes(spans))
	}
	var runs [2]int
	for i, side := range []int{-1, 1} {
		var spans []span
		for j := range links {
			if l := &links[j]; l.side == side {
				// From a channel into a channel: numbers far apart beside a track, so that
				// only those that pass one another keep clear.
				spans = append(spans, span{100 * float64(min(l.place[0], l.place[1])), 100*float64(max(l.place[0], l.place[1])) + 50, &l.run})
			}
		}
		runs[i] = lanes(spans)
	}
	// Heights.
	y := 0.0
	tops := make([]float64, len(channels))
	for c := range channels {
		tops[c] = y
		if n := channels[c]; n > 0 {
			y += n*track + rowGap
		} else if c > 0 && c < len(s.rows) {
			y += rowGap
		}
		if c < len(s.rows) {
			r := &s.rows[c]
			p.header = append(p.header, s.headingAt(c))
			y += float64(len(r.heading)) * headingHigh
			p.rowY = append(p.rowY, y+r.up)
			y += r.up + r.down
		}
	}
	p.bottom = y
	// The sides: first trunks that go on, then tracks.
	inner := [2]float64{-leftPad - rowGap, wide + rowGap}
	outer := [2]float64{inner[0] - parallels - track, inner[1] + parallels + track}
	p.left, p.right = -leftPad, wide
	for _, w := range s.wraps {
		p.wrap(w, inner)
	}
	side := func(l *link) float64 {
		if l.side < 0 {
			return outer[0] - float64(l.run)*track
		}
		return outer[1] + float64(l.run)*track
	}
	if runs[0] > 0 {
		p.left = outer[0] - float64(runs[0])*track
	}
	if runs[1] > 0 {
		p.right = outer[1] + float64(runs[1])*track
	}
	for i := range s.rows {
		p.right = max(p.right, p.header[i]+widest(s.rows[i].heading))
	}
	for i := range links {
		l := &links[i]
		trackY := func(k int) float64 { return tops[l.place[k]] + rowGap/2 + track/2 + float64(l.lane[k])*track }
		a, b := p.at(l.ends[0].spot), p.at(l.ends[1].spot)
		points := []svg.Point{a, {X: a.X, Y: trackY(0)}}
		if l.side == 0 {
			points = append(points, svg.Point{X: b.X, Y: trackY(0)})
		} else {
			x := side(l)
			points = append(points, svg.Point{X: x, Y: trackY(0)}, svg.Point{X: x, Y: trackY(1)}, svg.Point{X: b.X, Y: trackY(1)})
		}
		p.lines = append(p.lines, line{l.edge, l.ends[0].node, l.ends[1].node, append(points, b), true})
	}
	for _, r := range s.runs {
		p.lines = append(p.lines, line{r.edge, r.a, r.b, []svg.Point{p.at(r.from), p.at(r.to)}, false})
	}
	return p
}

// headingHigh is the height of a line of a row's heading.
const headingHigh = 15.0

// headingAt finds where a row's heading stands free of the wires that leave the
// row upwards.
func (s *scene) headingAt(row int) float64 {
	r := &s.rows[row]
	w := widest(r.heading)
	x := -leftPad
	for again := w > 0; again; {
		again = false
		for _, e := range s.ends {
			if at := e.x + r.shift; e.row == row && e.up && at > x-fromWire && at < x+w+fromWire {
				x, again = at+2*fromWire, true
			}
		}
	}
	return x
}

// links finds the two ends of each wire between rows and how it goes.
func (s *scene) links(wide float64) []link {
	var out []link
	first := map[int]end{}
	for _, e := range s.ends {
		a, ok := first[e.edge]
		if !ok {
			first[e.edge] = e
			continue
		}
		delete(first, e.edge) // a wire from a connector to itself has two ends there
		l := link{edge: e.edge, ends: [2]end{a, e}}
		for k, x := range l.ends {
			l.x[k] = x.x + s.rows[x.row].shift
			l.place[k] = x.row
			if !x.up {
				l.place[k]++
			}
		}
		if l.place[0] != l.place[1] {
			l.side = 1
			if l.x[0]+l.x[1] < wide {
				l.side = -1
			}
		}
		out = append(out, l)
	}
	return out
}

// wrap draws a trunk that turns round into the next row.
func (p *page) wrap(w wrap, inner [2]float64) {
	x, out := inner[0], -1.0
	if w.right {
		x, out = inner[1], 1
	}
	turn := func(off float64) []svg.Point {
		a := p.at(spot{w.row, false, w.xFrom, off})
		b := p.at(spot{w.row + 1, false, w.xTo, -off})
		g := x - out*off
		return []svg.Point{a, {X: g, Y: a.Y}, {X: g, Y: b.Y}, b}
	}
	if w.bar != "" {
		p.bars = append(p.bars, barLine{w.to, turn(0)})
	}
	for i, e := range w.edges {
		p.lines = append(p.lines, line{e, w.from, w.to, turn(offsets(len(w.edges))[i]), true})
	}
	p.left = min(p.left, x-parallels)
	p.right = max(p.right, x+parallels)
}
