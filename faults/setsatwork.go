package faults

import (
	"errors"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Sets of faults beside readings of a bus at work. A bus is seen from its drivers and leads;
// what faults do to it is seen from ports, as readings at rest are: their small system bends
// the bus, and nothing is assembled anew. So the free values of a set are averaged over by
// all readings together. What no port shows (a module without supply, a transceiver that is
// stuck) is read from nets.

// setsAtWork is the readings of a bus at work, for any set of faults.
type setsAtWork struct {
	r     *ranking
	p     *predictor // of those readings only
	at    []int      // by reading: which one of the match it is
	views []workView
	// able tells by fault that it is seen from ports in all views, off which units it
	// takes the ground from.
	able []bool
	off  [][]int
	// alone is what each fault does to the readings by itself, by step of its free range.
	alone [][]workLook
	sound workLook
	// sd is how uncertain a reading is beside the dominant share, roughly: that of sound
	// wiring, in volts.
	sd     []float64
	supply float64 // how uncertain the supply is, as a share of it
	peak   float64 // log likelihood of readings that are met exactly, by those
	// best is by fault what it explains by itself of the readings, see explains.
	best  []float64
	stick *jointStick // the tolerances of sound wiring
}

// workView is the readings of one condition: a view whose leads are the ports of the bus.
type workView struct {
	g      *group
	v      *view
	probes []int // by lead of the bus: the reading
	// high is the same with the supply at its upper limit; nil where that is known.
	high *workView
}

// workLook is volts in the middle of the dominant share, and what they gain by its upper
// limit; for a fault, what it adds to those of sound wiring.
type workLook struct{ volts, lift []float64 }

// hearSets makes ready to read a bus at work for sets of faults; nil where nothing was read
// of one.
func (r *ranking) hearSets() (*setsAtWork, error) {
	h := &setsAtWork{r: r}
	var probes []Probe
	for i, x := range r.m.Readings {
		if x.Probe.driven() {
			h.at, probes = append(h.at, i), append(probes, x.Probe)
		}
	}
	if len(probes) == 0 {
		return nil, nil
	}
	var err error
	if h.p, err = newPredictor(r.x.c, probes, r.x.in.Meter); err != nil {
		return nil, err
	}
	n := len(r.x.faults)
	h.able, h.off = make([]bool, n), make([][]int, n)
	for i := range h.able {
		h.able[i] = true
	}
	high, _, err := h.p.supplied()
	if err != nil {
		return nil, err
	}
	for k, g := range h.p.groups {
		view, err := h.view(g, r.x.field)
		switch {
		case errors.Is(err, errNotFromPorts):
			clear(h.able) // a module is unplugged: nets it is
			continue
		case err != nil:
			return nil, err
		}
		if high != nil {
			other, err := h.view(high.groups[k], r.x.supplied())
			if err != nil {
				return nil, err
			}
			view.high = &other
		}
		h.views = append(h.views, view)
	}
	if _, plans, err := r.x.field.of(solve.Idle); err != nil {
		return nil, err
	} else {
		for i := range plans {
			h.able[i] = h.able[i] && plans[i].able
		}
	}
	for i, f := range r.x.faults {
		if h.off[i], err = f.takesGround(r.x); err != nil {
			return nil, err
		}
	}
	return h, h.look()
}

// view sees a group's bus from ports.
func (h *setsAtWork) view(g *group, f *field) (workView, error) {
	out := workView{g: g, probes: g.probes}
	var ends []Probe
	of := &group{condition: g.condition}
	for k, port := range g.bus.Ports() {
		ends = append(ends, Probe{Quantity: solve.Volts, From: port.From, To: port.To, Condition: g.condition})
		of.probes = append(of.probes, k)
	}
	var err error
	out.v, err = f.view(of, ends, h.r.x.in.Meter, nil)
	return out, err
}

// supplied is the field of a harness whose supply is at its upper limit.
func (x *Matcher) supplied() *field {
	if x.high == nil {
		at, c := supplyParameter(x.c), *x.c
		c.Elements = slices.Clone(x.c.Elements)
		for i := range c.Elements {
			if e := &c.Elements[i]; e.Kind == netlist.LoadElement {
				for _, share := range e.Awake.Volts.Parts {
					if share.Parameter == at {
						e.Awake.Volts.Mid += share.Half
					}
				}
			}
		}
		x.high = newField(&c, x.faults, x.in.finest())
	}
	return x.high
}

// takesGround lists the units that a fault takes the ground from, so that they send no
// more.
func (f *Fault) takesGround(x *Matcher) ([]int, error) {
	var parted []int
	for _, ch := range f.base {
		switch ch := ch.(type) {
		case solve.Part:
			parted = append(parted, ch.Element)
		case solve.Unplug:
			more, err := x.c.Unplug(ch.Connector)
			if err != nil {
				return nil, err
			}
			parted = append(parted, more...)
		}
	}
	var out []int
	for u := range x.c.Units {
		if slices.Contains(parted, x.c.Units[u].GroundElement) {
			out = append(out, u)
		}
	}
	return out, nil
}

// look reads every fault by itself, at steps of its free range.
func (h *setsAtWork) look() error {
	healthy, err := h.p.healthy()
	if err != nil {
		return err
	}
	full, err := h.r.p.healthy()
	if err != nil {
		return err
	}
	j := h.r.e.judge(full)
	if h.stick = h.r.e.joint(&j); h.stick == nil {
		return errors.New("faults: readings without any error of their own cannot be compared; give the instrument digits or per cent, as DefaultInstrument has")
	}
	h.sound = newWorkLook(healthy)
	for _, i := range h.at {
		variance := j.covariance.At(i, i)
		if j.shares != nil {
			// Of the share in the middle, without what the share itself does.
			variance = j.shares[shareParts/2].covariance.At(i, i)
		}
		h.sd = append(h.sd, math.Sqrt(variance))
		h.peak -= 0.5 * math.Log(2*math.Pi*variance)
	}
	s := h.r.search
	h.supply = s.loose.supply * limitToSigma
	h.alone, h.best = make([][]workLook, len(s.faults)), make([]float64, len(s.faults))
	failed := make([]error, len(s.faults))
	s.spread(len(s.faults), func(w *worker, i int) {
		steps := s.steps[i]
		if steps == nil {
			steps = s.ohms[i]
		}
		set := h.reader()
		if failed[i] = set.load([]int{i}); failed[i] != nil {
			return
		}
		for _, ohms := range steps {
			got, err := set.read([]float64{ohms})
			if err != nil {
				failed[i] = err
				return
			}
			h.alone[i] = append(h.alone[i], h.less(got))
		}
		h.best[i] = h.explains(h.alone[i], []workLook{{}}, s.rail[i])
	})
	return errors.Join(failed...)
}

func newWorkLook(got []predicted) workLook {
	var out workLook
	for _, x := range got {
		d := x.(*drivenReading)
		lift := 0.0
		if d.probe.Traffic {
			lift = d.dutyLimit()
		}
		out.volts, out.lift = append(out.volts, d.value), append(out.lift, lift)
	}
	return out
}

// farAtWork is what a reading that is far off counts for at most, as a logarithm: two
// faults do not always add up, and one reading may be misread.
const farAtWork = 12.0

// explains is how well two faults explain the readings if what they do adds up, as the log
// of a likelihood at the best of a few places: a rough measure, to put sets in order by.
// rail says that one of them leads to the supply.
func (h *setsAtWork) explains(first, second []workLook, rail bool) float64 {
	least := math.Inf(1)
	e := h.r.e
	for a := range first {
		for b := range second {
			f, g := &first[a], &second[b]
			for k := range shareParts {
				u, sum := shareAt(k), 0.0
				for i, y := range h.sound.volts {
					y += u * h.sound.lift[i]
					y += f.volts[i] + u*f.lift[i]
					if g.volts != nil {
						y += g.volts[i] + u*g.lift[i]
					}
					off := (e.y[h.at[i]] - y) / h.uncertain(i, y, rail)
					if sum += min(farAtWork, off*off/2); sum > least {
						break
					}
				}
				least = min(least, sum)
			}
		}
	}
	return h.peak - least
}

// uncertain is how uncertain a reading of y volts is, roughly.
func (h *setsAtWork) uncertain(i int, y float64, rail bool) float64 {
	if rail {
		return math.Hypot(h.sd[i], h.supply*y)
	}
	return h.sd[i]
}

// pair is that for a pair of faults.
func (h *setsAtWork) pair(f, g int) float64 {
	rail := h.r.search.rail
	return h.explains(h.alone[f], h.alone[g], rail[f] || rail[g])
}

// hint is what the readings at work say of a pair before it was looked at: little, since
// what two shorts do hardly ever adds up.
func (h *setsAtWork) hint(f, g int) float64 {
	const share = 0.25
	return h.peak + share*(h.pair(f, g)-h.peak)
}

// telling is how much better, in natural logarithms, a pair must explain readings of a bus
// at work than what it is counted with else, for it to be weighed by itself.
const telling = 1.0

// opens tells whether the readings at work call for a pair of which one fault changes no
// reading at rest beside the other.
func (h *setsAtWork) opens(f, g int, unseen uint8) bool {
	with := max(h.best[f], h.best[g])
	switch unseen {
	case secondUnseen:
		with = h.best[f]
	case firstUnseen:
		with = h.best[g]
	}
	return h.pair(f, g) > with+telling
}

// most is the log likelihood that readings at work have at most, as far as it matters.
func (h *setsAtWork) most() float64 { return h.peak + sharper }

// workSet reads a bus at work for one set of faults. It is one goroutine's own.
type workSet struct {
	h       *setsAtWork
	knots   []*knot
	scratch knotScratch
	buses   []*solve.Bus // by view: before the faults' ohms are set
	highs   []*solve.Bus // the same with the supply at its upper limit
	above   []*knot      // the faults there
	rail    bool         // a fault leads to the supply rail
	// What is read from nets: the faults in an order of their own, the first prepared with
	// the others' ohms.
	slow   bool
	order  []int // of members
	faults []*Fault
	ready  *prepared
	others []float64
}

func (h *setsAtWork) reader() *workSet {
	w := &workSet{h: h}
	for range h.views {
		w.knots, w.above = append(w.knots, &knot{}), append(w.above, &knot{})
	}
	return w
}

// load takes a set.
func (w *workSet) load(members []int) error {
	h := w.h
	w.slow, w.ready, w.buses, w.highs, w.rail = false, nil, w.buses[:0], w.highs[:0], false
	var off []int
	unplugs := 0
	for _, i := range members {
		w.slow = w.slow || !h.able[i]
		w.rail = w.rail || h.r.search.rail[i]
		off = append(off, h.off[i]...)
		for _, ch := range h.r.x.faults[i].base {
			if _, ok := ch.(solve.Unplug); ok {
				unplugs++
			}
		}
	}
	// Two connectors apart may together take the ground from a module.
	w.slow = w.slow || unplugs > 1
	for k := range h.views {
		if w.slow {
			break
		}
		v := &h.views[k]
		var threads []*thread
		for _, i := range members {
			threads = append(threads, v.v.threads[i])
		}
		w.slow = !w.knots[k].tie(v.v, threads...)
		bus := v.g.bus
		if len(off) > 0 {
			bus = bus.WithoutSupply(off...)
		}
		w.buses = append(w.buses, bus)
		if !w.rail || v.high == nil {
			continue
		}
		for n, i := range members {
			threads[n] = v.high.v.threads[i]
		}
		w.slow = w.slow || !w.above[k].tie(v.high.v, threads...)
		bus = v.high.g.bus
		if len(off) > 0 {
			bus = bus.WithoutSupply(off...)
		}
		w.highs = append(w.highs, bus)
	}
	if !w.slow {
		return nil
	}
	w.order, w.faults = w.order[:0], w.faults[:0]
	for k := range members {
		w.order = append(w.order, k)
	}
	// The one with free ohms first, which are set without a net of their own.
	slices.SortStableFunc(w.order, func(a, b int) int {
		free := func(k int) int {
			if h.r.x.faults[members[k]].Free != nil {
				return 0
			}
			return 1
		}
		return free(a) - free(b)
	})
	for _, k := range w.order {
		w.faults = append(w.faults, h.r.x.faults[members[k]])
	}
	return nil
}

// read takes the readings, ohms by member.
func (w *workSet) read(ohms []float64) ([]predicted, error) {
	h := w.h
	if w.slow {
		at := make([]float64, len(w.order))
		for i, k := range w.order {
			at[i] = ohms[k]
		}
		if w.ready == nil || !slices.Equal(w.others, at[1:]) {
			var err error
			if w.ready, err = h.p.prepare(combineAt(w.faults, at), 0.5); err != nil {
				return nil, err
			}
			w.others = at[1:]
		}
		return w.ready.bare(at[0])
	}
	out := make([]predicted, len(h.p.probes))
	for k := range h.views {
		v := &h.views[k]
		bus := w.buses[k].Bent(w.knots[k].bend(ohms, &w.scratch)...)
		for lead, i := range v.probes {
			if bus.SameAs(v.g.bus, lead, h.p.turn[i]) {
				out[i] = v.g.heard[lead]
				continue
			}
			r, err := h.p.read(bus, lead, i)
			if err != nil {
				return nil, err
			}
			out[i] = r
		}
	}
	return out, nil
}

// supply has readings know what they are with the supply at its upper limit, where a fault
// leads to it.
func (w *workSet) supply(ohms []float64, got []predicted) error {
	h := w.h
	switch {
	case !w.rail:
		return nil
	case w.slow:
		return w.ready.supply(ohms[w.order[0]], got)
	}
	for k, high := range w.highs {
		v := &h.views[k]
		bus := high.Bent(w.above[k].bend(ohms, &w.scratch)...)
		for lead, i := range v.probes {
			d := got[i].(*drivenReading)
			if d.rough != nil {
				continue // as with sound wiring
			}
			var err error
			if d.high, err = h.p.high.read(bus, lead, i); err != nil {
				return err
			}
		}
	}
	return nil
}

// jointStick is tolerances of all readings together, by share of the dominant time where
// something was read with traffic.
type jointStick struct {
	shares []*frozen
	mean   []float64 // scratch space
}

// joint makes tolerances of an explanation ready; nil where they cannot be.
func (e *evidence) joint(j *judged) *jointStick {
	out := &jointStick{mean: make([]float64, len(j.mean))}
	if j.shares == nil {
		if z := e.freeze(j.covariance); z != nil {
			out.shares = append(out.shares, z)
			return out
		}
		return nil
	}
	for k := range j.shares {
		z := e.freeze(j.shares[k].covariance)
		if z == nil {
			return nil
		}
		out.shares = append(out.shares, z)
	}
	return out
}

// apart is the same for another goroutine.
func (k *jointStick) apart() *jointStick {
	out := &jointStick{mean: make([]float64, len(k.mean))}
	for _, z := range k.shares {
		own := *z
		own.residual, own.w, own.over = make([]float64, len(z.residual)), make([]float64, len(z.w)), make([]float64, len(z.over))
		out.shares = append(out.shares, &own)
	}
	return out
}

// log is the log likelihood of the readings with means in the middle of the dominant share.
func (k *jointStick) log(mean, lift []float64) float64 {
	if len(k.shares) == 1 {
		return k.shares[0].log(mean, nil)
	}
	sum := math.Inf(-1)
	for n, z := range k.shares {
		u := shareAt(n)
		for i, x := range lift {
			k.mean[i] = mean[i] + u*x
		}
		sum = logAdd(sum, z.log(k.mean, nil))
	}
	return sum - math.Log(shareParts)
}

// jointPlace is one place of a set's free values with all readings as predicted there.
type jointPlace struct {
	cell       cell
	ohms       []float64
	mean, lift []float64
	log, slack float64
}

// jointAt reads everything at one place of what a worker has loaded.
func (h *setsAtWork) jointAt(w *worker, set *workSet, ohms []float64) (*jointPlace, error) {
	n := len(h.r.m.Readings)
	out := &jointPlace{ohms: slices.Clone(ohms), mean: make([]float64, n), lift: make([]float64, n)}
	w.read(ohms, w.out)
	for k, i := range h.r.rest {
		out.mean[i] = w.out[k]
	}
	got, err := set.read(ohms)
	if err != nil {
		return nil, err
	}
	look := newWorkLook(got)
	for k, i := range h.at {
		out.mean[i], out.lift[i] = look.volts[k], look.lift[k]
	}
	return out, nil
}

// judge works out one place in full.
func (h *setsAtWork) judge(w *worker, set *workSet, ohms []float64) (judged, error) {
	all := make([]predicted, len(h.r.m.Readings))
	for k, x := range w.respond(ohms) {
		all[h.r.rest[k]] = x
	}
	got, err := set.read(ohms)
	if err != nil {
		return judged{}, err
	}
	if err := set.supply(ohms, got); err != nil {
		return judged{}, err
	}
	for k, x := range got {
		all[h.at[k]] = x
	}
	return w.joint.judge(all), nil
}

// Cells of the free values that the readings at rest leave open are no wider than
// widestCell, in natural logarithms of ohms, before readings at work are taken there;
// firstCells of them at most, and mostPlaces when those that matter are halved.
const (
	widestCell = 1.8
	firstCells = 100
	mostPlaces = 400
)

// What a cell may hold beyond what its middle says, as a logarithm: as much as the middle of
// the cell that it is half of was off, and openCell as long as that is not known; next to
// nothing, evenCell, is let be.
const (
	openCell = 6.0
	evenCell = 0.3
)

// integrate averages a set's likelihood over its free values by all readings together. The
// worker has integrated it by those at rest, and has it loaded; below is as there.
func (h *setsAtWork) integrate(w *worker, x *weighed, below float64) {
	if x.err != nil || math.IsInf(x.evidence, -1) {
		return
	}
	if w.set == nil {
		w.set, w.joint, w.sticks = h.reader(), h.r.e.apart(), h.stick.apart()
	}
	if x.prior+x.evidence+x.said+min(x.worth, h.peak)+roughAtWork < below-beneathPair {
		x.evidence = math.Inf(-1) // by all readings it is nothing
		return
	}
	set := w.set
	fail := func(err error) bool {
		x.err = errors.Join(x.err, err)
		return err != nil
	}
	if fail(set.load(x.members)) {
		return
	}
	p := &w.parting
	var places []*jointPlace
	add := func(c cell) bool {
		at, err := h.jointAt(w, set, p.middle(&c))
		if fail(err) {
			return false
		}
		at.cell = c
		places = append(places, at)
		return true
	}
	for _, c := range h.cells(p, x.cells) {
		if !add(c) {
			return
		}
	}
	// The place that is best at rest may lie beside the middles of all cells.
	sharpest, err := h.jointAt(w, set, x.ohms)
	if fail(err) {
		return
	}
	weigh := func(k *jointStick) (best *jointPlace) {
		sharpest.log = k.log(sharpest.mean, sharpest.lift)
		best = sharpest
		for _, at := range places {
			if at.log = k.log(at.mean, at.lift); at.log > best.log {
				best = at
			}
		}
		return best
	}
	sum := func() float64 {
		all := math.Inf(-1)
		for _, at := range places {
			all = logAdd(all, at.log+at.cell.size)
		}
		return all
	}
	// Found by the tolerances of sound wiring, worked out by its own.
	best := weigh(w.sticks)
	stick := w.sticks
	settle := func() bool {
		j, err := h.judge(w, set, best.ohms)
		if fail(err) {
			return false
		}
		own := w.joint.joint(&j)
		if own == nil {
			x.evidence = math.Inf(-1)
			return false
		}
		x.joint, stick, x.ohms = &j, own, best.ohms
		return true
	}
	if !settle() {
		return
	}
	best = weigh(stick)
	for _, at := range places {
		at.slack = openCell
	}
	// What there is in all, in units of e to the power of scale.
	scale := sum()
	share := 1.0
	for len(p.free) > 0 && len(places) < mostPlaces {
		// The cell that may hold the most is halved first.
		all, might, top := scale+math.Log(share), math.Inf(-1), 0
		for i, at := range places {
			if at.slack <= evenCell || at.cell.depth >= 14*len(p.free) {
				continue
			}
			if m := at.log + at.cell.size + at.slack; m > might {
				might, top = m, i
			}
		}
		// All others hold less: a hundredth of what there is, or so little that it does not
		// matter beside other explanations.
		if might < all+math.Log(0.01) || x.prior+max(all, might)+math.Log(float64(len(places)))-p.volume+x.said < below-beneathPair {
			break
		}
		from := places[top]
		share -= math.Exp(from.log + from.cell.size - scale)
		a, b := p.split(&from.cell)
		if !add(a) || !add(b) {
			return
		}
		for _, half := range places[len(places)-2:] {
			half.log = stick.log(half.mean, half.lift)
			half.slack = min(openCell, math.Abs(half.log-from.log))
			holds := half.log + half.cell.size
			if holds > scale+20 {
				share *= math.Exp(scale - holds)
				scale = holds
			}
			share = max(0, share) + math.Exp(holds-scale)
			if half.log > best.log {
				best = half
			}
		}
		places[top] = places[len(places)-1]
		places = places[:len(places)-1]
	}
	if best.log > x.joint.log+0.5 {
		if !settle() {
			return
		}
		weigh(stick)
	}
	all := sum()
	x.evidence = all - p.volume
	x.samples = x.samples[:0:0]
	for _, at := range places {
		weight := math.Exp(at.log + at.cell.size - all)
		if weight < 1e-6 {
			continue
		}
		s := sample{fraction: 0.5, log: at.log, weight: weight}
		for _, k := range p.free {
			if k == 0 {
				s.logOhms = math.Log(at.ohms[k])
			} else {
				s.others[k-1] = math.Log(at.ohms[k])
			}
		}
		x.samples = append(x.samples, s)
	}
}

// cells are those of a set that the readings at rest leave open, none too wide.
func (h *setsAtWork) cells(p *parting, parts []cell) []cell {
	if len(p.free) == 0 {
		return []cell{p.all}
	}
	top := math.Inf(-1)
	for i := range parts {
		top = max(top, parts[i].log+parts[i].size)
	}
	const little = -12.0 // of the cell with the most
	var out []cell
	for i := range parts {
		if c := parts[i]; c.log+c.size > top+little {
			c.bound = 0
			out = append(out, c)
		}
	}
	for i := 0; i < len(out) && len(out) < firstCells; {
		c, wide := &out[i], 0.0
		for d := range p.free {
			wide = max(wide, c.high[d]-c.low[d])
		}
		if wide <= widestCell {
			i++
			continue
		}
		a, b := p.split(c)
		out[i] = a
		out = append(out, b)
	}
	return out
}

// roughAtWork is by how much, in natural logarithms, a glance may take a set to be worse than
// it is.
const roughAtWork = 6.0

// glance is how well a set may explain the readings at work, as the log of a likelihood: the
// free ranges are parted, and a reading over each part is taken to lie between those at its
// corners. (Where a switch changes what it does in between it may lie beside them, by
// little.) What is read from nets is taken to add up.
func (h *setsAtWork) glance(w *worker, x *found) float64 {
	if w.set == nil {
		w.set, w.joint, w.sticks = h.reader(), h.r.e.apart(), h.stick.apart()
	}
	if err := w.set.load(x.members); err != nil || w.set.slow || len(x.members) > 2 {
		return x.worth // an error is said when the set is weighed
	}
	s := h.r.search
	n := len(h.at)
	// The ends and the middle of each range.
	var ohms [2][]float64
	for k, i := range x.members {
		if ohms[k] = s.ohms[i]; s.steps[i] != nil {
			ohms[k] = []float64{s.steps[i][0], s.steps[i][sketchParts/2], s.steps[i][sketchParts]}
		}
	}
	first, second := len(ohms[0]), len(ohms[1])
	looks := make([]workLook, 0, first*second)
	for _, a := range ohms[0] {
		for _, b := range ohms[1] {
			got, err := w.set.read([]float64{a, b})
			if err != nil {
				return x.worth
			}
			looks = append(looks, newWorkLook(got))
		}
	}
	least := math.Inf(1)
	for a := range max(1, first-1) {
		for b := range max(1, second-1) {
			for k := range shareParts {
				u, sum := shareAt(k), 0.0
				for i := 0; i < n && sum < least; i++ {
					low, high := math.Inf(1), math.Inf(-1)
					for _, p := range []int{a, min(a+1, first-1)} {
						for _, q := range []int{b, min(b+1, second-1)} {
							look := &looks[p*second+q]
							y := look.volts[i] + u*look.lift[i]
							low, high = min(low, y), max(high, y)
						}
					}
					y := h.r.e.y[h.at[i]]
					near := max(low, min(y, high))
					off := (y - near) / h.uncertain(i, near, w.set.rail)
					sum += min(farAtWork, off*off/2)
				}
				least = min(least, sum)
			}
		}
	}
	return h.peak - least
}

// less is readings less those of sound wiring.
func (h *setsAtWork) less(got []predicted) workLook {
	look := newWorkLook(got)
	for k := range look.volts {
		look.volts[k] -= h.sound.volts[k]
		look.lift[k] -= h.sound.lift[k]
	}
	return look
}
