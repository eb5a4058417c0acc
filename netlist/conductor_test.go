package netlist

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: %.6g, want %.6g within %g %%", what, got, want, relative*100)
	}
}

// gauges holds published figures by American wire gauge.
//
// millimetres: ASTM B258 defines AWG 36 as 0.0050 in and 4/0 as 0.4600 in, with
// equal ratios between; the table's diameters in inches, rounded to 0.0001 in, are
// from memory (wire tables print 0.0508 in for 16 and so on).
//
// per1000ft: ohms per 1000 ft at 20 °C, NBS Handbook 100, from memory, seen
// second-hand in a public wire table.
//
// ul1581: greatest ohms per km of solid plain copper, UL 1581 as quoted second-hand
// (cableizer.com/documentation/R_co); 0 where there is none.
var gauges = []struct {
	awg       int
	inches    float64
	per1000ft float64
	ul1581    float64
}{
	{16, 0.0508, 4.016, 13.5},
	{18, 0.0403, 6.385, 21.4},
	{20, 0.0320, 10.15, 33.9},
	{22, 0.0253, 16.14, 54.3},
	{24, 0.0201, 25.67, 85.9},
	{26, 0.0159, 40.81, 138},
	{28, 0.0126, 64.90, 0},
}

func TestAWG(t *testing.T) {
	const inch, foot = 25.4, 0.3048 // mm, m: exact by definition
	within(t, "AWG 36", AWGDiameterMM(36), 0.0050*inch, 1e-12)
	within(t, "AWG 4/0", AWGDiameterMM(-3), 0.4600*inch, 1e-12)
	// Areas in mm², six gauges halve the diameter nearly: 92^(6/39) = 2.0050.
	within(t, "six gauges", AWGDiameterMM(16)/AWGDiameterMM(22), 2.0050, 1e-4)
	for _, g := range gauges {
		name := fmt.Sprintf("AWG %d", g.awg)
		if d := AWGDiameterMM(g.awg) / inch; math.Abs(d-g.inches) > 0.00005+1e-9 {
			t.Errorf("%s: diameter %.5f in, printed %.4f in", name, d, g.inches)
		}
		d := AWGDiameterMM(g.awg)
		within(t, name+" section", AWGSectionMM2(g.awg), math.Pi*d*d/4, 1e-12)
		// Four printed figures: 0.5 in 1614 is 0.03 %.
		within(t, name+" ohms per m", AWGOhmsPerM(g.awg), g.per1000ft/(1000*foot), 5e-4)
		if g.ul1581 != 0 {
			if ohms := AWGOhmsPerM(g.awg) * 1000; ohms > g.ul1581 || ohms < 0.95*g.ul1581 {
				t.Errorf("%s: %.4g Ω/km, UL 1581 allows at most %.4g and is not far above", name, ohms, g.ul1581)
			}
		}
	}
}

// The conductivity of annealed copper, 58 MS/m, and 1/58 Ω·mm²/m = 17.241
// Ω·mm²/km: IEC 60028 as quoted second-hand.
func TestCopper(t *testing.T) {
	within(t, "resistivity", CopperOhmMM2PerM*1000, 17.241, 1e-4)
	if CopperPerKelvin != 0.00393 { // IEC 60028
		t.Errorf("coefficient %v per kelvin", CopperPerKelvin)
	}
	// Kt corrects a resistance measured at a temperature to 20 °C, so it is 1
	// over the factor: uecables.com/471, three rounded figures.
	for temperature, kt := range map[float64]float64{5: 1.064, 20: 1, 30: 0.962, 50: 0.893} {
		if got := 1 / CopperFactor(temperature); math.Abs(got-kt) > 0.002 {
			t.Errorf("Kt at %v °C: %.4f, printed %.3f", temperature, got, kt)
		}
	}
}

// iec60228 holds the greatest ohms per km at 20 °C of plain copper: class 1 and 2
// (solid and stranded) and class 5 (flexible). IEC 60228 as quoted by three
// agreeing pages.
var iec60228 = []struct{ mm2, solid, flexible float64 }{
	{0.5, 36.0, 39.0},
	{0.75, 24.5, 26.0},
	{1, 18.1, 19.5},
	{1.5, 12.1, 13.3},
	{2.5, 7.41, 7.98},
}

// Automotive conductors are stranded more finely than class 2 and less than class
// 5, so that the maxima, which are from memory, must lie between.
func TestISOSectionsLieBetweenIEC60228Classes(t *testing.T) {
	var held []float64
	for _, row := range iec60228 {
		min, max, ok := SectionOhmsPerM(row.mm2)
		if !ok {
			t.Errorf("no section %v mm²", row.mm2)
			continue
		}
		held = append(held, row.mm2)
		if perKM := max * 1000; !(perKM > row.solid && perKM < row.flexible) {
			t.Errorf("%v mm²: at most %v Ω/km, IEC 60228 has %v for class 2 and %v for class 5", row.mm2, perKM, row.solid, row.flexible)
		}
		if perKM := min * 1000; !(perKM < row.solid) {
			t.Errorf("%v mm²: at least %v Ω/km, IEC 60228 allows %v at most for class 2", row.mm2, perKM, row.solid)
		}
	}
	// Every section from 0.5 mm² up is held against the standard, and all, also
	// those that it does not have, against copper itself: 2 to 15 % above it.
	for _, mm2 := range SectionsMM2() {
		if mm2 >= 0.5 && !slices.Contains(held, mm2) {
			t.Errorf("%v mm² is held against nothing", mm2)
		}
		min, max, _ := SectionOhmsPerM(mm2)
		within(t, fmt.Sprintf("%v mm² of copper", mm2), min, 0.017241/mm2, 1e-4)
		if over := max / min; over < 1.02 || over > 1.15 {
			t.Errorf("%v mm²: maximum is %.3f times that of copper of just this section", mm2, over)
		}
	}
	if _, _, ok := SectionOhmsPerM(0.6); ok {
		t.Error("0.6 mm² is in the table")
	}
	if !slices.IsSorted(SectionsMM2()) {
		t.Errorf("sections %v are not in ascending order", SectionsMM2())
	}
}

// What a conductor of a harness comes to: its limits, its middle, and what the
// length and the temperature do to it.
func TestConductorLaw(t *testing.T) {
	wire := func(change func(*Harness, *Wire)) Spread {
		h := &Harness{
			Name: "one wire", Networks: []Network{{Name: "bus", Layer: "high-speed"}},
			Connectors: []Connector{{Name: "X1"}, {Name: "X2"}},
			Wires: []Wire{
				{Name: "W1", From: "X1.H", To: "X2.H", LengthM: 2},
				{Name: "W2", From: "X1.L", To: "X2.L", Ohms: 1},
			},
		}
		change(h, &h.Wires[0])
		c, err := NewCircuit(h)
		if err != nil {
			t.Fatal(err)
		}
		e, _ := c.Element("wire W1")
		return c.Elements[e].Off.Value
	}
	half := func(s Spread) (sum float64) {
		for _, p := range s.Parts {
			sum += math.Abs(p.Half)
		}
		return sum
	}
	zero, ten, cold := 0.0, 10.0, 0.0
	for _, test := range []struct {
		name   string
		change func(*Harness, *Wire)
		mid    float64
		half   float64 // all parameters at their limits
	}{
		// 2 m: 1/58/0.5 to 0.0371 Ω/m; ± 5 % length, ± 20 K.
		{"section", func(h *Harness, w *Wire) { w.SectionMM2 = 0.5 },
			2 * (1/29.0 + 0.0371) / 2,
			2*(0.0371-1/29.0)/2 + 2*(1/29.0+0.0371)/2*(0.05+0.00393*20)},
		// 2 m of AWG 22: 16.14 Ω per 1000 ft; ± 5 %, ± 5 % length, ± 20 K.
		{"gauge", func(h *Harness, w *Wire) { w.AWG = 22 },
			2 * 16.14 / 304.8, 2 * 16.14 / 304.8 * (0.05 + 0.05 + 0.00393*20)},
		{"gauge, no tolerance", func(h *Harness, w *Wire) { w.AWG, w.TolerancePct = 22, &zero },
			2 * 16.14 / 304.8, 2 * 16.14 / 304.8 * (0.05 + 0.00393*20)},
		{"ohms per m", func(h *Harness, w *Wire) { w.OhmsPerM, w.TolerancePct = 0.06, &ten },
			0.12, 0.12 * (0.1 + 0.05 + 0.00393*20)},
		{"at 0 °C", func(h *Harness, w *Wire) { w.OhmsPerM, w.TolerancePct, h.TemperatureC = 0.06, &ten, &cold },
			0.12 * (1 - 0.0786), 0.12*(1-0.0786)*(0.1+0.05) + 0.12*0.00393*20},
		// Explicit ohms are as measured: length and temperature play no part.
		{"ohms", func(h *Harness, w *Wire) { w.Ohms, h.TemperatureC = 3, &cold }, 3, 0.15},
		{"ohms win", func(h *Harness, w *Wire) { w.Ohms, w.AWG = 3, 22 }, 3, 0.15},
	} {
		s := wire(test.change)
		within(t, test.name, s.Mid, test.mid, 3e-4)
		within(t, test.name+", limits", half(s), test.half, 1e-3)
	}
}
