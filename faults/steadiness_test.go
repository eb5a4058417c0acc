package faults

import (
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A match is the same to the last bit however its work is spread over goroutines.
func TestMatchesDoNotDependOnSpreading(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	in := DefaultInstrument()
	type line struct {
		Name        string
		Probability float64
	}
	differ := 0
	for _, name := range []string{"bench", "star"} {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(81, uint64(len(list))))
		probes := append(Probes(c, Selection{}), Probes(c, Selection{Unplugged: true})...)
		for trial := range 6 {
			readings := someReadings(t, c, list, probes, in, rng, trial)
			if readings == nil {
				continue
			}
			match := func(procs int) (out []line, searched Searched) {
				runtime.GOMAXPROCS(procs)
				m, err := NewMatcher(c, list, in).Match(readings, &MatchOptions{Healthy: 0.2, Two: 0.4, Three: -1})
				if err != nil {
					t.Fatal(err)
				}
				for i := range m.Hypotheses {
					out = append(out, line{m.Hypotheses[i].Name, m.Hypotheses[i].Probability})
				}
				return out, m.Searched
			}
			want, searched := match(1)
			for range 4 {
				got, other := match(4)
				if d := cmp.Diff(want, got); d != "" {
					t.Errorf("%s, %d explanations: one goroutine and four differ (-one +four):\n%.600s", name, len(want), d)
				}
				if searched != other {
					t.Errorf("%s: searched is %+v by one goroutine, %+v by four", name, searched, other)
				}
				differ += len(got)
			}
		}
	}
	if differ < 1000 {
		t.Errorf("only %d explanations compared", differ)
	}
}
