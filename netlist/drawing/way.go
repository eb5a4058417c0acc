package drawing

import (
	"fmt"

	"example.com/ohmloom/netlist"
)

// Step is a wire on the way of a trunk, or a place between two.
type Step struct {
	// Part is the pair or wire, or the connector, splice, module or terminator.
	Part string
	// Wire is true for a pair or wire. Metres is then its length, 0 where not
	// known, and Backwards says that the harness has it from the far end.
	Wire, Backwards bool
	Metres          float64
}

// Trunk gives the way of a network's trunk: by wire between the two terminators
// that lie farthest apart, and on beyond modules that pass the network on. Places
// and wires take turns; of wires in parallel it has the first.
func Trunk(c *netlist.Circuit, network string) ([]Step, error) {
	if _, ok := c.Harness.Layer(network); !ok {
		return nil, fmt.Errorf("drawing: there is no network %q", network)
	}
	g := newGraph(c)
	p := &parting{g: g, placed: make([]bool, len(g.nodes)), drawn: make([]bool, len(g.edges))}
	path := p.trunk(p.of(network), network)
	var out []Step
	for i, n := range path {
		if i > 0 {
			for _, e := range p.take(path[i-1], n, 1) {
				if x := &g.edges[e]; x.kind == wireEdge {
					out = append(out, Step{Part: x.part, Wire: true, Metres: x.metres, Backwards: x.a != path[i-1]})
				}
			}
		}
		out = append(out, Step{Part: g.nodes[n].part})
	}
	return out, nil
}
