package faults

import (
	"slices"

	"example.com/ohmloom/solve"
)

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

// load takes a set, which is seen from ports where it can be.
func (w *workSet) load(members []int) {
	w.ready, w.rail = nil, false
	w.slow = !w.tie(members)
	for _, i := range members {
		w.rail = w.rail || w.h.r.search.rail[i]
	}
	if w.slow {
		w.line(members)
	}
}

// tie sees a set from ports; false where nets have to be assembled.
func (w *workSet) tie(members []int) bool {
	h := w.h
	w.buses, w.highs = w.buses[:0], w.highs[:0]
	rail, unplugs := false, 0
	var off []int
	for _, i := range members {
		if !h.able[i] {
			return false
		}
		rail = rail || h.r.search.rail[i]
		off = append(off, h.off[i]...)
		for _, ch := range h.r.x.faults[i].base {
			if _, ok := ch.(solve.Unplug); ok {
				unplugs++
			}
		}
	}
	if unplugs > 1 {
		return false // together they may take the ground from one more module
	}
	for k := range h.views {
		v := &h.views[k]
		bus, ok := v.tie(w.knots[k], members, off)
		if !ok {
			return false
		}
		w.buses = append(w.buses, bus)
		if !rail || v.high == nil {
			continue
		}
		if bus, ok = v.high.tie(w.above[k], members, off); !ok {
			return false
		}
		w.highs = append(w.highs, bus)
	}
	return true
}

// tie puts a set's faults together in a view, and gives the bus that they bend: without
// what supplies the units off.
func (v *workView) tie(k *knot, members, off []int) (*solve.Bus, bool) {
	threads := make([]*thread, len(members))
	for n, i := range members {
		threads[n] = v.v.threads[i]
	}
	bus := v.g.bus
	if len(off) > 0 {
		bus = bus.WithoutSupply(off...)
	}
	return bus, k.tie(v.v, threads...)
}

// line puts a set in the order in which nets are made of it: the one with free ohms first,
// which are set without a net of their own.
func (w *workSet) line(members []int) {
	list := w.h.r.x.faults
	w.order, w.faults = w.order[:0], w.faults[:0]
	for _, free := range []bool{true, false} {
		for k, i := range members {
			if (list[i].Free != nil) == free {
				w.order = append(w.order, k)
				w.faults = append(w.faults, list[i])
			}
		}
	}
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
