package plot

import (
	"math"
	"strconv"
)

// axis maps values to a stretch of the picture.
type axis struct {
	log      bool
	min, max float64 // of the values
	from, to float64 // in the picture
}

func (a *axis) at(x float64) float64 {
	lo, hi := a.min, a.max
	if a.log {
		x, lo, hi = math.Log(max(x, a.min)), math.Log(lo), math.Log(hi)
	}
	return a.from + (a.to-a.from)*(x-lo)/(hi-lo)
}

// tick is a mark of an axis; a minor one has no label.
type tick struct {
	at    float64
	label string
}

// ticks are round values within an axis: 1, 2 or 5 times a power of ten in equal
// steps, about as many as wanted; on a logarithmic axis the decades, with 2 and 5
// between them where there are few, and the other digits without labels.
func (a *axis) ticks(wanted int) []tick {
	var out []tick
	if a.log {
		first, last := int(math.Floor(math.Log10(a.min)+1e-9)), int(math.Ceil(math.Log10(a.max)-1e-9))
		decades := math.Log10(a.max / a.min)
		every := max(1, int(math.Ceil(decades/float64(wanted))))
		for e := first; e <= last; e++ {
			for d := 1; d <= 9; d++ {
				x := float64(d) * math.Pow(10, float64(e))
				if x < a.min*(1-1e-9) || x > a.max*(1+1e-9) {
					continue
				}
				labelled := d == 1 && ((e-first)%every == 0) || decades < 2.5 && (d == 2 || d == 5) || decades < 0.7
				t := tick{at: x}
				if labelled {
					t.label = short(x)
				}
				out = append(out, t)
			}
		}
		return out
	}
	step := niceStep((a.max - a.min) / float64(wanted))
	first := math.Ceil(a.min/step - 1e-9)
	for k := range 2 * (wanted + 1) { // more do not fit
		if x := (first + float64(k)) * step; x <= a.max+step*1e-9 {
			out = append(out, tick{x, short(x)})
		}
	}
	return out
}

// niceStep is the least of 1, 2 and 5 times a power of ten that is not below a
// width.
func niceStep(width float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(width)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= width*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// short writes a number with a prefix: 0.1, 20, 1.5k, 10M.
func short(x float64) string {
	n := func(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }
	switch a := math.Abs(x); {
	case a < 1e-12:
		return "0"
	case a >= 1e6*(1-1e-9):
		return n(x/1e6) + "M"
	case a >= 1e3*(1-1e-9):
		return n(x/1e3) + "k"
	}
	return n(x)
}

// span finds the limits of the y axis and whether it is logarithmic: resistances
// that differ by more than logFrom are.
func (p *Plot) span() axis {
	const (
		logFrom = 40.0
		least   = 0.05 // ohms, half of a common meter's last digit
	)
	lo, hi := math.Inf(1), math.Inf(-1)
	take := func(x float64) { lo, hi = min(lo, x), max(hi, x) }
	for _, q := range p.Points {
		if !q.Value.OL {
			take(q.Value.Number)
		}
	}
	if !p.Healthy.OL {
		take(p.Healthy.Number)
	}
	if !p.Low.OL {
		take(p.Low.Number)
	}
	if !p.High.OL {
		take(p.High.Number)
	}
	if lo > hi { // OL all along
		lo, hi = 0, 1
	}
	if p.LogX || len(p.Places) > 0 {
		if p.Quantity == 0 && max(hi, least)/max(lo, least) > logFrom {
			return axis{log: true, min: roundDown(max(lo, least)), max: roundUp(hi)}
		}
	}
	if p.Quantity == 0 && lo < 0.4*hi {
		lo = 0
	}
	if room := hi - lo; room > 0 {
		hi += 0.06 * room
		if lo != 0 {
			lo -= 0.06 * room
		}
	} else {
		lo, hi = lo-0.5, hi+0.5
	}
	return axis{min: lo, max: hi}
}

// roundDown and roundUp go to the next 1, 2 or 5 times a power of ten.
func roundDown(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)+1e-9))
	for _, m := range []float64{5, 2} {
		if m*p <= x*(1+1e-9) {
			return m * p
		}
	}
	return p
}

func roundUp(x float64) float64 { return niceStep(x) }
