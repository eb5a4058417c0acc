package faults

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// limitToSigma turns a limit of error into a standard deviation. A data sheet's
// limit is a bound, so every value within is taken as equally likely: limit/√3.
var limitToSigma = 1 / math.Sqrt(3)

// predicted is one reading as computed: a [solve.Response], or one of a bus at
// work.
type predicted interface {
	Value() solve.Value
	// Sensitivities adds how far each parameter of the circuit moves the value
	// when it goes to its upper limit.
	Sensitivities(out []float64)
}

// predictor computes what given probes read for any fault. It keeps the healthy
// nets, from which most faults follow without solving anew.
type predictor struct {
	c      *netlist.Circuit
	probes []Probe
	meter  solve.Meter
	groups []*group
	turn   [][]int   // by probe: who sends meanwhile, see turns
	z      []float64 // standard parameters of the harness, nil for the middle of each
	finest float64   // difference in ohms that the meter shows, 0 for a common one
	// high is the same with the supply at its upper limit, made when first needed, which is
	// once.
	high     *predictor
	highErr  error
	highOnce sync.Once
	// glance takes a bus at work as if the meter drew no current, which costs less.
	glance bool
}

// group is the probes of one condition.
type group struct {
	condition solve.Condition
	probes    []int
	net       *solve.Net
	islands   *islands
	healthy   []*solve.Response // nil for a probe of a bus at work
	leads     []solve.Leads     // of the probes of a bus at work
	bus       *solve.Bus        // the healthy bus, where there are any
	heard     []*drivenReading  // by probe, the healthy readings of a bus at work
}

// busOf sees a net from its drivers and leads.
func (p *predictor) busOf(n *solve.Net, leads []solve.Leads) (*solve.Bus, error) {
	if p.glance {
		return n.UnloadedBus(leads)
	}
	return n.Bus(leads)
}

func newPredictor(c *netlist.Circuit, probes []Probe, meter solve.Meter) (*predictor, error) {
	return predictorAt(c, probes, meter, nil)
}

// newGlance is newPredictor for a first look at a bus at work.
func newGlance(c *netlist.Circuit, probes []Probe, meter solve.Meter) (*predictor, error) {
	p := &predictor{c: c, probes: probes, meter: meter, groups: groupProbes(probes), glance: true}
	return p, p.begin()
}

// predictorAt is newPredictor for a harness with the standard parameters z.
func predictorAt(c *netlist.Circuit, probes []Probe, meter solve.Meter, z []float64) (*predictor, error) {
	p := &predictor{c: c, probes: probes, meter: meter, groups: groupProbes(probes), z: z}
	return p, p.begin()
}

// begin makes the healthy nets ready.
func (p *predictor) begin() error {
	p.turn = make([][]int, len(p.probes))
	for _, g := range p.groups {
		for _, i := range g.probes {
			if q := &p.probes[i]; q.driven() {
				if err := p.checkDriven(q); err != nil {
					return err
				}
				g.leads = append(g.leads, solve.Leads{From: q.From, To: q.To})
			}
		}
		var err error
		for _, i := range g.probes {
			if p.turn[i], err = p.turns(&p.probes[i]); err != nil {
				return err
			}
		}
		if g.net, g.healthy, err = p.direct(g, p.z, nil); err != nil {
			return err
		}
		g.net.Prepare()
		g.islands = newIslands(p.c, g.condition.Supply)
		if len(g.leads) > 0 {
			if g.bus, err = p.busOf(g.net, g.leads); err != nil {
				return err
			}
		}
		if !p.glance {
			if err := p.hear(g); err != nil {
				return err
			}
		}
	}
	return nil
}

// hear takes the healthy readings of a bus at work, how uncertain they are and all: a fault
// that moves nothing on the bus has the same.
func (p *predictor) hear(g *group) error {
	k := 0
	g.heard = make([]*drivenReading, len(g.probes))
	for j, i := range g.probes {
		if !p.probes[i].driven() {
			continue
		}
		r, err := p.read(g.bus, k, i)
		if err != nil {
			return err
		}
		r.rough = r.roughly()
		g.heard[j] = r
		k++
	}
	return nil
}

// groupProbes puts probes of one condition together.
func groupProbes(probes []Probe) []*group {
	var out []*group
	byKey := map[string]*group{}
	for i, probe := range probes {
		key := fmt.Sprint(probe.Condition.Supply, "|", strings.Join(probe.Condition.Unplugged, "|"))
		g := byKey[key]
		if g == nil {
			g = &group{condition: probe.Condition}
			byKey[key] = g
			out = append(out, g)
		}
		g.probes = append(g.probes, i)
	}
	return out
}

// changed takes a group's readings with a fault's fixed changes. Those that the
// changes do not reach are the healthy ones, unless a free resistance is to be
// varied in the changed net.
func (p *predictor) changed(g *group, f *Fault) (*solve.Net, []*solve.Response, error) {
	pieces, all := g.islands.touched(f.base)
	if all || f.free != nil {
		return p.direct(g, p.z, f.base)
	}
	return p.directWhere(g, p.z, f.base, func(j int) *solve.Response {
		if g.islands.sees(&p.probes[g.probes[j]], pieces) {
			return nil
		}
		return g.healthy[j]
	})
}

// untouched tells whether a fault without free ohms changes nothing that a group's readings
// see, nor where those are that send meanwhile.
func (p *predictor) untouched(g *group, f *Fault) bool {
	pieces, all := g.islands.touched(f.base)
	if all || f.free != nil {
		return false
	}
	for _, i := range g.probes {
		if g.islands.sees(&p.probes[i], pieces) {
			return false
		}
		for _, t := range p.turn[i] {
			at := p.c.Transceivers[t]
			if g.islands.sees(&Probe{From: at.High, To: at.Low}, pieces) || g.islands.sees(&Probe{From: at.Ground, To: at.Ground}, pieces) {
				return false
			}
		}
	}
	return true
}

// direct assembles a net of its own and takes a group's readings in it.
func (p *predictor) direct(g *group, z []float64, changes []solve.Change) (*solve.Net, []*solve.Response, error) {
	return p.directWhere(g, z, changes, func(int) *solve.Response { return nil })
}

// directWhere is direct, but for the readings that are known already.
func (p *predictor) directWhere(g *group, z []float64, changes []solve.Change, known func(j int) *solve.Response) (*solve.Net, []*solve.Response, error) {
	n, err := solve.Assemble(p.c, g.condition, z, changes...)
	if err != nil {
		return nil, nil, err
	}
	out := make([]*solve.Response, len(g.probes))
	for j, i := range g.probes {
		q := p.probes[i]
		if q.driven() {
			continue // read from the bus
		}
		if out[j] = known(j); out[j] != nil {
			continue
		}
		if out[j], err = n.Respond(q.Quantity, q.From, q.To, p.meter); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", q, err)
		}
	}
	return n, out, nil
}

// healthy gives the responses of the harness without a fault.
func (p *predictor) healthy() ([]predicted, error) {
	out := make([]predicted, len(p.probes))
	for _, g := range p.groups {
		if err := p.collect(g, g.healthy, g.bus, out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// collect puts a group's readings where they belong: from the responses, or from
// the bus.
func (p *predictor) collect(g *group, responses []*solve.Response, bus *solve.Bus, out []predicted) error {
	k := 0
	for j, i := range g.probes {
		if !p.probes[i].driven() {
			out[i] = responses[j]
			continue
		}
		if g.heard != nil && bus.SameAs(g.bus, k, p.turn[i]) {
			out[i] = g.heard[j]
			k++
			continue
		}
		r, err := p.read(bus, k, i)
		if err != nil {
			return err
		}
		out[i] = r
		k++
	}
	return nil
}

// prepared is a fault at one fraction of its wires, ready for any ohms.
type prepared struct {
	p        *predictor
	fault    *Fault
	fraction float64
	parts    []preparedPart
	// rough are the sensitivities of driven readings, worked out
	// for each step of a factor of about 7 in the free ohms: they are wide and
	// change slowly, and cost far more than the readings.
	rough map[[2]int]*roughDriven
	high  *prepared // with the supply at its upper limit, for a fault that leads to it
}

// roughDriven is how uncertain a driven reading is.
type roughDriven struct {
	sensitivities []float64 // at the middle of the dominant share
	byShare       []float64 // what they gain by its upper limit; nil for nothing
}

// borrow lets driven readings take their uncertainty from an earlier one near by.
func (f *prepared) borrow(ohms float64, all []predicted) error {
	step := f.step(ohms)
	for i, r := range all {
		d, ok := r.(*drivenReading)
		if !ok || d.rough != nil {
			continue
		}
		key := [2]int{i, step}
		if f.rough[key] == nil {
			if f.fault.onSupply() && d.high == nil {
				if err := f.supply(ohms, all); err != nil {
					return err
				}
			}
			f.rough[key] = d.roughly()
		}
		d.rough = f.rough[key]
	}
	return nil
}

// step numbers the steps of the free ohms.
func (f *prepared) step(ohms float64) int {
	if f.fault.Free == nil {
		return 0
	}
	return int(math.Floor(math.Log(math.Max(ohms, f.fault.Free.Min)) / 2))
}

// supply has driven readings know what they are with the supply at its upper limit.
func (f *prepared) supply(ohms float64, all []predicted) error {
	high, _, err := f.p.supplied()
	if high == nil || err != nil {
		return err
	}
	if f.high == nil {
		if f.high, err = high.prepare(f.fault, f.fraction); err != nil {
			return err
		}
	}
	got, err := f.high.bare(ohms)
	if err != nil {
		return err
	}
	for i, r := range all {
		if d, ok := r.(*drivenReading); ok && d.rough == nil {
			d.high, _ = got[i].(*drivenReading)
		}
	}
	return nil
}

type preparedPart struct {
	group *group
	base  []*solve.Response
	bus   *solve.Bus
	vary  *solve.Variation // nil: no free ohms, or solve anew each time
	anew  bool
	// stuck is the bus with leads for all probes of the group, where the fault has
	// a transceiver send all the time: then nothing is at rest.
	stuck *solve.Bus
}

// at gives a part's readings with the free resistance set.
func (part *preparedPart) at(f *prepared, ohms float64) ([]*solve.Response, *solve.Bus, error) {
	switch {
	case part.anew:
		n, responses, err := f.p.direct(part.group, f.p.z, f.fault.Changes(ohms, f.fraction))
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", f.fault.Name, err)
		}
		var bus *solve.Bus
		if part.bus != nil {
			bus, err = f.p.busOf(n, part.group.leads)
		}
		return responses, bus, err
	case part.vary == nil:
		return part.base, part.bus, nil
	}
	responses := make([]*solve.Response, len(part.base))
	for j, r := range part.base {
		if r != nil {
			responses[j] = part.vary.Apply(r, ohms)
		}
	}
	if part.bus == nil {
		return responses, nil, nil
	}
	bus, err := part.bus.Vary(part.vary, ohms)
	return responses, bus, err
}

// readStuck takes a part's readings while a transceiver sends all the time, with the free
// resistance of another fault beside it set.
func (part *preparedPart) readStuck(f *prepared, ohms float64, out []predicted) error {
	bus, err := part.stuck, error(nil)
	switch {
	case part.anew:
		var n *solve.Net
		if n, _, err = f.p.direct(part.group, f.p.z, f.fault.Changes(ohms, f.fraction)); err == nil {
			bus, err = f.p.busOf(n, part.group.allLeads(f.p))
		}
	case part.vary != nil:
		bus, err = part.stuck.Vary(part.vary, ohms)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.fault.Name, err)
	}
	for j, i := range part.group.probes {
		r, err := f.p.read(bus, j, i)
		if err != nil {
			return fmt.Errorf("%s: %w", f.fault.Name, err)
		}
		out[i] = r
	}
	return nil
}

// allLeads are those of all probes of a group, of a bus at work or not.
func (g *group) allLeads(p *predictor) []solve.Leads {
	leads := make([]solve.Leads, len(g.probes))
	for j, i := range g.probes {
		leads[j] = solve.Leads{From: p.probes[i].From, To: p.probes[i].To}
	}
	return leads
}

// prepare makes a fault's readings ready. Faults with nothing but a free
// resistance start from the healthy net.
func (p *predictor) prepare(f *Fault, fraction float64) (*prepared, error) {
	out := &prepared{p: p, fault: f, fraction: fraction, rough: map[[2]int]*roughDriven{}}
	for _, g := range p.groups {
		part := preparedPart{group: g, base: g.healthy, bus: g.bus}
		net := g.net
		var err error
		if len(f.base) > 0 && !p.untouched(g, f) {
			if net, part.base, err = p.changed(g, f); err != nil {
				return nil, fmt.Errorf("%s: %w", f.Name, err)
			}
			if g.bus != nil {
				if part.bus, err = p.busOf(net, g.leads); err != nil {
					return nil, fmt.Errorf("%s: %w", f.Name, err)
				}
			}
		}
		if part.vary, part.anew, err = f.variation(net, fraction); err != nil {
			return nil, err
		}
		if g.condition.Supply == solve.Idle && f.sticks() {
			if part.stuck, err = p.busOf(net, g.allLeads(p)); err != nil {
				return nil, fmt.Errorf("%s: %w", f.Name, err)
			}
		}
		out.parts = append(out.parts, part)
	}
	return out, nil
}

// at gives the readings with the free resistance set.
func (f *prepared) at(ohms float64) ([]predicted, error) {
	out, err := f.bare(ohms)
	if err == nil {
		err = f.borrow(ohms, out)
	}
	return out, err
}

// bare gives them without how uncertain those of a bus at work are, which is borrowed
// where it is called for.
func (f *prepared) bare(ohms float64) ([]predicted, error) {
	out := make([]predicted, len(f.p.probes))
	for k := range f.parts {
		part := &f.parts[k]
		if part.stuck != nil {
			if err := part.readStuck(f, ohms, out); err != nil {
				return nil, err
			}
			continue
		}
		responses, bus, err := part.at(f, ohms)
		if err != nil {
			return nil, err
		}
		if err := f.p.collect(part.group, responses, bus, out); err != nil {
			return nil, fmt.Errorf("%s: %w", f.fault.Name, err)
		}
	}
	return out, nil
}

// driven tells whether some of the readings are of a bus at work, resting whether some are
// not.
func (p *predictor) driven() (driven, resting bool) {
	for i := range p.probes {
		if p.probes[i].driven() {
			driven = true
		} else {
			resting = true
		}
	}
	return driven, resting
}

// values gives just the readings with the free resistance set, into out. It is
// far cheaper than at, but for a bridge between separate parts.
func (f *prepared) values(ohms float64, out []solve.Value) error {
	for k := range f.parts {
		part := &f.parts[k]
		if part.stuck != nil {
			all := make([]predicted, len(f.p.probes))
			if err := part.readStuck(f, ohms, all); err != nil {
				return err
			}
			for _, i := range part.group.probes {
				out[i] = all[i].Value()
			}
			continue
		}
		if part.anew || part.bus != nil {
			all := make([]predicted, len(f.p.probes))
			responses, bus, err := part.at(f, ohms)
			if err != nil {
				return err
			}
			if err := f.p.collect(part.group, responses, bus, all); err != nil {
				return fmt.Errorf("%s: %w", f.fault.Name, err)
			}
			for _, i := range part.group.probes {
				out[i] = all[i].Value()
			}
			continue
		}
		for j, i := range part.group.probes {
			if part.vary != nil {
				out[i] = part.vary.Value(part.base[j], ohms)
			} else {
				out[i] = part.base[j].Value()
			}
		}
	}
	return nil
}

// typical gives a fault's responses with its typical resistance, half-way along.
func (p *predictor) typical(f *Fault) ([]predicted, error) {
	ready, err := p.prepare(f, 0.5)
	if err != nil {
		return nil, err
	}
	return ready.typical()
}

// typical gives the responses with the fault's typical resistance.
func (f *prepared) typical() ([]predicted, error) {
	ohms := 0.0
	if f.fault.Free != nil {
		ohms = f.fault.Free.Typical
	}
	return f.at(ohms)
}
