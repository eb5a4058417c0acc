package solve

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist"
)

// Supply is the state of the vehicle's supply.
type Supply int

// The states of the supply. Off: battery off, modules unpowered, the state for
// every resistance reading. Idle: modules awake, none of them sending.
const (
	Off Supply = iota
	Idle
)

func (s Supply) String() string {
	if s == Idle {
		return "idle"
	}
	return "off"
}

// Condition is the state in which something is read.
type Condition struct {
	Supply Supply
	// Unplugged names the connectors that are apart.
	Unplugged []string
}

func (c Condition) String() string {
	if len(c.Unplugged) == 0 {
		return "supply " + c.Supply.String()
	}
	return "supply " + c.Supply.String() + ", unplugged " + strings.Join(c.Unplugged, " ")
}

// Spot is a place for a fault to attach: a node, or a point part of the way
// along a wire.
type Spot struct {
	// Node is an index of Circuit.Nodes; it counts where Wire is negative.
	Node int
	// Wire is an index of Circuit.Elements, or −1.
	Wire int
	// Fraction of the wire's length from its A end, 0 to 1.
	Fraction float64
}

// check tells what is wrong with a spot as a place of a circuit.
func (s Spot) check(c *netlist.Circuit) error {
	switch {
	case s.Wire < 0 && (s.Node < 0 || s.Node >= len(c.Nodes)):
		return fmt.Errorf("solve: no node %d", s.Node)
	case s.Wire < 0:
		return nil
	case s.Wire >= len(c.Elements) || c.Elements[s.Wire].Kind != netlist.WireElement:
		return fmt.Errorf("solve: element %d is no wire", s.Wire)
	case !(s.Fraction >= 0 && s.Fraction <= 1):
		return fmt.Errorf("solve: %s: fraction %v is not from 0 to 1", c.Elements[s.Wire].Name, s.Fraction)
	}
	return nil
}

// AtNode is the spot at a node.
func AtNode(node int) Spot { return Spot{Node: node, Wire: -1} }

// OnWire is the spot at a fraction of a wire's length from its A end.
func OnWire(element int, fraction float64) Spot {
	return Spot{Wire: element, Fraction: fraction}
}

// Change is one alteration of a circuit: [Part], [Insert], [Replace] or
// [Bridge], [Unplug], [Unpower], [Shift] or [Stick].
type Change interface{ change() }

// Part opens an element: nothing flows through it any more. A wire is parted at its
// A end, so that a bridge part of the way along it stays on its B end.
type Part struct{ Element int }

// Insert puts Ohms in series with an element (not a Joint).
type Insert struct {
	Element int
	Ohms    float64
}

// Replace gives an element another resistance (not a Joint).
type Replace struct {
	Element int
	Ohms    float64
}

// Bridge puts Ohms between two spots; 0 joins them ideally. One that goes through
// connectors (contacts in each other's cavities, the inside of a module) names
// them: it is gone while all of them are unplugged.
type Bridge struct {
	From, To Spot
	Ohms     float64
	Through  []string
}

// gone tells whether the bridge goes through unplugged connectors only.
func (b *Bridge) gone(unplugged []string) bool {
	for _, name := range b.Through {
		if !slices.Contains(unplugged, name) {
			return false
		}
	}
	return len(b.Through) > 0
}

// Unplug parts a connector, as the condition does: together with those that are
// unplugged there it takes the ground from a module that hangs on them alone.
type Unplug struct{ Connector string }

// Unpower takes the supply from a unit: its inputs are those of an unpowered
// part, and it neither sends nor receives.
type Unpower struct{ Unit int }

// Shift lifts a unit's own ground to Volts above the ground rail while the supply
// is on.
type Shift struct {
	Unit  int
	Volts float64
}

// Stick makes a transceiver send dominant all the time while the supply is on.
type Stick struct{ Transceiver int }

// check tells whether the unit is there, and the volts are a number.
func (s Shift) check(c *netlist.Circuit) error {
	if s.Unit < 0 || s.Unit >= len(c.Units) || math.IsNaN(s.Volts) || math.IsInf(s.Volts, 0) {
		return fmt.Errorf("solve: no unit %d, or %v V", s.Unit, s.Volts)
	}
	return nil
}

func (u Unpower) check(c *netlist.Circuit) error {
	if u.Unit < 0 || u.Unit >= len(c.Units) {
		return fmt.Errorf("solve: no unit %d", u.Unit)
	}
	return nil
}

func (s Stick) check(c *netlist.Circuit) error {
	if s.Transceiver < 0 || s.Transceiver >= len(c.Transceivers) {
		return fmt.Errorf("solve: no transceiver %d", s.Transceiver)
	}
	return nil
}

func (p Part) check(c *netlist.Circuit) error {
	if p.Element < 0 || p.Element >= len(c.Elements) {
		return fmt.Errorf("solve: no element %d", p.Element)
	}
	return nil
}

// finite tells whether ohms are a resistance.
func finite(ohms float64) error {
	if !(ohms >= 0) || math.IsInf(ohms, 0) {
		return fmt.Errorf("solve: %v ohms; a resistance is finite and not negative", ohms)
	}
	return nil
}

func (Unplug) change()  {}
func (Unpower) change() {}
func (Shift) change()   {}
func (Stick) change()   {}
func (Part) change()    {}
func (Insert) change()  {}
func (Replace) change() {}
func (Bridge) change()  {}

// Quantity is what a meter is set to.
type Quantity int

// The quantities.
const (
	Ohms Quantity = iota
	Volts
)

func (q Quantity) String() string {
	if q == Volts {
		return "volts"
	}
	return "ohms"
}

// Unit gives the quantity's unit sign.
func (q Quantity) Unit() string {
	if q == Volts {
		return "V"
	}
	return "Ω"
}

// Meter is how an instrument itself acts on what it reads. Its errors are not
// its concern; package faults has those.
type Meter struct {
	// RangeOhms is the greatest resistance that it shows; above it shows OL.
	RangeOhms float64
	// LeadOhms is added to every resistance; 0 for leads that were zeroed.
	LeadOhms float64
	// InputOhms loads the points in a voltage reading.
	InputOhms float64
}

// DefaultMeter is a common hand-held multimeter: 40 MΩ greatest range (from
// memory), leads zeroed, 10 MΩ input (meter manuals).
func DefaultMeter() Meter {
	return Meter{RangeOhms: 40e6, InputOhms: 10e6}
}

// Value is what a meter shows: a number in ohms or volts, or OL (over limit)
// where the resistance is above the meter's range or the points are apart.
type Value struct {
	Number float64
	OL     bool
}

// Over is the value OL.
func Over() Value { return Value{Number: math.NaN(), OL: true} }

// ParseValue reads what a meter shows: a number in ohms or volts (60.4), or OL. It takes
// numbers from −1e6 to 1e12, beyond which no meter goes.
func ParseValue(text string) (Value, error) {
	text = strings.TrimSpace(text)
	if strings.EqualFold(text, "OL") {
		return Over(), nil
	}
	n, err := strconv.ParseFloat(text, 64)
	if err != nil || !(n >= -1e6 && n <= 1e12) {
		return Value{}, fmt.Errorf("%q is neither a number as a meter shows it (60.4) nor OL", text)
	}
	return Value{Number: n}, nil
}

func (v Value) String() string {
	if v.OL {
		return "OL"
	}
	return fmt.Sprintf("%.6g", v.Number)
}

// FormatReading writes a value the way a meter shows it, with its unit: 0.31 Ω,
// 59.9 Ω, 14.23 kΩ, 2.500 V, OL.
func FormatReading(q Quantity, v Value) string {
	switch n := v.Number; {
	case v.OL:
		return "OL"
	case q == Volts:
		return fmt.Sprintf("%.3f V", n)
	case n >= 999950:
		return fmt.Sprintf("%.2f MΩ", n/1e6)
	case n >= 999.95:
		return fmt.Sprintf("%.2f kΩ", n/1e3)
	case n >= 9.995:
		return fmt.Sprintf("%.1f Ω", n)
	default:
		return fmt.Sprintf("%.2f Ω", n)
	}
}
