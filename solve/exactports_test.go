package solve_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// exactly is how near [solve.ExactPorts] comes to a net assembled with the changes:
// 1e-9 of the reading, but for 1e-12 Ω or V that the net's own rounding may leave
// between megohms.
func exactly(got, want solve.Value) bool {
	if got.OL != want.OL {
		return false
	}
	return got.OL || math.Abs(got.Number-want.Number) <= 1e-9*math.Abs(want.Number)+1e-12
}

// Any few changes at once against nets assembled with them. The circuits are the demo
// harnesses and drawn ones: 1 mΩ beside 1 MΩ, ideal joints, loops, islands without a
// rail. The changes are drawn too: cuts, shorts of 0 Ω, leaks, spots along wires,
// unplugged connectors, modules without supply or ground.
func TestExactPortsAgreeWithNets(t *testing.T) {
	demos := demoCircuits(t)
	compared, over, zero, shorted := 0, 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		var c *netlist.Circuit
		if i := rapid.IntRange(-4, len(demos)-1).Draw(t, "circuit"); i >= 0 {
			c = demos[i]
		} else {
			nodes := rapid.IntRange(3, 9).Draw(t, "nodes")
			var edges []edge
			for range rapid.IntRange(2, 14).Draw(t, "edges") {
				a, b := rapid.IntRange(0, nodes-1).Draw(t, "a"), rapid.IntRange(0, nodes-1).Draw(t, "b")
				if a != b {
					edges = append(edges, edge{a, b, rapid.SampledFrom([]float64{0, 1e-3, 2.5e-3, 0.1, 1, 60, 120, 3e4, 1e6}).Draw(t, "ohms")})
				}
			}
			c = floating(nodes, edges)
			if rapid.Bool().Draw(t, "rail") {
				c = raw(nodes, edges)
			}
		}
		condition := solve.Condition{}
		if len(c.Sites) > 0 {
			condition.Supply = solve.Supply(rapid.IntRange(0, 1).Draw(t, "supply"))
			if rapid.Bool().Draw(t, "unplug") {
				s := c.Sites[rapid.IntRange(0, len(c.Sites)-1).Draw(t, "site")]
				if _, err := c.Unplug(s.Name); err == nil {
					condition.Unplugged = []string{s.Name}
				}
			}
		}
		p, err := solve.NewExactPorts(c, condition)
		if err != nil {
			t.Skip(err.Error())
		}
		if len(c.Elements) == 0 {
			t.Skip("nothing there")
		}
		element := func(wire bool) int {
			for range 200 {
				i := rapid.IntRange(0, len(c.Elements)-1).Draw(t, "element")
				if k := c.Elements[i].Kind; k == netlist.WireElement || !wire && k != netlist.LoadElement {
					return i
				}
			}
			return -1
		}
		spot := func() solve.Spot {
			if rapid.Bool().Draw(t, "along") {
				if i := element(true); i >= 0 {
					return solve.OnWire(i, rapid.SampledFrom([]float64{0, 0.5, 0.5, 0.123, 1}).Draw(t, "fraction"))
				}
			}
			return solve.AtNode(rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "node"))
		}
		ohms := func() float64 {
			return rapid.SampledFrom([]float64{0, 0, 1e-3, 0.05, 100, 120, 1e3, 1e6}).Draw(t, "change of ohms")
		}
		var changes []solve.Change
		for range rapid.IntRange(0, 4).Draw(t, "changes") {
			switch k := rapid.IntRange(0, 7).Draw(t, "kind"); {
			case k < 2:
				changes = append(changes, solve.Part{Element: element(false)})
			case k < 4:
				if i := element(false); c.Elements[i].Kind != netlist.Joint {
					changes = append(changes, solve.Insert{Element: i, Ohms: ohms()})
				}
			case k < 6:
				changes = append(changes, solve.Bridge{From: spot(), To: spot(), Ohms: ohms()})
			case k == 6 && len(c.Sites) > 0:
				name := c.Sites[rapid.IntRange(0, len(c.Sites)-1).Draw(t, "site of change")].Name
				if _, err := c.Unplug(name); err == nil {
					changes = append(changes, solve.Unplug{Connector: name})
				}
			case k == 7 && len(c.Units) > 0:
				i := rapid.IntRange(0, len(c.Units)-1).Draw(t, "unit")
				if rapid.Bool().Draw(t, "lifted") {
					changes = append(changes, solve.Shift{Unit: i, Volts: 2})
				} else {
					changes = append(changes, solve.Unpower{Unit: i})
				}
			}
		}
		q := solve.Ohms
		if condition.Supply == solve.Idle {
			q = solve.Volts
		}
		from, to := rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "from"), rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "to")
		meter := solve.DefaultMeter()
		got, err := p.Read(q, from, to, meter, changes...)
		if errors.Is(err, solve.ErrNoPort) {
			// A joint that parts may have another beside it, or hold a ground off the
			// rail; all else has ports.
			for _, ch := range changes {
				switch ch := ch.(type) {
				case solve.Part:
					if c.Elements[ch.Element].Kind == netlist.Joint {
						t.Skip("no port")
					}
				case solve.Unplug, solve.Shift:
					t.Skip("no port")
				}
			}
			t.Fatalf("%v with %v: no port", condition, changes)
		}
		fresh, wrong := solve.Assemble(c, condition, nil, changes...)
		var want solve.Value
		if wrong == nil {
			want, wrong = fresh.Read(q, from, to, meter)
		}
		var doubtful *solve.DoubtfulError
		if errors.As(wrong, &doubtful) {
			t.Skip(wrong.Error())
		}
		if (err == nil) != (wrong == nil) || err != nil && !errors.Is(err, wrong) {
			t.Fatalf("%v with %v: from ports %v, by a net %v", condition, changes, err, wrong)
		}
		if err != nil {
			shorted++
			return
		}
		if q == solve.Ohms && (want.Number == 0) != (got.Number == 0) {
			t.Fatalf("%v between %d and %d with %v: from ports %g, by a net %g; one of them is exactly nothing", condition, from, to, changes, got.Number, want.Number)
		}
		if !exactly(got, want) {
			t.Fatalf("%v, %v between %d and %d with %v: from ports %.15g, by a net %.15g", condition, q, from, to, changes, got.Number, want.Number)
		}
		compared++
		switch {
		case want.OL:
			over++
		case want.Number == 0:
			zero++
		}
	})
	t.Logf("%d readings compared: %d OL, %d of nothing; %d blew a fuse", compared, over, zero, shorted)
	if !testing.Short() && (compared < 20 || over == 0 || zero == 0) {
		t.Error("too few were compared for this test to say anything")
	}
}

// What is no change of this net is refused as [solve.Assemble] refuses it, and a
// module loses its supply but once.
func TestExactPortsRefuse(t *testing.T) {
	c := demoCircuits(t)[0]
	wire, contact := -1, -1
	for i, e := range c.Elements {
		switch e.Kind {
		case netlist.WireElement:
			wire = i
		case netlist.ContactElement:
			contact = i
		}
	}
	ground := solve.AtNode(netlist.GroundNode)
	p, err := solve.NewExactPorts(c, solve.Condition{Supply: solve.Idle})
	if err != nil {
		t.Fatal(err)
	}
	meter := solve.DefaultMeter()
	for _, lead := range []int{-1, len(c.Nodes)} {
		if _, err := p.Read(solve.Volts, 4, lead, meter); err == nil {
			t.Errorf("a lead on node %d is taken", lead)
		}
	}
	off, err := solve.NewExactPorts(c, solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range []solve.Change{
		solve.Part{Element: -1}, solve.Part{Element: len(c.Elements)}, solve.Insert{Element: len(c.Elements), Ohms: 1},
		solve.Insert{Element: wire, Ohms: -1}, solve.Insert{Element: wire, Ohms: math.NaN()}, solve.Insert{Element: wire, Ohms: math.Inf(1)},
		solve.Bridge{From: ground, To: solve.OnWire(wire, 1.5), Ohms: 1}, solve.Bridge{From: ground, To: solve.OnWire(wire, math.NaN()), Ohms: 1},
		solve.Bridge{From: ground, To: solve.OnWire(contact, 0.5), Ohms: 1}, solve.Bridge{From: ground, To: solve.OnWire(len(c.Elements), 0.5), Ohms: 1},
		solve.Bridge{From: ground, To: solve.AtNode(len(c.Nodes)), Ohms: 1}, solve.Bridge{From: solve.AtNode(-1), To: ground, Ohms: 1},
		solve.Bridge{From: ground, To: solve.AtNode(5), Ohms: -1}, solve.Bridge{From: ground, To: solve.AtNode(5), Ohms: math.Inf(1)},
		solve.Unplug{Connector: "X99"}, solve.Unpower{Unit: len(c.Units)}, solve.Unpower{Unit: -1}, solve.Shift{Unit: 99, Volts: 1}, solve.Shift{Unit: 0, Volts: math.NaN()},
		solve.Stick{Transceiver: -1}, solve.Stick{Transceiver: len(c.Transceivers)},
	} {
		if _, err := off.Read(solve.Ohms, 4, netlist.GroundNode, meter, change); err == nil || errors.Is(err, solve.ErrNoPort) {
			t.Errorf("%#v is taken with the supply off: %v", change, err)
		}
		if _, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, change); err == nil {
			t.Errorf("%#v: Assemble takes it", change)
		}
		if _, err := p.Read(solve.Volts, 4, netlist.GroundNode, meter, change); err == nil {
			t.Errorf("%#v is taken", change)
		}
	}
	if _, err := p.Read(solve.Ohms, 4, netlist.GroundNode, meter); !errors.Is(err, solve.ErrSupplyOn) {
		t.Errorf("ohms with the supply on: %v", err)
	}
	twice := []solve.Change{solve.Unpower{Unit: 0}, solve.Unpower{Unit: 1}, solve.Unpower{Unit: 0}}
	n := assemble(t, c, solve.Condition{Supply: solve.Idle}, twice...)
	for node := range c.Nodes {
		want, err := n.Read(solve.Volts, node, netlist.GroundNode, meter)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.Read(solve.Volts, node, netlist.GroundNode, meter, twice...); err != nil || !exactly(got, want) {
			t.Errorf("%s: %v (%v), want %v", c.Nodes[node].Name, got, err, want)
		}
	}
}
