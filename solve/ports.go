package solve

import (
	"errors"
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
)

// ErrNoPort says that a change is no resistance between two points of the net as
// it stands (a joint that parts, a module that loses its supply while it is on):
// it needs a net of its own.
var ErrNoPort = errors.New("solve: the change is no resistance between points of this net; assemble the net with it instead")

// A floating part of a net is tied to ground, and what parts a conductor leaves
// it through, by ohms that no meter can tell from none. With them nothing is
// singular, and a part that is cut off reads as what it is, open.
const (
	tieOhms   = 1e11
	openOhms  = 1e11
	idealOhms = 1e-9
	// roundedOff is what rounding leaves of a conductance that cancels, as a share
	// of it, and a hundred times more.
	roundedOff = 1e-14
)

// Ports sees a net from ports, pairs of points where a fault or a meter can be.
// The resistances between ports are worked out once; then any number of changes
// at once costs a small system of as many equations as there are changes, and no
// factorisation (the Woodbury identity, each from the net as assembled, never an
// update of an update).
//
// It is meant to weigh very many combinations of faults: within a few parts in
// 10^6 of what [Assemble] gives for the same changes (TestPortsAgreeWithNets),
// and without an answer for changes that are no resistance ([ErrNoPort]).
//
// It is safe for concurrent use, if each goroutine has called [Ports.Prepare] with
// the ports that it uses, or somebody before it was started.
type Ports struct {
	lock   sync.Mutex // of what Prepare writes
	net    *Net
	volts  []float64 // the state with the condition's sources, where it is idle
	to     []*reach  // class: for 1 A in there, out at its part's reference
	along  []*reach  // branch: for 1 A in at its a, out at its b
	seen   []float64 // branch: conductance that an EMF in it sees
	floats []bool    // part: it has no rail
	// columns says that to and along are columns, not paths.
	columns bool
}

// Port is a pair of points: where a bridge attaches, where an element lets a
// resistance in, where a meter's leads go.
type Port struct {
	at     []weighted
	spots  []cutWire
	branch int // that a series resistance sits in, or −1
	dead   bool
}

// Strand is a change as seen from the ports: the port and what stands in it.
type Strand struct {
	Port
	// ohms of a bridge, or that are put into the branch.
	ohms float64
	// through are the connectors that a bridge goes through.
	through []string
}

// Gone tells whether the strand goes through unplugged connectors only.
func (s *Strand) Gone(unplugged []string) bool {
	return (&Bridge{Through: s.through}).gone(unplugged)
}

// groundOhms stands in a module's ground and in contacts without resistance, so
// that they can part: below any meter's last digit.
const groundOhms = 1e-5

// PortsOf makes a circuit ready to be seen from ports, all plugged in, so that the
// grounds of modules can part as well as contacts (a module that is unplugged has
// lost its ground too).
func PortsOf(c *netlist.Circuit, supply Supply) (*Ports, error) {
	soft := *c
	soft.Elements = append(soft.Elements[:0:0], c.Elements...)
	law := netlist.Law{Value: netlist.Spread{Mid: groundOhms}}
	for _, u := range c.Units {
		e := &soft.Elements[u.GroundElement]
		e.Kind, e.Off, e.Awake = netlist.ContactElement, law, law
	}
	for i := range soft.Elements {
		e := &soft.Elements[i]
		if (e.Kind == netlist.ContactElement || e.Kind == netlist.WireElement) && e.Off.Ohms(nil) == 0 {
			e.Off, e.Awake = law, law
		}
	}
	n, err := Assemble(&soft, Condition{Supply: supply}, nil)
	if err != nil {
		return nil, err
	}
	return n.Ports()
}

// Ports makes the net ready to be seen from ports.
func (n *Net) Ports() (*Ports, error) {
	p := &Ports{
		net: n, to: make([]*reach, n.classes), along: make([]*reach, len(n.branches)),
		seen: make([]float64, len(n.branches)), floats: make([]bool, len(n.parts)),
		columns: n.classes <= mostColumns,
	}
	n.Prepare() // so that what follows may be shared
	for i, part := range n.parts {
		p.floats[i] = !part.anchored
	}
	if n.condition.Supply == Idle {
		var err error
		if p.volts, err = n.state(); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// Meter is the port of a meter's leads, red on from.
func (p *Ports) Meter(from, to int) Port {
	n := p.net
	return Port{at: []weighted{{n.class[from], 1}, {n.class[to], -1}}, branch: -1}
}

// Lay turns changes into strands. A change that does nothing in this condition
// gives none.
func (p *Ports) Lay(changes []Change) ([]Strand, error) {
	n := p.net
	idle := n.condition.Supply == Idle
	var out []Strand
	for _, ch := range changes {
		switch ch := ch.(type) {
		case Bridge:
			port := Port{branch: -1}
			for _, end := range []struct {
				Spot
				sign float64
			}{{ch.From, 1}, {ch.To, -1}} {
				if err := p.attach(&port, end.Spot, end.sign); err != nil {
					return nil, err
				}
			}
			out = append(out, Strand{port, ch.Ohms, ch.Through})
		case Insert:
			s, err := p.series(ch.Element, ch.Ohms)
			if err != nil {
				return nil, err
			}
			if !s.dead {
				out = append(out, s)
			}
		case Part:
			s, err := p.series(ch.Element, openOhms)
			if err != nil {
				return nil, err
			}
			if !s.dead {
				out = append(out, s)
			}
		case Unplug:
			parted, err := n.circuit.Unplug(ch.Connector)
			if err != nil {
				return nil, fmt.Errorf("solve: %w", err)
			}
			for _, e := range parted {
				s, err := p.series(e, openOhms)
				if err != nil {
					return nil, err
				}
				if !s.dead {
					out = append(out, s)
				}
			}
		case Unpower, Shift, Stick:
			if idle {
				return nil, ErrNoPort
			}
		default:
			return nil, ErrNoPort
		}
	}
	return Together(out), nil
}

// Together joins strands, so that each branch has one: resistances put into the
// same branch add up.
func Together(strands ...[]Strand) []Strand {
	var out []Strand
	for _, list := range strands {
	next:
		for _, s := range list {
			for i := range out {
				if s.branch >= 0 && out[i].branch == s.branch {
					out[i].ohms += s.ohms
					continue next
				}
			}
			out = append(out, s)
		}
	}
	return out
}

func (p *Ports) attach(port *Port, s Spot, sign float64) error {
	n := p.net
	if s.Wire < 0 {
		port.at = append(port.at, weighted{n.class[s.Node], sign})
		return nil
	}
	e := n.circuit.Elements[s.Wire]
	switch bs := n.of[s.Wire]; {
	case s.Fraction <= 0:
		port.at = append(port.at, weighted{n.class[e.A], sign})
	case s.Fraction >= 1:
		port.at = append(port.at, weighted{n.class[e.B], sign})
	case len(bs) != 1:
		return ErrNoPort
	default:
		b := &n.branches[bs[0]]
		f := s.Fraction
		port.at = append(port.at, weighted{b.a, sign * (1 - f)}, weighted{b.b, sign * f})
		port.spots = append(port.spots, cutWire{bs[0], f, f, sign})
	}
	return nil
}

func (p *Ports) series(element int, ohms float64) (Strand, error) {
	n := p.net
	if element < 0 || element >= len(n.of) || n.circuit.Elements[element].Kind == netlist.Joint {
		return Strand{}, ErrNoPort
	}
	bs := n.of[element]
	switch {
	case len(bs) == 0 || n.branches[bs[0]].a == n.branches[bs[0]].b:
		return Strand{Port: Port{dead: true}}, nil
	case len(bs) > 1:
		return Strand{}, ErrNoPort
	}
	b := &n.branches[bs[0]]
	if ohms == openOhms {
		// The conductance that is left must stand out from what rounding leaves of
		// the branch's own.
		ohms = min(ohms, 1/(roundedOff*b.siemens))
	}
	return Strand{Port{at: []weighted{{b.a, 1}, {b.b, -1}}, branch: bs[0]}, ohms, nil}, nil
}

// Ohms that stand in the strand.
func (s *Strand) Ohms() float64 { return s.ohms }

// WithOhms is the strand with another resistance in it.
func (s Strand) WithOhms(ohms float64) Strand {
	s.ohms = ohms
	return s
}

// Prepare works out what the ports need, so that what follows only reads.
func (p *Ports) Prepare(ports ...Port) error {
	p.lock.Lock()
	defer p.lock.Unlock()
	for _, q := range ports {
		if q.branch >= 0 {
			if err := p.prepareBranch(q.branch); err != nil {
				return err
			}
			continue
		}
		for _, w := range q.at {
			if err := p.prepareClass(w.class); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *Ports) prepareClass(k int) (err error) {
	if p.to[k] == nil {
		p.to[k], err = p.net.reach(k, -1, p.columns)
	}
	return err
}

func (p *Ports) prepareBranch(i int) error {
	if p.along[i] != nil {
		return nil
	}
	b := &p.net.branches[i]
	along, err := p.net.reach(b.a, b.b, p.columns)
	if err != nil {
		return err
	}
	p.along[i] = along
	p.seen[i] = b.siemens * math.Max(0, 1-b.siemens*along.own)
	return nil
}

// Between is the resistance in ohms between two ports: the volts at one for each
// ampere into the other. Both must be prepared.
func (p *Ports) Between(a, b *Port) float64 {
	if b.branch >= 0 {
		a, b = b, a
	}
	sum := 0.0
	if a.branch >= 0 {
		v := p.along[a.branch]
		if b.branch >= 0 {
			return v.along(&p.net.branches[b.branch], p.along[b.branch])
		}
		for _, w := range b.at {
			sum += w.weight * v.at(w.class, p.to[w.class])
		}
		for _, s := range b.spots {
			if s.branch == a.branch {
				// The resistance sits at the wire's A end, before the spot.
				sum -= s.sign * (1 - s.fraction) / p.net.branches[s.branch].siemens
			}
		}
		return sum
	}
	ties := 0.0 // added up first, or rounding 1e11 would swamp the rest
	for _, w := range a.at {
		v := p.to[w.class]
		for _, x := range b.at {
			sum += w.weight * x.weight * v.at(x.class, p.to[x.class])
			if part := p.net.partOf[w.class]; p.floats[part] && p.net.partOf[x.class] == part {
				ties += w.weight * x.weight
			}
		}
	}
	sum += ties * tieOhms
	for _, s := range a.spots {
		for _, t := range b.spots {
			if s.branch == t.branch {
				low, high := math.Min(s.fraction, t.fraction), math.Max(s.fraction, t.fraction)
				sum += s.sign * t.sign * low * (1 - high) / p.net.branches[s.branch].siemens
			}
		}
	}
	return sum
}

// Own is a strand's own resistance, the diagonal of the small system: [Ports.Fixed]
// plus [Ports.Free] of its ohms.
func (p *Ports) Own(s *Strand) float64 { return p.Fixed(&s.Port) + p.Free(&s.Port, s.ohms) }

// Fixed is what a port's own resistance is without ohms in it. A resistance that is
// put into a branch stands in the small system as the conductance that it takes
// away, so it is negative there.
func (p *Ports) Fixed(q *Port) float64 {
	if q.branch >= 0 {
		g := p.net.branches[q.branch].siemens
		return -p.seen[q.branch] / (g * g)
	}
	return p.Between(q, q)
}

// Free is what ohms in a port add to its own resistance.
func (p *Ports) Free(q *Port, ohms float64) float64 {
	if q.branch < 0 {
		return math.Max(ohms, idealOhms)
	}
	g := p.net.branches[q.branch].siemens
	return -1 / (math.Max(ohms, idealOhms*idealOhms) * g * g)
}

// Volts is the voltage at a port with the condition's sources; 0 with the supply
// off.
func (p *Ports) Volts(q *Port) float64 {
	if p.volts == nil {
		return 0
	}
	sum := 0.0
	for _, w := range q.at {
		sum += w.weight * p.volts[w.class]
	}
	if q.branch >= 0 {
		sum -= p.net.branches[q.branch].volts
	}
	return sum
}

// feed is current that is let into ports, ready to be solved for.
type feed struct {
	inject  []amperes
	columns []scaled        // instead, where the ports have columns
	tied    map[int]float64 // floating part: amperes that leave by its tie
}

// scaled is a column of potentials times so many amperes.
type scaled struct {
	column []float64
	amps   float64
}

func (f *feed) clear() {
	f.inject, f.columns = f.inject[:0], f.columns[:0]
	clear(f.tied)
}

// feed lets amps into a port, which must be prepared.
func (p *Ports) feed(f *feed, q *Port, amps float64) {
	n := p.net
	if p.columns && q.branch >= 0 {
		f.columns = append(f.columns, scaled{p.along[q.branch].column, amps})
		return
	}
	for _, w := range q.at {
		if p.columns {
			f.columns = append(f.columns, scaled{p.to[w.class].column, amps * w.weight})
		} else {
			f.inject = append(f.inject, amperes{w.class, amps * w.weight})
		}
		if part := n.partOf[w.class]; q.branch < 0 && p.floats[part] {
			if f.tied == nil {
				f.tied = map[int]float64{}
			}
			f.tied[part] += amps * w.weight
		}
	}
}

// lift puts into v the potentials that the feed makes. They serve sensitivities, which
// need no correction.
func (p *Ports) lift(v []float64, f *feed) {
	clear(v)
	for _, c := range f.columns {
		column := c.column[:len(v)]
		for i := range v {
			v[i] += c.amps * column[i]
		}
	}
	if err := p.net.potentialsInto(v, f.inject, false, 0); err != nil {
		return // not for ports that are prepared
	}
	for part, amps := range f.tied {
		if amps == 0 {
			continue
		}
		for c, at := range p.net.partOf {
			if at == part {
				v[c] += amps * tieOhms
			}
		}
	}
}

// Series tells whether the port lets a resistance into a branch. What such a port sees
// of itself is never positive, and of any other never negative, whatever else is laid
// in; where the truth is nought rounding may have it otherwise.
func (p *Port) Series() bool { return p.branch >= 0 }

// SameBranch tells whether both ports let a resistance into one branch.
func (p *Port) SameBranch(q *Port) bool { return p.branch >= 0 && p.branch == q.branch }

// Tied is strands laid in together, ready to be read. It is one goroutine's own; all
// ports must be prepared.
type Tied struct {
	p       *Ports
	strands []Strand
	scale   []float64 // of rows and columns
	lu      mat.LU
	nothing bool      // what is singular: strands that change nothing together
	kVolts  []float64 // amperes in each strand's port for the condition's sources
	x, y    *mat.VecDense
	// What sensitivities need, made when first asked for.
	raised       []raised
	drive, probe []float64
	fed          feed
}

// Tie lays strands in together: their small system is factorised once for all
// readings. Resistances of ten decades meet in it, so rows and columns are scaled
// first.
func (p *Ports) Tie(strands []Strand) *Tied {
	m := len(strands)
	t := &Tied{p: p, strands: strands}
	if m == 0 {
		return t
	}
	a := mat.NewDense(m, m, nil)
	t.scale, t.x, t.y = make([]float64, m), mat.NewVecDense(m, nil), mat.NewVecDense(m, nil)
	for i := range strands {
		own := p.Own(&strands[i])
		t.scale[i] = 1 / math.Sqrt(math.Abs(own))
		a.Set(i, i, math.Copysign(1, own))
		for j := range i {
			z := p.Between(&strands[i].Port, &strands[j].Port) * t.scale[i] * t.scale[j]
			a.Set(i, j, z)
			a.Set(j, i, z)
		}
	}
	t.lu.Factorize(a)
	// No number of the matrix is smaller than what rounding leaves of it; beyond that
	// it is singular.
	t.nothing = math.IsInf(t.lu.Cond(), 1)
	if p.volts != nil {
		t.kVolts = make([]float64, m)
		t.solve(t.kVolts, func(i int) float64 { return p.Volts(&strands[i].Port) })
	}
	return t
}

// solve gives the currents for a right side.
func (t *Tied) solve(k []float64, right func(i int) float64) {
	if t.nothing {
		return
	}
	for i := range k {
		t.x.SetVec(i, right(i)*t.scale[i])
	}
	if err := t.lu.SolveVecTo(t.y, false, t.x); err != nil {
		if c, ok := err.(mat.Condition); !ok || math.IsInf(float64(c), 1) {
			return
		}
	}
	for i := range k {
		k[i] = t.y.AtVec(i) * t.scale[i]
	}
}

// Solve works out what the strands do to a meter's port: k is the current in amperes
// in each strand's port for 1 A through the meter's; across is the resistance in
// ohms between the leads then, and volts the voltage there.
func (t *Tied) Solve(meter *Port) (k []float64, across, volts float64) {
	p := t.p
	across, volts = p.Between(meter, meter), p.Volts(meter)
	if len(t.strands) == 0 {
		return nil, across, volts
	}
	to := make([]float64, 2*len(t.strands))
	k, to = to[len(t.strands):], to[:len(t.strands)]
	for i := range to {
		to[i] = p.Between(&t.strands[i].Port, meter)
	}
	t.solve(k, func(i int) float64 { return to[i] })
	for i := range to {
		across -= to[i] * k[i]
		if t.kVolts != nil {
			volts -= to[i] * t.kVolts[i]
		}
	}
	return k, across, volts
}

// Sensitivities adds to out how far a reading moves, as [Response.Sensitivities] does;
// k is what [Tied.Solve] gives for the meter's port. Where two strands attach to one
// wire part of the way, that wire counts as if each were there alone.
func (t *Tied) Sensitivities(q Quantity, meter Meter, lead *Port, from, to int, k, out []float64) {
	p, n := t.p, t.p.net
	if t.probe == nil {
		for i := range t.strands {
			if s := &t.strands[i]; s.branch >= 0 {
				b := &n.branches[s.branch]
				t.raised = append(t.raised, raised{s.branch, 1 / (1/b.siemens + s.ohms), b.extra + s.ohms})
			}
		}
		t.probe = make([]float64, n.classes)
		if p.volts != nil {
			t.drive = make([]float64, n.classes)
			for i := range t.strands {
				p.feed(&t.fed, &t.strands[i].Port, -t.kVolts[i])
			}
			p.lift(t.drive, &t.fed)
			for i, v := range p.volts {
				t.drive[i] += v
			}
		}
	}
	t.fed.clear()
	p.feed(&t.fed, lead, 1)
	for i := range t.strands {
		p.feed(&t.fed, &t.strands[i].Port, -k[i])
	}
	p.lift(t.probe, &t.fed)
	r := Response{net: n, quantity: q, meter: meter, from: n.class[from], to: n.class[to], probe: t.probe, drive: t.drive, raised: t.raised}
	kVolts := t.kVolts
	if p.volts == nil {
		r.drive, kVolts = t.probe, k
	}
	for i := range t.strands {
		s := &t.strands[i]
		if s.branch >= 0 {
			continue
		}
		for _, w := range s.at {
			r.bridge = append(r.bridge, injected{w.class, -kVolts[i] * w.weight, -k[i] * w.weight})
		}
		for _, w := range s.spots {
			siemens, extra := r.carries(w.branch)
			w.ohms += (1 - w.ohms) * extra * siemens
			r.cut = append(r.cut, cut{w, w.sign * kVolts[i], w.sign * k[i]})
		}
	}
	r.Sensitivities(out)
}

// Shown is what a meter makes of a resistance in ohms between its leads and of
// the voltage there.
func (m Meter) Shown(q Quantity, ohms, volts float64) Value {
	r := Response{quantity: q, meter: m}
	return r.shown(ohms, volts)
}
