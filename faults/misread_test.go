package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/solve"
)

// The likelihood with one reading doubted, worked out from the precision matrix, must
// be what evidence without that reading gives by itself: leave-one-out done the slow
// way, finite and OL readings mixed.
func TestDoubtIsLeavingOneOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	for trial := 0; trial < 200; trial++ {
		n := 2 + rng.IntN(5)
		e := &evidence{readings: make([]Reading, n), overFrom: 0.97}
		mean := make([]float64, n)
		root := mat.NewDense(n, n, nil)
		for i := range n {
			e.readings[i].Probe.Quantity = solve.Ohms
			mean[i] = 0.9 + 0.1*rng.Float64()
			e.y = append(e.y, mean[i]+0.03*rng.NormFloat64())
			e.own = append(e.own, 1e-6)
			e.any = append(e.any, rng.NormFloat64())
			e.slip = append(e.slip, rng.NormFloat64())
			if rng.IntN(3) == 0 {
				e.readings[i].Value = solve.Over()
				e.over = append(e.over, i)
			} else {
				e.finite = append(e.finite, i)
			}
			for k := range n {
				root.Set(i, k, 0.01*rng.NormFloat64())
			}
		}
		covariance := mat.NewSymDense(n, nil)
		covariance.SymOuterK(1, root)
		for i := range n {
			covariance.SetSym(i, i, covariance.At(i, i)+1e-6)
		}
		var got judged
		z := e.freeze(covariance)
		z.log(mean, &got)

		plain := func(skip int) float64 {
			w := *e
			w.finite, w.over = nil, nil
			for _, i := range e.finite {
				if i != skip {
					w.finite = append(w.finite, i)
				}
			}
			for _, i := range e.over {
				if i != skip {
					w.over = append(w.over, i)
				}
			}
			w.slip = make([]float64, n)
			for i := range w.slip {
				w.slip[i] = math.Inf(-1)
			}
			return w.freeze(covariance).log(mean, nil)
		}
		want := plain(-1)
		for i := range n {
			alone := plain(i) + math.Log(misread) + e.slip[i]
			if got.misread[i] > 0 {
				want = logAdd(want, alone)
			} else if alone > want-3 {
				t.Errorf("reading %d would be misread with %v against %v and is not doubted", i, alone, want)
			}
		}
		if math.Abs(got.log-want) > 1e-6*math.Max(1, math.Abs(want)) {
			t.Fatalf("log likelihood %v, leaving one out by hand %v", got.log, want)
		}
	}
}

// Readings that are independent of each other speak each for themselves, and all of
// them together say what the likelihoods do.
func TestSpeaksAddsUp(t *testing.T) {
	c := loadDemo(t, "bench")
	in := DefaultInstrument()
	readings := []Reading{
		{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 119.8}},
		{probeAt(t, c, solve.Ohms, "X2", "H-L"), solve.Value{Number: 118.9}},
		{probeAt(t, c, solve.Ohms, "X1", "H-ground"), solve.Value{Number: 17490}},
	}
	m, err := MakeMatch(c, Catalogue(c), readings, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	best, healthy := m.Best(), &Hypothesis{}
	for i := range m.Hypotheses {
		if m.Hypotheses[i].Name == HealthyName {
			healthy = &m.Hypotheses[i]
		}
	}
	voices := m.Speaks(best, healthy)
	if voices[0] < 3 || voices[1] < 3 {
		t.Errorf("119.8 and 118.9 Ω speak %.1f and %.1f against healthy wiring", voices[0], voices[1])
	}
	back := m.Speaks(healthy, best)
	for i := range voices {
		if math.Abs(voices[i]+back[i]) > 1e-9 {
			t.Errorf("reading %d speaks %v for and %v against", i, voices[i], back[i])
		}
	}
	// With one reading what it says is the whole ratio of the likelihoods.
	one, err := MakeMatch(c, Catalogue(c), readings[:1], in, nil)
	if err != nil {
		t.Fatal(err)
	}
	var a, b *Hypothesis
	for i := range one.Hypotheses {
		switch one.Hypotheses[i].Name {
		case "terminator T1 missing":
			a = &one.Hypotheses[i]
		case "short H to L in pair P2":
			b = &one.Hypotheses[i]
		}
	}
	if got, want := one.Speaks(a, b)[0], a.judged.log-b.judged.log; len(b.judged.mean) > 0 && math.Abs(got-want) > 0.7 {
		t.Errorf("one reading speaks %v, the likelihoods say %v", got, want)
	}
}

// Over a range of its free values a reading of several faults lies between those at the
// corners: it is a ratio of straight lines in each resistance (the bilinear theorem),
// so in each it only rises or only falls. The search's bounds rest on that.
func TestReadingsLieBetweenTheirCorners(t *testing.T) {
	in := DefaultInstrument()
	rng := rand.New(rand.NewPCG(19, 20))
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		var readings []Reading
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			for k, p := range Probes(c, sel) {
				if k%7 == 0 {
					readings = append(readings, Reading{p, solve.Value{Number: 1}})
				}
			}
		}
		s, err := newSearch(newField(c, list, 0), newEvidence(c, readings, in), in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		w := s.worker()
		out := make([]float64, len(readings))
		checked := 0
		for checked < 300 {
			members := []int{rng.IntN(len(list)), rng.IntN(len(list)), rng.IntN(len(list))}[:2+rng.IntN(2)]
			able := true
			for _, i := range members {
				able = able && s.able[i]
			}
			if !able || !w.load(members...) {
				continue
			}
			checked++
			ends := make([][]float64, len(members))
			inside := make([]float64, len(members))
			for k, i := range members {
				ends[k] = []float64{0}
				if f := list[i].Free; f != nil {
					a, b := rng.Float64(), rng.Float64()
					at := func(x float64) float64 { return f.Min * math.Pow(f.Max/f.Min, x) }
					ends[k] = []float64{at(math.Min(a, b)), at(math.Max(a, b))}
					inside[k] = at(math.Min(a, b) + math.Abs(a-b)*rng.Float64())
				}
			}
			w.clear()
			w.corners(0, ends, 0, nil)
			w.read(inside, out)
			for i, y := range out {
				if slack := 1e-6 * math.Max(1, math.Abs(y)); y < w.low[i]-slack || y > w.high[i]+slack {
					t.Errorf("%s: %s with %v at %v: %v outside of %v to %v", name, readings[i].Probe, members, inside, y, w.low[i], w.high[i])
				}
			}
		}
	}
}

// Two ends of one pair of wires, shorted part of the way: from both resistances the
// place follows as L/2 + (R₁−R₂)/(4ρ), ρ ohms for each metre of one conductor (the
// textbook loop method of cable fault location, from memory). The match must find it,
// with an uncertainty that is the meter's own.
func TestPlaceOfAShortFromBothEnds(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	// Q6 is the six metres between the boom joint and splice S6; apart at X14 nothing
	// else is on its near end.
	f := findFault(t, list, "short work.H to work.L in pair Q6")
	in := DefaultInstrument()
	in.OhmsPct, in.OhmsDigits, in.DigitOhms, in.LowRangeOhms = 0.05, 2, 0.001, 4 // a milliohm meter
	in.LeadMinOhms, in.LeadMaxOhms = 0, 0
	near := probeAt(t, c, solve.Ohms, "X14/b", "work.H-work.L", "X14")
	far := probeAt(t, c, solve.Ohms, "X17", "work.H-work.L", "X17")
	for _, fraction := range []float64{0.2, 0.5, 0.8} {
		rng := rand.New(rand.NewPCG(23, uint64(fraction*10)))
		v := newVehicle(c, rng, in, f.Changes(0.05, fraction)...)
		m, err := MakeMatch(c, list, []Reading{v.read(t, near), v.read(t, far)}, in, &MatchOptions{Two: -1})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for i := range m.Hypotheses {
			h := &m.Hypotheses[i]
			if h.Fault != f {
				continue
			}
			found = true
			if h.Metres == nil {
				t.Fatal("no place")
			}
			metres := fraction * f.LengthM
			if h.Metres.Low > metres+0.1 || h.Metres.High < metres-0.1 || h.Metres.High-h.Metres.Low > 4 {
				t.Errorf("short at %.2f m: found at %.2f m (%.2f to %.2f)", metres, h.Metres.Best, h.Metres.Low, h.Metres.High)
			}
			if p := h.Probability; p < 0.5 {
				t.Errorf("short at %.2f m has %.2f", metres, p)
			}
		}
		if !found {
			t.Error("not among the hypotheses")
		}
	}
}

// What no reading can tell apart has parallel columns in the Jacobian: small joints in
// one and the same path (canonical ambiguity groups of parametric fault diagnosis).
// Isolated faults can never be more than there are columns that are not parallel.
func TestIsolatedJointsHaveTheirOwnColumn(t *testing.T) {
	c := loadDemo(t, "trunk")
	list := Catalogue(c)
	in := DefaultInstrument()
	probes := Probes(c, Selection{})
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	healthy := values(healthyOf(t, p))
	type column struct {
		f *Fault
		d []float64
	}
	var columns []column
	for _, f := range list {
		if f.Kind != HighJoint {
			continue
		}
		ready, err := p.prepare(f, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		d := make([]float64, len(probes))
		out := make([]solve.Value, len(probes))
		if err := ready.values(0.01, out); err != nil {
			t.Fatal(err)
		}
		norm := 0.0
		for i := range d {
			d[i] = (out[i].Number - healthy[i].Number) / 0.01
			norm += d[i] * d[i]
		}
		if norm > 1e-6 {
			for i := range d {
				d[i] /= math.Sqrt(norm)
			}
			columns = append(columns, column{f, d})
		}
	}
	table, err := MakeTable(c, list, probes, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	row := map[*Fault]int{}
	for i := range table.Rows {
		row[table.Rows[i].Fault] = i
	}
	parallel, apart := 0, 0
	distinct := 0
	for i, a := range columns {
		alone := true
		for k, b := range columns {
			dot := 0.0
			for n := range a.d {
				dot += a.d[n] * b.d[n]
			}
			if i == k || math.Abs(dot) < 1-1e-9 {
				continue
			}
			if k < i {
				alone = false
			}
			parallel++
			if table.ToldApart(row[a.f], row[b.f]) {
				apart++
				t.Errorf("%s and %s have parallel columns and are told apart", a.f.Name, b.f.Name)
			}
		}
		if alone {
			distinct++
		}
	}
	isolated := 0
	for _, g := range table.Testability().Groups {
		if len(g) == 1 && table.Rows[g[0]].Fault.Kind == HighJoint {
			isolated++
		}
	}
	t.Logf("%d joints, %d distinct columns, %d parallel pairs; %d isolated", len(columns), distinct, parallel/2, isolated)
	if parallel == 0 || isolated > distinct {
		t.Errorf("%d joints are isolated, %d columns are distinct", isolated, distinct)
	}
}
