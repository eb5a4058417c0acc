package faults

import (
	"errors"

	"example.com/ohmloom/solve"
)

// responder gives readings for any explanation at any free values, sensitivities
// and all: from ports where that can be, else from nets of its own.
type responder struct {
	f      *field
	probes []Probe
	meter  solve.Meter
	views  []*portView
	net    *predictor // made when first needed
}

// portView is the readings of one condition for a responder.
type portView struct {
	p      *solve.Ports
	base   []solve.Strand
	probes []int
	leads  []solve.Port
	view   *view // for meter and ports in a portReading
	able   bool
}

func newResponder(f *field, probes []Probe, meter solve.Meter) (*responder, error) {
	r := &responder{f: f, probes: probes, meter: meter}
	for _, g := range groupProbes(probes) {
		v, err := f.view(g, probes, meter, []int{})
		if errors.Is(err, errNotFromPorts) {
			r.views = append(r.views, &portView{probes: g.probes})
			continue
		}
		if err != nil {
			return nil, err
		}
		r.views = append(r.views, &portView{p: v.ports, base: v.base, probes: v.probes, leads: v.leads, view: v, able: true})
	}
	return r, nil
}

// at gives the readings with faults at given ohms, the first at a fraction of its
// wires.
func (r *responder) at(members []*Fault, ohms []float64, fraction float64) ([]predicted, error) {
	out := make([]predicted, len(r.probes))
	for _, v := range r.views {
		strands, ok, err := r.strands(v, members, ohms, fraction)
		if err != nil {
			return nil, err
		}
		if !ok {
			return r.fromNets(members, ohms, fraction)
		}
		for q, i := range v.probes {
			out[i] = r.read(v, q, i, strands)
		}
	}
	return out, nil
}

func (r *responder) read(v *portView, q, i int, strands []solve.Strand) *portReading {
	k, kVolts, across, volts := v.p.Solve(&v.leads[q], strands)
	x := &portReading{v: v.view, probe: &r.probes[i], strands: strands, k: k, kVolts: kVolts, value: r.meter.Shown(r.probes[i].Quantity, across, volts)}
	x.potentials, x.drive = v.p.Potentials(&v.leads[q], strands, k, kVolts)
	return x
}

// strands lays faults over a condition; false where that cannot be.
func (r *responder) strands(v *portView, members []*Fault, ohms []float64, fraction float64) ([]solve.Strand, bool, error) {
	if !v.able {
		return nil, false, nil
	}
	var out []solve.Strand
	for k, f := range members {
		at := 0.5
		if k == 0 {
			at = fraction
		}
		plan, err := layFault(v.p, f, at)
		if err != nil || !plan.able {
			return nil, false, err
		}
		strands, free, err := v.view.here(&plan)
		if err != nil {
			return nil, false, err
		}
		for i, s := range strands {
			if i == free {
				s = s.WithOhms(ohms[k])
			}
			if err := v.p.Prepare(s.Port); err != nil {
				return nil, false, err
			}
			out = append(out, s)
		}
	}
	return solve.Together(v.base, out), true, nil
}

// fromNets is the same with nets of its own.
func (r *responder) fromNets(members []*Fault, ohms []float64, fraction float64) ([]predicted, error) {
	if r.net == nil {
		var err error
		if r.net, err = newPredictor(r.f.c, r.probes, r.meter); err != nil {
			return nil, err
		}
	}
	if len(members) == 0 {
		return r.net.healthy()
	}
	ready, err := r.net.prepare(combineAt(members, ohms), fraction)
	if err != nil {
		return nil, err
	}
	return ready.at(ohms[0])
}
