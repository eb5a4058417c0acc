package solve_test

import (
	"math"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/strictyaml"
	"example.com/ohmloom/solve"
)

// onUnit puts ohms on a scale from 0 to 1 on which a meter's errors are even (1 kΩ
// in the middle), so that a tolerance means something for 0.1 Ω and for OL.
func onUnit(v solve.Value) float64 {
	if v.OL {
		return 1
	}
	return v.Number / (v.Number + 1000)
}

// Any few changes at once, seen from ports, must give what a net that is assembled
// with them gives: the Woodbury identity against fresh factorisations. Readings
// and their sensitivities; cut-off parts, mΩ beside MΩ, spots along wires and
// unplugged connectors are drawn.
func TestPortsAgreeWithNets(t *testing.T) {
	circuits := demoCircuits(t)
	// A part without any rail, which a bridge may tie to another or to ground.
	circuits = append(circuits, floating(7, []edge{{0, 1, 0.1}, {1, 2, 5}, {0, 2, 3e5}, {3, 4, 0.02}, {4, 5, 60}, {5, 3, 120}, {5, 6, 1}}))
	rapid.Check(t, func(t *rapid.T) {
		c := circuits[rapid.IntRange(0, len(circuits)-1).Draw(t, "circuit")]
		supply := solve.Supply(rapid.IntRange(0, 1).Draw(t, "supply"))
		p, err := solve.PortsOf(c, supply)
		if err != nil {
			t.Fatal(err)
		}
		var changes []solve.Change
		var unplugged []string
		if len(c.Sites) > 0 && rapid.Bool().Draw(t, "unplug") {
			s := c.Sites[rapid.IntRange(0, len(c.Sites)-1).Draw(t, "site")]
			if parted, err := c.Unplug(s.Name); err == nil {
				for _, u := range c.Units {
					if supply == solve.Idle && slices.Contains(parted, u.GroundElement) {
						t.Skip("a module without supply is another module")
					}
				}
				unplugged = []string{s.Name}
				for _, e := range parted {
					changes = append(changes, solve.Part{e})
				}
			}
		}
		first := len(changes)
		wire := func() int {
			for {
				i := rapid.IntRange(0, len(c.Elements)-1).Draw(t, "element")
				if k := c.Elements[i].Kind; k == netlist.WireElement || k == netlist.ContactElement {
					return i
				}
			}
		}
		spot := func() solve.Spot {
			if rapid.Bool().Draw(t, "along") {
				for try := 0; try < 20; try++ {
					i := wire()
					if c.Elements[i].Kind == netlist.WireElement {
						return solve.OnWire(i, rapid.Float64Range(0, 1).Draw(t, "fraction"))
					}
				}
			}
			n := rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "node")
			for _, u := range c.Units {
				if c.Elements[u.GroundElement].A == n {
					n = netlist.GroundNode // a module's ground is a joint with some ohms here
				}
			}
			return solve.AtNode(n)
		}
		ohms := func(low float64) float64 {
			return low * math.Pow(10, rapid.Float64Range(0, 8).Draw(t, "decades"))
		}
		for range rapid.IntRange(1, 3).Draw(t, "changes") {
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				changes = append(changes, solve.Part{wire()})
			case 1:
				changes = append(changes, solve.Insert{wire(), ohms(1e-3)})
			default:
				changes = append(changes, solve.Bridge{From: spot(), To: spot(), Ohms: ohms(1e-3)})
			}
		}
		fresh, err := solve.Assemble(c, solve.Condition{Supply: supply, Unplugged: unplugged}, nil, changes[first:]...)
		if err != nil {
			t.Skip(err.Error())
		}
		strands, err := p.Lay(changes)
		if err != nil {
			t.Skip(err.Error())
		}
		from, to := rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "from"), rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "to")
		meter, m := p.Meter(from, to), solve.DefaultMeter()
		ports := []solve.Port{meter}
		for _, s := range strands {
			ports = append(ports, s.Port)
		}
		if err := p.Prepare(ports...); err != nil {
			t.Fatal(err)
		}
		q := solve.Ohms
		if supply == solve.Idle {
			q = solve.Volts
		}
		direct, err := fresh.Respond(q, from, to, m)
		if err != nil {
			t.Skip(err.Error())
		}
		want := direct.Value()
		_, together := direct.Ohms()
		tied := p.Tie(strands)
		k, across, volts := tied.Solve(&meter)
		got := m.Shown(q, across, volts)
		a, b := onUnit(got), onUnit(want)
		tolerance := 3e-6
		if q == solve.Volts {
			if !together || across > 1e8 {
				return // a meter across an open loop shows nothing that means anything
			}
			a, b = got.Number, want.Number
			tolerance = 1e-5
		}
		if math.Abs(a-b) > tolerance {
			t.Fatalf("%v between %d and %d with %v, %v unplugged: from ports %v, by a net %v", q, from, to, changes, unplugged, got, want)
		}
		if want.OL || got.OL || across > 1e7 || across < 0.1 {
			return
		}
		pieces := map[int]bool{}
		for _, ch := range changes {
			if b, ok := ch.(solve.Bridge); ok {
				for _, s := range []solve.Spot{b.From, b.To} {
					if s.Wire >= 0 && pieces[s.Wire] {
						return // two spots on one wire share in its own sensitivity: known limit
					}
					pieces[s.Wire] = true
				}
			}
		}
		jGot, jWant := make([]float64, len(c.Parameters)), make([]float64, len(c.Parameters))
		tied.Sensitivities(q, m, &meter, from, to, k, jGot)
		direct.Sensitivities(jWant)
		scale := 1.0
		if q == solve.Ohms {
			scale = 1e6 / ((1000 + across) * (1000 + across)) / 1000
		}
		for i := range jGot {
			if d := math.Abs(jGot[i]-jWant[i]) * scale; d > 2e-4+1e-3*math.Abs(jWant[i])*scale {
				t.Fatalf("parameter %s with %v: from ports %g, by a net %g (reading %v)", c.Parameters[i].Name, changes, jGot[i], jWant[i], want)
			}
		}
	})
}

// demoCircuits are the demo harnesses.
func demoCircuits(t *testing.T) []*netlist.Circuit {
	t.Helper()
	var out []*netlist.Circuit
	for _, name := range []string{"bench", "orchard", "star", "trunk"} {
		data, err := os.ReadFile("../examples/" + name + "/harness.yaml")
		if err != nil {
			t.Fatal(err)
		}
		var h netlist.Harness
		if _, problems := strictyaml.Decode(name, data, &h); len(problems) > 0 {
			t.Fatal(problems)
		}
		c, err := netlist.NewCircuit(&h)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

// Two bridges on one wire, a fifth and seven tenths of the way: what lies between them
// is shared by both.
func TestPortsTwoSpotsOnOneWire(t *testing.T) {
	for _, c := range demoCircuits(t) {
		for i, e := range c.Elements {
			if e.Kind != netlist.WireElement {
				continue
			}
			changes := []solve.Change{
				solve.Bridge{From: solve.OnWire(i, 0.2), To: solve.AtNode(netlist.GroundNode), Ohms: 0.01},
				solve.Bridge{From: solve.OnWire(i, 0.7), To: solve.AtNode(netlist.SupplyNode), Ohms: 0.02},
			}
			p, err := solve.PortsOf(c, solve.Off)
			if err != nil {
				t.Fatal(err)
			}
			strands, err := p.Lay(changes)
			if err != nil {
				t.Fatal(err)
			}
			meter := p.Meter(e.B, netlist.GroundNode)
			if err := p.Prepare(meter, strands[0].Port, strands[1].Port); err != nil {
				t.Fatal(err)
			}
			_, got, _ := p.Tie(strands).Solve(&meter)
			n, err := solve.Assemble(c, solve.Condition{}, nil, changes...)
			if err != nil {
				t.Fatal(err)
			}
			want, err := n.Read(solve.Ohms, e.B, netlist.GroundNode, solve.DefaultMeter())
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got-want.Number) > 1e-9 {
				t.Errorf("%s: %.9f Ω from ports, %.9f by a net", e.Name, got, want.Number)
			}
			break
		}
	}
}
