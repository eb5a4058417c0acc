package faults

import (
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve"
)

// islands are the pieces into which a circuit falls without its rails of known
// volts. A change in one moves nothing in another, which spares solving anew what
// stays as it is: most faults of a harness with several networks touch one.
type islands struct {
	c     *netlist.Circuit
	of    []int // node: its island
	fixed map[int]bool
}

func newIslands(c *netlist.Circuit, supply solve.Supply) *islands {
	sets := disjoint.New(len(c.Nodes))
	x := &islands{c: c, of: make([]int, len(c.Nodes)), fixed: map[int]bool{netlist.GroundNode: true}}
	if supply == solve.Idle {
		x.fixed[netlist.SupplyNode] = true
	}
	for i := range c.Elements {
		if e := &c.Elements[i]; !x.fixed[e.A] && !x.fixed[e.B] {
			sets.Join(e.A, e.B)
		}
	}
	for n := range x.of {
		x.of[n] = sets.Find(n)
	}
	return x
}

// touched gives the islands that changes alter; all is true where that is not
// told by their elements alone.
func (x *islands) touched(changes []solve.Change) (pieces map[int]bool, all bool) {
	pieces = map[int]bool{}
	for _, ch := range changes {
		element := -1
		switch ch := ch.(type) {
		case solve.Part:
			element = ch.Element
		case solve.Insert:
			element = ch.Element
		case solve.Replace:
			element = ch.Element
		default:
			return nil, true
		}
		for _, n := range []int{x.c.Elements[element].A, x.c.Elements[element].B} {
			if !x.fixed[n] {
				pieces[x.of[n]] = true
			}
		}
	}
	return pieces, false
}

// sees tells whether a probe has a lead in one of the pieces.
func (x *islands) sees(p *Probe, pieces map[int]bool) bool {
	for _, n := range []int{p.From, p.To} {
		if !x.fixed[n] && pieces[x.of[n]] {
			return true
		}
	}
	return false
}
