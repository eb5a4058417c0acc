package solve_test

import (
	"fmt"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// threeOn builds a network of a layer with three modules at one splice.
func threeOn(t *testing.T, layer string, kinds [3]string, terminators ...float64) *netlist.Circuit {
	t.Helper()
	h := &netlist.Harness{Name: layer, Networks: []netlist.Network{{Name: "bus", Layer: layer}}, Splices: []netlist.Splice{{Name: "S1"}}, Supply: &netlist.Supply{Volts: 12}}
	for i, kind := range kinds {
		x := fmt.Sprintf("X%d", i+1)
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x})
		h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("m%d", i+1), Connectors: []string{x}, Transceiver: kind})
		h.Pairs = append(h.Pairs, netlist.Pair{Name: fmt.Sprintf("P%d", i+1), From: []string{"S1"}, To: []string{x}, LengthM: 2, SectionMM2: 0.35})
	}
	for i, ohms := range terminators {
		h.Terminators = append(h.Terminators, netlist.Terminator{Name: fmt.Sprintf("T%d", i+1), At: h.Modules[i].Name, Ohms: ohms})
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func layerBus(t *testing.T, c *netlist.Circuit, changes ...solve.Change) *solve.Bus {
	t.Helper()
	n, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, changes...)
	if err != nil {
		t.Fatal(err)
	}
	b, err := n.Bus(nil)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func layerTalk(t *testing.T, what string, b *solve.Bus, want func(s, r int) solve.Hearing) {
	t.Helper()
	talk, err := b.Talk()
	if err != nil {
		t.Fatal(err)
	}
	for s := range talk.Stations {
		for r := range talk.Stations {
			if s != r && talk.Hears(s, r) != want(s, r) {
				t.Errorf("%s: %s heard by %s: %v, want %v", what, talk.Stations[s].Name, talk.Stations[r].Name, talk.Hears(s, r), want(s, r))
			}
		}
	}
}

func everybody(int, int) solve.Hearing { return solve.Yes }
func nobody(int, int) solve.Hearing    { return solve.No }
func without(i int) func(s, r int) solve.Hearing {
	return func(s, r int) solve.Hearing {
		if s == i || r == i {
			return solve.No
		}
		return solve.Yes
	}
}

// One wire with pull-ups. Levels: ISO 17987-4 has a dominant bus below 0.4 and a
// recessive one above 0.6 of the supply (NCV7329, TLE9274 data sheets); idle the
// supply less a diode of 0.4 to 1.0 V (NCV7329).
func TestOneWire(t *testing.T) {
	c := threeOn(t, "one-wire", [3]string{"commander", "responder", "responder"})
	b := layerBus(t, c)
	quiet, err := b.Send()
	if err != nil {
		t.Fatal(err)
	}
	if low := quiet.At(0).Low; low < 12-1.0 || low > 12-0.4 {
		t.Errorf("idle %v V", low)
	}
	for s := range 3 {
		sent, err := b.Send(s)
		if err != nil {
			t.Fatal(err)
		}
		if low := sent.At(2).Low; low > 0.2*12 {
			t.Errorf("%d sends: %v V, above a fifth of the supply", s, low)
		}
	}
	layerTalk(t, "healthy", b, everybody)
	layerTalk(t, "open", layerBus(t, c, solve.Part{Element: elementOf(t, c, "pair P3 D")}), without(2))
	ground := solve.Bridge{From: solve.AtNode(node(t, c, "S1.D")), To: solve.AtNode(netlist.GroundNode)}
	layerTalk(t, "short to ground", layerBus(t, c, ground), nobody)
	supply := solve.Bridge{From: solve.AtNode(node(t, c, "S1.D")), To: solve.AtNode(netlist.SupplyNode)}
	layerTalk(t, "short to supply", layerBus(t, c, supply), nobody)
	layerTalk(t, "stuck", layerBus(t, c, solve.Stick{Transceiver: 1}), nobody)
}

// Fault-tolerant low-speed: one conductor is enough. Idle and dominant levels:
// TJA1055 data sheet table 8 (recessive H 0.2 V at most and L VCC − 0.2 V at
// least; dominant H VCC − 1.4 V at least and L 1.4 V at most at 40 mA). That one
// conductor may be open or shorted to a rail: ISO 11898-3, failures 1 to 6.
func TestFaultTolerant(t *testing.T) {
	c := threeOn(t, "fault-tolerant", [3]string{})
	b := layerBus(t, c)
	quiet, err := b.Send()
	if err != nil {
		t.Fatal(err)
	}
	if l := quiet.At(1); l.High > 0.2 || l.Low < 4.8 {
		t.Errorf("idle %+v", l)
	}
	sent, err := b.Send(0)
	if err != nil {
		t.Fatal(err)
	}
	if l := sent.At(2); l.High < 5-1.4 || l.Low > 1.4 {
		t.Errorf("dominant %+v", l)
	}
	layerTalk(t, "healthy", b, everybody)
	at := func(k string, to int) solve.Change {
		return solve.Bridge{From: solve.AtNode(node(t, c, "S1."+k)), To: solve.AtNode(to)}
	}
	for _, tt := range []struct {
		name   string
		change solve.Change
	}{
		{"failure 1, H open", solve.Part{Element: elementOf(t, c, "pair P3 H")}},
		{"failure 2, L open", solve.Part{Element: elementOf(t, c, "pair P3 L")}},
		{"failure 3, H to supply", at("H", netlist.SupplyNode)},
		{"failure 4, L to ground", at("L", netlist.GroundNode)},
		{"failure 5, H to ground", at("H", netlist.GroundNode)},
		{"failure 6, L to supply", at("L", netlist.SupplyNode)},
	} {
		layerTalk(t, tt.name, layerBus(t, c, tt.change), everybody)
	}
	layerTalk(t, "both open", layerBus(t, c, solve.Part{Element: elementOf(t, c, "pair P3 H")}, solve.Part{Element: elementOf(t, c, "pair P3 L")}), without(2))
	layerTalk(t, "both to ground", layerBus(t, c, at("H", netlist.GroundNode), at("L", netlist.GroundNode)), nobody)
}

// TIA-485: 1.5 V at least between the conductors on 54 Ω, either way, receivers
// tell ± 0.2 V apart (data sheet SLLA628; EURASIP JES 2016 table 1).
func TestMultidrop(t *testing.T) {
	c := threeOn(t, "tia-485", [3]string{}, 120, 120)
	b := layerBus(t, c)
	one, err := b.Send(0)
	if err != nil {
		t.Fatal(err)
	}
	other, err := b.SendRecessive(0)
	if err != nil {
		t.Fatal(err)
	}
	if d := one.At(2).Difference(); d < 1.5 || d > 5 {
		t.Errorf("one way %v V", d)
	}
	if d := other.At(2).Difference(); d > -1.5 || d < -5 {
		t.Errorf("other way %v V", d)
	}
	layerTalk(t, "healthy", b, everybody)
	layerTalk(t, "both open", layerBus(t, c, solve.Part{Element: elementOf(t, c, "pair P3 A")}, solve.Part{Element: elementOf(t, c, "pair P3 B")}), without(2))
	short := solve.Bridge{From: solve.AtNode(node(t, c, "S1.A")), To: solve.AtNode(node(t, c, "S1.B"))}
	layerTalk(t, "shorted", layerBus(t, c, short), nobody)
}

// The flavours of ISO 11898-2 differ in figures only: a healthy bus of each talks,
// and reads what the layer asks for.
func TestFlavoursOfHighSpeed(t *testing.T) {
	for _, name := range []string{"high-speed", "j1939-11", "j1939-15", "iso11783-pair", "nmea2000", "devicenet"} {
		c := threeOn(t, name, [3]string{"modern", "modern-3v3", "older"}, 120, 120)
		layerTalk(t, name, layerBus(t, c), everybody)
		layer, ok := netlist.LayerByName(name)
		if !ok {
			t.Fatalf("no layer %q", name)
		}
		n, err := solve.Assemble(c, solve.Condition{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		v, err := n.Read(solve.Ohms, node(t, c, "X3.H"), node(t, c, "X3.L"), solve.Meter{})
		if err != nil || v.Number < layer.LoadMinOhms || v.Number > layer.LoadMaxOhms {
			t.Errorf("%s: %v Ω, %v", name, v, err)
		}
	}
}
