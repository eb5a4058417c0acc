package faults

import (
	"cmp"
	"context"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// PairTestability is how well readings find and tell apart two faults at once, each
// at its typical free value. A pair counts with the product of its faults' rates.
type PairTestability struct {
	// Faults of the catalogue; Pairs that were counted; Left that have no reading of
	// some probe (see [PairOptions.NoFresh]) and Impossible ones, both not counted.
	Faults, Pairs, Left, Impossible int
	// Detected is the fraction of pairs detected: those with a reading that no
	// healthy harness gives. Undetected counts the others.
	Detected   float64
	Undetected int
	// Groups is the number of ambiguity groups among the detected pairs and the
	// detected single faults, see [PairGroups].
	Groups int
	// IsolatedTo1 and IsolatedTo3 are the fractions of detected pairs in a group of
	// one, and of three at most, single faults counted as members. IsolatedToParts
	// is that of pairs in groups of which all members name the same parts to repair.
	IsolatedTo1, IsolatedTo3, IsolatedToParts float64
	// LikeOne is the fraction of detected pairs that look like some single fault;
	// Hidden that of those which look like one of their own two faults, so that the
	// other shows when that is mended.
	LikeOne, Hidden float64
	// Largest are the largest groups, the largest first.
	Largest []PairGroup
	// Worked says how the pairs' readings were had.
	Worked PairCounts
}

// PairGroup is pairs that look alike.
type PairGroup struct {
	// Pairs and Singles in the group; First is a pair of it, by index of the
	// catalogue; Single is a single fault of it, −1 for none.
	Pairs, Singles int
	First          [2]int
	Single         int
}

// PairGroups sums up a stream of pairs, with no reading kept: which pairs and single
// faults look alike. Each reading is put into a cell, as wide as the band that holds
// 95 % of healthy harnesses (on the scale on which readings are compared), with that
// band for the middle cell; what falls into the same cell in every reading is one
// group. So two of a group differ by less than a band in every reading; and two that
// differ by a share of a band are parted with about that share for a chance, so that
// groups come out somewhat smaller than by [Table.ToldApart], and what is isolated
// somewhat more. A group is kept as 64 bits: among a million, two fall together by
// mistake with a chance of 3 in 10⁸. It holds some 100 bytes for each group.
type PairGroups struct {
	t      *PairTable
	cells  []pairCell
	alone  []uint64 // by fault; 0 where it is not detected
	index  map[uint64]int32
	groups []pairSum
	part   []int32

	all, detected, likeOne, hidden float64
	out                            PairTestability
}

// pairCell is where a probe's readings belong.
type pairCell struct {
	quantity    solve.Quantity
	low, high   float64 // worst healthy readings, on the scale
	middle, per float64 // cells on the scale: (y − middle) · per
}

type pairSum struct {
	rate           float64
	pairs, singles int32
	first          [2]int32
	single         int32
	parts          int64
	mixed          bool
}

// NewPairGroups makes the cells, and puts the single faults into them.
func NewPairGroups(t *PairTable) (*PairGroups, error) {
	healthy, err := MakeTable(t.Circuit, nil, t.Probes, t.Instrument, nil)
	if err != nil {
		return nil, err
	}
	s := &PairGroups{t: t, index: map[uint64]int32{}}
	for i, p := range t.Probes {
		b := &healthy.Bands[i]
		s.cells = append(s.cells, pairCell{p.Quantity, b.worst.low, b.worst.high, (b.likely.low + b.likely.high) / 2, 1 / (b.likely.high - b.likely.low)})
	}
	parts := map[string]int32{}
	for _, f := range t.Faults {
		if _, known := parts[f.Part]; !known {
			parts[f.Part] = int32(len(parts))
		}
		s.part = append(s.part, parts[f.Part])
	}
	s.out.Faults = len(t.Faults)
	for i := range t.Faults {
		key, seen := s.look(t.Alone(i))
		s.alone = append(s.alone, key)
		if seen {
			g := s.group(key, s.part[i], s.part[i])
			if g.singles == 0 {
				g.single = int32(i)
			}
			g.singles++
		}
	}
	return s, nil
}

// look gives the group that readings belong to, 0 for none, and whether they are
// ones that no healthy harness gives.
func (s *PairGroups) look(readings []float64) (key uint64, detected bool) {
	key = 0x9e3779b97f4a7c15
	for i := range s.cells {
		c := &s.cells[i]
		y := readings[i]
		if c.quantity == solve.Ohms {
			// onScale, for OL as +Inf
			if y = max(y, 0); y > math.MaxFloat64 {
				y = 1
			} else {
				y = ohmsOnScale(y)
			}
		}
		if y != y {
			return 0, false
		}
		if y < c.low || y > c.high {
			detected = true
		}
		cell := int64(math.Floor((y-c.middle)*c.per + 0.5))
		key = (key ^ uint64(cell)) * 0xbf58476d1ce4e5b9
		key ^= key >> 29
	}
	if !detected {
		return 0, false
	}
	return max(key, 1), true
}

func (s *PairGroups) group(key uint64, a, b int32) *pairSum {
	parts := int64(min(a, b))<<32 | int64(max(a, b))
	at, known := s.index[key]
	if !known {
		at = int32(len(s.groups))
		s.index[key] = at
		s.groups = append(s.groups, pairSum{single: -1, first: [2]int32{-1, -1}, parts: parts})
	}
	g := &s.groups[at]
	g.mixed = g.mixed || g.parts != parts
	return g
}

// Add takes a block in; it may be given to [PairTable.Stream] as it is.
func (s *PairGroups) Add(b *PairBlock) error {
	for i, second := range b.Second {
		switch b.Ways[i] {
		case PairLeft:
			s.out.Left++
			continue
		case PairImpossible:
			s.out.Impossible++
			continue
		}
		rate := s.t.Faults[b.First].Rate * s.t.Faults[second].Rate
		s.out.Pairs++
		s.all += rate
		key, seen := s.look(b.Readings(i))
		if !seen {
			s.out.Undetected++
			continue
		}
		s.detected += rate
		if key == s.alone[b.First] || key == s.alone[second] {
			s.hidden += rate
		}
		g := s.group(key, s.part[b.First], s.part[second])
		if g.pairs == 0 {
			g.first = [2]int32{int32(b.First), int32(second)}
		}
		g.pairs++
		g.rate += rate
		if g.singles > 0 {
			s.likeOne += rate
		}
	}
	return nil
}

// Result sums up what was added; largest is how many groups to name.
func (s *PairGroups) Result(largest int) PairTestability {
	out := s.out
	share := func(x, of float64) float64 {
		if of == 0 {
			return 0
		}
		return x / of
	}
	var to1, to3, toParts float64
	for i := range s.groups {
		g := &s.groups[i]
		n := g.pairs + g.singles
		if n == 1 {
			to1 += g.rate
		}
		if n <= 3 {
			to3 += g.rate
		}
		if !g.mixed {
			toParts += g.rate
		}
	}
	out.Groups = len(s.groups)
	out.Detected = share(s.detected, s.all)
	out.IsolatedTo1, out.IsolatedTo3, out.IsolatedToParts = share(to1, s.detected), share(to3, s.detected), share(toParts, s.detected)
	out.LikeOne, out.Hidden = share(s.likeOne, s.detected), share(s.hidden, s.detected)
	order := make([]int, len(s.groups))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(s.groups[b].pairs, s.groups[a].pairs) })
	for _, i := range order[:min(largest, len(order))] {
		if g := &s.groups[i]; g.pairs > 0 {
			out.Largest = append(out.Largest, PairGroup{
				Pairs: int(g.pairs), Singles: int(g.singles), Single: int(g.single), First: [2]int{int(g.first[0]), int(g.first[1])},
			})
		}
	}
	return out
}

// AnalysePairs weighs a layout as [Matcher.AnalyseLayout] does, for two faults at
// once: ohms with all plugged in and with each connector apart, and idle volts, at
// places that are reached within so many minutes (0 for all that can be reached).
// What needs a net of its own is left out and counted. progress, where it is not nil,
// is called now and then with how many of how many pairs are done.
func (x *Matcher) AnalysePairs(ctx context.Context, within float64, largest int, progress func(done, of int)) (*PairTestability, error) {
	var probes []Probe
	for _, p := range layoutProbes(x.c) {
		if s, ok := x.c.Site(p.Site); ok && reached(s, within) {
			probes = append(probes, p)
		}
	}
	t, err := NewPairTable(ctx, x.c, x.faults, probes, x.in)
	if err != nil {
		return nil, err
	}
	s, err := NewPairGroups(t)
	if err != nil {
		return nil, err
	}
	done, of := 0, len(x.faults)*(len(x.faults)-1)/2
	counts, err := t.Stream(ctx, PairOptions{NoFresh: true}, func(b *PairBlock) error {
		if done += len(b.Second); progress != nil {
			progress(done, of)
		}
		return s.Add(b)
	})
	if err != nil {
		return nil, err
	}
	out := s.Result(largest)
	out.Worked = counts
	return &out, nil
}

// layoutProbes are the readings that a layout is judged by.
func layoutProbes(c *netlist.Circuit) []Probe {
	var out []Probe
	for _, sel := range []Selection{{Unreachable: true}, {Unplugged: true}, {Quantity: solve.Volts, Unreachable: true}} {
		out = append(out, Probes(c, sel)...)
	}
	return out
}

// reached tells whether a place is reached within so many minutes, 0 for any time.
func reached(s *netlist.Site, within float64) bool {
	return s.Reachable && (within == 0 || s.ReachMin <= within)
}
