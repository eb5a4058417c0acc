package solve

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve/twofold"
)

// ExactPorts sees a net from ports as [Ports] does, without anything that stands
// for open or for none: what parts is parted by structure, what is joined ideally
// is joined, and the net is eliminated in numbers of twice the digits. It gives
// what [Assemble] gives for the same changes (TestExactPortsAgreeWithNets), and
// takes more of them: a joint that parts, a module that loses its supply, a ground
// that is lifted, whatever ties a floating part to another.
//
// The changes become strands ([ExactPorts.Lay]); which of them matter and what is
// apart then is found by structure ([ExactPorts.Settle]); what strands and meters
// see of each other ([ExactPorts.See]) makes a small symmetric system, factorised
// by [twofold.Symmetric]. A bridge is one unknown current; what is put in series
// with an element is one unknown voltage, so that an element of 0 Ω can part as any
// other (the hybrid form of the Woodbury identity, in which an open is 0 and not a
// large number).
//
// It is safe for concurrent use, but for [ExactPorts.Settle] into one Settled.
type ExactPorts struct {
	net   *Net
	mesh  *mesh
	links []strandLink // by element, then one for each tie
	rails [][2]int32   // nodes that sources hold together
	label []uint64     // by link
	ties  []ExactStrand
	state *Field // the condition's sources; nil with the supply off
	nodes int
	// The net as it is: points that are one, and parts; nil until they are known.
	ideal, whole *disjoint.Sets

	mu     sync.Mutex
	joints map[int]*jointCut
}

// strandLink is an element as a graph sees it, or the tie of a floating part.
type strandLink struct {
	a, b    int32 // nodes; −1 where it is not there
	ideal   bool
	siemens float64
	volts   float64
	tie     bool
}

// jointCut is an ideal link that a change may part: what lies on its far side.
type jointCut struct {
	terms []seenTerm
	side  []int32 // nodes there
	lift  float64 // of those nodes, for 1 V in the joint
	drive twofold.Number
	field *Field
	err   error
}

// seenTerm is how much of a node's potential a strand sees: in parts of 1 for a
// bridge, in siemens for an element.
type seenTerm struct {
	node   int32
	weight float64
}

// ExactStrand is a change as [ExactPorts] sees it: a bridge, or what is put in
// series with an element.
type ExactStrand struct {
	link  int // in series with it; −1 for a bridge
	ohms  float64
	volts float64
	// What it sees of a field is the sum of terms, and drive of the sources' own; a
	// bridge has ends, some perhaps along wires.
	terms []seenTerm
	drive twofold.Number
	ends  [2]Spot
	spots []wireSpot
	// Of an element that is in series: its own, or how a joint parts.
	siemens float64
	joint   *jointCut
}

// wireSpot is where a bridge attaches along a wire.
type wireSpot struct {
	element        int
	fraction, sign float64
}

// Bridge tells whether the strand is a bridge; else it is in series with an element.
func (s *ExactStrand) Bridge() bool { return s.link < 0 }

// Ohms is what stands in the strand, +Inf where it parts.
func (s *ExactStrand) Ohms() float64 { return s.ohms }

// Volts is a source in series with the element; with 0 Ω there is nothing else.
func (s *ExactStrand) Volts() float64 { return s.volts }

// Splits tells whether the strand is in series with an ideal joint, which makes two
// points of one.
func (s *ExactStrand) Splits() bool { return s.joint != nil }

// Nodes are two nodes on which the strand acts, one for each end.
func (s *ExactStrand) Nodes() (a, b int) {
	return int(s.terms[0].node), int(s.terms[len(s.terms)-1].node)
}

// Own is what the ohms add to the strand's own place in the small system.
func (s *ExactStrand) Own() twofold.Number {
	switch {
	case s.Bridge():
		return twofold.From(s.ohms)
	case math.IsInf(s.ohms, 1):
		return twofold.Number{}
	}
	return twofold.Inverse(s.ohms).Neg()
}

// SamePort tells whether two strands differ in what stands in them at most.
func (s *ExactStrand) SamePort(t *ExactStrand) bool {
	if s.link >= 0 || t.link >= 0 {
		return s.link == t.link
	}
	return s.ends == t.ends
}

// Field holds the potentials that 1 A through a bridge makes, or 1 V in series with
// an element, or the condition's own sources.
type Field struct {
	of    *ExactStrand // nil for the sources
	volts []twofold.Number
}

// NewExactPorts makes a circuit ready in one condition.
func NewExactPorts(c *netlist.Circuit, condition Condition) (*ExactPorts, error) {
	n, err := Assemble(c, condition, nil)
	if err != nil {
		return nil, err
	}
	parted, err := c.Unplug(condition.Unplugged...)
	if err != nil {
		return nil, fmt.Errorf("solve: %w", err)
	}
	p := &ExactPorts{net: n, nodes: len(c.Nodes), joints: map[int]*jointCut{}}
	for i := range c.Elements {
		e := &c.Elements[i]
		l := strandLink{a: -1, b: -1}
		switch bs := n.of[i]; {
		case len(bs) == 1:
			b := &n.branches[bs[0]]
			l = strandLink{a: int32(e.A), b: int32(e.B), siemens: b.siemens, volts: b.volts}
		case n.class[e.A] == n.class[e.B] && !slices.Contains(parted, i) && !n.shifted(i) &&
			(e.Kind == netlist.Joint || p.law(i).Ohms(nil) == 0):
			l = strandLink{a: int32(e.A), b: int32(e.B), ideal: true}
		}
		p.links = append(p.links, l)
	}
	node := make([]int32, n.classes) // one of each class
	for i := len(c.Nodes) - 1; i >= 0; i-- {
		node[n.class[i]] = int32(i)
	}
	for _, k := range slices.Sorted(maps.Keys(n.fixed)) {
		if node[k] != netlist.GroundNode {
			p.rails = append(p.rails, [2]int32{netlist.GroundNode, node[k]})
		}
	}
	var ties []int
	tied := make([]bool, len(n.parts))
	for k, part := range n.partOf {
		if !n.parts[part].anchored && !tied[part] {
			tied[part] = true
			ties = append(ties, k)
			p.links = append(p.links, strandLink{a: node[k], b: netlist.GroundNode, siemens: tieSiemens, tie: true})
		}
	}
	p.mesh = newMesh(n, ties)
	for i := range p.links {
		if p.links[i].tie {
			t, err := p.series(i, math.Inf(1), 0)
			if err != nil {
				return nil, err
			}
			p.ties = append(p.ties, t)
		}
	}
	p.findLabels()
	var asIs Settled
	if err := p.Settle(nil, &asIs); err != nil {
		return nil, err
	}
	p.ideal, p.whole = &asIs.ideal, &asIs.whole
	if condition.Supply == Idle {
		p.state = p.sources()
	}
	return p, nil
}

// law is an element's law in the condition.
func (p *ExactPorts) law(element int) netlist.Law {
	e := &p.net.circuit.Elements[element]
	if p.net.condition.Supply != Idle {
		return e.Off
	}
	return e.Awake
}

// shifted tells whether an element is a ground that the condition holds off the rail.
func (n *Net) shifted(element int) bool {
	for i := range n.shift {
		if n.circuit.Units[i].GroundElement == element {
			return true
		}
	}
	return false
}

// sources solves for the condition's own sources.
func (p *ExactPorts) sources() *Field {
	n := p.net
	v := make([]twofold.Number, n.classes)
	held := make([]bool, n.classes)
	for k := range n.fixed {
		held[k] = true
	}
	for _, b := range n.branches {
		if b.a == b.b {
			continue
		}
		g := twofold.From(b.siemens)
		put := func(k, other int, e float64) {
			if held[k] {
				return
			}
			x := twofold.From(e)
			if held[other] {
				x = x.Add(twofold.From(n.fixed[other]))
			}
			v[k] = v[k].Add(g.Mul(x))
		}
		put(b.a, b.b, b.volts)
		put(b.b, b.a, -b.volts)
	}
	p.mesh.solve(v)
	for k, x := range n.fixed {
		v[k] = twofold.From(x)
	}
	f := &Field{volts: make([]twofold.Number, p.nodes)}
	for i := range f.volts {
		f.volts[i] = v[n.class[i]]
	}
	return f
}

// State is the field of the condition's own sources; nil with the supply off.
func (p *ExactPorts) State() *Field { return p.state }

// FieldScratch is what [ExactPorts.Field] works in.
type FieldScratch struct{ byClass []twofold.Number }

// Field works out a strand's potentials; into is reused where it is not nil.
func (p *ExactPorts) Field(s *ExactStrand, into *Field, scratch *FieldScratch) *Field {
	n := p.net
	if into == nil {
		into = &Field{volts: make([]twofold.Number, p.nodes)}
	}
	into.of = s
	if cap(scratch.byClass) < n.classes {
		scratch.byClass = make([]twofold.Number, n.classes)
	}
	v := scratch.byClass[:n.classes]
	clear(v)
	for _, t := range s.terms {
		k := n.class[t.node]
		v[k] = v[k].Add(twofold.From(t.weight))
	}
	for k := range n.fixed {
		v[k] = twofold.Number{}
	}
	p.mesh.solve(v)
	for i := range into.volts {
		into.volts[i] = v[n.class[i]]
	}
	if s.joint != nil {
		for _, k := range s.joint.side {
			into.volts[k] = into.volts[k].Add(twofold.From(s.joint.lift))
		}
	}
	return into
}

// See is what a strand sees of a field: the volts between a bridge's ends, the
// amperes in an element. It is symmetric: See(a, field of b) is See(b, field of a).
func (p *ExactPorts) See(s *ExactStrand, f *Field) twofold.Number {
	of := f.of
	if s.joint != nil && of != nil && of.joint == nil {
		// What flows into the far side through a bridge's end there, or is put
		// into an element there, would have to be told apart; the other way round
		// there is nothing to tell.
		return p.See(of, s.joint.field)
	}
	if of != nil && s.link >= 0 && of.link >= 0 && (p.label[s.link] == 0 || p.label[of.link] == 0) {
		return twofold.Number{} // all that holds two parts together: nothing flows round
	}
	var sum twofold.Number
	for _, t := range s.terms {
		x := f.volts[t.node]
		switch t.weight {
		case 1:
			sum = sum.Add(x)
		case -1:
			sum = sum.Sub(x)
		default:
			sum = sum.Add(x.Times(t.weight))
		}
	}
	if of == nil {
		return sum.Add(s.drive)
	}
	switch {
	case s.link >= 0 && s.link == of.link && s.joint == nil:
		sum = sum.Sub(twofold.From(s.siemens))
	case s.link >= 0 && of.link < 0:
		sum = sum.Add(before(of.spots, s.link))
	case s.link < 0 && of.link >= 0:
		sum = sum.Add(before(s.spots, of.link))
	default:
		for _, x := range s.spots {
			for _, y := range of.spots {
				if x.element == y.element {
					low, high := math.Min(x.fraction, y.fraction), math.Max(x.fraction, y.fraction)
					z := twofold.Product(low, 1-high).Div(twofold.From(p.links[x.element].siemens))
					sum = sum.Add(z.Times(x.sign * y.sign))
				}
			}
		}
	}
	return sum
}

// before corrects for a spot on a wire that something is put in series with, at the
// wire's A end and so before the spot.
func before(spots []wireSpot, element int) twofold.Number {
	var sum twofold.Number
	for _, x := range spots {
		if x.element == element {
			sum = sum.Sub(twofold.From(x.sign).Times(1 - x.fraction))
		}
	}
	return sum
}

// SeeFloat is See in float64, for strands that have no link and no wire in common
// with the field's; it is the fast way where it loses nothing.
func (p *ExactPorts) SeeFloat(s *ExactStrand, f *Field) float64 {
	if a, b, weight, ok := s.Simple(); ok {
		// Either the upper halves differ exactly, or they are so unlike that
		// rounding their difference costs nothing.
		return weight * f.Between(a, b)
	}
	return p.See(s, f).Float()
}

// Between is the volts from one node to another.
func (f *Field) Between(a, b int32) float64 {
	x, y := &f.volts[a], &f.volts[b]
	return (x.Hi - y.Hi) + (x.Lo - y.Lo)
}

// Simple tells whether what the strand sees of a field is the volts between two nodes
// times a weight, as long as the field's strand has no link or wire in common with it.
func (s *ExactStrand) Simple() (a, b int32, weight float64, ok bool) {
	if len(s.terms) != 2 || s.joint != nil || s.terms[0].weight != -s.terms[1].weight {
		return 0, 0, 0, false
	}
	return s.terms[0].node, s.terms[1].node, s.terms[0].weight, true
}

// Meter is the strand of a meter's leads, red on from.
func (p *ExactPorts) Meter(from, to int) ExactStrand {
	return ExactStrand{link: -1, ends: [2]Spot{AtNode(from), AtNode(to)}, terms: []seenTerm{{int32(from), 1}, {int32(to), -1}}}
}

// Read takes a reading with changes laid in: what [Assemble] with them and
// [Net.Read] give. It works everything out for this one reading.
func (p *ExactPorts) Read(q Quantity, from, to int, meter Meter, changes ...Change) (Value, error) {
	if q == Ohms && p.state != nil {
		return Value{}, ErrSupplyOn
	}
	for _, lead := range []int{from, to} {
		if err := AtNode(lead).check(p.net.circuit); err != nil {
			return Value{}, err
		}
	}
	laid, err := p.Lay(changes)
	if err != nil {
		return Value{}, err
	}
	all := make([]*ExactStrand, len(laid))
	for i := range laid {
		all[i] = &laid[i]
	}
	var s Settled
	if err := p.Settle(all, &s); err != nil {
		return Value{}, err
	}
	switch {
	case s.Apart(from, to) && q == Ohms:
		return Over(), nil
	case s.Apart(from, to):
		return Value{}, nil
	}
	var scratch FieldScratch
	lead := p.Meter(from, to)
	probe := p.Field(&lead, nil, &scratch)
	var fields []*Field
	for _, t := range s.Strands {
		fields = append(fields, p.Field(t, nil, &scratch))
	}
	across := p.See(&lead, probe)
	var volts twofold.Number
	if p.state != nil {
		volts = p.See(&lead, p.state)
	}
	var system twofold.Symmetric
	var rows []int
	for i, t := range s.Strands {
		volts = volts.Add(p.See(&lead, fields[i]).Times(t.volts))
		if t.ohms != 0 || t.Bridge() {
			rows = append(rows, i)
		}
	}
	m := len(rows)
	system.Reset(m)
	b, drive := make([]twofold.Number, m), make([]twofold.Number, m)
	for k, i := range rows {
		t := s.Strands[i]
		for j := 0; j < k; j++ {
			system.Set(k, j, p.See(t, fields[rows[j]]))
		}
		system.Set(k, k, p.See(t, fields[i]).Add(t.Own()))
		b[k] = p.See(&lead, fields[i])
		if p.state != nil {
			drive[k] = p.See(t, p.state)
			for j, u := range s.Strands {
				if u.volts != 0 {
					drive[k] = drive[k].Add(p.See(t, fields[j]).Times(u.volts))
				}
			}
		}
	}
	if !system.Factor() {
		return Value{}, ErrNoPort
	}
	w, d := make([]twofold.Number, m), make([]twofold.Number, m)
	system.Reduce(b, w)
	system.Reduce(drive, d)
	for k := range w {
		x := w[k].Div(system.Pivot(k))
		across = across.Sub(x.Mul(w[k]))
		volts = volts.Sub(x.Mul(d[k]))
	}
	if s.Joined(from, to) {
		across = twofold.Number{}
	}
	return meter.Shown(q, across.Float(), volts.Float()), nil
}
