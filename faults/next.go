package faults

import (
	"cmp"
	"errors"
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Minutes that go with a reading beside reaching its place. From memory.
const (
	ReadMinutes   = 0.5 // to take it
	UnplugMinutes = 1.0 // to part a connector and mate it again
	SupplyMinutes = 5.0 // to switch between supply off and on, and wait
	ToolMinutes   = 2.0 // to ask all modules with a scan tool
)

// NextOptions are settings of [Next]; nil stands for the defaults.
type NextOptions struct {
	// Candidates are the readings to choose from; nil takes all that can be
	// taken at single places, plugged and unplugged, ohms and idle volts, and
	// asking all modules with a scan tool at each connector that leads to more
	// than one module.
	Candidates []Probe
	// Tools are the connectors where a scan tool may be asked from; nil with nil
	// Candidates finds them.
	Tools []string
	// LookAhead chooses the first advice by what is to follow it too: the one
	// from which the part is found in the fewest minutes, by the readings that
	// would be advised after it.
	LookAhead bool
	// Between are the explanations to tell apart; nil for all that are left.
	Between []*Hypothesis
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
// best one does, or less than so many bits.
const (
	worthwhile = 0.25
	leastBits  = 0.02
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

// mostExact is how many readings are weighed in full, after a first look at all.
const mostExact = 30

// Next is [Next] with what depends on the harness alone worked out once.
func (x *Matcher) Next(m *Match, opts *NextOptions) ([]Advice, error) {
	var o NextOptions
	if opts != nil {
		o = *opts
	}
	candidates, tools := o.Candidates, o.Tools
	if candidates == nil {
		candidates = x.allProbes()
		if tools == nil {
			tools = x.tools(m)
		}
	}
	candidates = slices.DeleteFunc(slices.Clone(candidates), func(p Probe) bool {
		return p.driven() || slices.ContainsFunc(m.Readings, func(r Reading) bool { return sameProbe(r.Probe, p) })
	})
	tools = slices.DeleteFunc(slices.Clone(tools), func(at string) bool {
		return slices.ContainsFunc(m.Answers, func(a Answer) bool { return a.Tool == at })
	})
	if len(candidates)+len(tools) == 0 {
		return nil, errors.New("faults: no reading is left to take")
	}
	f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms}
	if err := f.open(m, o.Between); err != nil {
		return nil, err
	}
	var taken []Reading
	rest := map[int]int{} // reading of the match: of those taken at rest
	for i, r := range m.Readings {
		if !r.Probe.driven() { // a bus at work shares little with what is read at rest
			rest[i] = len(taken)
			taken = append(taken, r)
		}
	}
	for i := range f.components {
		if k, ok := rest[f.components[i].misread]; ok {
			f.components[i].misread = k
		} else {
			f.components[i].misread = -1
		}
	}
	e := newEvidence(x.c, taken, x.in)
	f.overFrom = e.overFrom

	cost := func(p *Probe) float64 { return minutes(x.c, m.Readings, len(m.Answers) > 0, p) }
	var basic []Probe
	if f.none >= 0 && f.chance[f.none] > puzzled && len(taken) > 0 {
		// Nothing that is known explains the readings, so what would tell it apart is
		// not known either. What can be read where a meter is anyway comes first.
		last := taken[len(taken)-1].Probe
		for _, p := range candidates {
			if cost(&p) <= ReadMinutes && p.Condition.Supply == last.Condition.Supply && p.To != netlist.SupplyNode {
				basic = append(basic, p)
			}
		}
	}
	if len(candidates) > mostExact {
		var err error
		if candidates, err = f.promising(candidates, cost, mostExact); err != nil {
			return nil, err
		}
		for _, p := range basic {
			if !slices.ContainsFunc(candidates, func(q Probe) bool { return sameProbe(p, q) }) {
				candidates = append(candidates, p)
			}
		}
	}
	if err := f.foresee(e, taken, candidates, o.Progress); err != nil {
		return nil, err
	}
	var out []Advice
	for k := range candidates {
		out = append(out, Advice{Probe: candidates[k], Minutes: cost(&candidates[k]), Bits: f.bits(k), candidate: k})
		out[len(out)-1].Basic = slices.ContainsFunc(basic, func(q Probe) bool { return sameProbe(candidates[k], q) })
	}
	for _, at := range tools {
		a, err := f.scan(at, scanMinutes(x.c, m, at))
		if err != nil {
			return nil, err
		}
		out = append(out, *a)
	}
	first := -1
	if o.LookAhead {
		var err error
		if first, err = f.lookAhead(m, out); err != nil {
			return nil, err
		}
	}
	most := 0.0
	for i := range out {
		most = math.Max(most, out[i].Bits)
		out[i].first = i == first
	}
	// A reading that says next to nothing is no advice, however cheap it is.
	out = slices.DeleteFunc(out, func(a Advice) bool {
		return !a.first && !a.Basic && (a.Bits < worthwhile*most || a.Bits < leastBits)
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

// tools lists the connectors without a device where a scan tool may sit: those
// where one has sat, or that are as near as any.
func (x *Matcher) tools(m *Match) []string {
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

// scanMinutes is what asking all modules from a connector costs.
func scanMinutes(c *netlist.Circuit, m *Match, at string) float64 {
	p := Probe{Site: at, Condition: solve.Condition{Supply: solve.Idle}}
	if s, ok := c.Site(at); ok {
		p.ReachMin = s.ReachMin
	}
	return minutes(c, m.Readings, len(m.Answers) > 0, &p) - ReadMinutes + ToolMinutes
}

// sameProbe tells whether two probes are one and the same reading.
func sameProbe(a, b Probe) bool {
	same := a.From == b.From && a.To == b.To || a.From == b.To && a.To == b.From
	return same && a.Quantity == b.Quantity && a.Sender == b.Sender && a.Traffic == b.Traffic &&
		a.Condition.Supply == b.Condition.Supply && slices.Equal(a.Condition.Unplugged, b.Condition.Unplugged)
}

// Minutes is what a reading costs after readings and answers that were taken.
func Minutes(c *netlist.Circuit, taken []Reading, answers []Answer, p *Probe) float64 {
	return minutes(c, taken, len(answers) > 0, p)
}

// minutes is what a reading costs after those taken: reaching its place unless a
// meter has been there, parting the connector, changing the supply.
// A scan tool, where one was used, had the supply on.
func minutes(c *netlist.Circuit, taken []Reading, scanned bool, p *Probe) float64 {
	been := map[string]bool{}
	last := solve.Off
	if scanned {
		last = solve.Idle
	}
	for _, r := range taken {
		been[r.Probe.Site] = true
		last = r.Probe.Condition.Supply
	}
	sum := ReadMinutes
	if !been[p.Site] {
		sum += p.ReachMin
	}
	for _, name := range p.Condition.Unplugged {
		sum += UnplugMinutes
		if s, ok := c.Site(name); ok && name != p.Site && !been[name] {
			sum += s.ReachMin
		}
	}
	if (len(taken) > 0 || scanned) && p.Condition.Supply != last {
		sum += SupplyMinutes
	}
	return sum
}

// component is what one explanation, with its free values at one place, foresees
// of every candidate: a normal distribution on the scale.
type component struct {
	part     int
	weight   float64
	members  []*Fault
	ohms     []float64
	fraction float64
	misread  int // reading of the match that the explanation takes to be so, or −1
	mean, sd []float64
}

// foresight is the readings to come, as a mixture over the explanations.
type foresight struct {
	x          *Matcher
	candidates []Probe
	parts      []string
	chance     []float64 // by part
	components []component
	overFrom   float64
	rangeOhms  float64
	none       int  // index of the part that stands for "none of these", or −1
	rough      bool // a first look: fewer bins
}

const (
	leastWeight = 2e-3 // explanations below it are not looked at
	mostSamples = 5    // places of a free value that stand for all
)

// open lists the explanations that are still open, a component for each and for
// each of a few places of its free values.
func (f *foresight) open(m *Match, between []*Hypothesis) error {
	index := map[string]int{}
	partOf := func(name string) int {
		i, ok := index[name]
		if !ok {
			i = len(f.parts)
			index[name] = i
			f.parts = append(f.parts, name)
			f.chance = append(f.chance, 0)
		}
		return i
	}
	open := between
	if open == nil {
		for i := range m.Hypotheses {
			if m.Hypotheses[i].Probability >= leastWeight {
				open = append(open, &m.Hypotheses[i])
			}
		}
	}
	total := 0.0
	for _, h := range open {
		total += h.Probability
	}
	if !(total > 0) {
		return errors.New("faults: no explanation is left to tell apart")
	}
	for _, h := range open {
		weight := h.Probability / total
		name := h.Name
		if h.Fault != nil {
			name = h.Fault.Part
		}
		part := partOf(name)
		f.chance[part] += weight
		if h.Name == NoneName {
			f.none = part
			continue
		}
		var members []*Fault
		for _, x := range h.Members {
			members = append(members, x.Fault)
		}
		for _, s := range thin(h.samples) {
			c := component{part: part, weight: weight * s.weight, members: members, fraction: s.fraction, misread: h.Misread()}
			for k := range members {
				at := s.logOhms
				if k > 0 {
					at = s.others[k-1]
				}
				c.ohms = append(c.ohms, math.Exp(at))
			}
			f.components = append(f.components, c)
			if h.Fault == nil {
				break // healthy wiring
			}
		}
	}
	return nil
}

// promising takes a first look at all candidates, from their means and a loose
// measure of how uncertain they are, and gives those that say the most a minute.
func (f *foresight) promising(candidates []Probe, cost func(*Probe) float64, most int) ([]Probe, error) {
	mean, err := f.means(candidates)
	if err != nil {
		return nil, err
	}
	f.roughly(candidates, mean)
	type ranked struct {
		at   int
		rate float64
	}
	order := make([]ranked, len(candidates))
	f.rough = true
	inParallel(len(candidates), func(k int) {
		order[k] = ranked{k, f.bits(k) / cost(&candidates[k])}
	})
	f.rough = false
	slices.SortStableFunc(order, func(a, b ranked) int { return cmp.Compare(b.rate, a.rate) })
	var out []Probe
	for _, r := range order[:min(most, len(order))] {
		out = append(out, candidates[r.at])
	}
	return out, nil
}

// inParallel does something for 0 to n−1 on all processors.
func inParallel(n int, do func(k int)) {
	var wait sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wait.Go(func() {
			for k := n * w / workers; k < n*(w+1)/workers; k++ {
				do(k)
			}
		})
	}
	wait.Wait()
}

// roughly fills in what every component foresees of candidates from its means and
// a loose measure of how uncertain they are.
func (f *foresight) roughly(candidates []Probe, mean [][]float64) {
	f.candidates = candidates
	l := newLoose(f.x.c)
	for i := range f.components {
		f.components[i].mean, f.components[i].sd = mean[i], make([]float64, len(candidates))
	}
	rail := make([]bool, len(f.components))
	for i := range rail {
		rail[i] = onSupply(f.components[i].members)
	}
	inParallel(len(candidates), func(k int) {
		reading := []Reading{{Probe: candidates[k]}}
		for i := range f.components {
			y := mean[i][k]
			reading[0].Value = offScale(candidates[k].Quantity, y, 0)
			e := f.x.plain(reading)
			// About a half of what is possible at most.
			f.components[i].sd[k] = 0.4*math.Sqrt(math.Max(0, l.variance(e, 0, y, rail[i])-e.own[0])) + math.Sqrt(e.own[0])
		}
	})
}

// means gives every candidate's reading by every component, on the scale.
func (f *foresight) means(candidates []Probe) ([][]float64, error) {
	mean := make([][]float64, len(f.components))
	for i := range mean {
		mean[i] = make([]float64, len(candidates))
	}
	k := &knot{}
	scratch := &knotScratch{}
	for _, g := range groupProbes(candidates) {
		v, err := f.x.field.view(g, candidates, f.x.in.Meter, []int{})
		if err != nil && !errors.Is(err, errNotFromPorts) {
			return nil, err
		}
		var slow *responder // made when first needed
		for i := range f.components {
			c := &f.components[i]
			tied := err == nil
			var threads []*thread
			for m, x := range c.members {
				if !tied {
					break
				}
				plan, err := layFault(v.ports, x, map[bool]float64{true: c.fraction, false: 0.5}[m == 0])
				if err != nil {
					return nil, err
				}
				if tied = plan.able; !tied {
					break
				}
				for _, s := range plan.strands {
					if err := v.ports.Prepare(s.Port); err != nil {
						return nil, err
					}
				}
				t, err := v.thread(&plan)
				if err != nil {
					return nil, err
				}
				threads = append(threads, t)
			}
			if tied && k.tie(v, threads...) {
				k.read(c.ohms, mean[i], scratch)
				continue
			}
			// What cannot be seen from ports is seen from nets, slowly.
			if slow == nil {
				slow = &responder{f: f.x.field, meter: f.x.in.Meter}
				for _, at := range g.probes {
					slow.probes = append(slow.probes, candidates[at])
				}
			}
			got, err := slow.fromNets(c.members, c.ohms, c.fraction)
			if err != nil {
				return nil, err
			}
			for j, at := range g.probes {
				mean[i][at] = onScale(candidates[at].Quantity, got[j].Value())
			}
		}
	}
	return mean, nil
}

func onSupply(members []*Fault) bool {
	for _, f := range members {
		if f.onSupply() {
			return true
		}
	}
	return false
}

// plain is the meter's own errors at a reading, without a harness.
func (x *Matcher) plain(readings []Reading) *evidence {
	return newEvidence(&netlist.Circuit{}, readings, x.in)
}

// foresee works out what every explanation foresees in full, given what the
// readings taken say of the tolerances.
func (f *foresight) foresee(e *evidence, taken []Reading, candidates []Probe, progress func(done, of int)) error {
	f.candidates = candidates
	probes := make([]Probe, 0, len(taken)+len(candidates))
	for _, r := range taken {
		probes = append(probes, r.Probe)
	}
	probes = append(probes, candidates...)
	r, err := newResponder(f.x.field, probes, f.x.in.Meter)
	if err != nil {
		return err
	}
	for i := range f.components {
		c := &f.components[i]
		responses, err := r.at(c.members, c.ohms, c.fraction)
		if err != nil {
			return err
		}
		e.ahead(responses, f.x.in, c)
		if progress != nil {
			progress(i+1, len(f.components))
		}
	}
	return nil
}

// thin chooses a few samples that stand for all: those at even steps of the
// posterior's sum, each with the weight of its step.
func thin(samples []sample) []sample {
	if len(samples) == 0 {
		return []sample{{fraction: 0.5, weight: 1}}
	}
	s := slices.Clone(samples)
	slices.SortStableFunc(s, func(a, b sample) int {
		return cmp.Or(cmp.Compare(a.logOhms, b.logOhms), cmp.Compare(a.fraction, b.fraction))
	})
	var out []sample
	sum := 0.0
	for _, x := range s {
		before := sum
		sum += x.weight
		for k := 0; k < mostSamples; k++ {
			at := (float64(k) + 0.5) / mostSamples
			if before < at && sum >= at {
				x.weight = 1.0 / mostSamples
				out = append(out, x)
			}
		}
	}
	if len(out) == 0 {
		out = append(out, s[len(s)-1])
	}
	total := 0.0
	for _, x := range out {
		total += x.weight
	}
	for i := range out {
		out[i].weight /= total
	}
	return out
}

// anyVariance is that of a reading which says nothing, wherever on the scale.
const anyVariance = 1e6

// ahead gives the distribution of each candidate, the readings taken given. The
// evidence is that of the readings taken, which stand first among the responses.
func (e *evidence) ahead(responses []predicted, in Instrument, out *component) {
	n := len(e.readings)
	all := len(responses)
	out.mean, out.sd = make([]float64, all-n), make([]float64, all-n)
	j := mat.NewDense(all, e.parameters+2, nil)
	mean, own := make([]float64, all), make([]float64, all)
	_, leadHalf := in.leads()
	for i, r := range responses {
		v := r.Value()
		q := quantityOf(r)
		mean[i] = onScale(q, v)
		row := j.RawRowView(i)
		s := slope(q, v)
		if s != 0 {
			r.Sensitivities(row[:e.parameters])
			for k := range row {
				row[k] *= s * limitToSigma
			}
		}
		if i < n {
			own[i] = e.own[i]
			if i == out.misread {
				own[i] = anyVariance
			}
			row[e.parameters], row[e.parameters+1] = e.gain[i], e.lead[i]
			continue
		}
		stray := strayOnScale(q, mean[i]) * limitToSigma
		own[i] = stray * stray
		if v.OL {
			continue
		}
		digit, gain := in.digit(q, v.Number)*s*limitToSigma, in.gain(q, v.Number)*s*limitToSigma
		if q == solve.Volts {
			digit, gain = math.Hypot(digit, gain), 0
		} else {
			row[e.parameters+1] = leadHalf * s * limitToSigma
			digit, gain = shareGain(digit, gain)
		}
		row[e.parameters] = gain
		own[i] += digit * digit
	}
	var known mat.Cholesky
	residual := mat.NewVecDense(max(n, 1), nil)
	if n > 0 {
		c := mat.NewSymDense(n, nil)
		for a := 0; a < n; a++ {
			residual.SetVec(a, e.y[a]-mean[a])
			for b := a; b < n; b++ {
				c.SetSym(a, b, mat.Dot(j.RowView(a), j.RowView(b)))
			}
			c.SetSym(a, a, c.At(a, a)+own[a])
		}
		if !known.Factorize(c) {
			n = 0 // readings without any error of their own: nothing to hold fixed
		} else if err := known.SolveVecTo(residual, residual); err != nil {
			if _, doubtful := err.(mat.Condition); !doubtful {
				n = 0
			}
		}
	}
	first := len(e.readings)
	for i := first; i < all; i++ {
		variance := mat.Dot(j.RowView(i), j.RowView(i)) + own[i]
		m := mean[i]
		if n > 0 {
			cross := mat.NewVecDense(n, nil)
			for a := 0; a < n; a++ {
				cross.SetVec(a, mat.Dot(j.RowView(i), j.RowView(a)))
			}
			m += mat.Dot(cross, residual)
			solved := mat.NewVecDense(n, nil)
			if err := known.SolveVecTo(solved, cross); err == nil {
				variance -= mat.Dot(cross, solved)
			}
		}
		out.mean[i-first], out.sd[i-first] = m, math.Sqrt(math.Max(variance, own[i]))
	}
}

func quantityOf(r predicted) solve.Quantity {
	switch x := r.(type) {
	case *solve.Response:
		return x.Quantity()
	case *portReading:
		return x.probe.Quantity
	}
	return solve.Volts
}

// given is the chance of each bin of a candidate's readings together with each
// part.
func (f *foresight) given(k int, edges []float64) [][]float64 {
	bins := len(edges) + 1
	given := make([][]float64, len(f.parts))
	for i := range given {
		given[i] = make([]float64, bins)
	}
	for i := range f.components {
		x := &f.components[i]
		row := given[x.part]
		before := 0.0
		// Beyond six standard deviations there is nothing.
		from, to := x.mean[k]-6*x.sd[k], x.mean[k]+6*x.sd[k]
		b, _ := slices.BinarySearch(edges, from)
		for ; b < bins; b++ {
			upTo := 1.0
			if b < len(edges) && edges[b] < to {
				upTo = normal((edges[b] - x.mean[k]) / x.sd[k])
			}
			row[b] += x.weight * (upTo - before)
			if before = upTo; upTo == 1 {
				break
			}
		}
	}
	if f.none >= 0 {
		// What is not in the catalogue may read anything.
		q := f.candidates[k].Quantity
		before := 0.0
		for b := range given[f.none] {
			upTo := 1.0
			if b < len(edges) {
				upTo = anyBelow(q, edges[b])
			}
			given[f.none][b] = f.chance[f.none] * (upTo - before)
			before = upTo
		}
	}
	return given
}

// bits is the mutual information of part and reading. The reading is parted into
// bins, which can only lose information, so the bits are never too many.
func (f *foresight) bits(k int) float64 {
	return information(f.given(k, f.edges(k)), f.chance)
}

// information is the mutual information in bits of a table of chances, a row a
// part.
func information(given [][]float64, chance []float64) float64 {
	all := make([]float64, len(given[0]))
	for _, g := range given {
		for b, p := range g {
			all[b] += p
		}
	}
	bits := 0.0
	for i, g := range given {
		for b, p := range g {
			if p > 0 && all[b] > 0 {
				bits += p * math.Log2(p/(chance[i]*all[b]))
			}
		}
	}
	return math.Max(0, bits)
}

// edges chooses where to part a candidate's readings: around every explanation's
// mean, thinned to a number that is soon worked through.
func (f *foresight) edges(k int) []float64 {
	most := 120
	if f.rough {
		most = 40
	}
	var out []float64
	for _, x := range f.components {
		for _, z := range []float64{-3, -1.5, -0.5, 0.5, 1.5, 3} {
			out = append(out, x.mean[k]+z*x.sd[k])
		}
	}
	if f.candidates[k].Quantity == solve.Ohms {
		out = append(out, f.overFrom)
	}
	slices.Sort(out)
	out = slices.Compact(out)
	if step := float64(len(out)) / float64(most); step > 1 {
		thinned := make([]float64, 0, most)
		for i := 0.0; int(i) < len(out); i += step {
			thinned = append(thinned, out[int(i)])
		}
		out = thinned
	}
	return out
}

// expect fills in what each part leads to.
func (f *foresight) expect(a *Advice, k int, rangeOhms float64) {
	for _, i := range f.byChance() {
		if i == f.none {
			continue
		}
		a.Expect = append(a.Expect, Expectation{
			Part: f.parts[i], Probability: f.chance[i],
			Low:  offScale(a.Probe.Quantity, f.quantile(i, k, 0.1), rangeOhms),
			High: offScale(a.Probe.Quantity, f.quantile(i, k, 0.9), rangeOhms),
		})
	}
}

// byChance lists the parts, most probable first.
func (f *foresight) byChance() []int {
	order := make([]int, len(f.parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(f.chance[y], f.chance[x]) })
	return order
}

// quantile finds where a share of a part's readings lies below.
func (f *foresight) quantile(part, k int, share float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range f.components {
		if x.part == part {
			low, high = math.Min(low, x.mean[k]-4*x.sd[k]), math.Max(high, x.mean[k]+4*x.sd[k])
		}
	}
	below := func(y float64) float64 {
		sum, all := 0.0, 0.0
		for _, x := range f.components {
			if x.part == part {
				sum += x.weight * normal((y-x.mean[k])/x.sd[k])
				all += x.weight
			}
		}
		return sum / all
	}
	for range 60 { // halving to far below a meter's last digit
		mid := (low + high) / 2
		if below(mid) < share {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// normal is the distribution function of the standard normal distribution.
func normal(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
