package sequence

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Unset, as the setting of a test, stands for "any"; as the setting of a problem,
// for "none so far": the first one is free.
const Unset = -1

// Problem is what is to be found out, and how it can be.
type Problem struct {
	// Prior is the probability of each state; it is scaled to a sum of 1.
	Prior []float64
	// Repair is, by state, what is repaired if it holds. Equal values need not be
	// told apart. nil: each state has its own, its index.
	Repair []int
	Tests  []Test
	// Reach is what it takes to reach each place for the first time, in minutes.
	Reach []float64
	// Been lists the places that have been reached before the first test.
	Been []int
	// Setting is what is set before the first test, or [Unset].
	Setting int
	// SwitchMinutes is what a change of the setting takes, where all changes take the
	// same.
	SwitchMinutes float64
	// Changes, where not nil, is what each change takes instead, in minutes: by the
	// setting before, then the one that is wanted. What stays as it is takes nothing.
	Changes [][]float64
}

// Test is something to do that has one of several outcomes.
type Test struct {
	Name string
	// Chance is the probability of the outcome given the state, by outcome, then
	// state. See [Certain] for tests without doubt.
	Chance [][]float32
	// Minutes it takes, beside reaching its places and changing the setting.
	Minutes float64
	// Places that must have been reached, by index of Problem.Reach.
	Places []int
	// Setting that it needs, or [Unset] if it does not matter.
	Setting int
}

// Certain is the Chance of a test whose outcome is certain in each state: outcome has
// it by state, counted from 0. A negative outcome gives nil, which no problem
// accepts.
func Certain(outcome ...int) [][]float32 {
	most := -1
	for _, o := range outcome {
		if o < 0 {
			return nil
		}
		most = max(most, o)
	}
	out := make([][]float32, most+1)
	for o := range out {
		out[o] = make([]float32, len(outcome))
		for s := range outcome {
			if outcome[s] == o {
				out[o][s] = 1
			}
		}
	}
	return out
}

const (
	mostMinutes = 1e9  // more is a mistake, and sums stay finite
	sumSlack    = 1e-3 // by which chances of a state may miss 1: written with three digits, they do
)

// Validate lists all mistakes of a problem, at most one of a kind for each test; nil
// if there are none.
func (p *Problem) Validate() error {
	if p == nil {
		return errors.New("sequence: no problem given")
	}
	var errs []error
	wrong := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("sequence: "+format, args...))
	}
	minutes := func(m float64, format string, args ...any) {
		if !(m >= 0 && m <= mostMinutes) { // NaN is not
			wrong("%s: %v minutes, must be 0 to %g", fmt.Sprintf(format, args...), m, float64(mostMinutes))
		}
	}
	sum := 0.0
	for s, x := range p.Prior {
		if !(x >= 0) {
			wrong("prior of state %d is %v, must not be negative", s, x)
			x = 0
		}
		sum += x
	}
	switch {
	case len(p.Prior) == 0:
		wrong("no states")
	case sum == 0 || math.IsInf(sum, 1):
		wrong("priors sum to %v, must be above 0 and finite", sum)
	}
	if p.Repair != nil && len(p.Repair) != len(p.Prior) {
		wrong("%d repairs for %d states", len(p.Repair), len(p.Prior))
	}
	for i, m := range p.Reach {
		minutes(m, "reaching place %d", i)
	}
	minutes(p.SwitchMinutes, "changing the setting")
	for from, row := range p.Changes {
		if len(row) != len(p.Changes) {
			wrong("changes from setting %d to %d settings of %d", from, len(row), len(p.Changes))
		}
		for to, m := range row {
			minutes(m, "changing from setting %d to %d", from, to)
		}
	}
	known := func(setting int) bool { return p.Changes == nil || setting < len(p.Changes) }
	switch {
	case p.Setting < Unset:
		wrong("setting %d at the start, must be %d (none) or above", p.Setting, Unset)
	case !known(p.Setting):
		wrong("setting %d at the start is none of the %d in Changes", p.Setting, len(p.Changes))
	}
	place := func(of string, i int) {
		if i < 0 || i >= len(p.Reach) {
			wrong("%s: place %d is none of the %d in Reach", of, i, len(p.Reach))
		}
	}
	for _, i := range p.Been {
		place("been to", i)
	}
	for i := range p.Tests {
		t := &p.Tests[i]
		name := fmt.Sprintf("test %d (%s)", i, t.Name)
		minutes(t.Minutes, "%s", name)
		switch {
		case t.Setting < Unset:
			wrong("%s: setting %d, must be %d (any) or above", name, t.Setting, Unset)
		case !known(t.Setting):
			wrong("%s: setting %d is none of the %d in Changes", name, t.Setting, len(p.Changes))
		}
		for _, x := range t.Places {
			place(name, x)
		}
		if err := t.checkChance(len(p.Prior)); err != nil {
			wrong("%s: %w", name, err)
		}
	}
	return errors.Join(errs...)
}

// checkChance gives the first mistake in a test's chances.
func (t *Test) checkChance(states int) error {
	if len(t.Chance) == 0 {
		return errors.New("no outcomes")
	}
	for o, row := range t.Chance {
		if len(row) != states {
			return fmt.Errorf("outcome %d has chances for %d states of %d", o, len(row), states)
		}
	}
	for s := range states {
		sum := 0.0
		for o, row := range t.Chance {
			x := float64(row[s])
			if !(x >= 0 && x <= 1) {
				return fmt.Errorf("chance of outcome %d in state %d is %v, must be 0 to 1", o, s, x)
			}
			sum += x
		}
		if math.Abs(sum-1) > sumSlack {
			return fmt.Errorf("chances in state %d sum to %.6g, must be 1", s, sum)
		}
	}
	return nil
}

// repair is what is repaired if a state holds.
func (p *Problem) repair(state int) int {
	if p.Repair == nil {
		return state
	}
	return p.Repair[state]
}

// sum is the sum of a state's chances: 1, but for rounding.
func (t *Test) sum(state int) float64 {
	sum := 0.0
	for _, row := range t.Chance {
		sum += float64(row[state])
	}
	return sum
}

// minutes is what a test takes, given the places reached and the setting.
func (p *Problem) minutes(t *Test, been []bool, setting int) float64 {
	sum := t.Minutes
	for i, x := range t.Places {
		if !been[x] && !slices.Contains(t.Places[:i], x) {
			sum += p.Reach[x]
		}
	}
	if t.Setting != Unset && setting != Unset && t.Setting != setting {
		if p.Changes == nil {
			sum += p.SwitchMinutes
		} else {
			sum += p.Changes[setting][t.Setting]
		}
	}
	return sum
}
