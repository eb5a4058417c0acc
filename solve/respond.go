package solve

import (
	"errors"
	"fmt"

	"example.com/ohmloom/netlist"
)

// ErrSupplyOn says that a resistance was asked for with the supply on, where an
// ohmmeter shows nothing that means anything.
var ErrSupplyOn = errors.New("solve: a resistance is read with the supply off and the network asleep")

// Response is one meter reading in a net, with what is needed to say how every
// element and every further fault would move it.
type Response struct {
	net      *Net
	quantity Quantity
	meter    Meter
	from, to int // classes
	open     bool
	// drive holds the potentials that the reading is taken from, probe those
	// while 1 A flows in at from and out at to. For a resistance they are one
	// and the same.
	drive, probe []float64
	// bridge is the change of which drive and probe hold the effect, if any:
	// the current that it injects into the net's classes.
	bridge []injected
	// wires cut by a varied bridge: how each piece's current differs.
	cut []cut
	// raised are branches that have more ohms than in the net.
	raised []raised
}

// raised is a branch with ohms put into it.
type raised struct {
	branch         int
	siemens, extra float64
}

// carries gives a branch's conductance, and the ohms in it that are not its element's.
func (r *Response) carries(branch int) (siemens, extra float64) {
	for i := range r.raised {
		if x := &r.raised[i]; x.branch == branch {
			return x.siemens, x.extra
		}
	}
	b := &r.net.branches[branch]
	return b.siemens, b.extra
}

// Respond takes a reading between two nodes, red lead on from.
func (n *Net) Respond(q Quantity, from, to int, meter Meter) (*Response, error) {
	r, err := n.response(q, from, to, meter)
	if err != nil {
		return nil, err
	}
	if !r.open {
		if r.probe, err = n.potentials(dipole(r.from, r.to), false); err != nil {
			return nil, err
		}
	}
	if q == Ohms {
		r.drive = r.probe
	}
	return &r, nil
}

// response is a response without its probe.
func (n *Net) response(q Quantity, from, to int, meter Meter) (r Response, err error) {
	if from < 0 || from >= len(n.circuit.Nodes) || to < 0 || to >= len(n.circuit.Nodes) {
		return r, fmt.Errorf("solve: no nodes %d and %d", from, to)
	}
	if q == Ohms && n.condition.Supply != Off {
		return r, ErrSupplyOn
	}
	r = Response{net: n, quantity: q, meter: meter, from: n.class[from], to: n.class[to]}
	pf, pt := n.partOf[r.from], n.partOf[r.to]
	r.open = pf != pt && !(n.parts[pf].anchored && n.parts[pt].anchored)
	if q == Volts {
		r.drive, err = n.state()
	}
	return r, err
}

// Read takes a reading and gives just its value, at the cost of the few nodes that
// lie above the two points in the elimination.
func (n *Net) Read(q Quantity, from, to int, meter Meter) (Value, error) {
	r, err := n.response(q, from, to, meter)
	if err != nil {
		return Value{}, err
	}
	if r.open {
		return r.Value(), nil
	}
	across, err := n.across(r.from, r.to)
	if err != nil {
		return Value{}, err
	}
	driven := 0.0
	if q == Volts {
		driven = r.drive[r.from] - r.drive[r.to]
	}
	return r.shown(across, driven), nil
}

// injected is what a bridge between spots brings into a class, in amperes.
type injected struct {
	class        int
	drive, probe float64
}

func dipole(from, to int) []amperes {
	if from == to {
		return nil
	}
	return []amperes{{from, 1}, {to, -1}}
}

// state gives the potentials with the condition's own sources.
func (n *Net) state() ([]float64, error) {
	if n.volts == nil {
		v, err := n.potentials(nil, true)
		if err != nil {
			return nil, err
		}
		n.volts = v
	}
	return n.volts, nil
}

// across gives the source resistance between the leads in ohms.
func (r *Response) across() float64 { return r.probe[r.from] - r.probe[r.to] }

// Value is what the meter shows.
func (r *Response) Value() Value {
	switch {
	case r.open && r.quantity == Ohms:
		return Over()
	case r.open:
		// Nothing closes the loop through the meter, so no current flows in it
		// and it shows nothing.
		return Value{}
	}
	return r.shown(r.across(), r.drive[r.from]-r.drive[r.to])
}

// shown is what the meter makes of a source resistance and, for a voltage, of
// the open-circuit voltage.
func (r *Response) shown(across, driven float64) Value {
	if r.quantity == Volts {
		return Value{Number: driven * r.loading(across)}
	}
	ohms := across + r.meter.LeadOhms
	if r.meter.RangeOhms > 0 && ohms > r.meter.RangeOhms {
		return Over()
	}
	return Value{Number: ohms}
}

// Ohms gives the resistance between the leads, without the meter, and false
// where they are apart.
func (r *Response) Ohms() (float64, bool) {
	if r.open {
		return 0, false
	}
	return r.across(), true
}

// loading is the share of the open-circuit voltage that the meter's input
// resistance leaves behind a source resistance.
func (r *Response) loading(across float64) float64 {
	if r.meter.InputOhms == 0 {
		return 1
	}
	return r.meter.InputOhms / (r.meter.InputOhms + across)
}

// Sensitivities adds to out, one value for each parameter of the circuit, how
// far the reading moves in ohms or volts when the parameter goes from the middle
// of its range to its upper limit (to first order). By Cohn's theorem a
// resistance moves by the square of the current in an element, so no further
// solving is needed. An OL reading moves by nothing.
func (r *Response) Sensitivities(out []float64) {
	if r.open {
		return
	}
	n := r.net
	k, voltage := 1.0, r.quantity == Volts
	perAcross := 0.0
	if voltage {
		k = r.loading(r.across())
		if r.meter.InputOhms > 0 {
			perAcross = -(r.drive[r.from] - r.drive[r.to]) * k * k / r.meter.InputOhms
		}
	}
	sources := n.condition.Supply == Idle
	for i := range n.branches {
		b := &n.branches[i]
		if b.element < 0 || b.replaced {
			continue
		}
		law := b.law // which is not the same for a module without supply
		if len(law.Value.Parts) == 0 && len(law.Volts.Parts) == 0 {
			continue
		}
		w := r.probe[b.a] - r.probe[b.b]
		e := 0.0
		if voltage {
			e = b.volts
		}
		d := r.drive[b.a] - r.drive[b.b] - e
		siemens, extra := r.carries(i)
		var dValue float64 // by the element's law value
		if law.Siemens {
			// A conductance has no series ohms of its own; an inserted
			// resistance in front of it scales by (r/(r+x))².
			own := 1.0
			if extra != 0 {
				rOwn := law.Ohms(n.z) * b.share
				own = rOwn / (rOwn + extra)
				own *= own
			}
			dValue = -own * (k*w*d + perAcross*w*w)
		} else {
			iw, id := siemens*w, siemens*d
			for _, c := range r.cut {
				if c.branch == i {
					// Two pieces of a wire carry different currents.
					dValue += c.ownSensitivity(iw, id, k, perAcross, b.share)
				}
			}
			if len(r.cut) == 0 || !r.isCut(i) {
				dValue = b.share * (k*iw*id + perAcross*iw*iw)
			}
		}
		for _, p := range law.Value.Parts {
			out[p.Parameter] += dValue * p.Half
		}
		if voltage {
			dVolts := k * siemens * w
			for _, p := range law.Volts.Parts {
				out[p.Parameter] += dVolts * p.Half
			}
		}
	}
	if voltage && sources {
		r.railSensitivity(out, k)
	}
}

func (r *Response) isCut(branch int) bool {
	for _, c := range r.cut {
		if c.branch == branch {
			return true
		}
	}
	return false
}

// railSensitivity adds how the supply's own volts move the reading: by the share
// of the probe current that returns through the rail.
func (r *Response) railSensitivity(out []float64, k float64) {
	n := r.net
	s := n.class[netlist.SupplyNode]
	current := 0.0
	for i := range n.branches {
		b := &n.branches[i]
		if b.a == b.b || b.a != s && b.b != s {
			continue
		}
		siemens, _ := r.carries(i)
		if b.a == s {
			current += siemens * (r.probe[b.b] - r.probe[b.a])
		} else {
			current += siemens * (r.probe[b.a] - r.probe[b.b])
		}
	}
	if r.from == s {
		current++
	}
	if r.to == s {
		current--
	}
	for _, b := range r.bridge {
		if b.class == s {
			current += b.probe
		}
	}
	for _, e := range n.circuit.Elements {
		if e.Kind != netlist.LoadElement {
			continue
		}
		for _, p := range e.Awake.Volts.Parts {
			out[p.Parameter] += k * current * p.Half
		}
	}
}

// Quantity is what the meter is set to.
func (r *Response) Quantity() Quantity { return r.quantity }
