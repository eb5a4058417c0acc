package solve

import (
	"maps"
	"slices"
)

// Branch is one resistance of an assembled net, for those who want to work a
// reading out by another way: an element, a piece of a wire that bridges cut, or a
// bridge.
type Branch struct {
	// A and B are node classes, see [Net.Class]: what ideal joints merge is one.
	A, B int
	// Ohms in all, Volts of the series source: the current from A to B is
	// (V_A − V_B − Volts) / Ohms.
	Ohms, Volts float64
	// Element is an index of Circuit.Elements, −1 for a bridge.
	Element int
	// From and To are the fractions of the element between which the branch lies;
	// 0 and 1 but for a wire that is cut.
	From, To float64
	// InsertOhms are those of Ohms that an [Insert] put there.
	InsertOhms float64
	// Bridge is the index of a bridge among the changes given, −1 for an element.
	Bridge int
}

// Branches lists the net's resistances: elements in the order of the circuit, then
// bridges in the order of the changes. What is open or an ideal joint is not there.
func (n *Net) Branches() []Branch {
	out := make([]Branch, len(n.branches))
	for i, b := range n.branches {
		out[i] = Branch{A: b.a, B: b.b, Ohms: 1 / b.siemens, Volts: b.volts, Element: b.element, From: b.from, To: b.from + b.share, InsertOhms: b.extra, Bridge: -1}
		if b.element < 0 {
			out[i].From, out[i].To, out[i].Bridge = 0, 1, b.bridge
		}
	}
	return out
}

// Classes is the number of node classes.
func (n *Net) Classes() int { return n.classes }

// Class is the node class of a node of the circuit. Further classes are places on
// wires where bridges attach.
func (n *Net) Class(node int) int { return n.class[node] }

// Held gives the potentials in volts, by node class, that rails and shifted grounds
// are held at.
func (n *Net) Held() map[int]float64 { return maps.Clone(n.fixed) }

// Potentials gives the volts of each node class, first with 1 A in at the red lead
// and out at the black one (nil for an OL reading), then as the reading finds them,
// with the condition's sources and without the meter's load (nil for a resistance).
// They are those of the net as assembled, so not for a response of
// [Variation.Apply].
func (r *Response) Potentials() (probe, drive []float64) {
	if r.quantity == Volts {
		drive = slices.Clone(r.drive)
	}
	return slices.Clone(r.probe), drive
}
