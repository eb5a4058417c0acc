package faults

import (
	"slices"

	"example.com/ohmloom/netlist"
)

// The supply at its upper limit, and all else in the middle: what a reading gains by it is how
// uncertain the supply makes it where a fault leads to the rail.

// supplied is the predictor of a harness whose supply is at its upper limit, and which
// parameter that is; nil where the supply is known without error.
func (p *predictor) supplied() (*predictor, int, error) {
	at := supplyParameter(p.c)
	if at < 0 {
		return nil, at, nil
	}
	p.highOnce.Do(func() {
		z := make([]float64, len(p.c.Parameters))
		copy(z, p.z)
		z[at]++
		p.high, p.highErr = predictorAt(p.c, p.probes, p.meter, z)
	})
	return p.high, at, p.highErr
}

// supplyParameter is the one that moves the volts of the supply rail, or −1.
func supplyParameter(c *netlist.Circuit) int {
	for i := range c.Elements {
		if e := &c.Elements[i]; e.Kind == netlist.LoadElement {
			for _, share := range e.Awake.Volts.Parts {
				return share.Parameter
			}
		}
	}
	return -1
}

// supplied is the field of a harness whose supply is at its upper limit.
func (x *Matcher) supplied() *field {
	if x.high == nil {
		at, c := supplyParameter(x.c), *x.c
		c.Elements = slices.Clone(x.c.Elements)
		for i := range c.Elements {
			if e := &c.Elements[i]; e.Kind == netlist.LoadElement {
				for _, share := range e.Awake.Volts.Parts {
					if share.Parameter == at {
						e.Awake.Volts.Mid += share.Half
					}
				}
			}
		}
		x.high = newField(&c, x.faults, x.in.finest())
	}
	return x.high
}
