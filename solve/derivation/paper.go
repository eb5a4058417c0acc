package derivation

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// paper is a net as it is being worked out: points and the resistances that are
// still there between them.
type paper struct {
	d     *Derivation
	net   *solve.Net
	names []string        // point: its name
	taken map[string]bool // names that are points' already
	rail  []bool          // point: many unrelated parts meet there
	// from and to are the points of the leads, ground that of the ground rail.
	from, to, ground int
	leads            [2]int // from and to before what is held became one
	nodes            [2]int // of the circuit
	depth            []int  // point: how far from the leads
	place            []int  // point: which points are of one place
	changes          []solve.Change
	live             []bool // by index of d.Resistances
	at               [][]int
	behind           map[int]behind // point: where it lies within a branch
	pairs            map[int]int    // point on the red lead's side: the one that stands for it and its partner
	origin           map[int][2]int // and back
	steps            int            // resistances named so far
	rays             []int          // point: how many neighbours it has, −1 where that is to be counted anew
	marks            *marks         // scratch
}

// behind is a point within a branch, between what a fault put there and the element.
type behind struct {
	a, b  int
	share float64 // of the branch's ohms that lie towards a
}

// newPaper lists a net's points and resistances.
func newPaper(d *Derivation, net *solve.Net, q Question) *paper {
	c := net.Circuit()
	p := &paper{d: d, net: net, from: net.Class(q.From), to: net.Class(q.To), ground: net.Class(netlist.GroundNode), changes: q.Changes, behind: map[int]behind{}, origin: map[int][2]int{}, marks: &marks{}}
	p.leads, p.nodes = [2]int{p.from, p.to}, [2]int{q.From, q.To}
	p.names = make([]string, net.Classes())
	rank := make([]int, net.Classes())
	for i := range c.Nodes {
		k := net.Class(i)
		if r := rankOf(c, q, i); p.names[k] == "" || r > rank[k] {
			p.names[k], rank[k] = c.Nodes[i].Name, r
		}
	}
	p.rail = make([]bool, net.Classes())
	p.rail[p.ground] = true
	p.rail[net.Class(netlist.SupplyNode)] = true
	branches := net.Branches()
	for _, b := range branches {
		if b.Element >= 0 {
			e := c.Elements[b.Element].Name
			for _, end := range []struct {
				class    int
				fraction float64
			}{{b.A, b.From}, {b.B, b.To}} {
				if p.names[end.class] == "" {
					p.names[end.class] = alongName(e, end.fraction)
				}
			}
		}
	}
	p.taken = map[string]bool{}
	for i, name := range p.names {
		if name == "" {
			name = fmt.Sprintf("point %d", i+1)
		}
		p.names[i] = p.unique(name)
	}
	for _, b := range branches {
		p.addBranch(b)
	}
	for k, volts := range net.Held() {
		if k != p.ground && volts != 0 {
			d.Held = append(d.Held, Held{p.names[k], volts})
		}
	}
	slices.SortFunc(d.Held, func(a, b Held) int { return cmp.Compare(a.Point, b.Point) })
	return p
}

// rankOf says how readily a node gives its name to the point that it is part of.
func rankOf(c *netlist.Circuit, q Question, node int) int {
	name := c.Nodes[node].Name
	switch {
	case node == netlist.GroundNode || node == netlist.SupplyNode:
		return 6
	case node == q.From || node == q.To:
		return 5
	case strings.HasPrefix(name, "inside "):
		return 3
	case strings.Contains(name, "/device."):
		return 1
	}
	if site, _, ok := strings.Cut(name, "."); ok {
		if s, ok := c.Site(site); ok && s.Kind == netlist.SpliceSite {
			return 4
		}
	}
	return 2
}

func alongName(element string, fraction float64) string {
	if fraction == 0.5 {
		return "half-way along " + element
	}
	return fmt.Sprintf("%.3g %% along %s", 100*fraction, element)
}

// unique tells a point from others of its name: S1.H, S1.H (2).
func (p *paper) unique(name string) string {
	own := name
	for n := 2; p.taken[own]; n++ {
		own = fmt.Sprintf("%s (%d)", name, n)
	}
	p.taken[own] = true
	return own
}

// point adds a point.
func (p *paper) point(name string) int {
	p.names = append(p.names, p.unique(name))
	p.rail = append(p.rail, false)
	at := len(p.names) - 1
	if p.depth != nil {
		p.depth, p.place = append(p.depth, 0), append(p.place, -1-at)
	}
	return at
}

var kinds = map[netlist.ElementKind]Kind{
	netlist.WireElement: Wire, netlist.ContactElement: Contact, netlist.TerminatorElement: Terminator,
	netlist.InputElement: Input, netlist.LoadElement: Load, netlist.StrayElement: Stray,
}

// addBranch puts a branch on the paper. What a fault inserts into an element is a
// resistance of its own, as it is on the vehicle.
func (p *paper) addBranch(b solve.Branch) {
	if b.A == b.B {
		return
	}
	r := Resistance{Kind: Fault, Ohms: b.Ohms, Volts: b.Volts, a: b.A, b: b.B}
	if b.Element < 0 {
		r.Name = p.bridgeName(b)
		p.add(r)
		return
	}
	e := &p.net.Circuit().Elements[b.Element]
	r.Name, r.Kind, r.Part = e.Name, kinds[e.Kind], e.Part
	if b.From != 0 || b.To != 1 {
		r.Name = fmt.Sprintf("%s, %.3g to %.3g %% of it", e.Name, 100*b.From, 100*b.To)
	}
	if b.InsertOhms > 0 {
		joint := Resistance{Name: "fault in " + e.Name, Kind: Fault, Part: e.Part, Ohms: b.InsertOhms, a: b.A, b: b.B}
		if r.Ohms -= b.InsertOhms; r.Ohms <= 1e-12*b.InsertOhms {
			// The element is ideal: the joint stands alone.
			joint.Ohms, joint.Volts = b.Ohms, b.Volts
			p.add(joint)
			return
		}
		mid := p.point("behind the fault in " + e.Name)
		p.behind[mid] = behind{b.A, b.B, b.InsertOhms / b.Ohms}
		joint.b, r.a = mid, mid
		p.add(joint)
	}
	p.add(r)
}

func (p *paper) bridgeName(b solve.Branch) string {
	br, _ := p.changes[b.Bridge].(solve.Bridge)
	return "fault between " + p.spotName(br.From) + " and " + p.spotName(br.To)
}

func (p *paper) spotName(s solve.Spot) string {
	c := p.net.Circuit()
	if s.Wire >= 0 {
		return alongName(c.Elements[s.Wire].Name, s.Fraction)
	}
	return c.Nodes[s.Node].Name
}

// add puts a resistance on the paper and gives its index.
func (p *paper) add(r Resistance) int {
	i := len(p.d.Resistances)
	if r.Kind == Derived {
		p.steps++
		r.Name = fmt.Sprintf("R%d", p.steps)
	} else if r.kin == nil {
		r.kin = []int{i}
		r.Elements = []string{r.Name}
	}
	r.A, r.B = p.names[r.a], p.names[r.b]
	p.d.Resistances = append(p.d.Resistances, r)
	p.live = append(p.live, true)
	for len(p.at) < len(p.names) {
		p.at, p.rays = append(p.at, nil), append(p.rays, 0)
	}
	p.rays[r.a], p.rays[r.b] = -1, -1
	p.at[r.a] = append(p.at[r.a], i)
	p.at[r.b] = append(p.at[r.b], i)
	return i
}

// remove takes a resistance off the paper.
func (p *paper) remove(i int) {
	p.live[i] = false
	for _, k := range []int{p.d.Resistances[i].a, p.d.Resistances[i].b} {
		p.rays[k] = -1
		p.at[k] = slices.DeleteFunc(p.at[k], func(x int) bool { return x == i })
	}
}

// other is the end of a resistance that is not k.
func (p *paper) other(i, k int) int {
	r := &p.d.Resistances[i]
	if r.a == k {
		return r.b
	}
	return r.a
}

// towards gives the volts of a resistance as seen from k: how far k lies above the
// other end while no current flows.
func (p *paper) towards(i, k int) float64 {
	r := &p.d.Resistances[i]
	if r.a == k {
		return r.Volts
	}
	return -r.Volts
}

// step notes a step.
func (p *paper) step(op Operation, at string, inputs, outputs []int) {
	p.d.Steps = append(p.d.Steps, Step{Operation: op, At: at, Inputs: inputs, Outputs: outputs})
}

// derive puts down what a step makes of its inputs, from one point to another.
func (p *paper) derive(from, to int, ohms, volts float64, inputs []int) int {
	r := Resistance{Kind: Derived, Ohms: ohms, Volts: volts, a: from, b: to, kin: p.kinOf(inputs)}
	for _, i := range inputs {
		r.Fold = p.d.Resistances[i].Fold
		r.meshed = r.meshed || p.d.Resistances[i].meshed
	}
	return p.add(r)
}

// kinOf gathers the elements that resistances are made of, each once, in order.
func (p *paper) kinOf(inputs []int) []int {
	most := 0
	for _, i := range inputs {
		most += len(p.d.Resistances[i].kin)
	}
	kin := make([]int, 0, most)
	first := p.marks.begin(len(p.d.Resistances))
	for _, i := range inputs {
		for _, k := range p.d.Resistances[i].kin {
			if first(k) {
				kin = append(kin, k)
			}
		}
	}
	return kin
}

// work does all steps.
func (p *paper) work() {
	if p.from == p.to {
		return
	}
	p.hold()
	if p.from == p.to {
		return
	}
	p.depth = p.depths()
	p.drop()
	// Folding and tying are worth their words only where series and parallel do not
	// go through, and only if they get by with fewer stars.
	best := p.copy()
	best.reduce()
	for _, way := range []func(*paper) bool{(*paper).foldAndReduce, (*paper).tieAndReduce} {
		if meshes(best.d.Steps) == 0 {
			break
		}
		if try := p.copy(); way(try) && meshes(try.d.Steps) < meshes(best.d.Steps) {
			best = try
		}
	}
	d := p.d
	*d = *best.d
	*p = *best
	p.d = d
	if left := p.all(); len(left) > 0 {
		p.d.Result = left[0]
	}
}

func (p *paper) foldAndReduce() bool {
	if !p.fold() {
		return false
	}
	p.reduce()
	return true
}

// meshes counts the stars that steps turn into meshes.
func meshes(steps []Step) int {
	n := 0
	for _, s := range steps {
		if s.Operation == Mesh {
			n++
		}
	}
	return n
}

// copy is a paper to try things out on; what no step changes the two have in common.
func (p *paper) copy() *paper {
	out, d := *p, *p.d
	d.Resistances = slices.Clone(p.d.Resistances)
	d.Steps = slices.Clone(p.d.Steps)
	d.Equivalents = slices.Clone(p.d.Equivalents)
	out.d = &d
	out.live = slices.Clone(p.live)
	out.names, out.taken = slices.Clone(p.names), maps.Clone(p.taken)
	out.rail = slices.Clone(p.rail)
	out.depth = slices.Clone(p.depth)
	out.place = slices.Clone(p.place)
	out.origin = map[int][2]int{}
	out.rays = slices.Clone(p.rays)
	out.at = make([][]int, len(p.at))
	for i := range p.at {
		out.at[i] = slices.Clone(p.at[i])
	}
	return &out
}
