package faults

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Speaks gives for each reading, in the order of Readings, by how much it speaks
// for explanation a against b: the natural logarithm of how much more probable a
// makes it than b does, what the other readings say of the shared tolerances taken
// into account. Both must have predictions (not none of these).
func (m *Match) Speaks(a, b *Hypothesis) []float64 {
	out := make([]float64, len(m.Readings))
	x, y := m.each(a), m.each(b)
	for i := range out {
		out[i] = x[i] - y[i]
	}
	return out
}

// Odds gives for each answer of a module the same as [Match.Speaks] for readings.
func (m *Match) Odds(a, b *Hypothesis) []float64 {
	out := make([]float64, len(m.Answers))
	if len(a.Answers) < len(out) || len(b.Answers) < len(out) {
		return out
	}
	log := func(h solve.Hearing, answered bool) float64 {
		if answered {
			return math.Log(chance(h))
		}
		return math.Log(1 - chance(h))
	}
	for i, x := range m.Answers {
		out[i] = log(a.Answers[i], x.Answered) - log(b.Answers[i], x.Answered)
	}
	return out
}

// each is the log density of each reading given the others. Beyond what a misread
// one would have it does not fall: no reading speaks with more certainty than that.
func (m *Match) each(h *Hypothesis) []float64 {
	n := len(m.Readings)
	out := make([]float64, n)
	e, j := m.evidence, h.judged
	if e == nil || len(j.mean) != n {
		return out
	}
	shares := j.shares
	if shares == nil {
		shares = []atShare{{mean: j.mean, covariance: j.covariance}}
	}
	// What a reading adds is what all are worth less what the others are, both summed over
	// the shares of dominant time.
	all, others := math.Inf(-1), make([]float64, n)
	for i := range others {
		others[i] = math.Inf(-1)
	}
	for _, s := range shares {
		// A reading that is taken to be misread says nothing of the others.
		covariance := s.covariance
		if at := h.Misread(); at >= 0 {
			wide := mat.NewSymDense(n, nil)
			wide.CopySym(covariance)
			wide.SetSym(at, at, anyVariance)
			covariance = wide
		}
		z := e.freeze(covariance)
		if z == nil {
			return out
		}
		log, _ := z.plain(s.mean)
		all = logAdd(all, log)
		for a, i := range e.finite {
			p := z.precision[a][a]
			others[i] = logAdd(others[i], log-(0.5*math.Log(p/(2*math.Pi))-0.5*z.w[a]*z.w[a]/p))
		}
		for k, i := range e.over {
			others[i] = logAdd(others[i], log-math.Log(math.Max(z.over[k], 1e-300)))
		}
	}
	for i := range out {
		out[i] = all - others[i]
	}
	for i := range out {
		out[i] = math.Max(out[i], logMisread+e.slip[i])
	}
	return out
}

// Verify holds a reading taken after the repair against what it must be.
func (a *After) Verify(v solve.Value) bool {
	q := a.Probe.Quantity
	y := onScale(q, v)
	return y >= onScale(q, a.Low)-1e-9 && y <= onScale(q, a.High)+1e-9
}

// Doubt is what a reading that does not go with an explanation may be instead.
type Doubt struct {
	Reading int
	// Instead are other readings that would have shown the same: another
	// conductor, the other half, a connector that was not unplugged after all.
	Instead []Probe
	// Prefix is 1000 where the reading fits in kilohms written as ohms, 0.001 the
	// other way round, else 0.
	Prefix float64
	// Supply says that a supply left on would spoil such a reading: ohms to a rail.
	Supply bool
	// Same is another reading of the same points with which it cannot go together,
	// or −1.
	Same int
}

// Doubts looks for what the reading is that an explanation takes to be misread;
// nil where it takes none to be so.
func (x *Matcher) Doubts(m *Match, h *Hypothesis) (*Doubt, error) {
	at := h.Misread()
	if at < 0 || len(h.judged.mean) != len(m.Readings) {
		return nil, nil
	}
	r := m.Readings[at]
	d := &Doubt{Reading: at, Same: -1}
	for i, other := range m.Readings {
		if i != at && sameProbe(other.Probe, r.Probe) {
			d.Same = i
		}
	}
	p := r.Probe
	if p.driven() {
		return d, nil
	}
	rail := func(n int) bool { return n == netlist.GroundNode || n == netlist.SupplyNode }
	d.Supply = p.Quantity == solve.Ohms && (rail(p.From) || rail(p.To))
	others, err := x.elsewhere(&p)
	if err != nil {
		return nil, err
	}
	probes := append([]Probe{p}, others...)
	resp, err := newResponder(x.field, probes, x.in.Meter)
	if err != nil {
		return nil, err
	}
	members, ohms, fraction := h.place()
	got, err := resp.at(members, ohms, fraction)
	if err != nil {
		return nil, err
	}
	lead, _ := x.in.leads()
	fits := func(k int, value solve.Value) bool {
		one := Reading{Probe: probes[k], Value: value}
		e := newEvidence(x.c, []Reading{one}, x.in)
		j := e.judge(got[k : k+1])
		if len(e.over) > 0 {
			return j.overChance[0] > 0.05
		}
		return math.Abs(e.y[0]-j.mean[0]) < 2.5*math.Sqrt(j.covariance.At(0, 0))
	}
	for k := range others {
		if fits(k+1, r.Value) {
			d.Instead = append(d.Instead, others[k])
		}
	}
	if p.Quantity == solve.Ohms && !r.Value.OL && len(d.Instead) == 0 {
		for _, factor := range []float64{1000, 0.001} {
			if v := (r.Value.Number - lead) * factor; v > 0 && fits(0, solve.Value{Number: v + lead}) {
				d.Prefix = factor
			}
		}
	}
	return d, nil
}

// slips works out what each reading would be if it was misread: as probably
// anything as what other points near by read in a healthy harness.
func (x *Matcher) slips(e *evidence) error {
	for i := range e.readings {
		r := &e.readings[i]
		if r.Probe.driven() {
			continue
		}
		probes, err := x.elsewhere(&r.Probe)
		if err != nil {
			return err
		}
		if len(probes) == 0 {
			continue
		}
		resp, err := newResponder(x.field, probes, x.in.Meter)
		if err != nil {
			return err
		}
		healthy, err := resp.at(nil, nil, 0.5)
		if err != nil {
			return err
		}
		sum := math.Inf(-1)
		for k := range probes {
			one := newEvidence(x.c, []Reading{{probes[k], r.Value}}, x.in)
			j := judged{mean: make([]float64, 1)}
			one.fill(healthy[k:k+1], &j)
			if z := one.freeze(j.covariance); z != nil {
				one.slip[0] = math.Inf(-1)
				sum = logAdd(sum, z.log(j.mean, nil))
			}
		}
		e.slip[i] = logAdd(e.any[i], sum-math.Log(float64(len(probes)))) - math.Ln2
	}
	return nil
}

// elsewhere lists the readings that are easily taken for a given one: between
// other contacts of the place, at the other half, with everything plugged in.
func (x *Matcher) elsewhere(p *Probe) ([]Probe, error) {
	var out []Probe
	add := func(place, between string, condition solve.Condition) {
		q, err := ProbeAt(x.c, p.Quantity, place, between, condition)
		if err == nil && !sameProbe(q, *p) && !slices.ContainsFunc(out, func(o Probe) bool { return sameProbe(o, q) }) {
			out = append(out, q)
		}
	}
	s, ok := x.c.Site(p.Site)
	if !ok {
		return nil, nil
	}
	for _, between := range betweens(x.c, s, p.Quantity) {
		add(p.Place(), between, p.Condition)
	}
	halves := []string{"", "device"}
	if s.Kind == netlist.InlineSite {
		halves = []string{"a", "b"}
	}
	for _, half := range halves {
		if half != p.Half {
			add(s.Name+slash(half), p.Between, p.Condition)
		}
	}
	for i := range p.Condition.Unplugged {
		plugged := p.Condition
		plugged.Unplugged = slices.Delete(slices.Clone(plugged.Unplugged), i, i+1)
		if p.Half == "device" {
			continue // plugged in it is the same point as the harness half
		}
		add(p.Place(), p.Between, plugged)
	}
	return out, nil
}

// place gives an explanation's faults at their best free values.
func (h *Hypothesis) place() (members []*Fault, ohms []float64, fraction float64) {
	fraction = 0.5
	for k, x := range h.Members {
		members = append(members, x.Fault)
		at := 0.0
		if x.Ohms != nil {
			at = x.Ohms.Best
		}
		ohms = append(ohms, at)
		if k == 0 && x.Metres != nil && x.Fault.LengthM > 0 {
			fraction = x.Metres.Best / x.Fault.LengthM
		}
	}
	return members, ohms, fraction
}

// Changes gives what the explanation does to the circuit, at its best free values: none
// for an answer that is not a fault.
func (h *Hypothesis) Changes() []solve.Change {
	members, ohms, fraction := h.place()
	if len(members) == 0 {
		return nil
	}
	return combineAt(members, ohms).Changes(ohms[0], fraction)
}

// Second is the first explanation that repairs something else than the best one
// does and has no fault in common with it, nil where none is left.
func (m *Match) Second() *Hypothesis {
	best := m.Best()
	part := func(h *Hypothesis) string {
		if h.Fault == nil {
			return h.Name
		}
		return h.Fault.Part
	}
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if h.Name == NoneName || part(h) == part(best) || len(h.judged.mean) != len(m.Readings) {
			continue
		}
		common := slices.ContainsFunc(h.Members, func(x Member) bool {
			return slices.ContainsFunc(best.Members, func(y Member) bool { return x.Fault == y.Fault })
		})
		if !common {
			return h
		}
	}
	return nil
}

// After is what readings must be once parts are repaired: the values of the wiring
// with whatever is still wrong with it, given what was read of this harness's own
// tolerances.
type After struct {
	Probe Probe
	// Low and High hold 95 % of what the meter shows if the repair holds.
	Low, High solve.Value
	// Before is what the explanation has the meter show as long as all its faults
	// are there.
	Before solve.Value
	// Tells says of each repaired fault whether the reading would lie outside of the
	// band with that one still in: such a reading says that its repair has worked,
	// another says only that nothing else is wrong.
	Tells []bool
	// Beyond says that no healthy harness reads so, every tolerance at its limit, and
	// no other fault is known that would explain it: something else is wrong.
	Beyond bool
}

// Repaired is which of an explanation's faults are repaired with parts, in the order
// of its members; nil for parts means all.
func (h *Hypothesis) Repaired(parts []string) []bool {
	out := make([]bool, len(h.Members))
	for k, x := range h.Members {
		out[k] = len(parts) == 0 || slices.Contains(parts, x.Fault.Part)
	}
	return out
}

// AfterRepair gives what readings must show once an explanation's faults are repaired
// with parts (nil for all of them). No probes stand for the readings that were taken
// with all plugged in.
func (x *Matcher) AfterRepair(m *Match, h *Hypothesis, parts []string, probes []Probe) ([]After, error) {
	if h.Fault == nil {
		return nil, fmt.Errorf("faults: %s has nothing to repair", h.Name)
	}
	repaired := h.Repaired(parts)
	if len(probes) == 0 {
		for _, r := range m.Readings {
			p := r.Probe
			if !p.driven() && len(p.Condition.Unplugged) == 0 && !slices.ContainsFunc(probes, func(q Probe) bool { return sameProbe(p, q) }) {
				probes = append(probes, p)
			}
		}
	}
	for i := range probes {
		if probes[i].driven() {
			return nil, fmt.Errorf("faults: %s: a repair is judged by readings of a bus at rest", probes[i])
		}
	}
	if len(probes) == 0 {
		return nil, nil
	}
	// What was read with the fault in says what the tolerances are; the part that
	// is repaired may be a new one, and is not held to them.
	var taken []Reading
	for i, r := range m.Readings {
		if !r.Probe.driven() && i != h.Misread() {
			taken = append(taken, r)
		}
	}
	all := make([]Probe, 0, len(taken)+len(probes))
	for _, r := range taken {
		all = append(all, r.Probe)
	}
	resp, err := newResponder(x.field, append(all, probes...), x.in.Meter)
	if err != nil {
		return nil, err
	}
	n := len(taken)
	members, best, fraction := h.place()
	// left gives the members of which keep is true, with their ohms.
	left := func(ohms []float64, keep func(k int) bool) (some []*Fault, at []float64) {
		for k := range members {
			if keep(k) {
				some, at = append(some, members[k]), append(at, ohms[k])
			}
		}
		return some, at
	}
	remains := func(k int) bool { return !repaired[k] }
	// What the faults' own free values may have been is left open: they and the
	// tolerances share what was read.
	f := &foresight{x: x, candidates: probes, parts: []string{HealthyName}, chance: []float64{1}}
	for _, s := range thin(h.samples, mostSamples) {
		ohms := slices.Clone(best)
		for k := range members {
			switch {
			case members[k].Free == nil:
			case k == 0:
				ohms[k] = math.Exp(s.logOhms)
			default:
				ohms[k] = math.Exp(s.others[k-1])
			}
		}
		with, err := resp.at(members, ohms, s.fraction)
		if err != nil {
			return nil, err
		}
		some, at := left(ohms, remains)
		without, err := resp.at(some, at, 0.5)
		if err != nil {
			return nil, err
		}
		c := component{weight: s.weight, misread: -1}
		newEvidence(x.c, taken, x.in).ahead(append(slices.Clone(with[:n]), without[n:]...), x.in, &c)
		f.components = append(f.components, c)
	}
	with, err := resp.at(members, best, fraction)
	if err != nil {
		return nil, err
	}
	var alone [][]predicted // by repaired member: that one still in
	for k := range members {
		if !repaired[k] {
			alone = append(alone, nil)
			continue
		}
		some, at := left(best, func(i int) bool { return i == k || remains(i) })
		got, err := resp.at(some, at, 0.5)
		if err != nil {
			return nil, err
		}
		alone = append(alone, got)
	}
	healthy, err := MakeTable(x.c, nil, probes, x.in, nil)
	if err != nil {
		return nil, err
	}
	lead, _ := x.in.leads()
	var out []After
	for k, p := range probes {
		shown := func(y float64) solve.Value {
			v := offScale(p.Quantity, y, x.in.Meter.RangeOhms)
			if p.Quantity == solve.Ohms && !v.OL {
				v.Number += lead
			}
			return v
		}
		// What is foreseen has the meter's own errors in it already.
		low, high := f.quantile(0, k, 0.025), f.quantile(0, k, 0.975)
		before := with[n+k].Value()
		a := After{Probe: p, Low: shown(low), High: shown(high), Before: before}
		for i := range members {
			if repaired[i] {
				y := onScale(p.Quantity, alone[i][n+k].Value())
				a.Tells = append(a.Tells, y < low || y > high)
			}
		}
		band := healthy.Bands[k].worst
		a.Beyond = !slices.Contains(repaired, false) && (low > band.high || high < band.low)
		if p.Quantity == solve.Ohms && !before.OL {
			a.Before.Number += lead
		}
		out = append(out, a)
	}
	return out, nil
}
