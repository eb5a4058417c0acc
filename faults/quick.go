package faults

import "example.com/ohmloom/solve"

// Most second faults are one port, with the supply off. What they take off a reading
// beside a first fault is then the square of what a lead sees of them, in proportion to
// one number for each corner of the free ranges. So all that is asked of such a pair is
// found reading by reading, in one go, and given up with the second that is far off.

// quick tells whether the pair that has met is of that kind.
func (b *beside) quick() bool {
	for k, v := range b.s.views {
		if v.supply == solve.Idle || len(b.second[k].order) > 1 {
			return false
		}
	}
	return true
}

// square is the second fault in one view: by end of the first one's range (both alike where
// there is but one), and of its own.
type square struct {
	sees []float64 // by reading: what a lead sees of it, the first one's fixed ports in
	past []float64 // by reading: what it sees of the first one's last port
	pull [2]float64
	take [2][2]float64 // the reciprocal of what it stands for; 0 where it does nothing
	base [2][]float64  // by reading: ohms without it
}

// square works it out.
func (b *beside) square(k int, ends []int) (q square) {
	v, f, g := b.s.views[k], &b.first[k], &b.second[k]
	for a := range 2 {
		q.base[a] = f.ownAt[ends[min(a, len(ends)-1)]]
	}
	q.sees, q.past = v.nought, v.nought
	if len(g.order) == 0 {
		return q
	}
	t := g.thread
	q.sees = t.to[0]
	diag, fixed := t.fixed[0], f.fixed()
	if fixed > 0 {
		q.sees = g.t[0]
		copy(q.sees, t.to[0])
		for j := range fixed {
			x := g.z[j] / f.d[j]
			diag -= x * g.z[j]
			for i, w := range f.w[j] {
				q.sees[i] -= x * w
			}
		}
	}
	last := 0.0
	if f.free {
		last, q.past = g.z[fixed], f.w[fixed]
	}
	port := &t.ports[0].port
	for a := range 2 {
		q.pull[a] = last * f.share[ends[min(a, len(ends)-1)]]
		diag := diag - q.pull[a]*last
		for e := range 2 {
			d := 0.0
			if t.free < 0 {
				d = beyond(port, diag, t.limit[0])
			} else {
				d = beyond(port, diag, 0) + t.ends[e]
			}
			if d != 0 {
				q.take[a][e] = 1 / d
			}
		}
	}
	return q
}

// hold holds the pair that has met, of that kind, against all readings: which of the two
// faults changes none beside the other, and a bound of what both explain. Where that is
// less than enough, it may be given up; else low and high hold what is read, in ohms.
func (w *worker) hold(f, g int, ends []int, enough float64) (unseen uint8, bound float64) {
	s := w.s
	rail := s.rail[f] || s.rail[g]
	held := newBounded(s.e)
	far := 2 * (s.e.floor - s.sharp - enough)
	farther := far + 2*s.doubt
	first, second := s.same[f], s.same[g]
	first0, first1 := first[0], first[len(first)-1]
	second0, second1 := second[0], second[len(second)-1]
	noFirst, noSecond := true, true // neither is seen so far
	for k, v := range s.views {
		q := w.beside.square(k, ends)
		lead := v.meter.LeadOhms
		for _, at := range v.turn {
			i := v.probes[at]
			past := q.past[at]
			x, y := q.sees[at]-q.pull[0]*past, q.sees[at]-q.pull[1]*past
			x, y = x*x, y*y
			r, u := q.base[0][at]+lead, q.base[1][at]+lead
			r0, r1, u0, u1 := r-x*q.take[0][0], r-x*q.take[0][1], u-y*q.take[1][0], u-y*q.take[1][1]
			if noSecond {
				noSecond = first0[i].holds(r0) && first0[i].holds(r1) && first1[i].holds(u0) && first1[i].holds(u1)
			}
			if noFirst {
				noFirst = second0[i].holds(r0) && second0[i].holds(u0) && second1[i].holds(r1) && second1[i].holds(u1)
			}
			if r1 < r0 {
				r0, r1 = r1, r0
			}
			if u1 < u0 {
				u0, u1 = u1, u0
			}
			low, high := r0, r1
			if u0 < low {
				low = u0
			}
			if u1 > high {
				high = u1
			}
			w.low[i], w.high[i] = low, high
			want, over := s.e.y[i], s.e.readings[i].Value.OL
			near := 0.0
			switch read := s.raw[i]; {
			case read > high:
				near = s.ohmsOnScale(high)
			case read < low && !over: // OL is anything above, too
				near = s.ohmsOnScale(low)
			default:
				continue
			}
			if over {
				want = s.e.overFrom
			}
			held.add(i, (want-near)*(want-near)/s.loose.variance(s.e, i, near, rail))
			if held.worst > far && held.second > farther && !noFirst && !noSecond {
				return 0, held.log() - s.sharp
			}
		}
	}
	if noFirst {
		unseen |= firstUnseen
	}
	if noSecond {
		unseen |= secondUnseen
	}
	return unseen, held.log() - s.sharp
}
