package solve

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// dense is the other way to solve a part of a net, for tests and benchmarks: its whole
// nodal matrix, scaled to a unit diagonal, by gonum's Cholesky, refined with residuals
// that are taken branch by branch. It shares no step with the elimination.
type dense struct {
	net   *Net
	rows  []int       // row: class
	row   map[int]int // class: row; none for rails and the reference
	scale []float64
	chol  mat.Cholesky
}

func newDense(n *Net, part int) (*dense, error) {
	d := &dense{net: n, row: map[int]int{}}
	for k, of := range n.partOf {
		if of == part && !slices.Contains(n.parts[part].rails, k) {
			d.row[k] = len(d.rows)
			d.rows = append(d.rows, k)
		}
	}
	if len(d.rows) == 0 {
		return d, nil
	}
	a := mat.NewSymDense(len(d.rows), nil)
	for _, b := range n.branches {
		i, inA := d.row[b.a]
		j, inB := d.row[b.b]
		if b.a == b.b {
			continue
		}
		if inA {
			a.SetSym(i, i, a.At(i, i)+b.siemens)
		}
		if inB {
			a.SetSym(j, j, a.At(j, j)+b.siemens)
		}
		if inA && inB {
			a.SetSym(i, j, a.At(i, j)-b.siemens)
		}
	}
	for i := range d.rows {
		d.scale = append(d.scale, 1/math.Sqrt(a.At(i, i)))
	}
	for i := range d.rows {
		for j := i; j < len(d.rows); j++ {
			a.SetSym(i, j, a.At(i, j)*d.scale[i]*d.scale[j])
		}
	}
	if !d.chol.Factorize(a) || d.chol.Cond() > 1e14 {
		return nil, errors.New("too badly conditioned to be a reference")
	}
	return d, nil
}

// solve adds to v the potentials of the part's classes.
func (d *dense) solve(v []float64, inject []amperes, driven bool) {
	if len(d.rows) == 0 {
		return
	}
	n := d.net
	x := mat.NewVecDense(len(d.rows), nil)
	for range 10 {
		r := make([]float64, n.classes)
		for _, in := range inject {
			r[in.class] += in.amps
		}
		for _, b := range n.branches {
			i := v[b.a] - v[b.b]
			if driven {
				i -= b.volts
			}
			i *= b.siemens
			r[b.a] -= i
			r[b.b] += i
		}
		for i, k := range d.rows {
			x.SetVec(i, r[k]*d.scale[i])
		}
		if err := d.chol.SolveVecTo(x, x); err != nil {
			panic(err)
		}
		for i, k := range d.rows {
			v[k] += x.AtVec(i) * d.scale[i]
		}
	}
}

// DenseCondition is the greatest condition number of the parts that have been solved,
// from explicit inverses.
func (n *Net) DenseCondition() float64 {
	worst := 0.0
	for part, p := range n.parts {
		if p.factor == nil {
			continue
		}
		d, err := newDense(n, part)
		if err != nil {
			return math.Inf(1)
		}
		var a, inverse mat.SymDense
		d.chol.ToSym(&a)
		if err := d.chol.InverseTo(&inverse); err != nil {
			return math.Inf(1)
		}
		worst = math.Max(worst, mat.Norm(&a, 1)*mat.Norm(&inverse, 1))
	}
	return worst
}

// DenseReading is the resistance between two nodes that are not apart and, driven, the
// voltage there, by the dense matrix.
func (n *Net) DenseReading(from, to int, driven bool) (ohms, volts float64, err error) {
	a, b := n.class[from], n.class[to]
	v := make([]float64, n.classes)
	u := make([]float64, n.classes)
	for k, x := range n.fixed {
		u[k] = x
	}
	done := map[int]bool{}
	for _, k := range []int{a, b} {
		part := n.partOf[k]
		if done[part] {
			continue
		}
		done[part] = true
		d, err := newDense(n, part)
		if err != nil {
			return 0, 0, err
		}
		d.solve(v, dipole(a, b), false)
		if driven {
			d.solve(u, nil, true)
		}
	}
	return v[a] - v[b], u[a] - u[b], nil
}

// WithColumns makes the ports keep columns, or paths, whatever the size of the net.
func (p *Ports) WithColumns(columns bool) *Ports {
	return &Ports{
		net: p.net, volts: p.volts, floats: p.floats, columns: columns, seen: make([]float64, len(p.seen)),
		to: make([]*reach, len(p.to)), along: make([]*reach, len(p.along)),
	}
}
