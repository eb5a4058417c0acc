package solve

import (
	"errors"
	"math"
	"slices"
)

// ErrApart says that a bridge joins two parts of a net that have nothing else
// in common; such a change needs a net of its own.
var ErrApart = errors.New("solve: the bridge joins separate parts; assemble the net with it instead")

// ErrCut says that a wire that other changes cut into pieces is to take a free
// resistance; such a change needs a net of its own.
var ErrCut = errors.New("solve: the wire is cut into pieces; assemble the net with the change instead")

// Variation is one resistance laid into a solved net, a [Bridge] or an [Insert],
// whose ohms are still free. Any reading is then a ratio of two straight lines
// in the free conductance (the bilinear theorem), so that every value costs a
// few operations and no factorisation.
//
// A bridge from rail to rail changes nothing while the supply holds them, down to
// the limit of 0 Ω, for which [Assemble] says that a fuse would blow.
//
// A bridge keeps all digits. An insert into an element that is almost the only
// path loses some as its ohms grow: measured on harnesses, 1e-10 of the reading
// at 1 kΩ and 1e-7 at 10 MΩ, of no account to a meter.
type Variation struct {
	net    *Net
	insert bool
	// lift are the potentials when 1 A flows in at the spot (bridge: in at
	// From, out at To; insert: in at the element's A end, out at its B end).
	lift []float64
	// d lists the classes between which the change acts, with weights: a
	// spot along a wire acts on both of its ends.
	d []weighted
	// source is the resistance in ohms that a bridge sees between its spots,
	// the cut wires included.
	source float64
	// branch and conductance seen by an inserted resistance.
	branch int
	seen   float64
	wires  []cutWire
	// raised is the net with the branch's ohms raised by raisedOhms, kept from
	// the last Apply: all readings of a net are asked for in turn.
	raised     *Net
	raisedOhms float64
}

type weighted struct {
	class  int
	weight float64
}

// cutWire is a wire that a bridge attaches to part of the way: branch,
// fraction of its length and of the branch's ohms, and the sign of the bridge's
// current there.
type cutWire struct {
	branch         int
	fraction, ohms float64
	sign           float64
}

// cut is a cutWire with the currents in amperes that the bridge takes from the
// wire in the drive and in the probe.
type cut struct {
	cutWire
	drive, probe float64
}

// ownSensitivity is the derivative of a reading by the ohms of a wire of which
// two pieces carry different currents. iw and id are the currents at the ends'
// potential difference; the bridge's current j, taken out at a share o of the
// ohms, adds (1−o)·j before the spot and −o·j after it. The wire's own ohms, by
// which the derivative is, are parted at the fraction f of its length.
func (c cut) ownSensitivity(iw, id, k, perAcross, share float64) float64 {
	f, o := c.fraction, c.ohms
	w1, w2 := iw+(1-o)*c.probe, iw-o*c.probe
	d1, d2 := id+(1-o)*c.drive, id-o*c.drive
	s := f*(k*w1*d1+perAcross*w1*w1) + (1-f)*(k*w2*d2+perAcross*w2*w2)
	return share * s
}

// Vary prepares a change whose ohms are free; the change's own Ohms do not
// count.
func (n *Net) Vary(change Change) (*Variation, error) {
	v := &Variation{net: n, branch: -1}
	var inject []amperes
	in := func(class int, amps float64) {
		for i := range inject {
			if inject[i].class == class {
				inject[i].amps += amps
				return
			}
		}
		inject = append(inject, amperes{class, amps})
	}
	switch ch := change.(type) {
	case Bridge:
		if err := v.attach(ch.From, 1); err != nil {
			return nil, err
		}
		if err := v.attach(ch.To, -1); err != nil {
			return nil, err
		}
		anchored := true
		parts := map[int]float64{}
		for _, d := range v.d {
			in(d.class, d.weight)
			parts[n.partOf[d.class]] += d.weight
			anchored = anchored && n.parts[n.partOf[d.class]].anchored
		}
		if len(parts) > 1 && !anchored {
			return nil, ErrApart
		}
	case Insert:
		if err := (Part{ch.Element}).check(n.circuit); err != nil {
			return nil, err
		}
		v.insert = true
		bs := n.of[ch.Element]
		if len(bs) == 0 {
			return v, nil // the element is open or shorted already: no effect
		}
		if len(bs) > 1 {
			return nil, ErrCut
		}
		v.branch = bs[0]
		b := n.branches[v.branch]
		v.d = []weighted{{b.a, 1}, {b.b, -1}}
		in(b.a, 1)
		in(b.b, -1)
	default:
		return nil, errors.New("solve: only a Bridge or an Insert has free ohms")
	}
	inject = slices.DeleteFunc(inject, func(i amperes) bool { return i.amps == 0 })
	var err error
	if v.lift, err = n.potentials(inject, false); err != nil {
		return nil, err
	}
	if v.insert {
		if b := n.branches[v.branch]; b.a != b.b {
			// The conductance that an EMF in the branch sees. For the only path
			// to a part this is 0 up to rounding, which is as it should be: no
			// current, no effect.
			v.seen = b.siemens * math.Max(0, 1-b.siemens*v.at(v.lift))
		} else {
			v.seen = b.siemens
		}
	} else {
		v.source += v.at(v.lift)
	}
	return v, nil
}

// attach notes where one end of a bridge acts.
func (v *Variation) attach(s Spot, sign float64) error {
	n := v.net
	if err := s.check(n.circuit); err != nil {
		return err
	}
	if s.Wire < 0 {
		v.d = append(v.d, weighted{n.class[s.Node], sign})
		return nil
	}
	e := n.circuit.Elements[s.Wire]
	bs := n.of[s.Wire]
	switch {
	case s.Fraction <= 0:
		v.d = append(v.d, weighted{n.class[e.A], sign})
		return nil
	case s.Fraction >= 1:
		v.d = append(v.d, weighted{n.class[e.B], sign})
		return nil
	case len(bs) != 1:
		return ErrApart
	}
	b := n.branches[bs[0]]
	// An inserted resistance sits at the wire's A end, so the spot lies further
	// along in ohms than in length.
	f := s.Fraction + (1-s.Fraction)*b.extra*b.siemens
	v.d = append(v.d, weighted{b.a, sign * (1 - f)}, weighted{b.b, sign * f})
	v.source += f * (1 - f) / b.siemens
	v.wires = append(v.wires, cutWire{bs[0], s.Fraction, f, sign})
	return nil
}

// at is what the change's spots see of some potentials.
func (v *Variation) at(potentials []float64) float64 {
	sum := 0.0
	for _, d := range v.d {
		sum += d.weight * potentials[d.class]
	}
	return sum
}

// Value gives just the reading with the change's resistance set, in a few
// operations.
func (v *Variation) Value(r *Response, ohms float64) Value {
	if r.open || v.insert && v.branch < 0 {
		return r.Value()
	}
	kDrive, kProbe, ok := v.strength(r, ohms)
	if !ok {
		return r.Value()
	}
	lift := v.lift[r.from] - v.lift[r.to]
	across := r.across() + kProbe*lift
	driven := across
	if r.quantity == Volts {
		driven = r.drive[r.from] - r.drive[r.to] + kDrive*lift
	}
	return r.shown(across, driven)
}

// strength is how much of the lift the change adds to the drive and to the
// probe; false where it changes nothing.
func (v *Variation) strength(r *Response, ohms float64) (drive, probe float64, ok bool) {
	if v.insert {
		b := &v.net.branches[v.branch]
		e := 0.0
		if r.quantity == Volts {
			e = b.volts
		}
		share := ohms * b.siemens * b.siemens / (1 + ohms*v.seen)
		return share * (r.drive[b.a] - r.drive[b.b] - e), share * (r.probe[b.a] - r.probe[b.b]), true
	}
	total := ohms + v.source
	if total <= 0 {
		return 0, 0, false // spots already joined
	}
	return -v.at(r.drive) / total, -v.at(r.probe) / total, true
}

// Apply gives the response with the change's resistance set. A bridge of 0 ohms
// is an ideal joint. The response may be used like any other.
func (v *Variation) Apply(r *Response, ohms float64) *Response {
	out := *r
	if r.open || v.insert && v.branch < 0 {
		return &out
	}
	kDrive, kProbe, ok := v.strength(r, ohms)
	if !ok {
		return &out
	}
	if v.insert {
		if v.raised == nil || v.raisedOhms != ohms {
			v.raised, v.raisedOhms = v.net.inserted(v.branch, ohms), ohms
		}
		out.net = v.raised
	} else {
		out.bridge = append(out.bridge[:0:0], out.bridge...)
		for _, d := range v.d {
			out.bridge = append(out.bridge, injected{d.class, kDrive * d.weight, kProbe * d.weight})
		}
		out.cut = append(out.cut[:0:0], out.cut...)
		for _, w := range v.wires {
			out.cut = append(out.cut, cut{w, -w.sign * kDrive, -w.sign * kProbe})
		}
	}
	out.probe = combine(r.probe, v.lift, kProbe)
	if r.quantity == Ohms {
		out.drive = out.probe
	} else {
		out.drive = combine(r.drive, v.lift, kDrive)
	}
	return &out
}

func combine(x, lift []float64, k float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] + k*lift[i]
	}
	return out
}

// inserted is the net with one branch's resistance raised; it shares all else
// and serves only to read branch currents.
func (n *Net) inserted(branch int, ohms float64) *Net {
	m := *n
	m.branches = append(m.branches[:0:0], n.branches...)
	b := &m.branches[branch]
	b.extra += ohms
	b.siemens = 1 / (1/b.siemens + ohms)
	return &m
}
