package faults

import (
	"math"
	"testing"
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
