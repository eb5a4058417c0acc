// Package caution holds what every piece of advice leads with that a person might act
// on with a meter in hand.
package caution

import "strings"

// Points are the cautions, a sentence or more each. The slice is the caller's own.
func Points() []string {
	return []string{
		"The maker's service information, local codes and licensed practice come first.",
		"Ohms: supply off (battery off, charger out) and the network asleep before any resistance reading; wait as long as the maker says, and see that the meter shows 0 V before it is set to ohms. Plug and unplug with the supply off.",
		"Keep ohmmeters and probes off airbag and pretensioner circuits, and off high-voltage circuits (orange cables); they need their own procedure and qualification.",
		"Volts, supply on: keep clear of moving parts; a probe that slips shorts what it touches.",
		"Steering and brakes: chock the machine; a network that is measured on or unplugged may take assistance or braking away.",
	}
}

// Text is the cautions as one paragraph.
func Text() string { return "CAUTION. " + strings.Join(Points(), " ") }
