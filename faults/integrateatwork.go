package faults

import (
	"math"
	"slices"
)

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

// averaging is a set's likelihood while it is averaged over the free values.
type averaging struct {
	h      *setsAtWork
	w      *worker
	p      *parting
	x      *weighed
	places []*jointPlace // the middles of cells that make up the free ranges
	// sharpest is the place that is best at rest, which may lie beside the middles of all
	// cells; best is the best of all by stick.
	sharpest, best *jointPlace
	stick          *jointStick
}

// integrate averages a set's likelihood over its free values by all readings together. The
// worker has integrated it by those at rest, and has it loaded; below is as there.
func (h *setsAtWork) integrate(w *worker, x *weighed, below float64) {
	if x.err != nil || math.IsInf(x.evidence, -1) {
		return
	}
	if x.prior+x.evidence+x.said+min(x.worth, h.peak)+roughAtWork < below-beneathPair {
		x.evidence = math.Inf(-1) // by all readings it is nothing
		return
	}
	h.ready(w)
	w.set.load(x.members)
	a := &averaging{h: h, w: w, p: &w.parting, x: x}
	if x.err = a.begin(); x.err == nil && a.stick != nil {
		x.err = a.refine(below - beneathPair)
	}
	switch {
	case x.err != nil:
	case a.stick == nil:
		x.evidence = math.Inf(-1)
	default:
		a.finish()
	}
}

// add takes one more cell.
func (a *averaging) add(c cell) (*jointPlace, error) {
	at, err := a.h.jointAt(a.w, a.w.set, a.p.middle(&c))
	if err != nil {
		return nil, err
	}
	at.cell = c
	a.places = append(a.places, at)
	return at, nil
}

// begin reads in the cells that the readings at rest leave open. Their best is found by the
// tolerances of sound wiring, and worked out by its own.
func (a *averaging) begin() (err error) {
	for _, c := range a.h.cells(a.p, a.x.cells) {
		if _, err := a.add(c); err != nil {
			return err
		}
	}
	if a.sharpest, err = a.h.jointAt(a.w, a.w.set, a.x.ohms); err != nil {
		return err
	}
	a.weigh(a.w.sticks)
	if err := a.settle(); err != nil || a.stick == nil {
		return err
	}
	a.weigh(a.stick)
	for _, at := range a.places {
		at.slack = openCell
	}
	return nil
}

// weigh weighs all places by tolerances, and says which is the best.
func (a *averaging) weigh(k *jointStick) {
	a.sharpest.log = k.log(a.sharpest.mean, a.sharpest.lift)
	a.best = a.sharpest
	for _, at := range a.places {
		if at.log = k.log(at.mean, at.lift); at.log > a.best.log {
			a.best = at
		}
	}
}

// settle works the best place out in full, which gives the tolerances; none where they
// cannot be had.
func (a *averaging) settle() error {
	j, err := a.h.judge(a.w, a.w.set, a.best.ohms)
	if err != nil {
		return err
	}
	if a.stick = a.w.joint.joint(&j); a.stick != nil {
		a.x.joint, a.x.ohms = &j, a.best.ohms
	}
	return nil
}

// all is the log of what all cells hold.
func (a *averaging) all() float64 {
	sum := math.Inf(-1)
	for _, at := range a.places {
		sum = logAdd(sum, at.log+at.cell.size)
	}
	return sum
}

// refine halves cells, the one first that may hold the most, until all that are left hold
// less: a hundredth of what there is, or so little that it does not matter. enough is the log of what
// a set's prior times its evidence must come to for that.
func (a *averaging) refine(enough float64) error {
	p := a.p
	// What there is in all, share in units of e to the power of scale.
	scale, share := a.all(), 1.0
	for len(p.free) > 0 && len(a.places) < mostPlaces {
		all, might, top := scale+math.Log(share), math.Inf(-1), 0
		for i, at := range a.places {
			if at.slack <= evenCell || at.cell.depth >= 14*len(p.free) {
				continue
			}
			if m := at.log + at.cell.size + at.slack; m > might {
				might, top = m, i
			}
		}
		if might < all+math.Log(0.01) || a.x.prior+max(all, might)+math.Log(float64(len(a.places)))-p.volume+a.x.said < enough {
			break
		}
		from := a.places[top]
		a.places[top] = a.places[len(a.places)-1]
		a.places = a.places[:len(a.places)-1]
		share -= math.Exp(from.log + from.cell.size - scale)
		low, high := p.split(&from.cell)
		for _, c := range []cell{low, high} {
			half, err := a.add(c)
			if err != nil {
				return err
			}
			half.log = a.stick.log(half.mean, half.lift)
			half.slack = min(openCell, math.Abs(half.log-from.log))
			holds := half.log + half.cell.size
			if holds > scale+20 {
				share *= math.Exp(scale - holds)
				scale = holds
			}
			share = max(0, share) + math.Exp(holds-scale)
			if half.log > a.best.log {
				a.best = half
			}
		}
	}
	if a.best.log <= a.x.joint.log+0.5 {
		return nil
	}
	// The tolerances are to be those of the best place.
	if err := a.settle(); err != nil || a.stick == nil {
		return err
	}
	a.weigh(a.stick)
	return nil
}

// finish says what the set comes to, and what its free values may be.
func (a *averaging) finish() {
	x, all := a.x, a.all()
	x.evidence = all - a.p.volume
	x.samples = x.samples[:0:0]
	for _, at := range a.places {
		weight := math.Exp(at.log + at.cell.size - all)
		if weight < 1e-6 {
			continue
		}
		s := sample{fraction: 0.5, log: at.log, weight: weight}
		for _, k := range a.p.free {
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
