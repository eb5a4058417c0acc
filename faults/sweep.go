package faults

import (
	"fmt"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Sweep gives what a probe reads for a fault at each of its free ohms, at a
// fraction (0 to 1) of the length of the wires that it sits on; every tolerance in
// the middle, the leads zeroed. For a fault without free ohms the values are all
// the same.
func Sweep(c *netlist.Circuit, f *Fault, probe Probe, meter solve.Meter, fraction float64, ohms []float64) ([]solve.Value, error) {
	p, err := newPredictor(c, []Probe{probe}, meter)
	if err != nil {
		return nil, err
	}
	return p.sweep(f, fraction, ohms)
}

func (p *predictor) sweep(f *Fault, fraction float64, ohms []float64) ([]solve.Value, error) {
	if !(fraction >= 0 && fraction <= 1) {
		return nil, fmt.Errorf("%s: the place %v is not between 0 and 1 of the wire", f.Name, fraction)
	}
	ready, err := p.prepare(f, fraction)
	if err != nil {
		return nil, err
	}
	out := make([]solve.Value, len(ohms))
	for i, r := range ohms {
		if !(r >= 0) {
			return nil, fmt.Errorf("%s: %v ohms", f.Name, r)
		}
		if err := ready.values(r, out[i:i+1]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Along gives what a probe reads for a fault at each of some fractions of the
// length of its wires, with the free ohms set.
func Along(c *netlist.Circuit, f *Fault, probe Probe, meter solve.Meter, ohms float64, fractions []float64) ([]solve.Value, error) {
	p, err := newPredictor(c, []Probe{probe}, meter)
	if err != nil {
		return nil, err
	}
	out := make([]solve.Value, len(fractions))
	for i, x := range fractions {
		v, err := p.sweep(f, x, []float64{ohms})
		if err != nil {
			return nil, err
		}
		out[i] = v[0]
	}
	return out, nil
}
