package twofold

import "math"

// Symmetric is a small symmetric matrix and its factors L D Lᵀ, as they come up
// when several faults are laid into one net: resistances between bridges, of which
// a block is positive definite, and conductances taken away, of which a block is
// negative definite. Such a matrix can be eliminated in any order; a diagonal that
// is nothing is left until others have made something of it, and where all that is
// left of the diagonal is nothing, one row is added to another. The zero value is
// ready for [Symmetric.Reset], which reuses what there is.
type Symmetric struct {
	n     int
	a     []Number  // row by row; below the diagonal L once factorised
	size  []float64 // what has gone into a diagonal, in all
	order []int     // step: row
	added [][2]int  // rows to which another one was added, in turn
	b     []Number  // scratch
}

// vanished is the share of what went into a diagonal below which it counts as
// nothing: rounding leaves 1e-31, and 12 digits of what is left are to be right.
const vanished = 1e-20

// Reset makes it an n × n matrix of zeros.
func (s *Symmetric) Reset(n int) {
	s.n = n
	if cap(s.a) < n*n {
		s.a, s.size, s.order = make([]Number, n*n), make([]float64, n), make([]int, n)
		s.b = make([]Number, n)
	}
	s.a, s.size, s.order, s.b, s.added = s.a[:n*n], s.size[:n], s.order[:n], s.b[:n], s.added[:0]
	clear(s.a)
}

// Set sets an entry and its mirror image.
func (s *Symmetric) Set(i, j int, x Number) { s.a[i*s.n+j], s.a[j*s.n+i] = x, x }

// Factor factorises, and returns false where the matrix is singular.
func (s *Symmetric) Factor() bool {
	n := s.n
	for i := range s.order {
		s.order[i] = i
		s.size[i] = math.Abs(s.a[i*n+i].Hi)
	}
	for k := 0; k < n; k++ {
		i := k
		for i < n && !(math.Abs(s.a[i*n+i].Hi) > vanished*s.size[i]) {
			i++
		}
		if i == n {
			if i = s.mix(k); i < 0 {
				return false
			}
		}
		if i != k {
			s.swap(i, k)
		}
		d := s.a[k*n+k]
		for i := k + 1; i < n; i++ {
			l := s.a[i*n+k].Div(d)
			if l.Hi == 0 {
				continue
			}
			for j := k + 1; j <= i; j++ {
				x := l.Mul(s.a[k*n+j])
				y := s.a[i*n+j].Sub(x)
				s.a[i*n+j], s.a[j*n+i] = y, y
				if i == j {
					s.size[i] = math.Max(s.size[i], math.Abs(x.Hi))
				}
			}
			s.a[i*n+k] = l
		}
	}
	return true
}

// mix adds one of the rows from k on to another, those that see most of each other,
// and returns the row with something on its diagonal now; −1 where there is nothing
// left at all.
func (s *Symmetric) mix(k int) int {
	n := s.n
	p, q, most := -1, -1, 0.0
	for i := k; i < n; i++ {
		for j := i + 1; j < n; j++ {
			if x := math.Abs(s.a[i*n+j].Hi); x > most {
				p, q, most = i, j, x
			}
		}
	}
	if p < 0 {
		return -1
	}
	for j := 0; j < n; j++ {
		s.a[p*n+j] = s.a[p*n+j].Add(s.a[q*n+j])
	}
	for j := k; j < n; j++ {
		s.a[j*n+p] = s.a[j*n+p].Add(s.a[j*n+q])
	}
	s.size[p] = math.Abs(s.a[p*n+p].Hi)
	s.added = append(s.added, [2]int{s.order[p], s.order[q]})
	return p
}

func (s *Symmetric) swap(i, k int) {
	n := s.n
	s.order[i], s.order[k] = s.order[k], s.order[i]
	s.size[i], s.size[k] = s.size[k], s.size[i]
	for j := 0; j < n; j++ {
		s.a[i*n+j], s.a[k*n+j] = s.a[k*n+j], s.a[i*n+j]
	}
	for j := 0; j < n; j++ {
		s.a[j*n+i], s.a[j*n+k] = s.a[j*n+k], s.a[j*n+i]
	}
}

// Pivot is D's entry of a step.
func (s *Symmetric) Pivot(step int) Number { return s.a[step*s.n+step] }

// Reduce turns b, by row, into w = L⁻¹ b, by step, so that bᵀ A⁻¹ c is the sum of
// w·v / Pivot over the steps, v made of c likewise.
func (s *Symmetric) Reduce(b, w []Number) {
	if len(s.added) > 0 {
		copy(s.b, b)
		for _, x := range s.added {
			s.b[x[0]] = s.b[x[0]].Add(s.b[x[1]])
		}
		b = s.b
	}
	for k := 0; k < s.n; k++ {
		x := b[s.order[k]]
		for j := 0; j < k; j++ {
			x = x.Sub(s.a[k*s.n+j].Mul(w[j]))
		}
		w[k] = x
	}
}
