package solve_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/solvetest"
)

func pairOf(name string, from, to string) netlist.Pair {
	return netlist.Pair{Name: name, From: []string{from}, To: []string{to}, LengthM: 2, SectionMM2: 0.35}
}

func bench(t testing.TB) *netlist.Circuit {
	h := &netlist.Harness{
		Name:     "bench",
		Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "X1", Cavities: []netlist.Cavity{{Name: "6", Carries: "H"}, {Name: "14", Carries: "L"}, {Name: "16", Carries: "supply"}}},
			{Name: "X2"}, {Name: "X3"}, {Name: "X4", Inline: true},
		},
		Splices: []netlist.Splice{{Name: "S1"}},
		Modules: []netlist.Module{{Name: "one", Connectors: []string{"X2"}, Transceiver: "older"}, {Name: "two", Connectors: []string{"X3"}}},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "one", Ohms: 120}, {Name: "T2", At: "two", Ohms: 120, Split: true},
		},
		Pairs: []netlist.Pair{pairOf("P1", "X1", "S1"), pairOf("P2", "S1", "X2"), pairOf("P3", "S1", "X4/a"), pairOf("P4", "X4/b", "X3")},
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func node(t testing.TB, c *netlist.Circuit, name string) int {
	n, err := c.Point(name)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func rel(a, b float64) float64 {
	if a == b {
		return 0
	}
	return math.Abs(a-b) / math.Max(math.Abs(a), math.Abs(b))
}

// Every closed form against a fresh assembly, and every sensitivity against a
// finite difference of fresh assemblies.
func TestVariationsAndSensitivities(t *testing.T) {
	c := bench(t)
	rng := rand.New(rand.NewPCG(1, 2))
	var wires []int
	for i, e := range c.Elements {
		if e.Kind == netlist.WireElement {
			wires = append(wires, i)
		}
	}
	points := []string{"X1.6", "X1.14", "X2.H", "X2/device.L", "X4/a.H", "X4/b.H", "ground", "supply", "S1.L"}
	for trial := 0; trial < 400; trial++ {
		cond := solve.Condition{Supply: solve.Supply(rng.IntN(2))}
		q := solve.Ohms
		if cond.Supply == solve.Idle {
			q = solve.Volts
		}
		spot := func() solve.Spot {
			switch rng.IntN(3) {
			case 0:
				return solve.AtNode(rng.IntN(2))
			case 1:
				return solve.AtNode(rng.IntN(len(c.Nodes)))
			}
			return solve.OnWire(wires[rng.IntN(len(wires))], rng.Float64())
		}
		ohms := math.Exp(rng.Float64()*14 - 4)
		var ch solve.Change
		switch rng.IntN(3) {
		case 0:
			i := rng.IntN(len(c.Elements))
			if c.Elements[i].Kind == netlist.Joint {
				continue
			}
			ch = solve.Insert{Element: i, Ohms: ohms}
		default:
			b := solve.Bridge{From: spot(), To: spot(), Ohms: ohms}
			if b.From.Wire >= 0 && b.From.Wire == b.To.Wire {
				continue
			}
			ch = b
		}
		z := make([]float64, len(c.Parameters))
		for i := range z {
			z[i] = rng.Float64()*2 - 1
		}
		a, b := node(t, c, points[rng.IntN(len(points))]), node(t, c, points[rng.IntN(len(points))])
		if a == b {
			continue
		}
		healthy, err := solve.Assemble(c, cond, z)
		if err != nil {
			t.Fatal(err)
		}
		base, err := healthy.Respond(q, a, b, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		solvetest.Check(t, base)
		v, err := healthy.Vary(ch)
		if err != nil {
			t.Fatalf("%#v: %v", ch, err)
		}
		// No solvetest.Check of fast: it is the difference of two solutions, so
		// it keeps their rounding where they nearly cancel. slow is held against
		// the laws, and fast against slow.
		fast := v.Apply(base, ohms)
		direct := func(z []float64) *solve.Response {
			n, err := solve.Assemble(c, cond, z, ch)
			if err != nil {
				t.Fatal(err)
			}
			r, err := n.Respond(q, a, b, solve.DefaultMeter())
			if err != nil {
				t.Fatal(err)
			}
			solvetest.Check(t, r)
			return r
		}
		slow := direct(z)
		if d := rel(fast.Value().Number, slow.Value().Number); d > 1e-9 && math.Abs(fast.Value().Number-slow.Value().Number) > 1e-9 {
			t.Errorf("%v %#v: closed form %v, direct %v (rel %.2g)", cond, ch, fast.Value(), slow.Value(), d)
		}
		s1 := make([]float64, len(z))
		s2 := make([]float64, len(z))
		fast.Sensitivities(s1)
		slow.Sensitivities(s2)
		scale := 0.0
		for i := range s2 {
			scale = math.Max(scale, math.Abs(s2[i]))
		}
		for i := range s1 {
			if math.Abs(s1[i]-s2[i]) > 1e-7*scale+1e-12 {
				t.Errorf("%v %#v: sensitivity to %s: closed form %v, direct %v", cond, ch, c.Parameters[i].Name, s1[i], s2[i])
			}
			z2 := append([]float64(nil), z...)
			const h = 1e-4
			z2[i] = z[i] + h
			up := direct(z2).Value().Number
			z2[i] = z[i] - h
			down := direct(z2).Value().Number
			if fd := (up - down) / (2 * h); math.Abs(fd-s2[i]) > 1e-5*scale+1e-6 {
				t.Errorf("%v %#v: sensitivity to %s: %v, by difference %v", cond, ch, c.Parameters[i].Name, s2[i], fd)
			}
		}
	}
}

// A wire that is open and shorted part of the way: it is parted at its A end, so
// the short stays on its B end.
func TestShortOnAPartedWire(t *testing.T) {
	c := bench(t)
	wire := elementOf(t, c, "pair P2 H") // from S1 to X2
	n, err := solve.Assemble(c, solve.Condition{}, nil, solve.Part{Element: wire}, solve.Bridge{From: solve.OnWire(wire, 0.5), To: solve.AtNode(netlist.GroundNode)})
	if err != nil {
		t.Fatal(err)
	}
	whole := c.Elements[wire].Off.Ohms(nil)
	at := func(name string) float64 {
		v, err := n.Read(solve.Ohms, node(t, c, name), netlist.GroundNode, solve.Meter{})
		if err != nil || v.OL {
			t.Fatalf("%s: %v, %v", name, v, err)
		}
		return v.Number
	}
	if got := at("X2.H"); math.Abs(got-whole/2) > 1e-4*whole {
		t.Errorf("X2.H to ground: %v Ω, want half the wire, %v", got, whole/2)
	}
	if got := at("S1.H"); got < 50 {
		t.Errorf("S1.H to ground: %v Ω, though the wire is parted from it", got)
	}
}

// What is no place of the circuit is refused, as by [solve.Assemble].
func TestVaryRefuses(t *testing.T) {
	c := demoCircuits(t)[0]
	n := assemble(t, c, solve.Condition{})
	ground := solve.AtNode(netlist.GroundNode)
	wire := slices.IndexFunc(c.Elements, func(e netlist.Element) bool { return e.Kind == netlist.WireElement })
	for _, s := range []solve.Spot{solve.AtNode(-1), solve.AtNode(len(c.Nodes)), solve.OnWire(len(c.Elements), 0.5), solve.OnWire(wire, -0.1), solve.OnWire(wire, math.NaN())} {
		if _, err := n.Vary(solve.Bridge{From: ground, To: s, Ohms: 1}); err == nil {
			t.Errorf("%+v is taken", s)
		}
	}
}
