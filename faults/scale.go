package faults

import (
	"math"

	"example.com/ohmloom/solve"
)

// Readings are compared on a scale of their own. Volts are volts. Resistances
// span nine decades and end in OL, and their errors are ohms at the low end (a
// meter's digits, leads) but siemens at the high end (inputs in parallel, each
// anywhere between 20 kΩ and open). The scale y = R / (R + scaleOhms), what a
// voltage divider makes of a resistance, is straight in ohms far below scaleOhms
// and straight in siemens far above it, and OL is its end, y = 1. Errors that
// are even on either side stay so, which a logarithm would not do for an input
// that may be open.
const scaleOhms = 1000

// strayLimit is the limit in siemens of a path that is not in the harness but in
// the reading: fingers on the probes, damp insulation. From memory.
const strayLimit = 0.5e-6

// onScale puts a value on the scale.
func onScale(q solve.Quantity, v solve.Value) float64 {
	switch {
	case q == solve.Volts:
		return v.Number
	case v.OL:
		return 1
	}
	r := math.Max(v.Number, 0)
	return r / (r + scaleOhms)
}

// slope is the derivative of the scale by the value.
func slope(q solve.Quantity, v solve.Value) float64 {
	switch {
	case q == solve.Volts:
		return 1
	case v.OL:
		return 0
	}
	r := math.Max(v.Number, 0)
	return scaleOhms / ((r + scaleOhms) * (r + scaleOhms))
}

// offScale turns a place on the scale back into a value.
func offScale(q solve.Quantity, y, rangeOhms float64) solve.Value {
	if q == solve.Volts {
		return solve.Value{Number: y}
	}
	if y <= 0 {
		return solve.Value{}
	}
	if y >= 1 {
		return solve.Over()
	}
	r := scaleOhms * y / (1 - y)
	if rangeOhms > 0 && r > rangeOhms {
		return solve.Over()
	}
	return solve.Value{Number: r}
}

// strayOnScale is the limit of the stray path on the scale.
func strayOnScale(q solve.Quantity, y float64) float64 {
	if q == solve.Volts {
		return 0
	}
	return strayLimit * scaleOhms * y * y
}
