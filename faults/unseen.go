package faults

// Second faults that change no reading beside a first are counted with the first, and are
// not named. What they have of the whole is promised to their parts all the same: a part
// may be at fault though nothing that was read could show it.

// unseenSeconds are the pairs of which one fault changes nothing beside the other.
type unseenSeconds struct {
	of [][]uint8 // by first fault, by second less the first: firstUnseen, secondUnseen
	// fold is, by fault, the sum of the rates of the seconds that count with it.
	fold []float64
	// share is, by fault, the part of its own probability that is with such a second.
	share []float64
}

// set notes which of two faults is not seen beside the other.
func (u *unseenSeconds) set(first, second int, code uint8) {
	if first > second {
		first, second = second, first
		switch code {
		case firstUnseen:
			code = secondUnseen
		case secondUnseen:
			code = firstUnseen
		}
	}
	u.of[first][second-first] = code
}

// counts is how much of the second's rate counts with the first fault.
func (u *unseenSeconds) counts(first, second int) float64 {
	unseen, other := secondUnseen, firstUnseen
	if first > second {
		first, second, unseen, other = second, first, firstUnseen, secondUnseen
	}
	if u.of[first] == nil {
		return 0
	}
	switch code := u.of[first][second-first]; {
	case code == unseen|other:
		return 0.5 // together they look like either of them alone
	case code == unseen:
		return 1
	}
	return 0
}

// total sums up what counts with each fault, and how many pairs that are.
func (u *unseenSeconds) total(faults []*Fault) (pairs int) {
	u.fold = make([]float64, len(faults))
	for f, row := range u.of {
		for k, code := range row {
			if code == 0 {
				continue
			}
			g := f + k
			u.fold[f] += u.counts(f, g) * faults[g].Rate
			u.fold[g] += u.counts(g, f) * faults[f].Rate
			pairs++
		}
	}
	return pairs
}

// parts gives what the seconds have of the whole, by part; chance is that of each fault
// as a single one, seconds and all.
func (u *unseenSeconds) parts(faults []*Fault, chance func(k int) float64) map[string]float64 {
	const little = 1e-6 // a first fault that is less probable is left out
	out := map[string]float64{}
	for k, f := range faults {
		p := chance(k) * u.share[k]
		if !(p > little) {
			continue
		}
		for g, second := range faults {
			if g == k || second.Part == f.Part {
				continue
			}
			if w := u.counts(k, g); w > 0 {
				out[second.Part] += p * w * second.Rate / u.fold[k]
			}
		}
	}
	return out
}
