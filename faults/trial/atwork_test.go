package trial

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// only is a match among two faults and nothing else.
var only = faults.MatchOptions{Healthy: -1, None: -1, Two: -1, Three: -1}

func probe(t *testing.T, c *netlist.Circuit, q solve.Quantity, place, between string) faults.Probe {
	t.Helper()
	condition := solve.Condition{}
	if q == solve.Volts {
		condition.Supply = solve.Idle
	}
	p, err := faults.ProbeAt(c, q, place, between, condition)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A terminator is cut off by an open H on its one side or by an open L on the other: with
// everything plugged in no resistance parts them by much, volts with traffic do. What
// those are expected to say must be what they say of vehicles that are drawn: the mutual
// information of fault and reading, counted in steps of 20 mV.
func TestBitsWithTrafficAreThoseOfDrawnVehicles(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	all := faults.Catalogue(c)
	pair := []*faults.Fault{find(t, all, "open H in pair P2"), find(t, all, "open L in pair P4")}
	x := faults.NewMatcher(c, pair, in)
	first := faults.Reading{Probe: probe(t, c, solve.Ohms, "X1", "H-L"), Value: solve.Value{Number: 119.9}}
	m, err := x.Match([]faults.Reading{first}, &only)
	if err != nil {
		t.Fatal(err)
	}
	const n, step = 3000, 0.02
	for _, p := range []faults.Probe{
		probe(t, c, solve.Volts, "X4", "L-ground").WithTraffic(),
		probe(t, c, solve.Volts, "X2", "H-ground").WithTraffic(),
		probe(t, c, solve.Volts, "X2", "L-ground").WithSender("left"),
		probe(t, c, solve.Volts, "X2", "L-ground").WithSender("right"),
		probe(t, c, solve.Volts, "X4", "H-L").WithSender("middle"),
	} {
		advice, err := x.Next(m, &faults.NextOptions{Candidates: []faults.Probe{p}, Tools: []string{}})
		if err != nil || len(advice) > 1 {
			t.Fatalf("%s: %d advised, %v", p, len(advice), err)
		}
		expected := 0.0 // what says too little is not advised
		if len(advice) > 0 {
			expected = advice[0].Bits
		}
		rng := rand.New(rand.NewPCG(51, 52))
		var count [2]map[int]float64
		for k, f := range pair {
			count[k] = map[int]float64{}
			for range n {
				r, err := Make(c, in, rng, f, 0, 0.5).Read(p)
				if err != nil {
					t.Fatal(err)
				}
				count[k][int(math.Floor(r.Value.Number/step))]++
			}
		}
		bits := 0.0
		for k := range count {
			for b, got := range count[k] {
				bits += got / (2 * n) * math.Log2(2*got/(count[0][b]+count[1][b]))
			}
		}
		t.Logf("%s: %.3f bits expected, %.3f by %d vehicles", p, expected, bits, 2*n)
		if math.Abs(expected-bits) > 0.07 {
			t.Errorf("%s: %.3f bits expected, %.3f by %d vehicles", p, expected, bits, 2*n)
		}
	}
}

// All readings with traffic have in common how much of the time the bus is dominant. So
// what is expected of H depends on what L read a moment ago: it must hold of drawn
// vehicles, and be far narrower than it is without L.
func TestExpectedWithTrafficFollowsWhatWasRead(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	// An open H in the stub to X1 is in question, which nothing read so far shows.
	x := faults.NewMatcher(c, []*faults.Fault{find(t, faults.Catalogue(c), "open H in pair P1")}, in)
	l, h := probe(t, c, solve.Volts, "X1", "L-ground").WithTraffic(), probe(t, c, solve.Volts, "X1", "H-ground").WithTraffic()
	// The modules' bias is uncertain too, and moves both the same way: it is read first.
	idle := probe(t, c, solve.Volts, "X2", "L-ground")
	expected := func(readings ...faults.Reading) (low, high float64) {
		m, err := x.Match(readings, &faults.MatchOptions{Healthy: 0.5, None: -1, Two: -1, Three: -1})
		if err != nil {
			t.Fatal(err)
		}
		advice, err := x.Next(m, &faults.NextOptions{Candidates: []faults.Probe{h}, Tools: []string{}, Now: faults.AtWork})
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range advice {
			for _, e := range a.Expect {
				if e.Part == faults.HealthyName {
					return e.Low.Number, e.High.Number
				}
			}
		}
		t.Fatalf("nothing is expected of %s", h)
		return 0, 0
	}
	rng := rand.New(rand.NewPCG(53, 54))
	const n = 400
	inside, narrow, wide := 0, 0.0, 0.0
	// Where the bus is dominant hardly at all, about as long as is taken to be usual, nearly
	// as long as is taken to be possible.
	var of, held [3]int
	for range n {
		v := sound(c, in, rng)
		var readings []faults.Reading
		for _, p := range []faults.Probe{idle, l} {
			r, err := v.Read(p)
			if err != nil {
				t.Fatal(err)
			}
			readings = append(readings, r)
		}
		got, err := v.Read(h)
		if err != nil {
			t.Fatal(err)
		}
		low, high := expected(readings...)
		if y := got.Value.Number; y >= low-0.005 && y <= high+0.005 {
			inside++
			held[min(2, int(3*v.dominant))]++
		}
		of[min(2, int(3*v.dominant))]++
		narrow += high - low
		low, high = expected(readings[:1]...)
		wide += high - low
	}
	t.Logf("%d of %d inside (%v of %v by share); %.3f V wide, %.3f V without the other conductor", inside, n, held, of, narrow/n, wide/n)
	// 80 % are promised; limits are even, not normal, so it is a few more.
	for k := range of {
		if share := float64(held[k]) / float64(of[k]); share < 0.74 || share > 0.95 {
			t.Errorf("dominant share in third %d of its range: %d of %d readings lie in the middle 80 %% that was foreseen", k+1, held[k], of[k])
		}
	}
	if narrow > 0.5*wide {
		t.Errorf("%.3f V wide in the mean with the other conductor read, %.3f V without", narrow/n, wide/n)
	}
}

// A session's minutes by the names of its steps: reaching a place once, parting a
// connector, and a change of state only where the step before left another one.
func TestMinutesOfASessionWithTraffic(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	rng := rand.New(rand.NewPCG(8, 9))
	const asleep, quiet, work, tool = 0, 1, 2, 3
	change := [4][4]float64{asleep: {0, 5, 5, 5}, quiet: {5, 0, 1, 0}, work: {5, 1, 0, 0}, tool: {5, 0, 0, 0}}
	atWork := 0
	for k := range 6 {
		v := Draw(c, list, in, rng, 1)
		s, err := Advised(x, v, FirstProbe(c), Rules{Traffic: true, Scope: k%2 == 0, Anyway: true, Steps: 9})
		if err != nil {
			t.Fatal(err)
		}
		been, now := map[string]bool{}, -1
		for _, step := range s.Steps {
			place, _, _ := strings.Cut(strings.TrimPrefix(step.What, "scan tool at "), " ")
			place, _, _ = strings.Cut(strings.TrimSuffix(place, ":"), "/")
			site, ok := c.Site(place)
			if !ok {
				t.Fatalf("%s: no place %q", step.What, place)
			}
			want, next := 0.5, asleep
			switch {
			case strings.HasPrefix(step.What, "scan tool"):
				want, next = 2, tool
			case strings.Contains(step.What, " sends"):
				want, next = 2.5, work
			case strings.Contains(step.What, "with traffic"):
				next = work
			case strings.Contains(step.What, "volts"):
				next = quiet
			}
			if next == work {
				atWork++
			}
			if strings.Contains(step.What, "unplugged") {
				want++
			}
			if !been[place] {
				want += site.ReachMin
			}
			if now >= 0 {
				want += change[now][next]
			}
			been[place], now = true, next
			if math.Abs(step.Minutes-want) > 1e-9 {
				t.Errorf("%s: %s takes %v min, by hand %v", v.Name(), step.What, step.Minutes, want)
			}
		}
	}
	if atWork == 0 {
		t.Error("nothing was read of a bus at work; the test checks little")
	}
}

// What a vehicle shows: the same reading again shows the same, all readings with traffic
// have one dominant share, a module without supply sends nothing.
func TestVehicleAtWork(t *testing.T) {
	c := load(t, "examples/bench/harness.yaml")
	in := faults.DefaultInstrument()
	in.VoltsPct, in.VoltsDigits, in.DigitVolts = 0, 0, 1e-6
	all := faults.Catalogue(c)
	h := probe(t, c, solve.Volts, "X1", "H-ground")
	read := func(v *Vehicle, p faults.Probe) float64 {
		r, err := v.Read(p)
		if err != nil {
			t.Fatal(err)
		}
		return r.Value.Number
	}
	least, most := 1.0, 0.0
	for seed := range uint64(20) {
		v := sound(c, in, rand.New(rand.NewPCG(seed, 1)))
		idle, traffic := read(v, h), read(v, h.WithTraffic())
		var lifts float64
		for _, m := range []string{"left", "middle", "right"} {
			lifts += read(v, h.WithSender(m)) / 3
		}
		share := (traffic - idle) / (lifts - idle)
		least, most = min(least, share), max(most, share)
		// The same share at another place and on the other conductor.
		l := probe(t, c, solve.Volts, "X3", "L-ground")
		other := read(v, l)
		lifts = 0
		for _, m := range []string{"left", "middle", "right"} {
			lifts += read(v, l.WithSender(m)) / 3
		}
		if got := (read(v, l.WithTraffic()) - other) / (lifts - other); math.Abs(got-share) > 1e-4 {
			t.Errorf("the bus is dominant %.4f of the time by H at X1, %.4f by L at X3", share, got)
		}
		if again := read(v, h.WithTraffic()); again != traffic {
			t.Errorf("%v V, then %v V", traffic, again)
		}
	}
	if !(least > 0 && least < 0.15 && most > 0.35 && most < 0.5) {
		t.Errorf("dominant from %.3f to %.3f of the time; 0 to 0.5 is taken as possible", least, most)
	}
	v := Make(c, in, rand.New(rand.NewPCG(2, 1)), find(t, all, "module middle without supply"), 0, 0.5)
	if idle, level := read(v, h), read(v, h.WithSender("middle")); math.Abs(idle-level) > 2e-6 {
		t.Errorf("a module without supply sends: %v V, idle %v V", level, idle)
	}
	mean := (read(v, h.WithSender("left")) + read(v, h.WithSender("right"))) / 2
	traffic := read(v, h.WithTraffic())
	if want := read(v, h) + v.dominant/2*(mean-read(v, h)); math.Abs(traffic-want) > 3e-6 {
		t.Errorf("with two modules that have a supply %v V, their mean makes %v V", traffic, want)
	}
	if _, err := v.Read(h.WithSender("nobody")); err == nil || !strings.Contains(err.Error(), "nobody") {
		t.Errorf("a module that there is not: %v", err)
	}
}
