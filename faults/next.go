package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Minutes that go with a reading beside reaching its place. From memory.
const (
	readMinutes   = 0.5 // to take it
	unplugMinutes = 1.0 // to part a connector and mate it again
	supplyMinutes = 5.0 // to switch between supply off and on, and wait
)

// NextOptions are settings of [Next]; nil stands for the defaults.
type NextOptions struct {
	// Candidates are the readings to choose from; nil takes all that can be
	// taken at single places, plugged and unplugged, ohms and idle volts.
	Candidates []Probe
	// Progress, where not nil, is called after each explanation.
	Progress func(done, of int)
}

// Advice is one possible next reading.
type Advice struct {
	Probe Probe
	// Bits is how much the reading is expected to say about which part to
	// repair: the mutual information of part and reading.
	Bits float64
	// Minutes to take it, coming from the last reading.
	Minutes float64
	// Expect is what the reading is likely to be for each part that is still
	// probable, most probable part first.
	Expect []Expectation
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
	leastBits  = 1e-3
)

// Next ranks possible readings by how much each is expected to say, for each
// minute that it costs, about which part to repair. It looks at the reading's
// information about the part, not at how much the reading itself may vary: the
// tolerances of this very harness are the same in every reading, so what the
// readings taken so far say of them is held fixed, and reading the same place
// again says nothing.
func Next(c *netlist.Circuit, m *Match, in Instrument, opts *NextOptions) ([]Advice, error) {
	var o NextOptions
	if opts != nil {
		o = *opts
	}
	candidates := o.Candidates
	if candidates == nil {
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			candidates = append(candidates, Probes(c, sel)...)
		}
	}
	candidates = slices.DeleteFunc(slices.Clone(candidates), func(p Probe) bool {
		return p.driven() || slices.ContainsFunc(m.Readings, func(r Reading) bool { return sameProbe(r.Probe, p) })
	})
	if len(candidates) == 0 {
		return nil, errors.New("faults: no reading is left to take")
	}
	taken := make([]Reading, 0, len(m.Readings))
	for _, r := range m.Readings {
		if !r.Probe.driven() { // a bus at work shares little with what is read at rest
			taken = append(taken, r)
		}
	}
	probes := make([]Probe, 0, len(taken)+len(candidates))
	for _, r := range taken {
		probes = append(probes, r.Probe)
	}
	probes = append(probes, candidates...)
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		return nil, err
	}
	foreseen, err := foresee(p, m, newEvidence(c, taken, in), in, candidates, o.Progress)
	if err != nil {
		return nil, err
	}
	out := make([]Advice, len(candidates))
	for k := range candidates {
		out[k] = Advice{Probe: candidates[k], Minutes: minutes(c, m.Readings, len(m.Answers) > 0, &candidates[k])}
		foreseen.weigh(&out[k], k, in.Meter.RangeOhms)
	}
	most := 0.0
	for i := range out {
		most = math.Max(most, out[i].Bits)
	}
	// A reading that says next to nothing is no advice, however cheap it is.
	out = slices.DeleteFunc(out, func(a Advice) bool { return a.Bits < worthwhile*most || a.Bits < leastBits })
	slices.SortStableFunc(out, func(a, b Advice) int { return cmp.Compare(b.PerMinute(), a.PerMinute()) })
	return out, nil
}

// sameProbe tells whether two probes are one and the same reading.
func sameProbe(a, b Probe) bool {
	same := a.From == b.From && a.To == b.To || a.From == b.To && a.To == b.From
	return same && a.Quantity == b.Quantity && a.Sender == b.Sender && a.Traffic == b.Traffic &&
		a.Condition.Supply == b.Condition.Supply && slices.Equal(a.Condition.Unplugged, b.Condition.Unplugged)
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
	sum := readMinutes
	if !been[p.Site] {
		sum += p.ReachMin
	}
	for _, name := range p.Condition.Unplugged {
		sum += unplugMinutes
		if s, ok := c.Site(name); ok && name != p.Site && !been[name] {
			sum += s.ReachMin
		}
	}
	if (len(taken) > 0 || scanned) && p.Condition.Supply != last {
		sum += supplyMinutes
	}
	return sum
}

// component is what one explanation, with its free values at one place, foresees
// of every candidate: a normal distribution on the scale.
type component struct {
	part     int
	weight   float64
	mean, sd []float64
}

// foresight is the readings to come, as a mixture over the explanations.
type foresight struct {
	candidates []Probe
	parts      []string
	chance     []float64 // by part
	components []component
	overFrom   float64
	none       int // index of the part that stands for "none of these", or −1
}

const (
	leastWeight = 2e-3 // explanations below it are not looked at
	mostSamples = 5    // places of a free value that stand for all
)

// foresee works out what every explanation that is still open foresees, given what
// the readings taken say of the tolerances.
func foresee(p *predictor, m *Match, e *evidence, in Instrument, candidates []Probe, progress func(done, of int)) (*foresight, error) {
	f := &foresight{candidates: candidates, overFrom: e.overFrom, none: -1}
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
	for i := range m.Hypotheses {
		if m.Hypotheses[i].Probability >= leastWeight {
			open = append(open, &m.Hypotheses[i])
		}
	}
	if len(open) == 0 {
		return nil, errors.New("faults: no explanation is left to tell apart")
	}
	total := 0.0
	for _, h := range open {
		total += h.Probability
	}
	for done, h := range open {
		weight := h.Probability / total
		name := h.Name
		if h.Fault != nil {
			name = h.Fault.Part
		}
		part := partOf(name)
		f.chance[part] += weight
		switch {
		case h.Name == NoneName:
			f.none = part
		case h.Fault == nil:
			healthy, err := p.healthy()
			if err != nil {
				return nil, err
			}
			f.components = append(f.components, e.ahead(healthy, in, part, weight))
		default:
			for _, s := range thin(h.samples) {
				ready, err := p.prepare(h.Fault, s.fraction)
				if err != nil {
					return nil, err
				}
				responses, err := ready.at(math.Exp(s.logOhms))
				if err != nil {
					return nil, err
				}
				f.components = append(f.components, e.ahead(responses, in, part, weight*s.weight))
			}
		}
		if progress != nil {
			progress(done+1, len(open))
		}
	}
	return f, nil
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

// ahead gives the distribution of each candidate, the readings taken given. The
// evidence is that of the readings taken, which stand first among the responses.
func (e *evidence) ahead(responses []predicted, in Instrument, part int, weight float64) component {
	n := len(e.readings)
	all := len(responses)
	out := component{part: part, weight: weight, mean: make([]float64, all-n), sd: make([]float64, all-n)}
	j := mat.NewDense(all, e.parameters+2, nil)
	mean, own := make([]float64, all), make([]float64, all)
	_, leadHalf := in.leads()
	for i, r := range responses {
		v := r.Value()
		q := solve.Volts
		if x, ok := r.(*solve.Response); ok {
			q = x.Quantity()
		}
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
	return out
}

// weigh fills in what a candidate is expected to say. The reading is parted into
// bins, which can only lose information, so the bits are never too many.
func (f *foresight) weigh(a *Advice, k int, rangeOhms float64) {
	edges := f.edges(k)
	bins := len(edges) + 1
	given := make([][]float64, len(f.parts))
	for i := range given {
		given[i] = make([]float64, bins)
	}
	for _, x := range f.components {
		before := 0.0
		for b := 0; b < bins; b++ {
			upTo := 1.0
			if b < len(edges) {
				upTo = normal((edges[b] - x.mean[k]) / x.sd[k])
			}
			given[x.part][b] += x.weight * (upTo - before)
			before = upTo
		}
	}
	if f.none >= 0 {
		// What is not in the catalogue may read anything.
		for b := range given[f.none] {
			given[f.none][b] = f.chance[f.none] / float64(bins)
		}
	}
	all := make([]float64, bins)
	for _, g := range given {
		for b, p := range g {
			all[b] += p
		}
	}
	for i, g := range given {
		for b, p := range g {
			if p > 0 && all[b] > 0 {
				a.Bits += p * math.Log2(p/(f.chance[i]*all[b]))
			}
		}
	}
	a.Bits = math.Max(0, a.Bits)
	f.expect(a, k, rangeOhms)
}

// edges chooses where to part a candidate's readings: around every explanation's
// mean, thinned to a number that is soon worked through.
func (f *foresight) edges(k int) []float64 {
	const most = 120
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
	if step := float64(len(out)) / most; step > 1 {
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
	order := make([]int, len(f.parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(f.chance[y], f.chance[x]) })
	for _, i := range order {
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
