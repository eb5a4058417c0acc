package faults

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/faults/sequence"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// A change of state is counted once, for the first reading that wants it: by hand, from
// ReadMinutes 0.5, SupplyMinutes 5, NetworkMinutes 1, ScopeMinutes 2, ToolMinutes 2 and the
// demo's reach of 1 min to X1 and 18 min to X13.
func TestStateIsChangedOnce(t *testing.T) {
	c := loadDemo(t, "orchard")
	ohms, idle := probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), probeAt(t, c, solve.Volts, "X1", "drive.H-ground")
	traffic, far := idle.WithTraffic(), probeAt(t, c, solve.Volts, "X13", "drive.H-ground").WithTraffic()
	level := idle.WithSender("dash")
	if s, _ := c.Site("X13"); s.ReachMin != 18 {
		t.Fatalf("X13 takes %v min to reach; reckon anew", s.ReachMin)
	}
	for _, tt := range []struct {
		name  string
		taken []Probe
		now   State
		p     Probe
		want  float64
	}{
		{"first of all, whatever is set", nil, AsLeft, traffic, 1.5},
		{"first of all, the supply off", nil, Asleep, traffic, 6.5},
		{"after ohms", []Probe{ohms}, AsLeft, traffic, 5.5},
		{"after ohms, somewhere else", []Probe{ohms}, AsLeft, far, 23.5},
		{"after idle volts", []Probe{ohms, idle}, AsLeft, traffic, 1.5},
		{"after traffic, another place", []Probe{ohms, traffic}, AsLeft, far, 18.5},
		{"after traffic, a level", []Probe{ohms, traffic}, AsLeft, level, 2.5},
		{"after a level, traffic", []Probe{level}, AsLeft, traffic, 0.5},
		{"after traffic, idle volts", []Probe{traffic}, AsLeft, idle, 1.5},
		{"after traffic, ohms", []Probe{traffic}, AsLeft, ohms, 5.5},
		{"after asking, traffic", []Probe{ohms}, Asked, traffic, 0.5},
		{"after asking, idle volts", []Probe{ohms}, Asked, idle, 0.5},
		{"after asking, ohms again", []Probe{traffic}, Asked, ohms, 5.5},
	} {
		var taken []Reading
		for _, p := range tt.taken {
			taken = append(taken, Reading{Probe: p})
		}
		now := tt.now
		if now == AsLeft {
			now = leftAs(taken, false)
		}
		got := minutes(c, beenTo(c, taken, nil), now, &tt.p)
		if math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v min, by hand %v", tt.name, got, tt.want)
		}
		// What is planned ahead costs the same.
		if got := plannedMinutes(t, c, beenTo(c, taken, nil), now, &tt.p); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v min where it is planned, by hand %v", tt.name, got, tt.want)
		}
	}
	for _, tt := range []struct {
		taken []Reading
		now   State
		want  float64
	}{
		{nil, AsLeft, 3}, {[]Reading{{Probe: ohms}}, Asleep, 7}, {[]Reading{{Probe: far}}, AtWork, 3}, {[]Reading{{Probe: idle}}, Quiet, 2},
	} {
		if got := scanMinutes(c, beenTo(c, tt.taken, nil), tt.now, "X1"); got != tt.want {
			t.Errorf("asking from X1 after %v, state %v: %v min, by hand %v", tt.taken, tt.now, got, tt.want)
		}
		p := newSequence(c, beenTo(c, tt.taken, nil), tt.now)
		p.Prior = []float64{1, 1}
		test := sequence.Test{Chance: sequence.Certain(0, 1)}
		p.priceScan(&test, &Probe{Site: "X1", Condition: solve.Condition{Supply: solve.Idle}})
		p.Tests = []sequence.Test{test}
		tree, err := sequence.Plan(&p.Problem, sequence.FixedOrder(0), nil)
		if err != nil {
			t.Fatal(err)
		}
		if tree.Minutes != tt.want {
			t.Errorf("asking from X1 after %v, state %v: %v min where it is planned, by hand %v", tt.taken, tt.now, tree.Minutes, tt.want)
		}
	}
	if got := leftAs(nil, true); got != Asked {
		t.Errorf("after answers alone the state is %v", got)
	}
}

// advised gives the advice for a reading at X1, by what is weighed.
func advised(t *testing.T, c *netlist.Circuit, o *NextOptions, first Reading, more ...Reading) []Advice {
	t.Helper()
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	m, err := x.Match(append([]Reading{first}, more...), nil)
	if err != nil {
		t.Fatal(err)
	}
	advice, err := x.Next(m, o)
	if err != nil {
		t.Fatal(err)
	}
	return advice
}

// What is weighed: traffic and levels where they are asked for, traffic also where some was
// read; minutes as the vehicle is set now.
func TestWhatIsWeighedOfABusAtWork(t *testing.T) {
	c := loadDemo(t, "orchard")
	first := Reading{probeAt(t, c, solve.Ohms, "X1", "drive.H-drive.L"), solve.Value{Number: 119.1}}
	count := func(list []Advice) (traffic, levels int) {
		for _, a := range list {
			if a.Probe.Traffic {
				traffic++
			}
			if a.Probe.Sender != "" {
				levels++
			}
			if a.Probe.driven() && (a.Bits < 0.1 || a.Tool != "") {
				t.Errorf("%s: %v bits", &a, a.Bits)
			}
		}
		return traffic, levels
	}
	busy := Reading{probeAt(t, c, solve.Volts, "X1", "drive.H-ground").WithTraffic(), solve.Value{Number: 2.6}}
	for _, tt := range []struct {
		name            string
		o               *NextOptions
		more            []Reading
		traffic, levels bool
	}{
		{"by default", nil, nil, false, false},
		{"traffic", &NextOptions{Traffic: true}, nil, true, false},
		{"scope", &NextOptions{Scope: true}, nil, false, true},
		{"both", &NextOptions{Traffic: true, Scope: true}, nil, true, true},
		{"by default, after a reading with traffic", nil, []Reading{busy}, true, false},
	} {
		traffic, levels := count(advised(t, c, tt.o, first, tt.more...))
		if traffic > 0 != tt.traffic || levels > 0 != tt.levels {
			t.Errorf("%s: %d readings with traffic and %d levels are advised", tt.name, traffic, levels)
		}
	}
	for _, now := range []State{AsLeft, AtWork} {
		for _, a := range advised(t, c, &NextOptions{Traffic: true, Now: now}, first) {
			if !a.Probe.Traffic {
				continue
			}
			want := ReadMinutes + a.Probe.ReachMin
			if now == AsLeft {
				want += SupplyMinutes
			}
			if a.Minutes != want {
				t.Errorf("%s, state %v: %v min, want %v", a.Probe, now, a.Minutes, want)
			}
		}
	}
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	m, err := x.Match([]Reading{first}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, now := range []State{-1, Asked + 1} {
		if _, err := x.Next(m, &NextOptions{Now: now}); err == nil || !strings.Contains(err.Error(), fmt.Sprint(int(now))) {
			t.Errorf("state %d: %v", now, err)
		}
	}
	// One that the harness does not know is refused, as in a match.
	bad := probeAt(t, c, solve.Volts, "X1", "drive.H-ground").WithSender("nobody")
	if _, err := x.Next(m, &NextOptions{Candidates: []Probe{bad}}); err == nil || !strings.Contains(err.Error(), "nobody") {
		t.Errorf("an unknown sender: %v", err)
	}
}

// A module that did not answer has no frames that a scope could find.
func TestNoLevelsOfSilentModules(t *testing.T) {
	c := loadDemo(t, "bench")
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	first := Reading{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 119.8}}
	for _, silent := range []string{"left", "right"} {
		var answers []Answer
		for _, name := range []string{"left", "middle", "right"} {
			answers = append(answers, Answer{Tool: "X1", Module: name, Answered: name != silent})
		}
		m, err := x.Match([]Reading{first}, &MatchOptions{Answers: answers})
		if err != nil {
			t.Fatal(err)
		}
		advice, err := x.Next(m, &NextOptions{Scope: true, Anyway: true})
		if err != nil {
			t.Fatal(err)
		}
		others := 0
		for _, a := range advice {
			if a.Probe.Sender == silent {
				t.Errorf("%s is silent: %s is advised", silent, &a)
			}
			if a.Probe.Sender != "" {
				others++
			}
		}
		if others == 0 {
			t.Errorf("%s is silent: no level of the others is advised", silent)
		}
	}
}

// Where no module has a transceiver nothing can send: no reading with traffic is offered,
// nor taken from the caller.
func TestNoTrafficWhereNothingSends(t *testing.T) {
	h := *loadDemo(t, "bench").Harness
	h.Modules = slices.Clone(h.Modules)
	for i := range h.Modules {
		h.Modules[i].Transceiver = "none"
	}
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	first := Reading{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 119.9}}
	x := NewMatcher(c, Catalogue(c), DefaultInstrument())
	m, err := x.Match([]Reading{first}, nil)
	if err != nil {
		t.Fatal(err)
	}
	asked := probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic()
	if advice, err := x.Next(m, &NextOptions{Candidates: []Probe{asked}, Tools: []string{}}); err == nil {
		t.Errorf("%s: %v", asked, advice)
	}
	advice, err := x.Next(m, &NextOptions{Traffic: true, Scope: true, Tools: []string{}})
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range advice {
		if a.Probe.driven() {
			t.Errorf("%s is offered", &a)
		}
	}
	if len(advice) == 0 {
		t.Error("nothing is offered at all")
	}
}

// What is foreseen of a bus at work is what a match predicts of it: with the fault's free
// ohms known, the middle of what is expected is the match's own prediction.
func TestForeseenAtWorkIsWhatAMatchPredicts(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	probes := []Probe{
		probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic(), probeAt(t, c, solve.Volts, "X2", "L-ground").WithTraffic(),
		probeAt(t, c, solve.Volts, "X4", "H-L").WithSender("left"), probeAt(t, c, solve.Volts, "X3", "H-ground").WithSender("middle"),
	}
	first := probeAt(t, c, solve.Ohms, "X2", "H-L")
	for _, name := range []string{
		"open H in pair P2", "swapped", "stuck dominant in module left", "module middle without supply",
		"transceiver shorted inside, H to L, in module right", "short H to L in pair P1", "short H to supply in pair P1",
	} {
		var f *Fault
		for _, x := range list {
			if x.Name == name || strings.Contains(x.Name, name) {
				f = x
			}
		}
		if f == nil {
			t.Errorf("no fault %q", name)
			continue
		}
		for _, second := range []*Fault{nil, findFault(t, list, "module middle without ground")} {
			members, ohms := []*Fault{f}, []float64{1}
			if second != nil {
				if f.sticks() || strings.Contains(f.Name, "middle") {
					continue
				}
				members, ohms = append(members, second), append(ohms, 0)
			}
			x := NewMatcher(c, list, in)
			look := &foresight{x: x, none: -1, parts: []string{"A"}, chance: []float64{1}, components: []component{{weight: 1, members: members, ohms: ohms, fraction: 0.5, misread: -1}}}
			p, err := newPredictor(c, probes, in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			want, err := fromNets(p, members, ohms, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			e := newEvidence(c, nil, in)
			if err := look.foresee(e, nil, append([]Probe{first}, probes...), nil); err != nil {
				t.Fatal(err)
			}
			full := look.components[0]
			judged := newEvidence(c, []Reading{{probes[0], want[0].Value()}, {probes[1], want[1].Value()}, {probes[2], want[2].Value()}, {probes[3], want[3].Value()}}, in).judge(want)
			if err := look.glanceAtWork(probes); err != nil {
				t.Fatal(err)
			}
			glance := look.components[0]
			for i, p := range probes {
				v := want[i].Value().Number
				if d := math.Abs(full.mean[i+1] - v); d > 1e-9 {
					t.Errorf("%s: %s: %v V foreseen, a match predicts %v", combineAt(members, ohms).Name, p, full.mean[i+1], v)
				}
				if got, sd := full.sd[i+1], math.Sqrt(judged.before(i)); math.Abs(got-sd) > 1e-9 {
					t.Errorf("%s: %s: uncertain by %v V, in a match by %v", combineAt(members, ohms).Name, p, got, sd)
				}
				// A first look leaves out what the meter draws, and has the drivers of the
				// healthy harness.
				if d := math.Abs(glance.mean[i] - v); d > 0.02 {
					t.Errorf("%s: %s: %v V at first sight, a match predicts %v", combineAt(members, ohms).Name, p, glance.mean[i], v)
				}
				if glance.sd[i] < 0.02 || glance.sd[i] > 3*full.sd[i+1]+0.2 {
					t.Errorf("%s: %s: uncertain by %v V at first sight, in full by %v", combineAt(members, ohms).Name, p, glance.sd[i], full.sd[i+1])
				}
			}
		}
	}
}

// Explanations that stand beside each other share what is prepared only where they may:
// each must foresee what it would by itself, whatever its free ohms and places are.
func TestForeseenAtWorkBesideOthers(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	joint, leak := findFault(t, list, "high-resistance joint H in pair P2"), findFault(t, list, "high-resistance joint L in pair P4")
	short := findFault(t, list, "short H to supply in pair P2")
	probes := []Probe{
		probeAt(t, c, solve.Volts, "X2", "H-ground").WithTraffic(), probeAt(t, c, solve.Volts, "X4", "H-L").WithSender("left"),
	}
	of := func(fraction, first, second float64, members ...*Fault) component {
		return component{weight: 0.1, members: members, ohms: []float64{first, second}[:len(members)], fraction: fraction, misread: -1}
	}
	components := []component{
		of(0.5, 10, 0, joint), of(0.5, 1000, 0, joint), of(0.5, 0, 0, short), of(0.1, 0, 0, short), of(0.9, 0, 0, short),
		of(0.5, 10, 20, joint, leak), of(0.5, 1000, 20, joint, leak), of(0.5, 1000, 500, joint, leak), {weight: 0.1, misread: -1}, of(0.5, 500, 0, leak),
	}
	x := NewMatcher(c, list, in)
	look := &foresight{x: x, none: -1, parts: []string{"A"}, chance: []float64{1}, components: slices.Clone(components)}
	glance := &foresight{x: x, none: -1, parts: []string{"A"}, chance: []float64{1}, components: slices.Clone(components)}
	if err := look.foresee(newEvidence(c, nil, in), nil, probes, nil); err != nil {
		t.Fatal(err)
	}
	if err := glance.glanceAtWork(probes); err != nil {
		t.Fatal(err)
	}
	seen := map[float64]bool{}
	for i, x := range components {
		p, err := newPredictor(c, probes, in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		want, err := fromNets(p, x.members, x.ohms, x.fraction)
		if err != nil {
			t.Fatal(err)
		}
		for k := range probes {
			v := want[k].Value().Number
			seen[math.Round(v*1e6)] = true
			if d := math.Abs(look.components[i].mean[k] - v); d > 1e-9 {
				t.Errorf("component %d, %s: %v V foreseen, alone %v", i, probes[k], look.components[i].mean[k], v)
			}
			if d := math.Abs(glance.components[i].mean[k] - v); d > 1e-3 { // the meter draws some
				t.Errorf("component %d, %s: %v V at first sight, alone %v", i, probes[k], glance.components[i].mean[k], v)
			}
		}
	}
	// As uncertain at first sight as in full, since that is where it is taken from, but for
	// the dominant share, which the first look takes in the middle.
	const healthy = 8
	for k := range probes {
		if got, want := glance.components[healthy].sd[k], look.components[healthy].sd[k]; math.Abs(got-want) > 3e-3 {
			t.Errorf("healthy wiring, %s: uncertain by %v V at first sight, in full by %v", probes[k], got, want)
		}
	}
	if len(seen) < 2*len(components)-2 {
		t.Errorf("only %d different values; the test checks little", len(seen))
	}
}
