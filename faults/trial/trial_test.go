package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

func load(t testing.TB, file string) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../../" + file)
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func find(t testing.TB, list []*faults.Fault, name string) *faults.Fault {
	t.Helper()
	for _, f := range list {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no fault %q", name)
	return nil
}

// Every story of the demo, played from one reading at the service connector on: it
// must end at its part, in fewer minutes than the workshop's habits take (common
// practice, no source). Tolerances and meter are drawn.
func TestStoriesEndSoonerThanByHabit(t *testing.T) {
	c := load(t, "examples/orchard/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	first := FirstProbe(c)
	for k, tt := range []struct {
		story, fault string
		ohms         float64
	}{
		{"silent-side", "open drive.H in pair P9", 0},
		{"no-crank", "backed-out cavity X11.2 (drive.L)", 0},
		{"wet-basket", "leak work.H to ground at connector X18", 330},
	} {
		f := find(t, list, tt.fault)
		v := Make(c, in, rand.New(rand.NewPCG(61, uint64(k))), f, tt.ohms, 0.4)
		s, err := Advised(x, v, first, Rules{})
		if err != nil {
			t.Fatal(err)
		}
		place, err := v.Place(s.Match)
		if err != nil {
			t.Fatal(err)
		}
		turn, err := UnplugInTurn(v, first)
		if err != nil {
			t.Fatal(err)
		}
		halves, err := HalveByHand(v, first)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d steps, %.0f min, named %s (%.2f); unplugging in turn %.0f min, halving by hand %.0f", tt.story, len(s.Steps), s.Minutes, s.Match.Parts[0].Part, s.Match.Parts[0].Probability, turn.Minutes, halves.Minutes)
		if place != 1 {
			t.Errorf("%s: %s is in group %d; best %s", tt.story, f.Name, place, s.Match.Best().Name)
		}
		if s.Minutes >= turn.Minutes || s.Minutes >= halves.Minutes {
			t.Errorf("%s: advice takes %.0f min, unplugging in turn %.0f, halving %.0f", tt.story, s.Minutes, turn.Minutes, halves.Minutes)
		}
	}
}

// Two faults drawn at once: of the parts named with some probability that share must
// be at fault, counted over all parts of all vehicles.
func TestPairsAreHonest(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	rng := rand.New(rand.NewPCG(71, 72))
	var probes []faults.Probe
	for _, p := range append(faults.Probes(c, faults.Selection{}), faults.Probes(c, faults.Selection{Unplugged: true})...) {
		if p.To != netlist.SupplyNode && (p.Site == "X1" || p.Site == "X2" || p.Site == "X5") {
			probes = append(probes, p)
		}
	}
	expected, variance := 0.0, 0.0
	hits, both, cases := 0, 0, 0
	var bins [5]struct{ n, hit float64 }
	for range 60 {
		v := Draw(c, list, in, rng, 2)
		var readings []faults.Reading
		for _, p := range probes {
			r, err := v.Read(p)
			if err != nil {
				t.Fatal(err)
			}
			readings = append(readings, r)
		}
		// Two faults at once for sure, as they were drawn.
		m, err := x.Match(readings, &faults.MatchOptions{Healthy: 1e-6, None: 1e-3, Two: 0.98, Three: -1})
		if err != nil {
			t.Fatal(err)
		}
		cases++
		if place, err := v.Place(m); err != nil {
			t.Fatal(err)
		} else if place == 1 {
			both++
		}
		// A single part with a second that no reading sees is folded into the one, so
		// only what is named with more than a tenth is held to its word.
		for _, p := range m.Parts {
			if p.Probability < 0.1 || p.Part == faults.NoneName || p.Part == faults.HealthyName {
				continue
			}
			expected += p.Probability
			variance += p.Probability * (1 - p.Probability)
			b := &bins[min(4, int(p.Probability*5))]
			b.n++
			if v.named(p.Part) {
				hits++
				b.hit++
			}
		}
	}
	t.Logf("%d parts named, %.1f ± %.1f promised; both in the best explanation's ambiguity group in %d of %d; by fifths %v", hits, expected, math.Sqrt(variance), both, cases, bins)
	if d := float64(hits) - expected; math.Abs(d) > 3.5*math.Sqrt(variance)+1 {
		t.Errorf("%d parts are at fault, %.1f promised", hits, expected)
	}
}

// After a repair the readings must come into the bands that are foretold from what
// was read with the fault in: 19 of 20 should.
func TestBandsAfterRepair(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	rng := rand.New(rand.NewPCG(81, 82))
	var probes []faults.Probe
	for _, p := range faults.Probes(c, faults.Selection{}) {
		if p.To != netlist.SupplyNode {
			probes = append(probes, p)
		}
	}
	inside, n, tell := 0, 0, 0
	missed := map[string]int{}
	for _, name := range []string{"open H in pair P2", "backed-out cavity X4.L (L)", "terminator T1 missing", "leak H to ground at connector X3", "short H to L in pair P3"} {
		f := find(t, list, name)
		for range 8 {
			ohms := 0.0
			if f.Free != nil {
				ohms = math.Sqrt(f.Free.Min * f.Free.Max)
			}
			v := Make(c, in, rng, f, ohms, 0.5)
			var readings []faults.Reading
			for _, p := range probes[:6] {
				r, err := v.Read(p)
				if err != nil {
					t.Fatal(err)
				}
				readings = append(readings, r)
			}
			m, err := x.Match(readings, &faults.MatchOptions{Two: -1, Three: -1})
			if err != nil {
				t.Fatal(err)
			}
			for i := range m.Hypotheses {
				h := &m.Hypotheses[i]
				if h.Fault != f {
					continue
				}
				after, err := x.AfterRepair(m, h, nil, probes)
				if err != nil {
					t.Fatal(err)
				}
				fixed := v.repaired(0)
				for _, a := range after {
					r, err := fixed.Read(a.Probe)
					if err != nil {
						t.Fatal(err)
					}
					n++
					if a.Verify(r.Value) {
						inside++
					} else {
						missed[name]++
					}
					// With the fault still in, a reading that tells must not pass.
					if a.Tells[0] {
						tell++
						if a.Verify(a.Before) {
							t.Errorf("%s at %s: %v with the fault passes as repaired (%v to %v)", f.Name, a.Probe, a.Before, a.Low, a.High)
						}
					}
				}
			}
		}
	}
	t.Logf("%d of %d readings after the repair in their bands, %d readings tell; outside by fault: %v", inside, n, tell, missed)
	if share := float64(inside) / float64(n); share < 0.9 || tell < n/10 {
		t.Errorf("%.3f of the readings after a repair lie in bands of 95 %%, %d of %d tell", share, tell, n)
	}
}

// Two equally common faults whose readings lie d′ standard deviations apart: no rule
// can be wrong less often than in Φ(−d′/2) of cases (two equal normal classes,
// textbook result of detection theory), and the match should not be wrong more often.
func TestErrorsAreThoseOfTheBestRule(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	list := faults.Catalogue(c)
	in := faults.DefaultInstrument()
	var probes []faults.Probe
	for _, between := range []string{"H-ground", "L-ground"} {
		p, err := faults.ProbeAt(c, solve.Volts, "X1", between, solve.Condition{Supply: solve.Idle})
		if err != nil {
			t.Fatal(err)
		}
		probes = append(probes, p)
	}
	// Two faults without free values whose readings lie one to three deviations apart.
	two := apart(t, c, list, probes, in)
	x := faults.NewMatcher(c, two, in)
	rng := rand.New(rand.NewPCG(91, 92))
	wrong, promised, d := 0, 0.0, 0.0
	const n = 1500
	for k := range n {
		f := two[k%2]
		f.Rate = 1
		v := Make(c, in, rng, f, 0, 0.5)
		var readings []faults.Reading
		for _, probe := range probes {
			r, err := v.Read(probe)
			if err != nil {
				t.Fatal(err)
			}
			readings = append(readings, r)
		}
		m, err := x.Match(readings, &faults.MatchOptions{Healthy: 1e-9, None: 1e-9, Two: -1, Three: -1})
		if err != nil {
			t.Fatal(err)
		}
		best := m.Best()
		if best.Fault != f {
			wrong++
		}
		promised += 1 - best.Probability
		for i := range m.Hypotheses {
			if h := &m.Hypotheses[i]; h.Fault != nil && h.Fault != best.Fault {
				d += m.Distance(best, h) / n
			}
		}
	}
	bayes := 0.5 * math.Erfc(d/2/math.Sqrt2)
	got := float64(wrong) / n
	sd := math.Sqrt(bayes * (1 - bayes) / n)
	t.Logf("d′ %.2f: wrong in %.3f, best rule %.3f ± %.3f, promised %.3f", d, got, bayes, sd, promised/n)
	if bayes < 0.01 || bayes > 0.45 {
		t.Fatalf("d′ of %.2f makes no test", d)
	}
	// Tolerances are evenly spread, not normal, so the two differ by some hundredths.
	if math.Abs(got-bayes) > 3.5*sd+0.03 || math.Abs(got-promised/n) > 3.5*sd+0.03 {
		t.Errorf("wrong in %.3f, best rule for normal classes %.3f, promised %.3f", got, bayes, promised/n)
	}
}

// apart finds two faults without free values that readings tell apart by 0.8 to 3.2
// standard deviations.
func apart(t *testing.T, c *netlist.Circuit, list []*faults.Fault, probes []faults.Probe, in faults.Instrument) []*faults.Fault {
	t.Helper()
	v := sound(c, in, rand.New(rand.NewPCG(1, 1)))
	var readings []faults.Reading
	for _, p := range probes {
		r, err := v.Read(p)
		if err != nil {
			t.Fatal(err)
		}
		readings = append(readings, r)
	}
	m, err := faults.MakeMatch(c, list, readings, in, &faults.MatchOptions{Two: -1, Three: -1})
	if err != nil {
		t.Fatal(err)
	}
	for i := range m.Hypotheses {
		for k := range m.Hypotheses[:i] {
			a, b := &m.Hypotheses[i], &m.Hypotheses[k]
			if a.Fault == nil || b.Fault == nil || a.Fault.Free != nil || b.Fault.Free != nil {
				continue
			}
			if d, e := m.Distance(a, b), m.Distance(b, a); d > 0.8 && d < 3.2 && math.Abs(d-e) < 0.5 {
				t.Logf("%s against %s", a.Name, b.Name)
				return []*faults.Fault{a.Fault, b.Fault}
			}
		}
	}
	t.Fatal("no two faults lie 0.8 to 3.2 standard deviations apart")
	return nil
}

// A session keeps to its rules: minutes add up, nothing is read twice, it ends.
func TestSessionKeepsToItsRules(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	rng := rand.New(rand.NewPCG(7, 7))
	for range 4 {
		v := Draw(c, list, in, rng, 1)
		s, err := Advised(x, v, FirstProbe(c), Rules{LookAhead: true, Steps: 9})
		if err != nil {
			t.Fatal(err)
		}
		seen, sum := map[string]bool{}, 0.0
		for _, step := range s.Steps {
			if seen[step.What] {
				t.Errorf("%s: %s twice", v.Name(), step.What)
			}
			seen[step.What] = true
			sum += step.Minutes
		}
		if math.Abs(sum-s.Minutes) > 1e-9 || len(s.Steps) > 9 || s.Match == nil {
			t.Errorf("%s: %d steps, %v min of %v", v.Name(), len(s.Steps), sum, s.Minutes)
		}
	}
}

// On a large harness each fault is so rare that none stands out after a first reading
// that sees nothing: there must be advice all the same.
func TestAdviceOnALargeHarness(t *testing.T) {
	c := load(t, "testdata/layouts/fleet-60.yaml")
	in := faults.DefaultInstrument()
	x := faults.NewMatcher(c, faults.Catalogue(c), in)
	v := sound(c, in, rand.New(rand.NewPCG(5, 5)))
	r, err := v.Read(FirstProbe(c))
	if err != nil {
		t.Fatal(err)
	}
	m, err := x.Match([]faults.Reading{r}, nil)
	if err != nil {
		t.Fatal(err)
	}
	advice, err := x.Next(m, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(advice) == 0 || advice[0].Bits < 0.1 {
		t.Errorf("%d readings are advised after %v at the service connector", len(advice), r.Value)
	}
}

// What is repaired is the same for an open wire and for a joint in it, but not for what
// else is at fault, alone or beside it.
func TestSameParts(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	list := faults.Catalogue(c)
	open, joint := find(t, list, "open L in pair P6"), find(t, list, "high-resistance joint L in pair P6")
	other := find(t, list, "terminator T2 missing")
	match := func(members ...*faults.Fault) *faults.Match {
		h := faults.Hypothesis{Name: "best", Probability: 1}
		for _, f := range members {
			h.Members = append(h.Members, faults.Member{Fault: f})
		}
		return &faults.Match{Hypotheses: []faults.Hypothesis{h}}
	}
	for _, tt := range []struct {
		wrong, best []*faults.Fault
		want        bool
	}{
		{nil, nil, true},
		{nil, []*faults.Fault{open}, false},
		{[]*faults.Fault{open}, nil, false},
		{[]*faults.Fault{open}, []*faults.Fault{open}, true},
		{[]*faults.Fault{open}, []*faults.Fault{joint}, true},
		{[]*faults.Fault{open}, []*faults.Fault{other}, false},
		{[]*faults.Fault{open}, []*faults.Fault{joint, other}, false},
		{[]*faults.Fault{open, other}, []*faults.Fault{other, joint}, true},
		{[]*faults.Fault{open, other}, []*faults.Fault{open, joint}, false},
		{[]*faults.Fault{open, other}, []*faults.Fault{other}, false},
	} {
		v := &Vehicle{Circuit: c, Faults: tt.wrong}
		if got := v.SameParts(match(tt.best...)); got != tt.want {
			t.Errorf("%s: same parts %v, want %v", v.Name(), got, tt.want)
		}
	}
}
