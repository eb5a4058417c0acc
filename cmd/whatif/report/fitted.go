package report

import (
	"math"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// fitted gives the faults with the resistances that readings say of them in place of
// the typical ones. The catalogue's own faults stay as they are.
func fitted(list []*faults.Fault, ohms map[string]faults.Estimate) []*faults.Fault {
	out := make([]*faults.Fault, len(list))
	for i, f := range list {
		out[i] = f
		if x, known := ohms[f.Name]; known && f.Free != nil {
			own, free := *f, *f.Free
			free.Typical = min(max(figures(x.Best, 3), free.Min), free.Max)
			own.Free = &free
			out[i] = &own
		}
	}
	return out
}

// fittedText says what readings say of a fault's resistance; to two figures, more would
// be pretence.
func fittedText(x faults.Estimate) string {
	return "as fitted to the readings (95 %: " + netlist.FormatOhms(figures(x.Low, 2)) + " to " + netlist.FormatOhms(figures(x.High, 2)) + ")"
}

// figures rounds a resistance to so many figures.
func figures(ohms float64, n int) float64 {
	if !(ohms > 0) {
		return 0
	}
	scale := math.Pow(10, math.Floor(math.Log10(ohms))-float64(n-1))
	return math.Round(ohms/scale) * scale
}
