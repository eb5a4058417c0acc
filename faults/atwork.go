package faults

import (
	"errors"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/solve"
)

// Readings to come of a bus at work: the volts that a multimeter shows with traffic, and
// levels while one module sends. What an explanation foresees of them is what a match
// predicts (driven.go), drivers, bias and dominant share as uncertain as there.

// busyProbes lists the readings with traffic at single places, everything plugged in,
// and the levels while each module sends, made once.
func (x *Matcher) busyProbes(traffic, scope bool) []Probe {
	var out []Probe
	if traffic {
		if x.busy == nil {
			x.busy = Probes(x.c, Selection{Quantity: solve.Volts, Traffic: true})
		}
		out = x.busy
	}
	if !scope {
		return out
	}
	if x.levels == nil {
		for i := range x.c.Units {
			if u := &x.c.Units[i]; len(u.Inputs) > 0 {
				x.levels = append(x.levels, Probes(x.c, Selection{Quantity: solve.Volts, Sender: u.Name})...)
			}
		}
	}
	return slices.Concat(out, x.levels)
}

// canSend tells whether some module can send on the networks that a probe touches, if
// that is what it wants.
func (x *Matcher) canSend(p *Probe) bool {
	if !p.Traffic {
		return true
	}
	of := predictor{c: x.c}
	return len(of.senders(p)) > 0
}

// fellSilent tells whether a probe wants a module to send that did not answer.
func fellSilent(m *Match, p *Probe) bool {
	module, _, _ := strings.Cut(p.Sender, "/")
	return slices.ContainsFunc(m.Answers, func(a Answer) bool { return a.Module == module && !a.Answered })
}

// partDriven parts probes into those at rest, those with traffic and levels.
func partDriven(probes []Probe) (rest, traffic, levels []Probe) {
	for _, p := range probes {
		switch {
		case p.Traffic:
			traffic = append(traffic, p)
		case p.driven():
			levels = append(levels, p)
		default:
			rest = append(rest, p)
		}
	}
	return rest, traffic, levels
}

// alike puts components together that differ only in the free ohms of their first
// fault, so that what is prepared for one serves all of them.
func (f *foresight) alike() [][]*component {
	var out [][]*component
	for i := range f.components {
		c := &f.components[i]
		if n := len(out) - 1; n >= 0 && out[n][0].like(c) {
			out[n] = append(out[n], c)
			continue
		}
		out = append(out, []*component{c})
	}
	return out
}

func (c *component) like(d *component) bool {
	return c.fraction == d.fraction && slices.Equal(c.members, d.members) &&
		(len(c.ohms) == 0 || slices.Equal(c.ohms[1:], d.ohms[1:]))
}

// atWork is readings of a bus at work, for any explanation.
type atWork struct {
	p *predictor // nil where there are none
}

func (f *foresight) atWork(probes []Probe) (*atWork, error) {
	if len(probes) == 0 {
		return &atWork{}, nil
	}
	p, err := newPredictor(f.x.c, probes, f.x.in.Meter)
	return &atWork{p}, err
}

// atWorkBy is the same by explanations that differ in the ohms of one fault. One
// goroutine uses it.
type atWorkBy struct {
	p     *predictor
	ready *prepared // nil for healthy wiring
	err   error
}

func (w *atWork) prepare(of []*component) *atWorkBy {
	out := &atWorkBy{p: w.p}
	if c := of[0]; w.p != nil && len(c.members) > 0 {
		out.ready, out.err = w.p.prepare(combineAt(c.members, c.ohms), c.fraction)
	}
	return out
}

// at gives the readings by one of them. How uncertain they are is worked out in steps of
// the ohms, as in a match.
func (b *atWorkBy) at(c *component) ([]predicted, error) {
	switch {
	case b.err != nil || b.p == nil:
		return nil, b.err
	case b.ready == nil:
		return b.p.healthy()
	}
	return b.ready.at(c.ohms[0])
}

// buses gives the buses behind the readings, by group of conditions.
func (b *atWorkBy) buses(c *component) ([]*solve.Bus, error) {
	var out []*solve.Bus
	for g := range b.p.groups {
		if b.ready == nil {
			out = append(out, b.p.groups[g].bus)
			continue
		}
		_, bus, err := b.ready.parts[g].at(b.ready, c.ohms[0])
		if err != nil {
			return nil, err
		}
		out = append(out, bus)
	}
	return out, nil
}

// glanceAtWork is a first look at candidates of a bus at work. Each sender is let send
// once for each component, and all leads are read from that: what the meter itself draws
// is left out. How uncertain drivers and bias make a reading is taken from the healthy
// harness; the dominant share is taken in full as long as nothing was read with traffic,
// for a half of it afterwards.
func (f *foresight) glanceAtWork(candidates []Probe) error {
	f.candidates = candidates
	p, err := newGlance(f.x.c, candidates, f.x.in.Meter)
	if err != nil {
		return err
	}
	work := &atWork{p}
	healthy, err := p.healthy()
	if err != nil {
		return err
	}
	drivers := make([]float64, len(candidates))
	parallel(len(candidates), func() func(int) {
		j := make([]float64, len(f.x.c.Parameters))
		return func(k int) {
			clear(j)
			healthy[k].Sensitivities(j)
			for _, d := range j {
				drivers[k] += d * d * limitToSigma * limitToSigma
			}
			drivers[k] = math.Sqrt(drivers[k])
		}
	})
	alike := f.alike()
	failed := make([]error, len(alike))
	parallel(len(alike), func() func(int) {
		return func(g int) {
			look := work.prepare(alike[g])
			if look.err != nil {
				failed[g] = look.err
				return
			}
			for _, c := range alike[g] {
				if failed[g] = f.glanceBy(look, c, drivers); failed[g] != nil {
					return
				}
			}
		}
	})
	return errors.Join(failed...)
}

// knownShare is what is left of how uncertain the dominant share is once something was
// read with traffic, and of the drivers' own figures, roughly.
const knownShare = 0.5

// glanceBy is the first look by one component.
func (f *foresight) glanceBy(look *atWorkBy, c *component, drivers []float64) error {
	buses, err := look.buses(c)
	if err != nil {
		return err
	}
	p := look.p
	c.mean, c.sd = make([]float64, len(p.probes)), make([]float64, len(p.probes))
	left := 1.0
	if f.trafficRead {
		left = knownShare
	}
	for g, of := range p.groups {
		bus := buses[g]
		// Each sender sends once, for all leads.
		sent := map[int]*solve.Sent{}
		send := func(s int) (*solve.Sent, error) {
			if sent[s] == nil {
				var err error
				if s < 0 {
					sent[s], err = bus.Send()
				} else {
					sent[s], err = bus.Send(s)
				}
				if err != nil {
					return nil, err
				}
			}
			return sent[s], nil
		}
		for k, i := range of.probes {
			q, own := &p.probes[i], 0.0
			if q.Sender != "" {
				x, err := send(p.turn[i][0])
				if err != nil {
					return err
				}
				c.mean[i] = x.Volts(k)
			} else {
				quiet, err := send(-1)
				if err != nil {
					return err
				}
				sum, n := 0.0, 0
				for _, s := range p.turn[i] {
					if !takesTurn(bus, s) {
						continue
					}
					x, err := send(s)
					if err != nil {
						return err
					}
					sum += x.Volts(k)
					n++
				}
				c.mean[i] = quiet.Volts(k)
				if n > 0 {
					mid, half := q.duty()
					lift := sum/float64(n) - quiet.Volts(k)
					c.mean[i] += mid * lift
					own = half * lift * limitToSigma * left
				}
			}
			meter, _, _ := f.x.in.errors(solve.Volts, solve.Value{Number: c.mean[i]})
			c.sd[i] = math.Sqrt(meter + own*own + left*left*drivers[i]*drivers[i])
		}
	}
	return nil
}
