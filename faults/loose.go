package faults

import (
	"math"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// loose bounds how uncertain a prediction can be, without working out its
// sensitivities.
type loose struct {
	rel     float64 // greatest relative tolerance of a terminator or stray
	absOhms float64 // all wires' and contacts' tolerances together
	load    float64 // that of what else hangs on the supply rail
	siemens float64 // all inputs together, at their greatest
	inputs  float64 // greatest relative tolerance of an input
	volts   float64 // of a resting voltage between networks and ground
	supply  float64 // relative tolerance of the supply
}

// restingVolts is a bound on how far tolerances move a resting voltage apart from
// the supply's own, as a standard deviation. Inputs of which each may be open share
// it with a leak: at most a quarter of the bias and some. From memory.
const restingVolts = 0.5

func newLoose(c *netlist.Circuit) loose {
	l := loose{volts: restingVolts}
	limit := func(s netlist.Spread) float64 {
		half := 0.0
		for _, p := range s.Parts {
			half += math.Abs(p.Half)
		}
		return half
	}
	for _, x := range c.Elements {
		half := limit(x.Off.Value)
		switch x.Kind {
		case netlist.WireElement, netlist.ContactElement:
			l.absOhms += half
		case netlist.LoadElement:
			l.load += half
			l.supply = max(l.supply, limit(x.Awake.Volts)/math.Abs(x.Awake.Volts.Mid))
		case netlist.TerminatorElement, netlist.StrayElement:
			l.rel = max(l.rel, half/math.Abs(x.Off.Value.Mid))
		case netlist.InputElement:
			l.siemens += x.Off.Value.Mid + half
			l.inputs = max(l.inputs, half/x.Off.Value.Mid)
		}
	}
	return l
}

// variance bounds the variance of a prediction on the scale. rail says that a fault
// leads to the supply rail, so that what hangs there may be in any reading.
func (l *loose) variance(e *evidence, i int, y float64, rail bool) float64 {
	return e.wide[i] + l.tolerance(&e.readings[i].Probe, y, rail)
}

// tolerance is the harness's share of it.
func (l *loose) tolerance(p *Probe, y float64, rail bool) float64 {
	if p.Quantity == solve.Volts {
		s := l.volts + l.supply*math.Abs(y)*limitToSigma
		return s * s
	}
	// What a reading moves on the scale by what it moves in proportion, by what inputs at
	// their limits make of that, and by each ohm.
	moves, inputs, ohm := y, 2*scaleOhms*l.siemens*y*y, 1/(2.0*scaleOhms)
	if y >= 0.5 {
		z := max(1-y, 1e-4)
		moves, inputs, ohm = z, scaleOhms*l.siemens/2, z*z*(2.0/scaleOhms)
	}
	s := moves*l.rel + min(moves, inputs)*l.inputs + ohm*l.absOhms
	if rail || p.From == netlist.SupplyNode || p.To == netlist.SupplyNode {
		s += min(ohm*l.load, moves)
	}
	return s * s * (limitToSigma * limitToSigma)
}
