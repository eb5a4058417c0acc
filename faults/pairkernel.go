package faults

import "math"

const (
	// worstGrowth is how many times smaller than what it is made of the second
	// block's pivot may be before float64 is left for numbers of twice the digits.
	// A pivot keeps 16 digits less those of this number, and a reading as many.
	worstGrowth = 1e5
	// leastLeft is what must be left of a reading, as a share of what it was
	// without the second fault, for the same: 2⁻⁵³, the pivot's growth and a factor
	// of a few operations over 1e-9. TestStreamedPairsKeepTheirDigits measures what
	// is lost up to there.
	leastLeft = 1e-6
	// usualGrowth is a pivot's growth for which a fault's least readings are kept, so
	// that most pairs need one comparison a reading.
	usualGrowth = 2
)

// kernel adds a fault b to a fault a, both as they are alone, for all probes of a
// group.
type kernel struct {
	pull  []float64 // b's step by a's step: how much of a's step b's takes off
	lower []float64 // b's step by an earlier one of b's, once a is in
	over  []float64 // 1 / pivot of b's steps, once a is in
	drive []float64
	steps []float64 // b's step by probe, where b has several
	cross []float64 // what b's rows see of a's strands
}

// ready makes room for faults of so many steps.
func (k *kernel) ready(a, b, probes int) {
	grow := func(list *[]float64, n int) {
		if cap(*list) < n {
			*list = make([]float64, n+8)
		}
		*list = (*list)[:n]
	}
	grow(&k.pull, a*b)
	grow(&k.lower, b*b)
	grow(&k.over, b)
	grow(&k.drive, b)
	grow(&k.steps, b*probes)
}

// eliminate makes b's block once a is in. cross is what each strand of b's rows
// sees of each strand of a, all of a's strands; n is how many a has. It returns how
// many times smaller a pivot has become by it, +Inf where nothing is left of one.
func (k *kernel) eliminate(a, b *pairFault, cross []float64, n int, idle bool) float64 {
	ka, kb := a.rows, b.rows
	if ka == 1 && kb == 1 && !idle {
		return k.one(cross[0], a.pivot[0], b.pivot[0]) // a strand is its own step
	}
	growth := 1.0
	// u = b's lower · cross · a's lowerᵀ, kept in pull.
	for j := range kb {
		for i := range ka {
			sum := 0.0
			for r := range kb {
				if l := b.lowerAt(j, r); l != 0 {
					at := cross[r*n : r*n+ka]
					for c := range at {
						sum += l * at[c] * a.lower[i*ka+c]
					}
				}
			}
			k.pull[j*ka+i] = sum
		}
		if idle {
			q := b.drive[j]
			if a.sources {
				for r := range kb {
					for c, x := range a.strands {
						if v := x.Volts(); v != 0 {
							q += b.lowerAt(j, r) * cross[r*n+c] * v
						}
					}
				}
			}
			for i := range ka {
				q -= k.pull[j*ka+i] * a.drive[i] / a.pivot[i]
			}
			k.drive[j] = q
		}
	}
	// The block, factorised as it is made.
	for j := range kb {
		for m := 0; m <= j; m++ {
			x := 0.0
			for i := range ka {
				x += k.pull[j*ka+i] * k.pull[m*ka+i] / a.pivot[i]
			}
			if m == j {
				x = b.pivot[j] - x
				for r := range j {
					x -= k.lower[j*kb+r] * k.lower[j*kb+r] / k.over[r]
				}
				growth = math.Max(growth, math.Abs(b.pivot[j]/x))
				k.over[j] = 1 / x
				continue
			}
			x = -x
			for r := range m {
				x -= k.lower[j*kb+r] * k.lower[m*kb+r] / k.over[r]
			}
			k.lower[j*kb+m] = x * k.over[m]
		}
		if idle {
			for r := range j {
				k.drive[j] -= k.lower[j*kb+r] * k.drive[r]
			}
		}
	}
	for i := range k.pull {
		k.pull[i] /= a.pivot[i%max(ka, 1)]
	}
	if math.IsNaN(growth) {
		return math.Inf(1)
	}
	return growth
}

// one is eliminate for faults of one strand each, of which u is what one sees of the
// other.
func (k *kernel) one(u, a, b float64) (growth float64) {
	k.pull[0] = u / a
	x := b - u*k.pull[0]
	k.over[0] = 1 / x
	switch growth = math.Abs(b / x); {
	case growth >= 1:
		return growth
	case growth < 1:
		return 1
	}
	return math.Inf(1) // 0 / 0
}

// lowerAt is a step's share of a row; rows may have been taken in another order.
func (f *pairFault) lowerAt(step, row int) float64 { return f.lower[step*f.rows+row] }

// ohms reads all probes with b added to a, into out, and tells whether one of them
// may be but a small rest of what it was. lead and top are the leads' ohms and the
// greatest resistance that is shown, leads and all.
func (k *kernel) ohms(a, b *pairFault, out []float64, growth, lead, top float64) (small bool) {
	n := len(out)
	across, least := a.across[:n], a.least[:n]
	if growth > usualGrowth {
		small = true // looked at closely then
	}
	switch {
	case b.rows == 1 && a.rows == 1:
		p, c := k.pull[0], k.over[0]
		ta, tb := a.steps[:n], b.steps[:n]
		for i := range out {
			x := tb[i] - p*ta[i]
			r := across[i] - c*x*x
			if r < least[i] {
				small = true
			}
			out[i] = r
		}
	case b.rows == 1 && a.rows == 2:
		p, q, c := k.pull[0], k.pull[1], k.over[0]
		ta, ua, tb := a.steps[:n], a.steps[n:2*n], b.steps[:n]
		for i := range out {
			x := tb[i] - p*ta[i] - q*ua[i]
			r := across[i] - c*x*x
			if r < least[i] {
				small = true
			}
			out[i] = r
		}
	default:
		copy(out, across)
		for j := range b.rows {
			w := k.step(a, b, j, n)
			c := k.over[j]
			for i, x := range w {
				out[i] -= c * x * x
			}
		}
		for i, r := range out {
			if r < least[i] {
				small = true
			}
		}
	}
	if lead != 0 {
		for i := range out {
			out[i] += lead
		}
	}
	if k.raises(b) || a.greatest+lead > top {
		for i, r := range out {
			if r > top {
				out[i] = math.Inf(1)
			}
		}
	}
	return small
}

// raises tells whether b may raise a resistance: it takes conductance away.
func (k *kernel) raises(b *pairFault) bool {
	for _, c := range k.over[:b.rows] {
		if c < 0 {
			return true
		}
	}
	return false
}

// step is what b's step sees of the leads once a and b's earlier steps are in.
func (k *kernel) step(a, b *pairFault, j, n int) []float64 {
	w := k.steps[j*n : (j+1)*n]
	copy(w, b.steps[j*n:(j+1)*n])
	for i := range a.rows {
		if p := k.pull[j*a.rows+i]; p != 0 {
			t := a.steps[i*n : (i+1)*n]
			for m := range w {
				w[m] -= p * t[m]
			}
		}
	}
	for r := range j {
		if l := k.lower[j*b.rows+r]; l != 0 {
			t := k.steps[r*n : (r+1)*n]
			for m := range w {
				w[m] -= l * t[m]
			}
		}
	}
	return w
}

// idle reads volts of all probes with b added to a. input is the meter's ohms, 0 for
// none; across is scratch space.
func (k *kernel) idle(a, b *pairFault, out, across []float64, input float64) {
	n := len(out)
	across = across[:n]
	copy(across, a.across)
	copy(out, a.volts)
	for j := range b.rows {
		w := k.step(a, b, j, n)
		c := k.over[j]
		q := c * k.drive[j]
		for i, x := range w {
			across[i] -= c * x * x
			out[i] -= q * x
		}
	}
	if input == 0 {
		return
	}
	for i := range out {
		out[i] *= input / (input + across[i])
	}
}
