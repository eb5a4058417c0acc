package faults

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// PairOptions says which pairs are wanted and how. The zero value takes all of them.
type PairOptions struct {
	// Involving picks the pairs of which at least one fault is true here, by index
	// of the catalogue; nil for all pairs.
	Involving []bool
	// NoFresh leaves out what needs a net of its own, milliseconds each: such
	// readings are NaN, and the pair is counted as left out.
	NoFresh bool
	// BlockValues is about how many readings a block holds; 0 for 32768 (256 KB, so
	// that a block is written and read within a core's own cache).
	BlockValues int
}

// PairWay is how a pair's readings were worked out. Of several conditions the last
// of these counts.
type PairWay uint8

// The ways, the cheapest first.
const (
	// PairStreamed is from the two faults as each is alone, in float64.
	PairStreamed PairWay = iota
	// PairRefined is the same in numbers of twice the digits, where float64 would
	// lose them.
	PairRefined
	// PairTogether is for two faults that touch the same element or module, that
	// only together part something, or of which one bridges what the other parts:
	// laid out and settled together.
	PairTogether
	// PairFresh took a net of its own.
	PairFresh
	// PairLeft would have needed one, see [PairOptions.NoFresh].
	PairLeft
	// PairImpossible cannot be: with the supply on a fuse would blow. Readings are
	// NaN in the conditions for which that holds.
	PairImpossible
	pairWays
)

func (w PairWay) String() string {
	return [...]string{"streamed", "refined", "together", "fresh", "left out", "impossible"}[w]
}

// PairBlock is a part of the table of pairs: one fault with several others. It is
// good until the call that got it returns; its arrays are used again.
type PairBlock struct {
	// First is the first fault of each pair, Second the others, by index of the
	// catalogue, all above First and in order.
	First  int
	Second []int
	// Values are the readings in ohms or volts, pair by pair, in each the probes in
	// their order. +Inf is OL; NaN is no reading ([PairLeft], [PairImpossible]).
	Values []float64
	// Ways says how each pair was worked out, Why what stood against the streamed
	// way where it is PairFresh or above.
	Ways []PairWay
	Why  []error
}

// Readings are the values of one of the block's pairs.
func (b *PairBlock) Readings(i int) []float64 {
	n := len(b.Values) / len(b.Second)
	return b.Values[i*n : (i+1)*n]
}

// PairCounts says what became of the pairs.
type PairCounts struct {
	Pairs int
	// Ways counts pairs by their [PairWay].
	Ways [pairWays]int
	// Reasons say why pairs were fresh, left out or impossible.
	Reasons []PairReason
}

// PairReason is why so many pairs could not be had from the faults as they are
// alone.
type PairReason struct {
	Way   PairWay
	Why   string
	Pairs int
}

func (k *PairCounts) add(b *PairBlock) {
	k.Pairs += len(b.Second)
	for i, w := range b.Ways {
		k.Ways[w]++
		if w < PairFresh {
			continue
		}
		why := b.Why[i].Error()
		at := slices.IndexFunc(k.Reasons, func(r PairReason) bool { return r.Way == w && r.Why == why })
		if at < 0 {
			at = len(k.Reasons)
			k.Reasons = append(k.Reasons, PairReason{Way: w, Why: why})
		}
		k.Reasons[at].Pairs++
	}
}

// PairTable is made to read any fault of a catalogue and any two of them at once,
// each at its typical free value, half-way along its wire: within 1e-9 of what nets
// assembled with them read. The healthy net of each condition is seen from ports
// once ([solve.ExactPorts]); a fault then costs a solution of it, and a pair a few
// operations a reading, by elimination of a second block of a symmetric system.
//
// It holds about 80 bytes for each fault and reading, and not the table.
type PairTable struct {
	Circuit    *netlist.Circuit
	Faults     []*Fault
	Probes     []Probe
	Instrument Instrument

	groups  []*pairGroup
	touches [][]touch       // by fault
	touched map[touch][]int // faults by what they touch
}

// errDriven says that a probe reads a bus at work.
var errDriven = errors.New("faults: pairs are read at rest; leave out senders and traffic")

// NewPairTable works out all faults alone. All of GOMAXPROCS is used.
func NewPairTable(ctx context.Context, c *netlist.Circuit, catalogue []*Fault, probes []Probe, in Instrument) (*PairTable, error) {
	t := &PairTable{Circuit: c, Faults: catalogue, Probes: probes, Instrument: in, touched: map[touch][]int{}}
	for _, p := range probes {
		if p.driven() {
			return nil, fmt.Errorf("%w (%s)", errDriven, p)
		}
	}
	for i, f := range catalogue {
		list := t.touchesOf(f)
		t.touches = append(t.touches, list)
		for _, x := range list {
			t.touched[x] = append(t.touched[x], i)
		}
	}
	for _, g := range groupProbes(probes) {
		pg, err := t.newGroup(g)
		if err != nil {
			return nil, err
		}
		if err := pg.prepare(ctx, t); err != nil {
			return nil, err
		}
		t.groups = append(t.groups, pg)
	}
	return t, nil
}

// Healthy gives the readings without a fault, +Inf for OL.
func (t *PairTable) Healthy() []float64 {
	out := make([]float64, len(t.Probes))
	for _, g := range t.groups {
		for k, at := range g.probes {
			out[at] = g.shown(k, g.across[k], g.volts, g.over, g.joined)
		}
	}
	return out
}

// Alone gives the readings of one fault, +Inf for OL, NaN where it cannot be.
func (t *PairTable) Alone(fault int) []float64 {
	out := make([]float64, len(t.Probes))
	for _, g := range t.groups {
		f := &g.faults[fault]
		for k, at := range g.probes {
			switch {
			case f.way == PairImpossible:
				out[at] = math.NaN()
			case f.fresh != nil:
				out[at] = f.fresh[k]
			default:
				out[at] = g.shown(k, f.across[k], f.volts, f.over, f.joined)
			}
		}
	}
	return out
}

// touch is something that two faults may both have to do with.
type touch struct {
	what touchKind
	i    int
}

type touchKind uint8

const (
	touchElement touchKind = iota // something is put in series with it, or it parts
	touchSpot                     // a bridge attaches along it
	touchSite
	touchUnit
)

// touchesOf lists what a fault has to do with, so that a second fault that has to do
// with the same is laid out together with it.
func (t *PairTable) touchesOf(f *Fault) []touch {
	var out []touch
	add := func(x touch) {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	unit := func(i int) {
		if i < 0 || i >= len(t.Circuit.Units) {
			return
		}
		add(touch{touchUnit, i})
		u := &t.Circuit.Units[i]
		add(touch{touchElement, u.GroundElement})
		for _, e := range u.Inputs {
			add(touch{touchElement, e})
		}
	}
	site := func(name string) {
		for i := range t.Circuit.Sites {
			if t.Circuit.Sites[i].Name == name {
				add(touch{touchSite, i})
			}
		}
	}
	for _, ch := range f.Typical() {
		switch ch := ch.(type) {
		case solve.Part:
			add(touch{touchElement, ch.Element})
			for i := range t.Circuit.Units {
				if t.Circuit.Units[i].GroundElement == ch.Element {
					unit(i) // which is without supply then
				}
			}
		case solve.Insert:
			add(touch{touchElement, ch.Element})
		case solve.Replace:
			add(touch{touchElement, ch.Element})
		case solve.Bridge:
			for _, s := range []solve.Spot{ch.From, ch.To} {
				if s.Wire >= 0 {
					add(touch{touchSpot, s.Wire})
				}
			}
			for _, name := range ch.Through {
				site(name)
			}
		case solve.Unplug:
			site(ch.Connector)
			parted, err := t.Circuit.Unplug(ch.Connector)
			if err != nil {
				continue // said when it is laid
			}
			for _, e := range parted {
				add(touch{touchElement, e})
			}
			for i := range t.Circuit.Units {
				if slices.ContainsFunc(t.Circuit.Units[i].Sites, func(s int) bool { return t.Circuit.Sites[s].Name == ch.Connector }) {
					unit(i)
				}
			}
		case solve.Unpower:
			unit(ch.Unit)
		case solve.Shift:
			unit(ch.Unit)
		case solve.Stick:
			if ch.Transceiver >= 0 && ch.Transceiver < len(t.Circuit.Transceivers) {
				unit(t.Circuit.Transceivers[ch.Transceiver].Unit)
			}
		}
	}
	return out
}

// pairPiece is a block's place in the table.
type pairPiece struct{ first, from, to int }

// pieces parts the table into blocks.
func (t *PairTable) pieces(o *PairOptions) (list []pairPiece, wanted []int) {
	n := len(t.Faults)
	for i := range t.Faults {
		if o.Involving == nil || o.Involving[i] {
			wanted = append(wanted, i)
		}
	}
	values := o.BlockValues
	if values <= 0 {
		values = 32768
	}
	size := max(1, values/max(1, len(t.Probes)))
	at := 0
	for i := range n {
		for at < len(wanted) && wanted[at] <= i {
			at++
		}
		from, to := at, len(wanted) // of wanted
		if o.Involving == nil || o.Involving[i] {
			from, to = i+1, n // of all
		}
		for ; from < to; from += size {
			list = append(list, pairPiece{i, from, min(from+size, to)})
		}
	}
	return list, wanted
}

// Stream works out the pairs and calls visit with one block after the other, by
// first fault and then by second, whatever GOMAXPROCS is. It returns early with
// ctx.Err() or with visit's error. visit is called from one goroutine at a time;
// meanwhile further blocks are worked out.
func (t *PairTable) Stream(ctx context.Context, o PairOptions, visit func(*PairBlock) error) (PairCounts, error) {
	var counts PairCounts
	if o.Involving != nil && len(o.Involving) != len(t.Faults) {
		return counts, fmt.Errorf("faults: Involving has %d entries for %d faults", len(o.Involving), len(t.Faults))
	}
	pieces, wanted := t.pieces(&o)
	workers := min(runtime.GOMAXPROCS(0), len(pieces))
	if workers == 0 {
		return counts, ctx.Err()
	}
	outer := ctx
	ctx, cancel := context.WithCancelCause(outer)
	// Who has a block takes the next piece for it, so that those that are being
	// worked out or wait for their turn are never more than blocks, and each has a
	// slot of its own to wait in.
	blocks := 2*workers + 2
	free, done := make(chan *PairBlock, blocks), make([]chan *PairBlock, blocks)
	for i := range done {
		done[i] = make(chan *PairBlock, 1)
		free <- &PairBlock{}
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel(nil) // before the wait
	stopped := func() error {
		if err := outer.Err(); err != nil {
			return err
		}
		return context.Cause(ctx)
	}
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w := t.newWorker(ctx, &o)
			for {
				var b *PairBlock
				select {
				case b = <-free:
				case <-ctx.Done():
					return
				}
				i := int(next.Add(1) - 1)
				if i >= len(pieces) {
					return
				}
				if err := w.block(pieces[i], wanted, b); err != nil {
					cancel(err)
					return
				}
				done[i%blocks] <- b
			}
		}()
	}
	for i := range pieces {
		select {
		case b := <-done[i%blocks]:
			counts.add(b)
			if err := visit(b); err != nil {
				return counts, err
			}
			free <- b
		case <-ctx.Done():
			return counts, stopped()
		}
		if ctx.Err() != nil {
			return counts, stopped()
		}
	}
	slices.SortStableFunc(counts.Reasons, func(a, b PairReason) int {
		return cmp.Or(cmp.Compare(a.Way, b.Way), cmp.Compare(b.Pairs, a.Pairs))
	})
	return counts, nil
}

// StreamPairs reads every pair of a catalogue's faults, see [PairTable.Stream].
func StreamPairs(ctx context.Context, c *netlist.Circuit, catalogue []*Fault, probes []Probe, in Instrument, o PairOptions, visit func(*PairBlock) error) (PairCounts, error) {
	t, err := NewPairTable(ctx, c, catalogue, probes, in)
	if err != nil {
		return PairCounts{}, err
	}
	return t.Stream(ctx, o, visit)
}
