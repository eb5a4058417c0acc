package faults

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What is estimated of the pairs that are left, against all of them weighed one by one:
// what they have of the whole, and what each part has of that.
func TestLeftPairsAreEstimated(t *testing.T) {
	in := DefaultInstrument()
	matches, off, promised := 0, 0.0, 0.0
	for _, name := range []string{"bench", "star", "trunk"} {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(81, uint64(len(list))))
		probes := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		trials := 6
		if len(list) > 200 {
			trials = 2
		}
		for trial := range trials {
			readings := someReadings(t, c, list, probes, in, rng, trial)
			if readings == nil {
				continue
			}
			x := NewMatcher(c, list, in)
			m, err := x.Match(readings, &MatchOptions{Healthy: 0.2, Two: 0.4, Three: -1})
			if err != nil {
				t.Fatal(err)
			}
			if m.Searched.Left == 0 {
				continue
			}
			// The same again, step by step, with every pair that is left weighed.
			r := ranked(t, x, readings, MatchOptions{Healthy: 0.2, Two: 0.4, Three: -1})
			s := r.search
			promisedToParts(t, r, m)
			known := math.Inf(-1)
			for _, l := range r.logs {
				known = logAdd(known, l)
			}
			left := r.left[0].sets
			exact := make([]float64, len(left))
			s.spread(len(left), func(w *worker, i int) {
				x := w.integrate(&left[i], math.Inf(-1), nil)
				exact[i] = x.all()
			})
			sum, estimated := math.Inf(-1), math.Inf(-1)
			for i := range left {
				sum, estimated = logAdd(sum, exact[i]), logAdd(estimated, r.left[0].logs[i])
			}
			whole := logAdd(known, sum)
			want, got := math.Exp(sum-whole), math.Exp(estimated-logAdd(known, estimated))
			if math.Abs(got-m.Searched.LeftShare) > 1e-9 {
				t.Errorf("%s: what is left has %.6f, the match says %.6f", name, got, m.Searched.LeftShare)
			}
			t.Logf("%s, %d readings: %d left with %.4f of the whole, estimated %.4f", name, len(readings), len(left), want, got)
			if math.Abs(got-want) > 0.02+0.5*want {
				t.Errorf("%s: %d pairs left, with %.4f of the whole: estimated %.4f", name, len(left), want, got)
			}
			matches, off, promised = matches+1, off+math.Abs(got-want), promised+want
		}
	}
	if matches < 8 || promised < 0.1 {
		t.Fatalf("%d matches left pairs, with %.3f of the whole in all: too little to say anything", matches, promised)
	}
	if off > 0.2*promised {
		t.Errorf("off by %.4f where there is %.4f", off, promised)
	}
}

// promisedToParts checks that parts have together what explanations, second faults that no
// reading sees and pairs that were left have of the whole.
func promisedToParts(t *testing.T, r *ranking, m *Match) {
	t.Helper()
	distinct := func(members []*Fault) float64 {
		parts := map[string]bool{}
		for _, f := range members {
			parts[f.Part] = true
		}
		return float64(len(parts))
	}
	want, single := 0.0, map[string]float64{}
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		var members []*Fault
		for _, x := range h.Members {
			members = append(members, x.Fault)
		}
		if single[h.Name] = h.Probability; len(members) == 0 {
			want += h.Probability // healthy wiring, none of these
		}
		want += h.Probability * distinct(members)
	}
	for _, p := range r.unseen.parts(r.x.faults, func(k int) float64 { return single[r.x.faults[k].Name] }) {
		want += p
	}
	sum := math.Inf(-1)
	for _, l := range r.left[0].logs {
		sum = logAdd(sum, l)
	}
	for i, set := range r.left[0].sets {
		members := []*Fault{r.x.faults[set.members[0]], r.x.faults[set.members[1]]}
		want += m.Searched.LeftShare * math.Exp(r.left[0].logs[i]-sum) * distinct(members)
	}
	got := 0.0
	for _, p := range m.Parts {
		got += p.Probability
	}
	if math.Abs(got-want) > 1e-6 {
		t.Errorf("all parts are promised %.6f together, explanations and pairs that were left have %.6f", got, want)
	}
}
