package drawing

import (
	"slices"

	"example.com/ohmloom/netlist/svg"
)

// legendItem is one sign with what it means.
type legendItem struct {
	text string
	wide float64 // of the sign
	draw func(k *painter, x, y float64)
}

const (
	legendHigh = 20.0
	legendGap  = 18.0
	signRoom   = 34.0
)

// legendItems are the signs that the picture has.
func (p *page) legendItems(o *Options) []legendItem {
	var out []legendItem
	add := func(text string, draw func(k *painter, x, y float64)) {
		out = append(out, legendItem{text, signRoom, draw})
	}
	h := p.g.c.Harness
	pairs, singles := false, false
	for i := range p.g.edges {
		if e := &p.g.edges[i]; e.kind == wireEdge {
			pairs = pairs || e.pair && len(e.conductors) > 1
			singles = singles || !(e.pair && len(e.conductors) > 1)
		}
	}
	networks := h.Networks
	if len(networks) < 2 {
		networks = nil // one needs no telling apart
	}
	for _, n := range networks {
		st := networkStyle(h, n.Name)
		layer, _ := h.Layer(n.Name)
		pair := len(layer.Conductors) > 1
		add("network "+n.Name, func(k *painter, x, y float64) {
			k.pair([]svg.Point{{X: x, Y: y}, {X: x + signRoom - 4, Y: y}}, pair, st)
		})
	}
	if pairs {
		add("twisted pair", func(k *painter, x, y float64) {
			k.pair([]svg.Point{{X: x, Y: y}, {X: x + signRoom - 4, Y: y}}, true, style{ink, ""})
		})
	}
	if singles {
		add("single wire", func(k *painter, x, y float64) {
			k.pair([]svg.Point{{X: x, Y: y}, {X: x + signRoom - 4, Y: y}}, false, style{ink, ""})
		})
	}
	if len(h.Splices) > 0 {
		add("splice, one joint", func(k *painter, x, y float64) {
			k.w.Path([]svg.Point{{X: x + 5, Y: y}, {X: x + 25, Y: y}}, svg.Str("stroke", ink), svg.Num("stroke-width", barWide), svg.Str("stroke-linecap", "round"))
			for _, d := range []float64{5, 25} {
				k.w.Empty("circle", svg.Num("cx", x+d), svg.Num("cy", y), svg.Num("r", dot))
			}
		})
	}
	boxItem := func(text string, stroke float64, rx float64, fill, dash string) {
		add(text, func(k *painter, x, y float64) {
			all := []svg.Attr{svg.Num("x", x), svg.Num("y", y-6), svg.Num("width", 28), svg.Num("height", 12), svg.Num("rx", rx), svg.Str("fill", fill), svg.Str("stroke", ink), svg.Num("stroke-width", stroke)}
			if dash != "" {
				all = append(all, svg.Str("stroke-dasharray", dash))
			}
			k.w.Empty("rect", all...)
		})
	}
	plugged, free, modules := false, false, false
	for i := range p.g.nodes {
		switch kind := p.g.nodes[i].kind; {
		case kind == moduleNode:
			modules = true
		case kind == halfNode && p.g.plugged(i):
			plugged = true
		case kind == halfNode:
			free = true
		}
	}
	if plugged {
		boxItem("connector", 1.1, 3, paper, "")
	}
	if free {
		boxItem("connector, nothing plugged in", 1.1, 3, paper, "4 2.5")
	}
	if modules {
		boxItem("module or junction box", 1.5, 1, filled, "")
	}
	if plugged {
		add("mated contacts (which half has the pins is not known)", func(k *painter, x, y float64) {
			k.contacts(svg.Str("transform", "translate("+svg.Number(x+8)+" "+svg.Number(y)+")"))
		})
	}
	if len(p.scene.wraps) > 0 || slices.ContainsFunc(p.lines, func(l line) bool { return l.around }) {
		add("lines that cross without a dot are not joined", func(k *painter, x, y float64) {
			st := style{ink, ""}
			k.pair([]svg.Point{{X: x, Y: y}, {X: x + 28, Y: y}}, false, st)
			k.w.Path([]svg.Point{{X: x + 14, Y: y - 6}, {X: x + 14, Y: y + 6}}, svg.Str("stroke", paper), svg.Num("stroke-width", pairWide+4))
			k.pair([]svg.Point{{X: x + 14, Y: y - 7}, {X: x + 14, Y: y + 7}}, false, st)
		})
	}
	kinds := map[NoteKind]bool{}
	weighted := false
	for _, key := range sortedKeys(o.Notes) {
		for _, n := range o.Notes[key] {
			kinds[n.Kind] = kinds[n.Kind] || n.Text != ""
			weighted = weighted || n.Weight > 0
		}
	}
	if kinds[Reading] {
		boxItem("reading", 0.6, 2, paper, "")
	}
	if weighted || kinds[Likely] {
		add("suspect: the wider and darker, the more probable", func(k *painter, x, y float64) {
			for i, w := range []float64{0.1, 0.5, 1} {
				at := x + 10*float64(i)
				k.w.Empty("rect", svg.Num("x", at), svg.Num("y", y-3-3*w), svg.Num("width", 10), svg.Num("height", 6+6*w), svg.Str("fill", shade(w)), svg.Str("stroke", rim), svg.Num("stroke-width", 0.8))
			}
		})
	}
	if kinds[Mark] {
		boxItem("state of a part", 1, 2, paper, "3 1.5")
	}
	return out
}

// legendLines shares the items out among lines.
func (p *page) legendLines(o *Options, wide float64) [][]legendItem {
	var lines [][]legendItem
	at := 0.0
	for _, x := range p.legendItems(o) {
		w := x.wide + svg.Width(x.text, textSize, false) + legendGap
		if len(lines) == 0 || at+w > wide {
			lines = append(lines, nil)
			at = 0
		}
		lines[len(lines)-1] = append(lines[len(lines)-1], x)
		at += w
	}
	return lines
}

func (p *page) legendHigh(o *Options, wide float64) float64 {
	return float64(len(p.legendLines(o, wide)))*legendHigh + margin
}

func (k *painter) legend(x, y float64) {
	k.w.Open("g", svg.Str("class", "legend"), svg.Str("role", "presentation"))
	k.w.Path([]svg.Point{{X: x, Y: y}, {X: x + k.width(), Y: y}}, svg.Str("stroke", ink), svg.Num("stroke-width", 0.5))
	for _, line := range k.legendLines(k.o, k.width()) {
		at := x
		for _, i := range line {
			mid := y + legendHigh/2 + 4
			i.draw(k, at, mid)
			k.w.Label(svg.Label{X: at + i.wide, Y: mid - textSize*svg.Height/2, Size: textSize, Text: i.text}, svg.Str("class", "legend"))
			at += i.wide + svg.Width(i.text, textSize, false) + legendGap
		}
		y += legendHigh
	}
	k.w.Close()
}
