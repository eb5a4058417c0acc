package derivation

import (
	"errors"
	"fmt"
	"math"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// ErrNotAtRest says that a derivation was asked for of something other than a
// resistance with the supply off or a voltage with it on and nobody sending.
var ErrNotAtRest = errors.New("derivation: only ohms with the supply off and volts with modules awake and none sending are derived")

// Question is a reading to be explained.
type Question struct {
	// Quantity Ohms wants Condition.Supply Off, Volts wants Idle.
	Quantity  solve.Quantity
	Condition solve.Condition
	// From and To are the nodes of the red and the black lead, indices of
	// Circuit.Nodes.
	From, To int
	// Meter that takes the reading; solve.Meter{} is an ideal one.
	Meter solve.Meter
	// Changes are what is wrong with the harness; none for healthy wiring.
	Changes []solve.Change
	// Fault names them for people; may be empty.
	Fault string
}

// Derivation is a reading worked out step by step.
type Derivation struct {
	Quantity  solve.Quantity
	Condition solve.Condition
	// From and To name the points of the red and the black lead.
	From, To string
	// Fault is the question's.
	Fault string
	// Value is what the meter shows.
	Value solve.Value
	// Open says that nothing joins the two points; Apart then tells why, and there
	// are no steps.
	Open  bool
	Apart *Apart
	// Ohms between the points, without the meter, and with the supply on the Volts
	// that stand there while no meter loads them.
	Ohms, Volts float64
	// Held are the points that the supply and lifted grounds hold at a voltage.
	Held []Held
	// Resistances are the harness's own, then those that steps make of them.
	Resistances []Resistance
	// Steps lead to Result, an index of Resistances; −1 where the two points are
	// joined or held, so that there is nothing to work out.
	Steps  []Step
	Result int
	// Equivalents are what stands, at places where a Mesh begins, for all that hangs
	// beyond them as seen from the leads.
	Equivalents []Equivalent
	// FromHeld and ToHeld are the volts that a lead's own point is held at, for a
	// lead on the supply or a lifted ground; the result is from ground then.
	FromHeld, ToHeld float64
	// Terms add up to the reading.
	Terms []Term
	// Weights says how far each element moves the reading, the greatest first.
	Weights []Weight
	// Sources says what each source gives of a voltage, the greatest first.
	Sources []Source
	Meter   solve.Meter

	circuit *netlist.Circuit
	still   bool // sources are at work, all of one voltage, and no current flows
}

// Held is a point at a voltage of its own, in volts to ground.
type Held struct {
	Point string
	Volts float64
}

// Kind is what a Resistance stands for.
type Kind string

// The kinds of resistances.
const (
	Wire       Kind = "wire"
	Contact    Kind = "contact"
	Terminator Kind = "terminator"
	Input      Kind = "input"
	Load       Kind = "load"
	Stray      Kind = "stray"
	Fault      Kind = "fault"
	Derived    Kind = "derived"
)

// Resistance is one resistance of the paper: an element of the harness, or what a
// step made of several.
type Resistance struct {
	// Name of an element of the harness; R1, R2 ... for what steps made.
	Name string
	Kind Kind
	// Part of the harness that an element belongs to.
	Part string
	// A and B name the points that it lies between.
	A, B string
	// Fold says that it stands for both conductors of a harness that was folded or
	// tied. In a Loop B is Middle where it lies between the conductors.
	Fold Folding
	Ohms float64
	// Volts of the source in series with it, supply on: without current A lies
	// this much above B.
	Volts float64
	// Elements are the names of the harness's elements that it is made of. Those of
	// the sides of a triangle are all that were in the star.
	Elements []string
	// Share is what would be lost of the resistance between the leads if this one
	// were an ideal joint, to first order: R·dA/dR, as a part of the whole.
	Share float64

	a, b int
	kin  []int // elements: indices of Resistances
	// meshed says that a side of a mesh is in it, so that what it is made of is in
	// others as well.
	meshed bool
}

// Folding says how two conductors have become one on paper.
type Folding string

// Loop has both conductors one behind the other, there and back; Tied has them side
// by side.
const (
	Loop Folding = "loop"
	Tied Folding = "tied"
)

// Operation is what a step does.
type Operation string

// The operations.
const (
	// Drop leaves out what carries no current between the leads.
	Drop Operation = "drop"
	// Fold lays one conductor on the other.
	Fold Operation = "fold"
	// Tie lays one conductor beside the other, as if they were tied together all along.
	Tie Operation = "tie"
	// Quarter adds, for a lead on one of two conductors that are alike, what both of
	// them tied together make and a quarter of what lies between them.
	Quarter Operation = "quarter"
	// Hold makes of every resistance to a point at a known voltage one to ground
	// with that voltage in series.
	Hold Operation = "hold"
	// Series joins a chain of resistances, Parallel those between the same points.
	Series   Operation = "series"
	Parallel Operation = "parallel"
	// Mesh takes a point out: its star of resistances becomes one resistance for
	// each two neighbours.
	Mesh Operation = "mesh"
)

// Step makes Outputs of Inputs, both indices of Derivation.Resistances.
type Step struct {
	Operation Operation
	// At is the point where what is dropped hangs (empty where it hangs on
	// nothing), or the point that a Mesh takes out.
	At      string
	Inputs  []int
	Outputs []int
}

// Equivalent is a few resistances in place of a whole branch of the harness.
type Equivalent struct {
	// Points of the place: S4.H, S4.L.
	Points []string
	// Resistances lie between them, and from them to rails; indices of
	// Derivation.Resistances.
	Resistances []int
	// BeforeStep is the index of the step before which they stand.
	BeforeStep int

	place int
}

// Middle names, in a folded harness, all points that lie half-way between the two
// conductors.
const Middle = "the middle"

// Explain works a reading out. The error says what is wrong with the question, with
// its changes or with the numbers of the harness, as package solve does.
func Explain(c *netlist.Circuit, q Question) (*Derivation, error) {
	if q.Quantity == solve.Ohms && q.Condition.Supply != solve.Off || q.Quantity == solve.Volts && q.Condition.Supply != solve.Idle {
		return nil, ErrNotAtRest
	}
	net, err := solve.Assemble(c, q.Condition, nil, q.Changes...)
	if err != nil {
		return nil, err
	}
	for _, ch := range q.Changes {
		if _, sends := ch.(solve.Stick); sends && q.Quantity == solve.Volts {
			return nil, fmt.Errorf("%w; %s", ErrNotAtRest, Describe(c, ch))
		}
	}
	r, err := net.Respond(q.Quantity, q.From, q.To, q.Meter)
	if err != nil {
		return nil, err
	}
	d := &Derivation{
		Quantity: q.Quantity, Condition: q.Condition, Fault: q.Fault, Meter: q.Meter,
		From: c.Nodes[q.From].Name, To: c.Nodes[q.To].Name,
		Value: r.Value(), Result: -1, circuit: c,
	}
	p := newPaper(d, net, q)
	ohms, joined := r.Ohms()
	if d.Open = !joined; d.Open {
		if d.Apart, err = explainApart(p, q); err != nil {
			return nil, err
		}
	} else {
		p.work()
		d.listElements()
		if err := d.finish(p, r, ohms); err != nil {
			return nil, err
		}
	}
	if d.Terms, err = explainTerms(c, q); err != nil {
		return nil, err
	}
	return d, nil
}

// listElements names the elements that what steps made is made of.
func (d *Derivation) listElements() {
	for i := range d.Resistances {
		if r := &d.Resistances[i]; r.Elements == nil {
			r.Elements = make([]string, len(r.kin))
			for n, k := range r.kin {
				r.Elements[n] = d.Resistances[k].Name
			}
		}
	}
}

// finish takes what the paper came to and holds it against the solver.
func (d *Derivation) finish(p *paper, r *solve.Response, ohms float64) error {
	if d.Result >= 0 {
		end := &d.Resistances[d.Result]
		d.Ohms, d.Volts = end.Ohms, end.Volts
		if end.a != p.from {
			d.Volts = -d.Volts
		}
	}
	d.Volts += d.FromHeld - d.ToHeld
	if !agree(d.Ohms, ohms) {
		return fmt.Errorf("derivation: %s to %s comes to %v Ω step by step, but to %v Ω by nodal analysis", d.From, d.To, d.Ohms, ohms)
	}
	if d.Quantity == solve.Volts {
		shown := d.Meter.Shown(solve.Volts, d.Ohms, d.Volts).Number
		if !(math.Abs(shown-d.Value.Number) <= 1e-6) {
			return fmt.Errorf("derivation: %s to %s comes to %v V step by step, but to %v V by nodal analysis", d.From, d.To, shown, d.Value.Number)
		}
	}
	d.weigh(p, r)
	return nil
}

// agree holds two resistances against each other; what rounding leaves of 5 mΩ
// beside megohms is not worth a word.
func agree(a, b float64) bool {
	return math.Abs(a-b) <= 1e-6*math.Max(math.Abs(a), math.Abs(b))+1e-9
}
