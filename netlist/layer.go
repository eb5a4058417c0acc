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
	// Source of the figures.
	Source string
}

// layers holds the physical layers by name. Terminators and load: ISO 11898-2
// (terminator 100/120/130 Ω as quoted second-hand from the 2003 edition; load
// 50 to 65 Ω as in the test conditions of TI SLLSF17B, which follow the 2016
// edition). Idle level: SLLSF17B, 2.0 V / 0.5 VCC / 3.0 V without load.
var layers = map[string]Layer{
	"high-speed": {
		Name: "high-speed", Standard: "ISO 11898-2",
		Conductors:        []string{"H", "L"},
		TerminatorMinOhms: 100, TerminatorMaxOhms: 130,
		LoadMinOhms: 50, LoadMaxOhms: 65,
		IdleMinVolts: 2.0, IdleVolts: 2.5, IdleMaxVolts: 3.0,
		Source: "ISO 11898-2 (terminator 100 to 130 Ω quoted second-hand; load 50 to 65 Ω and idle 2.0 to 3.0 V as in TI SLLSF17B)",
	},
}

// LayerByName finds a physical layer.
func LayerByName(name string) (Layer, bool) {
	l, ok := layers[name]
	return l, ok
}
