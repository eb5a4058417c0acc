package faults

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// begun is a match of readings with nothing weighed yet.
func begun(t *testing.T, x *Matcher, readings []Reading, o MatchOptions) *ranking {
	t.Helper()
	o.defaults()
	probes := make([]Probe, len(readings))
	for i, r := range readings {
		probes[i] = r.Probe
	}
	p, err := newPredictor(x.c, probes, x.in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	p.finest = x.in.finest()
	e := newEvidence(x.c, readings, x.in)
	if err := x.slips(e); err != nil {
		t.Fatal(err)
	}
	r := &ranking{x: x, o: o, p: p, e: e, m: &Match{Readings: readings, evidence: e}}
	for _, f := range x.faults {
		r.rates += f.Rate
	}
	return r
}

// ranked is a match up to the point where probabilities are made of it.
func ranked(t *testing.T, x *Matcher, readings []Reading, o MatchOptions) *ranking {
	t.Helper()
	r := begun(t, x, readings, o)
	r.none = math.Log(r.o.None) + r.e.anything()
	for _, step := range []func() error{r.healthy, r.prepareSearch, r.singles} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	r.add(Hypothesis{Name: NoneName, Chance: 1}, r.none)
	if err := r.several(); err != nil {
		t.Fatal(err)
	}
	return r
}

// someReadings are those of a drawn vehicle, with one fault or, in every other trial, two;
// the more the later the trial. nil where the two cannot be together.
func someReadings(t *testing.T, c *netlist.Circuit, list []*Fault, probes []Probe, in Instrument, rng *rand.Rand, trial int) (readings []Reading) {
	t.Helper()
	_, changes := drawFault(rng, list)
	if trial%2 == 1 {
		_, more := drawFault(rng, list)
		changes = slices.Concat(changes, more)
	}
	if _, err := solve.Assemble(c, solve.Condition{}, nil, changes...); err != nil {
		return nil
	}
	v := newVehicle(c, rng, in, changes...)
	for range 1 + trial/2 {
		readings = append(readings, v.read(t, probes[rng.IntN(len(probes))]))
	}
	return readings
}
