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
	// Idle is where each conductor lies, to ground, with all modules awake and
	// none sending.
	Idle []IdleLevel
	// Terminators is how many the network has, 0 where each module brings its own
	// share; LoadMinOhms and LoadMaxOhms then count for nothing.
	Terminators int
	// OfSupply says that Idle and the thresholds are shares of the supply's
	// volts. A layer of one conductor is of the supply: its receivers look at
	// how far the conductor lies below the supply.
	OfSupply bool
	// BothWays says that a driver drives the recessive state as well, its two
	// switches exchanged, and that nobody acknowledges.
	BothWays bool
	// Alone holds the thresholds of a receiver that can do with one of its two
	// conductors; nil for one that cannot.
	Alone *AloneLevels
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

// IdleLevel is the range of a conductor's idle voltage.
type IdleLevel struct{ MinVolts, Volts, MaxVolts float64 }

// AloneLevels are the thresholds in volts of a receiver that looks at one
// conductor only: H is dominant from HighDominant up and recessive from
// HighRecessive down, L dominant from LowDominant down and recessive from
// LowRecessive up.
type AloneLevels struct{ HighDominant, HighRecessive, LowDominant, LowRecessive float64 }

// highSpeed is ISO 11898-2, of which the other layers here are flavours with
// narrower or other figures.
//
// Terminator: 100/120/130 Ω as quoted second-hand from the 2003 edition. Load 50
// to 65 Ω: test conditions of data sheet SLLSF17B, which follow the 2016 edition. Idle:
// SLLSF17B, 2.0 V / 0.5 VCC / 3.0 V without load. Thresholds 0.9 and 0.5 V: data sheets
// SLLS788 table 3, SLLSF19 table 4. Common mode −12 to 12 V: 2016 edition, from
// memory (NCV7349 data sheet has the same).
func highSpeed(name, standard, source string) Layer {
	return Layer{
		Name: name, Standard: standard,
		Conductors:        []string{"H", "L"},
		TerminatorMinOhms: 100, TerminatorMaxOhms: 130,
		LoadMinOhms: 50, LoadMaxOhms: 65,
		Terminators:   2,
		Idle:          []IdleLevel{{2.0, 2.5, 3.0}, {2.0, 2.5, 3.0}},
		DominantVolts: 0.9, RecessiveVolts: 0.5,
		CommonMinVolts: -12, CommonMaxVolts: 12,
		Source: source,
	}
}

// layers holds the physical layers by name.
var layers = func() map[string]Layer {
	base := highSpeed("high-speed", "ISO 11898-2",
		"ISO 11898-2 (terminator 100 to 130 Ω quoted second-hand; load 50 to 65 Ω and idle 2.0 to 3.0 V as in data sheet SLLSF17B)")

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

	// Fault-tolerant low-speed, ISO 11898-3: each module terminates each conductor
	// by its own share, H to ground and L to 5 V. Idle levels: TJA1055 data sheet
	// table 8 (H 0.2 V at most, L VCC − 0.2 V at least). Thresholds: differential
	// −2.5 and −3.9 V and single-ended 1.5 to 1.9 and 3.1 to 3.5 V around the
	// part's typical figures, from memory. That parts switch their termination
	// off on some faults is not modelled.
	tolerant := Layer{
		Name: "fault-tolerant", Standard: "ISO 11898-3", Conductors: []string{"H", "L"},
		Idle:          []IdleLevel{{0, 0.1, 0.2}, {4.7, 4.9, 5.1}},
		DominantVolts: -2.5, RecessiveVolts: -3.9,
		CommonMinVolts: -40, CommonMaxVolts: 40,
		Alone:  &AloneLevels{HighDominant: 1.9, HighRecessive: 1.5, LowDominant: 3.1, LowRecessive: 3.5},
		Source: "ISO 11898-3 (idle and drive levels: TJA1055 data sheet; thresholds from memory)",
	}

	// One wire with pull-ups, as ISO 17987-4 and LIN have it: dominant below 0.4
	// and recessive above 0.6 of the supply (NCV7329 and TLE9274 data sheets), so
	// 0.6 and 0.4 below it. Idle: the supply less the pull-up's diode.
	wire := Layer{
		Name: "one-wire", Standard: "ISO 17987-4", Conductors: []string{"D"}, OfSupply: true,
		Idle:          []IdleLevel{{0.92, 0.945, 0.97}},
		DominantVolts: 0.6, RecessiveVolts: 0.4,
		CommonMinVolts: -1e3, CommonMaxVolts: 1e3,
		MostModules: 16,
		Source:      "ISO 17987-4 / LIN (thresholds and pull-ups: NCV7329, TLE9274 data sheets; 16 modules from memory)",
	}

	// TIA-485: 1.5 V at least on 54 Ω, receivers ± 0.2 V, −7 to 12 V (data sheet SLLA628,
	// EURASIP JES 2016 table 1). The bus is driven both ways. Idle, only the unit
	// loads hold it, to no voltage that the standard names; 1 to 3 V from memory.
	multi := Layer{
		Name: "tia-485", Standard: "TIA-485", Conductors: []string{"A", "B"}, BothWays: true,
		TerminatorMinOhms: 100, TerminatorMaxOhms: 130, Terminators: 2,
		LoadMinOhms: 50, LoadMaxOhms: 65,
		Idle:          []IdleLevel{{1, 2, 3}, {1, 2, 3}},
		DominantVolts: 0.2, RecessiveVolts: -0.2,
		CommonMinVolts: -7, CommonMaxVolts: 12,
		MostModules: 32,
		Source:      "TIA-485 (data sheet SLLA628: 1.5 V on 54 Ω, 32 unit loads, −7 to 12 V; terminators as the cable's 120 Ω, idle level from memory)",
	}

	out := map[string]Layer{}
	for _, l := range []Layer{base, j11, j15, tractor, marine, device, tolerant, wire, multi} {
		out[l.Name] = l
	}
	return out
}()

// atSupply gives the layer with shares of the supply turned into volts.
func (l Layer) atSupply(volts float64) Layer {
	if !l.OfSupply {
		return l
	}
	idle := make([]IdleLevel, len(l.Idle))
	for i, x := range l.Idle {
		idle[i] = IdleLevel{x.MinVolts * volts, x.Volts * volts, x.MaxVolts * volts}
	}
	l.Idle, l.OfSupply = idle, false
	l.DominantVolts, l.RecessiveVolts = l.DominantVolts*volts, l.RecessiveVolts*volts
	return l
}

// LayerByName finds a physical layer.
func LayerByName(name string) (Layer, bool) {
	l, ok := layers[name]
	return l, ok
}
