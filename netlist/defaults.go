package netlist

// What is taken where a harness does not say. Every one of these is listed by
// [Assumptions] (and so by the command's check) for the harness that uses it.
// There is no default for a length, a section or a terminator's ohms.
const (
	// DefaultTemperatureC is the copper's temperature in degrees Celsius; the
	// conductor tables are for 20 °C.
	DefaultTemperatureC = 20.0
	// TemperatureSpreadC is the limit of error of the temperature in kelvin,
	// shared by all wires: a workshop between freezing and a hot day. From
	// memory.
	TemperatureSpreadC = 20.0
	// LengthTolerancePct is the limit of error of a length on a drawing, in
	// percent. From memory.
	LengthTolerancePct = 5.0
	// DefaultWireTolerancePct is the limit of error of ohms, ohms_per_m and
	// AWG figures in percent (stranding, drawing tolerance). From memory.
	DefaultWireTolerancePct = 5.0
	// DefaultTerminatorTolerancePct is the limit of error of a terminator in
	// percent. Common practice, no source.
	DefaultTerminatorTolerancePct = 5.0
	// StrayTolerancePct is the limit of error of a stray path in percent. From
	// memory.
	StrayTolerancePct = 5.0
	// ContactMinOhms and ContactMaxOhms bound one mated contact: CiA 303-1,
	// 2.5 to 10 mΩ for a connector (quoted second-hand).
	ContactMinOhms = 0.0025
	ContactMaxOhms = 0.010
	// ContactTolerancePct is the limit of error in percent of a contact_ohms
	// that the harness gives. From memory.
	ContactTolerancePct = 50.0
	// DefaultReachMin is the time in minutes to reach a connector. From
	// memory; it only matters for what to measure next.
	DefaultReachMin = 10.0
	// DefaultLookMin is the time in minutes to look into a connector (it is parted,
	// its contacts looked over), a module (its supply and ground too) or a
	// terminator once one is there, DefaultLookWireMin that to open up a wire or a
	// splice: the sleeve and the tape come off. From memory; they only matter for
	// what to measure next, and when to stop measuring.
	DefaultLookMin     = 3.0
	DefaultLookWireMin = 15.0
	// DefaultSupplyVolts is a 12 V battery at rest; SupplySpreadVolts covers
	// discharged to charging. From memory.
	DefaultSupplyVolts = 12.6
	SupplySpreadVolts  = 2.0
	// SupplyTolerancePct is the limit of error in percent of supply volts that
	// the harness gives. From memory.
	SupplyTolerancePct = 20.0
	// SupplyLoadMinOhms and SupplyLoadMaxOhms bound what an ohmmeter finds
	// from the supply rail to ground through the vehicle's other loads with
	// the battery off. From memory: tens of ohms or less.
	SupplyLoadMinOhms = 1.0
	SupplyLoadMaxOhms = 50.0
	// SupplyLoadTolerancePct is the limit of error in percent of load_ohms
	// that the harness gives. From memory.
	SupplyLoadTolerancePct = 50.0
	// DriveVoltsPct, DriveOhmsPct and DriveDiodePct are the limits of error of
	// a driver's figures in percent. Regulators: ± 5 % (data-sheet supply range
	// 4.75 to 5.25 V); switches and diodes from memory, such that the levels
	// stay about within ISO 11898-2.
	DriveVoltsPct = 5.0
	DriveOhmsPct  = 30.0
	DriveDiodePct = 25.0
	// InputMatchPct is how far the input resistances of one transceiver's two
	// conductors may differ, in percent: ISO 11898-2:2016, ±3 % (from memory;
	// TJA1041A and NCV7441 data sheets say ±3 %, TJA1051 ±1 %).
	InputMatchPct = 3.0
	// LeastRate and GreatestRate bound the rates of faults that can happen at all,
	// so that no stack of entries takes one out of what a float64 holds. This
	// project's own choice: nobody knows that a fault is rarer or more common.
	LeastRate    = 1e-6
	GreatestRate = 1e6
	// DefaultTransceiver is the kind taken for a module that does not name
	// one; layerKinds has those of layers that are not flavours of ISO 11898-2.
	DefaultTransceiver = "mixed"
	// NoTransceiver is what a junction box writes.
	NoTransceiver = "none"
)

// transceiverKinds are the built-in kinds. The unpowered figures come from
// data-sheet leakage at 5 V: 5 to 10 µA in current parts (0.5 MΩ and more),
// 100 to 250 µA in older ones (20 to 50 kΩ).
//
// The drivers are fits, see DefaultDriver.
var transceiverKinds = []TransceiverKind{
	{
		Name:             "modern-3v3",
		UnpoweredMinOhms: 20e3, UnpoweredMaxOhms: 70e3, // 350 to 100 µA at 7 V, VCC = 0
		AwakeMinOhms: 20e3, AwakeMaxOhms: 50e3,
		IdleVolts:  2.3,
		DriveVolts: 3.3, DriveHOhms: 6, DriveHDiodeVolts: 0.1, DriveLOhms: 24, DriveLDiodeVolts: 0.2,
		DriveLimitMinMA: 60, DriveLimitMaxMA: 250,
		Source: "SN65HVD230 data sheet SLOS346: unpowered 100 to 350 µA at 7 V, input 20 to 50 kΩ, idle 2.3 V, dominant H 3 V and L 1 V at 60 Ω (driver fitted to these), short-circuit 250 mA at most; least limit from memory",
	},
	{
		Name:             "modern",
		UnpoweredMinOhms: 0.5e6, // ±10 µA at 5 V, VCC = 0
		AwakeMinOhms:     9e3, AwakeMaxOhms: 37e3,
		Source: "unpowered: NCV7349 ±10 µA and TJA1051 ±5 µA at 5 V; awake: TJA1051 9 to 28 kΩ, NCV7441 15 to 37 kΩ (data sheets)",
	},
	{
		Name:             "older",
		UnpoweredMinOhms: 20e3, UnpoweredMaxOhms: 50e3, // 250 to 100 µA at 5 V
		AwakeMinOhms: 15e3, AwakeMaxOhms: 35e3,
		Source: "TJA1041A data sheet: unpowered 100 to 250 µA at 5 V; awake 15 to 35 kΩ",
	},
	{
		Name:             "tolerant",
		UnpoweredMinOhms: 110e3, UnpoweredMaxOhms: 270e3,
		AwakeMinOhms: 500, AwakeMaxOhms: 6000,
		DriveVolts: 5, DriveHOhms: 17.5, DriveHDiodeVolts: 0.7, DriveLOhms: 17.5, DriveLDiodeVolts: 0.7,
		DriveLimitMinMA: 45, DriveLimitMaxMA: 110,
		Source: "TJA1055 data sheet: termination 500 Ω and up to 6 kΩ for each conductor, input 110 to 270 kΩ, 1.4 V lost at 40 mA (driver fitted to it), limits 45 to 110 mA",
	},
	{
		Name:             "commander",
		UnpoweredMinOhms: 100e3, // the pull-up is behind a diode to the dead supply
		AwakeMinOhms:     900, AwakeMaxOhms: 1100,
		DriveVolts: 12, DriveHOhms: 1, DriveLOhms: 30, DriveLDiodeVolts: 0.6,
		DriveLimitMinMA: 40, DriveLimitMaxMA: 200,
		Source: "pull-up 1 kΩ: data sheet SLLA383A, ISO 17987-4 (900 to 1100 Ω from memory); limits 40 to 200 mA: NCV7329; switch and unpowered from memory",
	},
	{
		Name:             "responder",
		UnpoweredMinOhms: 100e3,
		AwakeMinOhms:     20e3, AwakeMaxOhms: 60e3,
		DriveVolts: 12, DriveHOhms: 1, DriveLOhms: 30, DriveLDiodeVolts: 0.6,
		DriveLimitMinMA: 40, DriveLimitMaxMA: 200,
		Source: "pull-up 20 to 60 kΩ, limits 40 to 200 mA: NCV7329; switch and unpowered from memory",
	},
	{
		Name:             "multidrop",
		UnpoweredMinOhms: 12e3, UnpoweredMaxOhms: 100e3,
		AwakeMinOhms: 12e3, AwakeMaxOhms: 100e3,
		DriveVolts: 5, DriveHOhms: 20, DriveHDiodeVolts: 0.7, DriveLOhms: 20, DriveLDiodeVolts: 0.7,
		DriveLimitMinMA: 60, DriveLimitMaxMA: 250,
		Source: "TIA-485: one unit load is 12 kΩ, parts down to an eighth of it; 1.5 V at least on 54 Ω, 250 mA at most; switch from memory",
	},
	{
		// One harness mixes parts of all ages, so the width spans both kinds.
		Name:             "mixed",
		UnpoweredMinOhms: 20e3,
		AwakeMinOhms:     9e3, AwakeMaxOhms: 37e3,
		Source: "the span of modern and older",
	},
}

// DefaultDriver is a fit to a generic 5 V part: 24 Ω and 0.7 V on either side
// give TJA1051's typical 3.5 V and 1.5 V at 60 Ω and levels within ISO 11898-2
// from 45 to 2240 Ω; limits as its data sheet's short-circuit currents (40 to
// 100 mA).
var DefaultDriver = TransceiverKind{
	DriveVolts: 5,
	DriveHOhms: 24, DriveHDiodeVolts: 0.7, DriveLOhms: 24, DriveLDiodeVolts: 0.7,
	DriveLimitMinMA: 40, DriveLimitMaxMA: 100,
	Source: "fit to TJA1051 data sheet, typical dominant levels at 60 Ω and short-circuit currents",
}

// layerKinds are the kinds taken for a module that does not name one, on layers
// of their own sort. On one-wire networks the pull-up of the commander must be
// there, and which module has it is for the harness to say.
var layerKinds = map[string]string{"fault-tolerant": "tolerant", "one-wire": "responder", "tia-485": "multidrop"}

// kindLayers are the layers that the built-in kinds of layers of their own sort
// belong to; the other built-in kinds belong to the flavours of ISO 11898-2, and a
// harness's own kinds wherever they are named.
var kindLayers = map[string]string{"tolerant": "fault-tolerant", "commander": "one-wire", "responder": "one-wire", "multidrop": "tia-485"}

// fits tells whether a kind belongs to a layer.
func (h *Harness) fits(kind string, layer Layer) bool {
	for _, k := range h.Transceivers {
		if k.Name == kind {
			return true
		}
	}
	special := layerKinds[layer.Name] != ""
	own, isSpecial := kindLayers[kind]
	return isSpecial && own == layer.Name || !isSpecial && !special
}

// kindOn is the kind of a module's transceiver on a network: the one that it names
// for the network, the one that it names for all if that belongs there, or what the
// layer has by default.
func (h *Harness) kindOn(m *Module, network string) string {
	for _, k := range m.Kinds {
		if k.Network == network {
			return k.Kind
		}
	}
	layer, _ := h.Layer(network)
	if m.Transceiver != "" && h.fits(m.Transceiver, layer) {
		return m.Transceiver
	}
	if k := layerKinds[layer.Name]; k != "" {
		return k
	}
	return DefaultTransceiver
}

// withDriver fills in the default driver where a kind has none.
func (k TransceiverKind) withDriver() TransceiverKind {
	if k.DriveVolts != 0 {
		return k
	}
	d := DefaultDriver
	k.DriveVolts = d.DriveVolts
	k.DriveHOhms, k.DriveHDiodeVolts, k.DriveLOhms, k.DriveLDiodeVolts = d.DriveHOhms, d.DriveHDiodeVolts, d.DriveLOhms, d.DriveLDiodeVolts
	k.DriveLimitMinMA, k.DriveLimitMaxMA = d.DriveLimitMinMA, d.DriveLimitMaxMA
	return k
}

// TransceiverByName finds a kind among the harness's own and the built-in
// ones.
func (h *Harness) TransceiverByName(name string) (TransceiverKind, bool) {
	if name == "" {
		name = DefaultTransceiver
	}
	for _, k := range h.Transceivers {
		if k.Name == name {
			return k, true
		}
	}
	for _, k := range transceiverKinds {
		if k.Name == name {
			return k, true
		}
	}
	return TransceiverKind{}, false
}

// DefaultDrives gives the two switches of a scan tool on a layer, without
// tolerances: those of the kind that the layer's modules have by default.
func DefaultDrives(layer Layer) (up, down Drive) {
	d := DefaultDriver
	for _, k := range transceiverKinds {
		if k.Name == layerKinds[layer.Name] {
			d = k
		}
	}
	limit := Spread{Mid: (d.DriveLimitMinMA + d.DriveLimitMaxMA) / 2000}
	up = Drive{Spread{Mid: d.DriveVolts - d.DriveHDiodeVolts}, Spread{Mid: d.DriveHOhms}, limit}
	down = Drive{Spread{Mid: d.DriveLDiodeVolts}, Spread{Mid: d.DriveLOhms}, limit}
	if len(layer.Conductors) == 1 {
		up.LimitAmps = Spread{}
	}
	return up, down
}
