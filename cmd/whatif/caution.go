package main

// cautions lead everything that a person might act on with a meter in hand.
var cautions = []string{
	"The maker's service information, local codes and licensed practice come first.",
	"Ohms: supply off (battery off, charger out) and the network asleep before any resistance reading; wait as long as the maker says, and see that the meter shows 0 V before it is set to ohms. Plug and unplug with the supply off.",
	"Keep ohmmeters and probes off airbag and pretensioner circuits, and off high-voltage circuits (orange cables); they need their own procedure and qualification.",
	"Volts, supply on: keep clear of moving parts; a probe that slips shorts what it touches.",
	"Steering and brakes: chock the machine; a network that is measured on or unplugged may take assistance or braking away.",
}

// cautionText is the cautions as one paragraph.
var cautionText = func() string {
	text := "CAUTION."
	for _, c := range cautions {
		text += " " + c
	}
	return text
}()
