// Package hand has the few formulas that a person works with a pencil. The lessons
// put their results beside the solver's, which shares no code with them.
package hand

// Series is what resistances in ohms come to one behind the other.
func Series(ohms ...float64) float64 {
	sum := 0.0
	for _, r := range ohms {
		sum += r
	}
	return sum
}

// Parallel is what resistances in ohms come to side by side: the currents that
// 1 V drives through them add up. None at all is an open circuit, +Inf.
func Parallel(ohms ...float64) float64 {
	siemens := 0.0
	for _, r := range ohms {
		siemens += 1 / r
	}
	return 1 / siemens
}

// Without takes one resistance out of a parallel one: what stands beside
// oneOfThem, both in ohms, if together they read total.
func Without(total, oneOfThem float64) float64 { return 1 / (1/total - 1/oneOfThem) }

// Divider is the volts across a resistance that is fed from volts through others,
// all in ohms.
func Divider(volts, across float64, others ...float64) float64 {
	return volts * across / Series(append([]float64{across}, others...)...)
}

// Mean is what a voltmeter shows of a level that lies at high for a share of the
// time and at rest for the remainder.
func Mean(rest, high, share float64) float64 { return rest + share*(high-rest) }
