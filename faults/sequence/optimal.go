package sequence

import (
	"errors"
	"fmt"
	"math/bits"
)

// MostStates is how many states [Optimal] takes, and MostPlaces how many places.
const (
	MostStates = 32
	MostPlaces = 64
	mostKnown  = 1 << 19 // situations that it keeps in mind: some 50 MB and 10 s
)

// Optimal finds the plan with the fewest expected minutes that learns all that the
// tests can tell about the repair. Outcomes must be certain in each state, so that
// what is known is a set of states; the best test is found for all such sets that
// can come about, with the places reached and the setting (dynamic programming).
// The error says what is wrong with the problem, or that it is too big.
func Optimal(p *Problem) (*Tree, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if len(p.Prior) > MostStates || len(p.Reach) > MostPlaces {
		return nil, fmt.Errorf("sequence: %d states and %d places; at most %d and %d can be worked through",
			len(p.Prior), len(p.Reach), MostStates, MostPlaces)
	}
	d, err := newDynamic(p)
	if err != nil {
		return nil, err
	}
	return d.plan()
}

// dynamic remembers the best test of each situation.
type dynamic struct {
	p        *Problem
	class    []int
	group    []int // by state: those with the same outcomes in all tests
	weight   []float64
	outcomes [][]uint32 // by test and outcome: the states that have it
	places   []uint64   // by test
	best     map[known]found
	most     int // situations to keep in mind
	full     bool
}

// plan grows the tree of the best tests.
func (d *dynamic) plan() (*Tree, error) {
	tree, err := Plan(d.p, d.choose, nil)
	if d.full {
		return nil, fmt.Errorf("sequence: more than %d situations to work through", d.most)
	}
	return tree, err
}

// known is a situation: what is possible and what matters for minutes to come.
type known struct {
	states  uint32
	been    uint64
	setting int
}

// found is the best test in a situation, −1 if none is of use, and the expected
// minutes to go.
type found struct {
	test    int
	minutes float64
}

func newDynamic(p *Problem) (*dynamic, error) {
	n := len(p.Prior)
	d := &dynamic{p: p, class: make([]int, n), group: make([]int, n), weight: make([]float64, n), best: map[known]found{}, most: mostKnown}
	s := begin(p, Stop{})
	for k, x := range s.states {
		d.weight[x] = s.weight[k]
	}
	var errs []error
	for i := range p.Tests {
		t := &p.Tests[i]
		of, uncertain := make([]uint32, len(t.Chance)), -1
		for o, row := range t.Chance {
			for x, c := range row {
				if c == 1 {
					of[o] |= 1 << x
				} else if c != 0 {
					uncertain = x
				}
			}
		}
		if uncertain >= 0 {
			errs = append(errs, fmt.Errorf("sequence: test %d (%s) is uncertain in state %d", i, t.Name, uncertain))
		}
		places := uint64(0)
		for _, x := range t.Places {
			places |= 1 << x
		}
		d.outcomes, d.places = append(d.outcomes, of), append(d.places, places)
	}
	for x := range n {
		d.class[x] = int(s.class[x])
		d.group[x] = x
		for y := range x {
			if d.same(x, y) {
				d.group[x] = d.group[y]
				break
			}
		}
	}
	return d, errors.Join(errs...)
}

// same says whether two states have the same outcomes in all tests.
func (d *dynamic) same(x, y int) bool {
	both := uint32(1<<x | 1<<y)
	for _, of := range d.outcomes {
		for _, o := range of {
			if some := o & both; some != 0 && some != both {
				return false
			}
		}
	}
	return true
}

// choose is a [Chooser].
func (d *dynamic) choose(s *Situation) int {
	k := known{setting: s.setting}
	for _, x := range s.states {
		k.states |= 1 << x
	}
	for x, been := range s.been {
		if been {
			k.been |= 1 << x
		}
	}
	return d.solve(k).test
}

// solve finds the best test of a situation.
func (d *dynamic) solve(k known) found {
	out := found{test: -1}
	if d.full {
		return out
	}
	splitting := d.splitting(k.states)
	matter := uint64(0)
	for _, t := range splitting {
		matter |= d.places[t]
	}
	k.been &= matter
	if f, ok := d.best[k]; ok {
		return f
	}
	if len(d.best) >= d.most {
		d.full = true
		return out
	}
	if d.bitsLeft(k.states) >= leastBits {
		all, been := d.of(k.states), d.list(k.been)
		for _, t := range splitting {
			test := &d.p.Tests[t]
			next := known{been: k.been | d.places[t], setting: k.setting}
			if test.Setting != Unset {
				next.setting = test.Setting
			}
			minutes := d.p.minutes(test, been, k.setting)
			for _, o := range d.outcomes[t] {
				if next.states = o & k.states; next.states != 0 {
					minutes += d.of(next.states) / all * d.solve(next).minutes
				}
			}
			if out.test < 0 || minutes < out.minutes {
				out = found{t, minutes}
			}
		}
	}
	d.best[k] = out
	return out
}

// splitting lists the tests that have several outcomes in a set of states.
func (d *dynamic) splitting(states uint32) []int {
	var out []int
	for t, of := range d.outcomes {
		for _, o := range of {
			if some := o & states; some != 0 && some != states {
				out = append(out, t)
				break
			}
		}
	}
	return out
}

// of is the probability of a set of states.
func (d *dynamic) of(states uint32) float64 {
	sum := 0.0
	for ; states != 0; states &= states - 1 {
		sum += d.weight[bits.TrailingZeros32(states)]
	}
	return sum
}

// bitsLeft is what all tests together can still tell about the repair.
func (d *dynamic) bitsLeft(states uint32) float64 {
	var class, group []int
	var weight []float64
	all := d.of(states)
	for ; states != 0; states &= states - 1 {
		x := bits.TrailingZeros32(states)
		class, group = append(class, d.class[x]), append(group, d.group[x])
		weight = append(weight, d.weight[x]/all)
	}
	return bitsBetween(class, group, weight)
}

// list has the bits of a set of places as Problem.minutes wants them.
func (d *dynamic) list(places uint64) []bool {
	out := make([]bool, len(d.p.Reach))
	for i := range out {
		out[i] = places>>i&1 == 1
	}
	return out
}
