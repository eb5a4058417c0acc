package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/solve"
)

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
	// trafficRead says that something was read with traffic.
	trafficRead bool
}

const (
	// Explanations below leastWeight are looked at only until enoughWeight is
	// reached, mostOpen of all at most.
	leastWeight  = 2e-3
	enoughWeight = 0.97
	mostOpen     = 500
	mostSamples  = 5 // places of a free value that stand for all
)

// open lists the explanations that are still open, a component for each and for
// each of a few places of its free values.
func (f *foresight) open(m *Match) error {
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
	var open []*Hypothesis
	// Of a large harness each fault is rare, so what counts is what they are
	// together.
	sum := 0.0
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		if h.Probability < leastWeight && (sum > enoughWeight || len(open) >= mostOpen) || h.Probability == 0 {
			break
		}
		sum += h.Probability
		open = append(open, h)
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
		places := mostSamples
		if h.Probability < leastWeight {
			places = 1
		}
		for _, s := range thin(h.samples, places) {
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
func (f *foresight) promising(candidates []Probe, look func([]Probe) error, cost func(*Probe) float64, most int) ([]Probe, error) {
	if err := look(candidates); err != nil {
		return nil, err
	}
	type ranked struct {
		at   int
		rate float64
	}
	order := make([]ranked, len(candidates))
	f.rough = true
	parallel(len(candidates), func() func(int) {
		return func(k int) { order[k] = ranked{k, f.bits(k) / cost(&candidates[k])} }
	})
	f.rough = false
	slices.SortStableFunc(order, func(a, b ranked) int { return cmp.Compare(b.rate, a.rate) })
	var out []Probe
	for _, r := range order[:min(most, len(order))] {
		out = append(out, candidates[r.at])
	}
	return out, nil
}

// glance is a first look at candidates at rest.
func (f *foresight) glance(candidates []Probe) error {
	mean, err := f.means(candidates)
	if err == nil {
		f.roughly(candidates, mean)
	}
	return err
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
	parallel(len(candidates), func() func(int) {
		return func(k int) {
			p := &candidates[k]
			for i := range f.components {
				y := mean[i][k]
				own, gain, lead := f.x.in.errors(p.Quantity, offScale(p.Quantity, y, 0))
				// About a half of what is possible at most.
				f.components[i].sd[k] = 0.4*math.Sqrt(l.tolerance(p, y, rail[i])+gain*gain+lead*lead) + math.Sqrt(own)
			}
		}
	})
}

// means gives every candidate's reading by every component, on the scale.
func (f *foresight) means(candidates []Probe) ([][]float64, error) {
	seen, err := f.x.seen(candidates)
	if err != nil {
		return nil, err
	}
	mean := make([][]float64, len(f.components))
	failed := make([]error, len(f.components))
	parallel(len(f.components), func() func(int) {
		k, scratch := &knot{}, &knotScratch{}
		return func(i int) {
			mean[i] = make([]float64, len(candidates))
			failed[i] = f.meansOf(&f.components[i], candidates, seen, k, scratch, mean[i])
		}
	})
	return mean, errors.Join(failed...)
}

// meansOf gives every candidate's reading by one component.
func (f *foresight) meansOf(c *component, candidates []Probe, seen []seenGroup, k *knot, scratch *knotScratch, mean []float64) error {
	for g := range seen {
		group := &seen[g]
		if group.view != nil {
			threads, able, err := f.threads(c, group.view)
			if err != nil {
				return err
			}
			if able && k.tie(group.view, threads...) {
				k.read(c.ohms, mean, scratch)
				continue
			}
		}
		// What cannot be seen from ports is seen from nets, slowly.
		slow, err := group.nets(f.x, candidates)
		if err != nil {
			return err
		}
		got, err := fromNets(slow, c.members, c.ohms, c.fraction)
		if err != nil {
			return err
		}
		for j, at := range group.probes {
			mean[at] = onScale(candidates[at].Quantity, got[j].Value())
		}
	}
	return nil
}

// threads sees a component's faults in a view; able is false where that cannot be.
func (f *foresight) threads(c *component, v *view) (threads []*thread, able bool, err error) {
	for m, x := range c.members {
		plan, err := layFault(v.ports, x, placeOf(m, c.fraction))
		if err != nil || !plan.able {
			return nil, false, err
		}
		for _, s := range plan.strands {
			if err := v.ports.Prepare(s.Port); err != nil {
				return nil, false, err
			}
		}
		t, err := v.thread(&plan)
		if err != nil {
			return nil, false, err
		}
		threads = append(threads, t)
	}
	return threads, true, nil
}

// seenGroup is candidates of one condition.
type seenGroup struct {
	probes []int // among the candidates
	view   *view // nil where the condition cannot be seen from ports
	once   *sync.Once
	slow   *predictor
	err    error
}

// nets is the group's predictor, made when first asked for.
func (g *seenGroup) nets(x *Matcher, candidates []Probe) (*predictor, error) {
	g.once.Do(func() {
		var probes []Probe
		for _, at := range g.probes {
			probes = append(probes, candidates[at])
		}
		g.slow, g.err = newPredictor(x.c, probes, x.in.Meter)
	})
	return g.slow, g.err
}

// seen sees candidates from ports, condition by condition.
func (x *Matcher) seen(candidates []Probe) ([]seenGroup, error) {
	var out []seenGroup
	for _, g := range groupProbes(candidates) {
		v, err := x.field.view(g, candidates, x.in.Meter, []int{})
		if err != nil && !errors.Is(err, errNotFromPorts) {
			return nil, err
		}
		if err != nil {
			v = nil
		}
		out = append(out, seenGroup{probes: g.probes, view: v, once: &sync.Once{}})
	}
	return out, nil
}

func onSupply(members []*Fault) bool {
	for _, f := range members {
		if f.onSupply() {
			return true
		}
	}
	return false
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
	// What is at rest is seen from ports where that can be, a bus at work from nets.
	var rest, busy []Probe
	var restAt, busyAt []int
	for i := range probes {
		if probes[i].driven() {
			busy, busyAt = append(busy, probes[i]), append(busyAt, i)
		} else {
			rest, restAt = append(rest, probes[i]), append(restAt, i)
		}
	}
	r, err := newResponder(f.x.field, rest, f.x.in.Meter)
	if err != nil {
		return err
	}
	work, err := f.atWork(busy)
	if err != nil {
		return err
	}
	alike := f.alike()
	failed := make([]error, len(alike))
	var done atomic.Int64
	var telling sync.Mutex
	parallel(len(alike), func() func(int) {
		responses := make([]predicted, len(probes))
		fill := func(at []int, got []predicted) {
			for k, i := range at {
				responses[i] = got[k]
			}
		}
		return func(g int) {
			look := work.prepare(alike[g])
			for _, c := range alike[g] {
				got, err := r.at(c.members, c.ohms, c.fraction)
				if err != nil {
					failed[g] = err
					return
				}
				fill(restAt, got)
				if got, err = look.at(c); err != nil {
					failed[g] = err
					return
				}
				fill(busyAt, got)
				e.ahead(responses, f.x.in, c)
				if n := done.Add(1); progress != nil {
					telling.Lock()
					progress(int(n), len(f.components))
					telling.Unlock()
				}
			}
		}
	})
	return errors.Join(failed...)
}

// thin chooses a few samples that stand for all: those at even steps of the
// posterior's sum, each with the weight of its step.
func thin(samples []sample, places int) []sample {
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
		for k := 0; k < places; k++ {
			at := (float64(k) + 0.5) / float64(places)
			if before < at && sum >= at {
				x.weight = 1 / float64(places)
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
// evidence is that of the readings taken, which stand first among the responses. Where
// something is read with traffic it is that over all shares of dominant time, each as
// probable as the readings taken leave it.
func (e *evidence) ahead(responses []predicted, in Instrument, out *component) {
	n, all := len(e.readings), len(responses)
	// Parameters of the harness, the meter's gain and leads, the dominant share: what
	// readings have in common, as [evidence] has it.
	s := newSharing(all, e.parameters)
	mean, own := make([]float64, all), make([]float64, all)
	for i, r := range responses {
		v, q := r.Value(), quantityOf(r)
		mean[i] = onScale(q, v)
		var gain, lead float64
		if i < n {
			own[i], gain, lead = e.own[i], e.gain[i], e.lead[i]
			if i == out.misread {
				own[i] = anyVariance
			}
		} else {
			own[i], gain, lead = in.errors(q, v)
		}
		s.set(i, e.parameters, r, slope(q, v), gain, lead)
	}
	c := s.spread()
	shares := []float64{0}
	if c.first != nil {
		shares = shares[:0]
		for k := range shareParts {
			shares = append(shares, shareAt(k))
		}
	}
	list := make([]atShare, len(shares))
	variance := make([][]float64, len(shares))
	for k, u := range shares {
		list[k].mean = shifted(mean, s.lift, u)
		variance[k] = e.given(&list[k], c.at(u, own), own)
	}
	weighShares(list)
	out.mean, out.sd = make([]float64, all-n), make([]float64, all-n)
	for i := range out.mean {
		for k := range list {
			out.mean[i] += list[k].weight * list[k].mean[i]
		}
		for k := range list {
			d := list[k].mean[i] - out.mean[i]
			out.sd[i] += list[k].weight * (variance[k][i] + d*d)
		}
		out.sd[i] = math.Sqrt(out.sd[i])
	}
}

// given turns means of all readings into those of the ones to come, the ones taken given,
// and gives their variances. What those taken are worth becomes the log likelihood.
func (e *evidence) given(s *atShare, covariance *mat.SymDense, own []float64) (variance []float64) {
	n, all := len(e.readings), len(own)
	mean := s.mean
	var known mat.Cholesky
	residual := mat.NewVecDense(max(n, 1), nil)
	if n > 0 {
		c := mat.NewSymDense(n, nil)
		solved := mat.NewVecDense(n, nil)
		for a := range n {
			residual.SetVec(a, e.y[a]-mean[a])
			for b := a; b < n; b++ {
				c.SetSym(a, b, covariance.At(a, b))
			}
		}
		if !known.Factorize(c) {
			n = 0 // readings without any error of their own: nothing to hold fixed
		} else if err := known.SolveVecTo(solved, residual); err != nil {
			if _, doubtful := err.(mat.Condition); !doubtful {
				n = 0
			}
		}
		if n > 0 {
			s.log = -0.5 * (mat.Dot(solved, residual) + known.LogDet())
			residual = solved
		}
	}
	first := len(e.readings)
	s.mean, variance = make([]float64, all-first), make([]float64, all-first)
	cross, solved := mat.NewVecDense(max(n, 1), nil), mat.NewVecDense(max(n, 1), nil)
	for i := first; i < all; i++ {
		v, m := covariance.At(i, i), mean[i]
		if n > 0 {
			for a := range n {
				cross.SetVec(a, covariance.At(i, a))
			}
			m += mat.Dot(cross, residual)
			if err := known.SolveVecTo(solved, cross); err == nil {
				v -= mat.Dot(cross, solved)
			}
		}
		s.mean[i-first], variance[i-first] = m, math.Max(v, own[i])
	}
	return variance
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
				upTo = nearNormal((edges[b] - x.mean[k]) / x.sd[k])
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

// nearNormal is the same from a table whose straight lines are off by 3e-6 at most: bits
// are summed from millions of them.
func nearNormal(z float64) float64 {
	at := (z + normalEnd) * normalSteps
	if !(at > 0) {
		return 0
	}
	k := int(at)
	if k >= len(normalTable)-1 {
		return 1
	}
	return normalTable[k] + (at-float64(k))*(normalTable[k+1]-normalTable[k])
}

const (
	normalEnd   = 6   // standard deviations; beyond them is nothing
	normalSteps = 100 // to each
)

var normalTable = func() []float64 {
	out := make([]float64, 2*normalEnd*normalSteps+1)
	for i := range out {
		out[i] = normal(float64(i)/normalSteps - normalEnd)
	}
	return out
}()
