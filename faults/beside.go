package faults

import (
	"math"

	"example.com/ohmloom/solve"
)

// beside reads every second fault beside a first. The first is eliminated once from
// what the leads and all ports see; its free resistance is left to the end, so that
// other ohms change one number. A second fault then costs a few multiplications a
// reading. It gives what a [knot] of the two gives.
type beside struct {
	s      *search
	first  []firstSeen  // by view
	second []secondSeen // by view
	at     int          // which ohms of the first the second is eliminated at, or −1
	steps  []float64    // those ohms
}

// firstSeen is the first fault in one view, its ports eliminated one after the other,
// the one with free ohms last.
type firstSeen struct {
	ports []*seenPort
	free  bool        // the last port has them
	l     [][]float64 // by port and earlier port
	d     []float64   // by port; the last one's without the free ohms
	u     []float64   // by port: its volts, the earlier ones eliminated
	w     [][]float64 // by port and reading, likewise
	most  []float64   // by port: the greatest of them
	// own and volts are the leads' with all but the last port eliminated; ownAt and
	// voltsAt with it as well, by its ohms, of which share is the reciprocal.
	own, volts     []float64
	ownAt, voltsAt [][]float64
	share          []float64
}

// secondSeen is the second fault, the first one eliminated: but for its last port, and
// (with at) with that too.
type secondSeen struct {
	order           []int // its ports, the one with free ohms last
	free            bool
	thread          *thread
	z               []float64 // by port and port of the first: the resistance between them
	last            []float64 // by port: how it sees the first one's last port
	diag, volts     []float64
	t               [][]float64 // by port and reading
	cross           [][]float64
	diagAt, voltsAt []float64
	tAt             [][]float64
	crossAt         [][]float64
	// own and lead are ohms and volts by reading with all but the last port eliminated,
	// the first fault's where there is nothing to eliminate.
	own, lead           []float64
	ownSpace, leadSpace []float64
}

func newBeside(s *search) *beside {
	b := &beside{s: s, first: make([]firstSeen, len(s.views)), second: make([]secondSeen, len(s.views))}
	for k, v := range s.views {
		g, m, n := &b.second[k], v.most, len(v.probes)
		g.last, g.diag, g.volts = make([]float64, m), make([]float64, m), make([]float64, m)
		g.diagAt, g.voltsAt = make([]float64, m), make([]float64, m)
		g.t, g.cross, g.tAt, g.crossAt = rows(nil, m, n), rows(nil, m, m), rows(nil, m, n), rows(nil, m, m)
		g.ownSpace, g.leadSpace = make([]float64, n), make([]float64, n)
	}
	return b
}

// sized is a slice of n numbers in the space of an earlier one, where that is enough.
func sized(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n, 2*n)
	}
	return x[:n]
}

func rows(x [][]float64, rows, columns int) [][]float64 {
	if cap(x) < rows {
		x = append(x[:cap(x)], make([][]float64, rows-cap(x))...)
	}
	x = x[:rows]
	for i := range x {
		x[i] = sized(x[i], columns)
	}
	return x
}

// ordered gives a thread's ports, the one with free ohms last.
func (t *thread) ordered() (order []int, free bool) {
	if t == nil {
		return nil, false
	}
	return t.order, t.free >= 0
}

// begin makes a first fault ready, at several ohms.
func (b *beside) begin(fault int, ohms []float64) {
	b.at, b.steps = -1, ohms
	for k, v := range b.s.views {
		f, t := &b.first[k], v.threads[fault]
		n := len(v.probes)
		var order []int
		order, f.free = t.ordered()
		m := len(order)
		f.ports = f.ports[:0]
		f.l, f.w = rows(f.l, m, m), rows(f.w, m, n)
		f.d, f.u, f.most = sized(f.d, m), sized(f.u, m), sized(f.most, m)
		f.own, f.volts = sized(f.own, n), sized(f.volts, n)
		for q := range v.rail {
			f.own[q], f.volts[q] = v.rail[q].own, v.rail[q].volts
		}
		for i, p := range order {
			port := &t.ports[p]
			f.ports = append(f.ports, port)
			d, u := t.fixed[p], port.volts
			copy(f.w[i], t.to[p])
			for j := range i {
				x := v.of(port, f.ports[j])
				for c := range j {
					x -= f.l[i][c] * f.l[j][c] * f.d[c]
				}
				x /= f.d[j]
				f.l[i][j] = x
				d -= x * x * f.d[j]
				u -= x * f.u[j]
				for q, w := range f.w[j] {
					f.w[i][q] -= x * w
				}
			}
			d = beyond(&port.port, d, t.limit[p])
			if d == 0 && (i < m-1 || !f.free) {
				d = math.Inf(1) // does nothing beside the others
			}
			f.d[i], f.u[i], f.most[i] = d, u, greatest(f.w[i])
			if i < m-1 || !f.free {
				for q, w := range f.w[i] {
					f.own[q] -= w * w / d
					f.volts[q] -= w * u / d
				}
			}
		}
		f.ownAt, f.voltsAt = rows(f.ownAt, len(ohms), n), rows(f.voltsAt, len(ohms), n)
		f.share = sized(f.share, len(ohms))
		for a, x := range ohms {
			copy(f.ownAt[a], f.own)
			copy(f.voltsAt[a], f.volts)
			f.share[a] = 0
			if !f.free {
				continue
			}
			d := f.d[m-1] + v.ports.Free(&f.ports[m-1].port, x)
			if d == 0 {
				continue
			}
			f.share[a] = 1 / d
			for q, w := range f.w[m-1] {
				f.ownAt[a][q] -= w * w * f.share[a]
				f.voltsAt[a][q] -= w * f.u[m-1] * f.share[a]
			}
		}
	}
}

// meet takes a second fault; false where the two cannot be together.
func (b *beside) meet(fault int) bool {
	b.at = -1
	for k, v := range b.s.views {
		f, g, t := &b.first[k], &b.second[k], v.threads[fault]
		g.thread = t
		g.order, g.free = t.ordered()
		m, before := len(g.order), len(f.ports)
		if m == 0 {
			continue
		}
		if m+before > most {
			return false
		}
		g.z = sized(g.z, m*before)
		for i, p := range g.order {
			port := &t.ports[p]
			z := g.z[i*before : (i+1)*before]
			for j, other := range f.ports {
				if port.port.SameBranch(&other.port) {
					return false
				}
				x := v.of(port, other)
				for c := range j {
					x -= f.l[j][c] * z[c]
				}
				z[j] = x
			}
		}
	}
	return true
}

// with makes the second fault that was met ready to be read.
func (b *beside) with() {
	for k, v := range b.s.views {
		f, g := &b.first[k], &b.second[k]
		t, before := g.thread, len(f.ports)
		fixed := f.fixed()
		for i, p := range g.order {
			port := &t.ports[p]
			z := g.z[i*before : (i+1)*before]
			g.diag[i], g.volts[i] = t.fixed[p], port.volts
			row := g.t[i]
			copy(row, t.to[p])
			for j := range fixed {
				x := z[j] / f.d[j]
				g.diag[i] -= x * z[j]
				g.volts[i] -= x * f.u[j]
				for q, w := range f.w[j] {
					row[q] -= x * w
				}
			}
			if g.last[i] = 0; f.free {
				g.last[i] = z[before-1]
			}
			for h := range i {
				x := v.of(port, &t.ports[g.order[h]])
				y := g.z[h*before : (h+1)*before]
				for j := range fixed {
					x -= z[j] * y[j] / f.d[j]
				}
				g.cross[i][h] = x
			}
		}
	}
}

// fixed is how many ports of the first are eliminated whatever its ohms are.
func (f *firstSeen) fixed() int {
	if f.free {
		return len(f.ports) - 1
	}
	return len(f.ports)
}

// faintSecond tells, from a few numbers and without a look at any reading, whether the
// second fault surely changes none beside the first by as much as tiny on the scale, with
// the ohms at the ends of both ranges. It may say no where that is so.
func (b *beside) faintSecond(tiny float64, ends []int, ohms []float64) bool {
	for k, v := range b.s.views {
		f, g := &b.first[k], &b.second[k]
		if len(g.order) == 0 {
			continue
		}
		if len(g.order) > 1 {
			return false
		}
		t := g.thread
		port := &t.ports[0]
		sees, diag, volts := t.most, t.fixed[0], port.volts
		fixed := f.fixed()
		for j := range fixed {
			x := g.z[j] / f.d[j]
			sees += math.Abs(x) * f.most[j]
			diag -= x * g.z[j]
			volts -= x * f.u[j]
		}
		for _, at := range ends {
			sees, diag, volts := sees, diag, volts
			if f.free {
				x := g.z[fixed] * f.share[at]
				sees += math.Abs(x) * f.most[fixed]
				diag -= x * g.z[fixed]
				volts -= x * f.u[fixed]
			}
			for _, ohms := range ohms {
				if !tinyEffect(v, &port.port, sees, volts, t.alone(v, diag, ohms), tiny) {
					return false
				}
			}
		}
	}
	return true
}

// faintFirst is the same of the first fault beside the second.
func (b *beside) faintFirst(tiny float64, ends []int, ohms []float64) bool {
	for k, v := range b.s.views {
		f, g := &b.first[k], &b.second[k]
		if len(f.ports) == 0 {
			continue
		}
		if len(f.ports) > 1 || len(g.order) > 1 {
			return false
		}
		for _, ohms := range ohms {
			sees, volts, less := f.most[0], f.u[0], 0.0
			if len(g.order) == 1 {
				t := g.thread
				if d := t.alone(v, t.fixed[0], ohms); d != 0 {
					x := g.z[0] / d
					sees += math.Abs(x) * t.most
					volts -= x * t.ports[0].volts
					less = x * g.z[0]
				}
			}
			for _, at := range ends {
				port := &f.ports[0].port
				var d float64
				if f.free {
					d = beyond(port, f.d[0]-less, 0) + v.ports.Free(port, b.steps[at])
				} else {
					d = f.d[0] - less
				}
				if !tinyEffect(v, port, sees, volts, d, tiny) {
					return false
				}
			}
		}
	}
	return true
}

// alone is what a thread of one port has for its own resistance with ohms in it, diag
// being what it sees without free ones.
func (t *thread) alone(v *view, diag, ohms float64) float64 {
	port := &t.ports[0].port
	if t.free < 0 {
		return beyond(port, diag, t.limit[0])
	}
	return beyond(port, diag, 0) + v.ports.Free(port, ohms)
}

// tinyEffect tells whether a port that no lead sees by more than sees ohms, and that
// stands d for itself, changes no reading by tiny: the scale moves by at most one in
// scaleOhms for each ohm, shown volts by less.
func tinyEffect(v *view, port *solve.Port, sees, volts, d, tiny float64) bool {
	if d == 0 {
		return true // does nothing beside the other
	}
	effect := sees * sees / scaleOhms
	if v.supply == solve.Idle {
		effect += sees * math.Abs(volts)
	}
	return effect < tiny*math.Abs(d)
}

// greatest is the greatest absolute value.
func greatest(list []float64) float64 {
	out := 0.0
	for _, x := range list {
		out = max(out, math.Abs(x))
	}
	return out
}

// eliminate makes the second fault ready for one of the first one's ohms.
func (b *beside) eliminate(at int) {
	b.at = at
	for k := range b.s.views {
		f, g := &b.first[k], &b.second[k]
		m := len(g.order)
		g.own, g.lead = f.ownAt[at], f.voltsAt[at]
		if m == 0 {
			continue
		}
		share := f.share[at]
		for i := range m {
			x := g.last[i] * share
			g.diagAt[i], g.voltsAt[i] = g.diag[i], g.volts[i]
			for h := range i {
				g.crossAt[i][h] = g.cross[i][h] - x*g.last[h]
			}
			if x == 0 {
				copy(g.tAt[i], g.t[i])
				continue
			}
			g.diagAt[i] -= x * g.last[i]
			g.voltsAt[i] -= x * f.u[len(f.u)-1]
			row := g.tAt[i]
			w := f.w[len(f.w)-1]
			for q, y := range g.t[i] {
				row[q] = y - x*w[q]
			}
		}
		fixed := m
		if g.free {
			fixed--
		}
		if fixed > 0 {
			copy(g.ownSpace, g.own)
			copy(g.leadSpace, g.lead)
			g.own, g.lead = g.ownSpace, g.leadSpace
		}
		for i := range fixed {
			d := beyond(&g.thread.ports[g.order[i]].port, g.diagAt[i], g.thread.limit[g.order[i]])
			if d == 0 {
				continue // does nothing beside the others
			}
			row, u := g.tAt[i], g.voltsAt[i]
			for q, w := range row {
				x := w / d
				g.own[q] -= w * x
				g.lead[q] -= u * x
			}
			for h := i + 1; h < m; h++ {
				x := g.crossAt[h][i] / d
				if x == 0 {
					continue
				}
				g.diagAt[h] -= x * g.crossAt[h][i]
				g.voltsAt[h] -= x * u
				for r := i + 1; r < h; r++ {
					g.crossAt[h][r] -= x * g.crossAt[r][i]
				}
				later := g.tAt[h]
				for q, w := range row {
					later[q] -= x * w
				}
			}
		}
	}
}

// between gives the least and the greatest of each reading, not on the scale, with the first
// fault at one of its ohms and the second anywhere between the ends of its range.
func (b *beside) between(at int, ends []float64, low, high []float64) {
	if b.at != at {
		b.eliminate(at)
	}
	for k, v := range b.s.views {
		g := &b.second[k]
		n := len(v.probes)
		own := g.own[:n]
		if v.supply != solve.Idle {
			// What the second fault takes away is in proportion to one number.
			least, most := 0.0, 0.0
			var t []float64
			if g.free && len(g.order) > 0 {
				least, most = b.share(k, ends[0]), b.share(k, ends[len(ends)-1])
				if least > most {
					least, most = most, least
				}
				t = g.tAt[len(g.order)-1][:n]
			}
			lead := v.meter.LeadOhms
			for q, i := range v.probes {
				x := own[q] + lead
				if t == nil {
					low[i], high[i] = x, x
					continue
				}
				y := t[q] * t[q]
				low[i], high[i] = x-y*most, x-y*least
			}
			continue
		}
		for e, ohms := range ends {
			share := 0.0
			var t []float64
			if g.free && len(g.order) > 0 {
				share, t = b.share(k, ohms), g.tAt[len(g.order)-1]
			}
			for q, i := range v.probes {
				across, volts := own[q], g.lead[q]
				if t != nil {
					x := t[q] * share
					across -= t[q] * x
					volts -= g.voltsAt[len(g.order)-1] * x
				}
				x := v.meter.Shown(solve.Volts, max(across, 0), volts).Number
				if e == 0 {
					low[i], high[i] = x, x
				} else {
					low[i], high[i] = min(low[i], x), max(high[i], x)
				}
			}
		}
	}
}

// share is the reciprocal of what the second fault's last port stands for in a view, with
// ohms in it; 0 where it does nothing beside the others.
func (b *beside) share(view int, ohms float64) float64 {
	v, g := b.s.views[view], &b.second[view]
	last := len(g.order) - 1
	port := &g.thread.ports[g.order[last]].port
	if d := beyond(port, g.diagAt[last], 0) + v.ports.Free(port, ohms); d != 0 {
		return 1 / d
	}
	return 0
}

// raw gives all readings, not on the scale: ohms, and volts as shown; with the first fault
// at one of its ohms and the second at any.
func (b *beside) raw(at int, ohms float64, out []float64) {
	if b.at != at {
		b.eliminate(at)
	}
	for k, v := range b.s.views {
		g := &b.second[k]
		n := len(v.probes)
		share, u := 0.0, 0.0
		var t []float64
		if g.free && len(g.order) > 0 {
			last := len(g.order) - 1
			share, u, t = b.share(k, ohms), g.voltsAt[last], g.tAt[last][:n]
		}
		own := g.own[:n]
		if v.supply != solve.Idle {
			lead := v.meter.LeadOhms
			if t == nil {
				for q, i := range v.probes {
					out[i] = own[q] + lead
				}
				continue
			}
			for q, i := range v.probes {
				out[i] = own[q] - t[q]*t[q]*share + lead
			}
			continue
		}
		for q, i := range v.probes {
			across, volts := own[q], g.lead[q]
			if t != nil {
				x := t[q] * share
				across -= t[q] * x
				volts -= u * x
			}
			out[i] = v.meter.Shown(solve.Volts, max(across, 0), volts).Number
		}
	}
}
