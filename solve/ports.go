package solve

import (
	"errors"
	"fmt"
	"math"

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
// and without an answer for changes that are no resistance ([ErrNoPort]). It is
// not safe for concurrent use until [Ports.Prepare] was called with all ports that
// are in use.
type Ports struct {
	net    *Net
	volts  []float64   // the state with the condition's sources, where it is idle
	to     [][]float64 // class: potentials with 1 A in there, out at its part's reference
	along  [][]float64 // branch: potentials with 1 A in at its a, out at its b
	seen   []float64   // branch: conductance that an EMF in it sees
	floats []bool      // part: it has no rail
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
		net: n, to: make([][]float64, n.classes), along: make([][]float64, len(n.branches)),
		seen: make([]float64, len(n.branches)), floats: make([]bool, len(n.parts)),
	}
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

func (p *Ports) prepareClass(k int) error {
	if p.to[k] != nil {
		return nil
	}
	n := p.net
	if n.slot[k] < 0 { // a rail, or the reference of a floating part
		p.to[k] = make([]float64, n.classes)
		return nil
	}
	inject := map[int]float64{k: 1}
	if part := n.partOf[k]; p.floats[part] {
		for c, at := range n.partOf {
			if at == part && n.slot[c] < 0 {
				inject[c] = -1
			}
		}
	}
	var err error
	p.to[k], err = n.potentials(inject, nil, false)
	return err
}

func (p *Ports) prepareBranch(i int) error {
	if p.along[i] != nil {
		return nil
	}
	n := p.net
	b := &n.branches[i]
	v, err := n.potentials(dipole(b.a, b.b), nil, false)
	if err != nil {
		return err
	}
	p.along[i] = v
	p.seen[i] = b.siemens * math.Max(0, 1-b.siemens*(v[b.a]-v[b.b]))
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
		for _, w := range b.at {
			sum += w.weight * v[w.class]
		}
		for _, s := range b.spots {
			if s.branch == a.branch {
				// The resistance sits at the wire's A end, before the spot.
				sum -= s.sign * (1 - s.fraction) / p.net.branches[s.branch].siemens
			}
		}
		return sum
	}
	for _, w := range a.at {
		v := p.to[w.class]
		for _, x := range b.at {
			sum += w.weight * x.weight * v[x.class]
			if part := p.net.partOf[w.class]; p.floats[part] && p.net.partOf[x.class] == part {
				sum += w.weight * x.weight * tieOhms
			}
		}
	}
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

// Potentials gives, node class by node class, the volts with 1 A through the
// meter's port and, with the supply on, those of the condition's sources, with
// strands laid in: k is what [Solve] gives for the meter's port, and kVolts for
// the sources.
func (p *Ports) Potentials(meter *Port, strands []Strand, k, kVolts []float64) (probe, drive []float64) {
	n := p.net
	probe = make([]float64, n.classes)
	p.add(probe, meter, 1)
	for i := range strands {
		p.add(probe, &strands[i].Port, -k[i])
	}
	if p.volts == nil {
		return probe, probe
	}
	drive = append([]float64(nil), p.volts...)
	for i := range strands {
		p.add(drive, &strands[i].Port, -kVolts[i])
	}
	return probe, drive
}

func (p *Ports) add(v []float64, q *Port, k float64) {
	if q.branch >= 0 {
		for i, x := range p.along[q.branch] {
			v[i] += k * x
		}
		return
	}
	for _, w := range q.at {
		for i, x := range p.to[w.class] {
			v[i] += k * w.weight * x
		}
		if part := p.net.partOf[w.class]; p.floats[part] {
			for i, at := range p.net.partOf {
				if at == part {
					v[i] += k * w.weight * tieOhms
				}
			}
		}
	}
}

// Sensitivities adds how far a reading moves, as [Response.Sensitivities] does,
// from the potentials with the strands laid in and the currents in them, as [Ports.Solve]
// and [Ports.Potentials] give them. Where two strands attach to one
// wire part of the way, that wire counts as if each were there alone.
func (p *Ports) Sensitivities(q Quantity, meter Meter, from, to int, strands []Strand, k, kVolts, probe, drive, out []float64) {
	n := p.net
	extra := map[int]float64{}
	for i := range strands {
		if b := strands[i].branch; b >= 0 {
			extra[b] += strands[i].ohms
		}
	}
	branches := n.branches
	if len(extra) > 0 {
		branches = append(branches[:0:0], branches...)
		for i, x := range extra {
			b := &branches[i]
			b.extra += x
			b.siemens = 1 / (1/b.siemens + x)
		}
	}
	m := *n
	m.branches = branches
	r := Response{net: &m, quantity: q, meter: meter, from: n.class[from], to: n.class[to], probe: probe, drive: drive}
	for i := range strands {
		s := &strands[i]
		if s.branch >= 0 {
			continue
		}
		probed, driven := k[i], kVolts[i]
		if p.volts == nil {
			driven = probed
		}
		for _, w := range s.at {
			r.bridge = append(r.bridge, injected{w.class, -driven * w.weight, -probed * w.weight})
		}
		for _, w := range s.spots {
			b := &branches[w.branch]
			w.ohms += (1 - w.ohms) * b.extra * b.siemens
			r.cut = append(r.cut, cut{w, w.sign * driven, w.sign * probed})
		}
	}
	r.Sensitivities(out)
}

// SameBranch tells whether both ports let a resistance into one branch.
func (p *Port) SameBranch(q *Port) bool { return p.branch >= 0 && p.branch == q.branch }

// Solve works out what strands do to a meter's port: k is the current in amperes in
// each strand's port for 1 A through the meter's, kVolts for the condition's
// sources; across is the resistance in ohms between the leads then, and volts the
// voltage there. All ports must be prepared.
func (p *Ports) Solve(meter *Port, strands []Strand) (k, kVolts []float64, across, volts float64) {
	m := len(strands)
	across, volts = p.Between(meter, meter), p.Volts(meter)
	if m == 0 {
		return nil, nil, across, volts
	}
	a := mat.NewDense(m, m, nil)
	b := mat.NewDense(m, 2, nil)
	for i := range strands {
		a.Set(i, i, p.Own(&strands[i]))
		for j := i + 1; j < m; j++ {
			z := p.Between(&strands[i].Port, &strands[j].Port)
			a.Set(i, j, z)
			a.Set(j, i, z)
		}
		b.Set(i, 0, p.Between(&strands[i].Port, meter))
		b.Set(i, 1, p.Volts(&strands[i].Port))
	}
	before := [2][]float64{mat.Col(nil, 0, b), mat.Col(nil, 1, b)}
	scaled(a, b)
	k, kVolts = mat.Col(nil, 0, b), mat.Col(nil, 1, b)
	for i := range strands {
		across -= before[0][i] * k[i]
		volts -= before[0][i] * kVolts[i]
	}
	return k, kVolts, across, volts
}

// scaled solves a x = b in place of b. Resistances of ten decades meet in a, so
// rows and columns are scaled first. What is singular even so stands for strands
// that change nothing together, and gives 0.
func scaled(a, b *mat.Dense) {
	m, _ := a.Dims()
	scale := make([]float64, m)
	for i := range scale {
		scale[i] = 1 / math.Sqrt(math.Abs(a.At(i, i)))
	}
	for i := 0; i < m; i++ {
		for j := 0; j < m; j++ {
			a.Set(i, j, a.At(i, j)*scale[i]*scale[j])
		}
		for j := 0; j < 2; j++ {
			b.Set(i, j, b.At(i, j)*scale[i])
		}
	}
	var lu mat.LU
	lu.Factorize(a)
	if err := lu.SolveTo(b, false, b); err != nil {
		if c, ok := err.(mat.Condition); !ok || math.IsInf(float64(c), 1) {
			b.Zero()
			return
		}
	}
	for i := 0; i < m; i++ {
		for j := 0; j < 2; j++ {
			b.Set(i, j, b.At(i, j)*scale[i])
		}
	}
}

// Shown is what a meter makes of a resistance in ohms between its leads and of
// the voltage there.
func (m Meter) Shown(q Quantity, ohms, volts float64) Value {
	r := Response{quantity: q, meter: m}
	return r.shown(ohms, volts)
}
