package solve_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// busCase is one random harness at work with changes, and who sends and what is
// read in it. It is what reference.py is given; it uses names only.
type busCase struct {
	Name    string
	Harness *netlist.Harness
	Changes []referenceChange // beside those of wiring: stick (unit/network) and unpower (unit)
	Sets    []busSet
}

type busSet struct {
	Unplugged []string
	Senders   []busPlace
	Readings  []referenceReading // with a meter of 10 MΩ
}

type busPlace struct{ Module, Network string }

// busAnswer is what ngspice says of a set: volts of H and L to the module's own
// ground and amperes of the two switches by unit/network, and the readings.
// AtRest says that ngspice went round in circles and the circuit was run in time
// instead until it came to rest.
type busAnswer struct {
	Levels, Amps map[string][2]float64
	Meter        []float64
	AtRest       bool `json:",omitempty"`
}

type busFile struct {
	Command  string
	Seed     uint64
	Versions map[string]string
	Cases    []busCase
	Answers  [][]busAnswer
}

// randomBusCase makes a harness of randomCase's sort with drivers of all sorts,
// grounds that lie off the rail, and some changes.
func randomBusCase(t fataler, rng *rand.Rand, changes int) busCase {
	m := &maker{rng: rng, of: workshop}
	rc := busCase{Harness: m.harness()}
	for len(rc.Harness.Transceivers) == 0 {
		rc.Harness = m.harness() // that was nothing but junction boxes
	}
	h := rc.Harness
	for i := range h.Transceivers {
		k := &h.Transceivers[i]
		k.DriveVolts, k.DriveHDiodeVolts, k.DriveLDiodeVolts = 5, m.value([2]float64{0.4, 0.9}), m.value([2]float64{0.4, 0.9})
		if rng.IntN(4) == 0 {
			k.IdleVolts, k.DriveVolts, k.DriveHDiodeVolts, k.DriveLDiodeVolts = 2.3, 3.3, 0.1, 0 // a 3.3 V part
		}
		k.DriveHOhms, k.DriveLOhms = m.value([2]float64{5, 40}), m.value([2]float64{5, 40})
		limit := m.value([2]float64{30, 110})
		k.DriveLimitMinMA, k.DriveLimitMaxMA = limit, limit
		if rng.IntN(4) == 0 {
			k.DriveLimitMaxMA = limit + 30 // the middle counts
		}
	}
	for i := range h.Modules {
		switch rng.IntN(8) {
		case 0:
			h.Modules[i].GroundOffsetVolts = m.value([2]float64{0.05, 1})
		case 1:
			h.Modules[i].GroundOffsetVolts = -m.value([2]float64{0.5, 6})
		}
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatalf("%v", err)
	}
	var wires, resistors, joints []string
	for _, e := range c.Elements {
		switch e.Kind {
		case netlist.WireElement:
			wires = append(wires, e.Name)
			resistors = append(resistors, e.Name)
		case netlist.ContactElement, netlist.TerminatorElement, netlist.StrayElement:
			resistors = append(resistors, e.Name)
		case netlist.InputElement:
			joints = append(joints, e.Name)
		}
	}
	points := pointsOf(c)
	spot := func() *referenceSpot {
		switch rng.IntN(4) {
		case 0:
			return &referenceSpot{Point: pick(rng, points[:2])} // a rail
		case 1:
			return &referenceSpot{Point: pick(rng, points)}
		}
		return &referenceSpot{Element: pick(rng, wires), Fraction: m.value([2]float64{0.05, 0.95})}
	}
	for range changes {
		var ch referenceChange
		switch rng.IntN(10) {
		case 0:
			ch = referenceChange{Kind: "part", Element: "ground of " + pick(rng, h.Modules).Name}
		case 1:
			tr := pick(rng, c.Transceivers)
			ch = referenceChange{Kind: "stick", Element: c.Units[tr.Unit].Name + "/" + tr.Network}
		case 2:
			ch = referenceChange{Kind: "unpower", Element: pick(rng, h.Modules).Name}
		case 3, 4:
			ch = referenceChange{Kind: "part", Element: pick(rng, resistors)}
		case 5:
			ch = referenceChange{Kind: "insert", Element: pick(rng, resistors), Ohms: m.value([2]float64{1, 1e4})}
			if rng.IntN(4) == 0 {
				ch.Element = pick(rng, joints)
			}
		default:
			ch = referenceChange{Kind: "bridge", From: spot(), To: spot(), Ohms: m.value([2]float64{0.1, 1e4})}
			if rng.IntN(2) == 0 {
				ch.Ohms = m.value([2]float64{0.1, 10})
			}
			for ch.From.Element != "" && ch.From.Element == ch.To.Element {
				ch.To = spot()
			}
		}
		if slices.ContainsFunc(rc.Changes, func(other referenceChange) bool { return touches(other, ch) }) {
			continue
		}
		rc.Changes = append(rc.Changes, ch)
	}
	var plugs []string
	for _, s := range c.Sites {
		if s.Kind == netlist.InlineSite || s.Kind == netlist.ConnectorSite && s.Device != "" {
			plugs = append(plugs, s.Name)
		}
	}
	for senders := range 4 {
		set := busSet{}
		if senders == 2 {
			set.Unplugged = []string{pick(rng, plugs)}
		}
		for range senders {
			tr := pick(rng, c.Transceivers)
			p := busPlace{c.Units[tr.Unit].Name, tr.Network}
			if !slices.Contains(set.Senders, p) {
				set.Senders = append(set.Senders, p)
			}
		}
		for range 3 {
			set.Readings = append(set.Readings, referenceReading{pick(rng, points), pick(rng, points)})
		}
		set.Readings = append(set.Readings, referenceReading{pick(rng, points), netlist.GroundRail})
		rc.Sets = append(rc.Sets, set)
	}
	return rc
}

// changes translates names to the circuit's indices.
func (rc *busCase) changes(t fataler, c *netlist.Circuit) []solve.Change {
	t.Helper()
	element := func(name string) int {
		i, ok := c.Element(name)
		if !ok {
			t.Fatalf("no element %q", name)
		}
		return i
	}
	spot := func(s *referenceSpot) solve.Spot {
		if s.Element != "" {
			return solve.OnWire(element(s.Element), s.Fraction)
		}
		n, err := c.Point(s.Point)
		if err != nil {
			t.Fatalf("%v", err)
		}
		return solve.AtNode(n)
	}
	var out []solve.Change
	for _, ch := range rc.Changes {
		switch ch.Kind {
		case "part":
			out = append(out, solve.Part{Element: element(ch.Element)})
		case "insert":
			out = append(out, solve.Insert{Element: element(ch.Element), Ohms: ch.Ohms})
		case "bridge":
			out = append(out, solve.Bridge{From: spot(ch.From), To: spot(ch.To), Ohms: ch.Ohms})
		case "stick":
			module, network, _ := strings.Cut(ch.Element, "/")
			i, err := c.Transceiver(module, network)
			if err != nil {
				t.Fatalf("%v", err)
			}
			out = append(out, solve.Stick{Transceiver: i})
		case "unpower":
			out = append(out, solve.Unpower{Unit: slices.IndexFunc(c.Units, func(u netlist.Unit) bool { return u.Name == ch.Element })})
		default:
			t.Fatalf("unknown change %q", ch.Kind)
		}
	}
	return out
}

func busCases(t testing.TB, seed uint64, count int) []busCase {
	var out []busCase
	for i := range count {
		rc := randomBusCase(t, rand.New(rand.NewPCG(seed, uint64(i))), i%3)
		rc.Name = fmt.Sprintf("seed %d case %d", seed, i)
		out = append(out, rc)
	}
	return out
}

// ngspice solves directly in double precision and does not refine, see
// references: 1e-7 V measured there and here. 1e-12 A measured.
const (
	busVolts = 1e-6
	busAmps  = 1e-10
)

// compareBus holds package solve against what ngspice says.
func compareBus(t *testing.T, cases []busCase, answers [][]busAnswer) {
	t.Helper()
	if len(answers) != len(cases) {
		t.Fatalf("%d answers for %d cases", len(answers), len(cases))
	}
	var states tally
	worstVolts, worstAmps, worstMeter, numbers, atRest := 0.0, 0.0, 0.0, 0, 0
	for i, rc := range cases {
		c := circuitOf(t, rc.Harness)
		changes := rc.changes(t, c)
		for j, set := range rc.Sets {
			want := answers[i][j]
			if want.AtRest {
				atRest++
			}
			n := assemble(t, c, solve.Condition{Supply: solve.Idle, Unplugged: set.Unplugged}, changes...)
			var leads []solve.Leads
			for _, r := range set.Readings {
				leads = append(leads, solve.Leads{From: node(t, c, r.From), To: node(t, c, r.To)})
			}
			b := busOf(t, n, leads)
			var senders []int
			for _, s := range set.Senders {
				senders = append(senders, b.station(s.Module, s.Network))
			}
			where := fmt.Sprintf("%s, %v send, unplugged %v", rc.Name, set.Senders, set.Unplugged)
			hold := func(what string, got, want, tolerance float64, worst *float64) {
				numbers++
				*worst = math.Max(*worst, math.Abs(got-want))
				if !(math.Abs(got-want) <= tolerance) {
					t.Errorf("%s: %s %.12g, ngspice says %.12g (within %.0g)", where, what, got, want, tolerance)
				}
			}
			sent := b.send(senders...)
			states.add(sent)
			if len(want.Levels) != len(b.Stations) || len(want.Amps) != len(sent.Senders) || len(want.Meter) != len(leads) {
				t.Fatalf("%s: %d stations, %d senders, %d readings; ngspice has %d, %d, %d", where, len(b.Stations), len(sent.Senders), len(leads), len(want.Levels), len(want.Amps), len(want.Meter))
			}
			name := func(i int) string { return b.Stations[i].Name + "/" + b.Stations[i].Network }
			for s := range b.Stations {
				got, want := sent.At(s), want.Levels[name(s)]
				hold("H at "+name(s), got.High, want[0], busVolts, &worstVolts)
				hold("L at "+name(s), got.Low, want[1], busVolts, &worstVolts)
			}
			for k, s := range sent.Senders {
				want, ok := want.Amps[name(s)]
				if !ok {
					t.Errorf("%s: %s sends, in ngspice it does not", where, name(s))
				}
				hold("A up of "+name(s), sent.UpAmps[k], want[0], busAmps, &worstAmps)
				hold("A down of "+name(s), sent.DownAmps[k], want[1], busAmps, &worstAmps)
			}
			for k := range leads {
				got, err := b.Read(k, solve.DefaultMeter(), senders...)
				if err != nil {
					t.Fatal(err)
				}
				hold(fmt.Sprintf("meter %v", set.Readings[k]), got.Number, want.Meter[k], busVolts, &worstMeter)
			}
		}
	}
	if !states.full() {
		t.Error("the cases do not cover all states of a switch")
	}
	t.Logf("ngspice: %d numbers; worst difference %.2g V of levels, %.2g A, %.2g V of readings with a meter; %v; %d of %d sets run until at rest", numbers, worstVolts, worstAmps, worstMeter, states, atRest, 4*len(cases))
}

func askBus(t *testing.T, cases []busCase) [][]busAnswer {
	t.Helper()
	reference{tool: "ngspice"}.need(t)
	var answers [][]busAnswer
	script(t, "bus", cases, &answers)
	return answers
}

// The bus at work against committed answers of ngspice, and against ngspice itself
// where it is installed: it still gives the committed answers, and it agrees on
// harnesses that are not among the committed ones. Random harnesses, healthy and
// with one or two changes, none to three senders, with and without a meter.
func TestReferenceBus(t *testing.T) {
	path := filepath.Join(referenceDir, "bus.json")
	if *update {
		t.Setenv("OHMLOOM_LIVE", "required")
		f := busFile{Command: "go test ./solve -run TestReferenceBus -update", Seed: referenceSeed, Cases: busCases(t, referenceSeed+4, 24)}
		script(t, "versions", nil, &f.Versions)
		f.Answers = askBus(t, f.Cases)
		var b bytes.Buffer
		fmt.Fprintf(&b, "{\n\"Command\": %q,\n\"Seed\": %d,\n\"Versions\": %s,\n\"Cases\": [", f.Command, f.Seed, terse(t, f.Versions))
		for i, c := range f.Cases {
			fmt.Fprintf(&b, "%s\n%s", separator(i), terse(t, c))
		}
		b.WriteString("\n],\n\"Answers\": [")
		for i, a := range f.Answers {
			raw, err := json.Marshal(a)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%s\n%s", separator(i), raw)
		}
		b.WriteString("\n]\n}\n")
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var f busFile
	if err := json.Unmarshal(raw, &f); err != nil {
		t.Fatal(err)
	}
	t.Run("committed", func(t *testing.T) { compareBus(t, f.Cases, f.Answers) })
	t.Run("live", func(t *testing.T) { compareBus(t, f.Cases, askBus(t, f.Cases)) })
	t.Run("fresh", func(t *testing.T) {
		fresh := busCases(t, liveSeed+4, 30) // three sets of these make ngspice go round in circles
		compareBus(t, fresh, askBus(t, fresh))
	})
}

// separator goes before element i of a list.
func separator(i int) string {
	if i == 0 {
		return ""
	}
	return ","
}
