package netfile

import (
	"fmt"
	"strings"

	"example.com/ohmloom/netlist"
)

// part is one element of a harness: where it stands in the file, what it is
// called, and what else it refers to.
type part struct {
	path   string // such as wires[3]
	name   string
	target target
	refs   []reference
}

// target tells who may refer to an element.
type target int

const (
	byNothing target = iota
	byRates          // entries of rates
	byParts          // other parts of the harness, and entries of rates
)

// reference is what one key of an element refers to.
type reference struct {
	key     string
	text    []string // names, places such as X5/b, points such as X3.9
	derived bool     // whether text is not the list in the file, entry by entry
	rate    bool     // whether it is that of an entry of rates
}

// isBuiltIn reports whether elements may refer to name without a part of the
// harness being called so.
func isBuiltIn(name string) bool {
	switch name {
	case netlist.GroundRail, netlist.SupplyRail, netlist.NoTransceiver:
		return true
	}
	// No name at all stands for the default kind.
	_, ok := new(netlist.Harness).TransceiverByName(name)
	return ok
}

// partsOf returns all elements of a harness, each behind those that it may
// refer to.
func partsOf(h *netlist.Harness) []part {
	var parts []part
	target := byParts
	add := func(list string, i int, name string, refs ...reference) {
		parts = append(parts, part{fmt.Sprintf("%s[%d]", list, i), name, target, refs})
	}
	var networks []string
	for i, x := range h.Networks {
		add("networks", i, x.Name)
		networks = append(networks, x.Name)
	}
	for i, x := range h.Transceivers {
		add("transceivers", i, x.Name)
	}
	// behind returns what conductor names of a part on network refer to: the
	// network in drive.H, and for H alone that of the part or, where it has
	// none, any. A part without conductor names has all of its network.
	behind := func(network string, conductors []string) []string {
		var names []string
		plain := len(conductors) == 0
		for _, name := range conductors {
			if strings.Contains(name, ".") {
				names = append(names, name)
			} else {
				plain = plain || !isBuiltIn(name)
			}
		}
		switch {
		case !plain:
			return names
		case network == "":
			return append(names, networks...)
		}
		return append(names, network)
	}
	for i, x := range h.Connectors {
		var carried []string
		for _, cavity := range x.Cavities {
			carried = append(carried, cavity.Carries)
		}
		add("connectors", i, x.Name, reference{key: "network", text: []string{x.Network}}, reference{key: "cavities", text: behind(x.Network, carried), derived: true})
	}
	for i, x := range h.Splices {
		add("splices", i, x.Name, reference{key: "network", text: []string{x.Network}}, reference{key: "joins", text: behind(x.Network, x.Joins), derived: true})
	}
	for i, x := range h.Modules {
		add("modules", i, x.Name,
			reference{key: "connectors", text: x.Connectors}, reference{key: "networks", text: x.Networks}, reference{key: "transceiver", text: []string{x.Transceiver}})
	}
	target = byRates
	for i, x := range h.Terminators {
		add("terminators", i, x.Name, reference{key: "at", text: []string{x.At}}, reference{key: "network", text: []string{x.Network}})
	}
	for i, x := range h.Pairs {
		add("pairs", i, x.Name, reference{key: "network", text: []string{x.Network}}, reference{key: "from", text: x.From}, reference{key: "to", text: x.To})
	}
	for i, x := range h.Wires {
		add("wires", i, x.Name, reference{key: "from", text: []string{x.From}}, reference{key: "to", text: []string{x.To}})
	}
	target = byNothing
	for i, x := range h.Strays {
		add("strays", i, x.Name, reference{key: "from", text: []string{x.From}}, reference{key: "to", text: []string{x.To}})
	}
	return parts
}
