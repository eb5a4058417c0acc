package faults

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/twofold"
)

// pairGroup is one condition of a [PairTable]: the healthy net from ports, and every
// fault alone. Arrays by probe follow each other in memory, fault by fault.
type pairGroup struct {
	ports  *solve.ExactPorts
	probes []int // indices of the table's probes
	leads  []solve.ExactStrand
	ends   [][2]int
	idle   bool
	meter  solve.Meter
	part   []int32          // node: part of the healthy net
	across []float64        // ohms between the leads
	exact  []twofold.Number // the same
	volts  []float64        // idle: volts there without a meter
	state  []twofold.Number
	over   []uint64 // bit by probe: the leads are apart
	joined []uint64 // they are one point
	faults []pairFault
	brief  []briefFault

	single *predictor // nets of their own, for the group's probes
}

// pairFault is one fault alone, in one condition.
type pairFault struct {
	way   PairWay // PairStreamed, PairImpossible, or what its pairs need
	why   error
	fresh []float64 // readings where a net of its own was taken

	// strands are those that matter; of them rows, the first, are unknowns, the
	// others are sources only.
	strands []*solve.ExactStrand
	rows    int
	sources bool     // some strand holds a source
	labels  []uint64 // independent labels of what parts, see solve.Independent
	parts   bool
	ties    bool
	bridges [][2]int32 // nodes that its bridges act on
	splits  bool       // some joint is no joint any more
	spare   bool       // a bridge is left out, between points that are one already
	joins   bool       // the leads of some probe are one point by it
	part    []int32    // node: part, where it parts something

	over, joined []uint64

	// Without a small system, in numbers of twice the digits: what strands see of
	// each other, of the leads (strand by strand) and of the sources.
	between []twofold.Number
	toLeads []twofold.Number
	driven  []twofold.Number // with the fault's own sources
	sums    []twofold.Number // idle: volts by probe with the fault's sources

	// The small system eliminated: steps, each with its pivot, what it takes of a
	// row, and what it sees of the leads and of the sources.
	pivot []float64
	lower []float64 // step by row
	steps []float64 // step by probe
	drive []float64
	own   []float64 // a row's own, without what other faults take: |diagonal|

	across, volts []float64 // by probe
	// grip is by probe how large a number a reading is the rest of: what it is
	// without a second fault, or with neither.
	grip []float64
	// least is by probe what must be left of a reading as pairs usually are, −Inf
	// where structure says what it is; greatest is the greatest reading.
	least    []float64
	greatest float64
}

// briefFault is what most pairs need of a fault, close together in memory: one strand
// that sees two nodes of a field, parts nothing, and has no sources.
type briefFault struct {
	simple bool
	a, b   int32
	weight float64
	pivot  float64
	label  uint64 // 0 for none
}

// inBrief sums a fault up.
func (g *pairGroup) inBrief(f *pairFault) briefFault {
	if f.way != PairStreamed || f.rows != 1 || len(f.strands) != 1 || f.sources || f.parts || f.ties || f.splits || g.idle {
		return briefFault{}
	}
	var out briefFault
	if out.a, out.b, out.weight, out.simple = f.strands[0].Simple(); out.simple {
		out.pivot = f.pivot[0]
		if len(f.labels) > 0 {
			out.label = f.labels[0]
		}
	}
	return out
}

func (t *PairTable) newGroup(g *group) (*pairGroup, error) {
	ports, err := solve.NewExactPorts(t.Circuit, g.condition)
	if err != nil {
		return nil, err
	}
	pg := &pairGroup{ports: ports, probes: g.probes, idle: g.condition.Supply == solve.Idle, meter: t.Instrument.Meter}
	var whole solve.Settled
	if err := ports.Settle(nil, &whole); err != nil {
		return nil, err
	}
	pg.part = whole.PartOf()
	own := make([]Probe, len(g.probes))
	for k, at := range g.probes {
		p := t.Probes[at]
		if p.Quantity == solve.Ohms && pg.idle {
			return nil, fmt.Errorf("%s: %w", p, solve.ErrSupplyOn)
		}
		if p.Quantity == solve.Volts && !pg.idle {
			// Nothing holds any voltage then.
			return nil, fmt.Errorf("%s: volts are read with the supply on", p)
		}
		own[k] = p
		pg.leads = append(pg.leads, ports.Meter(p.From, p.To))
		pg.ends = append(pg.ends, [2]int{p.From, p.To})
	}
	var scratch solve.FieldScratch
	var field *solve.Field
	for k := range pg.leads {
		field = ports.Field(&pg.leads[k], field, &scratch)
		x := ports.See(&pg.leads[k], field)
		pg.exact, pg.across = append(pg.exact, x), append(pg.across, x.Float())
		if pg.idle {
			x := ports.See(&pg.leads[k], ports.State())
			pg.state, pg.volts = append(pg.state, x), append(pg.volts, x.Float())
		}
	}
	pg.over, pg.joined = pg.masks(&whole)
	pg.single, err = newPredictor(t.Circuit, own, t.Instrument.Meter)
	return pg, err
}

// masks are the probes whose leads are apart, and those whose leads are one point;
// nil for none.
func (g *pairGroup) masks(s *solve.Settled) (over, joined []uint64) {
	set := func(mask *[]uint64, k int) {
		if *mask == nil {
			*mask = make([]uint64, (len(g.ends)+63)/64)
		}
		(*mask)[k/64] |= 1 << (k % 64)
	}
	for k, e := range g.ends {
		switch {
		case s.Apart(e[0], e[1]):
			set(&over, k)
		case s.Joined(e[0], e[1]):
			set(&joined, k)
		}
	}
	return over, joined
}

func has(mask []uint64, k int) bool { return mask != nil && mask[k/64]>>(k%64)&1 != 0 }

// shown is what the meter makes of one probe.
func (g *pairGroup) shown(k int, across float64, volts []float64, over, joined []uint64) float64 {
	if !g.idle {
		switch {
		case has(over, k):
			return math.Inf(1)
		case has(joined, k):
			across = 0
		}
		return g.shownOhms(across)
	}
	if has(over, k) || has(joined, k) {
		return 0
	}
	return g.shownVolts(across, volts[k])
}

func (g *pairGroup) shownOhms(across float64) float64 {
	across += g.meter.LeadOhms
	if g.meter.RangeOhms > 0 && across > g.meter.RangeOhms {
		return math.Inf(1)
	}
	return across
}

func (g *pairGroup) shownVolts(across, volts float64) float64 {
	if g.meter.InputOhms == 0 {
		return volts
	}
	return volts * (g.meter.InputOhms / (g.meter.InputOhms + across))
}

// prepare works out every fault alone.
func (g *pairGroup) prepare(ctx context.Context, t *PairTable) error {
	g.faults = make([]pairFault, len(t.Faults))
	var next atomic.Int64
	var wg sync.WaitGroup
	errs := make([]error, len(t.Faults))
	for range min(runtime.GOMAXPROCS(0), len(t.Faults)) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var s pairScratch
			for ctx.Err() == nil {
				i := int(next.Add(1) - 1)
				if i >= len(t.Faults) {
					return
				}
				errs[i] = g.alone(t.Faults[i], &g.faults[i], &s)
			}
		}()
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for i := range g.faults {
		g.brief = append(g.brief, g.inBrief(&g.faults[i]))
	}
	return errors.Join(errs...)
}

// pairScratch is what a worker works in.
type pairScratch struct {
	field   solve.FieldScratch
	fields  []*solve.Field
	settled solve.Settled
	system  twofold.Symmetric
	b, w, d []twofold.Number
	inverse []twofold.Number // of pivots
}

// numbers gives scratch space of n numbers.
func numbers(list *[]twofold.Number, n int) []twofold.Number {
	if cap(*list) < n {
		*list = make([]twofold.Number, n+8)
	}
	return (*list)[:n]
}

// needsNet takes a fault's readings from a net of its own.
func (g *pairGroup) needsNet(f *Fault, out *pairFault, why error) error {
	out.way, out.why = PairFresh, why
	responses, err := g.single.typical(f)
	if errors.Is(err, solve.ErrSupplyShorted) || errors.Is(err, solve.ErrGroundsJoined) {
		out.way, out.why = PairImpossible, err
		return nil
	}
	if err != nil {
		return err
	}
	out.fresh = make([]float64, len(responses))
	for k, r := range responses {
		out.fresh[k] = plainValue(r.Value())
	}
	return nil
}

func plainValue(v solve.Value) float64 {
	if v.OL {
		return math.Inf(1)
	}
	return v.Number
}

var errOwnNet = errors.New("no resistance between two points of the healthy net")

// alone works out one fault.
func (g *pairGroup) alone(f *Fault, out *pairFault, s *pairScratch) error {
	laid, err := g.ports.Lay(f.Typical())
	if errors.Is(err, solve.ErrNoPort) {
		return g.needsNet(f, out, fmt.Errorf("%s: %w", f.Kind, errOwnNet))
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	all := make([]*solve.ExactStrand, len(laid))
	var labels []uint64
	for i := range laid {
		all[i] = &laid[i]
		out.splits = out.splits || all[i].Splits()
		if all[i].Bridge() {
			a, b := all[i].Nodes()
			out.bridges = append(out.bridges, [2]int32{int32(a), int32(b)})
		}
		if !all[i].Bridge() && math.IsInf(all[i].Ohms(), 1) {
			labels = append(labels, g.ports.Label(all[i]))
		}
	}
	out.labels = independent(nil, labels)
	settled := &s.settled
	if err := g.ports.Settle(all, settled); err != nil {
		out.way, out.why = PairImpossible, err
		return nil
	}
	out.parts, out.ties = settled.Parts, settled.Ties
	out.over, out.joined = g.masks(settled)
	if out.parts {
		out.part = slices.Clone(settled.PartOf())
	}
	for k := range out.joined {
		out.joins = out.joins || g.joined == nil || out.joined[k]&^g.joined[k] != 0
	}
	// Unknowns first, then what is a source and nothing else.
	out.strands = slices.Clone(settled.Strands)
	slices.SortStableFunc(out.strands, func(a, b *solve.ExactStrand) int {
		return btoi(onlySource(a)) - btoi(onlySource(b))
	})
	kept := 0
	for _, x := range out.strands {
		out.rows += 1 - btoi(onlySource(x))
		out.sources = out.sources || x.Volts() != 0
		kept += btoi(x.Bridge())
	}
	out.spare = kept < len(out.bridges)
	if !g.eliminate(out, s) {
		clear := pairFault{}
		*out = clear
		return g.needsNet(f, out, fmt.Errorf("%s: %w", f.Kind, errOwnNet))
	}
	return nil
}

func onlySource(x *solve.ExactStrand) bool { return !x.Bridge() && x.Ohms() == 0 }

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// eliminate makes a fault's small system and what is read with it.
func (g *pairGroup) eliminate(out *pairFault, s *pairScratch) bool {
	n, rows, probes := len(out.strands), out.rows, len(g.leads)
	for len(s.fields) < n {
		s.fields = append(s.fields, nil)
	}
	for i, x := range out.strands {
		s.fields[i] = g.ports.Field(x, s.fields[i], &s.field)
	}
	out.between = make([]twofold.Number, n*n)
	out.toLeads = make([]twofold.Number, n*probes)
	for i, x := range out.strands {
		for j := 0; j <= i; j++ {
			z := g.ports.See(x, s.fields[j])
			out.between[i*n+j], out.between[j*n+i] = z, z
		}
		for k := range g.leads {
			out.toLeads[i*probes+k] = g.ports.See(&g.leads[k], s.fields[i])
		}
	}
	if g.idle {
		out.driven = make([]twofold.Number, n)
		out.sums = slices.Clone(g.state)
		for i, x := range out.strands {
			q := g.ports.See(x, g.ports.State())
			for j, y := range out.strands {
				if v := y.Volts(); v != 0 {
					q = q.Add(out.between[i*n+j].Times(v))
				}
			}
			out.driven[i] = q
			if v := x.Volts(); v != 0 {
				for k := range out.sums {
					out.sums[k] = out.sums[k].Add(out.toLeads[i*probes+k].Times(v))
				}
			}
		}
	}
	s.system.Reset(rows)
	for i := range rows {
		for j := 0; j < i; j++ {
			s.system.Set(i, j, out.between[i*n+j])
		}
		z := out.between[i*n+i].Add(out.strands[i].Own())
		s.system.Set(i, i, z)
		out.own = append(out.own, math.Abs(z.Hi))
	}
	if !s.system.Factor() {
		return false
	}
	b, w, d := numbers(&s.b, rows), numbers(&s.w, rows), numbers(&s.d, rows)
	out.pivot, out.drive = make([]float64, rows), make([]float64, rows)
	out.lower, out.steps = make([]float64, rows*rows), make([]float64, rows*probes)
	for i := range rows {
		out.pivot[i] = s.system.Pivot(i).Float()
		clear(b)
		b[i] = twofold.From(1)
		s.system.Reduce(b, w)
		for k := range rows {
			out.lower[k*rows+i] = w[k].Float()
		}
	}
	if g.idle {
		s.system.Reduce(out.driven[:rows], d)
		for i := range rows {
			out.drive[i] = d[i].Float()
		}
		out.volts = make([]float64, probes)
	}
	out.across, out.grip, out.least = make([]float64, probes), make([]float64, probes), make([]float64, probes)
	for k := range probes {
		for i := range rows {
			b[i] = out.toLeads[i*probes+k]
		}
		s.system.Reduce(b, w)
		across := g.exact[k]
		var volts twofold.Number
		if g.idle {
			volts = out.sums[k]
		}
		for i := range rows {
			out.steps[i*probes+k] = w[i].Float()
			x := w[i].Div(s.system.Pivot(i))
			across = across.Sub(x.Mul(w[i]))
			if g.idle {
				volts = volts.Sub(x.Mul(d[i]))
			}
		}
		out.across[k] = across.Float()
		if g.idle {
			out.volts[k] = volts.Float()
		}
		out.grip[k] = math.Max(out.across[k], math.Sqrt(math.Max(out.across[k], 0)*g.across[k]))
		out.least[k] = usualGrowth * leastLeft * out.grip[k]
		if has(out.over, k) || has(out.joined, k) {
			out.least[k] = math.Inf(-1)
		}
		out.greatest = math.Max(out.greatest, out.across[k])
	}
	return true
}

// independent adds to a list of labels those that no exclusive or of others makes,
// reduced so that the least of x and x with each of the list in turn is x without
// what the list makes.
func independent(list, labels []uint64) []uint64 {
	for _, x := range labels {
		if x = without(list, x); x != 0 {
			list = append(list, x)
			slices.SortFunc(list, func(a, b uint64) int {
				if a > b {
					return -1
				}
				return 1
			})
		}
	}
	return list
}

// without is a label without what a list of independent ones makes of it: 0 where
// they make all of it.
func without(list []uint64, x uint64) uint64 {
	for _, y := range list {
		x = min(x, x^y)
	}
	return x
}
