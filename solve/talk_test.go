package solve_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func talkOf(t testing.TB, b *solve.Bus) *solve.Talk {
	t.Helper()
	talk, err := b.Talk()
	if err != nil {
		t.Fatal(err)
	}
	return talk
}

// matrix writes who hears whom, a row for each sender: y, m for marginal, n.
func matrix(talk *solve.Talk) string {
	var rows []string
	for s := range talk.Stations {
		row := ""
		for r := range talk.Stations {
			if s == r {
				row += "-"
			} else {
				row += talk.Hears(s, r).String()[:1]
			}
		}
		rows = append(rows, row)
	}
	return strings.Join(rows, " ")
}

const (
	allTalk = "-yyy y-yy yy-y yyy-"
	noTalk  = "-nnn n-nn nn-n nnn-"
)

// plainFour is four modules of 15 kΩ inputs on a trunk of hardly any ohms, 120 Ω
// at both ends.
func plainFour() bus {
	return bus{modules: 4, kind: fifteen, terminators: []float64{120, 120}, wireOhms: 1e-4, contactOhms: 1e-4}
}

// Who can talk to whom on a bus of four with a fault, worked by hand. The sender
// is 3.6 V behind 2·24 Ω (4.3 V on H, 0.7 V on L, at most 70 mA); each input
// 15 kΩ to 2.5 V; thresholds 0.9 and 0.5 V (data sheet SLLS788 table 3), common mode −12
// to 12 V (ISO 11898-2:2016, from memory). What is not in the model: error
// counters, time-outs of a stuck sender, and receivers that are better than the
// standard asks, which are the m.
func TestTalkByHand(t *testing.T) {
	h := plainFour().harness()
	c := circuitOf(t, h)
	part := func(name string) solve.Change { return solve.Part{Element: elementOf(t, c, name)} }
	short := func(from, to string) solve.Change {
		return solve.Bridge{From: solve.AtNode(node(t, c, from)), To: solve.AtNode(node(t, c, to))}
	}
	// parallel gives the ohms of resistances side by side.
	parallel := func(ohms ...float64) float64 {
		sum := 0.0
		for _, r := range ohms {
			sum += 1 / r
		}
		return 1 / sum
	}
	// driven is the difference that a sender makes of a load.
	driven := func(load float64) float64 { return 3.6 * load / (load + 48) }
	bus60 := parallel(60, 30e3/4)

	type margin struct {
		from, at int // modules from 1 on
		volts    float64
	}
	for _, test := range []struct {
		name    string
		supply  float64
		changes []solve.Change
		want    string
		groups  string
		margins []margin
		quiet   float64 // difference of the recessive bus at unit1
		rough   bool    // the margins by hand leave the inputs out
	}{
		{name: "healthy", want: allTalk, groups: "[[0 1 2 3]]", margins: []margin{{1, 1, driven(bus60) - 0.9}, {1, 4, driven(bus60) - 0.9}, {4, 2, driven(bus60) - 0.9}}},
		{
			// Its H hangs on its own 2.5 V, so it still sees L go down to 1.5
			// V, by 0.1 V more than it must: it hears the others. They do not
			// hear it: its L switch finds a bus that follows as a whole, H
			// behind 60 Ω with three inputs at it. Nobody acknowledges it.
			name: "H open in the stub of unit3", changes: []solve.Change{part("pair stubX3 H")},
			want: "-yyy y-yy nn-n yyy-", groups: "[[0 1 3]]",
			margins: []margin{{1, 3, 2.5 - (2.5 - driven(bus60)/2) - 0.9}, {3, 1, 60*(2.5-0.7)*(1-24/(24+parallel(3750, 5060)))/5060 - 0.9}},
		},
		{
			// The same the other way round.
			name: "L open in the stub of unit3", changes: []solve.Change{part("pair stubX3 L")},
			want: "-yyy y-yy nn-n yyy-", groups: "[[0 1 3]]",
			margins: []margin{{1, 3, driven(bus60)/2 - 0.9}},
		},
		{
			name: "both open in the stub of unit3", changes: []solve.Change{part("pair stubX3 H"), part("pair stubX3 L")},
			want: "-yny y-ny nn-n yyn-", groups: "[[0 1 3]]",
			margins: []margin{{1, 3, -0.9}, {3, 1, -0.9}, {3, 3, driven(30e3) - 0.9}},
		},
		{
			// No difference for anybody to see, or to send.
			name: "H shorted to L", changes: []solve.Change{short("S2.H", "S2.L")},
			want: noTalk, groups: "[]", margins: []margin{{1, 4, -0.9}},
		},
		{
			// Nobody sees a recessive bit.
			name: "unit2 sends dominant all the time", changes: []solve.Change{solve.Stick{Transceiver: 1}},
			want: noTalk, groups: "[]", quiet: driven(bus60),
		},
		{
			// H stays at 0 V and L only comes nearer to it: no dominant bit.
			name: "H to ground", changes: []solve.Change{short("S2.H", "ground")},
			want: noTalk, groups: "[]", quiet: -2.5 * 60 / 3810, margins: []margin{{1, 2, -2.5*60/3810 - 0.9}},
		},
		{
			// H alone makes the difference, and more of it than usual; quiet, it
			// follows L by 60 Ω. The network works on.
			name: "L to ground", changes: []solve.Change{short("S2.L", "ground")},
			want: allTalk, groups: "[[0 1 2 3]]", quiet: 2.5 * 60 / 3810,
			margins: []margin{{1, 4, (4.3/24+2.5/3750)/(1/24.0+1/60.0+1/3750.0) - 0.9}},
		},
		{
			// L alone, at its limit of 70 mA; the common mode of 8.9 V is one
			// that receivers stand. The network works on.
			name: "H to a supply of 11 V", supply: 11, changes: []solve.Change{short("S2.H", "supply")},
			want: allTalk, groups: "[[0 1 2 3]]", quiet: (11 - 2.5) * 60 / 3810,
			margins: []margin{{1, 4, 11 - (11.0/60-0.070+2.5/3750)/(1/60.0+1/3750.0) - 0.9}},
		},
		{
			// The same, but quiet both lie above 12 V, where a receiver may
			// hear or not: nothing is guaranteed.
			name: "H to a supply of 13 V", supply: 13, changes: []solve.Change{short("S2.H", "supply")},
			want: "-mmm m-mm mm-m mmm-", groups: "[]", quiet: (13 - 2.5) * 60 / 3810,
			margins: []margin{{1, 4, 13 - (13.0/60-0.070+2.5/3750)/(1/60.0+1/3750.0) - 0.9}},
		},
		{
			// The L switch cannot pull the rail down and the H switch is
			// blocked.
			name: "L to a supply of 11 V", supply: 11, changes: []solve.Change{short("S2.L", "supply")},
			want: noTalk, groups: "[]", quiet: -(11 - 2.5) * 60 / 3810, margins: []margin{{1, 4, -(11-2.5)*60/3810 - 0.9}},
		},
		{
			name: "unit2 without supply", changes: []solve.Change{solve.Unpower{Unit: 1}},
			want: "-nyy n-nn yn-y yny-", groups: "[[0 2 3]]", margins: []margin{{1, 4, driven(bus60) - 0.9}},
		},
		{
			name: "unit2 without ground", changes: []solve.Change{part("ground of unit2")},
			want: "-nyy n-nn yn-y yny-", groups: "[[0 2 3]]",
		},
		{
			// 120 Ω and two modules on either side: higher levels than before,
			// and both sides talk on among themselves.
			name: "trunk open in both conductors", changes: []solve.Change{part("pair trunkS3 H"), part("pair trunkS3 L")},
			want: "-ynn y-nn nn-y nny-", groups: "[[0 1] [2 3]]",
			margins: []margin{{1, 2, driven(parallel(120, 15e3)) - 0.9}, {4, 3, driven(parallel(120, 15e3)) - 0.9}, {1, 3, -0.9}},
		},
		{
			// L goes down on the far side too and takes H with it, by 120 Ω
			// and two inputs.
			name: "trunk open in H", rough: true, changes: []solve.Change{part("pair trunkS3 H")},
			want: "-ynn y-nn nn-y nny-", groups: "[[0 1] [2 3]]",
			margins: []margin{{1, 2, driven(parallel(120, 15e3)) - 0.9}, {1, 3, 1.28*120/7.62e3 - 0.9}},
		},
		{
			name: "a joint of 100 Ω in H of the trunk", rough: true, changes: []solve.Change{solve.Insert{Element: elementOf(t, c, "pair trunkS3 H"), Ohms: 100}},
			want: allTalk, groups: "[[0 1 2 3]]",
			margins: []margin{{1, 2, driven(parallel(120, 220)) - 0.9}, {1, 3, driven(parallel(120, 220))*120/220 - 0.9}},
		},
		{
			// 0.68 V on the far side: between the thresholds.
			name: "a joint of 300 Ω in H of the trunk", rough: true, changes: []solve.Change{solve.Insert{Element: elementOf(t, c, "pair trunkS3 H"), Ohms: 300}},
			want: "-ymm y-mm mm-y mmy-", groups: "[[0 1] [2 3]]",
			margins: []margin{{1, 2, driven(parallel(120, 420)) - 0.9}, {1, 3, driven(parallel(120, 420))*120/420 - 0.9}},
		},
		{
			name: "a joint of 1 kΩ in L of the trunk", rough: true, changes: []solve.Change{solve.Insert{Element: elementOf(t, c, "pair trunkS3 L"), Ohms: 1000}},
			want: "-ynn y-nn nn-y nny-", groups: "[[0 1] [2 3]]",
			margins: []margin{{1, 2, driven(parallel(120, 1120)) - 0.9}, {1, 3, driven(parallel(120, 1120))*120/1120 - 0.9}},
		},
		{
			name: "one terminator missing", changes: []solve.Change{part("terminator T1")},
			want: allTalk, groups: "[[0 1 2 3]]", margins: []margin{{1, 4, driven(parallel(120, 30e3/4)) - 0.9}},
		},
		{
			// 0.54 V: between the thresholds.
			name: "H to L by 10 Ω", changes: []solve.Change{solve.Bridge{From: solve.AtNode(node(t, c, "S2.H")), To: solve.AtNode(node(t, c, "S2.L")), Ohms: 10}},
			want: "-mmm m-mm mm-m mmm-", groups: "[]", margins: []margin{{1, 4, driven(parallel(bus60, 10)) - 0.9}},
		},
		{
			// Its own view of the others lies at −12.5 V, theirs of it at 17.5.
			name: "ground of unit2 15 V above", changes: []solve.Change{solve.Shift{Unit: 1, Volts: 15}},
			want: "-myy m-mm ym-y ymy-", groups: "[[0 2 3]]", margins: []margin{{1, 4, driven(bus60) - 0.9}, {1, 2, driven(bus60) - 0.9}},
		},
		{
			name: "ground of unit2 5 V below", changes: []solve.Change{solve.Shift{Unit: 1, Volts: -5}},
			want: allTalk, groups: "[[0 1 2 3]]", margins: []margin{{1, 2, driven(bus60) - 0.9}},
		},
	} {
		own := *h
		if test.supply != 0 {
			own.Supply = &netlist.Supply{Volts: test.supply}
		}
		talk := talkOf(t, workingBus(t, &own, test.changes...).Bus)
		if got := matrix(talk); got != test.want {
			t.Errorf("%s: %s, want %s", test.name, got, test.want)
		}
		if got := fmt.Sprint(talk.Groups("bus")); got != test.groups {
			t.Errorf("%s: groups %s, want %s", test.name, got, test.groups)
		}
		for _, m := range test.margins {
			within := 1e-3
			if test.rough {
				within = 0.015
			}
			if got := talk.MarginVolts[m.from-1][m.at-1]; math.Abs(got-m.volts) > within {
				t.Errorf("%s: unit%d sends, margin at unit%d %.4f V, by hand %.4f V", test.name, m.from, m.at, got, m.volts)
			}
		}
		if got := 0.5 - talk.RecessiveMarginVolts[0]; math.Abs(got-test.quiet) > 0.005 {
			t.Errorf("%s: %.4f V between the conductors of the quiet bus, by hand %.4f V", test.name, got, test.quiet)
		}
		for s := range talk.Stations {
			heard := slices.ContainsFunc([]int{0, 1, 2, 3}, func(r int) bool { return talk.Hears(s, r) != solve.No })
			if (talk.Acknowledged[s] != solve.No) != heard {
				t.Errorf("%s: %s acknowledged: %v, heard by somebody: %v", test.name, talk.Stations[s].Name, talk.Acknowledged[s], heard)
			}
			for r := range talk.Stations {
				if both := min(talk.Hears(s, r), talk.Hears(r, s)); talk.Both(s, r) != both {
					t.Errorf("%s: Both(%d, %d) is %v", test.name, s, r, talk.Both(s, r))
				}
			}
		}
	}
}

// A module with the terminator in it and H open in its stub: the terminator ties
// its H to L, so unlike one without it hears nothing either.
func TestTalkOfATerminatedModuleWithOpenConductor(t *testing.T) {
	h := plainFour().harness()
	h.Terminators[1].At = "unit4"
	c := circuitOf(t, h)
	talk := talkOf(t, workingBus(t, h, solve.Part{Element: elementOf(t, c, "pair stubX4 H")}).Bus)
	if got, want := matrix(talk), "-yyn y-yn yy-n nnn-"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	// Its H is 15 kΩ away from 2.5 V and 120 Ω from L at 1.2 V.
	if got, want := talk.MarginVolts[0][3], 1.28*120/15.12e3-0.9; math.Abs(got-want) > 1e-3 {
		t.Errorf("margin %.4f V, by hand %.4f V", got, want)
	}
	// It sees its own bits all the same.
	if talk.Dominant[3][3] != solve.Yes || talk.Recessive[3] != solve.Yes {
		t.Errorf("its own bits: %v, %v", talk.Dominant[3][3], talk.Recessive[3])
	}
}

// A frame needs somebody to acknowledge it: of two modules, the one that is left
// has nobody.
func TestTalkNeedsAcknowledge(t *testing.T) {
	two := plainFour()
	two.modules = 2
	h := two.harness()
	talk := talkOf(t, workingBus(t, h).Bus)
	if matrix(talk) != "-y y-" || talk.Acknowledged[0] != solve.Yes || talk.Acknowledged[1] != solve.Yes {
		t.Errorf("healthy: %s, acknowledged %v", matrix(talk), talk.Acknowledged)
	}
	talk = talkOf(t, workingBus(t, h, solve.Unpower{Unit: 1}).Bus)
	if matrix(talk) != "-n n-" || talk.Acknowledged[0] != solve.No || talk.Acknowledged[1] != solve.No {
		t.Errorf("one without supply: %s, acknowledged %v", matrix(talk), talk.Acknowledged)
	}
	// It does send, and sees its own bits.
	if talk.Dominant[0][0] != solve.Yes {
		t.Errorf("the one that is left sees its own dominant bits: %v", talk.Dominant[0][0])
	}
	// With H open in one stub the far one hears, but its acknowledge does not
	// come through: no frame comes to an end.
	c := circuitOf(t, h)
	talk = talkOf(t, workingBus(t, h, solve.Part{Element: elementOf(t, c, "pair stubX2 H")}).Bus)
	if matrix(talk) != "-n n-" || talk.Dominant[0][1] != solve.Yes || talk.Acknowledged[0] != solve.No {
		t.Errorf("H open in a stub: %s, dominant %v, acknowledged %v", matrix(talk), talk.Dominant, talk.Acknowledged)
	}
}

// twoNetworks has a gateway between a drive network with a service connector and
// a body network, two further modules on each.
func twoNetworks() *netlist.Harness {
	h := &netlist.Harness{
		Name: "two networks", Networks: []netlist.Network{{Name: "drive", Layer: "high-speed"}, {Name: "body", Layer: "high-speed"}},
		Transceivers: []netlist.TransceiverKind{fifteen},
	}
	for _, n := range []string{"drive", "body"} {
		s := "S-" + n
		h.Splices = append(h.Splices, netlist.Splice{Name: s, Network: n})
		add := func(x string) {
			h.Connectors = append(h.Connectors, netlist.Connector{Name: x, Network: n, ContactOhms: 0.005})
			h.Pairs = append(h.Pairs, netlist.Pair{Name: "P-" + x, Network: n, From: []string{s}, To: []string{x}, Ohms: 0.1})
		}
		for i := 1; i <= 2; i++ {
			x := fmt.Sprintf("X-%s%d", n, i)
			add(x)
			h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("%s%d", n, i), Connectors: []string{x}, Transceiver: "fifteen"})
			h.Terminators = append(h.Terminators, netlist.Terminator{Name: "T-" + x, At: fmt.Sprintf("%s%d", n, i), Ohms: 120})
		}
		add("X-gate-" + n)
		if n == "drive" {
			add("X-service")
		}
	}
	h.Modules = append(h.Modules, netlist.Module{Name: "gate", Connectors: []string{"X-gate-drive", "X-gate-body"}, Transceiver: "fifteen"})
	return h
}

// What answers a scan tool: directly, and through a gateway.
func TestAnswers(t *testing.T) {
	h := twoNetworks()
	c := circuitOf(t, h)
	unit := func(name string) int {
		return slices.IndexFunc(c.Units, func(u netlist.Unit) bool { return u.Name == name })
	}
	part := func(names ...string) (out []solve.Change) {
		for _, n := range names {
			out = append(out, solve.Part{Element: elementOf(t, c, n)})
		}
		return out
	}
	gate, err := c.Transceiver("gate", "body")
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name    string
		changes []solve.Change
		silent  string
	}{
		{"healthy", nil, ""},
		{"gateway without supply", []solve.Change{solve.Unpower{Unit: unit("gate")}}, "body1 body2 gate"},
		{"gateway cut off from the body network", part("pair P-X-gate-body H", "pair P-X-gate-body L"), "body1 body2"},
		{"gateway cut off from the drive network", part("pair P-X-gate-drive H", "pair P-X-gate-drive L"), "body1 body2 gate"},
		{"body network shorted", []solve.Change{solve.Bridge{From: solve.AtNode(node(t, c, "S-body.H")), To: solve.AtNode(node(t, c, "S-body.L"))}}, "body1 body2"},
		{"gateway holds the body network dominant", []solve.Change{solve.Stick{Transceiver: gate}}, "body1 body2"},
		{"drive network shorted", []solve.Change{solve.Bridge{From: solve.AtNode(node(t, c, "S-drive.H")), To: solve.AtNode(node(t, c, "S-drive.L"))}}, "body1 body2 drive1 drive2 gate"},
		{"drive1 without supply", []solve.Change{solve.Unpower{Unit: unit("drive1")}}, "drive1"},
		{"service connector without H", part("pair P-X-service H"), "body1 body2 drive1 drive2 gate"},
		// It hears the tool (see TestTalkByHand) and cannot answer.
		{"gateway with H open on the drive network", part("pair P-X-gate-drive H"), "body1 body2 gate"},
		{"drive1 with H open", part("pair P-X-drive1 H"), "drive1"},
	} {
		b := busOf(t, assemble(t, c, solve.Condition{Supply: solve.Idle}, test.changes...), nil, solve.Tool{Site: "X-service"})
		var silent []string
		for i, a := range talkOf(t, b.Bus).Answers(len(c.Units)) {
			switch a {
			case solve.No:
				silent = append(silent, c.Units[i].Name)
			case solve.Marginal:
				t.Errorf("%s: %s answers marginally", test.name, c.Units[i].Name)
			}
		}
		slices.Sort(silent)
		if got := strings.Join(silent, " "); got != test.silent {
			t.Errorf("%s: silent are %q, want %q", test.name, got, test.silent)
		}
	}
	// A tool takes part on each network that its connector carries whole, and
	// on no other.
	n := assemble(t, c, solve.Condition{Supply: solve.Idle})
	if b := busOf(t, n, nil, solve.Tool{Site: "X-service"}); len(b.Stations) != len(c.Transceivers)+1 || b.Stations[len(b.Stations)-1].Network != "drive" {
		t.Errorf("stations %v", b.Stations)
	}
}
