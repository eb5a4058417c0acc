package drawing

import (
	"fmt"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist"
)

// element is one part of the harness as an element of the picture.
type element struct {
	part, kind string
	network    string
	// title says in words what it is, for screen readers and as a tooltip.
	title string
}

// elements lists all parts in the order in which they are drawn: what is drawn
// later lies on top.
func elements(g *graph) []element {
	h := g.c.Harness
	var out []element
	network := map[string]string{}
	for i := range g.edges {
		if e := &g.edges[i]; e.kind == wireEdge {
			network[e.part] = e.network
		}
	}
	length := func(m float64) string {
		if m == 0 {
			return ""
		}
		return ", " + strconv.FormatFloat(m, 'g', -1, 64) + " m"
	}
	for i := range h.Pairs {
		p := &h.Pairs[i]
		out = append(out, element{p.Name, "pair", network[p.Name], fmt.Sprintf("pair %s, network %s, %s to %s%s", p.Name, network[p.Name], strings.Join(p.From, " and "), strings.Join(p.To, " and "), length(p.LengthM))})
	}
	for i := range h.Wires {
		w := &h.Wires[i]
		out = append(out, element{w.Name, "wire", network[w.Name], fmt.Sprintf("wire %s, network %s, %s to %s%s", w.Name, network[w.Name], w.From, w.To, length(w.LengthM))})
	}
	for i := range h.Strays {
		s := &h.Strays[i]
		out = append(out, element{s.Name, "stray", "", fmt.Sprintf("stray path %s, %s, %s to %s", s.Name, netlist.FormatOhms(s.Ohms), s.From, s.To)})
	}
	for i := range h.Splices {
		out = append(out, element{h.Splices[i].Name, "splice", h.Splices[i].Network, "splice " + h.Splices[i].Name})
	}
	for i := range h.Connectors {
		x := &h.Connectors[i]
		title := "connector " + x.Name
		if x.Inline {
			title = "inline connector " + x.Name
		}
		if s, ok := g.c.Site(x.Name); ok {
			var cavities []string
			for _, k := range s.Contacts {
				carries := k.Rail
				if carries == "" {
					carries = g.c.Label(k.Conductor)
				}
				cavities = append(cavities, k.Cavity+" "+carries)
			}
			title += ", cavities " + strings.Join(cavities, ", ")
			switch {
			case x.Inline:
			case s.Device != "":
				title += "; plugs into " + s.Device
			default:
				title += "; nothing is plugged in"
			}
		}
		if x.Note != "" {
			title += "; " + x.Note
		}
		out = append(out, element{x.Name, "connector", x.Network, title})
	}
	for i := range h.Modules {
		m := &h.Modules[i]
		kind, transceiver := "module "+m.Name, m.Transceiver
		switch transceiver {
		case netlist.NoTransceiver:
			kind, transceiver = "junction box "+m.Name, ""
		case "":
		default:
			transceiver = ", transceiver " + transceiver
		}
		out = append(out, element{m.Name, "module", "", kind + transceiver + ", at " + strings.Join(m.Connectors, ", ")})
	}
	for i := range h.Terminators {
		t := &h.Terminators[i]
		halves := ""
		if t.Split {
			halves = " in two halves"
		}
		out = append(out, element{t.Name, "terminator", t.Network, fmt.Sprintf("terminator %s, %s%s, at %s", t.Name, netlist.FormatOhms(t.Ohms), halves, t.At)})
	}
	return out
}

// summary describes the whole picture in words.
func summary(components []component, g *graph) string {
	h := g.c.Harness
	count := func(n int, one, many string) string {
		if n == 1 {
			return "1 " + one
		}
		return strconv.Itoa(n) + " " + many
	}
	text := fmt.Sprintf("Wiring of %s: %s, %s, %s, %s, %s, %s.", h.Name,
		count(len(h.Networks), "network", "networks"), count(len(h.Connectors), "connector", "connectors"),
		count(len(h.Splices), "splice", "splices"), count(len(h.Modules), "module", "modules"),
		count(len(h.Terminators), "terminator", "terminators"), count(len(h.Pairs)+len(h.Wires), "pair or wire", "pairs and wires"))
	told := map[string]bool{}
	for i := range components {
		c := &components[i]
		if c.network == "" || told[c.network] {
			continue
		}
		told[c.network] = true
		var names []string
		for _, n := range c.trunk {
			names = append(names, g.nodes[n].name())
		}
		text += fmt.Sprintf(" Trunk of network %s: %s.", c.network, strings.Join(names, ", "))
	}
	return text
}
