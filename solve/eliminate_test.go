package solve_test

import (
	"errors"
	"math"
	"math/big"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

// drawNet draws a network of resistors: trees with loops, rings with rungs to ground,
// meshes in which all are tied to each other or many to many; 1 mΩ beside 1 MΩ, parallel
// edges, ideal joints, islands.
func drawNet(t *rapid.T, most int) (nodes int, edges []edge) {
	nodes = rapid.IntRange(4, most).Draw(t, "nodes")
	joints := true // in a mesh they would soon join all
	add := func(a, b int) {
		if a == b {
			return
		}
		e := edge{a, b, math.Pow(10, rapid.Float64Range(-3, 6).Draw(t, "decade"))}
		switch rapid.IntRange(0, 11).Draw(t, "as") {
		case 0:
			if joints {
				e.ohms = 0
			}
		case 1, 2:
			e.ohms = 1e-3
		case 3, 4:
			e.ohms = 1e6
		case 5:
			edges = append(edges, edge{b, a, e.ohms / 3})
		}
		edges = append(edges, e)
	}
	any := func(what string) int { return rapid.IntRange(0, nodes-1).Draw(t, what) }
	switch rapid.IntRange(0, 4).Draw(t, "shape") {
	case 0: // like a harness: a tree, some loops; a stub may hang on anything
		for i := first + 1; i < nodes; i++ {
			if rapid.IntRange(0, 14).Draw(t, "island") > 0 {
				add(rapid.IntRange(first, i-1).Draw(t, "to"), i)
			}
			if rapid.IntRange(0, 3).Draw(t, "leak") == 0 {
				add(i, rapid.IntRange(0, 1).Draw(t, "rail"))
			}
		}
		for range rapid.IntRange(0, 4).Draw(t, "loops") {
			add(any("from"), any("to"))
		}
	case 1: // a ring with rungs
		for i := first; i < nodes; i++ {
			add(i, first+(i-first+1)%(nodes-first))
			if rapid.Bool().Draw(t, "rung") {
				add(i, 0)
			}
		}
	case 2: // all tied to each other, and a tail
		joints = false
		mesh := min(nodes, first+rapid.IntRange(2, 24).Draw(t, "mesh"))
		for i := first; i < mesh; i++ {
			for j := first; j < i; j++ {
				add(j, i)
			}
		}
		add(0, any("ground"))
		for i := mesh; i < nodes; i++ {
			add(i-1, i)
		}
	case 3: // anything
		for range nodes + nodes/2 {
			add(any("from"), any("to"))
		}
	case 4: // many to many, so that rows have many neighbours and are still few of all
		joints = false
		for i := first; i < nodes; i++ {
			for _, step := range []int{1, 5, 7, 11} {
				if i+step < nodes {
					add(i, i+step)
				}
			}
		}
		add(0, nodes-1)
	}
	return nodes, edges
}

// Every reading, whichever way it is taken, is what the dense matrix has (gonum, the way
// in which this package solved before) and, on the smaller networks, what exact
// rational arithmetic has.
func TestReadingsAgreeWithDenseAndExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		small := rapid.Bool().Draw(t, "small")
		most := 60
		if small {
			most = 12
		}
		nodes, edges := drawNet(t, most)
		c := raw(nodes, edges)
		resistors := len(c.Elements)
		supply(c, 12)
		for i := range resistors {
			if c.Elements[i].Off.Value.Mid >= 1e3 && rapid.IntRange(0, 3).Draw(t, "source") == 0 {
				c.Elements[i].Awake.Volts.Mid = float64(rapid.IntRange(-30, 30).Draw(t, "decivolts")) / 10
			}
		}
		parted := map[int]bool{}
		for i := range resistors {
			if rapid.IntRange(0, 15).Draw(t, "cut") == 0 {
				parted[i] = true
			}
		}
		cond := solve.Condition{Supply: solve.Supply(rapid.IntRange(0, 1).Draw(t, "supply"))}
		n, err := solve.Assemble(c, cond, nil, cuts(parted)...)
		if err != nil {
			t.Skip(err)
		}
		x := exactOf(c, cond, parted)
		whole, err := n.Ports()
		if err != nil {
			t.Fatal(err)
		}
		q := solve.Ohms
		if cond.Supply == solve.Idle {
			q = solve.Volts
		}
		for range 3 {
			a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
			r, err := n.Respond(q, a, b, solve.Meter{})
			if err != nil {
				t.Fatal(err)
			}
			solvetest.Check(t, r)
			quick, err := n.Read(q, a, b, solve.Meter{})
			if err != nil {
				t.Fatal(err)
			}
			if n.Apart(a, b) {
				if quick.OL != (q == solve.Ohms) {
					t.Fatalf("%d to %d are apart and read %v", a, b, quick)
				}
				continue
			}
			ohms, volts, err := n.DenseReading(a, b, q == solve.Volts)
			if err != nil {
				continue // no reference there
			}
			got, _ := r.Ohms()
			if !near(got, ohms, 1e-9, 0) {
				t.Fatalf("%d to %d: %v Ω, %v by the dense matrix", a, b, got, ohms)
			}
			// The inverse loses digits as the condition number grows.
			if got, want := conditionOf(r), n.DenseCondition(); small && want < 1e8 && !near(got, want, 1e-6, 0) {
				t.Fatalf("condition number %v, by an explicit inverse %v", got, want)
			}
			for _, columns := range []bool{false, true} {
				p := whole.WithColumns(columns)
				m := p.Meter(a, b)
				if err := p.Prepare(m); err != nil {
					t.Fatal(err)
				}
				// From ports, differences of resistances to the reference: to rounding
				// of those.
				if got := p.Between(&m, &m); !near(got, ohms, 1e-9, 1e-5) {
					t.Fatalf("%d to %d: %v Ω from ports (columns: %v), %v by the dense matrix", a, b, got, columns, ohms)
				}
			}
			if q == solve.Volts {
				if !near(quick.Number, volts, 1e-9, 1e-10) || !near(r.Value().Number, volts, 1e-9, 1e-10) {
					t.Fatalf("%d to %d: %v and %v V, %v by the dense matrix", a, b, quick, r.Value(), volts)
				}
			} else if !near(quick.Number, ohms, 1e-9, 0) {
				t.Fatalf("%d to %d: %v Ω read, %v by the dense matrix", a, b, quick, ohms)
			}
			if !small {
				continue
			}
			if q == solve.Volts {
				want := x.difference(a, b, new(big.Rat))
				if e := exactError(quick.Number, want, rational(12)); !(e <= accurate) {
					t.Fatalf("%d to %d: %v V, exactly %s", a, b, quick, want.FloatString(12))
				}
				continue
			}
			want := x.ohms(a, b)
			for _, got := range []float64{got, quick.Number} {
				if e := exactError(got, want, want); !(e <= 1e-14) {
					t.Fatalf("%d to %d: %v Ω, exactly %s: error %.2g", a, b, got, want.FloatString(15), e)
				}
			}
		}
	})
}

// Ports that keep paths give what ports that keep columns give, for strands in branches
// as well as between points and along wires.
func TestPathsAgreeWithColumns(t *testing.T) {
	circuits := demoCircuits(t)
	circuits = append(circuits, floating(8, []edge{{0, 1, 0.1}, {1, 2, 5}, {0, 2, 3e5}, {2, 7, 1}, {3, 4, 0.02}, {4, 5, 60}, {5, 3, 120}, {5, 6, 1}}))
	for _, c := range circuits {
		for _, s := range []solve.Supply{solve.Off, solve.Idle} {
			whole, err := solve.PortsOf(c, s)
			if err != nil {
				continue // no supply in it
			}
			var both [2][][]float64
			for i, columns := range []bool{false, true} {
				p := whole.WithColumns(columns)
				var changes []solve.Change
				for e := range c.Elements {
					if c.Elements[e].Kind != netlist.Joint {
						changes = append(changes, solve.Insert{Element: e, Ohms: 10})
					}
					if c.Elements[e].Kind == netlist.WireElement {
						changes = append(changes, solve.Bridge{From: solve.OnWire(e, 0.3), To: solve.AtNode(netlist.GroundNode), Ohms: 5})
					}
				}
				var ports []solve.Port
				for _, ch := range changes {
					strands, err := p.Lay([]solve.Change{ch})
					if err != nil {
						continue
					}
					for _, s := range strands {
						ports = append(ports, s.Port)
					}
				}
				ports = append(ports, p.Meter(len(c.Nodes)-1, 2), p.Meter(3, netlist.SupplyNode))
				if err := p.Prepare(ports...); err != nil {
					t.Fatal(err)
				}
				for a := range ports {
					row := []float64{p.Fixed(&ports[a])}
					for b := range ports {
						row = append(row, p.Between(&ports[a], &ports[b]))
					}
					both[i] = append(both[i], row)
				}
			}
			for a := range both[0] {
				for b := range both[0][a] {
					// Columns lose digits where two potentials nearly cancel.
					if x, y := both[0][a][b], both[1][a][b]; !near(x, y, 1e-9, 1e-9) {
						t.Errorf("%s, supply %v, ports %d and %d: %v by paths, %v by columns", c.Nodes[0].Name, s, a, b-1, x, y)
					}
				}
			}
		}
	}
}

// Between any two of m points that are all tied to each other by 1 Ω stand 2/m Ω (by
// symmetry the other points share one potential, so that 1 Ω and m−2 times 2 Ω are
// parallel). Enough of them are taken out as a full array.
func TestAllTiedToEachOther(t *testing.T) {
	for _, m := range []int{3, 8, 20, 60} {
		var edges []edge
		for i := range m {
			for j := range i {
				edges = append(edges, edge{j, i, 1})
			}
		}
		n := assemble(t, floating(m, edges), solve.Condition{})
		for _, b := range []int{1, m / 2, m - 1} {
			v, err := n.Read(solve.Ohms, first, first+b, solve.Meter{})
			if err != nil {
				t.Fatal(err)
			}
			wantNear(t, "read", v.Number, 2/float64(m), 1e-14)
			wantNear(t, "solved", between(t, n, 0, b), 2/float64(m), 1e-14)
		}
	}
}

// One tie of strands read at several places gives what a tie of its own gives for each.
func TestTiedIsReadAnew(t *testing.T) {
	for _, c := range demoCircuits(t) {
		for _, s := range []solve.Supply{solve.Off, solve.Idle} {
			p, err := solve.PortsOf(c, s)
			if err != nil {
				t.Fatal(err)
			}
			q := solve.Ohms
			if s == solve.Idle {
				q = solve.Volts
			}
			var wire int
			for i, e := range c.Elements {
				if e.Kind == netlist.WireElement {
					wire = i
				}
			}
			strands, err := p.Lay([]solve.Change{
				solve.Insert{Element: wire, Ohms: 30},
				solve.Bridge{From: solve.AtNode(c.Elements[wire].A), To: solve.AtNode(netlist.SupplyNode), Ohms: 3},
			})
			if err != nil {
				t.Fatal(err)
			}
			for i := range strands {
				if err := p.Prepare(strands[i].Port); err != nil {
					t.Fatal(err)
				}
			}
			shared := p.Tie(strands)
			for node := 2; node < len(c.Nodes); node += 3 {
				m := p.Meter(node, netlist.GroundNode)
				if err := p.Prepare(m); err != nil {
					t.Fatal(err)
				}
				var got [2][]float64
				for i, tied := range []*solve.Tied{shared, p.Tie(strands)} {
					k, _, _ := tied.Solve(&m)
					got[i] = make([]float64, len(c.Parameters))
					tied.Sensitivities(q, solve.DefaultMeter(), &m, node, netlist.GroundNode, k, got[i])
				}
				for j := range got[0] {
					if got[0][j] != got[1][j] {
						t.Errorf("supply %v, node %d, %s: %v, read alone %v", s, node, c.Parameters[j].Name, got[0][j], got[1][j])
					}
				}
			}
		}
	}
}

// A wire that bridges cut into pieces has a branch for each, and says so.
func TestPiecesOfACutWire(t *testing.T) {
	c := bench(t)
	wire := elementOf(t, c, "pair P2 H")
	n := assemble(t, c, solve.Condition{}, solve.Bridge{From: solve.OnWire(wire, 0.5), To: solve.AtNode(netlist.GroundNode), Ohms: 10})
	if _, err := n.Vary(solve.Insert{Element: wire}); !errors.Is(err, solve.ErrCut) {
		t.Errorf("error %v, want ErrCut", err)
	}
	if _, err := n.Vary(solve.Insert{Element: wire + 1}); err != nil {
		t.Errorf("the next element: %v", err)
	}
}

// A prepared net serves several goroutines: run with -race.
func TestPreparedNetIsShared(t *testing.T) {
	c := demoCircuits(t)[1]
	for _, s := range []solve.Supply{solve.Off, solve.Idle} {
		n := assemble(t, c, solve.Condition{Supply: s})
		n.Prepare()
		q := solve.Ohms
		if s == solve.Idle {
			q = solve.Volts
		}
		want := make([]solve.Value, len(c.Nodes))
		for i := range want {
			r, err := n.Respond(q, i, netlist.GroundNode, solve.DefaultMeter())
			if err != nil {
				t.Fatal(err)
			}
			want[i] = r.Value()
		}
		var wait sync.WaitGroup
		for range 4 {
			wait.Go(func() {
				for i := range want {
					r, err := n.Respond(q, i, netlist.GroundNode, solve.DefaultMeter())
					if err != nil {
						t.Error(err)
						return
					}
					if got := r.Value(); got.OL != want[i].OL || !got.OL && got.Number != want[i].Number {
						t.Errorf("node %d: %v, alone %v", i, got, want[i])
					}
					v, err := n.Read(q, i, netlist.GroundNode, solve.DefaultMeter())
					if err != nil || v.OL != want[i].OL || !v.OL && !near(v.Number, want[i].Number, 1e-13, 1e-13) {
						t.Errorf("node %d: read %v (%v), alone %v", i, v, err, want[i])
					}
				}
			})
		}
		wait.Wait()
	}
}

// Repeated solutions and readings allocate what they return and no more.
func TestSolvingAllocatesWhatItReturns(t *testing.T) {
	c := demoCircuits(t)[1]
	n := assemble(t, c, solve.Condition{})
	n.Prepare()
	m := solve.DefaultMeter()
	if got := testing.AllocsPerRun(100, func() {
		if _, err := n.Read(solve.Ohms, 5, 9, m); err != nil {
			t.Error(err)
		}
	}); got != 0 {
		t.Errorf("a reading allocates %v times", got)
	}
	if got := testing.AllocsPerRun(100, func() {
		if _, err := n.Respond(solve.Ohms, 5, 9, m); err != nil {
			t.Error(err)
		}
	}); got > 2 {
		t.Errorf("a response allocates %v times, want it and its potentials", got)
	}
}
