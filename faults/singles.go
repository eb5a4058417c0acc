package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Single faults. A first look from ports bounds what each can explain; then they are
// weighed in full, the most promising first, until what is left cannot come near.

// look is a first look at a fault, place by place along its wires.
type look struct {
	bound, score float64     // log likelihood at its greatest; a rough measure of it
	cells        [][]float64 // bound in each part of the free range, by place
	measured     bool        // the bound is by a yardstick
	place, cell  int         // where score is greatest
}

// looks is how many parts of a free range a first look takes, and a weighing to begin
// with.
const looks = 24

// beneathBest is how far below the best, in natural logarithms, a single fault's bound
// lies that is not weighed: less than 3 in 10^10 of the whole.
const beneathBest = 22

// look takes a first look at fault i; one that says nothing where it cannot be seen
// from ports.
func (r *ranking) look(w *worker, i int) (look, error) {
	s := r.search
	if s == nil || !s.able[i] {
		return look{bound: math.Inf(1), score: math.Inf(1)}, nil
	}
	f := r.x.faults[i]
	out := look{bound: math.Inf(-1), score: math.Inf(-1)}
	n := len(s.e.readings)
	points := 1
	if f.Free != nil {
		points = looks + 1
	}
	if s.still[i] {
		// All over the range it reads as sound wiring does.
		copy(w.low, s.sound)
		copy(w.high, s.sound)
		w.rail = s.rail[i] // nothing is loaded that would say so
		out.bound, out.score = w.bound(), -w.against()/2
		for range r.x.field.fractions[i] {
			out.cells = append(out.cells, slices.Repeat([]float64{out.bound}, max(1, points-1)))
		}
		return out, nil
	}
	w.grid = sized(w.grid, points*n)
	for place := range r.x.field.fractions[i] {
		if able, err := w.loadAt(i, place); err != nil || !able {
			return look{bound: math.Inf(1), score: math.Inf(1)}, err
		}
		for k := range points {
			w.ohms[0] = f.at(float64(k) / looks)
			w.read(w.ohms, w.grid[k*n:(k+1)*n])
		}
		cells := make([]float64, max(1, points-1))
		for k := range cells {
			w.clear()
			for _, at := range []int{k, min(k+1, points-1)} {
				for q, y := range w.grid[at*n : (at+1)*n] {
					w.low[q], w.high[q] = min(w.low[q], y), max(w.high[q], y)
				}
			}
			cells[k] = w.bound()
			out.bound = max(out.bound, cells[k])
			if score := -w.against() / 2; score > out.score {
				out.score, out.place, out.cell = score, place, k
			}
		}
		out.cells = append(out.cells, cells)
	}
	return out, nil
}

// measure bounds the parts of the free range anew by a yardstick, where the first look
// leaves more than least.
func (r *ranking) measure(w *worker, i int, l *look, by *judged, least float64) error {
	k := w.measure(by)
	if k == nil || l.cells == nil {
		return nil
	}
	f, n := r.x.faults[i], len(w.out)
	l.bound, l.measured = math.Inf(-1), true
	w.grid = sized(w.grid, 2*n)
	a, b := w.grid[:n], w.grid[n:]
	for place, cells := range l.cells {
		loaded := false
		had := -1 // the step that b was read at
		read := func(step int, out []float64) error {
			if !loaded {
				loaded = true
				if _, err := w.loadAt(i, place); err != nil {
					return err
				}
			}
			w.ohms[0] = f.at(float64(step) / looks)
			w.read(w.ohms, out)
			return nil
		}
		for c := range cells {
			if cells[c] > least {
				if had == c {
					a, b = b, a
				} else if err := read(c, a); err != nil {
					return err
				}
				had = min(c+1, len(cells)) // one that has no range is not read twice
				if len(cells) == 1 {
					copy(b, a)
				} else if err := read(had, b); err != nil {
					return err
				}
				for q := range n {
					w.low[q], w.high[q] = min(a[q], b[q]), max(a[q], b[q])
				}
				// Another may take a reading to be misread where this one does not.
				sum, chi := w.aboveTrusted(k)
				cells[c] = min(cells[c], w.aboveDoubted(k, sum, chi))
			}
			l.bound = max(l.bound, cells[c])
		}
	}
	return nil
}

// at is the ohms a share of the way through the free range; 0 where there is none.
func (f *Fault) at(share float64) float64 {
	if f.Free == nil {
		return 0
	}
	return f.Free.Min * math.Pow(f.Free.Max/f.Free.Min, share)
}

// within bounds the log likelihood at a share of the way through the free range.
func (l *look) within(place int, share float64) float64 {
	cells := l.cells[place]
	at := share * looks
	if k := int(math.Round(at)); k > 0 && math.Abs(at-float64(k)) < 1e-6 {
		return max(cells[min(looks-1, k)], cells[k-1])
	}
	return cells[max(0, min(looks-1, int(at)))]
}

// share is how far through its free range a logarithm of ohms is.
func (f *Fault) share(logOhms float64) float64 {
	low, high := math.Log(f.Free.Min), math.Log(f.Free.Max)
	return (logOhms - low) / (high - low)
}

// weighedSingle is a single fault held against everything.
type weighedSingle struct {
	h   Hypothesis
	log float64
	who answered
	err error
}

// singles ranks every single fault.
func (r *ranking) singles() error {
	n := len(r.x.faults)
	looked, failed := make([]look, n), make([]error, n)
	r.spread(n, func(w *worker, i int) { looked[i], failed[i] = r.look(w, i) })
	if err := errors.Join(failed...); err != nil {
		return err
	}
	order, prior := make([]int, n), make([]float64, n)
	results := make([]weighedSingle, n)
	for i, f := range r.x.faults {
		order[i], prior[i] = i, math.Log(r.o.one()*f.Rate/r.rates)
		results[i] = weighedSingle{h: Hypothesis{Name: f.Name, Fault: f, Members: []Member{{Fault: f}}}, log: math.Inf(-1)}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(prior[b]+looked[b].score, prior[a]+looked[a].score) })
	elsewhere := 0.0 // the most that readings can add which the look does not see
	if r.search != nil {
		elsewhere = r.e.floor - r.search.e.floor
	}
	best := r.none
	for _, l := range r.logs {
		best = max(best, l)
	}
	// So many are weighed before what is left is bounded anew; the same whatever the
	// number of processors.
	const chunk = 32
	// Bounds take readings to be as sharp as the meter alone; with tolerances they are not,
	// and no fault is much sharper than the best.
	sharp := 0.0
	var by *judged // the best one's tolerances
	near := func(i int) bool {
		if looked[i].measured {
			return prior[i]+looked[i].bound > best-beneathYardstick
		}
		return prior[i]+looked[i].bound+elsewhere-sharp > best-beneathBest
	}
	for len(order) > 0 {
		var some []int
		for len(order) > 0 && len(some) < chunk {
			if near(order[0]) {
				some = append(some, order[0])
			}
			order = order[1:]
		}
		r.spread(len(some), func(w *worker, k int) {
			x := &results[some[k]]
			x.err = r.single(some[k], &looked[some[k]], prior[some[k]], best, by, w, x)
		})
		better := -1
		for _, i := range some {
			if results[i].err != nil {
				return results[i].err
			}
			if results[i].log > best {
				best, better = results[i].log, i
			}
		}
		if better >= 0 {
			h := &results[better].h
			sharp = r.sharpness(h, sharperAlone)
			if r.search != nil && len(r.rest) == len(r.m.Readings) {
				by = &h.judged
				if err := r.measureAll(order, looked, by, func(i int) float64 { return best - prior[i] - beneathYardstick }, near); err != nil {
					return err
				}
			}
		}
		if r.o.Progress != nil {
			r.o.Progress(n-len(order), n)
		}
	}
	for k := range results {
		r.who = append(r.who, results[k].who)
		r.of = append(r.of, len(r.m.Hypotheses))
		r.add(results[k].h, results[k].log)
	}
	return nil
}

// measureAll bounds faults anew by a yardstick: with tolerances all readings together rule
// out much that none does alone. least gives what is of no account for each of them.
func (r *ranking) measureAll(faults []int, looked []look, by *judged, least func(i int) float64, near func(i int) bool) error {
	failed := make([]error, len(faults))
	r.spread(len(faults), func(w *worker, k int) {
		if i := faults[k]; near(i) {
			failed[k] = r.measure(w, i, &looked[i], by, least(i))
		}
	})
	return errors.Join(failed...)
}

// beneathYardstick is the same for bounds by the best one's tolerances.
const beneathYardstick = 18

// sharperAlone is by how much in natural logarithms a single fault may meet the readings
// more sharply than the best does, as [sharper] is for pairs.
const sharperAlone = 8

// sharpness is how much may be taken off a bound: what the readings would be worth with
// the meter's own errors alone, less what they are worth to an explanation and so much
// more. Readings of a bus at work are not bounded.
func (r *ranking) sharpness(h *Hypothesis, more float64) float64 {
	if r.search == nil || h.judged.covariance == nil {
		return 0
	}
	covariance := h.judged.covariance
	if len(r.rest) < len(r.m.Readings) {
		covariance = mat.NewSymDense(len(r.rest), nil)
		for a, i := range r.rest {
			for b := a; b < len(r.rest); b++ {
				covariance.SetSym(a, b, h.judged.covariance.At(i, r.rest[b]))
			}
		}
	}
	z := r.search.e.freeze(covariance)
	if z == nil {
		return 0
	}
	return max(0, r.search.e.floor-z.top-more)
}

// spread is [search.spread]; the scratch space is nil where nothing is seen from ports.
func (r *ranking) spread(n int, work func(w *worker, i int)) {
	if r.search != nil {
		r.search.spread(n, work)
		return
	}
	parallel(n, func() func(int) { return func(i int) { work(nil, i) } })
}

// single weighs one fault, with scratch space of the caller's; best is the best that is
// known so far, prior and all, by its tolerances, where there are any.
func (r *ranking) single(i int, looked *look, prior, best float64, by *judged, w *worker, x *weighedSingle) error {
	f, h, e := r.x.faults[i], &x.h, r.e.apart()
	var fit fitted
	var err error
	switch {
	case looked.cells != nil && len(r.rest) == len(r.m.Readings):
		if !looked.measured || prior+looked.bound > best-roughly {
			by = nil
		}
		var sharp bool
		fit, sharp, err = r.fitFromPorts(i, looked, by, w, best-prior)
		if err == nil && by != nil && prior+fit.evidence > best-roughly {
			fit, sharp, err = r.fitFromPorts(i, looked, nil, w, best-prior)
		}
		// What lies far beneath the best need not be sharp.
		if err == nil && !sharp && fit.evidence > best-prior-ignored {
			fit, err = r.p.fit(f, e, r.asked, nil, best-prior-ignoredBeside)
		}
	case looked.cells != nil && f.Free != nil:
		elsewhere := r.e.floor - r.search.e.floor
		fit, err = r.p.fit(f, e, r.asked, func(place int, x float64) float64 {
			bound := elsewhere + looked.within(place, f.share(x))
			if bound < best-prior-ignoredBeside {
				return math.Inf(-1)
			}
			return bound
		}, best-prior-ignoredBeside)
	default:
		fit, err = r.p.fit(f, e, r.asked, nil, best-prior-ignoredBeside)
	}
	if err != nil {
		return err
	}
	h.judged, h.samples = fit.best, fit.samples
	free := 0
	if f.Free != nil {
		free++
		h.Ohms = estimate(fit.samples, fit.ohms, func(s sample) float64 { return math.Exp(s.logOhms) })
		if f.LengthM > 0 && len(r.x.field.fractions[i]) > 1 {
			free++
			h.Metres = estimate(fit.samples, fit.fraction*f.LengthM, func(s sample) float64 { return s.fraction * f.LengthM })
		}
		h.Members[0].Ohms, h.Members[0].Metres = h.Ohms, h.Metres
	}
	h.explain(e, fit.values, free)
	if r.asked != nil {
		h.answersBy(r.asked, fit.answered)
	}
	x.log, x.who = prior+fit.evidence, fit.answered
	return nil
}

// roughly is how far beneath the best, in natural logarithms, a fault is weighed by the
// best one's tolerances all over its free range, and by its own at its best place only:
// less than one in a hundred of the whole.
const roughly = 5

// Anchors are places of the free range where the covariance is worked out. Between two
// of them the log likelihood is taken from both, in proportion: what tolerances make
// of a reading changes slowly with the free ohms, the reading itself does not.
// everyLook is how many looks lie between them.
const everyLook = 2

// fineWire is the resistance in ohms of a fault's wires from which on its place along
// them may matter to the tolerances.
const fineWire = 2.0

// portFit fits one fault from ports.
type portFit struct {
	r       *ranking
	i       int
	f       *Fault
	w       *worker
	looked  *look
	answers *preparedAnswers
	shared  bool       // one set of anchors for all places
	still   *judged    // what it predicts wherever it is and whatever its ohms are
	rough   *yardstick // by which it is weighed; nil where that is by its own tolerances
	low     float64    // ends of the free range, as logarithms
	high    float64
	anchors [][]*frozen // by place
	place   int         // that is loaded
	mean    []float64
	top     float64 // the greatest log likelihood so far
	least   float64 // beneath which nothing is looked into
	ohms    float64 // where that is
	at      int     // its place
}

// ignored is how far below a fault's best, in natural logarithms, a bound on its
// likelihood lies that is not looked into.
const ignored = 14

// ignoredBeside is the same beneath the best of all faults, of which there are many.
const ignoredBeside = 18

// betweenAnchors is how far off, in natural logarithms, a likelihood between anchors may
// be at its best place.
const betweenAnchors = 0.1

// fitFromPorts is [predictor.fit] for a fault that can be seen from ports. sharp is false
// where the tolerances change too fast between anchors for it to be right. known is what
// its likelihood would have to be for it to be as probable as the best so far. by, where it
// is not nil, has the tolerances to go by.
func (r *ranking) fitFromPorts(i int, looked *look, by *judged, w *worker, known float64) (fit fitted, sharp bool, err error) {
	f := r.x.faults[i]
	p := &portFit{r: r, i: i, f: f, w: w, looked: looked, place: -1, mean: make([]float64, len(w.s.e.readings)), top: math.Inf(-1), least: known - ignoredBeside}
	if r.asked != nil {
		// Who answers depends on where along a wire a fault is by next to nothing.
		var err error
		if p.answers, err = r.asked.prepare(f, 0.5); err != nil {
			return fitted{}, false, err
		}
	}
	if r.search.still[i] {
		p.still = &r.search.asSound
	} else if by != nil {
		p.rough = w.measure(by)
	}
	if f.Free == nil {
		return p.finish(nil)
	}
	places := r.x.field.fractions[i]
	p.shared = r.p.finest >= commonStep && wireOhms(r.x.c, f) < fineWire
	p.anchors = make([][]*frozen, len(places))
	low, high := math.Log(f.Free.Min), math.Log(f.Free.Max)
	p.low, p.high = low, high
	step := (high - low) / looks
	// Begin where it looks best, so that little is looked into in vain.
	if err := p.load(looked.place); err != nil {
		return fitted{}, false, err
	}
	for k := range 3 {
		if _, err := p.log(low + step*(float64(looked.cell)+float64(k)/2)); err != nil {
			return fitted{}, false, err
		}
	}
	var samples []sample
	for place, fraction := range places {
		if err := p.load(place); err != nil {
			return fitted{}, false, err
		}
		marks, err := p.peaks(low, high)
		if err != nil {
			return fitted{}, false, err
		}
		curve, err := w.tracing.trace(low, high, func(x float64) (float64, error) {
			if bound := looked.within(place, (x-low)/(high-low)); bound < p.least {
				return bound, nil
			}
			return p.log(x)
		}, marks...)
		if err != nil {
			return fitted{}, false, err
		}
		for _, s := range curve {
			s.fraction = fraction
			samples = append(samples, s)
		}
	}
	return p.finish(samples)
}

// load puts the fault at one of its places.
func (p *portFit) load(place int) error {
	if p.place == place {
		return nil
	}
	p.place = place
	_, err := p.w.loadAt(p.i, place)
	return err
}

// anchor gives the covariance at an even step of the free range.
func (p *portFit) anchor(k int) (*frozen, error) {
	place := p.place
	if p.shared {
		place = 0
	}
	if p.anchors[place] == nil {
		p.anchors[place] = make([]*frozen, looks/everyLook+1)
	}
	if z := p.anchors[place][k]; z != nil {
		return z, nil
	}
	free := p.f.Free
	j, err := p.w.judge([]float64{free.Min * math.Pow(free.Max/free.Min, float64(k)*everyLook/looks)})
	if err != nil {
		return nil, err
	}
	z := p.w.e.freeze(j.covariance)
	p.anchors[place][k] = z
	return z, nil
}

// near bounds the log likelihood of what was just read by the nearest covariance that is
// known already, taken to be twice as wide, one reading left out: most of a range lies so
// far off that no covariance of its own is called for.
func (p *portFit) near(k int) float64 {
	place := p.place
	if p.shared {
		place = 0
	}
	anchors := p.anchors[place]
	if anchors == nil {
		return math.Inf(1)
	}
	for d := range len(anchors) {
		for _, i := range []int{k - d, k + 1 + d} {
			if i < 0 || i >= len(anchors) || anchors[i] == nil {
				continue
			}
			z := anchors[i]
			_, chi := z.plain(p.mean)
			worst := 0.0
			for a, w := range z.w {
				worst = max(worst, w*w/z.precision[a][a])
			}
			const wider = 4 // variances
			return z.top - (chi-worst)/2/wider
		}
	}
	return math.Inf(1)
}

// log is the log likelihood at a place of the free range, that of the answers with it.
func (p *portFit) log(x float64) (float64, error) {
	ohms := math.Exp(x)
	log, bounded, err := p.logOfReadings(x, ohms)
	if err != nil || bounded {
		return log, err
	}
	if p.answers != nil && log > p.least {
		got, err := p.answers.near(ohms)
		if err != nil {
			return 0, err
		}
		log += p.r.asked.answerer.logChance(p.r.asked.answers, got)
	}
	if log > p.top {
		p.top, p.ohms, p.at = log, ohms, p.place
		p.least = max(p.least, log-ignored)
	}
	return log, nil
}

// logOfReadings is that of the readings alone; only a bound, where that is beneath what is
// looked into.
func (p *portFit) logOfReadings(x, ohms float64) (log float64, bounded bool, err error) {
	if p.still != nil {
		return p.still.log, false, nil
	}
	p.w.ohms[0] = ohms
	p.w.read(p.w.ohms, p.mean)
	if p.rough != nil {
		return p.rough.z.log(p.mean, nil), false, nil
	}
	at := (x - p.low) / (p.high - p.low) * looks / everyLook
	k := max(0, min(looks/everyLook-1, int(at)))
	share := max(0, min(1, at-float64(k)))
	if bound := p.near(k); bound < p.least {
		return bound, true, nil
	}
	for side, weight := range []float64{1 - share, share} {
		if weight < 1e-9 {
			continue
		}
		z, err := p.anchor(k + side)
		if err != nil {
			return 0, false, err
		}
		if z == nil {
			return math.Inf(-1), true, nil
		}
		log += weight * z.log(p.mean, nil)
	}
	return log, false, nil
}

// noWeight is the share of the whole of samples that are not kept.
const noWeight = 1e-7

// finish works out the best place in full and sums what the samples hold.
func (p *portFit) finish(samples []sample) (out fitted, sharp bool, err error) {
	out = fitted{evidence: math.Inf(-1), ohms: p.ohms, fraction: p.r.x.field.fractions[p.i][p.at], samples: samples}
	if err = p.load(p.at); err != nil {
		return out, false, err
	}
	if p.still != nil {
		out.best = *p.still
	} else if out.best, err = p.w.judge([]float64{p.ohms}); err != nil {
		return out, false, err
	}
	if p.answers != nil {
		if out.answered, err = p.answers.near(p.ohms); err != nil {
			return out, false, err
		}
		out.best.log += p.r.asked.answerer.logChance(p.r.asked.answers, out.answered)
	}
	for q, y := range out.best.mean {
		out.values = append(out.values, offScale(p.w.s.e.readings[q].Probe.Quantity, y, p.r.x.in.Meter.RangeOhms))
	}
	if p.f.Free == nil {
		out.evidence = out.best.log
		return out, true, nil
	}
	out.evidence = integrate(out.samples, math.Log(p.f.Free.Max/p.f.Free.Min)*float64(len(p.r.x.field.fractions[p.i])))
	out.samples = slices.DeleteFunc(out.samples, func(s sample) bool { return s.weight < noWeight })
	if p.rough != nil {
		out.evidence += out.best.log - p.top
		return out, true, nil
	}
	return out, math.Abs(out.best.log-p.top) < betweenAnchors, nil
}

// integrate gives samples their weights, and the log of their mean over a span.
func integrate(samples []sample, span float64) float64 {
	sum := math.Inf(-1)
	for _, s := range samples {
		sum = logAdd(sum, s.log+math.Log(s.width))
	}
	for i := range samples {
		s := &samples[i]
		s.weight = math.Exp(s.log + math.Log(s.width) - sum)
	}
	return sum - math.Log(span)
}
