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
	mid, half = dutyMid, dutyHalf
	if p.DominantShare != 0 {
		mid, half = p.DominantShare, p.DominantShare*dutyGivenPct/100
	}
	least, most := mid-half, min(1, mid+half)
	return (least + most) / 2, (most - least) / 2
}

// DominantRange is from what share of the time to what share the bus is taken to be
// dominant while a reading with traffic is taken, 0 to 1, each as likely as the other.
func (p *Probe) DominantRange() (least, most float64) {
	mid, half := p.duty()
	return mid - half, mid + half
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

// turns are the transceivers that send while a probe is read: the one it names, or all of
// its networks that take turns.
func (p *predictor) turns(q *Probe) ([]int, error) {
	switch {
	case q.Traffic:
		return p.senders(q), nil
	case q.Sender == "":
		return nil, nil
	}
	s, err := p.sender(q)
	return []int{s}, err
}

// drivenReading is a reading of a bus at work.
type drivenReading struct {
	p     *predictor
	probe *Probe
	turns []int // see predictor.turns
	bus   *solve.Bus
	k     int // leads of the bus
	// quiet are the volts while nobody sends but those that are stuck, sent the mean
	// while one after the other does; the same where nobody can.
	quiet, sent float64
	value       float64      // at the middle of the dominant share
	rough       *roughDriven // uncertainty borrowed from a reading near by, or nil
	// high is the reading with the supply at its upper limit, where a fault leads to it: nil
	// for not at all.
	high *drivenReading
}

// read takes a probe's reading on a bus.
func (p *predictor) read(bus *solve.Bus, k, probe int) (*drivenReading, error) {
	r := &drivenReading{p: p, probe: &p.probes[probe], turns: p.turn[probe], bus: bus, k: k}
	if r.probe.Sender != "" {
		v, err := bus.Read(k, p.meter, r.turns[0])
		r.quiet, r.sent, r.value = v.Number, v.Number, v.Number
		return r, err
	}
	quiet, err := bus.Read(k, p.meter)
	r.quiet, r.sent, r.value = quiet.Number, quiet.Number, quiet.Number
	if err != nil {
		return r, err
	}
	sum, n := 0.0, 0
	for _, s := range r.turns {
		if !takesTurn(r.bus, s) {
			continue
		}
		v, err := bus.Read(k, p.meter, s)
		if err != nil {
			return r, err
		}
		sum += v.Number
		n++
	}
	if n > 0 {
		r.sent = sum / float64(n)
		mid, _ := r.probe.duty()
		r.value = (1-mid)*r.quiet + mid*r.sent
	}
	return r, nil
}

// takesTurn tells whether a station of a bus sends in its turn: one that is stuck does not
// stop, one without supply does not begin.
func takesTurn(bus *solve.Bus, s int) bool {
	return bus.Stations[s].Powered && !bus.Stations[s].Stuck
}

// Value is what the meter shows.
func (r *drivenReading) Value() solve.Value { return solve.Value{Number: r.value} }

// Sensitivities are those of the drivers, by differences on the ports, and of the
// idle bias. Wires and terminators move a driven level by a few hundredths of a
// volt at most, a tenth of what the drivers' own limits do, and are left out.
func (r *drivenReading) Sensitivities(out []float64) {
	if r.rough == nil {
		r.rough = r.roughly()
	}
	for i, d := range r.rough.sensitivities {
		out[i] += d
	}
}

// roughly works out how uncertain the reading is, to be lent to others near by. Bias acts
// while the bus is quiet, the drivers while they send, each in proportion to its share of
// the time. The supply acts all the time on what a fault leads to it.
func (r *drivenReading) roughly() *roughDriven {
	out := r.ofDrivers()
	if at := supplyParameter(r.p.c); r.high != nil && at >= 0 {
		out.sensitivities[at] = r.high.value - r.value
		if r.probe.Traffic && out.byShare == nil {
			out.byShare = make([]float64, len(out.sensitivities))
		}
		if r.probe.Traffic {
			out.byShare[at] = r.high.dutyLimit() - r.dutyLimit()
		}
	}
	return out
}

// ofDrivers is what drivers and bias do.
func (r *drivenReading) ofDrivers() *roughDriven {
	n := len(r.p.c.Parameters)
	out := &roughDriven{sensitivities: make([]float64, n)}
	moved, z := r.bus.Movable()
	if r.probe.Sender != "" {
		// A sender overrides the bias, so a dominant level has no share of it.
		r.drivers(moved, z, r.turns, 1, out.sensitivities, r.turns...)
		return out
	}
	quiet := make([]float64, n)
	var stuck, sending []int
	for i := range r.bus.Stations {
		if r.bus.Stations[i].Stuck {
			stuck = append(stuck, i)
		}
	}
	if len(stuck) > 0 {
		r.drivers(moved, z, stuck, 1, quiet)
	} else {
		r.bus.IdleSensitivities(r.k, 1, quiet)
	}
	for _, s := range r.turns {
		if takesTurn(r.bus, s) {
			sending = append(sending, s)
		}
	}
	if len(sending) == 0 {
		out.sensitivities = quiet
		return out
	}
	sent := make([]float64, n)
	for _, s := range sending {
		// A driver's figures act while it sends, and on nothing else.
		r.drivers(moved, z, []int{s}, 1/float64(len(sending)), sent, s)
	}
	out.byShare = make([]float64, n)
	mid, half := r.probe.duty()
	for i := range sent {
		out.sensitivities[i] = (1-mid)*quiet[i] + mid*sent[i]
		out.byShare[i] = half * (sent[i] - quiet[i])
	}
	return out
}

// drivers adds a share of how far the figures of some stations' drivers move the reading
// while senders send. moved is the bus with figures that move with z.
func (r *drivenReading) drivers(moved *solve.Bus, z []float64, stations []int, share float64, out []float64, senders ...int) {
	const step = 0.5
	now, err := r.bus.Read(r.k, r.p.meter, senders...)
	if err != nil {
		return
	}
	for _, d := range r.bus.DriveParameters(stations) {
		before := z[d]
		z[d] += step
		then, err := moved.Read(r.k, r.p.meter, senders...)
		z[d] = before
		if err == nil {
			out[d] += share * (then.Number - now.Number) / step
		}
	}
}

// dutyLimit is how far the reading moves, in volts and with its sign, when the
// share of dominant time goes from the middle of its range to the upper limit.
func (r *drivenReading) dutyLimit() float64 {
	_, half := r.probe.duty()
	return half * (r.sent - r.quiet)
}

// byShare is how far the sensitivities move then; nil for not at all.
func (r *drivenReading) byShare() []float64 {
	if r.rough == nil {
		r.rough = r.roughly()
	}
	return r.rough.byShare
}
