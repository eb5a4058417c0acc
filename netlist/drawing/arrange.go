package drawing

import (
	"maps"
	"slices"

	"example.com/ohmloom/netlist"
)

// A4 within margins of 10 mm, in millimetres, and a user unit in millimetres at
// 96 to the inch.
const (
	pageLong  = 277.0
	pageShort = 190.0
	unitMM    = 25.4 / 96
)

// Widths of rows that are tried, and by how much a turn of a trunk is worse than
// none: it is harder to follow. This project's own choice.
const (
	narrowest, broadest, widthStep = 480.0, 4000.0, 1.1
	turnShare                      = 0.04
)

// arrange lays the components out in rows of the width that lets the picture be
// printed largest on A4, upright or across, with few turns of its trunks.
func arrange(g *graph, components []component, links []int, o *Options) *page {
	p := placer{g: g, notes: o.Notes, links: map[int][]int{}, order: map[int]int{}, kids: map[int][]child{}}
	for _, e := range links {
		x := &g.edges[e]
		p.links[x.a] = append(p.links[x.a], e)
		p.links[x.b] = append(p.links[x.b], e)
	}
	strips := map[string][]component{}
	var names []string
	for _, c := range components {
		if !slices.Contains(names, c.network) {
			names = append(names, c.network)
		}
		strips[c.network] = append(strips[c.network], c)
		var mark func(n int)
		mark = func(n int) {
			p.order[n] = slices.Index(names, c.network)
			for _, k := range c.children[n] {
				mark(k.node)
			}
		}
		for _, n := range c.trunk {
			mark(n)
		}
		for n, k := range c.children {
			p.kids[n] = k
		}
	}
	var best *page
	var bestScale float64
	for width := narrowest; width < broadest; width *= widthStep {
		p.width = width
		p.scene = scene{}
		for _, name := range names {
			p.strip(strips[name], heading(g.c.Harness, name))
		}
		s := p.scene
		x := s.route(g)
		w, h := x.size(o)
		scale := printed(w, h) * (1 - turnShare*float64(len(s.wraps)))
		if best == nil || scale > bestScale*1.001 {
			best, bestScale = x, scale
		}
	}
	return best
}

// printed is the scale in which a picture is printed on A4, in millimetres to the
// unit: that of a screen where the page is large enough.
func printed(w, h float64) float64 {
	return min(unitMM, max(min(pageLong/w, pageShort/h), min(pageShort/w, pageLong/h)))
}

// heading of the first row of a network.
func heading(h *netlist.Harness, name string) []words {
	if name == "" {
		return []words{{text: "no wires of a network", size: nameSize, bold: true, class: "heading"}}
	}
	text := "network " + name
	if layer, ok := h.Layer(name); ok {
		text += ", " + layer.Name
		if layer.Standard != "" {
			text += " (" + layer.Standard + ")"
		}
	}
	return []words{{text: text, size: nameSize + 1, bold: true, class: "heading"}}
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
