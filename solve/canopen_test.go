package solve_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// A published table of longest buses, as an outside check of the bus at work:
// metres for 32, 64 and 100 nodes by conductor section (wiring manual, attributed
// to ISO 11898; quoted second-hand). It does not state the ohms of its cable.
var longestBus = map[float64][3]float64{
	0.25: {200, 170, 150},
	0.5:  {360, 310, 270},
	0.75: {550, 470, 410},
}

// Its assumptions (CiA 303-1, quoted second-hand): the sender gives 1.5 V, each
// node loads with 20 kΩ from H to L, terminators of 118 Ω, threshold 1.0 V. That a
// fifth of what lies between stays as margin, so that 1.1 V must arrive, is from
// memory.
const (
	canopenSendVolts  = 1.5
	canopenArriveVolt = 1.1
	canopenNodeOhms   = 20e3
	canopenTermOhms   = 118
)

// farEnd gives the volts that arrive at the last of n nodes when each conductor
// has some ohms, solved as a harness: the sender at one end, the others and their
// terminator on one splice at the other.
func farEnd(t testing.TB, nodes int, wireOhms float64) float64 {
	t.Helper()
	zero := 0.0
	// H and L at 2.5 V ± 0.75 V by switches of the least ohms there may be; what
	// those lose is given back below. The sender's own input loads the sender.
	kind := netlist.TransceiverKind{
		Name: "canopen", UnpoweredMinOhms: canopenNodeOhms / 2, UnpoweredMaxOhms: canopenNodeOhms / 2,
		AwakeMinOhms: canopenNodeOhms / 2, AwakeMaxOhms: canopenNodeOhms / 2,
		DriveVolts: 2.5 + canopenSendVolts/2, DriveHOhms: 0.1, DriveLOhms: 0.1, DriveLDiodeVolts: 2.5 - canopenSendVolts/2,
		DriveLimitMinMA: 1000, DriveLimitMaxMA: 1000,
	}
	h := &netlist.Harness{
		Name: "canopen", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Transceivers: []netlist.TransceiverKind{kind},
		Splices:      []netlist.Splice{{Name: "far"}},
		Connectors:   []netlist.Connector{{Name: "X1", ContactOhms: none}},
		Modules:      []netlist.Module{{Name: "sender", Connectors: []string{"X1"}, Transceiver: "canopen"}},
		Terminators:  []netlist.Terminator{{Name: "T", At: "far", Ohms: canopenTermOhms, TolerancePct: &zero}},
		Pairs:        []netlist.Pair{{Name: "cable", From: []string{"X1"}, To: []string{"far"}, Ohms: wireOhms}},
	}
	for i := range nodes - 1 {
		x := fmt.Sprintf("Y%d", i)
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x, ContactOhms: none})
		h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("node%d", i), Connectors: []string{x}, Transceiver: "canopen"})
		h.Pairs = append(h.Pairs, netlist.Pair{Name: "stub" + x, From: []string{"far"}, To: []string{x}, Ohms: none})
	}
	c := circuitOf(t, h)
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	far := solve.Leads{From: node(t, c, "far.H"), To: node(t, c, "far.L")}
	b := busOf(t, n, []solve.Leads{far})
	sent := b.send(b.station("sender"))
	if sent.Up[0] != solve.Conducting || sent.Down[0] != solve.Conducting {
		t.Errorf("the sender is %v, %v", sent.Up[0], sent.Down[0])
	}
	near := sent.At(b.station("sender")).Difference()
	if math.Abs(near-canopenSendVolts) > 0.005 {
		t.Errorf("%d nodes: the sender gives %.4f V", nodes, near)
	}
	// All is linear and the inputs lie about the middle, so volts scale.
	return sent.Volts(0) * canopenSendVolts / near
}

func TestCANopenLongestBus(t *testing.T) {
	nodes := []int{32, 64, 100}
	// The relation worked: R of terminator and nodes 99.75, 86.02 and 74.49 Ω,
	// so 18.14, 15.64 and 13.54 Ω for each conductor (derived).
	worked := []float64{18.14, 15.64, 13.54}
	longest := make([]float64, len(nodes)) // ohms of one conductor, by solving
	for i, n := range nodes {
		if got := farEnd(t, n, worked[i]); math.Abs(got-canopenArriveVolt) > 2e-4 {
			t.Errorf("%d nodes, %g Ω each conductor: %.5f V arrive, want %g V", n, worked[i], got, canopenArriveVolt)
		}
		// The ohms at which 1.1 V arrive, by the secant method.
		a, b := 10.0, 20.0
		va, vb := farEnd(t, n, a), farEnd(t, n, b)
		for range 4 {
			next := b + (canopenArriveVolt-vb)*(b-a)/(vb-va)
			a, va = b, vb
			b, vb = next, farEnd(t, n, next)
		}
		if math.Abs(vb-canopenArriveVolt) > 1e-5 {
			t.Fatalf("%d nodes: %.6f V arrive at %.4f Ω", n, vb, b)
		}
		longest[i] = b
		if math.Abs(longest[i]-worked[i]) > 0.01 {
			t.Errorf("%d nodes: 1.1 V arrive at %.3f Ω for each conductor, worked %.2f Ω", n, longest[i], worked[i])
		}
	}
	t.Logf("1.1 V arrive at %.3f Ω", longest)
	// The table is rounded to 10 m, so a length may be off by 5. For each section
	// there must be a cable, in ohms per metre, that makes all three lengths of it.
	for section, metres := range longestBus {
		least, most := 0.0, math.Inf(1)
		for i, m := range metres {
			least, most = math.Max(least, longest[i]/(m+5)), math.Min(most, longest[i]/(m-5))
		}
		t.Logf("%g mm²: a cable of %.1f to %.1f mΩ/m makes %v m", section, least*1e3, most*1e3, metres)
		if least > most {
			t.Errorf("%g mm²: no cable makes %v m of %.3f Ω", section, metres, longest)
		}
	}
}
