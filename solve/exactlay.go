package solve

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve/twofold"
)

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
	l := laying{p: p, idle: p.net.condition.Supply == Idle, of: map[int]*ExactStrand{}}
	if err := l.unplug(changes); err != nil {
		return nil, err
	}
	for _, ch := range changes {
		if err := l.change(ch); err != nil {
			return nil, err
		}
	}
	if l.idle {
		if err := l.grounds(); err != nil {
			return nil, err
		}
	}
	return l.strands()
}

// laying is changes on their way to strands.
type laying struct {
	p         *ExactPorts
	idle      bool
	unplugged []string
	of        map[int]*ExactStrand // by element: ohms and volts only
	order     []int                // the elements, as they came
	bridges   []Bridge
	unpowered []int // units
}

// at is what is put in series with an element.
func (l *laying) at(element int) *ExactStrand {
	s := l.of[element]
	if s == nil {
		s = &ExactStrand{}
		l.of[element] = s
		l.order = append(l.order, element)
	}
	return s
}

// part opens an element.
func (l *laying) part(element int) { l.at(element).ohms = math.Inf(1) }

// unplug parts what the changes unplug beside what the condition has apart: together they
// may part more than each of them.
func (l *laying) unplug(changes []Change) error {
	n := l.p.net
	l.unplugged = slices.Clone(n.condition.Unplugged)
	had := len(l.unplugged)
	for _, ch := range changes {
		if u, ok := ch.(Unplug); ok && !slices.Contains(l.unplugged, u.Connector) {
			l.unplugged = append(l.unplugged, u.Connector)
		}
	}
	if len(l.unplugged) == had {
		return nil
	}
	parted, err := n.circuit.Unplug(l.unplugged...)
	if err != nil {
		return fmt.Errorf("solve: %w", err)
	}
	for _, e := range parted {
		l.part(e)
	}
	return nil
}

// change takes one change that is not about plugs.
func (l *laying) change(ch Change) error {
	c := l.p.net.circuit
	switch ch := ch.(type) {
	case Unplug:
		return nil // taken together, see unplug
	case Bridge:
		if !ch.gone(l.unplugged) {
			l.bridges = append(l.bridges, ch)
		}
		return nil
	case Part:
		if err := ch.check(c); err != nil {
			return err
		}
		l.part(ch.Element)
	case Insert:
		if err := (Part{ch.Element}).check(c); err != nil {
			return err
		}
		if c.Elements[ch.Element].Kind == netlist.Joint {
			return ErrNoPort
		}
		if err := finite(ch.Ohms); err != nil {
			return err
		}
		l.at(ch.Element).ohms += ch.Ohms
	case Unpower:
		if err := ch.check(c); err != nil {
			return err
		}
		if l.idle {
			l.unpowered = append(l.unpowered, ch.Unit)
		}
	case Shift:
		if err := ch.check(c); err != nil {
			return err
		}
		if l.idle {
			l.at(c.Units[ch.Unit].GroundElement).volts += ch.Volts
		}
	case Stick:
		if err := ch.check(c); err != nil {
			return err
		}
		if l.idle {
			return ErrNoPort // a bus at work
		}
	default:
		return ErrNoPort
	}
	return nil
}

// grounds has units whose ground is parted lose their supply, as those do that have none, and
// their inputs with it.
func (l *laying) grounds() error {
	n := l.p.net
	for i, u := range n.circuit.Units {
		s := l.of[u.GroundElement]
		if s == nil {
			continue
		}
		if n.shift[i] != 0 {
			return ErrNoPort // a ground that is held off the rail
		}
		if math.IsInf(s.ohms, 1) {
			s.volts = 0
			l.unpowered = append(l.unpowered, i)
		}
	}
	slices.Sort(l.unpowered)
	for _, i := range slices.Compact(l.unpowered) {
		if !n.powered[i] {
			continue
		}
		for _, e := range n.circuit.Units[i].Inputs {
			if err := l.p.unpower(e, l.at(e)); err != nil {
				return err
			}
		}
	}
	return nil
}

// strands gives what has been laid.
func (l *laying) strands() ([]ExactStrand, error) {
	p := l.p
	var out []ExactStrand
	for _, b := range l.bridges {
		s, err := p.bridge(b)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	for _, e := range l.order {
		s := l.of[e]
		if p.links[e].a < 0 {
			// Open already; a ground that the condition holds off the rail is not.
			if p.net.shifted(e) {
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
	if err := finite(b.Ohms); err != nil {
		return ExactStrand{}, err
	}
	s := ExactStrand{link: -1, ohms: b.Ohms}
	for i, end := range []Spot{b.From, b.To} {
		sign := []float64{1, -1}[i]
		if err := end.check(p.net.circuit); err != nil {
			return s, err
		}
		if end.Wire >= 0 {
			e, l := &p.net.circuit.Elements[end.Wire], &p.links[end.Wire]
			switch {
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
