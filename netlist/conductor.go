package netlist

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

const (
	// CopperOhmMM2PerM is the resistivity of annealed copper at 20 °C in
	// Ω·mm²/m: IEC 60028, 1/58.
	CopperOhmMM2PerM = 1.0 / 58
	// CopperPerKelvin is the constant-mass temperature coefficient of
	// annealed copper at 20 °C: IEC 60028, 0.00393 per kelvin.
	CopperPerKelvin = 0.00393
)

// AWGDiameterMM gives the diameter in millimetres of a solid conductor of an
// American wire gauge: ASTM B258, d = 0.127 mm × 92^((36−n)/39).
func AWGDiameterMM(awg int) float64 {
	return 0.127 * math.Pow(92, float64(36-awg)/39)
}

// AWGSectionMM2 gives the section in square millimetres that belongs to
// [AWGDiameterMM].
func AWGSectionMM2(awg int) float64 {
	d := AWGDiameterMM(awg)
	return math.Pi / 4 * d * d
}

// isoMaxOhmPerKM is the greatest conductor resistance at 20 °C in Ω/km by
// nominal section in mm²: ISO 6722-1 / ISO 19642, from memory. The test
// TestISOSectionsLieBetweenIEC60228Classes holds the rows from 0.5 mm² up
// against IEC 60228. 0.13, 0.22 and 0.35 mm² have nothing to be held against
// but the resistivity of copper.
var isoMaxOhmPerKM = map[float64]float64{
	0.13: 136,
	0.22: 84.4,
	0.35: 54.4,
	0.5:  37.1,
	0.75: 24.7,
	1:    18.5,
	1.5:  12.7,
	2.5:  7.6,
}

// SectionsMM2 lists the metric sections that [SectionOhmsPerM] knows, in
// ascending order, in mm².
func SectionsMM2() []float64 {
	var out []float64
	for s := range isoMaxOhmPerKM {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

// SectionOhmsPerM gives the range in Ω/m at 20 °C of a conductor with a
// nominal metric section: from annealed copper of just that section (IEC
// 60028) up to the ISO 6722-1 maximum. ok is false for a section that the
// table does not have.
func SectionOhmsPerM(sectionMM2 float64) (min, max float64, ok bool) {
	m, ok := isoMaxOhmPerKM[sectionMM2]
	if !ok {
		return 0, 0, false
	}
	return CopperOhmMM2PerM / sectionMM2, m / 1000, true
}

// AWGOhmsPerM gives the resistance in Ω/m at 20 °C of a solid annealed copper
// conductor: ASTM B258 diameter, IEC 60028 resistivity.
func AWGOhmsPerM(awg int) float64 {
	return CopperOhmMM2PerM / AWGSectionMM2(awg)
}

// CopperFactor gives the factor by which copper's resistance at 20 °C changes
// at a temperature in degrees Celsius.
func CopperFactor(temperatureC float64) float64 {
	return 1 + CopperPerKelvin*(temperatureC-20)
}

// problem says what is wrong with a conductor's size; both results are empty
// where nothing is.
func (c conductorSize) problem() (what, write string) {
	var sizes []string
	if c.SectionMM2 != 0 {
		sizes = append(sizes, "section_mm2")
	}
	if c.AWG != 0 {
		sizes = append(sizes, "awg")
	}
	if c.OhmsPerM != 0 {
		sizes = append(sizes, "ohms_per_m")
	}
	const example = "length_m with section_mm2 or awg (length_m: 1.2, section_mm2: 0.35), or ohms"
	switch {
	case len(sizes) > 1:
		return "gives " + strings.Join(sizes, " and ") + ", which say the same thing twice", "just one of them"
	case c.Ohms != 0:
		return "", ""
	case c.LengthM == 0 && len(sizes) == 0:
		return "has neither length nor size", example
	case c.LengthM == 0:
		return "has no length", "length_m as well: the length of the conductor in metres, for example length_m: 1.2"
	case len(sizes) == 0:
		return "has no size", "section_mm2 or awg as well, for example section_mm2: 0.35"
	}
	if c.SectionMM2 != 0 {
		if _, _, ok := SectionOhmsPerM(c.SectionMM2); !ok {
			return fmt.Sprintf("section_mm2 %v is not in the table of automotive sections", c.SectionMM2),
				"one of " + joinFloats(SectionsMM2()) + ", or ohms_per_m from the cable's data sheet"
		}
	}
	return "", ""
}

// rangeOhms gives the limits of one conductor's resistance in ohms at 20 °C,
// length apart, and whether length and temperature still act on it (an
// explicit ohms is taken as measured, so neither does).
func (c conductorSize) rangeOhms() (min, max float64, scales bool) {
	tol := func(def float64) float64 {
		if c.TolerancePct != nil {
			return *c.TolerancePct / 100
		}
		return def / 100
	}
	switch {
	case c.Ohms != 0:
		t := tol(DefaultWireTolerancePct)
		return c.Ohms * (1 - t), c.Ohms * (1 + t), false
	case c.OhmsPerM != 0:
		t := tol(DefaultWireTolerancePct)
		return c.LengthM * c.OhmsPerM * (1 - t), c.LengthM * c.OhmsPerM * (1 + t), true
	case c.AWG != 0:
		r := c.LengthM * AWGOhmsPerM(c.AWG)
		t := tol(DefaultWireTolerancePct)
		return r * (1 - t), r * (1 + t), true
	default:
		lo, hi, _ := SectionOhmsPerM(c.SectionMM2)
		return c.LengthM * lo, c.LengthM * hi, true
	}
}

func joinFloats(v []float64) string {
	s := make([]string, len(v))
	for i, x := range v {
		s[i] = strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strings.Join(s, ", ")
}
