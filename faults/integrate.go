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
}

// all is the log of a set's prior, evidence and answers together.
func (x *weighed) all() float64 { return x.prior + x.evidence + x.said }

// weigh integrates the most promising sets, best first, until what comes is of no
// account beside what is known.
func (s *search) weigh(open []found, most int, known float64) (out []weighed, left []found) {
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
	sortFound(open)
	const (
		chunk   = 24
		aside   = -2.0 // one part in seven of what is known: sets that decide nothing
		little  = -7.0 // 1 in 1000 of what is known
		nothing = -9.0 // of what is known, for one set
	)
	for len(open) > 0 && len(out) < most {
		n := min(chunk, len(open), most-len(out))
		some := make([]weighed, n)
		s.spread(n, func(w *worker, i int) {
			some[i] = w.integrate(&open[i], known+nothing-open[i].said)
		})
		open = open[n:]
		first := len(out) == 0
		out = append(out, some...)
		sum, best := math.Inf(-1), 0
		for i := range some {
			if sum = logAdd(sum, some[i].all()); some[i].all() > some[best].all() {
				best = i
			}
		}
		known = logAdd(known, sum)
		if first {
			if sum < known+little {
				break
			}
			if sum < known+aside {
				again, most = again/4, min(most, mostBeside)
			}
			// What tolerances do together is known from the best of these. The rest is put in
			// order by it: what has nothing against it reading by reading may have a lot
			// against it when they are taken together.
			s.reorder(open[:min(again, len(open))], &some[best])
		}
		// What comes next can be as good as its score at the very best.
		if len(open) > 0 && open[0].score < known+little-2 {
			break
		}
	}
	return out, append(left, open...)
}

// reorder puts sets in order by the most that they can reach with another one's
// tolerances.
func (s *search) reorder(open []found, by *weighed) {
	if by.best.covariance == nil {
		return
	}
	trusting := true
	for _, p := range by.best.misread {
		trusting = trusting && p < doubtful
	}
	s.spread(len(open), func(w *worker, i int) {
		x := &open[i]
		z := w.frozenBy(by)
		if z == nil || !w.load(x.members...) {
			return
		}
		x.score = math.Inf(-1)
		w.overGrid(w.readSteps, func() { x.score = max(x.score, x.prior+x.said+w.above(z, trusting)) })
	})
	sortFound(open)
}

// frozenBy is another set's covariance, made ready once for all that is held against it.
func (w *worker) frozenBy(by *weighed) *frozen {
	if w.by != by {
		w.by, w.z = by, w.e.freeze(by.best.covariance)
	}
	return w.z
}

// doubtful is how probable it must be that a reading is misread for the readings to be no
// longer taken together in a bound.
const doubtful = 0.3

// cell is a box of free values.
type cell struct {
	low, high [3]float64 // natural logarithms of ohms
	log       float64    // likelihood at its middle
	bound     float64    // of it anywhere inside
	least     float64    // at the corners
	size      float64    // log of its volume
	depth     int
}

// cells are a heap, the cell on top that may hold the most.
type cells []cell

func (c cells) most(i int) float64 { return c[i].bound + c[i].size }

func (c *cells) push(x cell) {
	*c = append(*c, x)
	h := *c
	for i := len(h) - 1; i > 0; {
		up := (i - 1) / 2
		if h.most(up) >= h.most(i) {
			break
		}
		h[up], h[i] = h[i], h[up]
		i = up
	}
}

func (c *cells) pop() cell {
	h := *c
	top, last := h[0], len(h)-1
	h[0] = h[last]
	h = h[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			break
		}
		if down+1 < last && h.most(down+1) > h.most(down) {
			down++
		}
		if h.most(i) >= h.most(down) {
			break
		}
		h[i], h[down] = h[down], h[i]
		i = down
	}
	*c = h
	return top
}

// integrate averages a set's likelihood over its free values, all decades alike.
//
// below is the log of what a set's prior times its evidence must come near to be of
// any account: what certainly stays far beneath is only bounded.
func (w *worker) integrate(x *found, below float64) weighed {
	s := w.s
	out := weighed{found: *x, ohms: make([]float64, len(x.members))}
	if !w.load(x.members...) {
		out.err = fmt.Errorf("faults: %v cannot be together", x.members)
		return out
	}
	var free []int
	all := cell{}
	volume := 1.0
	for k, i := range x.members {
		if f := s.faults[i].Free; f != nil {
			all.low[len(free)], all.high[len(free)] = math.Log(f.Min), math.Log(f.Max)
			volume *= all.high[len(free)] - all.low[len(free)]
			free = append(free, k)
		}
	}
	e := s.e
	mean := make([]float64, len(e.readings))
	middle := func(c *cell) []float64 {
		ohms := make([]float64, len(x.members))
		for d, k := range free {
			ohms[k] = math.Exp((c.low[d] + c.high[d]) / 2)
		}
		return ohms
	}
	at := w.explore(all, free, middle)
	var cells []cell
	for pass := 0; ; pass++ {
		out.ohms = at
		if out.best, out.err = w.judge(at); out.err != nil {
			return out
		}
		z := w.e.freeze(out.best.covariance)
		if z == nil {
			out.evidence = math.Inf(-1)
			return out
		}
		if len(free) == 0 {
			out.evidence = out.best.log
			cells = []cell{{log: out.best.log}}
			break
		}
		if pass == 0 && len(e.finite) > 0 {
			// What was found by a loose measure is made sharp before anything is doubted.
			if sharp := w.polish(all, free, at, z); !slices.Equal(sharp, at) {
				at, out.ohms = sharp, sharp
				if out.best, out.err = w.judge(at); out.err != nil {
					return out
				}
				if z = w.e.freeze(out.best.covariance); z == nil {
					out.evidence = math.Inf(-1)
					return out
				}
			}
		}
		trusting := true
		for _, p := range out.best.misread {
			trusting = trusting && p < doubtful
		}
		cells = w.refine(all, free, middle, func(c *cell) {
			w.read(middle(c), mean)
			c.log = z.log(mean, nil)
		}, z, trusting, below-x.prior+math.Log(volume))
		best := &cells[0]
		for i := range cells {
			if cells[i].log > best.log {
				best = &cells[i]
			}
		}
		// The covariance belongs to a place; if the best place is another, the
		// integral is done anew with that one's.
		if pass == 2 || best.log < out.best.log+0.5 {
			break
		}
		at = middle(best)
	}
	sum := math.Inf(-1)
	for i := range cells {
		v := 1.0
		for d := range free {
			v *= cells[i].high[d] - cells[i].low[d]
		}
		sum = logAdd(sum, cells[i].log+math.Log(v))
	}
	for i := range cells {
		c := &cells[i]
		v := 1.0
		for d := range free {
			v *= c.high[d] - c.low[d]
		}
		weight := math.Exp(c.log + math.Log(v) - sum)
		if weight < 1e-6 {
			continue
		}
		p := sample{fraction: 0.5, log: c.log, weight: weight}
		for d, k := range free {
			if m := (c.low[d] + c.high[d]) / 2; k == 0 {
				p.logOhms = m
			} else {
				p.others[k-1] = m
			}
		}
		out.samples = append(out.samples, p)
	}
	if len(free) > 0 {
		out.evidence = sum - math.Log(volume)
	}
	return out
}

// split halves a cell across its widest side.
func (c *cell) split(dims int) (a, b cell) {
	widest := 0
	for d := range dims {
		if c.high[d]-c.low[d] > c.high[widest]-c.low[widest] {
			widest = d
		}
	}
	a, b = *c, *c
	m := (c.low[widest] + c.high[widest]) / 2
	a.high[widest], b.low[widest] = m, m
	a.depth, b.depth = c.depth+1, c.depth+1
	return a, b
}

// box finds the bounds of all readings over a cell; each, where not nil, is called
// with the readings at each of its corners.
func (w *worker) box(c *cell, free []int, each func()) {
	ends := make([][]float64, len(w.members))
	for k := range ends {
		ends[k] = w.s.ohms[w.members[k]][:1]
	}
	for d, k := range free {
		ends[k] = []float64{math.Exp(c.low[d]), math.Exp(c.high[d])}
	}
	w.clear()
	w.corners(0, ends, 0, func(int) {
		if each != nil {
			each()
		}
	})
}

// explore finds a place of the free values that explains the readings well, by
// halving the cell with the best bound again and again.
func (w *worker) explore(all cell, free []int, middle func(*cell) []float64) []float64 {
	best := middle(&all)
	if len(free) == 0 {
		return best
	}
	s := w.s
	at := func(c *cell) float64 {
		w.read(middle(c), w.out)
		sum, worst := 0.0, 0.0
		for i, y := range w.out {
			w.low[i], w.high[i] = y, y
			x := w.off(i)/2 + 0.5*math.Log(s.loose.variance(s.e, i, y, w.rail))
			sum -= x
			worst = max(worst, x)
		}
		return sum + max(0, worst-6)
	}
	value := math.Inf(-1)
	open := []cell{all}
	for range 60 * len(free) {
		if len(open) == 0 {
			break
		}
		k := 0
		for i := range open {
			if open[i].bound > open[k].bound {
				k = i
			}
		}
		c := open[k]
		open[k] = open[len(open)-1]
		open = open[:len(open)-1]
		a, b := c.split(len(free))
		for _, half := range []cell{a, b} {
			if v := at(&half); v > value {
				value, best = v, middle(&half)
			}
			w.box(&half, free, nil)
			half.bound = 0
			for i := range s.e.readings {
				half.bound -= w.off(i) / 2
			}
			// Of cells that are level the widest is looked into first.
			half.bound -= 0.05 * float64(half.depth)
			if half.depth < 10*len(free) {
				open = append(open, half)
			}
		}
	}
	return best
}

// polish goes from a place of the free values to the nearest one that all readings
// together speak for, by steps that shrink.
func (w *worker) polish(all cell, free []int, at []float64, z *frozen) []float64 {
	mean := make([]float64, len(w.s.e.readings))
	value := func(ohms []float64) float64 {
		w.read(ohms, mean)
		return z.distance(mean)
	}
	best, least := slices.Clone(at), value(at)
	for step := 0.3; step > 1e-4; {
		moved := false
		for d, k := range free {
			for _, sign := range []float64{-1, 1} {
				try := slices.Clone(best)
				try[k] = math.Exp(min(all.high[d], max(all.low[d], math.Log(best[k])+sign*step)))
				if v := value(try); v < least-1e-9 {
					best, least, moved = try, v, true
				}
			}
		}
		if !moved {
			step /= 2
		}
	}
	return best
}

// refine parts the free values' range into cells. The cell that may hold the most is
// halved first, until what any may still gain is of no account, or until all together
// cannot come near enough to matter.
func (w *worker) refine(all cell, free []int, middle func(*cell) []float64, at func(*cell), z *frozen, trusting bool, enough float64) []cell {
	const (
		change = 0.5  // of the logarithm within a cell, that is let be
		nought = -6.0 // of the whole integral, that is let be
		most   = 500  // cells
		rough  = 48   // halvings after which the integral is known roughly,
		missed = 6.0  // and more than this, as a logarithm, has not been missed
	)
	dims := len(free)
	deepest := 14 * dims
	look := func(c *cell) {
		c.size = 0
		for d := range dims {
			c.size += math.Log(c.high[d] - c.low[d])
		}
		at(c)
		c.least = c.log
		w.box(c, free, func() {
			if trusting {
				log, _ := z.plain(w.out)
				c.least = min(c.least, log)
			} else {
				c.least = min(c.least, z.log(w.out, nil))
			}
		})
		c.bound = w.above(z, trusting)
	}
	look(&all)
	open, done := cells{all}, []cell{}
	// sum is the integral as it stands, in units of e to the power of scale.
	scale := all.log + all.size
	sum := 1.0
	for n := 0; len(open) > 0 && len(open)+len(done) < most; n++ {
		if n == rough && scale+math.Log(sum)+missed < enough {
			break
		}
		if n%32 == 31 {
			upper := math.Log(sum) + scale
			for i := range open {
				upper = max(upper, open.most(i))
			}
			if total := upper + math.Log(float64(len(open)+1)); total < enough {
				break
			}
		}
		c := open.pop()
		coarse := c.depth < 2+2*dims
		switch {
		case !coarse && c.bound+c.size < scale+math.Log(sum)+nought:
			return append(append(done, open...), c) // and all others hold less
		case c.depth >= deepest, !coarse && c.bound-c.log < change && c.log-c.least < 2*change:
			done = append(done, c)
			continue
		}
		sum -= math.Exp(c.log + c.size - scale)
		a, b := c.split(dims)
		look(&a)
		look(&b)
		open.push(a)
		open.push(b)
		if top := max(a.log+a.size, b.log+b.size); top > scale+20 {
			sum *= math.Exp(scale - top)
			scale = top
		}
		sum = max(0, sum) + math.Exp(a.log+a.size-scale) + math.Exp(b.log+b.size-scale)
	}
	return append(done, open...)
}

// above bounds the log likelihood between low and high, for a given covariance. The
// residuals are made independent of each other first: what a box of readings leaves to
// each of those adds up. Unless a misread reading is in play, when only the worst
// single reading counts.
func (w *worker) above(z *frozen, trusting bool) float64 {
	e := w.s.e
	top := z.peak()
	if !trusting {
		b := newBounded(e)
		for a, i := range e.finite {
			d := e.y[i] - max(w.low[i], min(e.y[i], w.high[i]))
			b.add(i, d*d/z.marginal[a])
		}
		return b.log() - e.floor + top
	}
	sum := 0.0
	f := len(e.finite)
	for k := range f {
		low, high := 0.0, 0.0
		for a, u := range z.root[k] {
			i := e.finite[a]
			x, y := u*(e.y[i]-w.high[i]), u*(e.y[i]-w.low[i])
			low, high = low+min(x, y), high+max(x, y)
		}
		switch {
		case low > 0:
			sum += low * low
		case high < 0:
			sum += high * high
		}
	}
	// An OL reading has a chance of 1 at most.
	return top - sum/2
}

// judge works out one place of the free values of what is loaded in full.
func (w *worker) judge(ohms []float64) (judged, error) {
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
	return w.e.judge(responses), nil
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
