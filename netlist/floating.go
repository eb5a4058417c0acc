package netlist

import (
	"fmt"
	"slices"

	"example.com/ohmloom/netlist/disjoint"
)

// findFloating reports conductors that hang in the air: cavities without a
// wire, splices with less than two, and parts of a network's conductor that do
// not reach the rest of it.
func (b *builder) findFloating() {
	for _, s := range b.c.Sites {
		for _, k := range s.Contacts {
			if k.Rail != "" {
				continue
			}
			nodes := []int{k.Node}
			if s.Kind == InlineSite {
				nodes = append(nodes, k.Other)
			}
			for _, n := range nodes {
				at, name := b.wherePut[n], b.c.Nodes[n].Name
				switch {
				case s.Kind == SpliceSite && b.ends[n] < 2:
					b.wrong(at.path, at.element, "the wires or pairs that meet there, or leave the splice out", "joint %s has %s; a splice joins two or more", name, []string{"no wire end", "one wire end"}[b.ends[n]])
				case s.Kind != SpliceSite && b.ends[n] == 0:
					b.wrong(at.path, at.element, "the wire or pair that ends there, or leave the cavity out", "cavity %s carries %s, but no wire ends there", name, b.h.label(k.Conductor))
				}
			}
		}
	}
	if len(b.problems) > 0 {
		return
	}
	b.findParts()
}

// findParts reports where a conductor falls into separate parts: all its nodes
// must hang together by wires, contacts and joints.
func (b *builder) findParts() {
	sets := disjoint.New(len(b.c.Nodes))
	for _, e := range b.c.Elements {
		if e.Conductor != (Conductor{}) && e.Kind != InputElement {
			sets.Join(e.A, e.B)
		}
	}
	for i, n := range b.h.Networks {
		for _, name := range b.networks[n.Name].Conductors {
			k := Conductor{n.Name, name}
			parts := map[int][]int{}
			var order []int
			for j, node := range b.c.Nodes {
				if node.Conductor == k {
					root := sets.Find(j)
					if parts[root] == nil {
						order = append(order, root)
					}
					parts[root] = append(parts[root], j)
				}
			}
			if len(order) == 0 {
				b.wrong(fmt.Sprintf("networks[%d]", i), "network "+n.Name, "connectors and pairs for it, or leave it out", "nothing carries %s", b.h.label(k))
				continue
			}
			main := slices.MaxFunc(order, func(x, y int) int { return len(parts[x]) - len(parts[y]) })
			for _, root := range order {
				if root == main {
					continue
				}
				var names []string
				at := siteReference{path: fmt.Sprintf("networks[%d]", i)}
				for _, j := range parts[root] {
					if w, ok := b.wherePut[j]; ok {
						names = append(names, b.c.Nodes[j].Name)
						if at.element == "" {
							at = w
						}
					}
				}
				b.wrong(at.path, at.element, "the wire or pair that joins it to the rest", "%s at %s is not connected with the rest of %s", b.h.label(k), listNames(names), b.h.label(k))
			}
		}
	}
}
