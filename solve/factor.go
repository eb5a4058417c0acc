package solve

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist/disjoint"
)

// ErrSupplyShorted says that the supply rail is joined to ground ideally, which
// no voltage reading survives.
var ErrSupplyShorted = errors.New("solve: supply and ground are joined; with the supply on a fuse would blow")

// ErrGroundsJoined says that a ground with an offset is joined to a rail ideally.
var ErrGroundsJoined = errors.New("solve: a unit's shifted ground is joined to a rail; one of the two must give way")

// MaxCondition is the greatest condition number (1-norm estimate, of the nodal
// matrix scaled to a unit diagonal) with which a result is given out. Above it
// refinement can no longer be trusted to restore the digits that the
// factorisation loses. TestAccuracyAgainstExactArithmetic measures relative
// errors below 1e-9 up to this bound.
const MaxCondition = 1e14

// DoubtfulError says that the nodal matrix of one part of a net is too badly
// conditioned for its solution to be trusted.
type DoubtfulError struct {
	// Condition is the condition number, +Inf for a singular matrix.
	Condition float64
	// Least and Most name the elements with the smallest and the greatest
	// resistance in the part, and give their ohms: the spread to reduce.
	Least, Most         string
	LeastOhms, MostOhms float64
}

func (e *DoubtfulError) Error() string {
	return fmt.Sprintf("solve: condition number %.2g is above %.2g: %s (%.3g Ω) and %s (%.3g Ω) lie too far apart to be solved together; write ohms that are nearer to each other",
		e.Condition, MaxCondition, e.Least, e.LeastOhms, e.Most, e.MostOhms)
}

// part is one connected part of a net, rails apart.
type part struct {
	classes  []int // free classes, in row order
	branches []int
	anchored bool // it is or touches a rail of known potential
	ready    bool
	err      error
	scale    []float64
	chol     mat.Cholesky
	cond     float64
}

// findParts splits the net into connected parts and numbers the rows. A rail of
// known potential is a part of its own and holds apart what hangs on it: what
// flows on its one side moves nothing on the other, so that two networks on one
// ground are two small matrices and not one large one. A part without a rail takes
// its first class as reference: there only differences mean anything.
func (n *Net) findParts() {
	u := disjoint.New(n.classes)
	rail := func(k int) bool { _, fixed := n.fixed[k]; return fixed }
	for _, b := range n.branches {
		if !rail(b.a) && !rail(b.b) {
			u.Join(b.a, b.b)
		}
	}
	n.partOf = make([]int, n.classes)
	n.slot = make([]int, n.classes)
	number := map[int]int{}
	for k := 0; k < n.classes; k++ {
		r := u.Find(k)
		i, ok := number[r]
		if !ok {
			i = len(n.parts)
			number[r] = i
			n.parts = append(n.parts, &part{})
		}
		n.partOf[k] = i
		if rail(k) {
			n.parts[i].anchored = true
		}
	}
	for i, b := range n.branches {
		at, other := b.a, b.b
		if rail(at) {
			at, other = other, at
		}
		p := n.parts[n.partOf[at]]
		p.branches = append(p.branches, i)
		p.anchored = p.anchored || rail(other)
	}
	referenced := make([]bool, len(n.parts))
	for k := 0; k < n.classes; k++ {
		i := n.partOf[k]
		p := n.parts[i]
		reference := rail(k)
		if !p.anchored && !referenced[i] {
			reference, referenced[i] = true, true
		}
		if reference {
			n.slot[k] = -1
			continue
		}
		n.slot[k] = len(p.classes)
		p.classes = append(p.classes, k)
	}
}

// factorise prepares a part's nodal matrix, scaled to a unit diagonal.
func (n *Net) factorise(p *part) error {
	if p.ready {
		return p.err
	}
	p.ready = true
	m := len(p.classes)
	if m == 0 {
		return nil
	}
	a := mat.NewSymDense(m, nil)
	for _, i := range p.branches {
		b := n.branches[i]
		if b.a == b.b {
			continue
		}
		ra, rb := n.slot[b.a], n.slot[b.b]
		if ra >= 0 {
			a.SetSym(ra, ra, a.At(ra, ra)+b.siemens)
		}
		if rb >= 0 {
			a.SetSym(rb, rb, a.At(rb, rb)+b.siemens)
		}
		if ra >= 0 && rb >= 0 {
			a.SetSym(ra, rb, a.At(ra, rb)-b.siemens)
		}
	}
	p.scale = make([]float64, m)
	for i := range p.scale {
		p.scale[i] = 1 / math.Sqrt(a.At(i, i))
	}
	for i := 0; i < m; i++ {
		for j := i; j < m; j++ {
			if v := a.At(i, j); v != 0 {
				a.SetSym(i, j, v*p.scale[i]*p.scale[j])
			}
		}
	}
	ok := p.chol.Factorize(a)
	p.cond = math.Inf(1)
	if ok {
		p.cond = p.chol.Cond()
	}
	if !(p.cond <= MaxCondition) {
		p.err = n.doubtful(p)
	}
	return p.err
}

func (n *Net) doubtful(p *part) error {
	most := slices.MaxFunc(p.branches, func(i, j int) int {
		return cmp.Compare(n.branches[j].siemens, n.branches[i].siemens)
	})
	least := slices.MinFunc(p.branches, func(i, j int) int {
		return cmp.Compare(n.branches[j].siemens, n.branches[i].siemens)
	})
	name := func(i int) string {
		if e := n.branches[i].element; e >= 0 {
			return n.circuit.Elements[e].Name
		}
		return "the fault's own resistance"
	}
	return &DoubtfulError{
		Condition: p.cond,
		Least:     name(least), LeastOhms: 1 / n.branches[least].siemens,
		Most: name(most), MostOhms: 1 / n.branches[most].siemens,
	}
}

// Prepare does now what is otherwise done when it is first needed, so that a net may
// be used by several goroutines at once. What cannot be solved says so when it is
// asked for.
func (n *Net) Prepare() {
	for _, p := range n.parts {
		_ = n.factorise(p) // kept in p.err
	}
	if n.condition.Supply == Idle {
		_, _ = n.state()
	}
}

// refinements is how many times a solution is improved with residuals that are
// taken branch by branch. Forming the matrix adds conductances of very unequal
// size and so loses the small ones (a 1 MΩ path to ground beside a 5 mΩ contact
// keeps 8 digits); a residual summed from branch currents has not lost them.
const refinements = 10

// potentials solves the net for injected currents in amperes by class. Classes
// of known potential get the values in held (nil for all 0 V). Parts where
// nothing is injected and nothing held stay at 0. The injections into a part
// without a rail must add up to nothing.
func (n *Net) potentials(inject map[int]float64, held map[int]float64, sources bool) ([]float64, error) {
	v := make([]float64, n.classes)
	for k, volts := range held {
		v[k] = volts
	}
	want := make([]bool, len(n.parts))
	for k := range inject {
		want[n.partOf[k]] = true
	}
	if held != nil || sources {
		for i := range want {
			want[i] = true
		}
	}
	r := make([]float64, n.classes)
	for i, p := range n.parts {
		if !want[i] || len(p.classes) == 0 {
			continue
		}
		if err := n.factorise(p); err != nil {
			return nil, err
		}
		rhs := mat.NewVecDense(len(p.classes), nil)
		last := math.Inf(1)
		for pass := 0; pass <= refinements; pass++ {
			for _, k := range p.classes {
				r[k] = inject[k]
			}
			for _, bi := range p.branches {
				b := &n.branches[bi]
				if b.a == b.b {
					continue
				}
				e := 0.0
				if sources {
					e = b.volts
				}
				i := b.siemens * (v[b.a] - v[b.b] - e)
				r[b.a] -= i
				r[b.b] += i
			}
			for j, k := range p.classes {
				rhs.SetVec(j, r[k]*p.scale[j])
			}
			if err := p.chol.SolveVecTo(rhs, rhs); err != nil && pass == 0 {
				if c, ok := err.(mat.Condition); !ok || float64(c) > MaxCondition {
					return nil, n.doubtful(p)
				}
			}
			step := 0.0
			for j, k := range p.classes {
				d := rhs.AtVec(j) * p.scale[j]
				v[k] += d
				step = math.Max(step, math.Abs(d))
			}
			// Stop when a correction no longer shrinks: it is rounding then.
			if step == 0 || pass > 0 && step > last/2 {
				break
			}
			last = step
		}
	}
	return v, nil
}

func sortSplits(s []split) {
	slices.SortFunc(s, func(x, y split) int { return cmp.Compare(x.fraction, y.fraction) })
}
