package solve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"pgregory.net/rapid"
)

// theorem is the tolerance for laws that hold exactly: a hundred times the
// rounding that exact arithmetic finds in a reading.
const theorem = 1e-13

// drawEdges draws a network over some nodes, rails among them: connected or not,
// with parallel edges and ideal joints, from 1 mΩ to 1 MΩ.
func drawEdges(t *rapid.T) (nodes int, edges []edge) {
	nodes = rapid.IntRange(2, 12).Draw(t, "nodes")
	edges = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) edge {
		a := rapid.IntRange(0, nodes-1).Draw(t, "a")
		b := rapid.IntRange(0, nodes-2).Draw(t, "b")
		if b >= a {
			b++
		}
		return edge{a, b, drawOhms(t, "ohms")}
	}), 0, 24).Draw(t, "edges")
	return nodes, edges
}

func drawOhms(t *rapid.T, label string) float64 {
	return math.Pow(10, float64(rapid.IntRange(-30, 60).Draw(t, label))/10)
}

// drawJoints makes some edges ideal.
func drawJoints(t *rapid.T, edges []edge) []edge {
	out := slices.Clone(edges)
	for i := range out {
		if rapid.IntRange(0, 9).Draw(t, "joint") == 0 {
			out[i].ohms = 0
		}
	}
	return out
}

// pieces counts connected parts and tells for each node which it is in.
func pieces(nodes int, edges []edge, without ...int) (count int, of []int) {
	of = make([]int, nodes)
	for i := range of {
		of[i] = -1
	}
	for i := range of {
		if of[i] >= 0 {
			continue
		}
		stack := []int{i}
		for len(stack) > 0 {
			k := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if of[k] >= 0 {
				continue
			}
			of[k] = count
			for j, e := range edges {
				if slices.Contains(without, j) {
					continue
				}
				if e.a == k {
					stack = append(stack, e.b)
				}
				if e.b == k {
					stack = append(stack, e.a)
				}
			}
		}
		count++
	}
	return count, of
}

// Foster: over all resistors, the sum of the resistance between a resistor's
// ends and its own resistance is the number of nodes less the number of parts.
func TestFoster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges := drawEdges(t)
		n := assemble(t, raw(nodes, edges), solve.Condition{})
		sum := 0.0
		for _, e := range edges {
			sum += ohmsOf(t, n, e.a, e.b) / e.ohms
		}
		parts, _ := pieces(nodes, edges)
		if want := float64(nodes - parts); !near(sum, want, theorem, 0) {
			t.Errorf("sum %.15g, want %d nodes − %d parts", sum, nodes, parts)
		}
	})
}

// Resistance is a metric: symmetric, 0 only where nodes are one, and never more
// than by way of a third node.
func TestResistanceIsAMetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges := drawEdges(t)
		edges = drawJoints(t, edges)
		n := assemble(t, raw(nodes, edges), solve.Condition{})
		r := make([][]float64, nodes)
		for a := range nodes {
			r[a] = make([]float64, nodes)
			for b := range nodes {
				r[a][b] = ohmsOf(t, n, a, b)
			}
		}
		joints := slices.DeleteFunc(slices.Clone(edges), func(e edge) bool { return e.ohms != 0 })
		_, one := pieces(nodes, joints)
		for a := range nodes {
			for b := range nodes {
				if !near(r[a][b], r[b][a], theorem, 0) {
					t.Errorf("%d to %d: %v, back: %v", a, b, r[a][b], r[b][a])
				}
				if (r[a][b] == 0) != (one[a] == one[b]) || r[a][b] < 0 {
					t.Errorf("%d to %d: %v, joined ideally: %v", a, b, r[a][b], one[a] == one[b])
				}
				for c := range nodes {
					if r[a][c] > (r[a][b]+r[b][c])*(1+theorem) {
						t.Errorf("%d to %d is %v, by way of %d %v", a, c, r[a][c], b, r[a][b]+r[b][c])
					}
				}
			}
		}
	})
}

// Rayleigh: raising or opening one element never lowers a resistance, a further
// path never raises one.
func TestRayleigh(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges := drawEdges(t)
		if len(edges) == 0 {
			t.Skip("nothing to change")
		}
		c := raw(nodes, edges)
		i := rapid.IntRange(0, len(edges)-1).Draw(t, "element")
		x := drawOhms(t, "change")
		var higher, lower []solve.Change
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			higher = append(higher, solve.Insert{Element: i, Ohms: x})
		case 1:
			higher = append(higher, solve.Part{Element: i})
		case 2:
			lower = append(lower, solve.Replace{Element: i, Ohms: edges[i].ohms / (1 + math.Min(x, 1000))})
		case 3:
			spot := solve.OnWire(i, float64(rapid.IntRange(0, 10).Draw(t, "tenths"))/10)
			lower = append(lower, solve.Bridge{From: spot, To: solve.AtNode(rapid.IntRange(0, nodes-1).Draw(t, "to")), Ohms: x})
		case 4:
			lower = append(lower, solve.Replace{Element: i})
		}
		low, high := assemble(t, c, solve.Condition{}, lower...), assemble(t, c, solve.Condition{}, higher...)
		for a := range nodes {
			for b := range a {
				if l, h := ohmsOf(t, low, a, b), ohmsOf(t, high, a, b); l > h*(1+theorem) {
					t.Errorf("%d to %d: %v with more conductance, %v with less", a, b, l, h)
				}
			}
		}
	})
}

// excite puts a source in series with some elements.
func excite(c *netlist.Circuit, volts map[int]float64) *netlist.Circuit {
	out := *c
	out.Elements = slices.Clone(c.Elements)
	for i, v := range volts {
		out.Elements[i].Awake.Volts.Mid = v
	}
	return &out
}

func voltsOf(t fataler, c *netlist.Circuit, a, b int) float64 {
	t.Helper()
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	return respond(t, n, solve.Volts, a, b, solve.Meter{}).Value().Number
}

// sturdy gives a network the sources of which sit in elements of 1 kΩ and more.
func sturdy(t *rapid.T) (nodes int, edges []edge, sources []int) {
	nodes, edges = drawEdges(t)
	for i, e := range edges {
		if e.ohms >= 1e3 {
			sources = append(sources, i)
		}
	}
	return nodes, edges, sources
}

// Reciprocity: 1 V in one element gives as much between the ends of another, for
// each ampere that it drives (1 V over its ohms), as the other way round. Both
// are what four resistances between the ends make, (R_ad + R_bc − R_ac − R_bd)/2,
// which ties voltages to resistances.
func TestReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges, sources := sturdy(t)
		if len(sources) < 2 {
			t.Skip("needs two elements for sources")
		}
		c := raw(nodes, edges)
		i := rapid.SampledFrom(sources).Draw(t, "one")
		j := rapid.SampledFrom(sources).Draw(t, "two")
		one, two := edges[i], edges[j]
		there := voltsOf(t, excite(c, map[int]float64{i: 1}), two.a, two.b) * one.ohms
		back := voltsOf(t, excite(c, map[int]float64{j: 1}), one.a, one.b) * two.ohms
		scale := math.Max(one.ohms, two.ohms)
		if !near(there, back, 0, 1e-12*scale) {
			t.Errorf("transfer resistance %v there, %v back", there, back)
		}
		n := assemble(t, c, solve.Condition{})
		if _, of := pieces(nodes, edges); of[one.a] != of[two.a] {
			if there != 0 {
				t.Errorf("transfer resistance %v between separate parts", there)
			}
			return
		}
		four := (ohmsOf(t, n, one.a, two.b) + ohmsOf(t, n, one.b, two.a) - ohmsOf(t, n, one.a, two.a) - ohmsOf(t, n, one.b, two.b)) / 2
		// The four may be far greater than what is left of them.
		if !near(there, four, 0, 1e-12*scale+1e-14*math.Abs(ohmsOf(t, n, one.a, two.b)+ohmsOf(t, n, one.b, two.a))) {
			t.Errorf("transfer resistance %v, from four resistances %v", there, four)
		}
	})
}

// Superposition: all sources at once read what they read one by one, and a
// source of twice the volts reads twice as much.
func TestSuperposition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges, sources := sturdy(t)
		c := raw(nodes, edges)
		a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
		all, twice := map[int]float64{}, map[int]float64{}
		sum, scale := 0.0, 0.0
		for _, i := range sources {
			v := float64(rapid.IntRange(-100, 100).Draw(t, "decivolts")) / 10
			all[i], twice[i] = v, 2*v
			sum += voltsOf(t, excite(c, map[int]float64{i: v}), a, b)
			scale += math.Abs(v)
		}
		if got := voltsOf(t, excite(c, all), a, b); !near(got, sum, 0, 1e-12*scale) {
			t.Errorf("all sources: %v V, one by one %v V", got, sum)
		}
		if got := voltsOf(t, excite(c, twice), a, b); !near(got, 2*sum, 0, 1e-12*scale) {
			t.Errorf("twice the sources: %v V, want %v V", got, 2*sum)
		}
	})
}

// Every resistance scales with the resistors; no voltage does.
func TestScaling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges, sources := sturdy(t)
		k := drawOhms(t, "factor")
		scaled := slices.Clone(edges)
		for i := range scaled {
			scaled[i].ohms *= k
		}
		a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
		n, m := assemble(t, raw(nodes, edges), solve.Condition{}), assemble(t, raw(nodes, scaled), solve.Condition{})
		if r, s := ohmsOf(t, n, a, b), ohmsOf(t, m, a, b); !near(s, k*r, theorem, 0) {
			t.Errorf("%v Ω, %g times as much everywhere: %v Ω", r, k, s)
		}
		volts := map[int]float64{}
		for _, i := range sources {
			volts[i] = 5
		}
		v, w := voltsOf(t, excite(raw(nodes, edges), volts), a, b), voltsOf(t, excite(raw(nodes, scaled), volts), a, b)
		if !near(v, w, 0, 1e-11) {
			t.Errorf("%v V, with all resistors scaled %v V", v, w)
		}
	})
}

// Neither the order of nodes and elements nor the direction of an element plays
// any part.
func TestOrderPlaysNoPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges, _ := sturdy(t)
		edges = drawJoints(t, edges)
		ids := make([]int, nodes)
		for i := range ids {
			ids[i] = i
		}
		to := rapid.Permutation(ids).Draw(t, "nodes")
		moved := rapid.Permutation(edges).Draw(t, "order")
		moved = slices.Clone(moved)
		for i, e := range moved {
			moved[i] = edge{to[e.a], to[e.b], e.ohms}
			if rapid.Bool().Draw(t, "turned") {
				moved[i].a, moved[i].b = moved[i].b, moved[i].a
			}
		}
		n, m := assemble(t, raw(nodes, edges), solve.Condition{}), assemble(t, raw(nodes, moved), solve.Condition{})
		for a := range nodes {
			for b := range a {
				if r, s := ohmsOf(t, n, a, b), ohmsOf(t, m, to[a], to[b]); !near(r, s, theorem, 0) {
					t.Errorf("%d to %d: %v, renamed and reordered %v", a, b, r, s)
				}
			}
		}
	})
}

// Bilinear theorem: a resistance against the ohms of one element is a ratio of
// two straight lines, so that three values give a fourth: the cross-ratio of
// four ohms is that of the four readings.
func TestBilinear(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges := drawEdges(t)
		if len(edges) == 0 {
			t.Skip("nothing to change")
		}
		c := raw(nodes, edges)
		i := rapid.IntRange(0, len(edges)-1).Draw(t, "element")
		a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
		// Around what the element itself sees, where it matters.
		mid := ohmsOf(t, assemble(t, c, solve.Condition{}), edges[i].a, edges[i].b)
		var x, y [4]float64
		for k := range x {
			x[k] = mid * math.Pow(4, float64(k)-1)
			y[k] = ohmsOf(t, assemble(t, c, solve.Condition{}, solve.Replace{Element: i, Ohms: x[k]}), a, b)
		}
		if math.IsInf(y[0], 1) || math.Abs(y[0]-y[2]) <= 1e-3*y[2] {
			return // too flat to fit
		}
		// (y3 − y0)/(y3 − y1) = q, with q from the fourth ohms and what the
		// first three readings make of the fit.
		q := (x[3] - x[0]) / (x[3] - x[1]) * (x[2] - x[1]) / (x[2] - x[0]) * (y[2] - y[0]) / (y[2] - y[1])
		want := (y[0] - q*y[1]) / (1 - q)
		if !near(y[3], want, 1e-9, 0) {
			t.Errorf("element %d at %v: readings %v; three of them give %.15g for the fourth", i, x, y, want)
		}
		checked++
	})
	if checked == 0 {
		t.Error("no network in which an element mattered came up")
	}
}

// Net.Vary gives for every value of a change what a fresh Assemble gives, and
// refuses just the bridges that join separate parts. It is a difference of two
// solutions, so what it starts from rounds as well; and what an inserted
// resistance sees is 1 less a share of nearly 1 where the element shorts the rest
// of the net, so that the rounding of it counts for each ohm that is inserted.
func TestVaryAgreesWithAssemble(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges, sources := sturdy(t)
		if len(edges) == 0 {
			t.Skip("nothing to change")
		}
		volts := map[int]float64{}
		for _, i := range sources {
			volts[i] = 5 * float64(i%3)
		}
		c := excite(raw(nodes, edges), volts)
		cond, q := solve.Condition{}, solve.Ohms
		if rapid.Bool().Draw(t, "idle") {
			cond.Supply, q = solve.Idle, solve.Volts
		}
		a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
		_, of := pieces(nodes, edges)
		joins := false
		var change func(ohms float64) solve.Change
		perOhm := 0.0
		spot := func() (solve.Spot, int) {
			if rapid.Bool().Draw(t, "on a wire") {
				i := rapid.IntRange(0, len(edges)-1).Draw(t, "wire")
				if volts[i] != 0 {
					t.Skip("a wire has no source in it")
				}
				return solve.OnWire(i, float64(rapid.IntRange(0, 10).Draw(t, "tenths"))/10), of[edges[i].a]
			}
			k := rapid.IntRange(0, nodes-1).Draw(t, "node")
			return solve.AtNode(k), of[k]
		}
		if rapid.Bool().Draw(t, "insert") {
			i := rapid.IntRange(0, len(edges)-1).Draw(t, "element")
			change = func(ohms float64) solve.Change { return solve.Insert{Element: i, Ohms: ohms} }
			perOhm = 0x1p-50 / edges[i].ohms
		} else {
			from, pf := spot()
			to, pt := spot()
			if from.Wire >= 0 && from.Wire == to.Wire {
				t.Skip("a loop within one wire is not a variation")
			}
			joins = pf != pt
			change = func(ohms float64) solve.Change { return solve.Bridge{From: from, To: to, Ohms: ohms} }
		}
		n := assemble(t, c, cond)
		base := respond(t, n, q, a, b, solve.DefaultMeter())
		v, err := n.Vary(change(0))
		if joins != errors.Is(err, solve.ErrApart) {
			t.Fatalf("the bridge joins separate parts: %v; error %v", joins, err)
		}
		if err != nil {
			return
		}
		for range 3 {
			ohms := drawOhms(t, "ohms")
			if rapid.IntRange(0, 4).Draw(t, "ideal") == 0 {
				ohms = 0
			}
			fast := v.Value(base, ohms)
			if applied := v.Apply(base, ohms).Value(); applied.OL != fast.OL || !fast.OL && !near(applied.Number, fast.Number, 1e-12, 1e-12*math.Max(1, math.Abs(base.Value().Number))) {
				t.Errorf("%v %#v: Value %v, Apply %v", cond, change(ohms), fast, applied)
			}
			fresh, err := solve.Assemble(c, cond, nil, change(ohms))
			if errors.Is(err, solve.ErrSupplyShorted) {
				continue
			}
			if err != nil {
				t.Fatalf("%v", err)
			}
			slow := respond(t, fresh, q, a, b, solve.DefaultMeter()).Value()
			if fast.OL != slow.OL || !fast.OL && !near(fast.Number, slow.Number, 1e-9+ohms*perOhm, 1e-12*math.Max(1, math.Abs(base.Value().Number))) {
				t.Errorf("%v %#v: varied %.15g, assembled %.15g, before %v", cond, change(ohms), fast.Number, slow.Number, base.Value())
			}
		}
	})
}

// With elements open a reading is OL just where a search finds no path.
func TestOverLimitJustWhereThereIsNoPath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes, edges := drawEdges(t)
		edges = drawJoints(t, edges)
		var without []int
		var changes []solve.Change
		for i := range edges {
			if rapid.IntRange(0, 3).Draw(t, "open") == 0 {
				without = append(without, i)
				changes = append(changes, solve.Part{Element: i})
			}
		}
		n := assemble(t, raw(nodes, edges), solve.Condition{}, changes...)
		_, of := pieces(nodes, edges, without...)
		for a := range nodes {
			for b := range nodes {
				got := respond(t, n, solve.Ohms, a, b, solve.Meter{}).Value()
				if apart := of[a] != of[b]; got.OL != apart || n.Apart(a, b) != apart {
					t.Errorf("%d to %d: %v, Apart %v; a search says apart: %v", a, b, got, n.Apart(a, b), apart)
				}
			}
		}
	})
}

// rename gives every part and network of a harness another name, turns its lists
// and its wires round, and says how points are called then.
func rename(h *netlist.Harness, rng *rand.Rand) (*netlist.Harness, func(string) string) {
	part := func(name string) string {
		switch name {
		case "", netlist.GroundRail, netlist.SupplyRail, netlist.NoTransceiver:
			return name
		}
		r := []rune(name)
		slices.Reverse(r)
		return "z" + string(r)
	}
	point := func(p string) string {
		at := strings.IndexAny(p, "/.")
		if at < 0 {
			return part(p)
		}
		return part(p[:at]) + p[at:]
	}
	parts := func(of []string, f func(string) string) []string {
		var out []string
		for _, s := range of {
			out = append(out, f(s))
		}
		return out
	}
	out := *h
	out.Networks, out.Transceivers = slices.Clone(h.Networks), slices.Clone(h.Transceivers)
	out.Connectors, out.Splices, out.Modules = slices.Clone(h.Connectors), slices.Clone(h.Splices), slices.Clone(h.Modules)
	out.Terminators, out.Pairs, out.Wires, out.Strays = slices.Clone(h.Terminators), slices.Clone(h.Pairs), slices.Clone(h.Wires), slices.Clone(h.Strays)
	for i := range out.Networks {
		out.Networks[i].Name = part(out.Networks[i].Name)
	}
	for i := range out.Transceivers {
		out.Transceivers[i].Name = part(out.Transceivers[i].Name)
	}
	for i := range out.Connectors {
		x := &out.Connectors[i]
		x.Name, x.Network, x.Cavities = part(x.Name), part(x.Network), slices.Clone(x.Cavities)
		for j := range x.Cavities {
			if k := &x.Cavities[j]; strings.Contains(k.Carries, ".") {
				k.Carries = point(k.Carries)
			}
		}
		shuffle(rng, x.Cavities)
	}
	for i := range out.Splices {
		x := &out.Splices[i]
		x.Name, x.Network = part(x.Name), part(x.Network)
	}
	for i := range out.Modules {
		x := &out.Modules[i]
		x.Name, x.Transceiver, x.Connectors, x.Networks = part(x.Name), part(x.Transceiver), parts(x.Connectors, part), parts(x.Networks, part)
		shuffle(rng, x.Connectors)
	}
	for i := range out.Terminators {
		x := &out.Terminators[i]
		x.Name, x.At, x.Network = part(x.Name), part(x.At), part(x.Network)
	}
	for i := range out.Pairs {
		x := &out.Pairs[i]
		x.Name, x.Network, x.From, x.To = part(x.Name), part(x.Network), parts(x.To, point), parts(x.From, point)
		if len(x.From) == len(x.To) && rng.IntN(2) == 0 {
			slices.Reverse(x.From) // L point first
		}
	}
	for i := range out.Wires {
		x := &out.Wires[i]
		x.Name, x.From, x.To = part(x.Name), point(x.To), point(x.From)
	}
	for i := range out.Strays {
		x := &out.Strays[i]
		x.Name, x.From, x.To = part(x.Name), point(x.To), point(x.From)
	}
	shuffle(rng, out.Networks)
	shuffle(rng, out.Transceivers)
	shuffle(rng, out.Connectors)
	shuffle(rng, out.Splices)
	shuffle(rng, out.Modules)
	shuffle(rng, out.Terminators)
	shuffle(rng, out.Pairs)
	shuffle(rng, out.Wires)
	shuffle(rng, out.Strays)
	return &out, point
}

func shuffle[T any](rng *rand.Rand, s []T) {
	rng.Shuffle(len(s), func(i, j int) { s[i], s[j] = s[j], s[i] })
}

// A harness reads the same whatever its parts are called, in whichever order
// they are listed and from whichever end its wires are written.
func TestNamesAndOrderOfAHarnessPlayNoPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		m := &maker{rng: rng, of: workshop}
		h := m.harness()
		other, point := rename(h, rng)
		c, err := netlist.NewCircuit(h)
		if err != nil {
			t.Fatalf("%v", err)
		}
		d, err := netlist.NewCircuit(other)
		if err != nil {
			t.Fatalf("renamed: %v", err)
		}
		points := pointsOf(c)
		for _, cond := range []solve.Condition{{}, {Supply: solve.Idle}} {
			q, floor := solve.Ohms, 0.0
			if cond.Supply == solve.Idle {
				q, floor = solve.Volts, 1e-11
			}
			renamed := cond
			for _, s := range c.Sites {
				if (s.Kind == netlist.InlineSite || s.Device != "") && rng.IntN(6) == 0 {
					cond.Unplugged = append(cond.Unplugged, s.Name)
					renamed.Unplugged = append(renamed.Unplugged, point(s.Name))
				}
			}
			n, m := assemble(t, c, cond), assemble(t, d, renamed)
			for range 6 {
				from, to := pick(rng, points), pick(rng, points)
				at := func(c *netlist.Circuit, name string) int {
					k, err := c.Point(name)
					if err != nil {
						t.Fatalf("%v", err)
					}
					return k
				}
				x := respond(t, n, q, at(c, from), at(c, to), solve.DefaultMeter()).Value()
				y := respond(t, m, q, at(d, point(from)), at(d, point(to)), solve.DefaultMeter()).Value()
				if x.OL != y.OL || !x.OL && !near(x.Number, y.Number, 1e-12, floor) {
					t.Errorf("%v, %s to %s: %v, renamed %v", cond, from, to, x, y)
				}
			}
		}
	})
}
