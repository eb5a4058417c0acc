package derivation_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

func drawOhms(t *rapid.T, label string) float64 {
	return math.Pow(10, rapid.Float64Range(-2.5, 6.5).Draw(t, label))
}

// drawChanges draws faults of every sort that a circuit without units can have.
func drawChanges(t *rapid.T, c *netlist.Circuit) []solve.Change {
	var out []solve.Change
	element := rapid.IntRange(0, len(c.Elements)-1)
	node := rapid.IntRange(0, len(c.Nodes)-1)
	spot := func(label string) solve.Spot {
		if i := element.Draw(t, label+" element"); c.Elements[i].Kind == netlist.WireElement && rapid.Bool().Draw(t, label+" on wire") {
			return solve.OnWire(i, rapid.Float64Range(0.05, 0.95).Draw(t, label+" fraction"))
		}
		return solve.AtNode(node.Draw(t, label))
	}
	for range rapid.IntRange(0, 3).Draw(t, "changes") {
		switch rapid.IntRange(0, 3).Draw(t, "change") {
		case 0:
			out = append(out, solve.Part{Element: element.Draw(t, "parted")})
		case 1:
			out = append(out, solve.Insert{Element: element.Draw(t, "joint"), Ohms: drawOhms(t, "joint ohms")})
		case 2:
			out = append(out, solve.Replace{Element: element.Draw(t, "replaced"), Ohms: drawOhms(t, "replaced ohms")})
		case 3:
			ohms := drawOhms(t, "bridge ohms")
			if rapid.Bool().Draw(t, "ideal") {
				ohms = 0
			}
			out = append(out, solve.Bridge{From: spot("bridge from"), To: spot("bridge to"), Ohms: ohms})
		}
	}
	return out
}

var drawnKinds = []netlist.ElementKind{netlist.WireElement, netlist.WireElement, netlist.ContactElement, netlist.TerminatorElement, netlist.InputElement, netlist.StrayElement}

// Any tangle of resistances and sources, with loops, islands and faults: every step, every
// term and every weight is what the solver says.
func TestAnyTangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes := rapid.IntRange(3, 9).Draw(t, "nodes")
		c := raw(nodes)
		node := rapid.IntRange(0, nodes-1)
		for i := range rapid.IntRange(1, 16).Draw(t, "elements") {
			kind := rapid.SampledFrom(drawnKinds).Draw(t, "kind")
			a, b := node.Draw(t, "a"), node.Draw(t, "b")
			if a == b {
				continue
			}
			law := netlist.Law{Value: netlist.Spread{Mid: drawOhms(t, "ohms")}}
			if rapid.IntRange(0, 5).Draw(t, "alike") == 0 {
				law.Value.Mid = 120 // so that something is alike now and then
			}
			awake := law
			if kind == netlist.InputElement && rapid.Bool().Draw(t, "source") {
				awake.Volts.Mid = rapid.Float64Range(-5, 5).Draw(t, "volts")
			}
			c.Elements = append(c.Elements, netlist.Element{Name: fmt.Sprintf("e%d", i), Kind: kind, Part: fmt.Sprintf("p%d", i/2), A: a, B: b, Off: law, Awake: awake})
		}
		if len(c.Elements) == 0 {
			return
		}
		q := derivation.Question{From: node.Draw(t, "from"), To: node.Draw(t, "to"), Changes: drawChanges(t, c)}
		if rapid.Bool().Draw(t, "volts") {
			q.Quantity, q.Condition.Supply, q.Meter.InputOhms = solve.Volts, solve.Idle, 10e6
		} else {
			q.Meter.LeadOhms = rapid.Float64Range(0, 1).Draw(t, "leads")
		}
		if _, err := solve.Assemble(c, q.Condition, nil, q.Changes...); err != nil {
			return // supply and ground joined
		}
		explain(t, c, q)
	})
}

// drawHarness draws a bus: a tree of splices or, with one pair more, a ring; modules of
// several kinds, terminators, a service connector, an inline connector, stray paths.
func drawHarness(t *rapid.T) *netlist.Circuit {
	// The layer without terminators holds its two conductors at different voltages.
	layer := rapid.SampledFrom([]string{"high-speed", "high-speed", "fault-tolerant"}).Draw(t, "layer")
	transceivers := map[string][]string{"high-speed": {"older", "modern", "modern-3v3", "mixed"}, "fault-tolerant": {"tolerant"}}[layer]
	h := &netlist.Harness{Name: "drawn", Networks: []netlist.Network{{Name: "bus", Layer: layer}}}
	splices := rapid.IntRange(1, 4).Draw(t, "splices")
	pair := func(from, to string) {
		h.Pairs = append(h.Pairs, netlist.Pair{
			Name: fmt.Sprintf("P%d", len(h.Pairs)+1), From: []string{from}, To: []string{to},
			LengthM: rapid.Float64Range(0.2, 9).Draw(t, "length"), SectionMM2: 0.35,
		})
	}
	for i := 1; i <= splices; i++ {
		h.Splices = append(h.Splices, netlist.Splice{Name: fmt.Sprintf("S%d", i)})
		if i > 1 {
			pair(fmt.Sprintf("S%d", rapid.IntRange(1, i-1).Draw(t, "from splice")), fmt.Sprintf("S%d", i))
		}
	}
	if splices > 2 && rapid.Bool().Draw(t, "ring") {
		pair("S1", fmt.Sprintf("S%d", splices))
	}
	connector := func(inline bool) string {
		name := fmt.Sprintf("X%d", len(h.Connectors)+1)
		h.Connectors = append(h.Connectors, netlist.Connector{Name: name, Inline: inline})
		return name
	}
	splice := func() string {
		return fmt.Sprintf("S%d", rapid.IntRange(1, splices).Draw(t, "splice"))
	}
	pair(splice(), connector(false)) // service connector
	for i := range rapid.IntRange(1, 5).Draw(t, "modules") {
		x := connector(false)
		name := fmt.Sprintf("m%d", i+1)
		h.Modules = append(h.Modules, netlist.Module{Name: name, Connectors: []string{x}, Transceiver: rapid.SampledFrom(transceivers).Draw(t, "kind"), GroundOffsetVolts: rapid.SampledFrom([]float64{0, 0, 0, 0.5}).Draw(t, "offset")})
		if rapid.IntRange(0, 2).Draw(t, "terminated") == 0 {
			h.Terminators = append(h.Terminators, netlist.Terminator{Name: "T" + name, At: name, Ohms: 120, Split: rapid.Bool().Draw(t, "split")})
		}
		if rapid.IntRange(0, 4).Draw(t, "inline") == 0 {
			mid := connector(true)
			pair(splice(), mid+"/a")
			pair(mid+"/b", x)
		} else {
			pair(splice(), x)
		}
	}
	ends := map[string]int{}
	for _, p := range h.Pairs {
		ends[p.From[0]]++
		ends[p.To[0]]++
	}
	for _, s := range h.Splices {
		for ; ends[s.Name] < 2; ends[s.Name]++ {
			pair(s.Name, connector(false)) // a stub
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "stray") == 0 {
		h.Strays = append(h.Strays, netlist.Stray{Name: "damp", From: "S1.H", To: rapid.SampledFrom([]string{"ground", "supply", "S1.L"}).Draw(t, "stray to"), Ohms: drawOhms(t, "stray ohms")})
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return c
}

// Drawn harnesses, read anywhere, plugged and unplugged, healthy and with faults.
func TestAnyHarness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawHarness(t)
		var points []int
		for i := range c.Nodes {
			points = append(points, i)
		}
		q := derivation.Question{
			From: rapid.SampledFrom(points).Draw(t, "from"), To: rapid.SampledFrom(points).Draw(t, "to"),
			Meter: solve.DefaultMeter(), Changes: drawChanges(t, c),
		}
		// As people read: both leads at one place, or one on ground.
		if s := c.Sites[rapid.IntRange(0, len(c.Sites)-1).Draw(t, "site")]; rapid.IntRange(0, 3).Draw(t, "usual") > 0 {
			q.From, q.To = s.Contacts[0].Node, s.Contacts[1].Node
			if rapid.Bool().Draw(t, "to ground") {
				q.To = netlist.GroundNode
			}
			if s.Device != "" && rapid.IntRange(0, 3).Draw(t, "apart") == 0 {
				q.Condition.Unplugged = []string{s.Name}
			}
		}
		if rapid.Bool().Draw(t, "healthy") {
			q.Changes = nil
		}
		if rapid.Bool().Draw(t, "volts") {
			q.Quantity, q.Condition.Supply = solve.Volts, solve.Idle
			switch unit := rapid.IntRange(0, len(c.Units)-1).Draw(t, "unit"); rapid.IntRange(0, 4).Draw(t, "unit fault") {
			case 0:
				q.Changes = append(q.Changes, solve.Unpower{Unit: unit})
			case 1:
				q.Changes = append(q.Changes, solve.Shift{Unit: unit, Volts: 2})
			}
		}
		if net, err := solve.Assemble(c, q.Condition, nil, q.Changes...); err != nil {
			// Supply and ground joined, say: the same error, no more.
			if _, err := derivation.Explain(c, q); err == nil {
				t.Fatalf("the solver refuses, the derivation does not")
			}
			return
		} else if _, err := net.Respond(q.Quantity, q.From, q.To, q.Meter); err != nil {
			return
		}
		explain(t, c, q)
		x, err := derivation.Compare(c, q)
		if err != nil {
			t.Fatalf("%v", err)
		}
		for _, detail := range []derivation.Detail{derivation.Short, derivation.Full} {
			for _, s := range x.Sections(detail) {
				for _, row := range s.Rows {
					if len(row) != len(s.Header) {
						t.Errorf("%s: %d cells under %d heads", s.Heading, len(row), len(s.Header))
					}
				}
			}
		}
	})
}
