package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// Levels, averages and answers that the predictor derives from the healthy net
// must be those of a bus of its own.
func TestDrivenPredictionsAgreeWithFreshNets(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	probes := []Probe{
		probeAt(t, c, solve.Volts, "X2", "drive.H-ground").WithSender("dash"),
		probeAt(t, c, solve.Volts, "X1", "drive.H-drive.L").WithSender("gateway"),
		probeAt(t, c, solve.Volts, "X14/b", "work.L-ground").WithTraffic(),
		probeAt(t, c, solve.Volts, "X1", "drive.L-ground").WithTraffic(),
		probeAt(t, c, solve.Volts, "X1", "drive.L-ground"),
	}
	p, err := newPredictor(c, probes, solve.DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	a, err := newAnswerer(c, []string{"X1"})
	if err != nil {
		t.Fatal(err)
	}
	marginal, silent := 0, 0
	for k, f := range list {
		if k%9 != 0 {
			continue
		}
		const fraction = 0.3
		ready, err := p.prepare(f, fraction)
		if err != nil {
			t.Fatal(err)
		}
		asked, err := a.prepare(f, fraction)
		if err != nil {
			t.Fatal(err)
		}
		ohms := 0.0
		if f.Free != nil {
			ohms = math.Sqrt(f.Free.Min * f.Free.Max)
		}
		fast, err := ready.at(ohms)
		if err != nil {
			t.Fatal(err)
		}
		fresh, err := newPredictor(c, probes, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		g := fresh.groups[0]
		n, responses, err := fresh.direct(g, nil, f.Changes(ohms, fraction))
		if err != nil {
			t.Fatal(err)
		}
		bus, err := n.Bus(g.leads)
		if err != nil {
			t.Fatal(err)
		}
		slow := make([]predicted, len(probes))
		if err := fresh.collect(g, responses, bus, slow); err != nil {
			t.Fatal(err)
		}
		for i := range probes {
			if f.sticks() && !probes[i].driven() {
				continue // nothing is at rest: TestIdleVoltsOfAStuckTransceiver
			}
			if d := fast[i].Value().Number - slow[i].Value().Number; math.Abs(d) > 1e-6 {
				t.Errorf("%s with %.3g Ω: %s: %v V, by a fresh net %v V", f.Name, ohms, probes[i], fast[i].Value(), slow[i].Value())
			}
		}
		got, err := asked.at(ohms)
		if err != nil {
			t.Fatal(err)
		}
		_, buses, err := a.fresh(f.Changes(ohms, fraction))
		if err != nil {
			t.Fatal(err)
		}
		want, err := a.of(buses)
		if err != nil {
			t.Fatal(err)
		}
		for u, h := range want[0] {
			if got[0][u] != h {
				t.Errorf("%s with %.3g Ω: %s answers %v, by a fresh net %v", f.Name, ohms, c.Units[u].Name, got[0][u], h)
			}
			switch h {
			case solve.Marginal:
				marginal++
			case solve.No:
				silent++
			}
		}
	}
	if silent < 50 {
		t.Errorf("only %d silent modules in all; the test hardly checks anything (marginal: %d)", silent, marginal)
	}
}

// How far a driver's figures move a level, against nets drawn with them moved.
func TestDrivenSensitivities(t *testing.T) {
	c := loadDemo(t, "bench")
	for _, probe := range []Probe{
		probeAt(t, c, solve.Volts, "X1", "H-L").WithSender("middle"),
		probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic(),
	} {
		p, err := newPredictor(c, []Probe{probe}, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		base := healthyOf(t, p)[0]
		j := make([]float64, len(c.Parameters))
		base.Sensitivities(j)
		moved := 0
		for _, k := range p.groups[0].bus.DriveParameters([]int{0, 1, 2}) {
			z := make([]float64, len(c.Parameters))
			z[k] = 0.1
			n, _, err := p.direct(p.groups[0], z, nil)
			if err != nil {
				t.Fatal(err)
			}
			bus, err := n.Bus(p.groups[0].leads)
			if err != nil {
				t.Fatal(err)
			}
			r, err := p.read(bus, 0, 0)
			if err != nil {
				t.Fatal(err)
			}
			got, want := j[k], (r.value-base.Value().Number)/0.1
			if math.Abs(got-want) > 0.02*math.Abs(want)+2e-3 {
				t.Errorf("%s: %s: sensitivity %v, by difference %v", probe, c.Parameters[k].Name, got, want)
			}
			if math.Abs(want) > 1e-3 {
				moved++
			}
		}
		if moved < 4 {
			t.Errorf("%s: only %d driver parameters move it", probe, moved)
		}
	}
}

// The demo's silent side: answers and two voltages with traffic alone name the
// pair, and more of the same readings do not make another fault of it.
func TestSilentSideFromAnswersAndTwoVoltages(t *testing.T) {
	c := loadDemo(t, "orchard")
	var answers []Answer
	for _, u := range c.Units {
		if len(u.Inputs) == 0 {
			continue
		}
		silent := map[string]bool{"traction-left": true, "traction-right": true, "steering": true, "brakes": true}
		answers = append(answers, Answer{"X1", u.Name, !silent[u.Name]})
	}
	readings := []Reading{
		{probeAt(t, c, solve.Volts, "X2", "drive.H-ground").WithTraffic(), solve.Value{Number: 2.51}},
		{probeAt(t, c, solve.Volts, "X2", "drive.L-ground").WithTraffic(), solve.Value{Number: 2.21}},
	}
	m, err := MakeMatch(c, Catalogue(c), readings, DefaultInstrument(), &MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	if m.Parts[0].Part != "P9" || m.Parts[0].Probability < 0.9 || m.NothingFits() || m.LooksHealthy() {
		t.Errorf("parts %v, nothing fits %v", m.Parts[:2], m.NothingFits())
	}
	// Answers alone, without any meter: the pair, or all four modules' splice.
	m, err = MakeMatch(c, Catalogue(c), nil, DefaultInstrument(), &MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	if m.Parts[0].Part != "P9" || m.Parts[0].Probability < 0.8 {
		t.Errorf("by answers alone: parts %v", m.Parts[:2])
	}
	// Everybody answers: nothing speaks against healthy wiring.
	for i := range answers {
		answers[i].Answered = true
	}
	m, err = MakeMatch(c, Catalogue(c), nil, DefaultInstrument(), &MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	if !m.LooksHealthy() {
		t.Errorf("all answer: best %s %.3f", m.Best().Name, m.Best().Probability)
	}
	// One silent module points at what feeds it; what is left is faults that nobody's
	// answer shows, the module being silent for its own reasons.
	for i := range answers {
		answers[i].Answered = answers[i].Module != "charger"
	}
	m, err = MakeMatch(c, Catalogue(c), nil, DefaultInstrument(), &MatchOptions{Answers: answers})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, p := range m.Parts {
		switch p.Part {
		case "charger", "X13", "P15", "X12", "X11", "P4", HealthyName:
			sum += p.Probability
		}
	}
	if sum < 0.75 {
		t.Errorf("charger silent: the parts that feed it have %.2f, first %v", sum, m.Parts[:3])
	}
}

// Answers drawn from the model itself, with modules silent for their own reasons:
// the probabilities must keep their promise.
func TestMatchIsHonestAboutAnswers(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	expected, variance, right := 0.0, 0.0, 0
	const cases = 200
	for n := 0; n < cases; n++ {
		var f *Fault
		var changes []solve.Change
		if n%10 != 0 {
			f, changes = drawFault(rng, list)
		}
		a, err := newAnswerer(c, []string{"X1"})
		if err != nil {
			t.Fatal(err)
		}
		_, buses, err := a.fresh(changes)
		if err != nil {
			t.Fatal(err)
		}
		got, err := a.of(buses)
		if err != nil {
			t.Fatal(err)
		}
		var answers []Answer
		for u := range c.Units {
			answers = append(answers, Answer{"X1", c.Units[u].Name, rng.Float64() < chance(got[0][u])})
		}
		m, err := MakeMatch(c, list, nil, DefaultInstrument(), &MatchOptions{Answers: answers, None: 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		p := m.Groups[0].Probability
		expected += p
		variance += p * (1 - p)
		if rank(m, f) == 1 {
			right++
		}
	}
	t.Logf("%d of %d in the first group, %.1f ± %.1f expected", right, cases, expected, math.Sqrt(variance))
	if d := float64(right) - expected; math.Abs(d) > 3*math.Sqrt(variance)+1 {
		t.Errorf("%d of %d right, the probabilities promise %.1f", right, cases, expected)
	}
}

func TestAnswerTable(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	tab, err := MakeAnswerTable(c, list, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, h := range tab.Healthy {
		if h != solve.Yes {
			t.Errorf("healthy: %s answers %v", c.Units[tab.Units[k]].Name, h)
		}
	}
	silent := func(name string) map[string]bool {
		out := map[string]bool{}
		for _, r := range tab.Rows {
			if r.Fault.Name == name {
				for k, h := range r.Answers {
					if h == solve.No {
						out[c.Units[tab.Units[k]].Name] = true
					}
				}
				return out
			}
		}
		t.Fatalf("no fault %q", name)
		return nil
	}
	for _, tt := range []struct {
		fault string
		want  []string
	}{
		{"open drive.H in pair P9", []string{"traction-left", "traction-right", "steering", "brakes"}},
		{"module lift without supply", []string{"lift"}},
		{"connector X14 unplugged", []string{"pruner", "basket-panel"}},
		// The gateway is out: the tool is on both networks itself.
		{"module gateway without supply", []string{"gateway"}},
		{"terminator TD1 missing", nil},
		{"transceiver stuck dominant in module dash on drive", []string{"battery-manager", "vehicle-control", "dash", "traction-left", "traction-right", "steering", "brakes", "charger"}},
	} {
		got := silent(tt.fault)
		if len(got) != len(tt.want) {
			t.Errorf("%s silences %v, want %v", tt.fault, got, tt.want)
		}
		for _, m := range tt.want {
			if !got[m] {
				t.Errorf("%s: %s answers", tt.fault, m)
			}
		}
	}
	// From the check connector, which is on drive only, work is reached through
	// the gateway, and not without it.
	tab, err = MakeAnswerTable(c, []*Fault{findFault(t, list, "module gateway without supply")}, "X2", nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, u := range tab.Units {
		work := map[string]bool{"lift": true, "leveller": true, "pruner": true, "basket-panel": true, "gateway": true}[c.Units[u].Name]
		if tab.Healthy[k] != solve.Yes || (tab.Rows[0].Answers[k] == solve.Yes) == work {
			t.Errorf("from X2: %s answers %v, with the gateway out %v", c.Units[u].Name, tab.Healthy[k], tab.Rows[0].Answers[k])
		}
	}
	if _, err := MakeAnswerTable(c, nil, "X99", nil); err == nil {
		t.Error("a tool at a connector that is not there finds answers")
	}
}

// H and L both at 2.5 V although traffic was expected: the bus was quiet after all,
// which is no fault of the wiring, however the share of dominant time was put down.
func TestQuietBusIsNoFault(t *testing.T) {
	c := loadDemo(t, "orchard")
	for _, share := range []float64{0, 0.2} {
		var readings []Reading
		readings = append(readings, Reading{probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), solve.Value{Number: 60.4}})
		for _, between := range []string{"drive.H-ground", "drive.L-ground"} {
			p := probeAt(t, c, solve.Volts, "X1", between).WithTraffic()
			p.DominantShare = share
			readings = append(readings, Reading{p, solve.Value{Number: 2.5}})
		}
		m, err := MakeMatch(c, Catalogue(c), readings, DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		if !m.LooksHealthy() {
			t.Errorf("share %v: best %s %.3f", share, m.Best().Name, m.Best().Probability)
		}
	}
}

// A transceiver that sends all the time leaves nothing at rest: what is read as idle
// volts is the level while that module sends. Against the healthy bus with that
// sender.
func TestIdleVoltsOfAStuckTransceiver(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	for _, module := range []string{"left", "middle"} {
		f := findFault(t, list, "transceiver stuck dominant in module "+module)
		idle, sent := probeAt(t, c, solve.Volts, "X1", "H-ground"), probeAt(t, c, solve.Volts, "X1", "H-ground").WithSender(module)
		p, err := newPredictor(c, []Probe{idle, sent}, DefaultInstrument().Meter)
		if err != nil {
			t.Fatal(err)
		}
		got, err := p.typical(f)
		if err != nil {
			t.Fatal(err)
		}
		healthy := healthyOf(t, p)
		if a, b := got[0].Value().Number, healthy[1].Value().Number; math.Abs(a-b) > 1e-9 || a < 3 {
			t.Errorf("%s stuck: %v V at rest, %v V while it sends", module, a, b)
		}
		j := make([]float64, len(c.Parameters))
		got[0].Sensitivities(j)
		sum := 0.0
		for _, x := range j {
			sum += math.Abs(x)
		}
		if sum < 0.05 {
			t.Errorf("%s stuck: tolerances move the level by %v V", module, sum)
		}
	}
}
