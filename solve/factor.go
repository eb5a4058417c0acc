package solve

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"example.com/ohmloom/netlist/disjoint"
)

// ErrSupplyShorted says that the supply rail is joined to ground ideally, which
// no voltage reading survives.
var ErrSupplyShorted = errors.New("solve: supply and ground are joined; with the supply on a fuse would blow")

// ErrGroundsJoined says that a ground with an offset is joined to a rail ideally.
var ErrGroundsJoined = errors.New("solve: a unit's shifted ground is joined to a rail; one of the two must give way")

// MaxCondition is the greatest condition number (1-norm, of the nodal matrix scaled
// to a unit diagonal) with which a result is given out: about 1 mΩ and 1 PΩ in one part.
//
// The elimination loses no digits at any condition number. What limits a reading is that
// two equal currents which meet in a node cancel to rounding only, and that this rest is
// driven through the part's greatest ohms: the square of float64's rounding times the
// condition number, as a share of the reading. TestAccuracyAgainstExactArithmetic holds
// readings to 1e-12 up to this bound; in 10000 of its networks the worst was 4e-15 for
// ohms and 7e-14 of the supply for volts (errors grow from 1e20 on, to 1e-10 at 1e26).
//
// The current in one element, on which sensitivities rest, is known to what the rounding
// of the potentials at its ends drives through its ohms, so it fades earlier where
// milliohms stand at a high voltage to the reference.
const MaxCondition = 1e18

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

// part is one connected part of a net.
type part struct {
	// classes without a known potential. Once the part is ready they stand in the
	// order in which they were taken out, each at its place.
	classes []int
	// rails are the classes of known potential, or the one that is the reference.
	// Their places come after those of classes.
	rails    []int
	branches []int
	anchored bool // it holds a rail of known potential
	ready    bool
	err      error
	factor   *elimination
	wires    []wire // what residuals are summed from
	cond     float64
	spare    sync.Pool // of *workspace
}

// wire is a branch as the residuals need it, its ends as places of its part.
type wire struct {
	a, b           int32
	siemens, volts float64
}

// workspace is what a solution needs beside itself, place by place.
type workspace struct{ volts, amps []float64 }

// findParts splits the net into connected parts and numbers the rows. A part
// without a rail takes its first class as reference: there only differences
// mean anything.
func (n *Net) findParts() {
	u := disjoint.New(n.classes)
	for i := range n.branches {
		u.Join(n.branches[i].a, n.branches[i].b)
	}
	n.partOf = make([]int, n.classes)
	n.slot = make([]int, n.classes)
	var classes, branches []int // part: how many
	for k := 0; k < n.classes; k++ {
		// The lowest class stands for a part, so it comes first.
		if r := u.Find(k); r == k {
			n.partOf[k] = len(n.parts)
			n.parts = append(n.parts, &part{})
			classes, branches = append(classes, 0), append(branches, 0)
		} else {
			n.partOf[k] = n.partOf[r]
		}
		classes[n.partOf[k]]++
	}
	for i := range n.branches {
		branches[n.partOf[n.branches[i].a]]++
	}
	for i, p := range n.parts {
		p.classes, p.branches = make([]int, 0, classes[i]), make([]int, 0, branches[i])
	}
	for k := range n.fixed {
		n.parts[n.partOf[k]].anchored = true
	}
	for k := 0; k < n.classes; k++ {
		p := n.parts[n.partOf[k]]
		_, known := n.fixed[k]
		if known || !p.anchored && len(p.rails) == 0 {
			p.rails = append(p.rails, k)
			n.slot[k] = -len(p.rails)
			continue
		}
		n.slot[k] = len(p.classes)
		p.classes = append(p.classes, k)
	}
	for i := range n.branches {
		p := n.parts[n.partOf[n.branches[i].a]]
		p.branches = append(p.branches, i)
	}
}

// factorise takes out a part's classes one after the other, and numbers its places
// in that order.
func (n *Net) factorise(p *part) error {
	if p.ready {
		return p.err
	}
	p.ready = true
	m := len(p.classes)
	if m == 0 {
		return nil
	}
	p.wires = make([]wire, 0, len(p.branches))
	for _, i := range p.branches {
		b := &n.branches[i]
		if b.a == b.b {
			continue
		}
		w := wire{int32(n.slot[b.a]), int32(n.slot[b.b]), b.siemens, b.volts}
		if w.a < 0 {
			w.a = int32(m) - 1 - w.a
		}
		if w.b < 0 {
			w.b = int32(m) - 1 - w.b
		}
		p.wires = append(p.wires, w)
	}
	var order []int32
	p.factor, order = eliminate(m, p.wires)
	classes, place := make([]int, m), make([]int32, m)
	for at, row := range order {
		classes[at] = p.classes[row]
		n.slot[classes[at]] = at
		place[row] = int32(at)
	}
	p.classes = classes
	for i := range p.wires {
		w := &p.wires[i]
		if int(w.a) < m {
			w.a = place[w.a]
		}
		if int(w.b) < m {
			w.b = place[w.b]
		}
	}
	if p.cond = p.condition(); !(p.cond <= MaxCondition) {
		p.err = n.doubtful(p)
	}
	return p.err
}

// condition works out the condition number in the 1-norm of a part's matrix, scaled
// to a unit diagonal. No entry of the inverse is negative (it says what potential a
// current makes elsewhere), so its norm is the greatest of its row sums, and one
// solution for positive currents has them all.
func (p *part) condition() float64 {
	m := int32(len(p.classes))
	w := p.workspace()
	defer p.spare.Put(w)
	diagonal, sum := w.volts[:m], w.amps[:m]
	clear(diagonal)
	clear(sum)
	for i := range p.wires {
		for _, k := range [2]int32{p.wires[i].a, p.wires[i].b} {
			if k < m {
				diagonal[k] += p.wires[i].siemens
			}
		}
	}
	for i := range p.wires {
		b := &p.wires[i]
		if b.a < m && b.b < m {
			g := b.siemens / math.Sqrt(diagonal[b.a]) / math.Sqrt(diagonal[b.b])
			sum[b.a] += g
			sum[b.b] += g
		}
	}
	norm := 1 + slices.Max(sum)
	for i := range sum {
		sum[i] = math.Sqrt(diagonal[i])
	}
	p.factor.solve(sum)
	inverse := 0.0
	for i := range sum {
		inverse = math.Max(inverse, sum[i]*math.Sqrt(diagonal[i])) // NaN stays
	}
	return norm * inverse
}

func (p *part) workspace() *workspace {
	if w, ok := p.spare.Get().(*workspace); ok {
		return w
	}
	places := len(p.classes) + len(p.rails)
	both := make([]float64, 2*places)
	return &workspace{both[:places:places], both[places:]}
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

// amperes is current let into a class.
type amperes struct {
	class int
	amps  float64
}

// potentials solves the net, class by class in volts: for currents that are injected,
// the rails held at 0 V, or driven by the condition's sources and the rails' own
// potentials. Parts where nothing is injected stay at 0 unless driven. The injections
// into a part without a rail must add up to nothing.
func (n *Net) potentials(inject []amperes, driven bool) ([]float64, error) {
	v := make([]float64, n.classes)
	return v, n.potentialsInto(v, inject, driven, corrections)
}

// corrections of a solution at most.
const corrections = 9

// potentialsInto does that in v, which is 0 to begin with, with so many corrections at
// most. Without any a potential is still right to rounding.
func (n *Net) potentialsInto(v []float64, inject []amperes, driven bool, corrections int) error {
	if driven {
		for k, volts := range n.fixed {
			v[k] = volts
		}
	}
	for i, p := range n.parts {
		wanted := driven
		for _, in := range inject {
			wanted = wanted || n.partOf[in.class] == i
		}
		if !wanted || len(p.classes) == 0 {
			continue
		}
		if err := n.factorise(p); err != nil {
			return err
		}
		n.relax(i, inject, driven, v, corrections)
	}
	return nil
}

// relax solves one part, with the potentials of its rails from v, and puts the solution
// there.
//
// The solution is improved with residuals that are taken branch by branch. The
// elimination has every potential right to rounding, but where two lie close
// together at a high voltage the current between them needs more than that. One
// correction makes the currents of a probe add up at each node as well as float64 lets
// them. Sources against each other may leave next to no current, which takes more
// corrections, until they no longer shrink.
func (n *Net) relax(part int, inject []amperes, driven bool, v []float64, corrections int) {
	p := n.parts[part]
	m := len(p.classes)
	w := p.workspace()
	defer p.spare.Put(w)
	clear(w.volts[:m])
	for j, k := range p.rails {
		w.volts[m+j] = v[k]
	}
	last := math.Inf(1)
	for pass := range 1 + corrections {
		clear(w.amps)
		for _, in := range inject {
			if k := n.slot[in.class]; k >= 0 && n.partOf[in.class] == part {
				w.amps[k] += in.amps
			}
		}
		if driven || pass > 0 {
			p.residual(w, driven)
		}
		x := w.amps[:m]
		p.factor.solve(x)
		step := 0.0
		for k, d := range x {
			w.volts[k] += d
			step = math.Max(step, math.Abs(d))
		}
		if step == 0 || pass > 0 && (!driven || step > last/2) {
			break
		}
		last = step
	}
	for at, k := range p.classes {
		v[k] = w.volts[at]
	}
}

// residual takes from the currents in w what the branches carry at its volts.
func (p *part) residual(w *workspace, driven bool) {
	for i := range p.wires {
		b := &p.wires[i]
		d := w.volts[b.a] - w.volts[b.b]
		if driven {
			d -= b.volts
		}
		d *= b.siemens
		w.amps[b.a] -= d
		w.amps[b.b] += d
	}
}

func sortSplits(s []split) {
	slices.SortFunc(s, func(x, y split) int { return cmp.Compare(x.fraction, y.fraction) })
}
