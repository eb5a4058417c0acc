package netlist

// Names of the two rails. They are points like any other, and no part of a
// harness may be called so.
const (
	GroundRail = "ground"
	SupplyRail = "supply"
)

// Layer is a physical layer: the levels and limits that a network keeps to.
type Layer struct {
	Name     string
	Standard string
	// Conductors in the order in which pairs and tables list them.
	Conductors []string
	// TerminatorMinOhms to TerminatorMaxOhms is what one terminator may be.
	TerminatorMinOhms, TerminatorMaxOhms float64
	// LoadMinOhms to LoadMaxOhms is what the whole bus may present between
	// its conductors.
	LoadMinOhms, LoadMaxOhms float64
	// IdleMinVolts, IdleVolts and IdleMaxVolts: each conductor to ground with
	// all modules awake and none sending.
	IdleMinVolts, IdleVolts, IdleMaxVolts float64
	// DominantVolts is the difference between the conductors from which on a
	// receiver must see a dominant bus, RecessiveVolts the difference down from
	// which it must see a recessive one. Between them it may see either.
	DominantVolts, RecessiveVolts float64
	// CommonMinVolts to CommonMaxVolts is the range of the mean of the two
	// conductors, to the receiver's own ground, within which that holds.
	CommonMinVolts, CommonMaxVolts float64
	// MostModules is how many may be on one network, 0 for no figure.
	MostModules int
	// Source of the figures.
	Source string
}

// highSpeed is ISO 11898-2, of which the other layers here are flavours with
// narrower or other figures.
//
// Terminator: 100/120/130 Ω as quoted second-hand from the 2003 edition. Load 50
// to 65 Ω: test conditions of TI SLLSF17B, which follow the 2016 edition. Idle:
// SLLSF17B, 2.0 V / 0.5 VCC / 3.0 V without load. Thresholds 0.9 and 0.5 V: TI
// SLLS788 table 3, SLLSF19 table 4. Common mode −12 to 12 V: 2016 edition, from
// memory (NCV7349 data sheet has the same).
func highSpeed(name, standard, source string) Layer {
	return Layer{
		Name: name, Standard: standard,
		Conductors:        []string{"H", "L"},
		TerminatorMinOhms: 100, TerminatorMaxOhms: 130,
		LoadMinOhms: 50, LoadMaxOhms: 65,
		IdleMinVolts: 2.0, IdleVolts: 2.5, IdleMaxVolts: 3.0,
		DominantVolts: 0.9, RecessiveVolts: 0.5,
		CommonMinVolts: -12, CommonMaxVolts: 12,
		Source: source,
	}
}

// layers holds the physical layers by name.
var layers = func() map[string]Layer {
	base := highSpeed("high-speed", "ISO 11898-2",
		"ISO 11898-2 (terminator 100 to 130 Ω quoted second-hand; load 50 to 65 Ω and idle 2.0 to 3.0 V as in TI SLLSF17B)")

	// SAE J1939-11 and -15: 120 Ω at both ends, 30 modules at most (second-hand:
	// an engine installation manual, a summary of the 2016 edition). Terminator
	// 110 to 130 Ω: J1939-11, from memory. Other figures as ISO 11898-2.
	j11 := highSpeed("j1939-11", "SAE J1939-11", "SAE J1939-11 (terminator 110 to 130 Ω from memory; 30 modules second-hand; the rest as ISO 11898-2)")
	j11.TerminatorMinOhms, j11.MostModules = 110, 30
	j15 := highSpeed("j1939-15", "SAE J1939-15", "SAE J1939-15 (terminator 110 to 130 Ω from memory; 30 modules second-hand; the rest as ISO 11898-2)")
	j15.TerminatorMinOhms, j15.MostModules = 110, 30

	// ISO 11783-2:2019 adds a twisted pair with plain terminators; figures as
	// ISO 11898-2, from memory. The twisted quad with its active bias circuits is
	// another matter and not modelled.
	tractor := highSpeed("iso11783-pair", "ISO 11783-2:2019, twisted pair", "ISO 11783-2:2019 twisted pair (figures as ISO 11898-2, from memory)")
	tractor.MostModules = 30

	// NMEA 2000: two 120 Ω resistors, one at each backbone end (second-hand), 50
	// devices at most (a cabling guide).
	marine := highSpeed("nmea2000", "NMEA 2000", "NMEA 2000 (120 Ω at both ends and 50 devices second-hand; the rest as ISO 11898-2)")
	marine.MostModules = 50

	// DeviceNet: 121 Ω, 1 %, at both trunk ends (ODVA rule, quoted in drive and
	// robot manuals); 64 nodes from memory.
	device := highSpeed("devicenet", "DeviceNet", "DeviceNet (121 Ω ± 1 % at the trunk ends second-hand; 64 nodes from memory; the rest as ISO 11898-2)")
	device.TerminatorMinOhms, device.TerminatorMaxOhms, device.MostModules = 121*0.99, 121*1.01, 64

	out := map[string]Layer{}
	for _, l := range []Layer{base, j11, j15, tractor, marine, device} {
		out[l.Name] = l
	}
	return out
}()

// LayerByName finds a physical layer.
func LayerByName(name string) (Layer, bool) {
	l, ok := layers[name]
	return l, ok
}
