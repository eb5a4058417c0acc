package faults

import (
	"math"

	"example.com/ohmloom/solve"
)

// Instrument is a multimeter's accuracy, as its manual states it: a share of the
// reading plus a number of digits.
type Instrument struct {
	// OhmsPct is the error of a resistance in percent of the reading. It is
	// taken as one gain error that all resistance readings share.
	OhmsPct float64
	// OhmsDigits is the error in units of the last digit.
	OhmsDigits float64
	// LowRangeOhms is the greatest value of the lowest resistance range, and
	// DigitOhms its last digit; each further range is ten times as wide.
	LowRangeOhms, DigitOhms float64
	// VoltsPct and VoltsDigits likewise; DigitVolts is the last digit of the
	// range in which a few volts are read.
	VoltsPct, VoltsDigits, DigitVolts float64
	// LeadMinOhms to LeadMaxOhms is what the leads add to every resistance; 0
	// and 0 for leads that were shorted and zeroed.
	LeadMinOhms, LeadMaxOhms float64
	// Meter is how the instrument acts on the circuit.
	Meter solve.Meter
}

// DefaultInstrument is a common hand-held multimeter. Ohms ±(0.8 % + 5 digits)
// with 0.1 Ω digits up to 400 Ω, leads 0.1 to 0.3 Ω: meter manuals. Volts ±(0.5 %
// + 3 digits) with 0.01 V digits: from memory.
func DefaultInstrument() Instrument {
	return Instrument{
		OhmsPct: 0.8, OhmsDigits: 5, LowRangeOhms: 400, DigitOhms: 0.1,
		VoltsPct: 0.5, VoltsDigits: 3, DigitVolts: 0.01,
		LeadMinOhms: 0.1, LeadMaxOhms: 0.3,
		Meter: solve.DefaultMeter(),
	}
}

// ExactInstrument is a meter that is right to the last digit, with zeroed leads, as in a
// lesson or where readings come from a simulation. It acts on the circuit as
// [solve.DefaultMeter] does.
func ExactInstrument() Instrument { return Instrument{Meter: solve.DefaultMeter()} }

// Zeroed is the instrument with leads that were shorted and zeroed before the readings.
func (in Instrument) Zeroed() Instrument {
	in.LeadMinOhms, in.LeadMaxOhms = 0, 0
	return in
}

// digit gives the limit of the digit error of a reading, in its unit.
func (in *Instrument) digit(q solve.Quantity, value float64) float64 {
	if q == solve.Volts {
		return in.VoltsDigits * in.DigitVolts
	}
	return in.OhmsDigits * in.lastDigit(q, value)
}

// lastDigit gives the step of the display at a reading, in its unit.
func (in *Instrument) lastDigit(q solve.Quantity, value float64) float64 {
	if q == solve.Volts {
		return in.DigitVolts
	}
	d, top := in.DigitOhms, in.LowRangeOhms
	for value > top && top > 0 && d < 1e6 {
		d, top = d*10, top*10
	}
	return d
}

// gain gives the limit of the error that goes with the reading, in its unit.
func (in *Instrument) gain(q solve.Quantity, value float64) float64 {
	if q == solve.Volts {
		return math.Abs(value) * in.VoltsPct / 100
	}
	return math.Abs(value) * in.OhmsPct / 100
}

// Limit gives the greatest error of a reading, in its unit.
func (in *Instrument) Limit(q solve.Quantity, value float64) float64 { return in.limit(q, value) }

// limit gives the greatest error of a reading, in its unit.
func (in *Instrument) limit(q solve.Quantity, value float64) float64 {
	return in.gain(q, value) + in.digit(q, value)
}

// leads gives the middle and half width of what the leads add, in ohms.
func (in *Instrument) leads() (mid, half float64) {
	return (in.LeadMinOhms + in.LeadMaxOhms) / 2, (in.LeadMaxOhms - in.LeadMinOhms) / 2
}

// finest is the least difference in ohms that the meter shows near 0.
func (in *Instrument) finest() float64 { return in.limit(solve.Ohms, 0) / 2 }
