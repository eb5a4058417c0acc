package solve

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
)

var longest = flag.Int("connectors", 10000, "BenchmarkGrowth: the longest harness")

// trunk is an invented harness with some number of connectors: a trunk of splices with a
// stub to a module at each, an inline connector after every eighth, a terminator at
// either end. ring closes the trunk.
func trunk(connectors int, ring bool) *netlist.Harness {
	h := &netlist.Harness{Name: "trunk and stubs", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}}}
	pair := func(from, to string, length float64) {
		h.Pairs = append(h.Pairs, netlist.Pair{Name: fmt.Sprintf("P%d", len(h.Pairs)+1), From: []string{from}, To: []string{to}, LengthM: length, SectionMM2: 0.5})
	}
	last, modules := "", 0
	for len(h.Connectors) < connectors {
		x := fmt.Sprintf("X%d", len(h.Connectors)+1)
		if len(h.Connectors)%9 == 8 && len(h.Connectors)+1 < connectors {
			h.Connectors = append(h.Connectors, netlist.Connector{Name: x, Inline: true})
			pair(last, x+"/a", 1.5)
			last = x + "/b"
			continue
		}
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x})
		s := fmt.Sprintf("S%d", len(h.Splices)+1)
		h.Splices = append(h.Splices, netlist.Splice{Name: s})
		if last != "" {
			pair(last, s, 2)
		}
		pair(s, x, 0.5+0.1*float64(modules%7))
		last = s
		modules++
		h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("m%d", modules), Connectors: []string{x}, Transceiver: "older"})
	}
	for i, at := range []string{"m1", fmt.Sprintf("m%d", modules)} {
		h.Terminators = append(h.Terminators, netlist.Terminator{Name: fmt.Sprintf("T%d", i+1), At: at, Ohms: 120})
	}
	if ring {
		pair(last, "S1", 3)
	}
	return h
}

func trunkCircuit(t testing.TB, connectors int, ring bool) *netlist.Circuit {
	c, err := netlist.NewCircuit(trunk(connectors, ring))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The elimination of a long trunk, open or closed to a ring, makes few ties that were
// not there, and each place has few above it. This is what growth rests on, and it
// does not depend on how busy a machine is.
func TestEliminationStaysNearATree(t *testing.T) {
	for _, ring := range []bool{false, true} {
		for _, connectors := range []int{10, 60, 600, 3000} {
			n, err := Assemble(trunkCircuit(t, connectors, ring), Condition{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			n.Prepare()
			for _, p := range n.parts {
				if p.factor == nil {
					continue
				}
				m := len(p.classes)
				if got := len(p.factor.to); got > 3*m {
					t.Errorf("%d connectors, ring %v: %d shares for %d classes, want at most three each", connectors, ring, got, m)
				}
				most := int(slices.Max(p.factor.depth))
				if want := int(6 * math.Log2(float64(m+1))); most > want {
					t.Errorf("%d connectors, ring %v: a place of %d classes has %d above it, want at most %d", connectors, ring, m, most, want)
				}
				t.Logf("%5d connectors, ring %-5v: %6d classes, %6d shares, at most %d above a place", connectors, ring, m, len(p.factor.to), most)
			}
		}
	}
}

// A single chain is folded in half again and again: its ends, which have one neighbour,
// do not go before its middle.
func TestEliminationFoldsAChain(t *testing.T) {
	const m = 4096
	wires := make([]wire, m)
	for i := range int32(m) {
		wires[i] = wire{a: i, b: i + 1, siemens: 1} // the last leads to the reference
	}
	e, order := eliminate(m, wires)
	if len(order) != m {
		t.Fatalf("%d of %d rows were taken out", len(order), m)
	}
	if got := slices.Max(e.depth); got > 24 {
		t.Errorf("a place has %d above it, want at most twice the 12 doublings", got)
	}
	// 4096 resistors of 1 Ω in a row, from the far end.
	x := make([]float64, m)
	x[slices.Index(order, 0)] = 1
	e.solve(x)
	if got := x[slices.Index(order, 0)]; got != m {
		t.Errorf("%v Ω in a row of %d resistors of 1 Ω", got, m)
	}
}

// What a harness costs as it grows; of=dense is a fresh dense factorisation and solution
// of the same part in the same run. The last line has the exponents of growth between
// the sizes.
//
//	go test ./solve -run '^$' -bench Growth -count 5 -benchtime 0.3s
func BenchmarkGrowth(b *testing.B) {
	took := map[string]map[int]float64{}
	sizes := []int{}
	for _, connectors := range []int{10, 60, 600, 10000} {
		if connectors > *longest {
			continue
		}
		sizes = append(sizes, connectors)
		h := trunk(connectors, false)
		c, err := netlist.NewCircuit(h)
		if err != nil {
			b.Fatal(err)
		}
		ready := func() *Net {
			n, err := Assemble(c, Condition{}, nil)
			if err != nil {
				b.Fatal(err)
			}
			n.Prepare()
			return n
		}
		n := ready()
		x, err := c.Point("X1.H")
		if err != nil {
			b.Fatal(err)
		}
		y, err := c.Point("X1.L")
		if err != nil {
			b.Fatal(err)
		}
		measure := func(of string, f func()) {
			b.Run(fmt.Sprintf("connectors=%d/of=%s", connectors, of), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					f()
				}
				if took[of] == nil {
					took[of] = map[int]float64{}
				}
				// The least of several counts: what others do on the machine only adds.
				t := float64(b.Elapsed()) / float64(b.N)
				if least := took[of][connectors]; least == 0 || t < least {
					took[of][connectors] = t
				}
			})
		}
		measure("circuit", func() {
			if _, err := netlist.NewCircuit(h); err != nil {
				b.Fatal(err)
			}
		})
		measure("net", func() { ready() })
		measure("factor", func() {
			for _, p := range n.parts {
				p.ready, p.err = false, nil
				if err := n.factorise(p); err != nil {
					b.Fatal(err)
				}
			}
		})
		measure("solve", func() {
			if _, err := n.potentials(dipole(n.class[x], n.class[y]), false); err != nil {
				b.Fatal(err)
			}
		})
		measure("reading", func() {
			if _, err := n.Read(Ohms, x, y, DefaultMeter()); err != nil {
				b.Fatal(err)
			}
		})
		if connectors > 600 {
			continue
		}
		b.Run(fmt.Sprintf("connectors=%d/of=dense", connectors), func(b *testing.B) {
			part := n.partOf[n.class[x]]
			var factor, solve time.Duration
			right := mat.NewVecDense(len(n.parts[part].classes), nil)
			for b.Loop() {
				start := time.Now()
				d, err := newDense(n, part)
				if err != nil {
					b.Fatal(err)
				}
				factor += time.Since(start)
				start = time.Now()
				if err := d.chol.SolveVecTo(right, right); err != nil {
					b.Fatal(err)
				}
				solve += time.Since(start)
			}
			b.ReportMetric(float64(factor)/float64(b.N)/took["factor"][connectors], "factor-ratio")
			// One solution here is two triangular pairs and two residuals.
			b.ReportMetric(2*float64(solve)/float64(b.N)/took["solve"][connectors], "solve-ratio")
		})
	}
	b.Run("exponents", func(b *testing.B) {
		for b.Loop() {
		}
		b.ReportMetric(0, "ns/op")
		for of, by := range took {
			for i := 1; i < len(sizes); i++ {
				x, y := sizes[i-1], sizes[i]
				if by[x] > 0 && by[y] > 0 {
					b.ReportMetric(math.Log(by[y]/by[x])/math.Log(float64(y)/float64(x)), fmt.Sprintf("%s-%d-to-%d", of, x, y))
				}
			}
		}
	})
}

// Rows that are all tied to each other, by elimination and by the dense matrix.
func BenchmarkMesh(b *testing.B) {
	for _, rows := range []int{20, 200, 500} {
		rng := rand.New(rand.NewPCG(1, 2))
		c := &netlist.Circuit{Nodes: make([]netlist.Node, rows+2)}
		for i := range rows {
			for j := range i + 1 {
				law := netlist.Law{Value: netlist.Spread{Mid: 1 + rng.Float64()}}
				to := j + 1
				if j == 0 {
					to = netlist.GroundNode
				}
				c.Elements = append(c.Elements, netlist.Element{Kind: netlist.WireElement, A: i + 2, B: to, Off: law, Awake: law})
			}
		}
		n, err := Assemble(c, Condition{}, nil)
		if err != nil {
			b.Fatal(err)
		}
		p := n.parts[n.partOf[n.class[2]]]
		b.Run(fmt.Sprintf("rows=%d/elimination", rows), func(b *testing.B) {
			for b.Loop() {
				p.ready = false
				if err := n.factorise(p); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("rows=%d/dense", rows), func(b *testing.B) {
			for b.Loop() {
				if _, err := newDense(n, n.partOf[n.class[2]]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Resistances between ports of a harness, from columns and from paths.
func BenchmarkBetween(b *testing.B) {
	c := trunkCircuit(b, 60, false)
	all, err := PortsOf(c, Off)
	if err != nil {
		b.Fatal(err)
	}
	for _, columns := range []bool{true, false} {
		b.Run(fmt.Sprintf("columns=%v", columns), func(b *testing.B) {
			p := all.WithColumns(columns)
			var ports []Port
			for i := range c.Elements {
				if s, err := p.series(i, 10); err == nil && !s.dead {
					ports = append(ports, s.Port)
				}
			}
			for i := 2; i < len(c.Nodes); i++ {
				ports = append(ports, p.Meter(i, netlist.GroundNode))
			}
			if err := p.Prepare(ports...); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			i, sum := 0, 0.0
			for b.Loop() {
				i += 7919
				sum += p.Between(&ports[i%len(ports)], &ports[i/7%len(ports)])
			}
			_ = sum
		})
	}
}
