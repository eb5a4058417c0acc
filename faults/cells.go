package faults

import (
	"math"
	"slices"
)

// cell is a box of free values.
type cell struct {
	low, high [3]float64 // natural logarithms of ohms
	ohms      [3][2]float64
	// corners are points of the parting; bit d of the index says which end of free value
	// d a corner has.
	corners [8]int32
	log     float64 // likelihood at its middle
	bound   float64 // of it anywhere inside
	least   float64 // at the corners
	size    float64 // log of its volume
	depth   int
}

// most is the log of the most that a cell can add to the integral.
func (c *cell) most() float64 { return c.bound + c.size }

// cells are a heap, the cell on top that may hold the most.
type cells []cell

func (c *cells) push(x cell) {
	*c = append(*c, x)
	h := *c
	for i := len(h) - 1; i > 0; {
		up := (i - 1) / 2
		if h[up].most() >= h[i].most() {
			break
		}
		h[up], h[i] = h[i], h[up]
		i = up
	}
}

func (c *cells) pop() cell {
	h := *c
	top, last := h[0], len(h)-1
	h[0] = h[last]
	h = h[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			break
		}
		if down+1 < last && h[down+1].most() > h[down].most() {
			down++
		}
		if h[i].most() >= h[down].most() {
			break
		}
		h[i], h[down] = h[down], h[i]
		i = down
	}
	*c = h
	return top
}

// upper is the log of the most that the cells of a heap can add up to.
func (c cells) upper() float64 {
	if len(c) == 0 {
		return math.Inf(-1)
	}
	top, sum := c[0].most(), 0.0
	for i := range c {
		sum += math.Exp(c[i].most() - top)
	}
	return top + math.Log(sum)
}

// parting parts the free values of what a worker has loaded into cells. A reading lies
// between those at a cell's corners, and two halves of a cell share theirs.
type parting struct {
	w      *worker
	free   []int // members with free ohms
	all    cell
	volume float64 // log of the volume of all
	points []float64
	plain  []float64 // by point: its log likelihood, none of the readings doubted
	open   cells
	done   []cell
}

// part begins with all of the ranges.
func (w *worker) part() *parting {
	p := &w.parting
	p.w, p.free, p.all, p.volume = w, p.free[:0], cell{}, 0
	for k, i := range w.members {
		w.ohms[k] = w.s.ohms[i][0]
		if f := w.s.faults[i].Free; f != nil {
			d := len(p.free)
			p.all.low[d], p.all.high[d] = math.Log(f.Min), math.Log(f.Max)
			p.all.ohms[d] = [2]float64{f.Min, f.Max}
			p.volume += math.Log(p.all.high[d] - p.all.low[d])
			p.free = append(p.free, k)
		}
	}
	p.all.size = p.volume
	p.clear()
	return p
}

// clear forgets all cells, and has the corners of the whole read.
func (p *parting) clear() {
	p.points, p.plain, p.open, p.done = p.points[:0], p.plain[:0], p.open[:0], p.done[:0]
	for k := range 1 << len(p.free) {
		for d, member := range p.free {
			p.w.ohms[member] = p.all.ohms[d][k>>d&1]
		}
		p.all.corners[k] = p.point()
	}
}

// point reads at a worker's ohms.
func (p *parting) point() int32 {
	w := p.w
	n := len(w.out)
	from := len(p.points)
	if from+n > cap(p.points) {
		p.points = slices.Grow(p.points, 16*n)
	}
	p.points = p.points[:from+n]
	w.read(w.ohms, p.points[from:])
	return int32(from / n)
}

// middle sets a worker's ohms to those in the middle of a cell.
func (p *parting) middle(c *cell) []float64 {
	for d, k := range p.free {
		p.w.ohms[k] = halfway(c.ohms[d])
	}
	return p.w.ohms[:len(p.w.members)]
}

// halfway is the middle of a range of ohms, by decades.
func halfway(ohms [2]float64) float64 { return math.Sqrt(ohms[0] * ohms[1]) }

// split halves a cell across its widest side.
func (p *parting) split(c *cell) (a, b cell) {
	dims, widest := len(p.free), 0
	for d := range dims {
		if c.high[d]-c.low[d] > c.high[widest]-c.low[widest] {
			widest = d
		}
	}
	a, b = *c, *c
	m := (c.low[widest] + c.high[widest]) / 2
	a.high[widest], b.low[widest] = m, m
	ohms := halfway(c.ohms[widest])
	a.ohms[widest][1], b.ohms[widest][0] = ohms, ohms
	a.depth, b.depth = c.depth+1, c.depth+1
	a.size, b.size = c.size-math.Ln2, c.size-math.Ln2
	for k := range 1 << dims {
		if k>>widest&1 == 0 {
			for d, member := range p.free {
				p.w.ohms[member] = c.ohms[d][k>>d&1]
			}
			p.w.ohms[p.free[widest]] = ohms
			q := p.point()
			a.corners[k|1<<widest], b.corners[k] = q, q
		}
	}
	return a, b
}

// box sets the worker's low and high to the bounds of all readings over a cell.
func (p *parting) box(c *cell) {
	w, n := p.w, len(p.w.out)
	low, high := w.low[:n], w.high[:n]
	first := p.readings(c.corners[0])
	copy(low, first)
	copy(high, first)
	for k := 1; k < 1<<len(p.free); k++ {
		for i, y := range p.readings(c.corners[k]) {
			if y < low[i] {
				low[i] = y
			}
			if y > high[i] {
				high[i] = y
			}
		}
	}
}

func (p *parting) readings(point int32) []float64 {
	n := len(p.w.out)
	return p.points[int(point)*n : (int(point)+1)*n]
}

// siftings is how often a set is halved before it is let through.
const siftings = 48

// sift bounds the log of what a likelihood by a yardstick comes to on average over
// all free values: closely enough to tell whether it stays beneath enough, or as closely
// as so many halvings do. at is the cell that may hold the most.
func (p *parting) sift(k *yardstick, enough float64) (upper float64, at cell) {
	look := func(c *cell) {
		p.box(c)
		c.bound = p.w.above(k)
		p.open.push(*c)
	}
	p.open = p.open[:0]
	look(&p.all)
	upper = p.all.bound
	if len(p.free) == 0 {
		return upper, p.all
	}
	deepest := 14 * len(p.free)
	for n := 0; n < siftings && upper >= enough && p.open[0].depth < deepest; n++ {
		c := p.open.pop()
		a, b := p.split(&c)
		look(&a)
		look(&b)
		if n < 8 || n%4 == 3 {
			upper = p.open.upper() - p.volume
		}
	}
	return upper, p.open[0]
}

// refine parts the free values' range into cells of which the likelihood changes little
// within each. The cell that may hold the most is halved first, until what any may still
// gain is nought beside the whole, as a logarithm, or until all together stay beneath
// enough, as the log of an average.
func (p *parting) refine(k *yardstick, enough, nought float64) []cell {
	const (
		change = 0.5 // of the logarithm within a cell, that is let be
		most   = 500 // cells
		rough  = 48  // halvings after which the integral is known roughly,
		missed = 6.0 // and more than this, as a logarithm, has not been missed
	)
	w, dims := p.w, len(p.free)
	deepest := 14 * dims
	enough += p.volume
	p.clear()
	look := func(c *cell) {
		w.read(p.middle(c), w.out)
		c.log = k.z.log(w.out, nil)
		c.least = c.log
		for _, q := range c.corners[:1<<dims] {
			for len(p.plain) <= int(q) {
				y := p.readings(int32(len(p.plain)))
				if k.trusting {
					log, _ := k.z.plain(y)
					p.plain = append(p.plain, log)
				} else {
					p.plain = append(p.plain, k.z.log(y, nil))
				}
			}
			c.least = min(c.least, p.plain[q])
		}
		p.box(c)
		c.bound = w.above(k)
	}
	look(&p.all)
	p.open.push(p.all)
	// sum is the integral as it stands, in units of e to the power of scale.
	scale := p.all.log + p.all.size
	sum := 1.0
	for n := 0; len(p.open) > 0 && len(p.open)+len(p.done) < most; n++ {
		if n == rough && scale+math.Log(sum)+missed < enough {
			break
		}
		if n%16 == 15 && logAdd(p.open.upper(), cells(p.done).upper()) < enough {
			break
		}
		c := p.open.pop()
		coarse := c.depth < 2+2*dims
		switch {
		case !coarse && c.most() < scale+math.Log(sum)+nought:
			p.done = append(p.done, c) // and all others hold less
			return append(p.done, p.open...)
		case c.depth >= deepest, !coarse && c.bound-c.log < change && c.log-c.least < 2*change:
			p.done = append(p.done, c)
			continue
		}
		sum -= math.Exp(c.log + c.size - scale)
		a, b := p.split(&c)
		look(&a)
		look(&b)
		p.open.push(a)
		p.open.push(b)
		if top := max(a.log+a.size, b.log+b.size); top > scale+20 {
			sum *= math.Exp(scale - top)
			scale = top
		}
		sum = max(0, sum) + math.Exp(a.log+a.size-scale) + math.Exp(b.log+b.size-scale)
	}
	p.done = append(p.done, p.open...)
	return p.done
}
