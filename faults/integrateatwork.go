package faults

import (
	"errors"
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
