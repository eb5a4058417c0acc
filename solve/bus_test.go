package solve_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"pgregory.net/rapid"
)

// none is a resistance in ohms that plays no part beside tens of ohms, and open
// one that plays none beside thousands; not so far apart that a net of both is
// refused.
const (
	none = 1e-5
	open = 2e7
)

// probed is a bus with its stations by name.
type probed struct {
	*solve.Bus
	t fataler
	c *netlist.Circuit
}

func busOf(t fataler, n *solve.Net, leads []solve.Leads, tools ...solve.Tool) probed {
	t.Helper()
	b, err := n.Bus(leads, tools...)
	if err != nil {
		t.Fatalf("Bus: %v", err)
	}
	return probed{b, t, n.Circuit()}
}

// workingBus is the bus of a harness at work, with changes.
func workingBus(t testing.TB, h *netlist.Harness, changes ...solve.Change) probed {
	t.Helper()
	return busOf(t, assemble(t, circuitOf(t, h), solve.Condition{Supply: solve.Idle}, changes...), nil)
}

// station finds the one of a module, on its only network or a given one.
func (b probed) station(module string, network ...string) int {
	b.t.Helper()
	for i, s := range b.Stations {
		if s.Name == module && (len(network) == 0 || s.Network == network[0]) {
			return i
		}
	}
	b.t.Fatalf("no station %s %v", module, network)
	return 0
}

func (b probed) send(senders ...int) *solve.Sent {
	b.t.Helper()
	s, err := b.Send(senders...)
	if err != nil {
		b.t.Fatalf("Send: %v", err)
	}
	return s
}

// levels of one module while some send.
func (b probed) levels(at string, senders ...string) solve.Levels {
	b.t.Helper()
	var who []int
	for _, s := range senders {
		who = append(who, b.station(s))
	}
	return b.send(who...).At(b.station(at))
}

// bedOf is a part on the test bed of a data sheet: one transceiver, a load from H
// to L, nothing else. The transceiver's own inputs are left off.
func bedOf(kind netlist.TransceiverKind, load, supplyVolts float64) *netlist.Harness {
	zero := 0.0
	kind.Name = "part"
	kind.UnpoweredMinOhms, kind.UnpoweredMaxOhms = open, open
	if kind.AwakeMinOhms == 0 {
		kind.AwakeMinOhms, kind.AwakeMaxOhms = open, open
	}
	return &netlist.Harness{
		Name: "test bed", Supply: &netlist.Supply{Volts: supplyVolts},
		Networks:     []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Transceivers: []netlist.TransceiverKind{kind},
		Connectors:   []netlist.Connector{{Name: "X1", ContactOhms: none}, {Name: "X2", ContactOhms: none}},
		Modules:      []netlist.Module{{Name: "unit", Connectors: []string{"X1"}, Transceiver: "part"}},
		Terminators:  []netlist.Terminator{{Name: "T1", At: "X2", Ohms: load, TolerancePct: &zero}},
		Pairs:        []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, Ohms: none}},
	}
}

// fitB is a second driver: typical figures of the NCV7349 data sheet, table 6 (H
// 3.6 V, L 1.4 V; at 60 Ω 2.2 V lie between them), diode of 0.7 V from memory;
// short-circuit currents 45 to 100 mA. 210/11, that is 19.09 Ω on either side follow.
var fitB = netlist.TransceiverKind{
	DriveVolts: 5, DriveHOhms: 210.0 / 11, DriveHDiodeVolts: 0.7, DriveLOhms: 210.0 / 11, DriveLDiodeVolts: 0.7,
	DriveLimitMinMA: 45, DriveLimitMaxMA: 100,
}

// builtIn gives a built-in kind of transceiver.
func builtIn(t testing.TB, name string) netlist.TransceiverKind {
	t.Helper()
	k, ok := (&netlist.Harness{}).TransceiverByName(name)
	if !ok {
		t.Fatalf("no kind %s", name)
	}
	return k
}

// What drivers make of the loads that data sheets test them with. Figures derived
// from the fits by arithmetic: E·R/(R + 2·Ron), E = 5 V less two diodes; the
// windows: data sheet SLLSF17B, whose test conditions follow ISO 11898-2:2016. 40 and 120
// Ω have no published window.
func TestDriverLevels(t *testing.T) {
	const noLeast, noMost = math.SmallestNonzeroFloat64, math.MaxFloat64
	windows := map[float64][2]float64{45: {1.4, 3.3}, 50: {1.5, 3}, 60: {1.5, 3}, 65: {1.5, 3}, 70: {1.4, 3.3}, 2240: {1.5, 5}}
	for _, test := range []struct {
		name   string
		kind   netlist.TransceiverKind
		derive map[float64]float64
	}{
		{"fit A", netlist.DefaultDriver, map[float64]float64{40: 1.636, 45: 1.742, 60: 2.000, 120: 2.571, 2240: 3.524}},
		{"fit B", fitB, map[float64]float64{40: 1.842, 45: 1.948, 60: 2.200, 120: 2.731, 2240: 3.540}},
	} {
		for _, load := range []float64{40, 45, 50, 60, 65, 70, 120, 2240} {
			got := workingBus(t, bedOf(test.kind, load, 12)).levels("unit", "unit")
			want := 3.6 * load / (load + 2*test.kind.DriveHOhms)
			if math.Abs(got.Difference()-want) > 1e-5 {
				t.Errorf("%s at %g Ω: %.9f V, by arithmetic %.9f V", test.name, load, got.Difference(), want)
			}
			if d, ok := test.derive[load]; ok && math.Abs(got.Difference()-d) > 6e-4 {
				t.Errorf("%s at %g Ω: %.4f V, facts table %.3f V", test.name, load, got.Difference(), d)
			}
			if math.Abs(got.Common()-2.5) > 1e-6 {
				t.Errorf("%s at %g Ω: common mode %.6f V, want half of 5 V", test.name, load, got.Common())
			}
			w, ok := windows[load]
			if !ok {
				w = [2]float64{noLeast, noMost}
			}
			if d := got.Difference(); d < w[0] || d > w[1] {
				t.Errorf("%s at %g Ω: %.3f V is not within %v", test.name, load, d, w)
			}
			if load >= 50 && load <= 65 && (got.High < 2.75 || got.High > 4.5 || got.Low < 0.5 || got.Low > 2.25) {
				t.Errorf("%s at %g Ω: H %.3f V, L %.3f V; want 2.75 to 4.5 and 0.5 to 2.25", test.name, load, got.High, got.Low)
			}
		}
	}
	// TJA1051 data sheet rev. 7 table 7, typical at 60 Ω: H 3.5 V, L 1.5 V.
	if got := workingBus(t, bedOf(netlist.DefaultDriver, 60, 12)).levels("unit", "unit"); math.Abs(got.High-3.5) > 1e-3 || math.Abs(got.Low-1.5) > 1e-3 {
		t.Errorf("fit A at 60 Ω: %+v, want 3.5 and 1.5 V", got)
	}
	// NCV7349 data sheet table 6, typical: H 3.6 V, L 1.4 V.
	if got := workingBus(t, bedOf(fitB, 60, 12)).levels("unit", "unit"); math.Abs(got.High-3.6) > 1e-3 || math.Abs(got.Low-1.4) > 1e-3 {
		t.Errorf("fit B at 60 Ω: %+v, want 3.6 and 1.4 V", got)
	}
	// SN65HVD230 data sheet SLOS346 (3.3 V), at 60 Ω: H about 3 V, L about 1 V;
	// difference 1.5 to 3 V, typically 2 V.
	if got := workingBus(t, bedOf(builtIn(t, "modern-3v3"), 60, 12)).levels("unit", "unit"); math.Abs(got.High-3) > 0.05 || math.Abs(got.Low-1) > 0.05 || math.Abs(got.Difference()-2) > 0.05 {
		t.Errorf("modern-3v3 at 60 Ω: %+v, want about 3 and 1 V", got)
	}
	// The 3.3 V part at the ends of the load range: 1.5 to 3 V all the same.
	for _, load := range []float64{50, 65} {
		if d := workingBus(t, bedOf(builtIn(t, "modern-3v3"), load, 12)).levels("unit", "unit").Difference(); d < 1.5 || d > 3 {
			t.Errorf("modern-3v3 at %g Ω: %.3f V", load, d)
		}
	}
}

// With every tolerance of the driver at its limits the levels at 60 Ω spread; how
// far is logged, and compared with the window of data sheet SLLSF17B (1.5 to 3 V), which
// parts keep that are within their data sheets. The tolerances of netlist are
// wider than that, from memory; they may leave it by no more than a quarter of a
// volt, and a receiver that is as bad as ISO 11898-2 allows (0.9 V, data sheet SLLS788
// table 3) must still see all of it.
func TestDriverSpread(t *testing.T) {
	for name, kind := range map[string]netlist.TransceiverKind{"fit A": netlist.DefaultDriver, "modern-3v3": builtIn(t, "modern-3v3")} {
		c := circuitOf(t, bedOf(kind, 60, 12))
		n := assemble(t, c, solve.Condition{Supply: solve.Idle})
		b := busOf(t, n, nil)
		least, most := math.Inf(1), math.Inf(-1)
		parameters := b.DriveParameters([]int{0})
		if len(parameters) == 0 {
			t.Fatalf("%s: the driver has no tolerances", name)
		}
		for corner := range 1 << len(parameters) {
			z := make([]float64, len(c.Parameters))
			moved := b.Bus
			for i, p := range parameters {
				z[p] = float64(corner>>i&1)*2 - 1
				moved = moved.WithParameter(p, z[p])
			}
			at, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, z)
			if err != nil {
				t.Fatal(err)
			}
			whole := busOf(t, at, nil).levels("unit", "unit")
			if got := (probed{moved, t, c}).levels("unit", "unit"); got != whole {
				t.Errorf("%s: by WithParameter %+v, by Assemble %+v", name, got, whole)
			}
			least, most = math.Min(least, whole.Difference()), math.Max(most, whole.Difference())
		}
		t.Logf("%s at 60 Ω, every tolerance at its limits: %.2f to %.2f V", name, least, most)
		if least < 1.5-0.25 || least < 0.9 || most > 3+0.25 {
			t.Errorf("%s: %.3f to %.3f V", name, least, most)
		}
	}
}

// atLimit gives the z that puts the current limit to its least and all else to
// the middle.
func atLimit(t testing.TB, c *netlist.Circuit, z float64) []float64 {
	t.Helper()
	out := make([]float64, len(c.Parameters))
	for i, p := range c.Parameters {
		if p.Name == "current limit of unit" {
			out[i] = z
			return out
		}
	}
	t.Fatal("the unit has no current limit")
	return nil
}

// The limit starts to act where the load asks for more than its least: fit A
// draws 40.9 mA at 40 Ω with a limit of 40 to 100 mA, fit B 46.0 mA with 45 to
// 100 mA (derived); at 45 Ω, the least load of ISO 11898-2, neither does. Limits:
// short-circuit currents of the TJA1051 and NCV7349 data sheets.
func TestDriverLimitAgainstLoad(t *testing.T) {
	for _, test := range []struct {
		name        string
		kind        netlist.TransceiverKind
		load        float64
		z           float64
		state       solve.DriveState
		amps, volts float64
	}{
		{"fit A, least limit", netlist.DefaultDriver, 40, -1, solve.Limiting, 0.040, 1.6},
		{"fit A, least limit", netlist.DefaultDriver, 45, -1, solve.Conducting, 3.6 / 93, 1.742},
		{"fit A, middle limit", netlist.DefaultDriver, 40, 0, solve.Conducting, 3.6 / 88, 1.636},
		{"fit B, least limit", fitB, 40, -1, solve.Limiting, 0.045, 1.8},
		{"fit B, least limit", fitB, 45, -1, solve.Conducting, 3.6 / (45 + 420.0/11), 1.948},
		{"fit B, middle limit", fitB, 40, 0, solve.Conducting, 3.6 / (40 + 420.0/11), 1.842},
	} {
		// Inputs of 1 MΩ, as the common mode of two limits that are alike is
		// theirs to set.
		kind := test.kind
		kind.AwakeMinOhms, kind.AwakeMaxOhms = 1e6, 1e6
		c := circuitOf(t, bedOf(kind, test.load, 12))
		n, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, atLimit(t, c, test.z))
		if err != nil {
			t.Fatal(err)
		}
		b := busOf(t, n, nil)
		sent := b.send(0)
		if sent.Up[0] != test.state || sent.Down[0] != test.state {
			t.Errorf("%s, %g Ω: %v up, %v down, want %v", test.name, test.load, sent.Up[0], sent.Down[0], test.state)
		}
		for _, a := range []float64{sent.UpAmps[0], sent.DownAmps[0]} {
			if !near(a, test.amps, 2e-5, 0) {
				t.Errorf("%s, %g Ω: %.6f A, want %.6f A", test.name, test.load, a, test.amps)
			}
		}
		if d := sent.At(0).Difference(); math.Abs(d-test.volts) > 6e-4 {
			t.Errorf("%s, %g Ω: %.4f V, want %.3f V", test.name, test.load, d, test.volts)
		}
	}
}

// Short-circuit currents of the TJA1051 data sheet rev. 7, table 7: H at 0 V gives
// 40 to 100 mA, L at 5 V and at 40 V takes 40 to 100 mA. They are what the limits
// were chosen by, so this holds the sign, the rails and the shares, not the
// figure.
//
// H at 12 V: SN65HVD1040 data sheet SLLS631D, 0.36 mA typical and 1 mA at most
// flow in. The driver's diode blocks, and what flows is the input resistance's,
// of the data sheets' 15 and 26 kΩ (TJA1051, NCV7441): the same order of
// magnitude; the data sheet does not say which way it flows.
func TestDriverShortCircuits(t *testing.T) {
	for _, test := range []struct {
		name         string
		volts        float64 // of the rail that the conductor is at; 0 for ground
		conductor    string
		up           bool // whose current counts
		least, most  float64
		typical      float64
		otherBlocked bool
	}{
		{"H at 0 V", 0, "H", true, 0.040, 0.100, 0.070, true},
		{"L at 5 V", 5, "L", false, 0.040, 0.100, 0.070, true},
		{"L at 40 V", 40, "L", false, 0.040, 0.100, 0.070, true},
	} {
		rail, volts := netlist.GroundNode, 12.0
		if test.volts != 0 {
			rail, volts = netlist.SupplyNode, test.volts
		}
		c := circuitOf(t, bedOf(netlist.DefaultDriver, 60, volts))
		short := solve.Bridge{From: solve.AtNode(node(t, c, "X1."+test.conductor)), To: solve.AtNode(rail)}
		for _, z := range []float64{-1, 0, 1} {
			n, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, atLimit(t, c, z), short)
			if err != nil {
				t.Fatal(err)
			}
			sent := busOf(t, n, nil).send(0)
			amps, state := sent.DownAmps[0], sent.Down[0]
			if test.up {
				amps, state = sent.UpAmps[0], sent.Up[0]
			}
			if want := test.typical + 0.030*z; state != solve.Limiting || math.Abs(amps-want) > 1e-9 || amps < test.least-1e-12 || amps > test.most+1e-12 {
				t.Errorf("%s: %.6f A, %v; want %.3f A, limiting", test.name, amps, state, want)
			}
		}
	}

	for _, input := range []float64{15e3, 26e3} {
		kind := netlist.DefaultDriver
		kind.AwakeMinOhms, kind.AwakeMaxOhms = input, input
		h := bedOf(kind, open, 12)
		c := circuitOf(t, h)
		const shunt = 1.0
		n := assemble(t, c, solve.Condition{Supply: solve.Idle}, solve.Bridge{From: solve.AtNode(node(t, c, "X1.H")), To: solve.AtNode(netlist.SupplyNode), Ohms: shunt})
		b := busOf(t, n, []solve.Leads{{From: netlist.SupplyNode, To: node(t, c, "X1.H")}})
		sent := b.send(0)
		if sent.Up[0] != solve.Blocked || sent.UpAmps[0] != 0 {
			t.Errorf("H at 12 V: the driver is %v with %v A", sent.Up[0], sent.UpAmps[0])
		}
		amps := sent.Volts(0) / shunt
		if want := (12 - 2.5) / (input + shunt); !near(amps, want, 2e-3, 0) { // open takes some too
			t.Errorf("H at 12 V: %.4g A flow in, want %.4g A through the input", amps, want)
		}
		if amps < 0.36e-3/3 || amps > 1e-3 {
			t.Errorf("H at 12 V: %.2f mA flow in; data sheet 0.36 mA typical, 1 mA at most", amps*1e3)
		}
	}
}

// fifteen is a transceiver of 15 kΩ from either conductor to its bias (TJA1051
// data sheet, typical) with the default driver.
var fifteen = netlist.TransceiverKind{Name: "fifteen", UnpoweredMinOhms: 15e3, UnpoweredMaxOhms: 15e3, AwakeMinOhms: 15e3, AwakeMaxOhms: 15e3}

// fourModules is a plain bus with stubs, terminators at both ends of the trunk.
func fourModules() *netlist.Harness {
	return bus{modules: 4, kind: fifteen, terminators: []float64{120, 120}, wireOhms: 0.1, contactOhms: 0.005}.harness()
}

// What the trade goes by, supply on (common practice, no source): idle 2.5 V on
// either conductor; a sender makes about 3.5 and 1.5 V of them; a multimeter with
// traffic shows the mean, H 2.6 to 2.8 V and L 2.2 to 2.4 V, which add up to about
// 5 V. The mean over the share of the time that the bus is dominant: 0.1 to 0.3
// (derived).
func TestWorkingBusLevels(t *testing.T) {
	b := workingBus(t, fourModules())
	idle := b.send()
	for i := range b.Stations {
		sent := b.send(i)
		for r := range b.Stations {
			q, d := idle.At(r), sent.At(r)
			if math.Abs(q.High-2.5) > 1e-9 || math.Abs(q.Low-2.5) > 1e-9 {
				t.Errorf("idle: %+v", q)
			}
			if math.Abs(d.High-3.5) > 0.05 || math.Abs(d.Low-1.5) > 0.05 {
				t.Errorf("%s sends, %s sees %+v", b.Stations[i].Name, b.Stations[r].Name, d)
			}
			for _, share := range []float64{0.1, 0.2, 0.3} {
				h := (1-share)*q.High + share*d.High
				l := (1-share)*q.Low + share*d.Low
				if h < 2.595 || h > 2.805 || l < 2.195 || l > 2.405 || math.Abs(h+l-5) > 0.01 {
					t.Errorf("dominant for %g of the time: H %.3f V, L %.3f V", share, h, l)
				}
			}
		}
	}
	// Two at once, as when one acknowledges another: stiffer, not twice as
	// much. By arithmetic: 3.6 V behind 24 Ω, 60 Ω beside four inputs of 30
	// kΩ; the wires take less than 2 %.
	load := 1 / (1/60.0 + 4/30e3)
	if got, want := b.levels("unit1", "unit2", "unit3").Difference(), 3.6*load/(load+24); !near(got, want, 0.02, 0) {
		t.Errorf("two senders: %.3f V, want about %.3f V", got, want)
	}
}

// Shorts as a voltmeter finds them on a recessive bus. Common practice, no
// source: a short to ground on either conductor pulls both near 0 V, a short to
// the supply pulls both up, as the terminators join them.
func TestShortsOfRecessiveBus(t *testing.T) {
	h := fourModules()
	c := circuitOf(t, h)
	for _, conductor := range []string{"H", "L"} {
		for rail, volts := range map[int]float64{netlist.GroundNode: 0, netlist.SupplyNode: 12.6} {
			b := workingBus(t, h, solve.Bridge{From: solve.OnWire(elementOf(t, c, "pair trunkS3 "+conductor), 0.5), To: solve.AtNode(rail)})
			// The other conductor hangs on it by 60 Ω, and on four inputs of
			// 15 kΩ to 2.5 V.
			other := volts + (2.5-volts)*60/(60+15e3/4)
			for i := range b.Stations {
				got := b.send().At(i)
				shorted, free := got.High, got.Low
				if conductor == "L" {
					shorted, free = free, shorted
				}
				if math.Abs(shorted-volts) > 0.01 || math.Abs(free-other) > 0.01 {
					t.Errorf("%s at %g V: %s sees %+v, want %g and about %.3f V", conductor, volts, b.Stations[i].Name, got, volts, other)
				}
			}
		}
	}
	// Between the conductors: no difference, and still 2.5 V.
	b := workingBus(t, h, solve.Bridge{From: solve.AtNode(node(t, c, "S2.H")), To: solve.AtNode(node(t, c, "S2.L"))})
	if got := b.levels("unit2", "unit1"); math.Abs(got.Difference()) > 0.02 || math.Abs(got.Common()-2.5) > 0.01 {
		t.Errorf("conductors shorted: %+v", got)
	}
}

// A module of which the ground lies above the rail: to its own ground its levels
// stay as they were while it sends, so at everybody else's they lie higher by
// that; while another sends, its own view lies lower. By hand: the sender's two
// switches hold the common mode by 24/2 Ω, the inputs pull at it by 15/2 kΩ each.
func TestGroundOffset(t *testing.T) {
	h := fourModules()
	for _, offset := range []float64{-3, -0.2, 0.2, 1, 3} {
		b := workingBus(t, h, solve.Shift{Unit: 1, Volts: offset})
		h2 := fourModules()
		h2.Modules[1].GroundOffsetVolts = offset
		written := workingBus(t, h2)
		// Recessive: the mean of the biases, one of the four higher.
		for i := range b.Stations {
			got := b.send().At(i)
			want := 2.5 + offset/4
			if b.Stations[i].Name == "unit2" {
				want -= offset
			}
			if math.Abs(got.High-want) > 1e-3 || math.Abs(got.Low-want) > 1e-3 {
				t.Errorf("%g V, recessive: %s sees %+v, want %.3f V", offset, b.Stations[i].Name, got, want)
			}
			if other := written.send().At(i); other != got {
				t.Errorf("%g V: by Shift %+v, by ground_offset_volts %+v", offset, got, other)
			}
		}
		// It sends: 1/12 S hold its own 2.5 V; three inputs of 2/15k S pull
		// towards 2.5 V of the rail.
		own := 2.5 - offset*3*2/15e3/(1/12.0+4*2/15e3)
		plain := workingBus(t, h)
		for _, at := range []string{"unit1", "unit2", "unit4"} {
			got, before := b.levels(at, "unit2"), plain.levels(at, "unit2")
			want := own
			if at != "unit2" {
				want += offset
			}
			if math.Abs(got.Common()-want) > 3e-4 {
				t.Errorf("%g V, unit2 sends: common mode at %s %.5f V, want %.5f V", offset, at, got.Common(), want)
			}
			if math.Abs(got.Difference()-before.Difference()) > 1e-3 {
				t.Errorf("%g V, unit2 sends: %s sees %.4f V between the conductors, without an offset %.4f V", offset, at, got.Difference(), before.Difference())
			}
			// Another sends.
			got, want = b.levels(at, "unit1"), 2.5+offset*2/15e3/(1/12.0+4*2/15e3)
			if at == "unit2" {
				want -= offset
			}
			if math.Abs(got.Common()-want) > 3e-4 {
				t.Errorf("%g V, unit1 sends: common mode at %s %.5f V, want %.5f V", offset, at, got.Common(), want)
			}
		}
	}
	// Two senders whose grounds lie 6 V apart: the one below has its H switch
	// blocked and the one above its L switch, so the current goes from one
	// ground to the other.
	b := workingBus(t, h, solve.Shift{Unit: 1, Volts: 6})
	sent := b.send(b.station("unit1"), b.station("unit2"))
	if sent.Up[0] != solve.Blocked || sent.Down[0] == solve.Blocked || sent.Up[1] == solve.Blocked || sent.Down[1] != solve.Blocked {
		t.Errorf("6 V apart: up %v, down %v", sent.Up, sent.Down)
	}
}

// A published figure: an MCP2551 bus takes 112 nodes with 20 kΩ from conductor to
// conductor and two 120 Ω terminators, as 45 Ω is the least load of its driver
// (data sheet DS21667F). 20000 (1/45 − 1/60) = 111.1, and the sender (derived).
// The load is taken from what the sender gives while it works: its volts by its
// amperes, less its own input.
func TestNodeCount(t *testing.T) {
	kind := netlist.TransceiverKind{Name: "twenty", UnpoweredMinOhms: 10e3, UnpoweredMaxOhms: 10e3, AwakeMinOhms: 10e3, AwakeMaxOhms: 10e3}
	for modules, enough := range map[int]bool{111: true, 112: true, 113: false} {
		h := bus{modules: modules, kind: kind, terminators: []float64{120, 120}, wireOhms: 1e-7, contactOhms: 1e-7}.harness()
		b := workingBus(t, h)
		sent := b.send(0)
		load := sent.At(0).Difference() / sent.UpAmps[0]
		load = 1 / (1/load - 1/20e3)
		if want := 1 / (1/60.0 + float64(modules-1)/20e3); !near(load, want, 1e-5, 0) {
			t.Errorf("%d nodes: %.4f Ω, want %.4f Ω", modules, load, want)
		}
		if load >= 45 != enough {
			t.Errorf("%d nodes load the sender with %.4f Ω; at least 45 Ω: want %v", modules, load, enough)
		}
	}
}

// What cannot be asked for.
func TestBusErrors(t *testing.T) {
	c := circuitOf(t, fourModules())
	if _, err := assemble(t, c, solve.Condition{}).Bus(nil); !errors.Is(err, solve.ErrSupplyOff) {
		t.Errorf("supply off: %v", err)
	}
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	for name, err := range map[string]error{
		"leads": second(n.Bus([]solve.Leads{{From: -1}})),
		"site":  second(n.Bus(nil, solve.Tool{Site: "X99"})),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	b := busOf(t, n, nil)
	if _, err := b.Send(4); err == nil {
		t.Error("a station that there is not: no error")
	}
	if _, err := b.Send(-1); err == nil {
		t.Error("station −1: no error")
	}
	other, err := assemble(t, c, solve.Condition{Supply: solve.Idle}).Vary(solve.Bridge{From: solve.AtNode(0), To: solve.AtNode(5)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Vary(other, 5); err == nil {
		t.Error("a variation of another net: no error")
	}
}

func second[T any](_ T, err error) error { return err }

// A scan tool whose conductor ends in the air at its connector: no current flows
// there.
func TestToolOnABrokenConductor(t *testing.T) {
	c := circuitOf(t, fourModules())
	n := assemble(t, c, solve.Condition{Supply: solve.Idle}, solve.Part{Element: elementOf(t, c, "pair service H")})
	b := busOf(t, n, nil, solve.Tool{Site: "X0"})
	sent := b.send(b.station("scan tool at X0"))
	if sent.UpAmps[0] != 0 || sent.Up[0] != solve.Blocked {
		t.Errorf("H of the tool is connected to nothing: %v A, %v", sent.UpAmps[0], sent.Up[0])
	}
	if sent.Down[0] != solve.Conducting {
		t.Errorf("L of the tool is %v", sent.Down[0])
	}
}

// The rest holds for random harnesses with random faults.

// drawBus draws a harness with up to two changes and its circuit.
func drawBus(t *rapid.T) (*netlist.Circuit, []solve.Change) {
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "harness"), 0))
	rc := randomBusCase(t, rng, rapid.IntRange(0, 2).Draw(t, "changes"))
	c, err := netlist.NewCircuit(rc.Harness)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return c, rc.changes(t, c)
}

func drawSenders(t *rapid.T, b probed, most int) []int {
	var out []int
	for range rapid.IntRange(0, most).Draw(t, "senders") {
		out = append(out, rapid.IntRange(0, len(b.Stations)-1).Draw(t, "sender"))
	}
	return out
}

// tally counts states of switches.
type tally [3]int

func (y *tally) add(s *solve.Sent) {
	for k := range s.Senders {
		y[s.Up[k]]++
		y[s.Down[k]]++
	}
}

func (y tally) String() string {
	return fmt.Sprintf("%d switches blocked, %d conducting, %d limiting", y[solve.Blocked], y[solve.Conducting], y[solve.Limiting])
}

func (y tally) full() bool { return !slices.Contains(y[:], 0) }

// Every switch keeps to its law, and the net to its own. The law: amperes are
// (volts − V)/ohms between 0 and the limit, V to the module's own ground. The
// net: by the substitution theorem (textbook) a switch may be replaced by any
// element that passes its current at its voltage, here a resistance from the
// supply rail to H and one from L to ground. That makes a plain net without
// drivers, which is assembled anew and solved as one: it must show the same
// voltages everywhere, and there the power from all sources is that in all
// resistances and the currents at each node add up (solvetest.Check). The state
// search of boxQP has no part in that. Where H lies above the supply or L below
// ground no resistance stands for the switch; those are counted.
func TestSwitchesAndNetKeepTheirLaws(t *testing.T) {
	var states tally
	worst, done, skipped := 0.0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c, changes := drawBus(t)
		n := assemble(t, c, solve.Condition{Supply: solve.Idle}, changes...)
		points := []solve.Leads{}
		for i := range c.Nodes {
			points = append(points, solve.Leads{From: i, To: netlist.GroundNode})
		}
		b := busOf(t, n, points)
		sent := b.send(drawSenders(t, b, 3)...)
		states.add(sent)
		instead := slices.Clone(changes)
		for k, i := range sent.Senders {
			at := sent.At(i)
			tr := c.Transceivers[i] // stations come in their order
			up, down := sent.UpAmps[k], sent.DownAmps[k]
			for _, s := range []struct {
				what       string
				amps, want float64
				state      solve.DriveState
				limit      float64
			}{
				{"up", up, (tr.Up.Volts.Mid - at.High) / tr.Up.Ohms.Mid, sent.Up[k], tr.Up.LimitAmps.Mid},
				{"down", down, (at.Low - tr.Down.Volts.Mid) / tr.Down.Ohms.Mid, sent.Down[k], tr.Down.LimitAmps.Mid},
			} {
				apart := n.Apart(tr.High, tr.Ground) && s.what == "up" || n.Apart(tr.Low, tr.Ground) && s.what == "down"
				if law := math.Min(math.Max(0, s.want), s.limit); math.Abs(law-s.amps) > 1e-10 && !apart {
					t.Errorf("%s %s: %.12g A, its law says %.12g A", b.Stations[i].Name, s.what, s.amps, law)
				}
				want := solve.Conducting
				switch {
				case s.amps == 0:
					want = solve.Blocked
				case s.amps == s.limit:
					want = solve.Limiting
				}
				if s.state != want {
					t.Errorf("%s %s is %v with %g of %g A", b.Stations[i].Name, s.what, s.state, s.amps, s.limit)
				}
			}
			h, l := sent.Volts(tr.High), sent.Volts(tr.Low)
			rail := sent.Volts(netlist.SupplyNode)
			if up > 0 && !(rail-h > 1e-6) || down > 0 && !(l > 1e-6) {
				skipped++
				return
			}
			if up > 0 {
				instead = append(instead, solve.Bridge{From: solve.AtNode(netlist.SupplyNode), To: solve.AtNode(tr.High), Ohms: (rail - h) / up})
			}
			if down > 0 {
				instead = append(instead, solve.Bridge{From: solve.AtNode(tr.Low), To: solve.AtNode(netlist.GroundNode), Ohms: l / down})
			}
		}
		plain := assemble(t, c, solve.Condition{Supply: solve.Idle}, instead...)
		done++
		for i := range c.Nodes {
			if n.Apart(i, netlist.GroundNode) {
				continue
			}
			got := sent.Volts(i)
			want := respond(t, plain, solve.Volts, i, netlist.GroundNode, solve.Meter{}).Value().Number
			worst = math.Max(worst, math.Abs(got-want))
			if !(math.Abs(got-want) <= 1e-8) {
				t.Errorf("%s: %.12g V, with resistances in place of the switches %.12g V", c.Nodes[i].Name, got, want)
			}
		}
		for i, tr := range c.Transceivers {
			if got, want := sent.At(i).High, sent.Volts(tr.High)-sent.Volts(tr.Ground); math.Abs(got-want) > 1e-9 && !n.Apart(tr.High, tr.Ground) {
				t.Errorf("%s: H %.12g V to its own ground, %.12g V by two readings", b.Stations[i].Name, got, want)
			}
		}
	})
	t.Logf("%v; worst difference %.2g V; %d of %d without a resistance that stands for a switch", states, worst, skipped, done+skipped)
	if !states.full() || skipped > done {
		t.Error("the harnesses do not cover all states")
	}
}

// The bus of a varied net is the bus of a net with the change in it, for bridges
// and inserted resistances, levels and meter alike.
func TestVariedBusIsTheFreshOne(t *testing.T) {
	var states tally
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		c, changes := drawBus(t)
		var wires, resistors []int
		for i, e := range c.Elements {
			switch e.Kind {
			case netlist.WireElement:
				wires = append(wires, i)
				resistors = append(resistors, i)
			case netlist.ContactElement, netlist.TerminatorElement, netlist.InputElement:
				resistors = append(resistors, i)
			}
		}
		spot := func(what string) solve.Spot {
			if rapid.Bool().Draw(t, what+" on a wire") {
				return solve.OnWire(rapid.SampledFrom(wires).Draw(t, what), float64(rapid.IntRange(0, 10).Draw(t, "fraction"))/10)
			}
			if rapid.IntRange(0, 3).Draw(t, what+" at a rail") == 0 {
				return solve.AtNode(rapid.IntRange(0, 1).Draw(t, what))
			}
			return solve.AtNode(rapid.IntRange(0, len(c.Nodes)-1).Draw(t, what))
		}
		ohms := math.Pow(10, float64(rapid.IntRange(-20, 50).Draw(t, "ohms"))/10)
		var ch solve.Change
		if rapid.Bool().Draw(t, "bridge") {
			ch = solve.Bridge{From: spot("from"), To: spot("to"), Ohms: ohms}
		} else {
			ch = solve.Insert{Element: rapid.SampledFrom(resistors).Draw(t, "element"), Ohms: ohms}
		}
		n := assemble(t, c, solve.Condition{Supply: solve.Idle}, changes...)
		v, err := n.Vary(ch)
		if _, insert := ch.(solve.Insert); errors.Is(err, solve.ErrApart) || err != nil && insert {
			t.Skip("separate parts, or a wire cut into pieces: needs a net of its own")
		}
		if err != nil {
			t.Fatalf("%v", err)
		}
		if br, ok := ch.(solve.Bridge); ok && br.From.Wire >= 0 && br.From.Wire == br.To.Wire {
			t.Skip("a loop within one wire")
		}
		leads := []solve.Leads{}
		for range 3 {
			leads = append(leads, solve.Leads{From: rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "red"), To: rapid.IntRange(0, len(c.Nodes)-1).Draw(t, "black")})
		}
		b := busOf(t, n, leads)
		varied, err := b.Vary(v, ohms)
		if err != nil {
			t.Fatalf("%v", err)
		}
		fresh := busOf(t, assemble(t, c, solve.Condition{Supply: solve.Idle}, append(slices.Clone(changes), ch)...), leads)
		senders := drawSenders(t, b, 3)
		got, want := (probed{varied, t, c}).send(senders...), fresh.send(senders...)
		states.add(want)
		same := func(what string, a, b float64) {
			worst = math.Max(worst, math.Abs(a-b))
			if !(math.Abs(a-b) <= 1e-7) {
				t.Errorf("%#v, %v send, %s: varied %.12g, fresh %.12g", ch, senders, what, a, b)
			}
		}
		for i := range b.Stations {
			same("H at "+b.Stations[i].Name, got.At(i).High, want.At(i).High)
			same("L at "+b.Stations[i].Name, got.At(i).Low, want.At(i).Low)
		}
		for k := range leads {
			same("leads", got.Volts(k), want.Volts(k))
			a, errA := varied.Read(k, solve.DefaultMeter(), senders...)
			z, errB := fresh.Read(k, solve.DefaultMeter(), senders...)
			if errA != nil || errB != nil {
				t.Fatalf("%v, %v", errA, errB)
			}
			same("meter", a.Number, z.Number)
		}
		for k := range got.Senders {
			same("up", got.UpAmps[k], want.UpAmps[k])
			same("down", got.DownAmps[k], want.DownAmps[k])
		}
	})
	t.Logf("%v; worst difference %.2g", states, worst)
	if !states.full() {
		t.Error("the changes do not cover all states")
	}
}

// A load between H and L lowers the dominant difference where it sits, and turns
// it round never: the drivers and the net are passive but for their sources, so a
// port's voltage falls with the current that is taken from it (monotone
// networks, Duffin; textbook).
func TestLoadLowersTheDominantDifference(t *testing.T) {
	fell := 0
	rapid.Check(t, func(t *rapid.T) {
		c, changes := drawBus(t)
		n := assemble(t, c, solve.Condition{Supply: solve.Idle}, changes...)
		b := busOf(t, n, nil)
		senders := drawSenders(t, b, 3)
		at := rapid.IntRange(0, len(b.Stations)-1).Draw(t, "at")
		load := solve.Bridge{From: solve.AtNode(c.Transceivers[at].High), To: solve.AtNode(c.Transceivers[at].Low), Ohms: math.Pow(10, float64(rapid.IntRange(-10, 50).Draw(t, "ohms"))/10)}
		before := b.send(senders...).At(at).Difference()
		after := busOf(t, assemble(t, c, solve.Condition{Supply: solve.Idle}, append(slices.Clone(changes), load)...), nil).send(senders...).At(at).Difference()
		if n.Apart(c.Transceivers[at].High, c.Transceivers[at].Low) {
			t.Skip("a floating conductor")
		}
		lo, hi := math.Min(0, before), math.Max(0, before)
		if after < lo-1e-9 || after > hi+1e-9 {
			t.Errorf("%v send: %.9f V, with %g Ω between the conductors %.9f V", senders, before, load.Ohms, after)
		}
		if before > 0.5 && after < before-1e-3 {
			fell++
		}
	})
	if fell == 0 {
		t.Error("no load ever lowered a level")
	}
}

// The order in which a harness lists its parts, and in which senders are given,
// is nothing to the bus.
func TestBusWithoutOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "harness"), 0))
		h := randomBusCase(t, rng, 0).Harness
		one, err := netlist.NewCircuit(h)
		if err != nil {
			t.Fatalf("%v", err)
		}
		turned := *h
		turned.Modules, turned.Pairs, turned.Wires = slices.Clone(h.Modules), slices.Clone(h.Pairs), slices.Clone(h.Wires)
		turned.Terminators, turned.Splices, turned.Connectors = slices.Clone(h.Terminators), slices.Clone(h.Splices), slices.Clone(h.Connectors)
		rng.Shuffle(len(turned.Modules), func(i, j int) {
			turned.Modules[i], turned.Modules[j] = turned.Modules[j], turned.Modules[i]
		})
		slices.Reverse(turned.Pairs)
		slices.Reverse(turned.Wires)
		slices.Reverse(turned.Terminators)
		slices.Reverse(turned.Splices)
		slices.Reverse(turned.Connectors)
		two, err := netlist.NewCircuit(&turned)
		if err != nil {
			t.Fatalf("%v", err)
		}
		a := busOf(t, assemble(t, one, solve.Condition{Supply: solve.Idle}), nil)
		z := busOf(t, assemble(t, two, solve.Condition{Supply: solve.Idle}), nil)
		senders := drawSenders(t, a, 3)
		var others []int
		for _, s := range senders {
			others = append(others, z.station(a.Stations[s].Name, a.Stations[s].Network))
		}
		slices.Reverse(others)
		got, want := a.send(senders...), z.send(others...)
		for i, s := range a.Stations {
			g, w := got.At(i), want.At(z.station(s.Name, s.Network))
			if math.Abs(g.High-w.High) > 1e-9 || math.Abs(g.Low-w.Low) > 1e-9 {
				t.Errorf("%v send: %s sees %+v, with the parts in another order %+v", senders, s.Name, g, w)
			}
		}
	})
}

// Stations at the same place of a symmetrical bus are alike: the other half of a
// ring of four, mirrored, sees the same when the mirrored station sends.
func TestMirroredBus(t *testing.T) {
	b := workingBus(t, bus{modules: 6, kind: fifteen, terminators: []float64{120, 120}, wireOhms: 0.3, contactOhms: 0.005}.harness())
	for s := range 6 {
		sent, mirrored := b.send(s), b.send(5-s)
		for r := range 6 {
			// The service connector carries nothing, so it breaks no symmetry.
			if a, z := sent.At(r), mirrored.At(5-r); math.Abs(a.High-z.High) > 1e-12 || math.Abs(a.Low-z.Low) > 1e-12 {
				t.Errorf("%d sends, %d sees %+v; mirrored %+v", s, r, a, z)
			}
		}
	}
}
