package faults

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// The covariance that the likelihood uses against that of harnesses drawn at
// random: shared terminators and inputs must move readings together as they
// really do.
func TestCovarianceAgainstDraws(t *testing.T) {
	c := loadDemo(t, "bench")
	in := DefaultInstrument()
	probes := []Probe{
		probeAt(t, c, solve.Ohms, "X1", "H-L"), probeAt(t, c, solve.Ohms, "X2", "H-L"),
		probeAt(t, c, solve.Ohms, "X1", "H-ground"), probeAt(t, c, solve.Ohms, "X4", "L-ground"),
		probeAt(t, c, solve.Ohms, "X2/device", "H-L", "X2"), probeAt(t, c, solve.Volts, "X1", "H-ground"),
	}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	readings := make([]Reading, len(probes))
	for i, r := range healthyOf(t, p) {
		readings[i] = Reading{probes[i], r.Value()}
	}
	// An instrument without errors, and no stray path, leave J Σ Jᵀ alone.
	bare := in
	bare.OhmsPct, bare.OhmsDigits, bare.VoltsPct, bare.VoltsDigits, bare.LeadMinOhms, bare.LeadMaxOhms = 0, 0, 0, 0, 0, 0
	e := newEvidence(c, readings, bare)
	for i := range e.own {
		e.own[i] = 0
	}
	j := e.judge(healthyOf(t, p))

	rng := rand.New(rand.NewPCG(3, 4))
	const draws = 6000
	n := len(probes)
	sum, square := make([]float64, n), make([]float64, n*n)
	z := make([]float64, len(c.Parameters))
	y := make([]float64, n)
	for d := 0; d < draws; d++ {
		for i := range z {
			z[i] = 2*rng.Float64() - 1
		}
		for _, g := range p.groups {
			_, responses, err := p.direct(g, z, nil)
			if err != nil {
				t.Fatal(err)
			}
			for k, i := range g.probes {
				y[i] = onScale(probes[i].Quantity, responses[k].Value())
			}
		}
		for i := range y {
			sum[i] += y[i]
			for k := range y {
				square[i*n+k] += y[i] * y[k]
			}
		}
	}
	for i := 0; i < n; i++ {
		for k := 0; k < n; k++ {
			drawn := square[i*n+k]/draws - sum[i]/draws*sum[k]/draws
			got := j.covariance.At(i, k)
			scale := math.Sqrt(j.covariance.At(i, i) * j.covariance.At(k, k))
			// 6000 draws give a covariance to about 2 %; first order costs a
			// little more.
			if math.Abs(drawn-got) > 0.06*scale {
				t.Errorf("%s with %s: covariance %.3g, of draws %.3g", probes[i], probes[k], got, drawn)
			}
		}
	}
}

// The averaged likelihood of a fault with a free resistance against a plain sum
// over a very fine grid.
func TestEvidenceAgainstFineGrid(t *testing.T) {
	c := loadDemo(t, "trunk")
	list := Catalogue(c)
	in := DefaultInstrument()
	readings := []Reading{
		{probeAt(t, c, solve.Ohms, "X8", "H-L"), solve.Value{Number: 71.3}},
		{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 68.0}},
		{probeAt(t, c, solve.Ohms, "X3", "H-ground"), solve.Value{Number: 3900}},
	}
	probes := make([]Probe, len(readings))
	for i := range readings {
		probes[i] = readings[i].Probe
	}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	e := newEvidence(c, readings, in)
	close := 0
	for _, name := range []string{
		"high-resistance joint H in pair B5", "terminator T1 of wrong value", "short H to ground in pair D1",
		"leak H to L at connector X4", "short H to L in pair B7",
	} {
		f := findFault(t, list, name)
		got, err := p.fit(f, e, nil, nil, math.Inf(-1))
		if err != nil {
			t.Fatal(err)
		}
		sum := math.Inf(-1)
		const fine = 4000
		places := fractions(c, f, p.finest)
		for _, fraction := range places {
			ready, err := p.prepare(f, fraction)
			if err != nil {
				t.Fatal(err)
			}
			for i := 0; i < fine; i++ {
				x := math.Log(f.Free.Min) + math.Log(f.Free.Max/f.Free.Min)*(float64(i)+0.5)/fine
				responses, err := ready.at(math.Exp(x))
				if err != nil {
					t.Fatal(err)
				}
				sum = logAdd(sum, e.judge(responses).log-math.Log(fine*float64(len(places))))
			}
		}
		// What is hopeless is only bounded.
		if sum < e.anything()-beneathNotice {
			if got.evidence > e.anything()-beneathNotice/2 {
				t.Errorf("%s: evidence %v, by a fine grid %v", name, got.evidence, sum)
			}
			continue
		}
		close++
		if math.Abs(got.evidence-sum) > 0.05 {
			t.Errorf("%s: evidence %v, by a fine grid %v", name, got.evidence, sum)
		}
	}
	if close < 2 {
		t.Errorf("only %d faults come near the readings; the test checks nothing", close)
	}
}

// rank gives the place of the group that holds the fault, 1 for the first; 0
// where no group does.
func rank(m *Match, f *Fault) int {
	for k, g := range m.Groups {
		for _, i := range g.Hypotheses {
			// f is nil for healthy wiring.
			if m.Hypotheses[i].Fault == f && m.Hypotheses[i].Name != NoneName {
				return k + 1
			}
		}
	}
	return 0
}

// Faults and healthy harnesses drawn as the prior has them (rates, free
// resistances evenly over the decades, places evenly along the wire), harnesses
// and meter drawn within their limits, readings made by fresh nets. Then the
// probabilities must be honest: of what is given with probability p, a share p is
// so. The sum of the first groups' probabilities is the number of cases expected
// to be right.
func TestMatchIsHonestAboutDrawnFaults(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	in := DefaultInstrument()
	for _, tt := range []struct {
		demo  string
		at    []string
		cases int
	}{
		{"bench", []string{"X1", "X2", "X4"}, 150},
		{"orchard", []string{"X1", "X2", "X11"}, 40},
	} {
		c := loadDemo(t, tt.demo)
		list := Catalogue(c)
		var probes []Probe
		for _, p := range Probes(c, Selection{}) {
			for _, at := range tt.at {
				if p.Site == at && !hasSupply(p) {
					probes = append(probes, p)
				}
			}
		}
		expected, variance := 0.0, 0.0
		right, third := 0, 0
		matcher := NewMatcher(c, list, in)
		for n := 0; n < tt.cases; n++ {
			var f *Fault
			var changes []solve.Change
			name := HealthyName
			if n%10 != 0 { // MatchOptions.Healthy
				f, changes = drawFault(rng, list)
				name = f.Name
			}
			v := newVehicle(c, rng, in, changes...)
			var readings []Reading
			for _, p := range probes {
				readings = append(readings, v.read(t, p))
			}
			// Pairs are drawn in package trial.
			m, err := matcher.Match(readings, &MatchOptions{None: 1e-3, Two: -1, Three: -1})
			if err != nil {
				t.Fatal(err)
			}
			p := m.Groups[0].Probability
			expected += p
			variance += p * (1 - p)
			switch r := rank(m, f); {
			case r == 1:
				right++
				third++
			case r == 2 || r == 3:
				third++
			case r == 0:
				t.Logf("%s: %s is in no group; best %s %.3f, poor %v", tt.demo, name, m.Best().Name, m.Best().Probability, m.Best().Poor())
			}
			sum := 0.0
			for _, h := range m.Hypotheses {
				sum += h.Probability
			}
			if math.Abs(sum-1) > 1e-9 || len(m.Hypotheses) < len(list)+2 {
				t.Fatalf("probabilities of %d hypotheses add up to %v", len(m.Hypotheses), sum)
			}
		}
		t.Logf("%s: %d of %d in the first group (%.1f ± %.1f expected), %d in the first three", tt.demo, right, tt.cases, expected, math.Sqrt(variance), third)
		if d := float64(right) - expected; math.Abs(d) > 3*math.Sqrt(variance)+1 {
			t.Errorf("%s: %d of %d right, the probabilities promise %.1f", tt.demo, right, tt.cases, expected)
		}
	}
}

func hasSupply(p Probe) bool { return p.To == netlist.SupplyNode }

func TestMatchHealthyHarnesses(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	in := DefaultInstrument()
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	var probes []Probe
	for _, p := range Probes(c, Selection{}) {
		if !hasSupply(p) {
			probes = append(probes, p)
		}
	}
	wrong := 0
	matcher := NewMatcher(c, list, in)
	const n = 30
	for k := 0; k < n; k++ {
		v := newVehicle(c, rng, in)
		var readings []Reading
		for _, p := range probes {
			readings = append(readings, v.read(t, p))
		}
		m, err := matcher.Match(readings, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !m.LooksHealthy() {
			wrong++
			t.Logf("case %d: %s %.3f poor %v chance %.4f; first group %d, %.3f", k, m.Best().Name, m.Best().Probability, m.Best().Poor(), m.Best().Chance, len(m.Groups[0].Hypotheses), m.Groups[0].Probability)
		}
	}
	if wrong > 1 {
		t.Errorf("%d of %d healthy harnesses are called faulty", wrong, n)
	}
}

// Readings that no single fault and no healthy harness can give must not be
// explained with confidence.
func TestMatchContradiction(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	readings := []Reading{
		{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60.2}},
		{probeAt(t, c, solve.Ohms, "X2", "H-L"), solve.Value{Number: 25.0}}, // 2 m of wire away
		{probeAt(t, c, solve.Ohms, "X4", "H-L"), solve.Value{Number: 180}},
	}
	m, err := MakeMatch(c, list, readings, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if !m.NothingFits() {
		t.Errorf("best is %s with %.3f", m.Best().Name, m.Best().Probability)
	}
	// One reading alone fits many faults; nothing is claimed against them.
	m, err = MakeMatch(c, list, readings[:1], DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if m.NothingFits() {
		t.Errorf("a healthy reading is said to fit nothing: %+v", m.Best())
	}
	if _, err := MakeMatch(c, list, nil, DefaultInstrument(), nil); !errors.Is(err, ErrNoReadings) {
		t.Errorf("no readings: error %v", err)
	}
}

// What the trade reads every day at a service connector, each alone: a fault is
// named, "none of these" is not. Common practice, no source.
func TestMatchOneTextbookReading(t *testing.T) {
	for _, demo := range []string{"bench", "trunk"} {
		c := loadDemo(t, demo)
		list := Catalogue(c)
		at := map[string]string{"bench": "X1", "trunk": "X8"}[demo]
		for _, tt := range []struct {
			name    string
			between string
			value   solve.Value
			kind    Kind
		}{
			{"conductors shorted", "H-L", solve.Value{Number: 0.3}, ShortConductors},
			{"conductors shorted, some wire away", "H-L", solve.Value{Number: 1.5}, ShortConductors},
			{"a third terminator", "H-L", solve.Value{Number: 40.5}, TermExtra},
			{"one terminator left", "H-L", solve.Value{Number: 120.8}, TermMissing},
			{"cut off", "H-L", solve.Over(), Open},
			{"H on ground", "H-ground", solve.Value{Number: 0.4}, ShortGround},
		} {
			m, err := MakeMatch(c, list, []Reading{{probeAt(t, c, solve.Ohms, at, tt.between), tt.value}}, DefaultInstrument(), nil)
			if err != nil {
				t.Fatal(err)
			}
			if m.NothingFits() || m.LooksHealthy() || m.None() > 0.5 {
				t.Errorf("%s: %s: best %s %.2f, none of these %.2f", demo, tt.name, m.Best().Name, m.Best().Probability, m.None())
			}
			sum := 0.0
			for _, h := range m.Hypotheses {
				if h.Fault != nil && h.Fault.Kind == tt.kind {
					sum += h.Probability
				}
			}
			if sum < 0.01 {
				t.Errorf("%s: %s: faults of kind %s have %.3f together", demo, tt.name, tt.kind, sum)
			}
		}
	}
}

// A terminator that is missing and a module connector that is apart read the
// same at the service connector: they must stand in one group. Unplugging tells
// them apart.
func TestMatchNamesTies(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	missing, apart := findFault(t, list, "terminator T1 missing"), findFault(t, list, "connector X2 unplugged")
	one := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 120.6}}}
	m, err := MakeMatch(c, list, one, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if r1, r2 := rank(m, missing), rank(m, apart); r1 != 1 || r2 != 1 {
		t.Errorf("ranks %d and %d, want both in the first group", r1, r2)
	}
	two := append(one, Reading{probeAt(t, c, solve.Ohms, "X2", "H-L"), solve.Over()})
	m, err = MakeMatch(c, list, two, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range m.Hypotheses {
		// No more is left of it than that the OL may be misread.
		if h.Fault == missing && (h.Probability > 0.05 || h.Misread() != 1) {
			t.Errorf("with OL at X2, terminator T1 missing keeps %.3f (misread: %d)", h.Probability, h.Misread())
		}
	}
}

// The chance of an OL reading given a finite one, of two normal variables with
// known covariance: mean m₂ + ρσ₂(y₁−m₁)/σ₁ and variance σ₂²(1−ρ²), the textbook
// conditional of the bivariate normal.
func TestOLIsConditionedOnTheOthers(t *testing.T) {
	for _, rho := range []float64{-0.9, 0, 0.5, 0.95} {
		const m1, s1, m2, s2, y1, from = 0.3, 0.02, 0.9, 0.05, 0.33, 0.96
		e := &evidence{
			readings: make([]Reading, 2), finite: []int{0}, over: []int{1},
			y: []float64{y1, 1}, own: []float64{0, 0}, overFrom: from,
			any: []float64{math.Inf(-1), math.Inf(-1)}, slip: []float64{math.Inf(-1), math.Inf(-1)}, // none is misread
		}
		j := judged{mean: []float64{m1, m2}, covariance: mat.NewSymDense(2, []float64{s1 * s1, rho * s1 * s2, rho * s1 * s2, s2 * s2})}
		e.compare(&j)
		mean, sd := m2+rho*s2*(y1-m1)/s1, s2*math.Sqrt(1-rho*rho)
		want := 0.5 * math.Erfc((from-mean)/(sd*math.Sqrt2))
		if len(j.overChance) != 1 || math.Abs(j.overChance[0]-want) > 1e-9 {
			t.Errorf("ρ = %v: chance %v, want %v", rho, j.overChance, want)
		}
		z := (y1 - m1) / s1
		if l := -z*z/2 - math.Log(s1*math.Sqrt(2*math.Pi)) + math.Log(want); math.Abs(j.log-l) > 1e-9 {
			t.Errorf("ρ = %v: log likelihood %v, want %v", rho, j.log, l)
		}
	}
}

// What the leads add is taken off before readings are compared, and put on again
// where a prediction is shown as the meter would show it. Leads of 5 Ω, so that it
// matters.
func TestLeadsAreTakenOff(t *testing.T) {
	c := loadDemo(t, "bench")
	in := DefaultInstrument()
	in.LeadMinOhms, in.LeadMaxOhms = 4.9, 5.1
	probe := probeAt(t, c, solve.Ohms, "X1", "H-L")
	m, err := MakeMatch(c, Catalogue(c), []Reading{{probe, solve.Value{Number: 65.1}}}, in, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range m.Hypotheses {
		if h.Name != HealthyName {
			continue
		}
		if p := h.Predicted[0]; math.Abs(p.Off) > 0.3 || math.Abs(p.Value.Number-65.1) > 0.2 {
			t.Errorf("predicted %v, off %v", p.Value, p.Off)
		}
	}
	if !m.LooksHealthy() {
		t.Errorf("best %s", m.Best().Name)
	}
}

// Predictions a tenth of a standard deviation apart are alike, one deviation apart
// they are not.
func TestAlike(t *testing.T) {
	h := func(mean float64) Hypothesis {
		return Hypothesis{Fault: &Fault{}, Probability: 0.5, judged: judged{mean: []float64{mean}, covariance: mat.NewSymDense(1, []float64{0.01})}}
	}
	for _, tt := range []struct {
		apart float64
		want  int
	}{{0.01, 1}, {0.1, 2}} {
		m := &Match{Readings: make([]Reading, 1), Hypotheses: []Hypothesis{h(1), h(1 + tt.apart)}}
		m.tie()
		if len(m.Groups) != tt.want {
			t.Errorf("means %v apart: %d groups, want %d", tt.apart, len(m.Groups), tt.want)
		}
	}
}

// Probabilities that leave nothing for a single fault are refused, not made NaN of.
func TestMatchRefusesImpossiblePriors(t *testing.T) {
	c := loadDemo(t, "bench")
	reading := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}}
	for _, o := range []MatchOptions{{Two: 1}, {Healthy: 0.6, None: 0.5}, {Healthy: math.NaN()}} {
		if _, err := MakeMatch(c, Catalogue(c), reading, DefaultInstrument(), &o); err == nil {
			t.Errorf("%+v is taken", o)
		}
	}
}
