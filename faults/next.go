package faults

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Minutes that go with a reading beside reaching its place. From memory.
const (
	ReadMinutes   = 0.5 // to take it
	UnplugMinutes = 1.0 // to part a connector and mate it again
	ToolMinutes   = 2.0 // to ask all modules with a scan tool
	ScopeMinutes  = 2.0 // to find one module's frames with a scope, beside reading them
)

// Minutes that a change of the vehicle's [State] takes, counted once for all readings
// that are taken in it. From memory.
const (
	SupplyMinutes  = 5.0 // to switch between supply off and on, and wait
	NetworkMinutes = 1.0 // to have modules send, or leave off, the supply being on
)

// NextOptions are settings of [Next]; nil stands for the defaults.
type NextOptions struct {
	// Candidates are the readings to choose from; nil takes all that can be
	// taken at single places, plugged and unplugged, ohms and idle volts, and
	// asking all modules with a scan tool at the nearest connector that nothing
	// is plugged into.
	Candidates []Probe
	// Traffic adds to them, where they are nil, the volts that a multimeter shows
	// while modules send in turn, everything plugged in; so does a reading with
	// traffic among those taken. They are left out otherwise, since sessions got no
	// shorter by them on the layout that was measured (DEVELOPERS.md, Quality).
	Traffic bool
	// Scope adds the levels while one module sends, which take a scope, but of those
	// that did not answer: there are no frames of theirs to look at.
	Scope bool
	// Anyway keeps readings that take longer than the looking into parts that they are
	// expected to save: for who would rather measure than take the sleeve off a wire.
	// Candidates of the caller's are kept in any case.
	Anyway bool
	// Now is what the vehicle is set to now, where that is not what the last reading
	// left; see [State].
	Now State
	// Tools are the connectors where a scan tool may be asked from; nil with nil
	// Candidates finds them.
	Tools []string
	// LookAhead chooses the first advice by what is to follow it too: the one
	// from which the part is found in the fewest minutes, by the readings that
	// would be advised after it.
	LookAhead bool
	// Progress, where not nil, is called after each explanation.
	Progress func(done, of int)
}

// Advice is one possible next reading.
type Advice struct {
	// Probe is the reading; where Tool is not empty, it is no reading but asking
	// every module with a scan tool at that connector.
	Probe Probe
	Tool  string
	// Bits is how much the reading is expected to say about which part to
	// repair: the mutual information of part and reading.
	Bits float64
	// Minutes to take it, coming from the last reading.
	Minutes float64
	// Saves is how many minutes of looking into parts, in the order that takes least, it
	// is expected to save; see [Looking].
	Saves float64
	// Expect is what the reading is likely to be for each part that is still
	// probable, most probable part first. It is given for the dozen readings that
	// are advised first.
	Expect []Expectation
	// Silent is, for a scan tool, which modules are likely not to answer for each
	// part of Expect.
	Silent [][]string

	// Basic says that the reading is advised because nothing that is known explains
	// what was read so far: it is one of those that are at hand anyway.
	Basic bool

	first     bool // chosen by looking ahead
	candidate int
	setting   float64 // minutes of Minutes that changing the vehicle's state takes
}

// PerMinute is the worth of the reading.
func (a *Advice) PerMinute() float64 { return a.Bits / a.Minutes }

// Expectation is what a reading is likely to be if a part is at fault.
type Expectation struct {
	Part        string
	Probability float64
	Low, High   solve.Value // the middle 80 % of its readings
}

// A reading is no advice if it is expected to say less than this share of what the
// best one does, or less than so many bits; of candidates that the caller names it takes
// less.
const (
	worthwhile     = 0.25
	leastBits      = 0.1
	leastBitsAsked = 0.02
)

// String names what to do.
func (a *Advice) String() string {
	if a.Tool != "" {
		return "scan tool at " + a.Tool + ": which modules answer"
	}
	return a.Probe.String()
}

// Next ranks possible readings by how much each is expected to say, for each
// minute that it costs, about which part to repair. It looks at the reading's
// information about the part, not at how much the reading itself may vary: the
// tolerances of this very harness are the same in every reading, so what the
// readings taken so far say of them is held fixed, and reading the same place
// again says nothing.
func Next(c *netlist.Circuit, m *Match, in Instrument, opts *NextOptions) ([]Advice, error) {
	return NewMatcher(c, nil, in).Next(m, opts)
}

// puzzled is the probability of none of these from which on readings at hand are
// advised whatever they are expected to say.
const puzzled = 0.2

// mostExpected is for how many readings it is worked out what to expect of each
// part.
const mostExpected = 12

// mostExact is how many readings are weighed in full, after a first look at all, and
// mostExactBusy how many with traffic, and how many levels, beside them.
const (
	mostExact     = 30
	mostExactBusy = 12
)

// Next is [Next] with what depends on the harness alone worked out once.
func (x *Matcher) Next(m *Match, opts *NextOptions) ([]Advice, error) {
	var o NextOptions
	if opts != nil {
		o = *opts
	}
	if o.Now < AsLeft || o.Now > Asked {
		return nil, fmt.Errorf("faults: Now is %d, which is no state of a vehicle", o.Now)
	}
	trafficRead := slices.ContainsFunc(m.Readings, func(r Reading) bool { return r.Probe.Traffic })
	candidates, tools := o.Candidates, o.Tools
	if candidates == nil {
		candidates = x.allProbes()
		candidates = slices.Concat(candidates, x.busyProbes(o.Traffic || trafficRead, o.Scope))
		if tools == nil {
			tools = x.tools()
		}
	}
	candidates = slices.DeleteFunc(slices.Clone(candidates), func(p Probe) bool {
		return !x.canSend(&p) || o.Candidates == nil && fellSilent(m, &p) || slices.ContainsFunc(m.Readings, func(r Reading) bool { return sameProbe(r.Probe, p) })
	})
	rest, traffic, levels := partDriven(candidates)
	tools = slices.DeleteFunc(slices.Clone(tools), func(at string) bool {
		return slices.ContainsFunc(m.Answers, func(a Answer) bool { return a.Tool == at })
	})
	if len(candidates)+len(tools) == 0 {
		return nil, errors.New("faults: no reading is left to take")
	}
	f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms, trafficRead: trafficRead}
	if err := f.open(m); err != nil {
		return nil, err
	}
	taken := m.Readings
	e := newEvidence(x.c, taken, x.in)
	f.overFrom = e.overFrom

	now := o.Now
	if now == AsLeft {
		now = leftAs(taken, len(m.Answers) > 0)
	}
	been := m.Reached(x.c)
	cost := func(p *Probe) float64 { return minutes(x.c, been, now, p) }
	var basic []Probe
	if f.none >= 0 && f.chance[f.none] > puzzled && len(taken) > 0 {
		// Nothing that is known explains the readings, so what would tell it apart is
		// not known either. What can be read where a meter is anyway comes first.
		for _, p := range candidates {
			if cost(&p) <= ReadMinutes && p.To != netlist.SupplyNode {
				basic = append(basic, p)
			}
		}
	}
	if len(rest) > mostExact {
		var err error
		if rest, err = f.promising(rest, f.glance, cost, mostExact); err != nil {
			return nil, err
		}
	}
	candidates = rest
	for _, busy := range [][]Probe{traffic, levels} {
		if len(busy) > mostExactBusy {
			var err error
			if busy, err = f.promising(busy, f.glanceAtWork, cost, mostExactBusy); err != nil {
				return nil, err
			}
		}
		candidates = slices.Concat(candidates, busy)
	}
	for _, p := range basic {
		if !slices.ContainsFunc(candidates, func(q Probe) bool { return sameProbe(p, q) }) {
			candidates = append(candidates, p)
		}
	}
	if err := f.foresee(e, taken, candidates, o.Progress); err != nil {
		return nil, err
	}
	var out []Advice
	saves := f.saving(been)
	for k := range candidates {
		p, given := &candidates[k], f.given(k, f.edges(k))
		out = append(out, Advice{Probe: *p, Minutes: cost(p), Bits: information(given, f.chance), candidate: k})
		out[len(out)-1].setting = change(now, p.State())
		out[len(out)-1].Saves = saves.by(given, p.places(x.c)...)
		out[len(out)-1].Basic = slices.ContainsFunc(basic, func(q Probe) bool { return sameProbe(candidates[k], q) })
	}
	for _, at := range tools {
		a, err := f.scan(at, scanMinutes(x.c, been, now, at), saves)
		if err != nil {
			return nil, err
		}
		a.setting = change(now, Asked)
		out = append(out, *a)
	}
	most := 0.0
	for i := range out {
		most = math.Max(most, out[i].Bits)
	}
	if o.Candidates == nil && !o.Anyway {
		// What takes longer than the looking into parts that it is expected to save is no
		// advice, and not chosen by what may follow it. What setting the vehicle for it takes
		// does not count there: it is for those that follow as well, and one reading alone is
		// rarely worth it.
		out = slices.DeleteFunc(out, func(a Advice) bool { return !a.Basic && a.Saves < a.Minutes-a.setting })
	}
	first := -1
	if o.LookAhead && len(out) > 0 {
		var err error
		if first, err = f.lookAhead(m, now, out); err != nil {
			return nil, err
		}
	}
	least := leastBits
	if o.Candidates != nil {
		least = leastBitsAsked
	}
	for i := range out {
		out[i].first = i == first
	}
	// A reading that says next to nothing is no advice either, however cheap it is.
	out = slices.DeleteFunc(out, func(a Advice) bool {
		return !a.Basic && !a.first && (a.Bits < worthwhile*most || a.Bits < least)
	})
	slices.SortStableFunc(out, func(a, b Advice) int {
		switch {
		case a.first != b.first && a.first:
			return -1
		case a.first != b.first:
			return 1
		case a.Basic != b.Basic && a.Basic:
			return -1
		case a.Basic != b.Basic:
			return 1
		}
		return cmp.Compare(b.PerMinute(), a.PerMinute())
	})
	for i := range out[:min(len(out), mostExpected)] {
		if a := &out[i]; a.Tool == "" {
			f.expect(a, a.candidate, f.rangeOhms)
		}
	}
	return out, nil
}

// allProbes lists the readings at single places, made once.
func (x *Matcher) allProbes() []Probe {
	if x.every == nil {
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			for _, p := range Probes(x.c, sel) {
				if p.To != netlist.SupplyNode || x.hasSupply(p.Site) {
					x.every = append(x.every, p)
				}
			}
		}
	}
	return x.every
}

// hasSupply tells whether a connector has a cavity with the supply rail: elsewhere a
// lead would have to go to a fuse box or, worse, a battery post.
func (x *Matcher) hasSupply(site string) bool {
	s, ok := x.c.Site(site)
	return ok && slices.ContainsFunc(s.Contacts, func(k netlist.SiteContact) bool { return k.Rail == netlist.SupplyRail })
}

// tools lists the connectors without a device where a scan tool may sit: those that are
// as near as any. There is none where no module could answer.
func (x *Matcher) tools() []string {
	if !slices.ContainsFunc(x.c.Units, func(u netlist.Unit) bool { return len(u.Inputs) > 0 }) {
		return nil
	}
	var out []string
	nearest := math.Inf(1)
	free := func(s *netlist.Site) bool {
		return s.Kind == netlist.ConnectorSite && s.Device == "" && len(sitePairs(s))+len(siteSingles(x.c, s)) > 0
	}
	for i := range x.c.Sites {
		if s := &x.c.Sites[i]; free(s) {
			nearest = math.Min(nearest, s.ReachMin)
		}
	}
	for i := range x.c.Sites {
		if s := &x.c.Sites[i]; free(s) && s.ReachMin == nearest {
			out = append(out, s.Name)
		}
	}
	return out
}

// scanMinutes is what asking all modules from a connector costs, with places been to, in
// a vehicle that is set to now.
func scanMinutes(c *netlist.Circuit, been map[string]bool, now State, at string) float64 {
	return ToolMinutes + change(now, Asked) + wayTo(c, been, at)
}

// sameProbe tells whether two probes are one and the same reading.
func sameProbe(a, b Probe) bool {
	same := a.From == b.From && a.To == b.To || a.From == b.To && a.To == b.From
	return same && a.Quantity == b.Quantity && a.Sender == b.Sender && a.Traffic == b.Traffic &&
		a.Condition.Supply == b.Condition.Supply && sameSet(a.Condition.Unplugged, b.Condition.Unplugged)
}

// sameSet tells whether two lists have the same names, in whatever order.
func sameSet(a, b []string) bool {
	in := func(list, of []string) bool {
		for _, x := range list {
			if !slices.Contains(of, x) {
				return false
			}
		}
		return true
	}
	return in(a, b) && in(b, a)
}

// Minutes is what a reading costs after readings and answers that were taken.
func Minutes(c *netlist.Circuit, taken []Reading, answers []Answer, p *Probe) float64 {
	return minutes(c, beenTo(c, taken, answers), leftAs(taken, len(answers) > 0), p)
}

// minutes is what a reading costs with places been to, in a vehicle that is set to now:
// reaching its places unless someone has been there, parting the connectors, changing the
// state.
func minutes(c *netlist.Circuit, been map[string]bool, now State, p *Probe) float64 {
	return p.taking() + change(now, p.State()) + float64(len(p.Condition.Unplugged))*UnplugMinutes + wayTo(c, been, p.places(c)...)
}

// wayTo is what reaching places takes, those left out that someone has been to.
func wayTo(c *netlist.Circuit, been map[string]bool, places ...string) float64 {
	sum := 0.0
	for _, name := range places {
		if s, ok := c.Site(name); ok && !been[name] {
			sum += s.ReachMin
		}
	}
	return sum
}

// places lists the connectors and splices that a reading takes one to, each once: where
// the leads go, and what is unplugged for it.
func (p *Probe) places(c *netlist.Circuit) []string {
	var out []string
	add := func(name string) {
		if name != "" && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	if add(p.Site); p.Site == "" {
		for _, point := range []string{c.Nodes[p.From].Name, c.Nodes[p.To].Name} {
			add(siteOfPoint(point))
		}
	}
	for _, name := range p.Condition.Unplugged {
		add(name)
	}
	return out
}

// Reached lists where someone has been for the readings and answers of a match.
func (m *Match) Reached(c *netlist.Circuit) map[string]bool { return beenTo(c, m.Readings, m.Answers) }

// beenTo lists where someone has been for readings and answers.
func beenTo(c *netlist.Circuit, taken []Reading, answers []Answer) map[string]bool {
	been := map[string]bool{}
	for i := range taken {
		for _, s := range taken[i].Probe.places(c) {
			been[s] = true
		}
	}
	for _, a := range answers {
		been[a.Tool] = true
	}
	return been
}

// taking is what a reading takes once all is set for it.
func (p *Probe) taking() float64 {
	if p.Sender != "" {
		return ReadMinutes + ScopeMinutes
	}
	return ReadMinutes
}
