package netlist

// Harness is the whole wiring of a vehicle's networks, as a person would
// write it down: what there is and how it hangs together. It holds no
// electrical nodes; [NewCircuit] derives those.
//
// The tags on the fields are the file format: package netfile reads and
// writes a Harness by them, and the published JSON Schema is made from them.
// In a Harness built in Go a zero number or an empty string means "not given".
type Harness struct {
	// Name of the harness, for headings.
	Name string `yaml:"harness" rule:"required,text" doc:"name of the harness, for headings"`
	// Note is free text: where the data come from, say.
	Note string `yaml:"note" rule:"text" doc:"free text, for example where the data come from"`
	// TemperatureC is the temperature of the copper in degrees Celsius; nil
	// means DefaultTemperatureC.
	TemperatureC *float64 `yaml:"temperature_c" rule:"min=-60,max=150" doc:"temperature of the copper in degrees Celsius"`
	// LookMin is the time in minutes to look into a connector, a module or a
	// terminator once one is there, LookWireMin that to open up a wire, a pair or a
	// splice; nil means DefaultLookMin and DefaultLookWireMin. A part may have its own.
	LookMin     *float64 `yaml:"look_min" example:"3" rule:"min=0,max=10000" doc:"minutes to look into a connector, module or terminator once one is there; left out: 3, from memory; a part may have its own"`
	LookWireMin *float64 `yaml:"look_wire_min" example:"15" rule:"min=0,max=10000" doc:"minutes to open up a wire, pair or splice once one is there; left out: 15, from memory; a part may have its own"`
	// Supply describes the supply rail; nil means the defaults.
	Supply *Supply `yaml:"supply" element:"supply" doc:"the supply rail"`

	Networks     []Network         `yaml:"networks" rule:"required" element:"network" doc:"the two-wire networks of the harness"`
	Transceivers []TransceiverKind `yaml:"transceivers" element:"transceiver kind" doc:"kinds of transceiver beside the built-in ones"`
	Connectors   []Connector       `yaml:"connectors" element:"connector" doc:"every connector, module connectors and inline ones included"`
	Splices      []Splice          `yaml:"splices" element:"splice" doc:"joints of several wires"`
	Modules      []Module          `yaml:"modules" element:"module" doc:"electronic units and junction boxes"`
	Terminators  []Terminator      `yaml:"terminators" element:"terminator" doc:"terminating resistors"`
	Pairs        []Pair            `yaml:"pairs" element:"pair" doc:"twisted pairs: both conductors of a network, one length"`
	Wires        []Wire            `yaml:"wires" element:"wire" doc:"single conductors"`
	Strays       []Stray           `yaml:"strays" element:"stray path" doc:"known extra resistances between two points"`
	Rates        []FaultRate       `yaml:"rates" element:"rate entry" doc:"how common faults are beside each other, where it is not as built in"`
}

// Supply is the vehicle's supply rail.
type Supply struct {
	// Volts on the rail with supply on; 0 means DefaultSupplyVolts.
	Volts float64 `yaml:"volts" rule:"above=0,max=60" doc:"volts on the supply rail with supply on"`
	// LoadOhms is what an ohmmeter finds from the rail to ground through the
	// vehicle's other loads, the battery taken off; 0 means the wide default.
	LoadOhms float64 `yaml:"load_ohms" example:"20" rule:"min=0.001,max=1e6" doc:"ohms from the supply rail to ground through the vehicle's other loads, battery off"`
}

// Network is one two-wire network.
type Network struct {
	Name  string `yaml:"name" rule:"required,name" doc:"name of the network"`
	Layer string `yaml:"layer" rule:"required,name,enum=high-speed|j1939-11|j1939-15|iso11783-pair|nmea2000|devicenet|fault-tolerant|one-wire|tia-485" doc:"physical layer: high-speed is ISO 11898-2 and the next five flavours of it, fault-tolerant is ISO 11898-3, one-wire ISO 17987-4, tia-485 TIA-485"`
}

// TransceiverKind describes how a transceiver loads its conductors. The
// unpowered figures are what an ohmmeter meets with supply off.
type TransceiverKind struct {
	Name string `yaml:"name" rule:"required,name" doc:"name of the kind, used by modules"`
	// UnpoweredMinOhms is the least resistance from either conductor to the
	// module's ground with supply off.
	UnpoweredMinOhms float64 `yaml:"unpowered_min_ohms" example:"20000" rule:"required,min=1,max=1e12" doc:"least ohms from a conductor to ground, supply off"`
	// UnpoweredMaxOhms is the greatest; 0 means that the part may be open.
	UnpoweredMaxOhms float64 `yaml:"unpowered_max_ohms" rule:"min=1,max=1e12" doc:"greatest ohms from a conductor to ground, supply off; left out: may be open"`
	// AwakeMinOhms and AwakeMaxOhms bound the resistance from either
	// conductor to the bias source with supply on.
	AwakeMinOhms float64 `yaml:"awake_min_ohms" example:"20000" rule:"required,min=1,max=1e12" doc:"least ohms from a conductor to the bias source, supply on"`
	AwakeMaxOhms float64 `yaml:"awake_max_ohms" example:"20000" rule:"required,min=1,max=1e12" doc:"greatest ohms from a conductor to the bias source, supply on"`
	// IdleVolts is the voltage that the part holds both conductors at when
	// awake; 0 means the physical layer's.
	IdleVolts float64 `yaml:"idle_volts" example:"2.5" rule:"min=0.1,max=60" doc:"volts at which it holds the conductors when awake"`
	// DriveVolts is what the part drives from, its own supply or regulator; 0
	// means the driver of DefaultDriver, and the other drive figures count for
	// nothing.
	DriveVolts float64 `yaml:"drive_volts" example:"5" rule:"min=0.5,max=60" doc:"volts that it drives from; left out: the driver of a generic 5 V part"`
	// DriveHOhms and DriveLOhms are the resistances of the switches that pull H
	// up and L down, DriveHDiodeVolts and DriveLDiodeVolts the drops in series.
	DriveHOhms       float64 `yaml:"drive_h_ohms" example:"24" rule:"min=0.1,max=1e4" doc:"ohms of the switch that pulls H up"`
	DriveLOhms       float64 `yaml:"drive_l_ohms" example:"24" rule:"min=0.1,max=1e4" doc:"ohms of the switch that pulls L down"`
	DriveHDiodeVolts float64 `yaml:"drive_h_diode_volts" example:"0.7" rule:"min=0,max=5" doc:"volts lost in series with the switch that pulls H up"`
	DriveLDiodeVolts float64 `yaml:"drive_l_diode_volts" example:"0.7" rule:"min=0,max=5" doc:"volts lost in series with the switch that pulls L down"`
	// DriveLimitMinMA and DriveLimitMaxMA bound the current in milliamperes at
	// which either switch stops to give more.
	DriveLimitMinMA float64 `yaml:"drive_limit_min_ma" example:"40" rule:"min=1,max=10000" doc:"least milliamperes at which a switch limits"`
	DriveLimitMaxMA float64 `yaml:"drive_limit_max_ma" example:"100" rule:"min=1,max=10000" doc:"greatest milliamperes at which a switch limits"`
	// Source names where the figures come from.
	Source string `yaml:"source" rule:"text" doc:"where the figures come from"`
}

// Connector is one connector. Its harness half carries the wires. A module
// that lists the connector, or a terminator fitted at it, is its device half.
// An inline connector has a second harness half, side b.
type Connector struct {
	Name string `yaml:"name" rule:"required,name" doc:"name of the connector, as on the wiring diagram"`
	// Network that unqualified conductors in Cavities belong to; may be left
	// out where the harness has one network.
	Network string `yaml:"network" rule:"name" doc:"network of the conductors; not needed where the harness has one"`
	// Cavities says what each cavity carries: a conductor (H, or drive.H),
	// supply or ground. Left out: two cavities named H and L.
	Cavities []Cavity `yaml:"cavities" shape:"map" doc:"cavity: what it carries (H, L, drive.H, supply, ground)"`
	// Inline marks a connector between two parts of the harness.
	Inline bool `yaml:"inline" doc:"true for a connector between two parts of the harness"`
	// ReachMin is the time in minutes to get a meter to the connector; nil
	// means DefaultReachMin.
	ReachMin *float64 `yaml:"reach_min" rule:"min=0,max=10000" doc:"minutes to get a meter to it"`
	// LookMin is the time in minutes to look into the connector once one is there;
	// nil means the harness's LookMin.
	LookMin *float64 `yaml:"look_min" example:"6" rule:"min=0,max=10000" doc:"minutes to look into it once one is there; left out: look_min of the harness"`
	// ContactOhms of one mated contact; 0 means the default range.
	ContactOhms float64 `yaml:"contact_ohms" example:"0.005" rule:"min=1e-9,max=1000" doc:"ohms of one mated contact"`
	Note        string  `yaml:"note" rule:"text" doc:"where it sits, in words"`
}

// Cavity is one contact position of a connector.
type Cavity struct {
	Name    string `yaml:"cavity" rule:"required,name" doc:"cavity number or letter"`
	Carries string `yaml:"carries" rule:"required" doc:"conductor (H, L, drive.H), supply or ground"`
}

// Splice is a joint of several wires, for each conductor that it joins.
type Splice struct {
	Name    string `yaml:"name" rule:"required,name" doc:"name of the splice"`
	Network string `yaml:"network" rule:"name" doc:"network; not needed where the harness has one"`
	// Joins lists the conductors that the splice joins, each for itself; left
	// out: all conductors of the network.
	Joins []string `yaml:"joins" shape:"one-or-list" doc:"conductors joined here; left out: all of the network"`
	// ReachMin is the time in minutes to get a meter to the splice; nil means
	// that a meter cannot reach it.
	ReachMin *float64 `yaml:"reach_min" rule:"min=0,max=10000" doc:"minutes to get a meter to it; left out: not reachable"`
	// LookMin is the time in minutes to open the splice up, the way to it apart; nil
	// means the harness's LookWireMin.
	LookMin *float64 `yaml:"look_min" example:"30" rule:"min=0,max=10000" doc:"minutes to open it up once one is there; left out: look_wire_min of the harness"`
}

// Module is an electronic unit on one or more networks, or a junction box.
type Module struct {
	Name string `yaml:"name" rule:"required,name" doc:"name of the module"`
	// Connectors that the module mates with. Pins of one conductor are joined
	// inside the module.
	Connectors []string `yaml:"connectors" rule:"required" shape:"one-or-list" doc:"connectors that plug into the module"`
	// Networks on which the module has a transceiver; left out: each network
	// of which its connectors carry all conductors.
	Networks []string `yaml:"networks" shape:"one-or-list" doc:"networks it has a transceiver on; left out: all that its connectors carry"`
	// Transceiver is a kind's name: modern, older, mixed, one of the
	// harness's own, or none for a junction box. Empty means mixed.
	Transceiver string `yaml:"transceiver" rule:"name" doc:"kind of transceiver: modern, modern-3v3, older, mixed, tolerant, commander, responder, multidrop, none, or one listed under transceivers"`
	// Kinds names the kind of transceiver for a network each, where a module has
	// different ones; it goes before Transceiver.
	Kinds []NetworkKind `yaml:"kinds" shape:"map" doc:"network: kind of transceiver, for a module with different ones on its networks"`
	// GroundOffsetVolts is how far the module's own ground lies above the
	// ground rail with the supply on.
	GroundOffsetVolts float64 `yaml:"ground_offset_volts" example:"0.2" rule:"min=-30,max=30" doc:"volts of the module's own ground above the ground rail, supply on"`
	// LookMin is the time in minutes to look into the module once one is at a
	// connector of it (one that is riveted in takes longer than its connectors); nil
	// means the harness's LookMin.
	LookMin *float64 `yaml:"look_min" example:"25" rule:"min=0,max=10000" doc:"minutes to look into it once one is there; left out: look_min of the harness"`
}

// NetworkKind is the kind of a module's transceiver on one network.
type NetworkKind struct {
	Network string `yaml:"network" rule:"required,name" doc:"network"`
	Kind    string `yaml:"kind" rule:"required,name" doc:"kind of transceiver"`
}

// Terminator is a resistor between the conductors of a network.
type Terminator struct {
	Name string `yaml:"name" rule:"required,name" doc:"name of the terminator"`
	// At is where it sits: a module (inside it, gone when the module is
	// unplugged), a splice (crimped into the harness) or a connector that no
	// module uses (a plug-in terminator).
	At      string  `yaml:"at" rule:"required,name" doc:"module, splice or free connector where it sits"`
	Network string  `yaml:"network" rule:"name" doc:"network; needed where the place carries more than one"`
	Ohms    float64 `yaml:"ohms" rule:"required,min=1e-9,max=1e9" doc:"resistance in ohms"`
	// TolerancePct is the limit of error in percent; nil means
	// DefaultTerminatorTolerancePct.
	TolerancePct *float64 `yaml:"tolerance_pct" rule:"min=0,max=90" doc:"limit of error in percent"`
	// Split marks two halves in series with a middle node.
	Split bool `yaml:"split" doc:"true for two halves with a middle point"`
	// LookMin is the time in minutes to look into the terminator once one is there;
	// nil means what its place takes, the module, connector or splice that it is at.
	LookMin *float64 `yaml:"look_min" example:"10" rule:"min=0,max=10000" doc:"minutes to look into it once one is there; left out: as for the place where it sits"`
}

// Pair is a twisted pair: every conductor of one network from one place to
// another, with one length.
type Pair struct {
	Name    string `yaml:"name" rule:"required,name" doc:"name of the pair"`
	Network string `yaml:"network" rule:"name" doc:"network; not needed where the harness has one or the ends decide"`
	// From and To are each a place (X1, X5/b, S2), or one point for each
	// conductor in the network's order ([X1.6, X1.14]).
	From         []string `yaml:"from" rule:"required" shape:"one-or-list" doc:"place (X1, X5/b, S2) or [H point, L point]"`
	To           []string `yaml:"to" rule:"required" shape:"one-or-list" doc:"place (X1, X5/b, S2) or [H point, L point]"`
	LengthM      float64  `yaml:"length_m" rule:"min=0.001,max=10000" doc:"length in metres"`
	SectionMM2   float64  `yaml:"section_mm2" rule:"above=0,max=200" doc:"conductor section in square millimetres"`
	AWG          int      `yaml:"awg" example:"20" rule:"min=1,max=40" doc:"conductor size, American wire gauge"`
	OhmsPerM     float64  `yaml:"ohms_per_m" example:"0.053" rule:"min=1e-9,max=1e6" doc:"ohms of one conductor for each metre"`
	Ohms         float64  `yaml:"ohms" example:"0.07" rule:"min=1e-9,max=1e9" doc:"ohms of one conductor; wins over length and size"`
	TolerancePct *float64 `yaml:"tolerance_pct" rule:"min=0,max=90" doc:"limit of error of ohms or ohms_per_m in percent"`
	// LookMin is the time in minutes to open the pair up from an end that is reached;
	// nil means the harness's LookWireMin.
	LookMin *float64 `yaml:"look_min" example:"40" rule:"min=0,max=10000" doc:"minutes to open it up once one is there; left out: look_wire_min of the harness"`
}

// Wire is one conductor.
type Wire struct {
	Name         string   `yaml:"name" rule:"required,name" doc:"name or number of the wire"`
	From         string   `yaml:"from" rule:"required" doc:"point: X3.9, X5/b.4 or S2.H"`
	To           string   `yaml:"to" rule:"required" doc:"point: X3.9, X5/b.4 or S2.H"`
	LengthM      float64  `yaml:"length_m" rule:"min=0.001,max=10000" doc:"length in metres"`
	SectionMM2   float64  `yaml:"section_mm2" rule:"above=0,max=200" doc:"conductor section in square millimetres"`
	AWG          int      `yaml:"awg" example:"20" rule:"min=1,max=40" doc:"conductor size, American wire gauge"`
	OhmsPerM     float64  `yaml:"ohms_per_m" example:"0.053" rule:"min=1e-9,max=1e6" doc:"ohms for each metre"`
	Ohms         float64  `yaml:"ohms" example:"0.07" rule:"min=1e-9,max=1e9" doc:"ohms of the wire; wins over length and size"`
	TolerancePct *float64 `yaml:"tolerance_pct" rule:"min=0,max=90" doc:"limit of error of ohms or ohms_per_m in percent"`
	// LookMin is the time in minutes to open the wire up from an end that is reached;
	// nil means the harness's LookWireMin.
	LookMin *float64 `yaml:"look_min" example:"40" rule:"min=0,max=10000" doc:"minutes to open it up once one is there; left out: look_wire_min of the harness"`
}

// Stray is a resistance that is known to be there beside the wiring proper: a
// bleeder, a filter, a leak that is being lived with.
type Stray struct {
	Name         string   `yaml:"name" rule:"required,name" doc:"name of the stray path"`
	From         string   `yaml:"from" rule:"required" doc:"point: X3.9, S2.H, ground or supply"`
	To           string   `yaml:"to" rule:"required" doc:"point: X3.9, S2.H, ground or supply"`
	Ohms         float64  `yaml:"ohms" rule:"required,min=1e-9,max=1e12" doc:"resistance in ohms"`
	TolerancePct *float64 `yaml:"tolerance_pct" rule:"min=0,max=90" doc:"limit of error in percent"`
}

// FaultRate says how common faults are beside each other: all of a kind, all at a
// part, or those of a kind at a part. Entries act in the order written, each on
// what those before it left. Package faults has the rates that they start from.
type FaultRate struct {
	// Kind is one of the kinds of package faults; empty means every kind.
	Kind string `yaml:"kind" rule:"name,enum=open|open-both|joint|short-to-ground|short-to-supply|short-between|short-networks|leak|backed-out|unplugged|swapped|terminator-missing|terminator-value|terminator-extra|no-supply|no-ground|ground-offset|stuck-dominant|shorted-inside" doc:"kind of fault; left out: every kind"`
	// Part is what there is to repair: the name of a connector, splice, module,
	// terminator, pair or wire; empty means every part.
	Part string `yaml:"part" rule:"name" doc:"connector, splice, module, terminator, pair or wire at fault; left out: every part"`
	// Rate replaces the rate. It is 0, which says that the fault cannot happen,
	// or from LeastRate to GreatestRate. Nil means that Times is given.
	Rate *float64 `yaml:"rate" example:"10" rule:"min=0,max=1e6" doc:"rate in place of what it was; 0: cannot happen"`
	// Times multiplies the rate; 0 means that Rate is given. What comes out is
	// held between LeastRate and GreatestRate, but 0 stays 0.
	Times float64 `yaml:"times" example:"5" rule:"above=0,max=1e6" doc:"what the rate is multiplied by; the outcome is held between 1e-6 and 1e6"`
	// Note is free text, Source where the figure comes from.
	Note   string `yaml:"note" rule:"text" doc:"free text"`
	Source string `yaml:"source" rule:"text" doc:"where the figure comes from"`
}

// conductorSize is what a pair and a wire have in common.
type conductorSize struct {
	LengthM, SectionMM2, OhmsPerM, Ohms float64
	AWG                                 int
	TolerancePct                        *float64
}

func (p *Pair) size() conductorSize {
	return conductorSize{p.LengthM, p.SectionMM2, p.OhmsPerM, p.Ohms, p.AWG, p.TolerancePct}
}

func (w *Wire) size() conductorSize {
	return conductorSize{w.LengthM, w.SectionMM2, w.OhmsPerM, w.Ohms, w.AWG, w.TolerancePct}
}
