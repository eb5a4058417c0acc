package faults

import "example.com/ohmloom/solve"

// Readings are compared on a scale of their own. Volts are volts. Resistances
// span nine decades and end in OL, and their errors are ohms at the low end (a
// meter's digits, leads) but siemens at the high end (inputs in parallel, each
// anywhere between 20 kΩ and open). The scale is straight in ohms up to scaleOhms,
// y = R / (2 scaleOhms), and straight in siemens from there on, y = 1 − scaleOhms / (2 R),
// and OL is its end, y = 1. Errors that are even on either side stay so, which a logarithm
// would not do for an input that may be open, and to first order, which is how tolerances are
// taken, is exact for what is in series below and for what is in parallel above. (What a
// voltage divider makes of a resistance, R / (R + scaleOhms), is straight far from scaleOhms
// only: with the inputs of eight modules at 3 kΩ the first order was off by several times a
// meter's own error there.)
const scaleOhms = 1000

// ohmsOnScale puts ohms on the scale.
func ohmsOnScale(r float64) float64 {
	switch {
	case r <= 0:
		return 0
	case r < scaleOhms:
		return r / (2 * scaleOhms)
	}
	return 1 - scaleOhms/(2*r)
}

// ohmsOffScale turns a place on the scale, 0 to below 1, back into ohms.
func ohmsOffScale(y float64) float64 {
	if y < 0.5 {
		return 2 * scaleOhms * y
	}
	return scaleOhms / (2 * (1 - y))
}

// ohmsSlope is the derivative of the scale by ohms.
func ohmsSlope(r float64) float64 {
	if r < scaleOhms {
		return 1 / (2.0 * scaleOhms)
	}
	return scaleOhms / (2 * r * r)
}

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
	return ohmsOnScale(v.Number)
}

// slope is the derivative of the scale by the value.
func slope(q solve.Quantity, v solve.Value) float64 {
	switch {
	case q == solve.Volts:
		return 1
	case v.OL:
		return 0
	}
	return ohmsSlope(v.Number)
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
	r := ohmsOffScale(y)
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
	if y < 0.5 {
		return strayLimit * 2 * scaleOhms * y * y
	}
	return strayLimit * scaleOhms / 2
}
