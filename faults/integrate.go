package faults

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/solve"
)

// weighed is a set of faults integrated over its free values.
type weighed struct {
	found
	evidence float64
	best     judged
	ohms     []float64 // by member
	samples  []sample
	err      error
	// Where a bus at work was read: the best place by all readings together, which
	// evidence and samples are of, and the cells that those at rest left.
	joint *judged
	cells []cell
}

// all is the log of a set's prior, evidence and answers together.
func (x *weighed) all() float64 { return x.prior + x.evidence + x.said }

// weigh integrates the most promising sets, best first, until what comes is of no
// account beside what is known. unexplained says that nothing that is known explains the
// readings, so that it is not given up where the first few do not either.
func (s *search) weigh(open []found, most int, known float64, unexplained bool) (out []weighed, left []found, by *weighed) {
	again := 2000 // sets that are put in order anew
	if len(open) > again {
		// Only those in front are put in order.
		scores := make([]float64, len(open))
		for i := range open {
			scores[i] = open[i].score
		}
		slices.Sort(scores)
		least, n := scores[len(scores)-again], 0
		for i := range open {
			if open[i].score >= least {
				open[i], open[n] = open[n], open[i]
				n++
			}
		}
		open, left = open[:n], open[n:]
	}
	if s.work != nil {
		most = min(most, mostAtWork)
		s.spread(len(open), func(w *worker, i int) {
			x := &open[i]
			before := x.worth
			x.worth = s.work.glance(w, x)
			x.score += x.worth - before
		})
	}
	sortFound(open)
	const (
		chunk   = 24
		aside   = -2.0 // one part in seven of what is known: sets that decide nothing
		little  = -7.0 // 1 in 1000 of what is known
		nothing = -9.0 // of what is known, for one set
		tries   = 5    // chunks
	)
	before, ordered := known, false
	for len(open) > 0 && len(out) < most {
		n := min(chunk, len(open), most-len(out))
		some := make([]weighed, n)
		measured := by
		if !ordered {
			measured = nil
		}
		s.spread(n, func(w *worker, i int) {
			if s.work == nil {
				some[i] = w.integrate(&open[i], known+nothing-open[i].said, measured)
				return
			}
			some[i] = w.integrate(&open[i], known+nothing-open[i].said-s.work.most(), measured)
			s.work.integrate(w, &some[i], known)
		})
		open = open[n:]
		out = append(out, some...)
		sum := math.Inf(-1)
		for i := range some {
			sum = logAdd(sum, some[i].all())
			if by == nil || !ordered && some[i].all() > by.all() {
				by = &some[i]
			}
		}
		known = logAdd(known, sum)
		if !ordered {
			if sum < known+little && !unexplained && (s.work == nil || len(open) == 0 || open[0].score < known+nothing) {
				break
			}
			// Where nothing explains the readings yet, some more are tried as they stand: by
			// tolerances of what does not explain them either there is nothing to be measured.
			if unexplained && by.all() < before && len(out) < tries*chunk {
				continue
			}
			ordered = true
			if sum < known+aside && !unexplained {
				again, most = again/4, min(most, mostBeside)
			}
			// What tolerances do together is known from the best of these. The rest is put in
			// order by it: what has nothing against it reading by reading may have a lot
			// against it when they are taken together.
			s.reorder(open[:min(again, len(open))], by, known+nothing-sharper)
		}
		// What comes next can be as good as its score at the very best.
		if len(open) > 0 && open[0].score < known+nothing {
			break
		}
	}
	return out, append(left, open...), by
}

// reorder puts sets in order by the most that they can come to with another one's
// tolerances. What stays beneath enough is known no closer.
func (s *search) reorder(open []found, by *weighed, enough float64) {
	s.spread(len(open), func(w *worker, i int) { w.sift(&open[i], by, by.best.trusting(), enough) })
	sortFound(open)
}

// sift bounds what a set can come to with another one's tolerances, as closely as it takes
// to tell whether that is enough. trusting says that it may take no reading to be misread.
func (w *worker) sift(x *found, by *weighed, trusting bool, enough float64) {
	k := w.measure(&by.best)
	if k == nil || !w.load(x.members...) {
		return
	}
	with := *k
	with.trusting = trusting
	if w.s.work != nil {
		enough -= w.s.work.most()
	}
	p := w.part()
	upper, at := p.sift(&with, enough-x.prior-x.said)
	x.score = x.prior + x.said + upper + x.worth
	x.at = slices.Clone(p.middle(&at))
}

// integrate averages a set's likelihood over its free values, all decades alike.
//
// below is the log of what a set's prior times its evidence must come near to be of
// any account: what certainly stays far beneath is only bounded. by has the tolerances of
// another set, to find the best place with; nil where none are known.
func (w *worker) integrate(x *found, below float64, by *weighed) weighed {
	s := w.s
	out := weighed{found: *x}
	if !w.load(x.members...) {
		out.err = fmt.Errorf("faults: %v cannot be together", x.members)
		return out
	}
	p := w.part()
	at := x.at
	if at == nil {
		at = w.explore(p)
	}
	var z *frozen
	// settle works a place of the free values out in full.
	settle := func(at []float64) bool {
		out.ohms = at
		if out.best, out.err = w.judge(at); out.err != nil {
			return false
		}
		if z = w.e.freeze(out.best.covariance); z == nil {
			out.evidence = math.Inf(-1)
		}
		return z != nil
	}
	known := false
	if by != nil && x.at != nil {
		if k := w.measure(&by.best); k != nil {
			known, at = true, w.polish(p, at, k.z)
		}
	}
	if !settle(at) {
		return out
	}
	if len(p.free) == 0 {
		out.evidence = out.best.log
		out.samples = []sample{{fraction: 0.5, log: out.best.log, weight: 1}}
		return out
	}
	much := !known || out.prior+out.best.log > below+slight
	nought := -3.0
	if much {
		nought = -6
	}
	if len(s.e.finite) > 0 && much {
		// What was found by a loose measure is made sharp before anything is doubted.
		if sharp := w.polish(p, at, z); !slices.Equal(sharp, at) && !settle(sharp) {
			return out
		}
	}
	var parts []cell
	for pass := 0; ; pass++ {
		parts = p.refine(&yardstick{z: z, trusting: out.best.trusting()}, below-x.prior, nought)
		best := &parts[0]
		for i := range parts {
			if parts[i].log > best.log {
				best = &parts[i]
			}
		}
		// The covariance belongs to a place; if the best place is another, the
		// integral is done anew with that one's.
		if pass == 2 || best.log < out.best.log+0.5 {
			break
		}
		if !settle(slices.Clone(p.middle(best))) {
			return out
		}
	}
	if s.work != nil {
		out.cells = slices.Clone(parts)
	}
	sum := math.Inf(-1)
	for i := range parts {
		sum = logAdd(sum, parts[i].log+parts[i].size)
	}
	for i := range parts {
		c := &parts[i]
		weight := math.Exp(c.log + c.size - sum)
		if weight < 1e-6 {
			continue
		}
		x := sample{fraction: 0.5, log: c.log, weight: weight}
		for d, k := range p.free {
			if m := (c.low[d] + c.high[d]) / 2; k == 0 {
				x.logOhms = m
			} else {
				x.others[k-1] = m
			}
		}
		out.samples = append(out.samples, x)
	}
	out.evidence = sum - p.volume
	return out
}

// slight is how far above what is of no account, in natural logarithms, a set has to be at
// its best place for that to be found with its own tolerances: about as much as averaging
// over two free values takes away again.
const slight = 5.0

// explore finds a place of the free values that explains the readings well, by
// halving the cell with the best bound again and again.
func (w *worker) explore(p *parting) []float64 {
	best := slices.Clone(p.middle(&p.all))
	if len(p.free) == 0 {
		return best
	}
	s := w.s
	value := math.Inf(-1)
	look := func(c *cell) {
		w.read(p.middle(c), w.out)
		sum, worst := 0.0, 0.0
		for i, y := range w.out {
			w.low[i], w.high[i] = y, y
			x := w.off(i)/2 + 0.5*math.Log(s.loose.variance(s.e, i, y, w.rail))
			sum -= x
			worst = max(worst, x)
		}
		if v := sum + max(0, worst-6); v > value {
			value = v
			copy(best, p.middle(c))
		}
		p.box(c)
		c.bound = 0
		for i := range s.e.readings {
			c.bound -= w.off(i) / 2
		}
		// Of cells that are level the widest is looked into first.
		c.bound -= 0.05 * float64(c.depth)
		c.bound -= c.size // in the heap it is to count for nothing
	}
	p.open = append(p.open[:0], p.all)
	for range 60 * len(p.free) {
		if len(p.open) == 0 {
			break
		}
		c := p.open.pop()
		a, b := p.split(&c)
		for _, half := range []cell{a, b} {
			if look(&half); half.depth < 10*len(p.free) {
				p.open.push(half)
			}
		}
	}
	return best
}

// judge works out one place of the free values of what is loaded in full.
func (w *worker) judge(ohms []float64) (judged, error) { return w.e.judge(w.respond(ohms)), nil }

// respond takes the readings there.
func (w *worker) respond(ohms []float64) []predicted {
	responses := make([]predicted, len(w.e.readings))
	for at, v := range w.s.views {
		var strands []solve.Strand
		strands = append(strands, v.base...)
		for k, t := range w.threads[at] {
			if t == nil {
				continue
			}
			for j := range t.ports {
				x := solve.Strand{Port: t.ports[j].port}
				if j == t.free {
					x = x.WithOhms(ohms[k])
				} else {
					x = x.WithOhms(t.ohms[j])
				}
				strands = append(strands, x)
			}
		}
		v.read(w.s.probes, strands, responses)
	}
	return responses
}

// portReading is a reading as seen from ports.
type portReading struct {
	v     *view
	probe *Probe
	lead  *solve.Port
	tied  *solve.Tied
	k     []float64
	value solve.Value
}

// read takes all of the view's readings with strands laid in, the base's among them.
func (v *view) read(probes []Probe, strands []solve.Strand, out []predicted) {
	tied := v.ports.Tie(strands)
	for q, i := range v.probes {
		x := &portReading{v: v, probe: &probes[i], lead: &v.leads[q], tied: tied}
		var across, volts float64
		x.k, across, volts = tied.Solve(x.lead)
		x.value = v.meter.Shown(x.probe.Quantity, across, volts)
		out[i] = x
	}
}

func (r *portReading) Value() solve.Value { return r.value }

func (r *portReading) Sensitivities(out []float64) {
	r.tied.Sensitivities(r.probe.Quantity, r.v.meter, r.lead, r.probe.From, r.probe.To, r.k, out)
}
