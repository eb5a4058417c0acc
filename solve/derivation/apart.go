package derivation

import (
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve"
)

// Apart says why two points have nothing between them.
type Apart struct {
	// AtFrom and AtTo are the places and modules that hang together with either
	// point, in the order of the harness.
	AtFrom, AtTo []string
	// Cuts are the elements that are open and would each alone join the two again.
	Cuts []string
	// OpenCuts are, where no single one would, all open elements that have one end
	// on what hangs on either point.
	OpenCuts []string
	// Always says that healthy wiring with everything plugged in has no way between
	// the points either.
	Always bool
}

func explainApart(p *paper, q Question) (*Apart, error) {
	c := p.net.Circuit()
	sets := disjoint.New(len(p.names))
	for i := range p.d.Resistances {
		sets.Join(p.d.Resistances[i].a, p.d.Resistances[i].b)
	}
	out := &Apart{}
	from, to := sets.Find(p.from), sets.Find(p.to)
	out.AtFrom, out.AtTo = p.hanging(sets, from), p.hanging(sets, to)
	for _, e := range c.Elements {
		a, b := p.net.Class(e.A), p.net.Class(e.B)
		fa, fb := sets.Find(a), sets.Find(b)
		if fa == fb || e.Kind == netlist.LoadElement {
			continue
		}
		switch {
		case fa == from && fb == to || fa == to && fb == from:
			out.Cuts = append(out.Cuts, e.Name)
		case fa == from || fb == from || fa == to || fb == to:
			out.OpenCuts = append(out.OpenCuts, e.Name)
		}
	}
	if len(out.Cuts) > 0 {
		out.OpenCuts = nil
	}
	healthy, err := solve.Assemble(c, solve.Condition{Supply: q.Condition.Supply}, nil)
	if err != nil {
		return nil, err
	}
	out.Always = healthy.Apart(q.From, q.To)
	return out, nil
}

// hanging lists the connectors, splices and modules of one set of points.
func (p *paper) hanging(sets *disjoint.Sets, set int) []string {
	c := p.net.Circuit()
	var out []string
	add := func(name string, nodes ...int) {
		for _, n := range nodes {
			if n >= 0 && sets.Find(p.net.Class(n)) == set && !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	for _, s := range c.Sites {
		for _, k := range s.Contacts {
			if s.Kind == netlist.InlineSite {
				add(s.Name+"/a", k.Node)
				add(s.Name+"/b", k.Other)
				continue
			}
			add(s.Name, k.Node)
		}
	}
	for _, u := range c.Units {
		for _, i := range u.Inputs {
			add(u.Name, c.Elements[i].A)
		}
	}
	return out
}
