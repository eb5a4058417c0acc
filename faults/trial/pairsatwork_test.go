package trial

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// Two faults at once, by a few readings at rest, with traffic and of levels at random
// places: hard shorts whose ohms only the levels tell, a second fault that no reading at rest
// sees. Nearly always the pair is weighed, nothing is put down to what is not in the
// catalogue, and what is promised of parts holds.
func TestPairsAtWorkAreExplained(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	busy := faults.Probes(c, faults.Selection{Quantity: solve.Volts, Traffic: true})
	for _, u := range c.Units {
		busy = append(busy, faults.Probes(c, faults.Selection{Quantity: solve.Volts, Sender: u.Name})...)
	}
	rest := faults.Probes(c, faults.Selection{})
	var sum Promises
	explained, first, vehicles := 0, 0, []uint64{1, 4, 7, 15, 20, 21, 22, 23}
	for _, k := range vehicles {
		rng := rand.New(rand.NewPCG(k, 78))
		v := Draw(c, list, in, rng, 2)
		var taken []faults.Reading
		take := func(from []faults.Probe, many int) {
			for _, i := range rng.Perm(len(from))[:many] {
				r, err := v.Read(from[i])
				if err != nil {
					t.Fatal(err)
				}
				taken = append(taken, r)
			}
		}
		take(busy, 4)
		take(rest, 3)
		m, err := x.Match(taken, &faults.MatchOptions{Healthy: 0.01, Two: 0.9, Three: -1, None: 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		if m.NothingFits() {
			t.Errorf("%s: nothing fits, none of these %.3f, best %s", v.Name(), m.None(), m.Best().Name)
		}
		for i := range m.Hypotheses {
			h := &m.Hypotheses[i]
			if len(h.Members) == 2 && h.Probability > 1e-6 && slices.Contains(v.Faults, h.Members[0].Fault) && slices.Contains(v.Faults, h.Members[1].Fault) {
				explained++
			}
		}
		place, err := v.Place(m)
		if err != nil {
			t.Fatal(err)
		}
		if place == 1 {
			first++
		}
		sum.Add(v, m)
	}
	_, named, promised, variance := sum.First.Sum()
	t.Logf("of %d pairs %d are explained, %d in the first group; parts named first: %d right, %.1f promised", len(vehicles), explained, first, named, promised)
	if explained < 4 || first < 3 {
		t.Errorf("of %d pairs %d are explained, %d in the first group", len(vehicles), explained, first)
	}
	if math.Abs(float64(named)-promised) > 3*math.Sqrt(variance)+1 {
		t.Errorf("%d parts named first are right, %.1f ± %.1f were promised", named, promised, math.Sqrt(variance))
	}
}

// What a match promises of parts by several readings with traffic must hold.
func TestPromisesWithTraffic(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	busy := faults.Probes(c, faults.Selection{Quantity: solve.Volts, Traffic: true})
	var sum Promises
	const vehicles = 120
	for k := range uint64(vehicles) {
		rng := rand.New(rand.NewPCG(k, 91))
		many := 1
		if rng.Float64() < 0.3 {
			many = 0
		}
		v := Draw(c, list, in, rng, many)
		var taken []faults.Reading
		for _, i := range rng.Perm(len(busy))[:4] {
			r, err := v.Read(busy[i])
			if err != nil {
				t.Fatal(err)
			}
			taken = append(taken, r)
		}
		m, err := x.Match(taken, &faults.MatchOptions{Healthy: 0.3, Two: -1, Three: -1, None: 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		sum.Add(v, m)
	}
	_, named, promised, variance := sum.First.Sum()
	t.Logf("%d named first are right, %.1f ± %.1f promised; errors squared %.3f each", named, promised, math.Sqrt(variance), sum.Brier/vehicles)
	if math.Abs(float64(named)-promised) > 3*math.Sqrt(variance)+1 {
		t.Errorf("%d parts named first are right, %.1f ± %.1f were promised", named, promised, math.Sqrt(variance))
	}
}
