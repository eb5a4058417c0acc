package faults

import "math"

// How well a set of faults explains readings of a bus at work, roughly: to put sets in order,
// and to leave out what the readings rule out, before anything is averaged.

// farAtWork is what a reading that is far off counts for at most, as a logarithm: two
// faults do not always add up, and one reading may be misread.
const farAtWork = 12.0

// explains is how well two faults explain the readings if what they do adds up, as the log
// of a likelihood at the best of a few places: a rough measure, to put sets in order by.
// rail says that one of them leads to the supply.
func (h *setsAtWork) explains(first, second []workLook, rail bool) float64 {
	least := math.Inf(1)
	e := h.r.e
	for a := range first {
		for b := range second {
			f, g := &first[a], &second[b]
			for k := range shareParts {
				u, sum := shareAt(k), 0.0
				for i, y := range h.sound.volts {
					y += u * h.sound.lift[i]
					y += f.volts[i] + u*f.lift[i]
					if g.volts != nil {
						y += g.volts[i] + u*g.lift[i]
					}
					off := (e.y[h.at[i]] - y) / h.uncertain(i, y, rail)
					if sum += min(farAtWork, off*off/2); sum > least {
						break
					}
				}
				least = min(least, sum)
			}
		}
	}
	return h.peak - least
}

// uncertain is how uncertain a reading of y volts is, roughly.
func (h *setsAtWork) uncertain(i int, y float64, rail bool) float64 {
	if rail {
		return math.Hypot(h.sd[i], h.supply*y)
	}
	return h.sd[i]
}

// pair is that for a pair of faults.
func (h *setsAtWork) pair(f, g int) float64 {
	rail := h.r.search.rail
	return h.explains(h.alone[f], h.alone[g], rail[f] || rail[g])
}

// hint is what the readings at work say of a pair before it was looked at: little, since
// what two shorts do hardly ever adds up.
func (h *setsAtWork) hint(f, g int) float64 {
	const share = 0.25
	return h.peak + share*(h.pair(f, g)-h.peak)
}

// telling is how much better, in natural logarithms, a pair must explain readings of a bus
// at work than what it is counted with else, for it to be weighed by itself.
const telling = 1.0

// opens tells whether the readings at work call for a pair of which one fault changes no
// reading at rest beside the other.
func (h *setsAtWork) opens(f, g int, unseen uint8) bool {
	with := max(h.best[f], h.best[g])
	switch unseen {
	case secondUnseen:
		with = h.best[f]
	case firstUnseen:
		with = h.best[g]
	}
	return h.pair(f, g) > with+telling
}

// most is the log likelihood that readings at work have at most, as far as it matters.
func (h *setsAtWork) most() float64 { return h.peak + sharper }

// roughAtWork is by how much, in natural logarithms, a glance may take a set to be worse than
// it is.
const roughAtWork = 6.0

// glance is how well a set may explain the readings at work, as the log of a likelihood: the
// free ranges are parted, and a reading over each part is taken to lie between those at its
// corners. (Where a switch changes what it does in between it may lie beside them, by
// little.) What is read from nets is taken to add up, as it was; three faults are taken to
// explain all, which is the most.
func (h *setsAtWork) glance(w *worker, x *found) float64 {
	if len(x.members) != 2 {
		return h.peak
	}
	h.ready(w)
	if w.set.load(x.members); w.set.slow {
		return x.worth
	}
	s := h.r.search
	// The ends and the middle of each range.
	var ohms [2][]float64
	for k, i := range x.members {
		if ohms[k] = s.ohms[i]; s.steps[i] != nil {
			ohms[k] = []float64{s.steps[i][0], s.steps[i][sketchParts/2], s.steps[i][sketchParts]}
		}
	}
	first, second := len(ohms[0]), len(ohms[1])
	looks := make([]workLook, 0, first*second)
	for _, a := range ohms[0] {
		for _, b := range ohms[1] {
			got, err := w.set.read([]float64{a, b})
			if err != nil {
				return x.worth // the error is said when the set is weighed
			}
			looks = append(looks, newWorkLook(got))
		}
	}
	least := math.Inf(1)
	for a := range max(1, first-1) {
		for b := range max(1, second-1) {
			var corners [4]*workLook
			for k := range corners {
				p, q := min(a+k&1, first-1), min(b+k>>1, second-1)
				corners[k] = &looks[p*second+q]
			}
			least = min(least, h.against(corners, w.set.rail, least))
		}
	}
	return h.peak - least
}

// against is what the readings have against all that lies between four places, at the best
// of the dominant shares, as the fall of a log likelihood; enough or more where it is that.
func (h *setsAtWork) against(corners [4]*workLook, rail bool, enough float64) float64 {
	least := enough
	for k := range shareParts {
		u, sum := shareAt(k), 0.0
		for i := 0; i < len(h.at) && sum < least; i++ {
			low, high := math.Inf(1), math.Inf(-1)
			for _, look := range corners {
				y := look.volts[i] + u*look.lift[i]
				low, high = min(low, y), max(high, y)
			}
			y := h.r.e.y[h.at[i]]
			near := max(low, min(y, high))
			off := (y - near) / h.uncertain(i, near, rail)
			sum += min(farAtWork, off*off/2)
		}
		least = min(least, sum)
	}
	return least
}
