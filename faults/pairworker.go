package faults

import (
	"context"
	"errors"
	"math"
	"slices"

	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/twofold"
)

// pairWorker works out blocks, one row of the table after the other.
type pairWorker struct {
	t     *PairTable
	ctx   context.Context
	o     *PairOptions
	row   int // fault that is ready, −1 for none
	stamp []int
	rows  []pairRow // by group

	kernel
	seen    []float64 // one group's readings, where they do not follow each other
	across  []float64
	scratch pairScratch
	refs    []strandRef
	all     []*solve.ExactStrand
	settled solve.Settled
	over    []uint64
	joined  []uint64
	more    []*solve.Field
	many    []*solve.ExactStrand
}

// pairRow is a row's fault in one condition.
type pairRow struct {
	fields []*solve.Field
	follow bool // the group's probes follow each other in the table
}

func (t *PairTable) newWorker(ctx context.Context, o *PairOptions) *pairWorker {
	w := &pairWorker{t: t, ctx: ctx, o: o, row: -1, stamp: make([]int, len(t.Faults))}
	most := 0
	for _, g := range t.groups {
		r := pairRow{follow: true}
		for k := range g.probes {
			r.follow = r.follow && g.probes[k] == g.probes[0]+k
		}
		w.rows = append(w.rows, r)
		most = max(most, len(g.probes))
	}
	w.seen, w.across = make([]float64, most), make([]float64, most)
	w.over, w.joined = make([]uint64, (most+63)/64), make([]uint64, (most+63)/64)
	return w
}

// begin makes a row ready.
func (w *pairWorker) begin(row int) {
	w.row = row
	for _, x := range w.t.touches[row] {
		w.mark(x)
		switch x.what {
		case touchElement:
			w.mark(touch{touchSpot, x.i})
		case touchSpot:
			w.mark(touch{touchElement, x.i})
		}
	}
	for i, g := range w.t.groups {
		r := &w.rows[i]
		f := &g.faults[row]
		for len(r.fields) < len(f.strands) {
			r.fields = append(r.fields, nil)
		}
		for k, x := range f.strands {
			r.fields[k] = g.ports.Field(x, r.fields[k], &w.scratch.field)
		}
	}
}

// mark notes the faults that touch something; two spots on one wire are none of each
// other's concern.
func (w *pairWorker) mark(x touch) {
	if x.what == touchSpot && !slices.Contains(w.t.touches[w.row], touch{touchElement, x.i}) {
		return
	}
	for _, i := range w.t.touched[x] {
		w.stamp[i] = w.row + 1
	}
}

// block works out one block.
func (w *pairWorker) block(p pairPiece, wanted []int, b *PairBlock) error {
	if w.row != p.first {
		w.begin(p.first)
	}
	b.First = p.first
	b.Second, b.Ways, b.Why = b.Second[:0], b.Ways[:0], b.Why[:0]
	all := w.o.Involving == nil || w.o.Involving[p.first]
	for i := p.from; i < p.to; i++ {
		second := i
		if !all {
			second = wanted[i]
		}
		b.Second = append(b.Second, second)
	}
	n := len(w.t.Probes)
	if need := n * len(b.Second); cap(b.Values) < need {
		b.Values = make([]float64, need)
	} else {
		b.Values = b.Values[:need]
	}
	for i, second := range b.Second {
		if i%64 == 0 && w.ctx.Err() != nil {
			return w.ctx.Err()
		}
		way, why, err := w.pair(second, b.Values[i*n:(i+1)*n])
		if err != nil {
			return err
		}
		b.Ways, b.Why = append(b.Ways, way), append(b.Why, why)
	}
	return nil
}

// pair reads the row's fault together with a second.
func (w *pairWorker) pair(second int, out []float64) (way PairWay, why error, err error) {
	for i, g := range w.t.groups {
		here := out[g.first():][:len(g.probes)]
		if !w.rows[i].follow {
			here = w.seen[:len(g.probes)]
		}
		x, because, err := w.read(i, second, here)
		if err != nil {
			return way, why, err
		}
		if x > way {
			way, why = x, because
		}
		if !w.rows[i].follow {
			for k, at := range g.probes {
				out[at] = here[k]
			}
		}
	}
	return way, why, nil
}

func (g *pairGroup) first() int {
	if len(g.probes) == 0 {
		return 0
	}
	return g.probes[0]
}

// read reads one condition's probes of a pair.
func (w *pairWorker) read(at, second int, out []float64) (way PairWay, why error, err error) {
	g := w.t.groups[at]
	f, s := &g.faults[w.row], &g.faults[second]
	if x, y := &g.brief[w.row], &g.brief[second]; x.simple && y.simple && w.stamp[second] != w.row+1 && (x.label == 0 || x.label != y.label) {
		u := y.weight * w.rows[at].fields[0].Between(y.a, y.b)
		a, b := f, s
		if s.joined != nil && f.joined == nil {
			a, b = s, f
			x, y = y, x
		}
		w.ready(1, 1, 0)
		return w.resistances(at, second, a, b, out, w.one(u, x.pivot, y.pivot))
	}
	switch {
	case f.way == PairFresh:
		return w.net(g, second, out, f.why)
	case s.way == PairFresh:
		return w.net(g, second, out, s.why)
	case f.way == PairImpossible, s.way == PairImpossible:
		return w.together(at, second, out) // the other may part what blows the fuse
	}
	if w.stamp[second] == w.row+1 || g.entangled(f, s) {
		return w.together(at, second, out)
	}
	a, b, growth := w.add(at, second, len(out))
	if !g.idle {
		return w.resistances(at, second, a, b, out, growth)
	}
	if growth > worstGrowth {
		return w.refined(at, second, out)
	}
	w.kernel.idle(a, b, out, w.across, g.meter.InputOhms)
	over, joined := w.bits(g, f, s)
	fillWhere(out, over, 0)
	fillWhere(out, joined, 0)
	return PairStreamed, nil, nil
}

// resistances reads a pair that the kernel is ready for, a first.
func (w *pairWorker) resistances(at, second int, a, b *pairFault, out []float64, growth float64) (PairWay, error, error) {
	if growth > worstGrowth {
		return w.refined(at, second, out)
	}
	g := w.t.groups[at]
	top := math.Inf(1)
	if g.meter.RangeOhms > 0 {
		top = g.meter.RangeOhms
	}
	small := w.ohms(a, b, out, growth, g.meter.LeadOhms, top)
	over, joined := w.bits(g, a, b)
	// What structure says of a reading with the first fault holds for both, but where
	// the second ties a floating part or makes two points of one.
	if (small || b.ties || b.splits) && w.tooSmall(g, a, out, growth, over, joined) {
		return w.refined(at, second, out)
	}
	fillWhere(out, over, math.Inf(1))
	fillWhere(out, joined, g.meter.LeadOhms)
	return PairStreamed, nil, nil
}

// add makes the kernel ready for a second fault: which of the two goes first, which
// second, and how much smaller a pivot has become by it.
func (w *pairWorker) add(at, second, probes int) (a, b *pairFault, growth float64) {
	g := w.t.groups[at]
	f, s := &g.faults[w.row], &g.faults[second]
	// The one that holds sources goes first, then the one with more unknowns, and
	// of two alike the one of which structure says more.
	turned := false
	a, b = f, s
	if s.sources || !f.sources && (s.rows > f.rows || s.rows == f.rows && s.joined != nil && f.joined == nil) {
		a, b, turned = s, f, true
	}
	n := len(a.strands)
	if cap(w.cross) < n*b.rows {
		w.kernel.cross = make([]float64, n*b.rows+16)
	}
	cross := w.kernel.cross[:n*b.rows]
	fields := w.rows[at].fields
	for r := range b.rows {
		for c, x := range a.strands {
			if turned {
				cross[r*n+c] = g.ports.SeeFloat(x, fields[r])
			} else {
				cross[r*n+c] = g.ports.SeeFloat(b.strands[r], fields[c])
			}
		}
	}
	w.ready(a.rows, b.rows, probes)
	return a, b, w.eliminate(a, b, cross, n, g.idle)
}

// entangled tells whether two faults that touch nothing in common do more together
// than each alone: part something, or one bridges what the other parts.
func (g *pairGroup) entangled(f, s *pairFault) bool {
	if len(f.labels) > 0 && len(s.labels) > 0 {
		if len(f.labels) == 1 && len(s.labels) == 1 {
			if f.labels[0] == s.labels[0] {
				return true
			}
		} else if !apartFrom(f.labels, s.labels) {
			return true
		}
	}
	if f.ties && (s.ties || s.parts) || s.ties && f.parts {
		return true
	}
	if f.sources && s.sources {
		return true
	}
	if f.splits && (s.joins || s.spare) || s.splits && (f.joins || f.spare) {
		return true
	}
	return f.parts && g.closes(f, s) || s.parts && g.closes(s, f)
}

// apartFrom tells whether two lists of independent labels are independent together.
func apartFrom(a, b []uint64) bool {
	var space [8]uint64
	list := append(space[:0], a...)
	for _, x := range b {
		if x = without(list, x); x == 0 {
			return false
		}
		list = append(list, x)
		for i := len(list) - 1; i > 0 && list[i] > list[i-1]; i-- {
			list[i], list[i-1] = list[i-1], list[i]
		}
	}
	return true
}

// closes tells whether a fault bridges a gap that another one made.
func (g *pairGroup) closes(gap, bridge *pairFault) bool {
	for _, x := range bridge.bridges {
		if gap.part[x[0]] != gap.part[x[1]] && g.part[x[0]] == g.part[x[1]] {
			return true
		}
	}
	return false
}

// bits are the probes of which structure says what they read with both faults in;
// nil for none.
func (w *pairWorker) bits(g *pairGroup, f, s *pairFault) (over, joined []uint64) {
	switch {
	case f.ties:
		over = f.over
	case s.ties:
		over = s.over
	default:
		over = either(w.over, f.over, s.over)
	}
	switch {
	case f.splits && s.splits:
		joined = both(w.joined, f.joined, s.joined)
	case f.splits:
		joined = f.joined
	case s.splits:
		joined = s.joined
	default:
		joined = either(w.joined, f.joined, s.joined)
	}
	return over, joined
}

func either(into, a, b []uint64) []uint64 {
	switch {
	case a == nil:
		return b
	case b == nil:
		return a
	}
	into = into[:len(a)]
	for i := range into {
		into[i] = a[i] | b[i]
	}
	return into
}

func both(into, a, b []uint64) []uint64 {
	if a == nil || b == nil {
		return nil
	}
	into = into[:len(a)]
	for i := range into {
		into[i] = a[i] & b[i]
	}
	return into
}

// fillWhere writes a value where a bit is set.
func fillWhere(out []float64, mask []uint64, x float64) {
	if mask == nil {
		return
	}
	for k := range out {
		if mask[k/64]>>(k%64)&1 != 0 {
			out[k] = x
		}
	}
}

// tooSmall tells whether a reading that structure says nothing of is too small a rest
// for float64.
func (w *pairWorker) tooSmall(g *pairGroup, a *pairFault, out []float64, growth float64, over, joined []uint64) bool {
	for k, x := range out {
		if x-g.meter.LeadOhms < leastLeft*growth*a.grip[k] && !has(over, k) && !has(joined, k) {
			return true
		}
	}
	return false
}

func nothing(out []float64, way PairWay, why error) (PairWay, error, error) {
	for k := range out {
		out[k] = math.NaN()
	}
	return way, why, nil
}

// net takes a pair's readings from a net of its own.
func (w *pairWorker) net(g *pairGroup, second int, out []float64, why error) (PairWay, error, error) {
	if w.o.NoFresh {
		return nothing(out, PairLeft, why)
	}
	if err := w.ctx.Err(); err != nil {
		return PairFresh, nil, err
	}
	responses, err := g.single.typical(Combine(w.t.Faults[w.row], w.t.Faults[second]))
	if errors.Is(err, solve.ErrSupplyShorted) || errors.Is(err, solve.ErrGroundsJoined) {
		return nothing(out, PairImpossible, err)
	}
	if err != nil {
		return PairFresh, nil, err
	}
	for k, r := range responses {
		out[k] = plainValue(r.Value())
	}
	return PairFresh, why, nil
}

// strandRef is a strand of a pair: one that a fault has alone, or a new one.
type strandRef struct {
	x  *solve.ExactStrand // with what stands in it now
	of int                // 0 the row's fault, 1 the second, 2 neither
	i  int
}

// refined reads a pair in numbers of twice the digits.
func (w *pairWorker) refined(at, second int, out []float64) (PairWay, error, error) {
	g := w.t.groups[at]
	f, s := &g.faults[w.row], &g.faults[second]
	w.refs = w.refs[:0]
	for i, x := range f.strands {
		w.refs = append(w.refs, strandRef{x, 0, i})
	}
	for i, x := range s.strands {
		w.refs = append(w.refs, strandRef{x, 1, i})
	}
	over, joined := w.bits(g, f, s)
	if w.exact(at, second, over, joined, out) {
		return PairRefined, nil, nil
	}
	return w.together(at, second, out)
}

// together lays out both faults and settles what becomes of them.
func (w *pairWorker) together(at, second int, out []float64) (PairWay, error, error) {
	g := w.t.groups[at]
	first, other := w.t.Faults[w.row], w.t.Faults[second]
	laid, err := g.ports.Lay(append(slices.Clone(first.Typical()), other.Typical()...))
	if errors.Is(err, solve.ErrNoPort) {
		return w.net(g, second, out, errOwnNet)
	}
	if err != nil {
		return PairTogether, nil, err
	}
	w.all = w.all[:0]
	for i := range laid {
		w.all = append(w.all, &laid[i])
	}
	if err := g.ports.Settle(w.all, &w.settled); err != nil {
		return nothing(out, PairImpossible, err)
	}
	f, s := &g.faults[w.row], &g.faults[second]
	w.refs, w.many = w.refs[:0], w.many[:0]
next:
	for _, x := range w.settled.Strands {
		for of, list := range [][]*solve.ExactStrand{f.strands, s.strands} {
			for i, y := range list {
				if x.SamePort(y) {
					w.refs = append(w.refs, strandRef{x, of, i})
					continue next
				}
			}
		}
		n := len(w.many)
		w.many = append(w.many, x)
		if len(w.more) == n {
			w.more = append(w.more, nil)
		}
		w.more[n] = g.ports.Field(x, w.more[n], &w.scratch.field)
		w.refs = append(w.refs, strandRef{x, 2, n})
	}
	over, joined := g.masks(&w.settled)
	if w.exact(at, second, over, joined, out) {
		return PairTogether, nil, nil
	}
	return w.net(g, second, out, errOwnNet)
}

// exact reads a group's probes with the strands in refs, in numbers of twice the
// digits; false where their system is singular.
func (w *pairWorker) exact(at, second int, over, joined []uint64, out []float64) bool {
	g := w.t.groups[at]
	f, s := &g.faults[w.row], &g.faults[second]
	fields, probes := w.rows[at].fields, len(g.leads)
	between := func(a, b *strandRef) twofold.Number {
		if a.of > b.of {
			a, b = b, a
		}
		switch {
		case b.of == 2:
			return g.ports.See(a.x, w.more[b.i])
		case a.of != b.of:
			return g.ports.See(b.x, fields[a.i])
		case a.of == 0:
			return f.between[a.i*len(f.strands)+b.i]
		}
		return s.between[a.i*len(s.strands)+b.i]
	}
	toLead := func(a *strandRef, k int) twofold.Number {
		switch a.of {
		case 0:
			return f.toLeads[a.i*probes+k]
		case 1:
			return s.toLeads[a.i*probes+k]
		}
		return g.ports.See(&g.leads[k], w.more[a.i])
	}
	rows := 0
	for i := range w.refs {
		if !onlySource(w.refs[i].x) {
			w.refs[rows], w.refs[i] = w.refs[i], w.refs[rows]
			rows++
		}
	}
	sys := &w.scratch.system
	sys.Reset(rows)
	for i := range rows {
		for j := range i {
			sys.Set(i, j, between(&w.refs[i], &w.refs[j]))
		}
		sys.Set(i, i, between(&w.refs[i], &w.refs[i]).Add(w.refs[i].x.Own()))
	}
	if !sys.Factor() {
		return false
	}
	inverse := numbers(&w.scratch.inverse, rows)
	for i := range inverse {
		inverse[i] = twofold.From(1).Div(sys.Pivot(i))
	}
	b, v, d := numbers(&w.scratch.b, rows), numbers(&w.scratch.w, rows), numbers(&w.scratch.d, rows)
	if g.idle {
		for i := range rows {
			q := g.ports.See(w.refs[i].x, g.ports.State())
			for j := range w.refs {
				if e := w.refs[j].x.Volts(); e != 0 {
					q = q.Add(between(&w.refs[i], &w.refs[j]).Times(e))
				}
			}
			b[i] = q
		}
		sys.Reduce(b, d)
	}
	for k := range out {
		switch {
		case has(over, k) && !g.idle:
			out[k] = math.Inf(1)
			continue
		case has(over, k), has(joined, k) && g.idle:
			out[k] = 0
			continue
		case has(joined, k):
			out[k] = g.shownOhms(0)
			continue
		}
		for i := range rows {
			b[i] = toLead(&w.refs[i], k)
		}
		sys.Reduce(b, v)
		across := g.exact[k]
		var volts twofold.Number
		if g.idle {
			volts = g.state[k]
			for j := range w.refs {
				if e := w.refs[j].x.Volts(); e != 0 {
					volts = volts.Add(toLead(&w.refs[j], k).Times(e))
				}
			}
		}
		for i := range rows {
			x := v[i].Mul(inverse[i])
			across = across.Sub(x.Mul(v[i]))
			if g.idle {
				volts = volts.Sub(x.Mul(d[i]))
			}
		}
		if g.idle {
			out[k] = g.shownVolts(across.Float(), volts.Float())
			continue
		}
		if across.Hi < nearNothing*g.across[k] {
			across = twofold.Number{} // both faults together make one point of the leads
		}
		out[k] = g.shownOhms(across.Float())
	}
	return true
}

// nearNothing is a share of a healthy reading below which a reading is nothing: what
// rounding leaves in numbers of twice the digits, and some. The least that conductors
// give is 1e-6 Ω beside 1e7 Ω.
const nearNothing = 1e-18
