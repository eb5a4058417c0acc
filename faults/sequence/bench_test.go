package sequence

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// big is an invented problem of the size that is met: states, tests, outcomes.
// Each test has, in each state, one likely outcome, and doubt beside it; or, spread,
// chances of all outcomes.
func big(states, tests, outcomes, repairs int, spread bool) *Problem {
	r := rand.New(rand.NewPCG(3, 4))
	p := &Problem{SwitchMinutes: 5}
	for range 40 {
		p.Reach = append(p.Reach, 60*r.Float64())
	}
	for s := range states {
		p.Prior = append(p.Prior, r.ExpFloat64())
		p.Repair = append(p.Repair, s%repairs)
	}
	for range tests {
		t := Test{Minutes: 0.5, Places: []int{r.IntN(40)}, Setting: r.IntN(2), Chance: make([][]float32, outcomes)}
		for o := range t.Chance {
			t.Chance[o] = make([]float32, states)
		}
		for s := range states {
			if spread {
				sum := float32(0)
				for o := range t.Chance {
					t.Chance[o][s] = 0.01 + r.Float32()
					sum += t.Chance[o][s]
				}
				for o := range t.Chance {
					t.Chance[o][s] /= sum
				}
				continue
			}
			o := r.IntN(outcomes)
			t.Chance[o][s] = 0.875
			t.Chance[(o+1)%outcomes][s] += 0.125
		}
		p.Tests = append(p.Tests, t)
	}
	return p
}

// One choice at the root of 3000 states, 900 tests of 8 outcomes.
func BenchmarkChoose(b *testing.B) {
	for _, x := range []struct {
		name    string
		repairs int
		spread  bool
		choose  Chooser
	}{
		{"greedy, 150 repairs", 150, false, Greedy()},
		{"greedy, 150 repairs, all outcomes possible", 150, true, Greedy()},
		{"greedy, 3000 repairs, all outcomes possible", 3000, true, Greedy()},
		{"4 wide, 0 ahead, 150 repairs", 150, false, LookAhead(4, 0)},
		{"4 wide, 2 ahead, 150 repairs", 150, false, LookAhead(4, 2)},
		{"4 wide, 0 ahead, 150 repairs, all outcomes possible", 150, true, LookAhead(4, 0)},
	} {
		b.Run(x.name, func(b *testing.B) {
			s := begin(big(3000, 900, 8, x.repairs, x.spread), Stop{Sure: 0.95, Rare: 1e-3})
			b.ReportAllocs()
			for b.Loop() {
				if x.choose(s) < 0 {
					b.Fatal("no choice")
				}
			}
		})
	}
}

// A whole plan: 600 states, 200 tests of 8 outcomes.
func BenchmarkPlan(b *testing.B) {
	p := big(600, 200, 8, 20, false)
	for name, choose := range map[string]Chooser{"greedy": Greedy(), "4 wide, 2 ahead": LookAhead(4, 2)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				tree, err := Plan(p, choose, &Stop{Sure: 0.95, Rare: 1e-3, Bits: 1e-3})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(tree.Minutes, "expected-min")
				b.ReportMetric(float64(tree.Nodes), "nodes")
			}
		})
	}
}

// The optimum of random problems, places and settings included.
func BenchmarkOptimal(b *testing.B) {
	for _, n := range []int{14, 20, 28} {
		b.Run(fmt.Sprint(n, " states, ", n, " tests"), func(b *testing.B) {
			p := randomBinary(rand.New(rand.NewPCG(9, uint64(n))), n, true)
			for b.Loop() {
				if _, err := Optimal(p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
