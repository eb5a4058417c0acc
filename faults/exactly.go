package faults

import "example.com/ohmloom/solve"

// tellingShare is how probable an explanation must be for what it predicts of readings at
// rest to be worked out from a net of its own. Explanations are weighed by readings as seen
// from ports, which are off by some millionths, and by 2e-3 below 1 Ω ([solve.Ports]): far
// less than any meter's error, but what is told is to be right to all digits.
const tellingShare = 1e-3

// exactly works those out. What cannot be put together as a net keeps what it has.
func (r *ranking) exactly() {
	var list []*Hypothesis
	for i := range r.m.Hypotheses {
		h := &r.m.Hypotheses[i]
		if h.Probability < tellingShare {
			break // and all that follow
		}
		if h.Fault != nil && len(h.Predicted) > 0 {
			list = append(list, h)
		}
	}
	parallel(len(list), func() func(int) {
		return func(i int) {
			h := list[i]
			responses, err := r.asPut(h)
			if err != nil {
				return
			}
			for k, x := range responses {
				if !r.e.readings[k].Probe.driven() {
					h.Predicted[k].Value = r.e.shown(k, x.Value())
				}
			}
		}
	})
}

// asPut takes the readings in a net with an explanation's faults as they were fitted.
func (r *ranking) asPut(h *Hypothesis) ([]predicted, error) {
	members, ohms, fraction := h.place()
	ready, err := r.p.prepare(combineAt(members, ohms), fraction)
	if err != nil {
		return nil, err
	}
	return ready.bare(ohms[0])
}

// shown is what the meter would show where a prediction is v, leads included.
func (e *evidence) shown(i int, v solve.Value) solve.Value {
	if e.readings[i].Probe.Quantity == solve.Ohms {
		v.Number += e.leadMid
	}
	return v
}
