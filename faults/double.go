package faults

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// doubleRate is how common two faults at once are beside each of them alone, and one more
// beside those. From memory; no source.
const doubleRate = 0.02

// Combine makes one fault of several that are there at once. The first keeps its free
// resistance and place; the others have their typical resistance, half-way along.
func Combine(first *Fault, others ...*Fault) *Fault {
	members, ohms, rate := []*Fault{first}, []float64{0}, first.Rate
	for _, f := range others {
		typical := 0.0
		if f.Free != nil {
			typical = f.Free.Typical
		}
		members, ohms = append(members, f), append(ohms, typical)
		rate = doubleRate * min(rate, f.Rate)
	}
	out := combineAt(members, ohms)
	if len(others) > 0 {
		out.Rate = rate
	}
	return out
}

// combineAt makes one fault of several that are there at once. The first keeps its
// free resistance; the others have the ohms given, by member.
func combineAt(members []*Fault, ohms []float64) *Fault {
	if len(members) == 1 {
		return members[0]
	}
	out := *members[0]
	out.base = append([]solve.Change(nil), out.base...)
	for k, f := range members[1:] {
		out.Name += " and " + f.Name
		if !slices.Contains(strings.Split(out.Part, " and "), f.Part) {
			out.Part += " and " + f.Part
		}
		out.base = append(out.base, f.Changes(ohms[k+1], 0.5)...)
	}
	return &out
}

// BothSides lists double faults around splices: one conductor open in each of two
// wires or pairs that meet there, so that what is between or behind them is cut off
// from two sides. In the order of the harness.
func BothSides(c *netlist.Circuit) []*Fault {
	open := map[int]*Fault{} // by element
	for _, f := range Catalogue(c) {
		if f.Kind != Open || len(f.base) != 1 {
			continue
		}
		if p, ok := f.base[0].(solve.Part); ok {
			open[p.Element] = f
		}
	}
	var out []*Fault
	for _, s := range c.Sites {
		if s.Kind != netlist.SpliceSite {
			continue
		}
		here := map[int]bool{}
		for _, k := range s.Contacts {
			here[k.Node] = true
		}
		var meet []int
		for i, e := range c.Elements {
			if e.Kind == netlist.WireElement && (here[e.A] || here[e.B]) {
				meet = append(meet, i)
			}
		}
		for i, a := range meet {
			for _, b := range meet[i+1:] {
				if c.Elements[a].Part == c.Elements[b].Part || open[a] == nil || open[b] == nil {
					continue // both conductors of one pair: a fault of its own kind
				}
				f := Combine(open[a], open[b])
				f.Name = fmt.Sprintf("%s (both at splice %s)", f.Name, s.Name)
				out = append(out, f)
			}
		}
	}
	return out
}
