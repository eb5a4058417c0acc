package faults

import (
	"fmt"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Share of the time in which a busy network is dominant, for what a multimeter
// shows with traffic: from one that was quiet after all to a full one. A share that
// is given is what a tool calls bus load, or a guess, so it too is taken from
// nothing up to twice itself. All readings with traffic have it in common. From
// memory.
const (
	dutyMid      = 0.25
	dutyHalf     = 0.25
	dutyGivenPct = 100
)

// driven tells whether modules send while the reading is taken.
func (p *Probe) driven() bool { return p.Sender != "" || p.Traffic }

// WithSender makes a probe of volts one that is taken while a module (or
// module/network) sends dominant.
func (p Probe) WithSender(sender string) Probe {
	p.Sender = sender
	return p
}

// WithTraffic makes a probe of volts one that is taken with a multimeter while
// modules send in turn.
func (p Probe) WithTraffic() Probe {
	p.Traffic = true
	return p
}

// checkDriven refuses what cannot be read while modules send.
func (p *predictor) checkDriven(q *Probe) error {
	switch {
	case q.Quantity != solve.Volts || q.Condition.Supply != solve.Idle:
		return fmt.Errorf("%s: while modules send, volts are read with the supply on", q)
	case !(q.DominantShare >= 0 && q.DominantShare <= 1):
		return fmt.Errorf("%s: a share of dominant time of %v is not from 0 to 1", q, q.DominantShare)
	case q.Sender != "" && q.Traffic:
		return fmt.Errorf("%s: either one module sends or all in turn", q)
	case q.Sender != "":
		if _, err := p.sender(q); err != nil {
			return fmt.Errorf("%s: %w", q, err)
		}
	}
	return nil
}

// duty gives the middle and half width of the share of dominant time.
func (p *Probe) duty() (mid, half float64) {
	if p.DominantShare != 0 {
		return p.DominantShare, p.DominantShare * dutyGivenPct / 100
	}
	return dutyMid, dutyHalf
}

// DominantRange is from what share of the time to what share the bus is taken to be
// dominant while a reading with traffic is taken, 0 to 1, each as likely as the other.
func (p *Probe) DominantRange() (least, most float64) {
	mid, half := p.duty()
	return mid - half, min(1, mid+half)
}

// sender finds the transceiver that a probe names.
func (p *predictor) sender(q *Probe) (int, error) {
	module, network, _ := strings.Cut(q.Sender, "/")
	if network == "" {
		// A gateway sends on the network that is being measured.
		for _, n := range []int{q.From, q.To} {
			if k := p.c.Nodes[n].Conductor; k.Network != "" {
				if t, err := p.c.Transceiver(module, k.Network); err == nil {
					return t, nil
				}
			}
		}
	}
	return p.c.Transceiver(module, network)
}

// senders lists the transceivers that take turns on the networks that a probe
// touches.
func (p *predictor) senders(q *Probe) []int {
	networks := map[string]bool{}
	for _, n := range []int{q.From, q.To} {
		if k := p.c.Nodes[n].Conductor; k != (netlist.Conductor{}) {
			networks[k.Network] = true
		}
	}
	var out []int
	for i, t := range p.c.Transceivers {
		if networks[t.Network] {
			out = append(out, i)
		}
	}
	return out
}

// drivenReading is a reading of a bus at work.
type drivenReading struct {
	p     *predictor
	probe *Probe
	bus   *solve.Bus
	k     int // leads of the bus
	value float64
	rough *roughDriven // uncertainty borrowed from a reading near by, or nil
}

// read takes a probe's reading on a bus.
func (p *predictor) read(bus *solve.Bus, k int, q *Probe) (*drivenReading, error) {
	r := &drivenReading{p: p, probe: q, bus: bus, k: k}
	var err error
	mid, _ := q.duty()
	r.value, err = r.volts(bus, mid)
	return r, err
}

// volts is the reading with a share of dominant time.
func (r *drivenReading) volts(bus *solve.Bus, duty float64) (float64, error) {
	if r.probe.Sender != "" {
		s, err := r.p.sender(r.probe)
		if err != nil {
			return 0, err
		}
		v, err := bus.Read(r.k, r.p.meter, s)
		return v.Number, err
	}
	quiet, err := bus.Read(r.k, r.p.meter)
	if err != nil {
		return 0, err
	}
	if !r.probe.Traffic {
		return quiet.Number, nil // nobody sends but those that are stuck
	}
	sum, n := 0.0, 0
	for _, s := range r.p.senders(r.probe) {
		if !bus.Stations[s].Powered || bus.Stations[s].Stuck {
			continue
		}
		v, err := bus.Read(r.k, r.p.meter, s)
		if err != nil {
			return 0, err
		}
		sum += v.Number
		n++
	}
	if n == 0 {
		return quiet.Number, nil
	}
	return (1-duty)*quiet.Number + duty*sum/float64(n), nil
}

// Value is what the meter shows.
func (r *drivenReading) Value() solve.Value { return solve.Value{Number: r.value} }

// Sensitivities are those of the drivers, by differences on the ports, and of the
// idle bias. Wires and terminators move a driven level by a few hundredths of a
// volt at most, a tenth of what the drivers' own limits do, and are left out.
func (r *drivenReading) Sensitivities(out []float64) {
	if r.rough != nil {
		for i, d := range r.rough.sensitivities {
			out[i] += d
		}
		return
	}
	const step = 0.5
	duty, _ := r.probe.duty()
	senders := r.sending()
	each := 1.0 / float64(max(1, len(senders)))
	if r.probe.Traffic {
		each *= duty
	}
	moved, z := r.bus.Movable()
	for _, s := range senders {
		// A driver's figures act while it sends, and on nothing else.
		now, err := r.bus.Read(r.k, r.p.meter, s)
		if err != nil {
			continue
		}
		for _, d := range r.bus.DriveParameters([]int{s}) {
			before := z[d]
			z[d] += step
			then, err := moved.Read(r.k, r.p.meter, s)
			z[d] = before
			if err == nil {
				out[d] += each * (then.Number - now.Number) / step
			}
		}
	}
	if r.probe.Traffic {
		r.bus.IdleSensitivities(r.k, 1-duty, out)
	}
	// A sender overrides the bias, so a dominant level has no share of it.
}

// sending lists the stations whose drivers matter for the reading.
func (r *drivenReading) sending() []int {
	switch {
	case r.probe.Traffic:
		return r.p.senders(r.probe)
	case r.probe.Sender == "":
		var out []int
		for i := range r.bus.Stations {
			if r.bus.Stations[i].Stuck {
				out = append(out, i)
			}
		}
		return out
	}
	s, err := r.p.sender(r.probe)
	if err != nil {
		return nil
	}
	return []int{s}
}

// dutyLimit is how far the reading moves, in volts and with its sign, when the
// share of dominant time goes from the middle of its range to the upper limit.
func (r *drivenReading) dutyLimit() float64 {
	switch {
	case r.rough != nil:
		return r.rough.duty
	case !r.probe.Traffic:
		return 0
	}
	mid, half := r.probe.duty()
	more, err1 := r.volts(r.bus, mid+half)
	less, err2 := r.volts(r.bus, mid-half)
	if err1 != nil || err2 != nil {
		return 0
	}
	return (more - less) / 2
}
