package solve

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
)

// branch is one resistive element of an assembled net, between node classes.
type branch struct {
	a, b    int          // classes
	siemens float64      // > 0
	volts   float64      // series source: current a→b is siemens·(V_a − V_b − volts)
	element int          // index of Circuit.Elements, −1 for a bridge
	law     *netlist.Law // of that element in this net
	// share is the part of the element's resistance that this branch stands
	// for: below 1 where a bridge splits a wire.
	share float64
	// from is the fraction of the element at which it begins, bridge the index of
	// a bridge among the changes.
	from   float64
	bridge int
	// extra ohms in the branch that are not the element's own.
	extra float64
	// replaced says that the element's own law does not count.
	replaced bool
}

// Net is a circuit in one condition with its changes made: ideal joints merged
// into node classes, open elements left out, separate parts known. It is made by
// [Assemble]; it solves on demand and does not change.
type Net struct {
	circuit   *netlist.Circuit
	condition Condition
	z         []float64
	class     []int // node: class
	classes   int
	branches  []branch
	fixed     map[int]float64 // class: potential in volts
	parts     []*part
	partOf    []int           // class: part
	slot      []int           // class: row in its part's matrix, −1 for a reference
	of        [][]int         // element: its branches
	powered   []bool          // unit: it has supply and ground
	stuck     []bool          // transceiver: it sends dominant all the time
	shift     map[int]float64 // unit: volts of its ground above the rail
	volts     []float64       // state with the condition's sources; nil until asked for
}

// laid is what the changes make of one element.
type laid struct {
	law     netlist.Law
	insert  float64
	replace float64 // NaN where not replaced
	parted  bool
	splits  []split
}

type split struct {
	fraction float64
	node     int
}

// Assemble lays a condition and changes over a circuit. z are standard
// parameters, one for each of the circuit's Parameters from −1 to 1; nil takes
// the middle of every range. The error says which change or connector is wrong.
func Assemble(c *netlist.Circuit, condition Condition, z []float64, changes ...Change) (*Net, error) {
	if z != nil && len(z) != len(c.Parameters) {
		return nil, fmt.Errorf("solve: %d parameters given, the circuit has %d", len(z), len(c.Parameters))
	}
	n := &Net{circuit: c, condition: condition, z: z}
	elements := make([]laid, len(c.Elements))
	for i, e := range c.Elements {
		elements[i].law = e.Off
		if condition.Supply == Idle {
			elements[i].law = e.Awake
		}
		elements[i].replace = math.NaN()
	}
	unplugged := slices.Clone(condition.Unplugged)
	for _, ch := range changes {
		if u, ok := ch.(Unplug); ok && !slices.Contains(unplugged, u.Connector) {
			unplugged = append(unplugged, u.Connector)
		}
	}
	parted, err := c.Unplug(unplugged...)
	if err != nil {
		return nil, fmt.Errorf("solve: %w", err)
	}
	for _, e := range parted {
		elements[e].parted = true
	}
	n.powered = make([]bool, len(c.Units))
	n.stuck = make([]bool, len(c.Transceivers))
	n.shift = map[int]float64{}
	for i, u := range c.Units {
		n.powered[i] = condition.Supply == Idle && !elements[u.GroundElement].parted
		if u.GroundVolts != 0 {
			n.shift[i] = u.GroundVolts
		}
	}

	nodes := len(c.Nodes)
	var bridges []Bridge // with both spots made nodes
	var bridgeOf []int   // bridge: index of its change
	place := func(s Spot) (Spot, error) {
		if err := s.check(c); err != nil {
			return s, err
		}
		switch {
		case s.Wire < 0:
			return s, nil
		case s.Fraction == 0:
			return AtNode(c.Elements[s.Wire].A), nil
		case s.Fraction == 1:
			return AtNode(c.Elements[s.Wire].B), nil
		}
		elements[s.Wire].splits = append(elements[s.Wire].splits, split{s.Fraction, nodes})
		nodes++
		return AtNode(nodes - 1), nil
	}
	resistive := func(i int, ohms float64) error {
		if err := (Part{i}).check(c); err != nil {
			return err
		}
		if c.Elements[i].Kind == netlist.Joint {
			return fmt.Errorf("solve: %s is an ideal joint, it has no ohms", c.Elements[i].Name)
		}
		return finite(ohms)
	}
	for i, ch := range changes {
		var err error
		switch ch := ch.(type) {
		case Unplug: // done above
		case Unpower:
			if err = ch.check(c); err == nil {
				n.powered[ch.Unit] = false
			}
		case Shift:
			if err = ch.check(c); err == nil {
				n.shift[ch.Unit] += ch.Volts
			}
		case Stick:
			if err = ch.check(c); err == nil {
				n.stuck[ch.Transceiver] = condition.Supply == Idle
			}
		case Part:
			if err = ch.check(c); err == nil {
				elements[ch.Element].parted = true
			}
		case Insert:
			if err = resistive(ch.Element, ch.Ohms); err == nil {
				elements[ch.Element].insert += ch.Ohms
			}
		case Replace:
			if err = resistive(ch.Element, ch.Ohms); err == nil {
				elements[ch.Element].replace = ch.Ohms
			}
		case Bridge:
			if err = finite(ch.Ohms); err != nil {
				break
			}
			if ch.gone(unplugged) {
				break
			}
			if ch.From, err = place(ch.From); err != nil {
				break
			}
			if ch.To, err = place(ch.To); err == nil {
				bridges = append(bridges, ch)
				bridgeOf = append(bridgeOf, i)
			}
		default:
			err = fmt.Errorf("solve: unknown change %T", ch)
		}
		if err != nil {
			return nil, err
		}
	}

	n.power(elements)

	u := disjoint.New(nodes)
	n.branches = make([]branch, 0, len(elements)+len(bridges))
	add := func(from, to int, ohms float64, b branch) {
		if ohms == 0 {
			u.Join(from, to)
			return
		}
		b.siemens = 1 / ohms
		if b.siemens == 0 || math.IsInf(ohms, 1) {
			return // open
		}
		b.a, b.b = from, to // nodes, until the classes are known
		n.branches = append(n.branches, b)
	}
	for i := range elements {
		e, l := &c.Elements[i], &elements[i]
		if l.parted && len(l.splits) == 0 {
			continue
		}
		if e.Kind == netlist.Joint {
			u.Join(e.A, e.B)
			continue
		}
		if e.Kind == netlist.LoadElement && condition.Supply == Idle {
			continue // the rail is held by the supply itself
		}
		ohms, replaced := l.law.Ohms(z), false
		if !math.IsNaN(l.replace) {
			ohms, replaced = l.replace, true
		}
		if !(ohms >= 0) {
			return nil, fmt.Errorf("solve: %s: %v ohms; the parameters drive it out of range", e.Name, ohms)
		}
		b := branch{element: i, law: &l.law, volts: l.law.Volts.At(z), share: 1, replaced: replaced}
		if len(l.splits) == 0 {
			b.extra = l.insert
			add(e.A, e.B, ohms+l.insert, b)
			continue
		}
		// A wire cut into pieces by bridges that attach part of the way. An
		// inserted resistance sits at its A end.
		sortSplits(l.splits)
		from, done := e.A, 0.0
		for _, s := range append(l.splits, split{1, e.B}) {
			if l.parted && from == e.A {
				// A parted wire is parted at its A end; what attaches to it part of
				// the way stays on the rest.
				from, done = s.node, s.fraction
				continue
			}
			piece := b
			piece.share = s.fraction - done
			piece.from, piece.extra = done, 0
			if from == e.A {
				piece.extra = l.insert
			}
			add(from, s.node, ohms*piece.share+piece.extra, piece)
			from, done = s.node, s.fraction
		}
	}
	for i, b := range bridges {
		add(b.From.Node, b.To.Node, b.Ohms, branch{element: -1, bridge: bridgeOf[i]})
	}

	n.class = make([]int, nodes)
	number := make([]int, nodes)
	for i := range number {
		number[i] = -1
	}
	for i := range n.class {
		r := u.Find(i)
		if number[r] < 0 {
			number[r] = n.classes
			n.classes++
		}
		n.class[i] = number[r]
	}
	// An element's branches stand together.
	n.of = make([][]int, len(c.Elements))
	numbers := make([]int, len(n.branches))
	for i := range n.branches {
		b := &n.branches[i]
		b.a, b.b = n.class[b.a], n.class[b.b]
		numbers[i] = i
		if e := b.element; e >= 0 {
			since := i - len(n.of[e])
			n.of[e] = numbers[since : i+1 : i+1]
		}
	}
	if err := n.fix(); err != nil {
		return nil, err
	}
	n.findParts()
	return n, nil
}

// power lays over the elements which units have supply and which grounds are
// shifted, in a net with the supply on.
func (n *Net) power(elements []laid) {
	if n.condition.Supply != Idle {
		n.shift = nil
		return
	}
	for i, u := range n.circuit.Units {
		if elements[u.GroundElement].parted {
			n.powered[i] = false
			delete(n.shift, i)
		}
		if volts := n.shift[i]; volts != 0 {
			// The joint gives way to a potential of its own.
			elements[u.GroundElement].parted = true
		} else {
			delete(n.shift, i)
		}
		if !n.powered[i] {
			for _, e := range u.Inputs {
				elements[e].law = n.circuit.Elements[e].Off
			}
		}
	}
}

// fix holds the rails: ground always at 0 V, the supply when it is on, and the
// grounds of units that are shifted.
func (n *Net) fix() error {
	g, s := n.class[netlist.GroundNode], n.class[netlist.SupplyNode]
	n.fixed = map[int]float64{g: 0}
	for i, volts := range n.shift {
		e := &n.circuit.Elements[n.circuit.Units[i].GroundElement]
		own := n.class[e.A]
		if own == g || own == s {
			return ErrGroundsJoined
		}
		n.fixed[own] = volts
	}
	if n.condition.Supply != Idle {
		return nil
	}
	if g == s {
		return ErrSupplyShorted
	}
	for _, e := range n.circuit.Elements {
		if e.Kind == netlist.LoadElement {
			n.fixed[s] = e.Awake.Volts.At(n.z)
		}
	}
	return nil
}
