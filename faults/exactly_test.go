package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// What explanations predict is what a net reads that is assembled with them, to all digits:
// one fault and two, plugged and unplugged, ohms and volts.
func TestPredictionsAreExact(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(91, uint64(len(list))))
		ohms := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		volts := Probes(c, Selection{Quantity: solve.Volts})
		compared, pairs, small, worst := 0, 0, 0, 0.0
		for trial := range 6 {
			changes := list[rng.IntN(len(list))].Changes(math.Pow(10, -1+4*rng.Float64()), 0.5)
			if trial%2 == 1 {
				changes = append(changes, list[rng.IntN(len(list))].Changes(20, 0.5)...)
			}
			if _, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, changes...); err != nil {
				continue // two that cannot be together, or a blown fuse
			}
			v := newVehicle(c, rng, in, changes...)
			var readings []Reading
			for range 3 {
				readings = append(readings, v.read(t, ohms[rng.IntN(len(ohms))]))
			}
			if trial > 3 {
				readings = append(readings, v.read(t, volts[rng.IntN(len(volts))]))
			}
			m, err := MakeMatch(c, list, readings, in, nil)
			if err != nil {
				t.Fatal(err)
			}
			for i := range m.Hypotheses {
				h := &m.Hypotheses[i]
				if h.Probability < tellingShare {
					break
				}
				if h.Fault == nil {
					continue
				}
				if len(h.Members) > 1 {
					pairs++
				}
				for k, r := range m.Readings {
					n, err := solve.Assemble(c, r.Probe.Condition, nil, h.Changes()...)
					if err != nil {
						t.Fatalf("%s: %s: %v", name, h.Name, err)
					}
					want, err := n.Read(r.Probe.Quantity, r.Probe.From, r.Probe.To, in.Meter)
					if err != nil {
						t.Fatal(err)
					}
					want = m.evidence.shown(k, want)
					got := h.Predicted[k].Value
					if got.OL != want.OL {
						t.Fatalf("%s: %s with %s: %v, by a net %v", name, r.Probe, h.Name, got, want)
					}
					if got.OL {
						continue
					}
					compared++
					if math.Abs(want.Number) < 1 {
						small++
					}
					off := math.Abs(got.Number-want.Number) / math.Max(math.Abs(want.Number), 1e-3)
					if worst = max(worst, off); off > 1e-9 {
						t.Errorf("%s: %s with %s: %v, by a net %v", name, r.Probe, h.Name, got.Number, want.Number)
					}
				}
			}
		}
		t.Logf("%s: %d predictions, %d of two faults, %d below 1, at most %.1e off", name, compared, pairs, small, worst)
		if compared < 20 {
			t.Errorf("%s: only %d predictions", name, compared)
		}
	}
}
