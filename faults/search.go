package faults

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"sync"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// search weighs sets of faults against resting readings.
type search struct {
	c      *netlist.Circuit
	faults []*Fault
	e      *evidence
	probes []Probe
	meter  solve.Meter
	views  []*view
	able   []bool
	rail   []bool    // fault: it leads to the supply rail
	rates  []float64 // fault: log of its rate
	loose  loose
	ohms   [][]float64   // fault: ends of the free range, or one 0
	steps  [][]float64   // fault: even steps through the free range, see sketch
	alone  [][][]float64 // fault, end, reading: on the scale
	same   [][][]band    // fault, end, reading: what counts as that
	sound  []float64     // healthy readings
	// asSound is how well sound wiring explains the readings.
	asSound judged
	eps     []float64   // reading: a change of less is none
	tiny    float64     // the least of those
	quiet   []bool      // fault: alone it changes no reading
	still   []bool      // fault: so little that nothing at all can be told from it
	volts   []bool      // reading: shown in volts, not ohms
	order   []int       // readings, what sound wiring explains worst first
	raw     []float64   // reading: ohms; where OL begins, for those that showed it
	doubt   float64     // the most that a misread reading leaves, as a logarithm
	prior   float64     // log of the prior of a pair whose rates' product is 1
	floor   float64     // log below which a bound is hopeless
	sharp   float64     // how much is taken off a bound, see sharper
	work    *setsAtWork // what was read of a bus at work; nil for nothing
	spare   []*worker   // at rest, see spread
}

// newSearch makes ready to weigh several faults; nil where the conditions cannot be
// seen from ports.
func newSearch(f *field, e *evidence, meter solve.Meter) (*search, error) {
	probes := make([]Probe, len(e.readings))
	for i, r := range e.readings {
		probes[i] = r.Probe
	}
	s := &search{c: f.c, faults: f.faults, e: e, probes: probes, meter: meter, loose: newLoose(f.c)}
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
		s.rail = append(s.rail, x.onSupply())
		s.rates = append(s.rates, math.Log(x.Rate))
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
	var err error
	if s.asSound, err = w.judge(nil); err != nil {
		return nil, err
	}
	s.doubt = math.Inf(-1)
	off := make([]float64, len(e.readings))
	for i, y := range s.sound {
		w.low[i], w.high[i] = y, y
		off[i] = w.off(i)
		s.order = append(s.order, i)
		s.doubt = max(s.doubt, e.doubt(i))
	}
	slices.SortStableFunc(s.order, func(a, b int) int { return cmp.Compare(off[b], off[a]) })
	s.inTurn()
	s.eps, s.tiny = make([]float64, len(e.readings)), math.Inf(1)
	for i := range s.eps {
		s.eps[i] = max(0.1*math.Sqrt(e.own[i]), 1e-6)
		s.tiny = min(s.tiny, s.eps[i])
		s.volts = append(s.volts, probes[i].Quantity == solve.Volts)
	}
	s.alone, s.same = make([][][]float64, len(f.faults)), make([][][]band, len(f.faults))
	s.quiet, s.still = make([]bool, len(f.faults)), make([]bool, len(f.faults))
	for i := range f.faults {
		if !s.able[i] {
			continue
		}
		if !w.load(i) {
			s.able[i] = false
			continue
		}
		s.quiet[i], s.still[i] = true, true
		for _, ohms := range s.ohms[i] {
			out := make([]float64, len(e.readings))
			w.read([]float64{ohms}, out)
			s.alone[i] = append(s.alone[i], out)
			bands := make([]band, len(out))
			for q, y := range out {
				bands[q] = s.around(q, y)
				moved := math.Abs(y - s.sound[q])
				s.quiet[i] = s.quiet[i] && moved < s.eps[q]
				s.still[i] = s.still[i] && moved < stillness*s.eps[q]
			}
			s.same[i] = append(s.same[i], bands)
		}
	}
	return s, nil
}

// inTurn puts the readings of each view in order, and has the ohms that faults stand for
// at the ends of their ranges, so that pairs need not ask for either.
func (s *search) inTurn() {
	for i, y := range s.e.y {
		if s.e.readings[i].Value.OL {
			y = s.e.overFrom
		}
		ohms := math.Inf(1)
		if y < 1 {
			ohms = ohmsOffScale(y)
		}
		s.raw = append(s.raw, ohms)
	}
	for _, v := range s.views {
		v.nought = make([]float64, len(v.probes))
		of := make([]int, len(s.order))
		for i := range of {
			of[i] = -1
		}
		for q, i := range v.probes {
			of[i] = q
		}
		for _, i := range s.order {
			if of[i] >= 0 {
				v.turn = append(v.turn, of[i])
			}
		}
		for i, t := range v.threads {
			if t == nil || t.free < 0 {
				continue
			}
			port := &t.ports[t.free].port
			t.ends[0], t.ends[1] = v.ports.Free(port, s.ohms[i][0]), v.ports.Free(port, s.ohms[i][len(s.ohms[i])-1])
		}
	}
}

// stillness is the share of what counts as no change that a fault may change a reading by
// for all to be as it is without: some 100 standard deviations off, a reading then tells a
// tenth in natural logarithms.
const stillness = 0.01

// band is a range of ohms, or of shown volts.
type band struct{ low, high float64 }

func (b *band) holds(x float64) bool { return x >= b.low && x <= b.high }

// around is what comes to the same place on the scale, or nearly, as y.
func (s *search) around(i int, y float64) band {
	low, high := y-s.eps[i], y+s.eps[i]
	if s.volts[i] {
		return band{low, high}
	}
	out, over := band{0, math.Inf(1)}, math.Inf(1)
	if m := s.meter.RangeOhms; m > 0 {
		over = m
	}
	if low >= 1 {
		out.low = over
	} else if low > 0 {
		out.low = min(over, ohmsOffScale(low))
	}
	if high < 1 {
		out.high = min(over, ohmsOffScale(high))
	}
	return out
}

// onScale puts ohms, and volts as shown, on the scale, one or more of each reading.
func (s *search) onScale(list []float64) {
	for n := len(s.volts); len(list) > 0; list = list[n:] {
		for i, volts := range s.volts {
			if !volts {
				list[i] = s.ohmsOnScale(list[i])
			}
		}
	}
}

func (s *search) ohmsOnScale(x float64) float64 {
	if m := s.meter.RangeOhms; m > 0 && x > m {
		return 1
	}
	if x <= 0 {
		return 0
	}
	return ohmsOnScale(x)
}

// worker is one goroutine's scratch space.
type worker struct {
	s         *search
	knots     []*knot
	scratch   knotScratch
	threads   [][]*thread // by view and member
	members   []int
	low, high []float64
	out       []float64
	ohms      []float64
	grid      []float64
	rail      bool      // a fault leads to the supply rail
	e         *evidence // with scratch space of its own
	beside    *beside
	by        *judged // that stick is of
	stick     *yardstick
	mid, half []float64
	trial     []float64
	ends      []float64
	parting   parting
	tracing   tracing
	// Of a bus at work, made when first needed.
	set    *workSet
	joint  *evidence
	sticks *jointStick
}

func (s *search) worker() *worker {
	n := len(s.e.readings)
	w := &worker{s: s, low: make([]float64, n), high: make([]float64, n), out: make([]float64, n), ohms: make([]float64, 4), e: s.e.apart(), beside: newBeside(s)}
	for range s.views {
		w.knots = append(w.knots, &knot{})
	}
	w.threads = make([][]*thread, len(s.views))
	return w
}

// load puts faults together in every view, half-way along their wires; false where
// they cannot be together.
func (w *worker) load(members ...int) bool {
	w.take(members)
	for k, v := range w.s.views {
		for _, i := range members {
			w.threads[k] = append(w.threads[k], v.threads[i])
		}
	}
	return w.tie()
}

// loadAt loads one fault at one of its places.
func (w *worker) loadAt(fault, place int) (bool, error) {
	w.take([]int{fault})
	for k, v := range w.s.views {
		t, err := v.at(fault, place)
		if err != nil {
			return false, err
		}
		w.threads[k] = append(w.threads[k], t)
	}
	return w.tie(), nil
}

func (w *worker) take(members []int) {
	w.members = append(w.members[:0], members...)
	w.rail = false
	for _, i := range members {
		w.rail = w.rail || w.s.rail[i]
	}
	for k := range w.threads {
		w.threads[k] = w.threads[k][:0]
	}
}

func (w *worker) tie() bool {
	for k, v := range w.s.views {
		if !w.knots[k].tie(v, w.threads[k]...) {
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
	y, near := s.e.y[i], w.low[i]
	switch {
	case s.e.readings[i].Value.OL:
		if y, near = s.e.overFrom, w.high[i]; near >= y {
			return 0 // OL is anything above, too
		}
	case y > w.high[i]:
		near = w.high[i]
	case y >= near:
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

// boundRaw is the bound of what lies between low and high, not yet on the scale; less
// than enough, where it is that anyway.
func (w *worker) boundRaw(enough float64) float64 {
	s := w.s
	b := newBounded(s.e)
	// Two readings that lie far off are more than one that may be misread.
	far := 2 * (s.e.floor - s.sharp - enough)
	farther := far + 2*s.doubt
	for _, i := range s.order {
		y := s.e.y[i]
		low, high := w.low[i], w.high[i]
		if !s.volts[i] {
			low, high = s.ohmsOnScale(low), s.ohmsOnScale(high)
		}
		if s.e.readings[i].Value.OL {
			y = max(high, s.e.overFrom)
		}
		near := y
		switch {
		case y < low:
			near = low
		case y > high:
			near = high
		default:
			continue
		}
		if b.add(i, (y-near)*(y-near)/s.loose.variance(s.e, i, near, w.rail)); b.worst > far && b.second > farther {
			return math.Inf(-1)
		}
	}
	return b.log() - s.sharp
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
	said    float64   // of bound and score: what answers say
	worth   float64   // of score: what readings of a bus at work say, roughly
	at      []float64 // by member: ohms near which it may explain the most; nil if unknown
}

// ends are the places of a fault's steps where its free range ends.
func (s *search) ends(fault int) []int {
	if s.steps[fault] == nil {
		return []int{0}
	}
	return []int{0, sketchParts}
}

// sketchParts is how many parts of each free range a first look at a set takes.
const sketchParts = 4

// sketch tightens a set's bound: the free ranges are parted, and the readings over
// each part lie between those at its corners. score becomes the best sum of what
// all readings have against a part.
func (w *worker) sketch(x *found) {
	x.bound, x.score = math.Inf(-1), math.Inf(-1)
	w.overGrid(w.readSteps, func() { w.sharpen(x) })
}

// readSteps reads what is loaded at one step of each member's range.
func (w *worker) readSteps(at []int, out []float64) {
	for k, i := range w.members {
		if w.ohms[k] = w.s.ohms[i][0]; w.s.steps[i] != nil {
			w.ohms[k] = w.s.steps[i][at[k]]
		}
	}
	w.read(w.ohms, out)
}

// sharpen takes one more box into a set's bound and score.
func (w *worker) sharpen(x *found) {
	bound, against := w.weighBox()
	x.bound, x.score = max(x.bound, bound), max(x.score, x.prior-against/2)
}

// sketchPair does it for the pair that stands beside each other.
func (w *worker) sketchPair(x *found) {
	s := w.s
	n := len(w.out)
	first, second := max(1, len(s.steps[w.members[0]])), s.steps[w.members[1]]
	if second == nil {
		second = s.ohms[w.members[1]]
	}
	w.grid = sized(w.grid, first*len(second)*n)
	point := func(a, b int) []float64 {
		p := (a*len(second) + b) * n
		return w.grid[p : p+n]
	}
	for a := range first {
		for b, ohms := range second {
			w.beside.raw(a, ohms, point(a, b))
		}
	}
	s.onScale(w.grid)
	x.bound, x.score = math.Inf(-1), math.Inf(-1)
	low, high := w.low[:n], w.high[:n]
	for a := range max(1, first-1) {
		for b := range max(1, len(second)-1) {
			copy(low, point(a, b))
			copy(high, low)
			for k := 1; k < 4; k++ {
				a, b := a+k&1, b+k>>1
				if a == first || b == len(second) {
					continue
				}
				for i, y := range point(a, b) {
					if y < low[i] {
						low[i] = y
					}
					if y > high[i] {
						high[i] = y
					}
				}
			}
			w.sharpen(x)
		}
	}
}

// overGrid looks at all readings over a grid of the free values; read is told the step
// of each member, the last one's going fastest. each is called with the bounds of every
// box between them.
func (w *worker) overGrid(read func(at []int, out []float64), each func()) {
	s := w.s
	n, members := len(s.e.readings), len(w.members)
	points, stride, at := 1, make([]int, 0, 4), make([]int, members, 4)
	for k := members - 1; k >= 0; k-- {
		if s.steps[w.members[k]] != nil {
			stride = append(stride, points)
			points *= sketchParts + 1
		}
	}
	w.grid = slices.Grow(w.grid[:0], points*n)[:points*n]
	for p := range points {
		rest := p
		for k := members - 1; k >= 0; k-- {
			if at[k] = 0; s.steps[w.members[k]] != nil {
				at[k] = rest % (sketchParts + 1)
				rest /= sketchParts + 1
			}
		}
		read(at, w.grid[p*n:(p+1)*n])
	}
	boxes := 1
	for range stride {
		boxes *= sketchParts
	}
	for box := range boxes {
		w.clear()
		for corner := range 1 << len(stride) {
			rest, p := box, 0
			for d, step := range stride {
				p += (rest%sketchParts + corner>>d&1) * step
				rest /= sketchParts
			}
			for i, y := range w.grid[p*n : (p+1)*n] {
				w.low[i], w.high[i] = min(w.low[i], y), max(w.high[i], y)
			}
		}
		each()
	}
}

// weighBox gives both the bound of what lies between low and high and what all
// readings have against it.
func (w *worker) weighBox() (bound, against float64) {
	b := newBounded(w.s.e)
	sum := 0.0
	for i := range w.s.e.readings {
		if off := w.off(i); off > 0 {
			sum += off
			b.add(i, off)
		}
	}
	return b.log() - w.s.sharp, sum - max(0, b.worst-misreadOff)
}

// misreadOff is what a reading that may be misread counts for in a rough measure, as a
// square of standard deviations.
const misreadOff = 12.0

// against is what all readings have against a box, the worst but one counting
// for no more than a reading that may be misread.
func (w *worker) against() float64 {
	_, sum := w.weighBox()
	return sum
}

// sortFound orders sets by falling score, in the catalogue's order where they are
// level.
func sortFound(list []found) {
	slices.SortFunc(list, func(a, b found) int {
		return cmp.Or(cmp.Compare(b.score, a.score), slices.Compare(a.members, b.members))
	})
}

// spread works through 0 to n−1 on all processors, each with scratch space of its own,
// which is kept for the next time.
func (s *search) spread(n int, work func(w *worker, i int)) {
	var lock sync.Mutex
	var busy []*worker
	parallel(n, func() func(int) {
		lock.Lock()
		defer lock.Unlock()
		var w *worker
		if last := len(s.spare) - 1; last >= 0 {
			w, s.spare = s.spare[last], s.spare[:last]
		} else {
			w = s.worker()
		}
		busy = append(busy, w)
		return func(i int) { work(w, i) }
	})
	s.spare = append(s.spare, busy...)
}
