package drawing

import (
	"fmt"
	"strings"
	"unicode"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
)

// drawHarness makes up a sound harness: one to three networks of different layers
// that share connectors; splices, inline connectors, modules with several
// connectors, loops, wires in parallel, terminators of all sorts, stray paths.
func drawHarness(t *rapid.T) *netlist.Harness {
	b := &harnessMaker{t: t, h: &netlist.Harness{Name: "made up <&> \"harness\" " + rapid.StringN(0, 8, 20).Draw(t, "more of the name"), Note: "invented"}}
	b.h.Name = clean(b.h.Name)
	layers := []string{"high-speed", "one-wire", "fault-tolerant"}
	for i := range rapid.IntRange(1, 3).Draw(t, "networks") {
		name := fmt.Sprintf("net%d", i)
		layer := rapid.SampledFrom(layers).Draw(t, "layer")
		b.h.Networks = append(b.h.Networks, netlist.Network{Name: name, Layer: layer})
		b.conductors = []string{"H", "L"}
		if layer == "one-wire" {
			b.conductors = []string{"D"}
		}
		b.network(name)
	}
	for i := range b.h.Connectors {
		if rapid.IntRange(0, 9).Draw(t, "rails") == 0 {
			x := &b.h.Connectors[i]
			x.Cavities = append(x.Cavities, netlist.Cavity{Name: "g", Carries: "ground"}, netlist.Cavity{Name: "s", Carries: "supply"})
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "rails only") == 0 {
		for i := range 2 {
			b.h.Connectors = append(b.h.Connectors, netlist.Connector{Name: fmt.Sprintf("G%d", i), Cavities: []netlist.Cavity{{Name: "1", Carries: "ground"}}})
		}
	}
	return b.h
}

// clean drops what a text in a harness file may not hold.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, s)
}

type harnessMaker struct {
	t          *rapid.T
	h          *netlist.Harness
	conductors []string
	count      map[string]int
}

func (b *harnessMaker) name(prefix string) string {
	if b.count == nil {
		b.count = map[string]int{}
	}
	b.count[prefix]++
	long := ""
	if rapid.IntRange(0, 30).Draw(b.t, "long name") == 0 {
		long = "-with-a-name-that-goes-on-beyond-what-fits-into-a-box"
	}
	return fmt.Sprintf("%s%d%s", prefix, b.count[prefix], long)
}

func (b *harnessMaker) connector(network string, inline bool) string {
	n := b.name("X")
	x := netlist.Connector{Name: n, Inline: inline}
	for _, k := range b.conductors {
		x.Cavities = append(x.Cavities, netlist.Cavity{Name: network + k, Carries: network + "." + k})
	}
	b.h.Connectors = append(b.h.Connectors, x)
	return n
}

func (b *harnessMaker) wire(network, from, to string) {
	metres := float64(rapid.IntRange(1, 90).Draw(b.t, "decimetres")) / 10
	if rapid.IntRange(0, 5).Draw(b.t, "single wires") > 0 {
		b.h.Pairs = append(b.h.Pairs, netlist.Pair{Name: b.name("P"), Network: network, From: []string{from}, To: []string{to}, LengthM: metres, SectionMM2: 0.35})
		return
	}
	point := func(place, k string) string {
		if place[0] == 'S' {
			return place + "." + k
		}
		return place + "." + network + k
	}
	for _, k := range b.conductors {
		b.h.Wires = append(b.h.Wires, netlist.Wire{Name: b.name("W"), From: point(from, k), To: point(to, k), Ohms: 0.1})
	}
}

// network adds a network, which begins at a connector of another one or at a new
// one.
func (b *harnessMaker) network(network string) {
	t := b.t
	var open, all []string // open: places that need a wire yet
	share := func() string {
		i := rapid.IntRange(0, len(b.h.Connectors)-1).Draw(t, "shared connector")
		x := &b.h.Connectors[i]
		for _, c := range x.Cavities {
			if x.Inline || c.Name == network+b.conductors[0] {
				return ""
			}
		}
		for _, k := range b.conductors {
			x.Cavities = append(x.Cavities, netlist.Cavity{Name: network + k, Carries: network + "." + k})
		}
		return x.Name
	}
	begin := ""
	if len(b.h.Connectors) > 0 {
		begin = share()
	}
	if begin == "" {
		begin = b.connector(network, false)
	}
	all, open = append(all, begin), append(open, begin)
	at := func() string {
		if len(open) > 0 && rapid.IntRange(0, 2).Draw(t, "where it is needed") > 0 {
			p := open[len(open)-1]
			open = open[:len(open)-1]
			return p
		}
		return rapid.SampledFrom(all).Draw(t, "place")
	}
	module := func(names ...string) string {
		m := b.name("m")
		b.h.Modules = append(b.h.Modules, netlist.Module{Name: m, Connectors: names, Transceiver: netlist.NoTransceiver})
		return m
	}
	for range rapid.IntRange(1, 25).Draw(t, "steps") {
		switch rapid.SampledFrom([]string{"splice", "splice", "star", "module", "module", "box", "inline", "free", "loop", "double", "terminator", "stray", "share"}).Draw(t, "step") {
		case "splice":
			s := b.name("S")
			b.h.Splices = append(b.h.Splices, netlist.Splice{Name: s, Network: network})
			b.wire(network, at(), s)
			all, open = append(all, s), append(open, s)
		case "star":
			s := b.name("S")
			b.h.Splices = append(b.h.Splices, netlist.Splice{Name: s, Network: network})
			b.wire(network, at(), s)
			for range rapid.IntRange(1, 12).Draw(t, "arms") {
				x := b.connector(network, false)
				b.wire(network, s, x)
				all = append(all, x)
			}
			all = append(all, s)
		case "module":
			x := b.connector(network, false)
			b.wire(network, at(), x)
			m := module(x)
			if len(b.conductors) == 2 && rapid.Bool().Draw(t, "terminated") {
				b.h.Terminators = append(b.h.Terminators, netlist.Terminator{Name: b.name("T"), At: m, Network: network, Ohms: 120, Split: rapid.Bool().Draw(t, "split")})
			}
			all = append(all, x)
		case "box":
			x := b.connector(network, false)
			b.wire(network, at(), x)
			names := []string{x}
			for range rapid.IntRange(1, 4).Draw(t, "further connectors") {
				y := b.connector(network, false)
				names = append(names, y)
				open = append(open, y)
			}
			all = append(all, names...)
			module(names...)
		case "inline":
			x := b.connector(network, true)
			b.wire(network, at(), x+"/a")
			all, open = append(all, x+"/a", x+"/b"), append(open, x+"/b")
		case "free":
			x := b.connector(network, false)
			b.wire(network, at(), x)
			if len(b.conductors) == 2 && rapid.Bool().Draw(t, "plug-in terminator") {
				b.h.Terminators = append(b.h.Terminators, netlist.Terminator{Name: b.name("T"), At: x, Network: network, Ohms: 120})
			}
			all = append(all, x)
		case "loop", "double":
			from, to := at(), rapid.SampledFrom(all).Draw(t, "other end")
			if from != to {
				b.wire(network, from, to)
			} else {
				open = append(open, from)
			}
		case "terminator":
			for _, s := range b.h.Splices {
				if s.Network == network && len(b.conductors) == 2 && rapid.IntRange(0, 3).Draw(t, "here") == 0 {
					b.h.Terminators = append(b.h.Terminators, netlist.Terminator{Name: b.name("T"), At: s.Name, Network: network, Ohms: 60})
					break
				}
			}
		case "stray":
			point := func() string {
				p := rapid.SampledFrom(all).Draw(t, "stray end")
				k := rapid.SampledFrom(b.conductors).Draw(t, "stray conductor")
				if p[0] == 'S' {
					return p + "." + k
				}
				return p + "." + network + k
			}
			from, to := point(), rapid.SampledFrom([]string{"ground", "supply", point()}).Draw(t, "stray to")
			if from != to {
				b.h.Strays = append(b.h.Strays, netlist.Stray{Name: b.name("R"), From: from, To: to, Ohms: 1e4})
			}
		case "share":
			if x := share(); x != "" {
				b.wire(network, at(), x)
				all = append(all, x)
			}
		}
	}
	for _, p := range open {
		x := b.connector(network, false)
		b.wire(network, p, x)
	}
}
