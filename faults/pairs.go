package faults

import (
	"cmp"
	"math"
	"slices"
)

// pairs looks at every pair. seeds are wanted where three at once are to be grown from the
// best of those that are ruled out.
func (s *search) pairs(to *Searched, seeding bool) (open, seeds []found, unseen *unseenSeconds) {
	n := len(s.faults)
	type result struct {
		open, seeds        []found
		ruled, pairs, lost int
	}
	results := make([]result, n)
	unseen = &unseenSeconds{of: make([][]uint8, n)}
	for f := range unseen.of {
		if s.able[f] {
			unseen.of[f] = make([]uint8, n-f)
		}
	}
	order := s.byPorts()
	s.spread(n, func(w *worker, i int) {
		r, f := &results[i], order[i]
		if !s.able[f] {
			r.pairs += n - 1 - i
			r.lost += n - 1 - i
			return
		}
		steps := s.steps[f]
		if steps == nil {
			steps = s.ohms[f]
		}
		w.beside.begin(f, steps)
		var names []int       // of sets that are kept
		least := math.Inf(-1) // score that a seed must have
		ends := s.ends(f)
		for _, g := range order[i+1:] {
			r.pairs++
			if !s.able[g] {
				r.lost++
				continue
			}
			if !w.beside.meet(g) {
				r.pairs-- // two faults of one contact exclude each other
				continue
			}
			x := found{prior: s.prior + s.rates[f] + s.rates[g]}
			enough := s.floor - x.prior
			if seeding {
				enough = math.Inf(-1) // all readings count then
			}
			hidden := w.faint(f, g, ends)
			quick := hidden == 0 && w.beside.quick()
			if quick {
				hidden, x.bound = w.hold(f, g, ends, enough)
			} else if hidden == 0 {
				hidden = w.unseen(f, g, ends)
			}
			if hidden != 0 {
				if s.work == nil || !s.work.opens(f, g, hidden) {
					unseen.set(f, g, hidden)
					continue
				}
				w.boxBeside(g, ends)
				quick = false
			}
			w.members = append(w.members[:0], f, g)
			w.rail = s.rail[f] || s.rail[g]
			if !quick {
				x.bound = w.boundRaw(enough)
			}
			if x.prior+x.bound >= s.floor {
				if quick {
					w.beside.with()
				}
				w.sketchPair(&x)
			} else if seeding {
				s.onScale(w.low)
				s.onScale(w.high)
				x.score = x.prior + w.explains()
			}
			if x.prior+x.bound < s.floor {
				r.ruled++
				if !seeding || x.score <= least {
					continue
				}
			}
			if len(names)+2 > cap(names) {
				names = make([]int, 0, 128)
			}
			at := len(names)
			names = append(names, min(f, g), max(f, g))
			x.members = names[at : at+2 : at+2]
			if x.prior+x.bound >= s.floor {
				if s.work != nil {
					x.worth = s.work.hint(f, g)
					x.score += x.worth
				}
				r.open = append(r.open, x)
				continue
			}
			if r.seeds = append(r.seeds, x); len(r.seeds) == 3*mostSeeds {
				sortFound(r.seeds)
				r.seeds = r.seeds[:mostSeeds]
				least = r.seeds[mostSeeds-1].score
			}
		}
		if len(r.seeds) > mostSeeds {
			sortFound(r.seeds)
			r.seeds = r.seeds[:mostSeeds]
		}
	})
	opened := 0
	for i := range results {
		opened += len(results[i].open)
	}
	open = make([]found, 0, opened)
	for i := range results {
		r := &results[i]
		open, seeds = append(open, r.open...), append(seeds, r.seeds...)
		to.Pairs += r.pairs
		to.RuledOut += r.ruled
		to.NotSeen += r.lost
	}
	to.Unseen += unseen.total(s.faults)
	return open, seeds, unseen
}

// byPorts orders faults by how many ports they have, most first: of a pair the other is
// the second then, which is looked at more quickly if it has but one ([beside.quick]).
func (s *search) byPorts() []int {
	ports := make([]int, len(s.faults))
	order := make([]int, len(s.faults))
	for i := range order {
		order[i] = i
		for _, v := range s.views {
			if t := v.threads[i]; t != nil {
				ports[i] = max(ports[i], len(t.ports))
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ports[b], ports[a]) })
	return order
}

// Of a pair, which changes no reading beside the other.
const (
	firstUnseen uint8 = 1 << iota
	secondUnseen
)

// faint tells which of the two faults that have met surely changes no reading beside the
// other, from a few numbers: what changes nothing alone mostly does not beside another.
func (w *worker) faint(f, g int, ends []int) uint8 {
	s := w.s
	either := func(other int) uint8 {
		if s.quiet[other] {
			return firstUnseen | secondUnseen
		}
		return 0
	}
	if s.quiet[g] && w.beside.faintSecond(s.tiny, ends, s.ohms[g]) {
		return secondUnseen | either(f)
	}
	if s.quiet[f] && w.beside.faintFirst(s.tiny, ends, s.ohms[g]) {
		return firstUnseen | either(g)
	}
	return 0
}

// unseen tells which of the two faults that have met changes no reading beside the
// other. Where both do, low and high hold the bounds of what is read, not yet on the
// scale.
func (w *worker) unseen(f, g int, ends []int) (out uint8) {
	s := w.s
	w.beside.with()
	out = firstUnseen | secondUnseen
	n := len(w.out)
	low, high := w.low[:n], w.high[:n]
	w.ends = sized(w.ends, 2*n)
	least, most := w.ends[:n], w.ends[n:]
	for a, at := range ends {
		w.beside.between(at, s.ohms[g], least, most)
		if out&secondUnseen != 0 && !(within(least, s.same[f][a]) && within(most, s.same[f][a])) {
			out &^= secondUnseen
		}
		for b, ohms := range s.ohms[g] {
			if out&firstUnseen == 0 {
				break
			}
			w.beside.raw(at, ohms, w.out)
			if !within(w.out, s.same[g][b]) {
				out &^= firstUnseen
			}
		}
		if a == 0 {
			copy(low, least)
			copy(high, most)
			continue
		}
		for i := range low {
			if x := least[i]; x < low[i] {
				low[i] = x
			}
			if x := most[i]; x > high[i] {
				high[i] = x
			}
		}
	}
	return out
}

// boxBeside sets low and high to the bounds of what the two faults that have met read, not
// yet on the scale.
func (w *worker) boxBeside(g int, ends []int) {
	w.beside.with()
	w.clear()
	for _, at := range ends {
		for _, ohms := range w.s.ohms[g] {
			w.beside.raw(at, ohms, w.out)
			for i, y := range w.out {
				w.low[i], w.high[i] = min(w.low[i], y), max(w.high[i], y)
			}
		}
	}
}

func within(list []float64, bands []band) bool {
	for i, x := range list {
		if !bands[i].holds(x) {
			return false
		}
	}
	return true
}
