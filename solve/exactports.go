package solve

import (
	"fmt"
	"math"
	"math/bits"
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
	link    int // in series with it; −1 for a bridge
	ohms    float64
	volts   float64
	terms   []seenTerm
	spots   []wireSpot
	ends    [2]Spot
	siemens float64
	drive   twofold.Number
	joint   *jointCut
	through []string
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
	for _, k := range slices.Sorted(keys(n.fixed)) {
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

func keys(m map[int]float64) func(yield func(int) bool) {
	return func(yield func(int) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
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

// findLabels gives each link 64 bits such that the labels of any set of links whose
// loss parts the net add up to nothing (by exclusive or): every loop's links have a
// number of its own in common. A set whose labels are independent parts nothing;
// one whose labels are not does so but for one chance in 2⁶⁴, and is looked at.
func (p *ExactPorts) findLabels() {
	type arc struct{ to, link int32 }
	tree := make([][]arc, p.nodes)
	sum := make([]uint64, p.nodes)
	sets := disjoint.New(p.nodes)
	p.label = make([]uint64, len(p.links))
	add := func(a, b int32, link int) {
		if a < 0 {
			return
		}
		if sets.Find(int(a)) != sets.Find(int(b)) {
			sets.Join(int(a), int(b))
			tree[a] = append(tree[a], arc{b, int32(link)})
			tree[b] = append(tree[b], arc{a, int32(link)})
			return
		}
		x := scrambled(uint64(link) + 1)
		sum[a] ^= x
		sum[b] ^= x
		if link < len(p.label) {
			p.label[link] = x
		}
	}
	for i, r := range p.rails {
		add(r[0], r[1], len(p.links)+i)
	}
	for i, l := range p.links {
		add(l.a, l.b, i)
	}
	// Down each tree, and back up with what its nodes add up to.
	seen := make([]bool, p.nodes)
	for root := range tree {
		if seen[root] {
			continue
		}
		seen[root] = true
		order := []arc{{int32(root), -1}}
		from := []int32{-1}
		for i := 0; i < len(order); i++ {
			for _, x := range tree[order[i].to] {
				if !seen[x.to] {
					seen[x.to] = true
					order, from = append(order, x), append(from, order[i].to)
				}
			}
		}
		for i := len(order) - 1; i > 0; i-- {
			if link := int(order[i].link); link < len(p.label) {
				p.label[link] = sum[order[i].to]
			}
			sum[from[i]] ^= sum[order[i].to]
		}
	}
}

// scrambled is 64 bits that look like chance: the mixing function of SplitMix64
// (Steele, Lea and Flood, OOPSLA 2014; from memory).
func scrambled(x uint64) uint64 {
	x *= 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// Label is what a strand in series has for [Independent]; 0 for a bridge, and for an
// element that is all that holds two parts together.
func (p *ExactPorts) Label(s *ExactStrand) uint64 {
	if s.Bridge() {
		return 0
	}
	return p.label[s.link]
}

// Independent tells whether no exclusive or of some labels is 0, and overwrites
// them.
func Independent(labels []uint64) bool {
	for i, x := range labels {
		if x == 0 {
			return false
		}
		top := uint64(1) << (bits.Len64(x) - 1)
		for j := i + 1; j < len(labels); j++ {
			if labels[j]&top != 0 {
				labels[j] ^= x
			}
		}
	}
	return true
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
	if of != nil && s.link >= 0 && s.link == of.link && p.label[s.link] == 0 {
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

// series is a strand in series with a link.
func (p *ExactPorts) series(link int, ohms, volts float64) (ExactStrand, error) {
	l := &p.links[link]
	s := ExactStrand{link: link, ohms: ohms, volts: volts}
	if !l.ideal {
		g := twofold.From(l.siemens)
		s.terms, s.siemens, s.drive = []seenTerm{{l.a, l.siemens}, {l.b, -l.siemens}}, l.siemens, g.Times(-l.volts)
		return s, nil
	}
	j := p.joint(link)
	if j.err != nil {
		return s, j.err
	}
	s.joint, s.terms, s.drive = j, j.terms, j.drive
	return s, nil
}

// joint makes an ideal link ready to part.
func (p *ExactPorts) joint(link int) *jointCut {
	p.mu.Lock()
	defer p.mu.Unlock()
	j := p.joints[link]
	if j == nil {
		j = p.cutJoint(link)
		p.joints[link] = j
	}
	return j
}

func (p *ExactPorts) cutJoint(link int) *jointCut {
	l := &p.links[link]
	sets := disjoint.New(p.nodes)
	for i := range p.links {
		if x := &p.links[i]; x.ideal && i != link {
			sets.Join(int(x.a), int(x.b))
		}
	}
	a, b := sets.Find(int(l.a)), sets.Find(int(l.b))
	if a == b {
		return &jointCut{err: ErrNoPort} // joined by another way as well
	}
	held := func(side int) bool {
		if sets.Find(netlist.GroundNode) == side {
			return true
		}
		for _, r := range p.rails {
			if sets.Find(int(r[1])) == side {
				return true
			}
		}
		return false
	}
	far, lift := a, 1.0 // V_a − V_b = 1
	switch {
	case !held(a):
	case !held(b):
		far, lift = b, -1
	default:
		return &jointCut{err: ErrNoPort}
	}
	j := &jointCut{lift: lift}
	for i := range p.nodes {
		if sets.Find(i) == far {
			j.side = append(j.side, int32(i))
		}
	}
	// The current in the joint from its a to its b is what comes to the far side
	// through the branches there, for lift 1; the other way round else.
	for i := range p.links {
		x := &p.links[i]
		if x.a < 0 || x.ideal {
			continue
		}
		fromA, fromB := sets.Find(int(x.a)) == far, sets.Find(int(x.b)) == far
		if fromA == fromB {
			continue
		}
		g, e := x.siemens, x.volts
		near, other := x.a, x.b
		if fromB {
			near, other, e = x.b, x.a, -x.volts
		}
		j.terms = append(j.terms, seenTerm{near, -lift * g}, seenTerm{other, lift * g})
		j.drive = j.drive.Add(twofold.From(g).Times(lift * e))
	}
	s := ExactStrand{link: link, joint: j, terms: j.terms}
	j.field = p.Field(&s, nil, &FieldScratch{})
	return j
}

// Lay turns changes into strands, those of the condition not counted, bridges
// first. What does nothing in this condition gives none. [ErrNoPort] says that the
// changes need a net of their own.
func (p *ExactPorts) Lay(changes []Change) ([]ExactStrand, error) {
	n := p.net
	c := n.circuit
	unplugged := slices.Clone(n.condition.Unplugged)
	had := len(unplugged)
	for _, ch := range changes {
		if u, ok := ch.(Unplug); ok && !slices.Contains(unplugged, u.Connector) {
			unplugged = append(unplugged, u.Connector)
		}
	}
	laid := map[int]*ExactStrand{} // by element: ohms and volts only
	var order []int
	at := func(element int) *ExactStrand {
		s := laid[element]
		if s == nil {
			s = &ExactStrand{}
			laid[element] = s
			order = append(order, element)
		}
		return s
	}
	if len(unplugged) > had {
		parted, err := c.Unplug(unplugged...)
		if err != nil {
			return nil, fmt.Errorf("solve: %w", err)
		}
		for _, e := range parted {
			at(e).ohms = math.Inf(1)
		}
	}
	there := func(element int) error {
		if element < 0 || element >= len(c.Elements) {
			return fmt.Errorf("solve: no element %d", element)
		}
		return nil
	}
	idle := n.condition.Supply == Idle
	var bridges []Bridge
	var unpowered []int
	for _, ch := range changes {
		switch ch := ch.(type) {
		case Unplug:
		case Part:
			if err := there(ch.Element); err != nil {
				return nil, err
			}
			at(ch.Element).ohms = math.Inf(1)
		case Insert:
			if err := there(ch.Element); err != nil {
				return nil, err
			}
			if c.Elements[ch.Element].Kind == netlist.Joint {
				return nil, ErrNoPort
			}
			at(ch.Element).ohms += ch.Ohms
		case Bridge:
			if !ch.gone(unplugged) {
				bridges = append(bridges, ch)
			}
		case Unpower:
			if idle {
				unpowered = append(unpowered, ch.Unit)
			}
		case Shift:
			if idle {
				if ch.Unit < 0 || ch.Unit >= len(c.Units) {
					return nil, fmt.Errorf("solve: no unit %d", ch.Unit)
				}
				at(c.Units[ch.Unit].GroundElement).volts += ch.Volts
			}
		case Stick:
			if idle {
				return nil, ErrNoPort // a bus at work
			}
		default:
			return nil, ErrNoPort
		}
	}
	if idle {
		for i, u := range c.Units {
			if s := laid[u.GroundElement]; s != nil {
				if n.shift[i] != 0 {
					return nil, ErrNoPort // a ground that is held off the rail
				}
				if math.IsInf(s.ohms, 1) {
					s.volts = 0
					unpowered = append(unpowered, i)
				}
			}
		}
		slices.Sort(unpowered)
		for _, i := range slices.Compact(unpowered) {
			if i < 0 || i >= len(c.Units) {
				return nil, fmt.Errorf("solve: no unit %d", i)
			}
			if !n.powered[i] {
				continue
			}
			for _, e := range c.Units[i].Inputs {
				if err := p.unpower(e, at(e)); err != nil {
					return nil, err
				}
			}
		}
	}
	var out []ExactStrand
	for _, b := range bridges {
		s, err := p.bridge(b)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	for _, e := range order {
		s := laid[e]
		if p.links[e].a < 0 {
			// Open already; a ground that the condition holds off the rail is not.
			if n.shifted(e) {
				return nil, ErrNoPort
			}
			continue
		}
		if s.ohms == 0 && s.volts == 0 {
			continue
		}
		t, err := p.series(e, s.ohms, s.volts)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}

// unpower makes an input what it is without supply: another resistance, and another
// source in series.
func (p *ExactPorts) unpower(element int, s *ExactStrand) error {
	law := p.net.circuit.Elements[element].Off
	l := &p.links[element]
	ohms := law.Ohms(nil)
	switch {
	case l.a < 0 && math.IsInf(ohms, 1):
		return nil
	case l.a < 0 || l.ideal:
		return ErrNoPort
	}
	s.ohms += ohms - 1/l.siemens
	s.volts = law.Volts.At(nil) - l.volts
	return nil
}

// bridge makes a strand of a bridge.
func (p *ExactPorts) bridge(b Bridge) (ExactStrand, error) {
	if !(b.Ohms >= 0) || math.IsInf(b.Ohms, 0) {
		return ExactStrand{}, fmt.Errorf("solve: %v ohms; a resistance is finite and not negative", b.Ohms)
	}
	s := ExactStrand{link: -1, ohms: b.Ohms, through: b.Through}
	for i, end := range []Spot{b.From, b.To} {
		sign := 1.0 - 2*float64(i)
		if end.Wire >= 0 {
			if end.Wire >= len(p.net.circuit.Elements) || p.net.circuit.Elements[end.Wire].Kind != netlist.WireElement {
				return s, fmt.Errorf("solve: element %d is no wire", end.Wire)
			}
			e := &p.net.circuit.Elements[end.Wire]
			l := &p.links[end.Wire]
			switch {
			case !(end.Fraction >= 0 && end.Fraction <= 1):
				return s, fmt.Errorf("solve: %s: fraction %v is not from 0 to 1", e.Name, end.Fraction)
			case end.Fraction == 0:
				end = AtNode(e.A)
			case end.Fraction == 1 || l.ideal:
				end = AtNode(e.B) // which a wire that parts keeps
			case l.a < 0:
				return s, ErrNoPort
			}
		}
		s.ends[i] = end
		if end.Wire < 0 {
			if end.Node < 0 || end.Node >= p.nodes {
				return s, fmt.Errorf("solve: no node %d", end.Node)
			}
			s.terms = append(s.terms, seenTerm{int32(end.Node), sign})
			continue
		}
		l := &p.links[end.Wire]
		f := end.Fraction
		s.terms = append(s.terms, seenTerm{l.a, sign * (1 - f)}, seenTerm{l.b, sign * f})
		s.spots = append(s.spots, wireSpot{end.Wire, f, sign})
	}
	return s, nil
}

// Settled is what strands do to a net by structure. The zero value is ready for
// [ExactPorts.Settle], which reuses it.
type Settled struct {
	// Strands are those that matter, as pointers into what was settled, and the
	// ties of floating parts that something else ties now. Left out are bridges of
	// 0 Ω between points that are joined already, and elements that part where
	// nothing flows: what closes the last gap between two parts may as well stay,
	// for the readings within either.
	Strands []*ExactStrand
	// Parts says that some part is apart from what it was one with before; Ties that
	// a part that floated does not float any more.
	Parts, Ties bool

	ideal, whole, bridged disjoint.Sets
	part, point           []int32
	gone                  []*ExactStrand
	labels                []uint64
	ends                  [][2]int
	spots                 []Spot
}

// Settle finds which strands matter and what is apart. Their pointers must stay good
// as long as s is used. [ErrSupplyShorted] and [ErrGroundsJoined] say that the
// changes cannot be together with the supply on.
func (p *ExactPorts) Settle(strands []*ExactStrand, s *Settled) error {
	s.Strands, s.Parts, s.Ties, s.spots, s.ends = s.Strands[:0], false, false, s.spots[:0], s.ends[:0]
	if len(s.gone) != len(p.links) {
		s.gone = make([]*ExactStrand, len(p.links))
	}
	for _, t := range strands {
		if t.link >= 0 {
			s.gone[t.link] = t
		}
	}
	for _, t := range strands {
		var ends [2]int
		for i, end := range t.ends {
			if ends[i] = end.Node; t.link < 0 && end.Wire >= 0 {
				k := slices.Index(s.spots, end)
				if k < 0 {
					k = len(s.spots)
					s.spots = append(s.spots, end)
				}
				ends[i] = p.nodes + k
			}
		}
		s.ends = append(s.ends, ends)
	}
	defer func() {
		for _, t := range strands {
			if t.link >= 0 {
				s.gone[t.link] = nil
			}
		}
	}()
	// Mostly no joint parts and nothing falls apart; then the net as it is will do.
	joints, labels := true, s.labels[:0]
	for _, t := range strands {
		if t.link >= 0 {
			joints = joints && t.joint == nil
			if math.IsInf(t.ohms, 1) {
				labels = append(labels, p.label[t.link])
			}
		}
	}
	s.labels = labels
	if p.whole != nil && joints {
		s.ideal.Copy(p.ideal)
	} else {
		s.ideal.Reset(p.nodes)
		for i := range p.links {
			if l := &p.links[i]; l.ideal && s.gone[i] == nil {
				s.ideal.Join(int(l.a), int(l.b))
			}
		}
	}
	if p.whole != nil && Independent(labels) {
		s.whole.Copy(p.whole)
	} else {
		s.whole.Reset(p.nodes)
		for i := range p.links {
			l := &p.links[i]
			if t := s.gone[i]; l.a >= 0 && !l.tie && (t == nil || !math.IsInf(t.ohms, 1)) {
				s.whole.Join(int(l.a), int(l.b))
			}
		}
		for _, r := range p.rails {
			s.whole.Join(int(r[0]), int(r[1]))
		}
	}
	s.ideal.Extend(len(s.spots))
	s.whole.Extend(len(s.spots))
	for i, at := range s.spots {
		l := &p.links[at.Wire]
		s.whole.Join(p.nodes+i, int(l.b)) // a wire parts at its A end
	}
	for i, t := range strands {
		if t.link >= 0 {
			continue
		}
		a, b := s.ends[i][0], s.ends[i][1]
		s.whole.Join(a, b)
		if t.ohms == 0 {
			if s.ideal.Find(a) == s.ideal.Find(b) {
				continue
			}
			s.ideal.Join(a, b)
		}
		s.Strands = append(s.Strands, t)
	}
	s.part, s.point = s.part[:0], s.point[:0]
	for i := range p.nodes {
		s.part, s.point = append(s.part, int32(s.whole.Find(i))), append(s.point, int32(s.ideal.Find(i)))
	}
	if p.state != nil {
		if err := p.fuses(strands, s); err != nil {
			return err
		}
	}
	// Elements that part and ties, as long as they close no gap.
	s.bridged.Copy(&s.whole)
	for _, t := range strands {
		if t.link < 0 {
			continue
		}
		if math.IsInf(t.ohms, 1) {
			l := &p.links[t.link]
			if s.bridged.Find(int(l.a)) != s.bridged.Find(int(l.b)) {
				s.bridged.Join(int(l.a), int(l.b))
				s.Parts = true
				continue
			}
		}
		s.Strands = append(s.Strands, t)
	}
	for i := range p.ties {
		t := &p.ties[i]
		l := &p.links[t.link]
		if s.bridged.Find(int(l.a)) == s.bridged.Find(int(l.b)) {
			s.Strands = append(s.Strands, t)
			s.Ties = true
			continue
		}
		s.bridged.Join(int(l.a), int(l.b))
	}
	return nil
}

// fuses tells whether the rails are joined ideally.
func (p *ExactPorts) fuses(strands []*ExactStrand, s *Settled) error {
	g, v := s.ideal.Find(netlist.GroundNode), s.ideal.Find(netlist.SupplyNode)
	if g == v {
		return ErrSupplyShorted
	}
	for _, r := range p.rails {
		if x := s.ideal.Find(int(r[1])); r[1] != netlist.SupplyNode && (x == g || x == v) {
			return ErrGroundsJoined
		}
	}
	for _, t := range strands {
		if t.joint != nil && t.ohms == 0 && t.volts != 0 {
			if x := s.ideal.Find(int(p.links[t.link].a)); x == g || x == v {
				return ErrGroundsJoined
			}
		}
	}
	return nil
}

// Apart tells whether nothing leads from one node to another any more.
func (s *Settled) Apart(a, b int) bool { return s.part[a] != s.part[b] }

// Joined tells whether two nodes are one point now.
func (s *Settled) Joined(a, b int) bool { return s.point[a] == s.point[b] }

// PartOf numbers the parts, by node; it is overwritten by the next Settle.
func (s *Settled) PartOf() []int32 { return s.part }

// Read takes a reading with changes laid in: what [Assemble] with them and
// [Net.Read] give. It works everything out for this one reading.
func (p *ExactPorts) Read(q Quantity, from, to int, meter Meter, changes ...Change) (Value, error) {
	if q == Ohms && p.state != nil {
		return Value{}, ErrSupplyOn
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
