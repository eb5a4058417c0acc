package faults

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// limitToSigma turns a limit of error into a standard deviation. A data sheet's
// limit is a bound, so every value within is taken as equally likely: limit/√3.
var limitToSigma = 1 / math.Sqrt(3)

// predictor computes what given probes read for any fault. It keeps the healthy
// nets, from which most faults follow without solving anew.
type predictor struct {
	c      *netlist.Circuit
	probes []Probe
	meter  solve.Meter
	groups []*group
}

// group is the probes of one condition.
type group struct {
	condition solve.Condition
	probes    []int
	net       *solve.Net
	healthy   []*solve.Response
}

func newPredictor(c *netlist.Circuit, probes []Probe, meter solve.Meter) (*predictor, error) {
	p := &predictor{c: c, probes: probes, meter: meter}
	byKey := map[string]*group{}
	for i, probe := range probes {
		key := fmt.Sprint(probe.Condition.Supply, "|", strings.Join(probe.Condition.Unplugged, "|"))
		g := byKey[key]
		if g == nil {
			g = &group{condition: probe.Condition}
			byKey[key] = g
			p.groups = append(p.groups, g)
		}
		g.probes = append(g.probes, i)
	}
	for _, g := range p.groups {
		var err error
		if g.net, g.healthy, err = p.direct(g, nil, nil); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// direct assembles a net of its own and takes a group's readings in it.
func (p *predictor) direct(g *group, z []float64, changes []solve.Change) (*solve.Net, []*solve.Response, error) {
	n, err := solve.Assemble(p.c, g.condition, z, changes...)
	if err != nil {
		return nil, nil, err
	}
	out := make([]*solve.Response, len(g.probes))
	for j, i := range g.probes {
		q := p.probes[i]
		if out[j], err = n.Respond(q.Quantity, q.From, q.To, p.meter); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", q, err)
		}
	}
	return n, out, nil
}

// healthy gives the responses of the harness without a fault.
func (p *predictor) healthy() []*solve.Response {
	out := make([]*solve.Response, len(p.probes))
	for _, g := range p.groups {
		for j, i := range g.probes {
			out[i] = g.healthy[j]
		}
	}
	return out
}

// prepared is a fault at one fraction of its wires, ready for any ohms.
type prepared struct {
	p        *predictor
	fault    *Fault
	fraction float64
	parts    []preparedPart
}

type preparedPart struct {
	group *group
	base  []*solve.Response
	vary  *solve.Variation // nil: no free ohms, or solve anew each time
	anew  bool
}

// prepare makes a fault's readings ready. Faults with nothing but a free
// resistance start from the healthy net.
func (p *predictor) prepare(f *Fault, fraction float64) (*prepared, error) {
	out := &prepared{p: p, fault: f, fraction: fraction}
	for _, g := range p.groups {
		part := preparedPart{group: g, base: g.healthy}
		net := g.net
		var err error
		if len(f.base) > 0 {
			if net, part.base, err = p.direct(g, nil, f.base); err != nil {
				return nil, fmt.Errorf("%s: %w", f.Name, err)
			}
		}
		if f.free != nil {
			part.vary, err = net.Vary(f.free(fraction))
			switch {
			case errors.Is(err, solve.ErrApart):
				part.anew = true
			case err != nil:
				return nil, fmt.Errorf("%s: %w", f.Name, err)
			}
		}
		out.parts = append(out.parts, part)
	}
	return out, nil
}

// at gives the responses with the free resistance set.
func (f *prepared) at(ohms float64) ([]*solve.Response, error) {
	out := make([]*solve.Response, len(f.p.probes))
	for _, part := range f.parts {
		responses := part.base
		if part.anew {
			var err error
			if _, responses, err = f.p.direct(part.group, nil, f.fault.Changes(ohms, f.fraction)); err != nil {
				return nil, fmt.Errorf("%s: %w", f.fault.Name, err)
			}
		}
		for j, i := range part.group.probes {
			out[i] = responses[j]
			if part.vary != nil {
				out[i] = part.vary.Apply(responses[j], ohms)
			}
		}
	}
	return out, nil
}

// values gives just the readings with the free resistance set, into out. It is
// far cheaper than at, but for a bridge between separate parts.
func (f *prepared) values(ohms float64, out []solve.Value) error {
	for _, part := range f.parts {
		responses := part.base
		if part.anew {
			var err error
			if _, responses, err = f.p.direct(part.group, nil, f.fault.Changes(ohms, f.fraction)); err != nil {
				return fmt.Errorf("%s: %w", f.fault.Name, err)
			}
		}
		for j, i := range part.group.probes {
			if part.vary != nil {
				out[i] = part.vary.Value(responses[j], ohms)
			} else {
				out[i] = responses[j].Value()
			}
		}
	}
	return nil
}

// typical gives a fault's responses with its typical resistance, half-way along.
func (p *predictor) typical(f *Fault) ([]*solve.Response, error) {
	ready, err := p.prepare(f, 0.5)
	if err != nil {
		return nil, err
	}
	ohms := 0.0
	if f.Free != nil {
		ohms = f.Free.Typical
	}
	return ready.at(ohms)
}
