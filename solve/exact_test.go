package solve_test

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

// exactNet is a network in rational numbers. It shares nothing with package
// solve: joints are contracted by a search of its own, and nodes are eliminated
// one by one (star to mesh) without any rounding.
type exactNet struct {
	nodes int
	edges []exactEdge
	held  map[int]*big.Rat // node: volts
}

type exactEdge struct {
	a, b  int
	ohms  *big.Rat // 0: ideal joint
	volts *big.Rat // current a→b is (V_a − V_b − volts)/ohms; nil: 0
}

func rational(x float64) *big.Rat { return new(big.Rat).SetFloat64(x) }

// contract gives each node the number of the node that stands for all those
// joined to it.
func (x *exactNet) contract() []int {
	to := make([]int, x.nodes)
	for i := range to {
		to[i] = i
	}
	for again := true; again; {
		again = false
		for _, e := range x.edges {
			if e.ohms.Sign() == 0 && to[e.a] != to[e.b] {
				to[e.a], to[e.b] = min(to[e.a], to[e.b]), min(to[e.a], to[e.b])
				again = true
			}
		}
	}
	return to
}

// apart tells whether no path leads from a to b.
func (x *exactNet) apart(a, b int) bool {
	seen := map[int]bool{a: true}
	for again := true; again; {
		again = false
		for _, e := range x.edges {
			if seen[e.a] != seen[e.b] {
				seen[e.a], seen[e.b] = true, true
				again = true
			}
		}
	}
	return !seen[b]
}

// difference gives V_a − V_b with the net's sources and amperes flowing in at a
// and out at b. Between points that nothing ties together it is 0.
func (x *exactNet) difference(a, b int, amperes *big.Rat) *big.Rat {
	to := x.contract()
	a, b = to[a], to[b]
	if a == b {
		return new(big.Rat)
	}
	n := x.nodes
	g := make([][]*big.Rat, n)
	in := make([]*big.Rat, n)
	for i := range g {
		in[i] = new(big.Rat)
		g[i] = make([]*big.Rat, n)
		for j := range g[i] {
			g[i][j] = new(big.Rat)
		}
	}
	in[a].Add(in[a], amperes)
	in[b].Sub(in[b], amperes)
	for _, e := range x.edges {
		i, j := to[e.a], to[e.b]
		if i == j {
			continue
		}
		s := new(big.Rat).Inv(e.ohms)
		g[i][j].Add(g[i][j], s)
		g[j][i].Add(g[j][i], s)
		if e.volts != nil {
			k := new(big.Rat).Mul(s, e.volts)
			in[i].Add(in[i], k)
			in[j].Sub(in[j], k)
		}
	}
	held := map[int]*big.Rat{}
	for k, v := range x.held {
		held[to[k]] = v
	}
	for k := range n {
		if _, fixed := held[k]; fixed || k == a || k == b || to[k] != k {
			continue
		}
		sum := new(big.Rat)
		for j := range n {
			sum.Add(sum, g[k][j])
		}
		if sum.Sign() == 0 {
			continue
		}
		for i := range n {
			if g[k][i].Sign() == 0 {
				continue
			}
			share := new(big.Rat).Quo(g[k][i], sum)
			in[i].Add(in[i], new(big.Rat).Mul(share, in[k]))
			for j := range n {
				if j != i && g[k][j].Sign() != 0 {
					g[i][j].Add(g[i][j], new(big.Rat).Mul(share, g[k][j]))
				}
			}
		}
		for i := range n {
			g[k][i].SetInt64(0)
			g[i][k].SetInt64(0)
		}
	}
	// What is left are a, b and the held nodes. Each of a and b that is not
	// held itself: own·v − g_ab·(the other) = right.
	own := func(k, other int) (own, right *big.Rat) {
		own, right = new(big.Rat), new(big.Rat).Set(in[k])
		for j, v := range held {
			own.Add(own, g[k][j])
			right.Add(right, new(big.Rat).Mul(g[k][j], v))
		}
		if _, fixed := held[other]; !fixed {
			own.Add(own, g[k][other])
		}
		return own, right
	}
	va, fixedA := held[a]
	vb, fixedB := held[b]
	zero := new(big.Rat)
	switch {
	case fixedA && fixedB:
		return new(big.Rat).Sub(va, vb)
	case fixedA:
		s, r := own(b, a)
		if s.Sign() == 0 {
			return zero
		}
		return new(big.Rat).Sub(va, r.Quo(r, s))
	case fixedB:
		s, r := own(a, b)
		if s.Sign() == 0 {
			return zero
		}
		return r.Sub(r.Quo(r, s), vb)
	}
	sa, ra := own(a, b)
	sb, rb := own(b, a)
	m := g[a][b]
	det := new(big.Rat).Mul(sa, sb)
	det.Sub(det, new(big.Rat).Mul(m, m))
	if det.Sign() == 0 {
		if m.Sign() == 0 {
			return zero // at least one of them hangs in the air
		}
		return ra.Quo(ra, m) // no held node in reach
	}
	// v_a − v_b = ((s_b − m) r_a − (s_a − m) r_b) / det
	sb.Sub(sb, m)
	sa.Sub(sa, m)
	d := ra.Mul(ra, sb)
	d.Sub(d, rb.Mul(rb, sa))
	return d.Quo(d, det)
}

// ohms gives the resistance between two nodes that are not apart.
func (x *exactNet) ohms(a, b int) *big.Rat { return x.difference(a, b, rational(1)) }

// exactOf writes a raw circuit with some elements parted in rational numbers,
// in one condition.
func exactOf(c *netlist.Circuit, cond solve.Condition, parted map[int]bool) *exactNet {
	x := &exactNet{nodes: len(c.Nodes)}
	if cond.Supply == solve.Idle {
		x.held = map[int]*big.Rat{netlist.GroundNode: new(big.Rat)}
	}
	for i, e := range c.Elements {
		law := e.Off
		if cond.Supply == solve.Idle {
			law = e.Awake
		}
		switch {
		case parted[i]:
			continue
		case e.Kind == netlist.LoadElement && cond.Supply == solve.Idle:
			x.held[netlist.SupplyNode] = rational(law.Volts.Mid)
			continue
		case e.Kind == netlist.Joint:
			x.edges = append(x.edges, exactEdge{a: e.A, b: e.B, ohms: new(big.Rat)})
			continue
		case law.Siemens && law.Value.Mid == 0:
			continue
		}
		ohms := rational(law.Value.Mid)
		if law.Siemens {
			ohms.Inv(ohms)
		}
		edge := exactEdge{a: e.A, b: e.B, ohms: ohms}
		if cond.Supply == solve.Idle {
			edge.volts = rational(law.Volts.Mid)
		}
		x.edges = append(x.edges, edge)
	}
	return x
}

// The rational arithmetic itself, against answers that are fractions.
func TestExactArithmetic(t *testing.T) {
	cube := &exactNet{nodes: 10}
	for a := range 8 {
		for bit := 1; bit < 8; bit <<= 1 {
			if a&bit == 0 {
				cube.edges = append(cube.edges, exactEdge{a: a, b: a | bit, ohms: rational(1)})
			}
		}
	}
	cube.edges = append(cube.edges, exactEdge{a: 0, b: 8, ohms: new(big.Rat)})
	for b, want := range map[int]*big.Rat{1: big.NewRat(7, 12), 3: big.NewRat(3, 4), 7: big.NewRat(5, 6)} {
		for _, a := range []int{0, 8} {
			if got := cube.ohms(a, b); got.Cmp(want) != 0 {
				t.Errorf("cube, %d to %d: %v, want %v", a, b, got, want)
			}
		}
	}
	if !cube.apart(0, 9) || cube.apart(8, 7) {
		t.Error("the search for a path is wrong")
	}
	divider := &exactNet{nodes: 3, held: map[int]*big.Rat{0: new(big.Rat), 1: rational(12)}}
	divider.edges = []exactEdge{{a: 1, b: 2, ohms: rational(1), volts: rational(3)}, {a: 2, b: 0, ohms: rational(2)}}
	if got, want := divider.difference(2, 0, new(big.Rat)), big.NewRat(6, 1); got.Cmp(want) != 0 {
		t.Errorf("divider: %v, want %v", got, want)
	}
}

// nasty makes a random network of up to 15 nodes whose resistances span up to
// decades: 1 mΩ beside 1 MΩ and 1 GΩ, parallel edges, loops, islands, ideal
// joints. It says which elements to cut.
func nasty(rng *rand.Rand, decades float64) (c *netlist.Circuit, parted map[int]bool) {
	nodes := 4 + rng.IntN(12)
	low := 1e-3 * math.Pow(10, 3*rng.Float64())
	value := func() float64 {
		if rng.IntN(4) == 0 { // the ends of the range come up often
			return low * math.Pow(10, decades*float64(rng.IntN(2)))
		}
		return low * math.Pow(10, decades*rng.Float64())
	}
	var edges []edge
	add := func(a, b int) {
		e := edge{a, b, value()}
		if rng.IntN(15) == 0 {
			e.ohms = 0
		}
		edges = append(edges, e)
		for rng.IntN(6) == 0 {
			edges = append(edges, edge{b, a, value()})
		}
	}
	switch rng.IntN(3) {
	case 0: // anything
		for range nodes + rng.IntN(nodes) {
			if a, b := rng.IntN(nodes), rng.IntN(nodes); a != b {
				add(a, b)
			}
		}
	case 1: // a tree with some loops, like a harness
		for i := 1; i < nodes; i++ {
			add(rng.IntN(i), i)
		}
		for range rng.IntN(4) {
			if a, b := rng.IntN(nodes), rng.IntN(nodes); a != b {
				add(a, b)
			}
		}
	case 2: // a long chain with rungs to ground
		for i := 2; i < nodes; i++ {
			add(i-1, i)
			if rng.IntN(2) == 0 {
				add(i, 0)
			}
		}
	}
	parted = map[int]bool{}
	for i := range edges {
		if rng.IntN(12) == 0 {
			parted[i] = true
		}
	}
	return raw(nodes, edges), parted
}

func cuts(parted map[int]bool) []solve.Change {
	var out []solve.Change
	for i := range parted {
		out = append(out, solve.Part{Element: i})
	}
	return out
}

// decades of the condition number that are told apart.
const decades = 26

// byCondition keeps the worst error seen for each decade of the condition
// number.
type byCondition struct {
	worst [decades + 1]float64
	count [decades + 1]int
}

func (w *byCondition) note(condition, err float64) {
	d := 0
	if condition > 1 {
		d = min(int(math.Log10(condition)), decades)
	}
	w.count[d]++
	w.worst[d] = math.Max(w.worst[d], err)
}

func (w *byCondition) String() string {
	var b strings.Builder
	for d := range w.worst {
		if w.count[d] > 0 {
			fmt.Fprintf(&b, "\ncondition 1e%02d to 1e%02d: %6d readings, worst error %.2g", d, d+1, w.count[d], w.worst[d])
		}
	}
	return b.String()
}

// conditionOf is the condition number behind a response.
func conditionOf(r *solve.Response) float64 {
	worst := 0.0
	for _, b := range r.Balances() {
		worst = math.Max(worst, b.Condition)
	}
	return worst
}

// accurate is the error that these tests allow; solve.MaxCondition promises it.
// Measured over 40000 networks are 5e-16 for ohms and 4e-13 for volts.
const accurate = 1e-12

// Readings of resistance agree with exact rational arithmetic as a share of
// themselves, those of voltage as a share of the supply's 12 V, for every network
// whose condition number solve.MaxCondition lets pass; above it comes a
// solve.DoubtfulError that names the elements which are too far apart. Sources
// sit in elements of 1 kΩ and more, as they do in a harness: sources in
// milliohms drive kiloamperes round in circles, the rounding of which shows in
// any far end that hangs on a megohm.
func TestAccuracyAgainstExactArithmetic(t *testing.T) {
	trials := 1200
	if testing.Short() {
		trials = 300
	}
	rng := rand.New(rand.NewPCG(20, 26))
	var ohms, volts byCondition
	doubtful := 0
	for trial := range trials {
		c, parted := nasty(rng, 24*rng.Float64())
		nodes := len(c.Nodes)
		resistors := len(c.Elements)
		supply(c, 12)
		for i := range resistors {
			if rng.IntN(2) == 0 && c.Elements[i].Off.Value.Mid >= 1e3 {
				c.Elements[i].Awake.Volts.Mid = 5 * (rng.Float64() - 0.5)
			}
		}
		c.Elements[resistors].Off.Value.Mid = 10 * math.Pow(10, 2*rng.Float64())
		for _, cond := range []solve.Condition{{}, {Supply: solve.Idle}} {
			n, err := solve.Assemble(c, cond, nil, cuts(parted)...)
			if errors.Is(err, solve.ErrSupplyShorted) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			x := exactOf(c, cond, parted)
			q, meter := solve.Ohms, solve.Meter{}
			if cond.Supply == solve.Idle {
				q, meter.InputOhms = solve.Volts, 10e6
			}
			for range 3 {
				a, b := rng.IntN(nodes), rng.IntN(nodes)
				r, err := n.Respond(q, a, b, meter)
				var doubt *solve.DoubtfulError
				if errors.As(err, &doubt) {
					doubtful++
					if !(doubt.Condition > solve.MaxCondition) {
						t.Errorf("trial %d: doubtful with condition number %g", trial, doubt.Condition)
					}
					if _, _, ok := extremes(c, parted, doubt); !ok {
						t.Errorf("trial %d: %v names elements that are not there or have other ohms", trial, doubt)
					}
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				solvetest.Check(t, r)
				if q == solve.Ohms {
					got, ok := r.Ohms()
					if ok == x.apart(a, b) {
						t.Fatalf("trial %d: %d to %d reads open: %v, but a search for a path says %v", trial, a, b, !ok, x.apart(a, b))
					}
					if !ok {
						continue
					}
					want := x.ohms(a, b)
					e := exactError(got, want, want)
					ohms.note(conditionOf(r), e)
					if !(e <= accurate) {
						t.Errorf("trial %d: %d to %d: %v Ω, exactly %s; error %.2g at condition %.2g", trial, a, b, got, want.FloatString(12), e, conditionOf(r))
					}
					continue
				}
				loaded := *x
				loaded.edges = append(loaded.edges[:len(loaded.edges):len(loaded.edges)], exactEdge{a: a, b: b, ohms: rational(meter.InputOhms)})
				want := loaded.difference(a, b, new(big.Rat))
				e := exactError(r.Value().Number, want, rational(12))
				volts.note(conditionOf(r), e)
				if !(e <= accurate) {
					t.Errorf("trial %d: %d to %d: %v V, exactly %s; error %.2g of 12 V at condition %.2g", trial, a, b, r.Value(), want.FloatString(12), e, conditionOf(r))
				}
			}
		}
	}
	t.Logf("ohms, relative error:%v\nvolts, error as a share of 12 V:%v\n%d readings refused as doubtful", &ohms, &volts, doubtful)
	for d := range 18 {
		if ohms.count[d] == 0 && d > 0 || volts.count[d] == 0 && d > 0 {
			t.Errorf("no network with a condition number of 1e%d to 1e%d came up", d, d+1)
		}
	}
	if doubtful == 0 {
		t.Error("no network above MaxCondition came up")
	}
}

// exactError is |got − want| as a share of |scale|, taken in rational numbers.
func exactError(got float64, want, scale *big.Rat) float64 {
	if math.IsNaN(got) || math.IsInf(got, 0) {
		return math.Inf(1)
	}
	d := rational(got)
	d.Sub(d, want)
	if d.Sign() == 0 {
		return 0
	}
	if scale.Sign() == 0 {
		return math.Inf(1)
	}
	f, _ := d.Quo(d, scale).Float64()
	return math.Abs(f)
}

// extremes finds the two elements that a DoubtfulError names and holds it
// against their ohms.
func extremes(c *netlist.Circuit, parted map[int]bool, doubt *solve.DoubtfulError) (least, most int, ok bool) {
	least, most = -1, -1
	for i, e := range c.Elements {
		if parted[i] || e.Kind == netlist.Joint {
			continue
		}
		if e.Name == doubt.Least && near(e.Off.Ohms(nil), doubt.LeastOhms, 1e-12, 0) {
			least = i
		}
		if e.Name == doubt.Most && near(e.Off.Ohms(nil), doubt.MostOhms, 1e-12, 0) {
			most = i
		}
	}
	return least, most, least >= 0 && most >= 0 && doubt.LeastOhms <= doubt.MostOhms
}

// Two clusters of milliohms held together by next to nothing: the error names
// both, and the ohms of a fault by what they are.
func TestDoubtfulErrorNamesTheElements(t *testing.T) {
	c := floating(4, []edge{{0, 1, 1e-3}, {1, 2, 5e17}, {2, 3, 2e-3}})
	n := assemble(t, c, solve.Condition{})
	_, err := n.Respond(solve.Ohms, first, first+3, solve.Meter{})
	var doubt *solve.DoubtfulError
	if !errors.As(err, &doubt) {
		t.Fatalf("error %v, want a *solve.DoubtfulError", err)
	}
	want := solve.DoubtfulError{Condition: doubt.Condition, Least: "e0", LeastOhms: 1e-3, Most: "e1", MostOhms: 5e17}
	if !near(doubt.LeastOhms, want.LeastOhms, exact, 0) || !near(doubt.MostOhms, want.MostOhms, exact, 0) || doubt.Least != want.Least || doubt.Most != want.Most {
		t.Errorf("%+v, want %+v", *doubt, want)
	}
	if !(doubt.Condition > solve.MaxCondition) {
		t.Errorf("condition number %g is not above %g", doubt.Condition, solve.MaxCondition)
	}
	for _, part := range []string{"e0", "e1", "0.001", "5e+17"} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("%q does not say %s", err, part)
		}
	}
	// The same part as a fault's own resistance.
	c = floating(4, []edge{{0, 1, 1e-3}, {2, 3, 2e-3}})
	n = assemble(t, c, solve.Condition{}, solve.Bridge{From: solve.AtNode(first + 1), To: solve.AtNode(first + 2), Ohms: 5e17})
	_, err = n.Respond(solve.Ohms, first, first+3, solve.Meter{})
	if !errors.As(err, &doubt) || doubt.Most != "the fault's own resistance" {
		t.Errorf("error %v, want a *solve.DoubtfulError about the fault's own resistance", err)
	}
	// Readings inside one cluster of another part are not touched.
	n = assemble(t, floating(6, []edge{{0, 1, 1e-3}, {1, 2, 5e17}, {2, 3, 2e-3}, {4, 5, 60}}), solve.Condition{})
	if _, err := n.Respond(solve.Ohms, first, first+1, solve.Meter{}); !errors.As(err, &doubt) {
		t.Errorf("error %v, want a *solve.DoubtfulError", err)
	}
	wantNear(t, "the part beside", between(t, n, 4, 5), 60, exact)
}

// Whole harnesses of ordinary parts, healthy, unplugged and with parts open: the
// reference programs of TestReference do not keep enough digits to settle these.
func TestHarnessAgainstExactArithmetic(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var ohms, volts byCondition
	for i := range 8 {
		m := &maker{rng: rng, of: workshop}
		c := circuitOf(t, m.harness())
		points := pointsOf(c)
		for _, cond := range []solve.Condition{{}, {Supply: solve.Idle}} {
			parted := map[int]bool{}
			for _, s := range c.Sites {
				if (s.Kind == netlist.InlineSite || s.Device != "") && rng.IntN(8) == 0 {
					cond.Unplugged = append(cond.Unplugged, s.Name)
				}
			}
			apart, err := c.Unplug(cond.Unplugged...)
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range apart {
				parted[e] = true
			}
			for range rng.IntN(3) {
				parted[rng.IntN(len(c.Elements))] = true
			}
			n := assemble(t, c, cond, cuts(parted)...)
			x := exactOf(c, cond, parted)
			for range 3 {
				from, to := pick(rng, points), pick(rng, points)
				a, b := node(t, c, from), node(t, c, to)
				if cond.Supply == solve.Off {
					r := respond(t, n, solve.Ohms, a, b, solve.Meter{})
					got, ok := r.Ohms()
					if ok == x.apart(a, b) {
						t.Errorf("harness %d, %v: %s to %s reads open: %v", i, cond, from, to, !ok)
					}
					if !ok {
						continue
					}
					want := x.ohms(a, b)
					e := exactError(got, want, want)
					ohms.note(conditionOf(r), e)
					if !(e <= accurate) {
						t.Errorf("harness %d, %v: %s to %s: %v Ω, exactly %s", i, cond, from, to, got, want.FloatString(12))
					}
					continue
				}
				meter := solve.DefaultMeter()
				r := respond(t, n, solve.Volts, a, b, meter)
				loaded := *x
				loaded.edges = append(loaded.edges[:len(loaded.edges):len(loaded.edges)], exactEdge{a: a, b: b, ohms: rational(meter.InputOhms)})
				want := loaded.difference(a, b, new(big.Rat))
				e := exactError(r.Value().Number, want, rational(12))
				volts.note(conditionOf(r), e)
				if !(e <= accurate) {
					t.Errorf("harness %d, %v: %s to %s: %v V, exactly %s", i, cond, from, to, r.Value(), want.FloatString(12))
				}
			}
		}
	}
	t.Logf("ohms, relative error:%v\nvolts, error as a share of 12 V:%v", &ohms, &volts)
}
