package faults

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func TestCatalogueNamesAndParts(t *testing.T) {
	for _, demo := range demos {
		c := loadDemo(t, demo)
		parts := map[string]bool{}
		h := c.Harness
		for _, x := range h.Connectors {
			parts[x.Name] = true
		}
		for _, x := range h.Splices {
			parts[x.Name] = true
		}
		for _, x := range h.Modules {
			parts[x.Name] = true
		}
		for _, x := range h.Terminators {
			parts[x.Name] = true
		}
		for _, x := range h.Pairs {
			parts[x.Name] = true
		}
		seen := map[string]bool{}
		first, second := Catalogue(c), Catalogue(c)
		for i, f := range first {
			if seen[f.Name] {
				t.Errorf("%s: two faults are called %q", demo, f.Name)
			}
			seen[f.Name] = true
			if !parts[f.Part] {
				t.Errorf("%s: %s: repair of %q, which the harness does not have", demo, f.Name, f.Part)
			}
			if f.Rate <= 0 {
				t.Errorf("%s: %s has rate %v", demo, f.Name, f.Rate)
			}
			if second[i].Name != f.Name {
				t.Errorf("%s: order of the catalogue is not stable", demo)
			}
			if _, err := solve.Assemble(c, solve.Condition{}, nil, f.Typical()...); err != nil {
				t.Errorf("%s: %s: %v", demo, f.Name, err)
			}
		}
	}
}

// Each kind that DESIGN lists, by name, in the demo harness.
func TestCatalogueHoldsEveryKind(t *testing.T) {
	c := loadDemo(t, "orchard")
	var got []string
	for _, f := range Catalogue(c) {
		if !slices.Contains(got, string(f.Kind)) {
			got = append(got, string(f.Kind))
		}
	}
	slices.Sort(got)
	want := []string{
		"backed-out", "ground-offset", "joint", "leak", "no-ground", "no-supply", "open", "open-both",
		"short-between", "short-networks", "short-to-ground", "short-to-supply", "shorted-inside", "stuck-dominant", "swapped", "terminator-extra", "terminator-missing", "terminator-value", "unplugged",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	list := Catalogue(c)
	for _, name := range []string{
		"open drive.H in pair P9", "open drive.H and drive.L in pair P9", "high-resistance joint work.L in pair Q5",
		"short drive.H to ground in pair P1", "short drive.L to supply in pair P1", "short drive.H to drive.L in pair P4",
		"short drive.H to work.L at connector X6 (cavities 1 and 10)", "backed-out cavity X7.11 (drive.H)",
		"high-resistance contact X14.2 (work.L)", "connector X11 unplugged", "drive.H and drive.L swapped at connector X9 (cavities 7 and 8)",
		"leak drive.H to drive.L at connector X2", "leak work.H to ground at splice S6",
		"terminator TD1 missing", "terminator TW2 of wrong value", "extra terminator in module dash on drive", "extra terminator at connector X1 on drive",
	} {
		findFault(t, list, name)
	}
}

// The trade's figures, at the bench bus: common practice, no source.
func TestTradeReadings(t *testing.T) {
	c := loadDemo(t, "bench")
	p := []Probe{
		probeAt(t, c, solve.Ohms, "X1", "H-L"), probeAt(t, c, solve.Ohms, "X1", "H-ground"),
		probeAt(t, c, solve.Volts, "X1", "H-ground"), probeAt(t, c, solve.Volts, "X1", "L-ground"),
	}
	tab, err := MakeTable(c, Catalogue(c), p, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	near := func(name string, probe int, want, within float64) {
		t.Helper()
		v := tab.Healthy[probe]
		if name != HealthyName {
			for i := range tab.Rows {
				if tab.Rows[i].Fault.Name == name {
					v = tab.Rows[i].Values[probe]
				}
			}
		}
		if v.OL != math.IsInf(want, 1) || !v.OL && math.Abs(v.Number-want) > within {
			t.Errorf("%s, %s: reads %v, want %v within %v", name, p[probe], v, want, within)
		}
	}
	near(HealthyName, 0, 60, 0.5)
	near("terminator T1 missing", 0, 120, 1)
	near("connector X2 unplugged", 0, 120, 1)
	near("extra terminator in module middle", 0, 40, 0.5)
	near("short H to L at connector X1 (cavities H and L)", 0, 0, 1e-9)
	near("short H to L in pair P1", 0, 0.026, 0.003) // the wire to the short and back: 0.5 m of 0.35 mm²
	near("short H to ground in pair P1", 1, 0.013, 0.002)
	near(HealthyName, 2, 2.5, 0.01)
	near(HealthyName, 3, 2.5, 0.01)
	near("short H to ground in pair P1", 2, 0, 1e-3)
	near("short H to ground in pair P1", 3, 0, 0.05)   // the terminators pull L along
	near("short L to supply in pair P1", 2, 12.6, 0.2) // through the terminators, less what the inputs take
	near("short L to supply in pair P1", 3, 12.6, 1e-3)
}

// The bands against harnesses drawn at random: the worst case must hold all of
// them, the 95 % band about 95 %.
func TestBandsHoldDrawnHarnesses(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	in := DefaultInstrument()
	for _, demo := range demos {
		c := loadDemo(t, demo)
		var probes []Probe
		for _, sel := range []Selection{{}, {Quantity: solve.Volts}, {Unplugged: true}} {
			all := Probes(c, sel)
			for i := 0; i < len(all); i += 1 + len(all)/12 {
				probes = append(probes, all[i])
			}
		}
		tab, err := MakeTable(c, nil, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		const draws = 400
		inside := make([]int, len(probes))
		for d := 0; d < draws; d++ {
			v := newVehicle(c, rng, in)
			if d%2 == 1 {
				// Half of the draws at the limits, where a worst case would be
				// missed first. They do not count for the 95 % band.
				for i := range v.z {
					v.z[i] = math.Copysign(1, v.z[i])
				}
			}
			for i, p := range probes {
				r := v.read(t, p)
				// The band is about the harness and the meter's error; what the
				// leads add in the middle is taken off, as Match does.
				if mid, _ := in.leads(); p.Quantity == solve.Ohms && !r.Value.OL {
					r.Value.Number = math.Max(0, r.Value.Number-mid)
				}
				y := onScale(p.Quantity, r.Value)
				if b := tab.Bands[i].worst; y < b.low-1e-3 || y > b.high+1e-3 {
					t.Fatalf("%s: %s reads %v, outside the worst case %v to %v", demo, p, r.Value, tab.Bands[i].WorstLow, tab.Bands[i].WorstHigh)
				}
				if d%2 == 0 && tab.Bands[i].likely.holds(y) {
					inside[i]++
				}
			}
		}
		for i, n := range inside {
			if share := float64(n) / (draws / 2); share < 0.88 {
				t.Errorf("%s: %s: the 95 %% band %v to %v holds %.0f %% of drawn harnesses", demo, probes[i], tab.Bands[i].Low, tab.Bands[i].High, 100*share)
			}
		}
	}
}

// FFD, FFI and groups on a matrix small enough to do by hand. Four faults with
// rates 4, 3, 2, 1 and two readings; healthy reads 60 ± 1 and 60 ± 1.
//
//	A 120, 60   detected
//	B 120, 60   detected, as A
//	C  60, 60   not detected
//	D  60, 10   detected, alone
//
// FFD = (4+3+1)/10 = 0.8; FFI(1) = 1/8; FFI(3) = 8/8; A and B are different
// parts, so isolated to a part: 1/8. Definitions: IEEE 1522 (from memory),
// denominators as the doc comments state.
func TestTestabilityByHand(t *testing.T) {
	c := loadDemo(t, "bench")
	tab := &Table{Circuit: c, Probes: make([]Probe, 2)}
	row := func(name, part string, rate float64, marks []Mark, y ...float64) {
		r := Row{Fault: &Fault{Name: name, Part: part, Rate: rate}, Marks: marks}
		for _, x := range y {
			r.likely = append(r.likely, interval{x - 1, x + 1})
		}
		tab.Rows = append(tab.Rows, r)
	}
	row("A", "P1", 4, []Mark{Outside, Within}, 120, 60)
	row("B", "P2", 3, []Mark{Outside, Within}, 120.5, 60)
	row("C", "P3", 2, []Mark{Within, Unlikely}, 60, 60)
	row("D", "P4", 1, []Mark{Within, Outside}, 60, 10)
	got := tab.Testability()
	want := Testability{
		Detected: 0.8, Undetected: []int{2}, Groups: [][]int{{0, 1}, {3}},
		IsolatedTo1: 0.125, IsolatedTo3: 1, IsolatedToPart: 0.125,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	// The rule is cautious: with E between A and a far F, all three are one group
	// though A and F are told apart.
	row("E", "P1", 1, []Mark{Outside, Within}, 122, 60)
	row("F", "P1", 1, []Mark{Outside, Within}, 123.8, 60)
	if !tab.ToldApart(0, 5) || tab.ToldApart(0, 4) || tab.ToldApart(4, 5) {
		t.Error("A and F should be told apart, A and E, E and F should not")
	}
	got = tab.Testability()
	if !slices.Equal(got.Groups[0], []int{0, 1, 4, 5}) {
		t.Errorf("group of A is %v", got.Groups[0])
	}
	// A group of four is none of three: of the detected rates 4+3+1+1+1 only D's 1.
	if math.Abs(got.IsolatedTo3-0.1) > 1e-12 {
		t.Errorf("isolated to three: %v, want 0.1", got.IsolatedTo3)
	}
}

// At zero tolerance and with a perfect meter, "not told apart" is an equivalence:
// equal readings, and the groups are exactly the classes of equal rows.
func TestGroupsAreClassesAtZeroTolerance(t *testing.T) {
	h := *loadDemo(t, "bench").Harness
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	bare := *c
	bare.Elements = slices.Clone(c.Elements)
	for i := range bare.Elements {
		e := &bare.Elements[i]
		e.Off.Value.Parts, e.Awake.Value.Parts, e.Awake.Volts.Parts = nil, nil, nil
	}
	in := DefaultInstrument()
	in.OhmsPct, in.OhmsDigits, in.LeadMinOhms, in.LeadMaxOhms = 0, 0, 0, 0
	// Between the conductors only: to ground a reading keeps a width of its own,
	// the stray path that fingers make.
	var probes []Probe
	for _, p := range Probes(&bare, Selection{}) {
		if p.Between == "H-L" {
			probes = append(probes, p)
		}
	}
	tab, err := MakeTable(&bare, Catalogue(&bare), probes, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range tab.Rows {
		for j := range tab.Rows {
			if tab.ToldApart(i, j) != tab.ToldApart(j, i) {
				t.Fatal("told apart is not symmetric")
			}
			for k := range tab.Rows {
				if !tab.ToldApart(i, j) && !tab.ToldApart(j, k) && tab.ToldApart(i, k) {
					t.Fatalf("not an equivalence: %s, %s, %s", tab.Rows[i].Fault.Name, tab.Rows[j].Fault.Name, tab.Rows[k].Fault.Name)
				}
			}
		}
	}
}

// The worst case is where every resistance is at its limit, inputs too, whose
// limits are of conductance: Rayleigh. The corner is found here by the parameters'
// names.
func TestWorstCaseIsTheCornerOfAllResistances(t *testing.T) {
	c := loadDemo(t, "orchard")
	in := DefaultInstrument()
	in.OhmsPct, in.OhmsDigits, in.LeadMinOhms, in.LeadMaxOhms = 0, 0, 0, 0
	probes := []Probe{probeAt(t, c, solve.Ohms, "X1", "drive.H-ground"), probeAt(t, c, solve.Ohms, "X9", "drive.H-drive.L")}
	tab, err := MakeTable(c, nil, probes, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	z := make([]float64, len(c.Parameters))
	for _, up := range []float64{1, -1} {
		for i, p := range c.Parameters {
			z[i] = up
			if strings.Contains(p.Name, "input of") || strings.Contains(p.Name, "load on") {
				z[i] = -up
			}
		}
		n, err := solve.Assemble(c, solve.Condition{}, z)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range probes {
			v, err := n.Read(p.Quantity, p.From, p.To, in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			limit := tab.Bands[i].WorstHigh
			if up < 0 {
				limit = tab.Bands[i].WorstLow
			}
			// The stray path that a reading may have widens the band, to ground by
			// a percent or so, between the conductors by next to nothing.
			within := 1e-4
			if p.To == 0 {
				within = 0.02
			}
			if relative(v.Number, limit.Number) > within {
				t.Errorf("%s: %v at the corner, band ends at %v", p, v, limit)
			}
		}
	}
}

// A module in the middle of the trunk joins its pins inside: unplugged, each side of
// its connector is read for itself, and both are listed.
func TestProbesOfAThroughConnector(t *testing.T) {
	h := &netlist.Harness{
		Name: "through", Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "X1"}, {Name: "X3"},
			{Name: "X2", Cavities: []netlist.Cavity{{Name: "1", Carries: "H"}, {Name: "2", Carries: "L"}, {Name: "3", Carries: "H"}, {Name: "4", Carries: "L"}}},
		},
		Modules: []netlist.Module{
			{Name: "left", Connectors: []string{"X1"}, Transceiver: "modern"},
			{Name: "middle", Connectors: []string{"X2"}, Transceiver: "modern"},
			{Name: "right", Connectors: []string{"X3"}, Transceiver: "modern"},
		},
		Terminators: []netlist.Terminator{{Name: "T1", At: "left", Ohms: 120}, {Name: "T2", At: "right", Ohms: 100}},
		Pairs: []netlist.Pair{
			{Name: "P1", From: []string{"X1"}, To: []string{"X2.1", "X2.2"}, LengthM: 2, SectionMM2: 0.35},
			{Name: "P2", From: []string{"X2.3", "X2.4"}, To: []string{"X3"}, LengthM: 2, SectionMM2: 0.35},
		},
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, p := range Probes(c, Selection{Unplugged: true}) {
		if p.Site != "X2" || p.Half != "" || p.To == netlist.GroundNode || p.To == netlist.SupplyNode {
			continue
		}
		n, err := solve.Assemble(c, p.Condition, nil)
		if err != nil {
			t.Fatal(err)
		}
		v, err := n.Read(p.Quantity, p.From, p.To, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		got[p.Between] = v.Number
	}
	if len(got) != 2 || math.Abs(got["1-2"]-120) > 1.5 || math.Abs(got["3-4"]-100) > 1.5 {
		t.Errorf("each side of the unplugged connector reads %v, want 120 Ω at 1-2 and 100 Ω at 3-4", got)
	}
}
