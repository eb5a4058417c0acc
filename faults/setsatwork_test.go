package faults

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// preparedRanking is a ranking with everything ready for sets of faults.
func preparedRanking(t *testing.T, c *netlist.Circuit, list []*Fault, readings []Reading) *ranking {
	t.Helper()
	r := begun(t, NewMatcher(c, list, DefaultInstrument()), readings, MatchOptions{})
	if err := r.prepareSearch(); err != nil {
		t.Fatal(err)
	}
	var err error
	if r.search.work, err = r.hearSets(); err != nil {
		t.Fatal(err)
	}
	return r
}

// What pairs of faults do to a bus at work, seen from ports, against nets assembled with
// both.
func TestPairsAtWorkAgreeWithNets(t *testing.T) {
	for _, tt := range []struct {
		demo   string
		probes []Probe
	}{
		{demo: "bench"}, {demo: "orchard"},
	} {
		c := loadDemo(t, tt.demo)
		list := Catalogue(c)
		at := func(place, between string) Probe { return probeAt(t, c, solve.Volts, place, between) }
		var probes []Probe
		if tt.demo == "bench" {
			probes = []Probe{
				at("X1", "H-ground").WithTraffic(), at("X4", "L-ground").WithTraffic(), at("X2", "H-L").WithSender("right"), at("X3", "L-ground").WithSender("left"),
			}
		} else {
			probes = []Probe{at("X2", "drive.H-ground").WithTraffic(), at("X14/b", "work.L-ground").WithTraffic(), at("X1", "drive.H-drive.L").WithSender("gateway")}
		}
		readings := []Reading{{probeAt(t, c, solve.Ohms, probes[0].Site, probes[len(probes)-1].Between), solve.Value{Number: 60}}}
		if tt.demo == "bench" {
			readings[0].Probe = probeAt(t, c, solve.Ohms, "X1", "H-L")
		}
		for _, p := range probes {
			readings = append(readings, Reading{p, solve.Value{Number: 2.5}})
		}
		h := preparedRanking(t, c, list, readings).search.work
		rng := rand.New(rand.NewPCG(61, 62))
		fast, slow, moved, worst := 0, 0, 0, 0.0
		set := h.reader()
		for range 250 {
			a, b := rng.IntN(len(list)), rng.IntN(len(list))
			if list[a].Part == list[b].Part {
				continue
			}
			members, ohms := []int{a, b}, []float64{0, 0}
			draw := func() {
				for k, i := range members {
					if f := list[i].Free; f != nil {
						ohms[k] = f.Min * math.Pow(f.Max/f.Min, rng.Float64())
					}
				}
			}
			set.load(members)
			draw()
			if _, err := set.read(ohms); err != nil {
				t.Fatal(err)
			}
			draw() // nothing is left of the ohms before
			got, err := set.read(ohms)
			if err != nil {
				t.Fatal(err)
			}
			if set.slow {
				slow++
			} else {
				fast++
			}
			n, err := solve.Assemble(c, probes[0].Condition, nil, append(list[a].Changes(ohms[0], 0.5), list[b].Changes(ohms[1], 0.5)...)...)
			if err != nil {
				t.Fatal(err)
			}
			var leads []solve.Leads
			for _, p := range probes {
				leads = append(leads, solve.Leads{From: p.From, To: p.To})
			}
			bus, err := n.Bus(leads)
			if err != nil {
				t.Fatal(err)
			}
			for i := range probes {
				want, err := h.p.read(bus, i, i)
				if err != nil {
					t.Fatal(err)
				}
				d := got[i].(*drivenReading)
				off := max(math.Abs(d.quiet-want.quiet), math.Abs(d.sent-want.sent))
				worst = max(worst, off)
				if off > 2e-3 { // what is cut off reads a quarter of a millivolt from ports
					t.Errorf("%s, %s and %s with %.3g: %s: %.6f and %.6f V, by a net %.6f and %.6f V (slow %v)",
						tt.demo, list[a].Name, list[b].Name, ohms, probes[i], d.quiet, d.sent, want.quiet, want.sent, set.slow)
				}
				if math.Abs(want.value-h.sound.volts[i]) > 0.01 {
					moved++
				}
			}
		}
		t.Logf("%s: %d from ports, %d from nets, %d readings moved, at most %.2g V apart", tt.demo, fast, slow, moved, worst)
		if fast < 100 || moved < 100 {
			t.Errorf("%s: %d sets from ports, %d readings moved; the test checks little", tt.demo, fast, moved)
		}
	}
}

// A pair's free values averaged by readings at rest and at work together, against a grid of
// places each of which is judged in full from a net of its own.
func TestPairsAtWorkAreAveraged(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	at := func(place, between string) Probe { return probeAt(t, c, solve.Volts, place, between) }
	probes := []Probe{
		probeAt(t, c, solve.Ohms, "X1", "H-L"), at("X1", "H-ground").WithTraffic(), at("X4", "L-ground").WithTraffic(), at("X4", "H-L").WithSender("left"),
	}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	index := func(name string) int {
		for i, f := range list {
			if f.Name == name {
				return i
			}
		}
		t.Fatalf("no fault %q", name)
		return -1
	}
	for _, tt := range []struct {
		first, second string
		ohms          []float64
		steps         []int
		within        float64
	}{
		// At rest the leak's ohms hardly show, with the other they do.
		{"leak H to ground at connector X1", "open L in pair P4", []float64{2000, 0}, []int{400, 1}, 0.05},
		{"high-resistance joint H in pair P2", "leak L to supply at connector X4", []float64{300, 3000}, []int{70, 70}, 0.5}, // tolerances are those of the best place all over
		// What two hard shorts read hangs on how their ohms compare.
		{"short H to supply in pair P2", "short H to ground in pair P4", []float64{0.084, 0.055}, []int{80, 80}, 0.15},
		// By nets: a module without supply.
		{"high-resistance joint H in pair P2", "module right without supply", []float64{300, 0}, []int{400, 1}, 0.05},
	} {
		members := []int{index(tt.first), index(tt.second)}
		var set []*Fault
		if members[0] > members[1] {
			members[0], members[1] = members[1], members[0]
			tt.ohms[0], tt.ohms[1] = tt.ohms[1], tt.ohms[0]
			tt.steps[0], tt.steps[1] = tt.steps[1], tt.steps[0]
		}
		for _, i := range members {
			set = append(set, list[i])
		}
		read := func(ohms []float64) []predicted {
			// The one with free ohms first.
			a, b := set[0], set[1]
			if a.Free == nil {
				a, b, ohms = b, a, []float64{ohms[1], ohms[0]}
			}
			got, err := fromNets(p, []*Fault{a, b}, ohms, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			return got
		}
		var readings []Reading
		for i, r := range read(tt.ohms) {
			readings = append(readings, Reading{probes[i], r.Value()})
		}
		r := preparedRanking(t, c, list, readings)
		s := r.search
		s.floor = math.Inf(-1)
		w := s.worker()
		x := w.integrate(&found{members: members}, math.Inf(-1), nil)
		s.work.integrate(w, &x, math.Inf(-1))
		if x.err != nil || x.joint == nil {
			t.Fatal(x.err, x.joint)
		}
		want := math.Inf(-1)
		for a := range tt.steps[0] {
			for b := range tt.steps[1] {
				share := func(k, of int) float64 { return (float64(k) + 0.5) / float64(of) }
				ohms := []float64{set[0].at(share(a, tt.steps[0])), set[1].at(share(b, tt.steps[1]))}
				want = logAdd(want, r.e.judge(read(ohms)).log)
			}
		}
		want -= math.Log(float64(tt.steps[0] * tt.steps[1]))
		t.Logf("%s and %s: %.3f, by a grid %.3f; best %.3g Ω, %d samples", tt.first, tt.second, x.evidence, want, x.ohms, len(x.samples))
		if math.Abs(x.evidence-want) > tt.within {
			t.Errorf("%s and %s: log of the evidence %.3f, by a grid %.3f", tt.first, tt.second, x.evidence, want)
		}
		// As long as it is of account it is not left out.
		again := w.integrate(&found{members: members}, math.Inf(-1), nil)
		again.worth = s.work.glance(w, &again.found)
		w.load(members...)
		if s.work.integrate(w, &again, x.all()); math.Abs(again.evidence-x.evidence) > 0.1 {
			t.Errorf("%s and %s: log of the evidence %.3f, where that is what it must come to %.3f", tt.first, tt.second, x.evidence, again.evidence)
		}
		// At its best place it is judged as a net of its own is, the supply's tolerance and all.
		byNet := r.e.judge(read(x.ohms))
		for i := range readings {
			if got, want := math.Sqrt(x.joint.covariance.At(i, i)), math.Sqrt(byNet.covariance.At(i, i)); math.Abs(got-want) > 0.05*want {
				t.Errorf("%s and %s: reading %d is uncertain by %.4g, by a net %.4g", tt.first, tt.second, i+1, got, want)
			}
		}
		sum := 0.0
		for _, s := range x.samples {
			sum += s.weight
		}
		if math.Abs(sum-1) > 1e-3 {
			t.Errorf("%s and %s: samples add up to %v", tt.first, tt.second, sum)
		}
	}
}

// Two connectors apart that take the ground from a module only together: it sends no more.
func TestConnectorsApartTakeTheGroundTogether(t *testing.T) {
	c := loadLayout(t, "../testdata/layouts/fleet-60.yaml")
	var list []*Fault
	for _, f := range Catalogue(c) {
		if f.Kind == Unplugged {
			list = append(list, f)
		}
	}
	rest := Reading{Probes(c, Selection{})[0], solve.Value{Number: 60}}
	tried := 0
	for u := range c.Units {
		unit := &c.Units[u]
		if len(unit.Inputs) == 0 || len(unit.Sites) != 2 {
			continue
		}
		var members []int
		for i, f := range list {
			for _, s := range unit.Sites {
				if f.Part == c.Sites[s].Name {
					members = append(members, i)
				}
			}
		}
		levels := Probes(c, Selection{Quantity: solve.Volts, Sender: unit.Name})
		if len(members) != 2 || len(levels) == 0 || tried == 2 {
			continue
		}
		tried++
		// One that is powered would have its share of the time, though nobody hears it.
		probe := levels[0].WithSender("").WithTraffic()
		h := preparedRanking(t, c, list, []Reading{rest, {probe, solve.Value{Number: 2.5}}}).search.work
		set := h.reader()
		for _, some := range [][]int{members[:1], members[1:], members} {
			set.load(some)
			got, err := set.read(make([]float64, len(some)))
			if err != nil {
				t.Fatal(err)
			}
			var changes []solve.Change
			for _, i := range some {
				changes = append(changes, list[i].Changes(0, 0.5)...)
			}
			n, err := solve.Assemble(c, probe.Condition, nil, changes...)
			if err != nil {
				t.Fatal(err)
			}
			bus, err := n.Bus([]solve.Leads{{From: probe.From, To: probe.To}})
			if err != nil {
				t.Fatal(err)
			}
			want, err := h.p.read(bus, 0, 0)
			if err != nil {
				t.Fatal(err)
			}
			if d := got[0].(*drivenReading); math.Abs(d.sent-want.sent) > 1e-3 {
				t.Errorf("%s with %d connectors apart: %s is %v V, by a net %v V", unit.Name, len(some), probe, d.sent, want.sent)
			}
		}
	}
	if tried == 0 {
		t.Error("no module has two connectors")
	}
}

// A glance at a set that meets the readings at work exactly may not take it to be much worse
// than it is, nor to be better than what meets them exactly.
func TestGlanceLeavesOpenWhatExplains(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	var probes []Probe
	for _, place := range []string{"X1", "X2", "X3", "X4"} {
		for _, sender := range []string{"left", "middle", "right"} {
			probes = append(probes, probeAt(t, c, solve.Volts, place, "H-L").WithSender(sender))
		}
		probes = append(probes, probeAt(t, c, solve.Volts, place, "L-ground").WithTraffic())
	}
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}}
	for _, p := range probes {
		readings = append(readings, Reading{p, solve.Value{Number: 2}})
	}
	r := preparedRanking(t, c, list, readings)
	h, w := r.search.work, r.search.worker()
	if h.peak < 2*roughAtWork {
		t.Fatalf("readings that are met exactly come to %.1f; the test checks little", h.peak)
	}
	rng := rand.New(rand.NewPCG(71, 72))
	none := workLook{volts: make([]float64, len(probes)), lift: make([]float64, len(probes))}
	changing := 0
	for n := range 120 {
		var members []int
		var ohms []float64
		for len(members) < 2+n%2 {
			i := rng.IntN(len(list))
			if slices.ContainsFunc(members, func(k int) bool { return list[k].Part == list[i].Part }) {
				continue
			}
			members, ohms = append(members, i), append(ohms, 0)
			if f := list[i].Free; f != nil {
				ohms[len(ohms)-1] = f.Min * math.Pow(f.Max/f.Min, rng.Float64())
			}
		}
		set := h.reader()
		set.load(members)
		if set.slow && len(members) == 2 {
			continue // what they do is taken to add up
		}
		got, err := set.read(ohms)
		if err != nil {
			t.Fatal(err)
		}
		for k, x := range got {
			r.e.y[h.at[k]] = x.Value().Number
		}
		x := &found{members: members}
		if len(members) == 2 {
			x.worth = h.hint(members[0], members[1])
		}
		if h.explains([]workLook{none}, []workLook{{}}, false) < h.peak-roughAtWork {
			changing++
		}
		if worth := h.glance(w, x); worth < h.peak-roughAtWork || worth > h.peak+1e-9 {
			var names []string
			for _, i := range members {
				names = append(names, list[i].Name)
			}
			t.Errorf("%s, %.3g Ω: a glance gives %.2f where the readings are met exactly, which is %.2f", strings.Join(names, " and "), ohms, worth, h.peak)
		}
	}
	if changing < 40 {
		t.Errorf("%d sets change what is read; the test checks little", changing)
	}
}

// A network that no module is on: what is read with traffic is read at nothing, and the
// readings at rest are matched as ever.
func TestTrafficWhereNobodySends(t *testing.T) {
	h, err := netfile.Parse("nobody.yaml", []byte(`harness: two plugs
note: invented
networks: [{name: bus, layer: high-speed}]
connectors: [{name: X1, reach_min: 1}, {name: X2, reach_min: 2}]
terminators: [{name: T1, at: X2, ohms: 120, tolerance_pct: 1}]
pairs: [{name: P1, from: X1, to: X2, length_m: 2, section_mm2: 0.35}]
`))
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	list := Catalogue(c)
	at := probeAt(t, c, solve.Volts, "X1", "H-L").WithTraffic()
	for _, readings := range [][]Reading{
		{{at, solve.Value{}}},
		{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{OL: true}}, {at, solve.Value{}}},
	} {
		m, err := NewMatcher(c, list, DefaultInstrument()).Match(readings, nil)
		if err != nil {
			t.Fatal(err)
		}
		if m.NothingFits() || m.LooksHealthy() != (len(readings) == 1) {
			t.Errorf("%d readings: best %s", len(readings), m.Best().Name)
		}
	}
}

// Whether a pair is weighed by itself does not hang on which fault is named first; where one is
// unseen at rest it is held against the other alone.
func TestWhatOpensAPair(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	readings := []Reading{
		{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 119.6}},
		{probeAt(t, c, solve.Volts, "X1", "H-L").WithSender("middle"), solve.Value{}},
		{probeAt(t, c, solve.Volts, "X4", "H-ground").WithTraffic(), solve.Value{Number: 2.7}},
	}
	h := preparedRanking(t, c, list, readings).search.work
	opened, differ := 0, 0
	for f := range list {
		for g := range list {
			first, second := h.opens(f, g, firstUnseen), h.opens(f, g, secondUnseen)
			if first != h.opens(g, f, secondUnseen) {
				t.Errorf("%s, unseen, opens a pair with %s only where it is named first or second", list[f].Name, list[g].Name)
			}
			if first {
				opened++
			}
			if first != second {
				differ++
			}
			// Held against the better of the two it can open no more.
			if h.opens(f, g, firstUnseen|secondUnseen) && !(first && second) {
				t.Errorf("%s and %s, both unseen, are opened, but not where one is seen", list[f].Name, list[g].Name)
			}
			if h.best[g] > h.peak-1 && first {
				t.Errorf("%s explains all by itself, and a pair with %s is opened", list[g].Name, list[f].Name)
			}
		}
	}
	if opened < 100 || differ < 100 || opened > len(list)*len(list)/2 {
		t.Errorf("%d pairs of %d opened, %d differ; the test checks little", opened, len(list)*len(list), differ)
	}
}

// A leak is held up by the modules' inputs while the bus is quiet, so that how uncertain those
// are makes the reading uncertain, where healthy wiring has nothing of it: from ports and by a
// varied resistance, against nets with other inputs.
func TestInputsMoveALeak(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	probe := probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic()
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}, {probe, solve.Value{Number: 2.5}}}
	h := preparedRanking(t, c, list, readings).search.work
	for _, tt := range []struct {
		names []string
		ohms  []float64
	}{
		{[]string{"leak L to supply at connector X4"}, []float64{3000}},
		{[]string{"leak H to ground at connector X1"}, []float64{8000}},
		{[]string{"high-resistance joint H in pair P2", "leak L to supply at connector X4"}, []float64{300, 20000}},
	} {
		var members []int
		var set []*Fault
		for _, name := range tt.names {
			i := slices.IndexFunc(list, func(f *Fault) bool { return f.Name == name })
			members, set = append(members, i), append(set, list[i])
		}
		work := h.reader()
		work.load(members)
		ported, err := work.read(tt.ohms)
		if err != nil || work.slow {
			t.Fatal(err, work.slow)
		}
		varied, err := fromNets(h.p, set, tt.ohms, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		var changes []solve.Change
		for k, f := range set {
			changes = append(changes, f.Changes(tt.ohms[k], 0.5)...)
		}
		at := func(parameter int, z float64) float64 {
			all := make([]float64, len(c.Parameters))
			all[parameter] = z
			n, err := solve.Assemble(c, probe.Condition, all, changes...)
			if err != nil {
				t.Fatal(err)
			}
			bus, err := n.Bus([]solve.Leads{{From: probe.From, To: probe.To}})
			if err != nil {
				t.Fatal(err)
			}
			r, err := h.p.read(bus, 0, 0)
			if err != nil {
				t.Fatal(err)
			}
			return r.value
		}
		most := 0.0
		for name, r := range map[string]predicted{"ports": ported[0], "a varied resistance": varied[0]} {
			j := make([]float64, len(c.Parameters))
			r.Sensitivities(j)
			for k, x := range c.Parameters {
				if !strings.HasPrefix(x.Name, "awake input") && !strings.HasPrefix(x.Name, "idle bias") {
					continue
				}
				const step = 0.02
				want := (at(k, step) - at(k, -step)) / (2 * step)
				if strings.HasPrefix(x.Name, "awake input") {
					most = max(most, math.Abs(want))
				}
				if math.Abs(j[k]-want) > 0.03*math.Abs(want)+3e-3 {
					t.Errorf("%v with %.3g Ω: %s moves it by %.4f V, by %s %.4f V", tt.names, tt.ohms, x.Name, want, name, j[k])
				}
			}
		}
		if most < 0.05 {
			t.Errorf("%v: inputs move it by %.3f V at most; the test checks little", tt.names, most)
		}
	}
}

// What two faults add up to explains readings that are just that, at every dominant share.
func TestExplainsWhatAddsUp(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}}
	for _, place := range []string{"X1", "X3", "X4"} {
		readings = append(readings, Reading{probeAt(t, c, solve.Volts, place, "H-ground").WithTraffic(), solve.Value{Number: 2.5}})
	}
	r := preparedRanking(t, c, list, readings)
	h := r.search.work
	rng := rand.New(rand.NewPCG(73, 74))
	lifted := 0
	for range 200 {
		f, g := rng.IntN(len(list)), rng.IntN(len(list))
		a, b := h.alone[f][rng.IntN(len(h.alone[f]))], h.alone[g][rng.IntN(len(h.alone[g]))]
		u := shareAt(rng.IntN(shareParts))
		for _, second := range []workLook{b, {}} {
			for i, k := range h.at {
				y := h.sound.volts[i] + a.volts[i] + u*(h.sound.lift[i]+a.lift[i])
				if second.volts != nil {
					y += b.volts[i] + u*b.lift[i]
				}
				r.e.y[k] = y
				if math.Abs(u*a.lift[i]) > 2*h.sd[i] || math.Abs(u*b.lift[i]) > 2*h.sd[i] {
					lifted++
				}
			}
			if got := h.explains(h.alone[f], []workLook{second}, false); math.Abs(got-h.peak) > 1e-9 {
				t.Errorf("%s and %s: %.4f where all is explained, which is %.4f", list[f].Name, list[g].Name, got, h.peak)
			}
		}
	}
	if lifted < 50 {
		t.Errorf("in %d readings the share matters; the test checks little", lifted)
	}
}

// What is read from nets of their own, since a module is another without its supply, follows
// the ohms of every fault of the set, not only of the one that is varied in the net.
func TestSetsFromNetsFollowAllOhms(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	probe := probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic()
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}, {probe, solve.Value{Number: 2.5}}}
	h := preparedRanking(t, c, list, readings).search.work
	var members []int
	for _, name := range []string{"module right without supply", "leak H to ground at connector X2", "leak L to ground at connector X3"} {
		members = append(members, slices.Index(list, findFault(t, list, name)))
	}
	read := func(set *workSet, ohms ...float64) float64 {
		t.Helper()
		got, err := set.read(ohms)
		if err != nil {
			t.Fatal(err)
		}
		return got[len(got)-1].Value().Number
	}
	set, fresh := h.reader(), h.reader()
	set.load(members)
	fresh.load(members)
	if !set.slow {
		t.Fatal("the set is seen from ports")
	}
	first := read(set, 0, 300, 300)
	for _, ohms := range [][]float64{{0, 300, 3000}, {0, 3000, 300}} {
		again := read(set, ohms...)
		fresh.load(members)
		if want := read(fresh, ohms...); math.Abs(again-want) > 1e-9 || math.Abs(again-first) < 0.01 {
			t.Errorf("with %v Ω: %v V after %v V with others, %v V afresh", ohms, again, first, want)
		}
	}
}
