package faults

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Several faults at once. Every pair is held against the readings by bounds that
// it cannot exceed: a reading is a ratio of straight lines in each free resistance,
// so over a range of them it lies between its values at the corners. What the bound
// does not rule out is integrated over the free resistances; what changes no reading
// beside a first fault is left as "and perhaps something that was not read". Three
// at once are looked for when nothing less explains the readings, from the pairs
// that explain the most of them.

// Searched says what was weighed beside single faults.
type Searched struct {
	// Pairs of faults that could be there at once, and what became of them:
	// RuledOut by the bound; Unseen, where one of the two changes no reading
	// beside the other; Weighed over their free values; Left, neither ruled out
	// nor weighed, since by a rough measure they explain the readings less well
	// than the last of those that were, and those added next to nothing; NotSeen,
	// which this way of calculating cannot do (with the supply on, a second fault
	// beside one that changes what a module does).
	Pairs, RuledOut, Unseen, Weighed, Left, NotSeen int
	// Triples that were weighed or ruled out, 0 where nothing called for them;
	// TriplesFrom is the number of pairs that they were grown from.
	Triples, TriplesFrom int
}

const (
	// mostWeighed is how many pairs, and how many triples, are integrated.
	mostWeighed = 400
	// beneathPair is how far in natural logarithms below all that is known to
	// explain the readings a pair's bound may lie to be worth a look: 3 in 10^7 at
	// its very best, before it is averaged over its free values, which costs a
	// pair another factor of ten to ten thousand.
	beneathPair = 15
	// sharper is by how much in natural logarithms a pair may meet the readings
	// more sharply than the best explanation so far does, when both meet them
	// exactly: their tolerances do not differ by more than that in likelihood. A
	// bound without it, from the meter's own errors alone, holds always and rules
	// out next to nothing.
	sharper = 4
	// mostSeeds is how many pairs three faults at once are grown from.
	mostSeeds = 200
)

// search weighs sets of faults against resting readings.
type search struct {
	c      *netlist.Circuit
	faults []*Fault
	e      *evidence
	views  []*view
	able   []bool
	loose  loose
	ohms   [][]float64   // fault: ends of the free range, or one 0
	steps  [][]float64   // fault: even steps through the free range, see sketch
	alone  [][][]float64 // fault, end, reading: on the scale
	sound  []float64     // healthy readings
	eps    []float64     // reading: a change of less is none
	prior  float64       // log of the prior of a pair whose rates' product is 1
	floor  float64       // log below which a bound is hopeless
	sharp  float64       // how much is taken off a bound, see sharper
}

// loose bounds how uncertain a prediction can be, without working out its
// sensitivities.
type loose struct {
	rel     float64 // greatest relative tolerance of a terminator or stray
	absOhms float64 // all wires' and contacts' tolerances together
	load    float64 // that of what else hangs on the supply rail
	siemens float64 // all inputs together, at their greatest
	inputs  float64 // greatest relative tolerance of an input
	volts   float64 // of a resting voltage between networks and ground
	supply  float64 // relative tolerance of the supply
}

// restingVolts is a bound on how far tolerances move a resting voltage apart from
// the supply's own, as a standard deviation. Inputs of which each may be open share
// it with a leak: at most a quarter of the bias and some. From memory.
const restingVolts = 0.5

func newLoose(c *netlist.Circuit) loose {
	l := loose{volts: restingVolts}
	limit := func(s netlist.Spread) float64 {
		half := 0.0
		for _, p := range s.Parts {
			half += math.Abs(p.Half)
		}
		return half
	}
	for _, x := range c.Elements {
		half := limit(x.Off.Value)
		switch x.Kind {
		case netlist.WireElement, netlist.ContactElement:
			l.absOhms += half
		case netlist.LoadElement:
			l.load += half
			l.supply = max(l.supply, limit(x.Awake.Volts)/math.Abs(x.Awake.Volts.Mid))
		case netlist.TerminatorElement, netlist.StrayElement:
			l.rel = max(l.rel, half/math.Abs(x.Off.Value.Mid))
		case netlist.InputElement:
			l.siemens += x.Off.Value.Mid + half
			l.inputs = max(l.inputs, half/x.Off.Value.Mid)
		}
	}
	return l
}

// variance bounds the variance of a prediction on the scale. rail says that a fault
// leads to the supply rail, so that what hangs there may be in any reading.
func (l *loose) variance(e *evidence, i int, y float64, rail bool) float64 {
	if e.readings[i].Probe.Quantity == solve.Volts {
		s := l.volts + l.supply*math.Abs(y)*limitToSigma
		return e.own[i] + s*s
	}
	y = min(y, 0.9999)
	ohms := scaleOhms * y / (1 - y)
	rel := l.rel + l.inputs*min(1, ohms*l.siemens)
	abs := l.absOhms
	if p := &e.readings[i].Probe; rail || p.From == netlist.SupplyNode || p.To == netlist.SupplyNode {
		abs += min(l.load, ohms)
	}
	s := (y*(1-y)*rel + (1-y)*(1-y)/scaleOhms*abs) * limitToSigma
	return s*s + e.own[i] + e.gain[i]*e.gain[i] + e.lead[i]*e.lead[i]
}

// newSearch makes ready to weigh several faults; nil where the conditions cannot be
// seen from ports.
func newSearch(f *field, e *evidence, meter solve.Meter) (*search, error) {
	probes := make([]Probe, len(e.readings))
	for i, r := range e.readings {
		probes[i] = r.Probe
	}
	s := &search{c: f.c, faults: f.faults, e: e, loose: newLoose(f.c)}
	s.able = make([]bool, len(f.faults))
	for i := range s.able {
		s.able[i] = true
	}
	for _, g := range groupProbes(probes) {
		v, err := f.view(g, probes, meter, nil)
		if errors.Is(err, errNotFromPorts) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		s.views = append(s.views, v)
		for i, plan := range f.strands[g.condition.Supply] {
			s.able[i] = s.able[i] && plan.able
		}
	}
	for _, x := range f.faults {
		if x.Free != nil {
			s.ohms = append(s.ohms, []float64{x.Free.Min, x.Free.Max})
			steps := make([]float64, sketchParts+1)
			for k := range steps {
				steps[k] = x.Free.Min * math.Pow(x.Free.Max/x.Free.Min, float64(k)/sketchParts)
			}
			s.steps = append(s.steps, steps)
		} else {
			s.ohms = append(s.ohms, []float64{0})
			s.steps = append(s.steps, nil)
		}
	}
	w := s.worker()
	s.sound = make([]float64, len(e.readings))
	w.load()
	w.read(nil, s.sound)
	s.eps = make([]float64, len(e.readings))
	for i := range s.eps {
		s.eps[i] = max(0.1*math.Sqrt(e.own[i]), 1e-6)
	}
	s.alone = make([][][]float64, len(f.faults))
	for i := range f.faults {
		if !s.able[i] {
			continue
		}
		if !w.load(i) {
			s.able[i] = false
			continue
		}
		for _, ohms := range s.ohms[i] {
			out := make([]float64, len(e.readings))
			w.read([]float64{ohms}, out)
			s.alone[i] = append(s.alone[i], out)
		}
	}
	return s, nil
}

// worker is one goroutine's scratch space.
type worker struct {
	s         *search
	knots     []*knot
	scratch   knotScratch
	threads   []*thread
	members   []int
	low, high []float64
	out       []float64
	ohms      []float64
	grid      []float64
	rail      bool      // a fault leads to the supply rail
	e         *evidence // with scratch space of its own
}

func (s *search) worker() *worker {
	n := len(s.e.readings)
	w := &worker{s: s, low: make([]float64, n), high: make([]float64, n), out: make([]float64, n), ohms: make([]float64, 4), e: s.e.apart()}
	for range s.views {
		w.knots = append(w.knots, &knot{})
	}
	return w
}

// load puts faults together in every view; false where they cannot be together.
func (w *worker) load(members ...int) bool {
	w.members = append(w.members[:0], members...)
	w.rail = false
	for _, i := range members {
		w.rail = w.rail || w.s.faults[i].onSupply()
	}
	for k, v := range w.s.views {
		w.threads = w.threads[:0]
		for _, i := range members {
			w.threads = append(w.threads, v.threads[i])
		}
		if !w.knots[k].tie(v, w.threads...) {
			return false
		}
	}
	return true
}

// read gives all readings on the scale, with ohms by member.
func (w *worker) read(ohms []float64, out []float64) {
	for _, k := range w.knots {
		k.read(ohms, out, &w.scratch)
	}
}

// corners widens low and high to the readings at the corners of the free values'
// ranges, from member on. each is called with every corner's readings, and which.
func (w *worker) corners(member int, ends [][]float64, which int, each func(which int)) {
	if member == len(ends) {
		w.read(w.ohms, w.out)
		for i, y := range w.out {
			w.low[i], w.high[i] = min(w.low[i], y), max(w.high[i], y)
		}
		if each != nil {
			each(which)
		}
		return
	}
	for k, ohms := range ends[member] {
		w.ohms[member] = ohms
		w.corners(member+1, ends, which<<1|k, each)
	}
}

func (w *worker) clear() {
	for i := range w.low {
		w.low[i], w.high[i] = math.Inf(1), math.Inf(-1)
	}
}

// off is how far a reading lies outside of what was found for it, as a square of
// loose standard deviations.
func (w *worker) off(i int) float64 {
	s := w.s
	y := s.e.y[i]
	if s.e.readings[i].Value.OL {
		y = max(w.high[i], s.e.overFrom)
	}
	near := max(w.low[i], min(y, w.high[i]))
	if near == y {
		return 0
	}
	return (y - near) * (y - near) / s.loose.variance(s.e, i, near, w.rail)
}

// bound is the greatest log likelihood that anything between low and high can have.
func (w *worker) bound() float64 {
	b := newBounded(w.s.e)
	for i := range w.s.e.readings {
		b.add(i, w.off(i))
	}
	return b.log() - w.s.sharp
}

// explains scores how many readings are explained, for what more faults might yet
// explain the rest: one that is far off costs no more than a fixed sum.
func (w *worker) explains() float64 {
	const most = 18.0
	sum := 0.0
	for i := range w.s.e.readings {
		sum -= min(most, w.off(i)/2)
	}
	return sum
}

// found is a set of faults that the bound leaves open.
type found struct {
	members []int
	prior   float64 // log
	bound   float64 // log likelihood
	score   float64
}

// pairs looks at every pair. fold adds, by fault, the share of its own prior that
// goes to pairs with a second fault which changes nothing beside it.
func (s *search) pairs(to *Searched) (open, seeds []found, fold []float64) {
	n := len(s.faults)
	fold = make([]float64, n)
	type result struct {
		open, seeds                []found
		fold                       []float64 // of partners, by fault
		ruled, unseen, pairs, lost int
	}
	results := make([]result, n)
	s.spread(n, func(w *worker, f int) {
		r := &results[f]
		r.fold = make([]float64, n)
		for g := f + 1; g < n; g++ {
			r.pairs++
			if !s.able[f] || !s.able[g] {
				r.lost++
				continue
			}
			if !w.load(f, g) {
				r.pairs-- // two faults of one contact exclude each other
				continue
			}
			w.clear()
			unseenF, unseenG := true, true
			ng := len(s.ohms[g])
			ends := [][]float64{s.ohms[f], s.ohms[g]}
			w.corners(0, ends, 0, func(which int) {
				a, b := which>>1, which&1
				for i, y := range w.out {
					unseenG = unseenG && math.Abs(y-s.alone[f][a][i]) < s.eps[i]
					unseenF = unseenF && math.Abs(y-s.alone[g][b%ng][i]) < s.eps[i]
				}
			})
			rf, rg := s.faults[f].Rate, s.faults[g].Rate
			if unseenF || unseenG {
				r.unseen++
				switch {
				case unseenF && unseenG:
					// Together they look like either of them alone.
					r.fold[f] += rg / 2
					r.fold[g] += rf / 2
				case unseenG:
					r.fold[f] += rg
				default:
					r.fold[g] += rf
				}
				continue
			}
			x := found{members: []int{f, g}, prior: s.prior + math.Log(rf*rg), bound: w.bound()}
			x.score = x.prior + w.explains()
			if x.prior+x.bound >= s.floor {
				w.sketch(&x)
			}
			if x.prior+x.bound < s.floor {
				r.ruled++
				r.seeds = append(r.seeds, x)
				continue
			}
			r.open = append(r.open, x)
		}
		if len(r.seeds) > mostSeeds {
			sortFound(r.seeds, func(x *found) float64 { return x.score })
			r.seeds = r.seeds[:mostSeeds]
		}
	})
	for i := range results {
		r := &results[i]
		open, seeds = append(open, r.open...), append(seeds, r.seeds...)
		for k, x := range r.fold {
			fold[k] += x
		}
		to.Pairs += r.pairs
		to.RuledOut += r.ruled
		to.Unseen += r.unseen
		to.NotSeen += r.lost
	}
	return open, seeds, fold
}

// sketchParts is how many parts of each free range a first look at a set takes.
const sketchParts = 4

// sketch tightens a set's bound: the free ranges are parted, and the readings over
// each part lie between those at its corners. score becomes the best sum of what
// all readings have against a part.
func (w *worker) sketch(x *found) {
	s := w.s
	var free []int
	for k, i := range w.members {
		if s.faults[i].Free != nil {
			free = append(free, k)
		}
	}
	if len(free) == 0 {
		x.score = x.prior - w.against()/2
		return
	}
	n := len(s.e.readings)
	points := 1
	for range free {
		points *= sketchParts + 1
	}
	w.grid = slices.Grow(w.grid[:0], points*n)[:points*n]
	for k, i := range w.members {
		w.ohms[k] = s.ohms[i][0]
	}
	for at := range points {
		rest := at
		for _, k := range free {
			w.ohms[k] = s.steps[w.members[k]][rest%(sketchParts+1)]
			rest /= sketchParts + 1
		}
		w.read(w.ohms, w.grid[at*n:(at+1)*n])
	}
	x.bound, x.score = math.Inf(-1), math.Inf(-1)
	boxes := 1
	for range free {
		boxes *= sketchParts
	}
	for box := range boxes {
		w.clear()
		for corner := range 1 << len(free) {
			rest, at, step := box, 0, 1
			for d := range free {
				at += (rest%sketchParts + corner>>d&1) * step
				rest /= sketchParts
				step *= sketchParts + 1
			}
			for i, y := range w.grid[at*n : (at+1)*n] {
				w.low[i], w.high[i] = min(w.low[i], y), max(w.high[i], y)
			}
		}
		x.bound = max(x.bound, w.bound())
		x.score = max(x.score, x.prior-w.against()/2)
	}
}

// against is what all readings have against a box, the worst but one counting
// for no more than a reading that may be misread.
func (w *worker) against() float64 {
	sum, worst := 0.0, 0.0
	for i := range w.s.e.readings {
		off := w.off(i)
		sum += off
		worst = max(worst, off)
	}
	const misread = 12.0
	return sum - max(0, worst-misread)
}

// sortFound orders sets by falling score, in the catalogue's order where they are
// level.
func sortFound(list []found, score func(*found) float64) {
	slices.SortFunc(list, func(a, b found) int {
		switch x, y := score(&a), score(&b); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return slices.Compare(a.members, b.members)
	})
}

// spread works through 0 to n−1 on all processors.
func (s *search) spread(n int, work func(w *worker, i int)) {
	var wait sync.WaitGroup
	next := make(chan int)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			w := s.worker()
			for i := range next {
				work(w, i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
}

// weighed is a set of faults integrated over its free values.
type weighed struct {
	found
	evidence float64
	best     judged
	ohms     []float64 // by member
	values   []solve.Value
	samples  []sample
	err      error
}

// weigh integrates the most promising sets, best first, until what comes is of no
// account beside what is known.
func (s *search) weigh(open []found, most int, known float64) (out []weighed, left []found) {
	if len(open) > most {
		// Only those in front are put in order.
		scores := make([]float64, len(open))
		for i := range open {
			scores[i] = open[i].score
		}
		slices.Sort(scores)
		least, n := scores[len(scores)-most], 0
		for i := range open {
			if open[i].score >= least {
				open[i], open[n] = open[n], open[i]
				n++
			}
		}
		open, left = open[:n], open[n:]
	}
	sortFound(open, func(x *found) float64 { return x.score })
	const (
		chunk  = 24
		little = -7.0 // 1 in 1000 of what is known
	)
	for len(open) > 0 && len(out) < most {
		n := min(chunk, len(open), most-len(out))
		some := make([]weighed, n)
		s.spread(n, func(w *worker, i int) {
			some[i] = w.integrate(&open[i])
		})
		open = open[n:]
		out = append(out, some...)
		sum := math.Inf(-1)
		for i := range some {
			sum = logAdd(sum, some[i].prior+some[i].evidence)
		}
		if sum < known+little {
			break
		}
	}
	return out, append(left, open...)
}

// cell is a box of free values.
type cell struct {
	low, high [3]float64 // natural logarithms of ohms
	log       float64    // at its middle
	bound     float64
	depth     int
}

// integrate averages a set's likelihood over its free values, all decades alike.
func (w *worker) integrate(x *found) weighed {
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
	mean := make([]float64, len(s.e.readings))
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
		if out.best, out.err = w.judge(x.members, at); out.err != nil {
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
		cells = w.refine(all, free, middle, func(c *cell) {
			w.read(middle(c), mean)
			c.log = z.log(mean, nil)
		}, out.best.covariance)
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

// box finds the bounds of all readings over a cell.
func (w *worker) box(c *cell, free []int) {
	ends := make([][]float64, len(w.members))
	for k := range ends {
		ends[k] = w.s.ohms[w.members[k]][:1]
	}
	for d, k := range free {
		ends[k] = []float64{math.Exp(c.low[d]), math.Exp(c.high[d])}
	}
	w.clear()
	w.corners(0, ends, 0, nil)
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
			w.box(&half, free)
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

// refine parts the free values' range into cells, the finer the more the
// likelihood may change and matters.
func (w *worker) refine(all cell, free []int, middle func(*cell) []float64, at func(*cell), covariance *mat.SymDense) []cell {
	const (
		change  = 0.7
		matters = 12.0
		most    = 160
	)
	top := peak(w.s.e, covariance)
	deepest := 10 * len(free)
	if len(free) > 1 {
		deepest = 8 * len(free)
	}
	bound := func(c *cell) {
		w.box(c, free)
		b := newBounded(w.s.e)
		for i := range w.s.e.readings {
			y := w.s.e.y[i]
			if w.s.e.readings[i].Value.OL {
				y = max(w.high[i], w.s.e.overFrom)
			}
			d := y - max(w.low[i], min(y, w.high[i]))
			b.add(i, d*d/covariance.At(i, i))
		}
		c.bound = b.log() - w.s.e.floor
	}
	open := []cell{all}
	at(&open[0])
	bound(&open[0])
	best := open[0].log
	var done []cell
	for len(open) > 0 {
		// Widest first, so that the cap cuts detail and not whole regions.
		c := open[0]
		open = open[1:]
		if c.depth >= deepest || len(done)+len(open) >= most {
			done = append(done, c)
			continue
		}
		a, b := c.split(len(free))
		for _, half := range []cell{a, b} {
			at(&half)
			bound(&half)
			best = max(best, half.log)
			// The bound is of the worst single reading only; at the cell's own
			// middle it says how much is to be gained inside.
			inside := half.bound + top - half.log
			coarse := half.depth < 2+2*len(free)
			if coarse || inside > change && half.log+inside > best-matters {
				open = append(open, half)
			} else {
				done = append(done, half)
			}
		}
	}
	return done
}

// peak is the log likelihood of readings that are met exactly.
func peak(e *evidence, covariance *mat.SymDense) float64 {
	z := e.freeze(covariance)
	if z == nil {
		return 0
	}
	return -0.5*z.logDet - float64(len(e.finite))/2*math.Log(2*math.Pi)
}

// judge works out one place of the free values in full.
func (w *worker) judge(members []int, ohms []float64) (judged, error) {
	responses := make([]predicted, len(w.e.readings))
	for _, v := range w.s.views {
		var strands []solve.Strand
		strands = append(strands, v.base...)
		for k, i := range members {
			t := v.threads[i]
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
		for q, i := range v.probes {
			probe := &w.e.readings[i].Probe
			k, kVolts, across, volts := v.ports.Solve(&v.leads[q], strands)
			r := &portReading{v: v, probe: probe, strands: strands, k: k, kVolts: kVolts, value: v.meter.Shown(probe.Quantity, across, volts)}
			r.potentials, r.drive = v.ports.Potentials(&v.leads[q], strands, k, kVolts)
			responses[i] = r
		}
	}
	return w.e.judge(responses), nil
}

// portReading is a reading as seen from ports.
type portReading struct {
	v                 *view
	probe             *Probe
	strands           []solve.Strand
	k, kVolts         []float64
	value             solve.Value
	potentials, drive []float64
}

func (r *portReading) Value() solve.Value { return r.value }

func (r *portReading) Sensitivities(out []float64) {
	r.v.ports.Sensitivities(r.probe.Quantity, r.v.meter, r.probe.From, r.probe.To, r.strands, r.k, r.kVolts, r.potentials, r.drive, out)
}

// several adds what two and three faults at once have to say.
func (r *ranking) several() error {
	s := r.search
	if s == nil || r.o.Two <= 0 {
		return nil
	}
	squares := 0.0
	for _, f := range r.x.faults {
		squares += f.Rate * f.Rate
	}
	ofPairs := (r.rates*r.rates - squares) / 2
	if ofPairs <= 0 {
		return nil
	}
	s.prior = math.Log(r.o.Two / ofPairs)
	known := math.Inf(-1)
	for _, l := range r.logs {
		known = logAdd(known, l)
	}
	// The bound is of the readings at rest alone; what else there is may at most
	// be as good for a pair as it is for anything.
	elsewhere := r.e.floor - s.e.floor
	s.floor = known - elsewhere - beneathPair
	best := 0
	for i := range r.logs {
		if h := &r.m.Hypotheses[i]; r.logs[i] > r.logs[best] && h.judged.covariance != nil {
			best = i
		}
	}
	if len(r.rest) == len(r.m.Readings) {
		s.sharp = max(0, s.e.floor-peak(s.e, r.m.Hypotheses[best].judged.covariance)-sharper)
	}
	to := &r.m.Searched
	open, seeds, fold := s.pairs(to)
	for k, f := range r.x.faults {
		// Alone, or with a second fault that changes no reading.
		alone, beside := r.o.one()/r.rates*f.Rate, r.o.Two/ofPairs*f.Rate*fold[k]
		r.logs[r.of[k]] += math.Log1p(beside / alone)
	}
	if err := r.include(open, mostWeighed, &to.Weighed, &to.Left); err != nil {
		return err
	}
	if r.o.Three <= 0 || !r.unexplained() {
		return nil
	}
	seeds = append(seeds, open...)
	for i := range seeds {
		if seeds[i].score == 0 {
			seeds[i].score = seeds[i].prior + seeds[i].bound - s.e.floor + s.sharp
		}
	}
	sortFound(seeds, func(x *found) float64 { return x.score })
	if len(seeds) > mostSeeds {
		seeds = seeds[:mostSeeds]
	}
	to.TriplesFrom = len(seeds)
	s.prior = math.Log(r.o.Three / (r.rates * r.rates * r.rates / 6))
	three := s.triples(seeds, &to.Triples)
	// A closer look at those that a rough one leaves in front.
	sortFound(three, func(x *found) float64 { return x.score })
	three = three[:min(len(three), 10*mostWeighed)]
	s.spread(len(three), func(w *worker, i int) {
		if w.load(three[i].members...) {
			w.sketch(&three[i])
		}
	})
	var weighed, left int
	return r.include(three, mostWeighed, &weighed, &left)
}

// unexplained tells whether nothing up to here explains the readings.
func (r *ranking) unexplained() bool {
	best := 0
	for i := range r.logs {
		if r.logs[i] > r.logs[best] {
			best = i
		}
	}
	h := &r.m.Hypotheses[best]
	return h.Name == NoneName || h.Poor()
}

// triples grows sets of three from pairs.
func (s *search) triples(seeds []found, count *int) []found {
	results := make([][]found, len(seeds))
	counts := make([]int, len(seeds))
	s.spread(len(seeds), func(w *worker, i int) {
		a, b := seeds[i].members[0], seeds[i].members[1]
		for c := range s.faults {
			if c == a || c == b || !s.able[c] || !w.load(a, b, c) {
				continue
			}
			counts[i]++
			w.clear()
			w.corners(0, [][]float64{s.ohms[a], s.ohms[b], s.ohms[c]}, 0, nil)
			x := found{
				members: []int{a, b, c}, bound: w.bound(),
				prior: s.prior + math.Log(s.faults[a].Rate*s.faults[b].Rate*s.faults[c].Rate),
			}
			slices.Sort(x.members)
			x.score = x.prior - w.against()/2
			if x.prior+x.bound >= s.floor {
				results[i] = append(results[i], x)
			}
		}
	})
	var out []found
	for i := range results {
		*count += counts[i]
		out = append(out, results[i]...)
	}
	// The same three may have grown from several pairs.
	slices.SortFunc(out, func(a, b found) int { return slices.Compare(a.members, b.members) })
	return slices.CompactFunc(out, func(a, b found) bool { return slices.Equal(a.members, b.members) })
}

// mostInFull is how many sets are weighed where a bus at work or answers have to be
// worked out for each.
const mostInFull = 60

// include weighs sets and adds them to the ranking.
func (r *ranking) include(open []found, most int, weighedCount, leftCount *int) error {
	s := r.search
	full := len(r.rest) < len(r.m.Readings) || r.asked != nil
	if full {
		// Who is silent with one of the faults alone is silent with both, near enough
		// to put them in order.
		for i := range open {
			said := r.silence(open[i].members)
			open[i].bound += said
			open[i].score += said
		}
		most = min(most, mostInFull)
	}
	known := math.Inf(-1)
	for _, l := range r.logs {
		known = logAdd(known, l)
	}
	done, left := s.weigh(open, most, known)
	*weighedCount, *leftCount = len(done), len(left)
	for i := range done {
		x := &done[i]
		if x.err != nil {
			return x.err
		}
		if x.prior+x.evidence < known-beneathPair {
			continue
		}
		h, err := r.severalHypothesis(x, full)
		if err != nil {
			return err
		}
		r.add(*h, x.prior+x.evidence)
	}
	return nil
}

// silence is the log probability of the answers if who is silent with one fault is
// silent with all.
func (r *ranking) silence(members []int) float64 {
	if r.asked == nil {
		return 0
	}
	q := r.asked
	sum := 0.0
	for _, x := range q.answers {
		got := solve.Yes
		for _, i := range members {
			if r.who[i] == nil {
				continue // ruled out alone, so not worked out
			}
			switch of := r.who[i].of(q.answerer, x); {
			case of == solve.No:
				got = solve.No
			case of != solve.Yes && got != solve.No:
				got = of
			}
		}
		p := chance(got)
		if !x.Answered {
			p = 1 - p
		}
		sum += math.Log(p)
	}
	return sum
}

// severalHypothesis makes an explanation of a set. Where a bus at work or answers
// were read, they are worked out for it at the best free values.
func (r *ranking) severalHypothesis(x *weighed, full bool) (*Hypothesis, error) {
	var members []*Fault
	for _, i := range x.members {
		members = append(members, r.x.faults[i])
	}
	combined := combineAt(members, x.ohms)
	h := &Hypothesis{Name: combined.Name, Fault: combined, samples: x.samples}
	free := 0
	for k, f := range members {
		member := Member{Fault: f}
		if f.Free != nil {
			free++
			member.Ohms = estimate(x.samples, x.ohms[k], func(s sample) float64 {
				if k == 0 {
					return math.Exp(s.logOhms)
				}
				return math.Exp(s.others[k-1])
			})
			if k == 0 {
				h.Ohms = member.Ohms
			}
		}
		h.Members = append(h.Members, member)
	}
	predictions := make([]solve.Value, len(r.m.Readings))
	if !full {
		h.judged = x.best
		for i := range predictions {
			predictions[i] = offScale(r.m.Readings[i].Probe.Quantity, x.best.mean[i], r.x.in.Meter.RangeOhms)
		}
		h.explain(r.e, predictions, free)
		return h, nil
	}
	ready, err := r.p.prepare(combined, 0.5)
	if err != nil {
		return nil, err
	}
	responses, err := ready.at(x.ohms[0])
	if err != nil {
		return nil, err
	}
	h.judged = r.e.judge(responses)
	x.evidence += h.judged.log - x.best.log
	h.explain(r.e, values(responses), free)
	if r.asked != nil {
		answers, err := r.asked.answerer.prepare(combined, 0.5)
		if err != nil {
			return nil, err
		}
		got, err := answers.near(max(x.ohms[0], 1e-3))
		if err != nil {
			return nil, err
		}
		chance := r.asked.answerer.logChance(r.asked.answers, got)
		h.judged.log += chance
		x.evidence += chance
		h.answersBy(r.asked, got)
	}
	return h, nil
}
