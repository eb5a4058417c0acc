package faults

import (
	"errors"
	"sync"

	"example.com/ohmloom/solve"
)

// responder gives readings for any explanation at any free values, sensitivities and
// all, many at the same time: from ports where that can be, else from nets of its own.
type responder struct {
	f      *field
	probes []Probe
	meter  solve.Meter
	views  []*view
	apart  bool // some condition cannot be seen from ports
	once   sync.Once
	net    *predictor // made when first needed
	err    error
}

func newResponder(f *field, probes []Probe, meter solve.Meter) (*responder, error) {
	r := &responder{f: f, probes: probes, meter: meter}
	for _, g := range groupProbes(probes) {
		v, err := f.view(g, probes, meter, []int{})
		if errors.Is(err, errNotFromPorts) {
			r.apart = true
			return r, nil
		}
		if err != nil {
			return nil, err
		}
		r.views = append(r.views, v)
	}
	return r, nil
}

// at gives the readings with faults at given ohms, the first at a fraction of its
// wires.
func (r *responder) at(members []*Fault, ohms []float64, fraction float64) ([]predicted, error) {
	if r.apart {
		return r.fromNets(members, ohms, fraction)
	}
	out := make([]predicted, len(r.probes))
	for _, v := range r.views {
		strands, ok, err := r.strands(v, members, ohms, fraction)
		if err != nil {
			return nil, err
		}
		if !ok {
			return r.fromNets(members, ohms, fraction)
		}
		v.read(r.probes, strands, out)
	}
	return out, nil
}

// strands lays faults over a condition; false where that cannot be.
func (r *responder) strands(v *view, members []*Fault, ohms []float64, fraction float64) ([]solve.Strand, bool, error) {
	var out []solve.Strand
	for k, f := range members {
		plan, err := layFault(v.ports, f, placeOf(k, fraction))
		if err != nil || !plan.able {
			return nil, false, err
		}
		strands, free, err := v.here(&plan)
		if err != nil {
			return nil, false, err
		}
		for i, s := range strands {
			if i == free {
				s = s.WithOhms(ohms[k])
			}
			if err := v.ports.Prepare(s.Port); err != nil {
				return nil, false, err
			}
			out = append(out, s)
		}
	}
	return solve.Together(v.base, out), true, nil
}

// placeOf is where along its wires a member of several faults is: only the first has a
// place of its own.
func placeOf(member int, fraction float64) float64 {
	if member == 0 {
		return fraction
	}
	return 0.5
}

// fromNets is the same with nets of its own.
func (r *responder) fromNets(members []*Fault, ohms []float64, fraction float64) ([]predicted, error) {
	r.once.Do(func() { r.net, r.err = newPredictor(r.f.c, r.probes, r.meter) })
	if r.err != nil {
		return nil, r.err
	}
	return fromNets(r.net, members, ohms, fraction)
}

// fromNets gives all of a predictor's readings with faults at given ohms.
func fromNets(p *predictor, members []*Fault, ohms []float64, fraction float64) ([]predicted, error) {
	if len(members) == 0 {
		return p.healthy()
	}
	ready, err := p.prepare(combineAt(members, ohms), fraction)
	if err != nil {
		return nil, err
	}
	return ready.at(ohms[0])
}
