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
	idle := n.condition.Supply == Idle
	var bridges []Bridge
	var unpowered []int
	for _, ch := range changes {
		switch ch := ch.(type) {
		case Unplug:
		case Part:
			if err := ch.check(c); err != nil {
				return nil, err
			}
			at(ch.Element).ohms = math.Inf(1)
		case Insert:
			if err := (Part{ch.Element}).check(c); err != nil {
				return nil, err
			}
			if c.Elements[ch.Element].Kind == netlist.Joint {
				return nil, ErrNoPort
			}
			if err := finite(ch.Ohms); err != nil {
				return nil, err
			}
			at(ch.Element).ohms += ch.Ohms
		case Bridge:
			if !ch.gone(unplugged) {
				bridges = append(bridges, ch)
			}
		case Unpower:
			if err := ch.check(c); err != nil {
				return nil, err
			}
			if idle {
				unpowered = append(unpowered, ch.Unit)
			}
		case Shift:
			if err := ch.check(c); err != nil {
				return nil, err
			}
			if idle {
				at(c.Units[ch.Unit].GroundElement).volts += ch.Volts
			}
		case Stick:
			if err := ch.check(c); err != nil {
				return nil, err
			}
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
