package faults

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// alikeReadings is what a table of pairs promises: 1e-9 of the reading; and for volts
// that is of what the supply gives, of which they may be a small rest.
func alikeReadings(q solve.Quantity, got, want float64) bool {
	switch {
	case math.IsInf(want, 1) || math.IsInf(got, 1):
		return got == want
	case math.IsNaN(want) || math.IsNaN(got):
		return math.IsNaN(got) && math.IsNaN(want)
	case q == solve.Volts:
		return math.Abs(got-want) <= 1e-9*math.Abs(want)+1e-9
	}
	return math.Abs(got-want) <= 1e-9*want
}

// byNet takes readings from nets assembled with changes; NaN where they cannot be.
func byNet(t testing.TB, c *netlist.Circuit, probes []Probe, meter solve.Meter, changes []solve.Change) []float64 {
	t.Helper()
	out := make([]float64, len(probes))
	for _, g := range groupProbes(probes) {
		n, err := solve.Assemble(c, g.condition, nil, changes...)
		impossible := errors.Is(err, solve.ErrSupplyShorted) || errors.Is(err, solve.ErrGroundsJoined)
		if err != nil && !impossible {
			t.Fatal(err)
		}
		for _, k := range g.probes {
			if impossible {
				out[k] = math.NaN()
				continue
			}
			v, err := n.Read(probes[k].Quantity, probes[k].From, probes[k].To, meter)
			if err != nil {
				t.Fatal(err)
			}
			out[k] = plainValue(v)
		}
	}
	return out
}

// All pairs of the small demo, and samples of the larger harnesses, against nets
// assembled with both faults' changes: resistances with all plugged in and each
// connector apart, and idle volts.
func TestPairsAgreeWithNets(t *testing.T) {
	for _, tt := range []struct {
		harness string
		share   float64
	}{{"../examples/bench/harness.yaml", 1}, {"../examples/star/harness.yaml", 0.02}, {"../examples/trunk/harness.yaml", 0.003}, {"../examples/orchard/harness.yaml", 0.0003}, {"../testdata/layouts/farm-12.yaml", 0.0008}} {
		c := loadLayout(t, tt.harness)
		list := Catalogue(c)
		for _, sel := range []Selection{{Unreachable: true}, {Unplugged: true}, {Quantity: solve.Volts, Unreachable: true}} {
			probes := Probes(c, sel)
			share := tt.share
			if sel.Unplugged && share == 1 {
				share = 0.05
			}
			in := DefaultInstrument()
			table, err := NewPairTable(context.Background(), c, list, probes, in)
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range list {
				if f.sticks() && sel.Quantity == solve.Volts {
					continue // read from a bus at work
				}
				for k, got := range table.Alone(i) {
					if want := byNet(t, c, probes[k:k+1], in.Meter, f.Typical()); !alikeReadings(sel.Quantity, got, want[0]) {
						t.Fatalf("%s: %s with %s: %.15g, by a net %.15g", tt.harness, probes[k], f.Name, got, want[0])
					}
				}
				if tt.share < 1 && i > 40 {
					break
				}
			}
			rng := rand.New(rand.NewPCG(7, uint64(len(list))))
			wrong := 0
			counts, err := table.Stream(context.Background(), PairOptions{NoFresh: true}, func(b *PairBlock) error {
				for i, second := range b.Second {
					x, y := list[b.First], list[second]
					if b.Ways[i] == PairLeft && sel.Quantity == solve.Volts && (x.sticks() || y.sticks()) {
						continue
					}
					if rng.Float64() > share && !(b.Ways[i] == PairTogether && rng.Float64() < 5*share) {
						continue
					}
					want := byNet(t, c, probes, in.Meter, append(append([]solve.Change{}, x.Typical()...), y.Typical()...))
					for k, got := range b.Readings(i) {
						if !alikeReadings(sel.Quantity, got, want[k]) {
							if wrong++; wrong < 6 {
								t.Errorf("%s: %s with %s and %s (%s): %.15g, by a net %.15g", tt.harness, probes[k], x.Name, y.Name, b.Ways[i], got, want[k])
							}
						}
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if wrong > 0 {
				t.Errorf("%d readings are wrong", wrong)
			}
			t.Logf("%s %+v: %v", tt.harness, sel, counts)
		}
	}
}

func loadLayout(t testing.TB, path string) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What float64 loses in the streamed way, against the same in numbers of twice the
// digits, for all pairs of several harnesses: below 1e-9 wherever the thresholds let
// it through, with a margin.
func TestStreamedPairsKeepTheirDigits(t *testing.T) {
	for _, path := range []string{"../examples/bench/harness.yaml", "../examples/star/harness.yaml", "../testdata/layouts/small-6.yaml", "../examples/trunk/harness.yaml"} {
		c := loadLayout(t, path)
		list := Catalogue(c)
		for _, sel := range []Selection{{Unreachable: true}, {Quantity: solve.Volts, Unreachable: true}} {
			probes := Probes(c, sel)
			table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
			if err != nil {
				t.Fatal(err)
			}
			o := PairOptions{NoFresh: true}
			w := table.newWorker(context.Background(), &o)
			g := table.groups[0]
			out, exact := make([]float64, len(probes)), make([]float64, len(probes))
			lost, left := 0.0, math.Inf(1)
			n := 0
			for i := range list {
				w.begin(i)
				for j := i + 1; j < len(list); j++ {
					f, s := &g.faults[i], &g.faults[j]
					if f.way != 0 || s.way != 0 || w.stamp[j] == i+1 || g.entangled(f, s) {
						continue
					}
					a, b, growth := w.add(0, j, len(probes))
					if growth > worstGrowth {
						continue
					}
					if g.idle {
						w.kernel.idle(a, b, out, w.across, g.meter.InputOhms)
					} else {
						w.ohms(a, b, out, growth, 0, math.Inf(1))
					}
					if way, _, err := w.refined(0, j, exact); err != nil || way != PairRefined {
						continue
					}
					for k := range out {
						if math.IsInf(exact[k], 0) || exact[k] == 0 || math.IsInf(a.least[k], 0) {
							continue
						}
						if g.idle {
							lost = max(lost, math.Abs(out[k]-exact[k]))
							continue
						}
						relative := math.Abs(out[k]-exact[k]) / exact[k]
						if out[k] < leastLeft*growth*a.grip[k] {
							n++
							continue
						}
						lost, left = max(lost, relative), min(left, exact[k]/a.grip[k])
					}
				}
			}
			t.Logf("%s %s: float64 loses %.1e at most; the least rest streamed %.1e; %d readings refined", path, sel.Quantity, lost, left, n)
			if lost > 7e-10 {
				t.Errorf("%s %s: float64 loses %.1e", path, sel.Quantity, lost)
			}
		}
	}
}

// streamHash is a table's blocks in their order, bit by bit.
func streamHash(t *testing.T, table *PairTable, o PairOptions) (hash uint64, pairs int) {
	t.Helper()
	last := [2]int{-1, -1}
	counts, err := table.Stream(context.Background(), o, func(b *PairBlock) error {
		mix := func(x uint64) { hash = (hash ^ x) * 0x100000001b3 }
		for i, second := range b.Second {
			at := [2]int{b.First, second}
			if at[0] < last[0] || at[0] == last[0] && at[1] <= last[1] || at[1] <= at[0] {
				t.Fatalf("%v comes after %v", at, last)
			}
			last = at
			pairs++
			mix(uint64(b.First))
			mix(uint64(second))
			mix(uint64(b.Ways[i]))
			for _, x := range b.Readings(i) {
				mix(math.Float64bits(x))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if counts.Pairs != pairs {
		t.Errorf("%d pairs counted, %d came", counts.Pairs, pairs)
	}
	sum := 0
	for _, n := range counts.Ways {
		sum += n
	}
	if sum != pairs {
		t.Errorf("%d pairs, their ways add up to %d", pairs, sum)
	}
	return hash, pairs
}

// The same pairs in the same order with the same bits, however many processors there
// are and however large a block is; with a choice of faults, the pairs of those.
func TestPairsComeInOrder(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	probes := append(Probes(c, Selection{}), Probes(c, Selection{Quantity: solve.Volts})...)
	probes = append(probes, Probes(c, Selection{Unplugged: true})...)
	probes = append(probes, Probes(c, Selection{})[2]) // a group's probes need not follow each other
	var want uint64
	for _, procs := range []int{1, 2, 8} {
		before := runtime.GOMAXPROCS(procs)
		table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
		if err != nil {
			t.Fatal(err)
		}
		for _, size := range []int{0, 1, 700} {
			got, pairs := streamHash(t, table, PairOptions{BlockValues: size, NoFresh: true})
			if want == 0 {
				want = got
			}
			if got != want || pairs != len(list)*(len(list)-1)/2 {
				t.Errorf("GOMAXPROCS %d, blocks of %d: %d pairs, hash %x, want %x", procs, size, pairs, got, want)
			}
		}
		runtime.GOMAXPROCS(before)
	}
	table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	o := PairOptions{Involving: make([]bool, len(list)), NoFresh: true}
	o.Involving[3], o.Involving[50] = true, true
	seen := map[[2]int]bool{}
	if _, err := table.Stream(context.Background(), o, func(b *PairBlock) error {
		for _, second := range b.Second {
			seen[[2]int{b.First, second}] = true
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for i := range list {
		for j := i + 1; j < len(list); j++ {
			if want := i == 3 || i == 50 || j == 3 || j == 50; seen[[2]int{i, j}] != want {
				t.Errorf("pair %d, %d: streamed %v, want %v", i, j, !want, want)
			}
		}
	}
	if _, err := table.Stream(context.Background(), PairOptions{Involving: make([]bool, 3)}, nil); err == nil {
		t.Error("a choice of the wrong length is taken")
	}
}

// Leads on one point by a short of 0 Ω read exactly nothing, and apart OL.
func TestPairsByStructure(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	index := map[string]int{}
	for i, f := range list {
		index[f.Name] = i
	}
	probes := []Probe{probeAt(t, c, solve.Ohms, "X1", "H-L"), probeAt(t, c, solve.Ohms, "X1", "H-ground")}
	table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	over := math.Inf(1)
	for _, tt := range []struct {
		a, b string
		want []float64
	}{
		{"open H in pair P1", "open L in pair P1", []float64{over, over}},
		{"open H in pair P1", "terminator T1 missing", []float64{over, over}},
		{"short H to L at connector X1 (cavities H and L)", "open H in pair P1", []float64{0, math.NaN()}},
		{"short H to L at connector X1 (cavities H and L)", "terminator T1 missing", []float64{0, math.NaN()}},
	} {
		i, j := index[tt.a], index[tt.b]
		if i == j {
			t.Fatalf("no fault %q or %q", tt.a, tt.b)
		}
		if _, err := table.Stream(context.Background(), PairOptions{}, func(b *PairBlock) error {
			for k, second := range b.Second {
				if b.First != min(i, j) || second != max(i, j) {
					continue
				}
				seen++
				for p, got := range b.Readings(k) {
					if want := tt.want[p]; !math.IsNaN(want) && got != want {
						t.Errorf("%s and %s: %s is %v, want exactly %v (%s)", tt.a, tt.b, probes[p], got, want, b.Ways[k])
					}
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	if seen != 4 {
		t.Errorf("%d pairs came", seen)
	}
}

// Stopped from without, from within, and before it begins; nothing is left running.
func TestPairsStop(t *testing.T) {
	c := loadDemo(t, "orchard")
	list, probes := Catalogue(c), append(Probes(c, Selection{}), Probes(c, Selection{Quantity: solve.Volts})...)
	table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(context.Background())
	blocks := 0
	counts, err := table.Stream(ctx, PairOptions{}, func(*PairBlock) error {
		if blocks++; blocks == 3 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || err != ctx.Err() || blocks != 3 || counts.Pairs >= len(list)*(len(list)-1)/2 {
		t.Errorf("cancelled in the third block: %v after %d blocks, %d pairs", err, blocks, counts.Pairs)
	}
	enough := errors.New("enough")
	blocks = 0
	if _, err := table.Stream(context.Background(), PairOptions{}, func(*PairBlock) error { blocks++; return enough }); err != enough || blocks != 1 {
		t.Errorf("visit's error: %v after %d blocks", err, blocks)
	}
	if _, err := table.Stream(ctx, PairOptions{}, func(*PairBlock) error { t.Error("visited"); return nil }); err != context.Canceled {
		t.Errorf("cancelled before: %v", err)
	}
	if _, err := NewPairTable(ctx, c, list, probes, DefaultInstrument()); err != context.Canceled {
		t.Errorf("made though cancelled: %v", err)
	}
	late, stop := context.WithDeadlineCause(context.Background(), time.Now(), enough)
	defer stop()
	if _, err := table.Stream(late, PairOptions{}, func(*PairBlock) error { return nil }); err != context.DeadlineExceeded {
		t.Errorf("too late: %v", err)
	}
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// A row is made ready and its pairs are read without any allocation, in float64 and in
// twice the digits.
func TestPairsAllocateNothing(t *testing.T) {
	c := loadDemo(t, "trunk")
	list := Catalogue(c)
	for _, probes := range [][]Probe{Probes(c, Selection{}), Probes(c, Selection{Quantity: solve.Volts})} {
		table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
		if err != nil {
			t.Fatal(err)
		}
		o := PairOptions{NoFresh: true}
		w := table.newWorker(context.Background(), &o)
		out := make([]float64, len(probes))
		var ways [pairWays]int
		tested := map[int][]int{} // pairs that are not laid out together, which takes some
		for i := 0; i < len(list); i += 7 {
			w.begin(i)
			for j := i + 1; j < len(list); j++ {
				way, _, err := w.pair(j, out)
				if err != nil {
					t.Fatal(err)
				}
				if way <= PairRefined {
					ways[way]++
					tested[i] = append(tested[i], j)
				}
			}
		}
		run := func() {
			for i, others := range tested {
				w.begin(i)
				for _, j := range others {
					if _, _, err := w.pair(j, out); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if n := testing.AllocsPerRun(2, run); n != 0 {
			t.Errorf("%v allocations for %v pairs", n, ways)
		}
		if ways[PairStreamed] < 1000 || probes[0].Quantity == solve.Ohms && ways[PairRefined] < 10 {
			t.Errorf("too few pairs to say anything: %v", ways)
		}
	}
}

// What is refused, and said.
func TestPairsRefuse(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	driven := Probes(c, Selection{Quantity: solve.Volts, Traffic: true})[:1]
	if _, err := NewPairTable(context.Background(), c, list, driven, DefaultInstrument()); !errors.Is(err, errDriven) {
		t.Errorf("a bus at work: %v", err)
	}
	hot := probeAt(t, c, solve.Ohms, "X1", "H-L")
	hot.Condition.Supply = solve.Idle
	if _, err := NewPairTable(context.Background(), c, list, []Probe{hot}, DefaultInstrument()); !errors.Is(err, solve.ErrSupplyOn) {
		t.Errorf("ohms with the supply on: %v", err)
	}
	cold := probeAt(t, c, solve.Volts, "X1", "H-ground")
	cold.Condition.Supply = solve.Off
	if _, err := NewPairTable(context.Background(), c, list, []Probe{cold}, DefaultInstrument()); err == nil {
		t.Error("volts with the supply off")
	}
	if _, err := StreamPairs(context.Background(), c, list[:1], nil, DefaultInstrument(), PairOptions{}, func(*PairBlock) error { t.Error("visited"); return nil }); err != nil {
		t.Errorf("one fault has no pairs: %v", err)
	}
}

// Pairs that need a net of their own get it, or are left out, and either is said. With
// a transceiver that sends all the time they agree with a table of the two as one
// fault.
func TestPairsWithNetsOfTheirOwn(t *testing.T) {
	c := loadDemo(t, "bench")
	var list []*Fault
	for i, f := range Catalogue(c) {
		if f.sticks() || i%9 == 0 {
			list = append(list, f)
		}
	}
	probes := Probes(c, Selection{Quantity: solve.Volts})
	fresh := 0
	counts, err := StreamPairs(context.Background(), c, list, probes, DefaultInstrument(), PairOptions{}, func(b *PairBlock) error {
		for i, second := range b.Second {
			if b.Ways[i] != PairFresh {
				continue
			}
			fresh++
			if !list[b.First].sticks() && !list[second].sticks() {
				t.Errorf("%s and %s took a net of their own: %v", list[b.First].Name, list[second].Name, b.Why[i])
			}
			table, err := MakeTable(c, []*Fault{Combine(list[b.First], list[second])}, probes, DefaultInstrument(), nil)
			if err != nil {
				t.Fatal(err)
			}
			for k, got := range b.Readings(i) {
				if want := table.Rows[0].Values[k].Number; got != want {
					t.Errorf("%s with %s: %v, want %v", probes[k], table.Rows[0].Fault.Name, got, want)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if fresh == 0 || counts.Ways[PairFresh] != fresh || counts.Ways[PairLeft] != 0 || len(counts.Reasons) == 0 || counts.Reasons[0].Pairs != fresh {
		t.Errorf("%d pairs took nets of their own; counted %+v", fresh, counts)
	}
	left := 0
	counts, err = StreamPairs(context.Background(), c, list, probes, DefaultInstrument(), PairOptions{NoFresh: true}, func(b *PairBlock) error {
		for i := range b.Second {
			if b.Ways[i] == PairLeft {
				left++
				for _, x := range b.Readings(i) {
					if !math.IsNaN(x) {
						t.Errorf("left out, but reads %v", x)
					}
				}
			}
		}
		return nil
	})
	if err != nil || left != fresh || counts.Ways[PairLeft] != left {
		t.Errorf("%v; %d left out, %d would have taken nets; counted %+v", err, left, fresh, counts)
	}
}

// floatingNets is a harness of which two networks hang in the air, but for what one module
// and a fault tie them with; invented.
func floatingNets(t testing.TB) *netlist.Circuit {
	h := &netlist.Harness{
		Name:     "islands",
		Networks: []netlist.Network{{Name: "a", Layer: "high-speed"}, {Name: "b", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "X1", Network: "a"}, {Name: "X2", Network: "a"}, {Name: "X3", Network: "a"}, {Name: "X4", Network: "a", Inline: true},
			{Name: "X5", Cavities: []netlist.Cavity{{Name: "1", Carries: "a.H"}, {Name: "2", Carries: "a.L"}, {Name: "3", Carries: "b.H"}, {Name: "4", Carries: "b.L"}, {Name: "5", Carries: "ground"}}},
			{Name: "X6", Network: "b"}, {Name: "X7", Network: "b"},
		},
		Splices: []netlist.Splice{{Name: "S1", Network: "a"}},
		Modules: []netlist.Module{
			{Name: "box", Connectors: []string{"X2"}, Transceiver: "none"}, {Name: "other", Connectors: []string{"X3"}, Transceiver: "none"},
			{Name: "lone", Connectors: []string{"X7"}, Transceiver: "modern"},
		},
		Terminators: []netlist.Terminator{{Name: "T1", At: "box", Ohms: 120, Split: true}, {Name: "T2", At: "other", Ohms: 120}, {Name: "T3", At: "X6", Ohms: 120}},
		Pairs: []netlist.Pair{
			{Name: "P1", From: []string{"X1"}, To: []string{"S1"}, LengthM: 0.5, SectionMM2: 0.35},
			{Name: "P2", From: []string{"S1"}, To: []string{"X2"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P3", From: []string{"S1"}, To: []string{"X4/a"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P4", From: []string{"X4/b"}, To: []string{"X3"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P5", Network: "a", From: []string{"X5.1", "X5.2"}, To: []string{"S1.H", "S1.L"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P6", Network: "b", From: []string{"X5.3", "X5.4"}, To: []string{"X6.H", "X6.L"}, LengthM: 2, SectionMM2: 0.35},
			{Name: "P7", Network: "b", From: []string{"X6"}, To: []string{"X7"}, LengthM: 2, SectionMM2: 0.35},
		},
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Pairs with leads at any two points, also inside modules, of a harness with islands
// and of a common one, in any condition; with faults that the catalogue does not have:
// ideal joints on either side of a module's ground, cuts of any element.
func TestPairsBetweenAnyPoints(t *testing.T) {
	demo, apart := loadDemo(t, "bench"), floatingNets(t)
	for seed := range uint64(6) {
		name, c := "bench", demo
		if seed%2 == 0 {
			name, c = "islands", apart
		}
		rng := rand.New(rand.NewPCG(seed, uint64(len(c.Nodes))))
		var list []*Fault
		for _, f := range Catalogue(c) {
			if !f.sticks() && rng.IntN(4) == 0 {
				list = append(list, f)
			}
		}
		add := func(what string, changes ...solve.Change) {
			list = append(list, &Fault{Name: what, Kind: Open, Part: "P1", Rate: 1, base: changes})
		}
		for _, u := range c.Units {
			own := c.Elements[u.GroundElement].A
			add("ground of "+u.Name+" gone", solve.Part{Element: u.GroundElement})
			add("another ground of "+u.Name, solve.Bridge{From: solve.AtNode(own), To: solve.AtNode(netlist.GroundNode)})
			add("a long ground of "+u.Name, solve.Bridge{From: solve.AtNode(own), To: solve.AtNode(netlist.GroundNode), Ohms: 3})
		}
		for range 25 {
			e := rng.IntN(len(c.Elements))
			if k := c.Elements[e].Kind; k == netlist.LoadElement || k == netlist.Joint {
				continue
			}
			add("cut of "+c.Elements[e].Name, solve.Part{Element: e})
			a, b := rng.IntN(len(c.Nodes)), rng.IntN(len(c.Nodes))
			add("joint of "+c.Nodes[a].Name+" and "+c.Nodes[b].Name, solve.Bridge{From: solve.AtNode(a), To: solve.AtNode(b), Ohms: float64(rng.IntN(2)) * 50})
		}
		for _, condition := range []solve.Condition{{}, {Unplugged: []string{"X3"}}, {Supply: solve.Idle}} {
			var probes []Probe
			for range 20 {
				p := Probe{From: rng.IntN(len(c.Nodes)), To: rng.IntN(len(c.Nodes)), Condition: condition}
				if condition.Supply == solve.Idle {
					p.Quantity = solve.Volts
				}
				probes = append(probes, p)
			}
			for _, u := range c.Units {
				p := probes[0]
				p.From, p.To = c.Elements[u.GroundElement].A, netlist.GroundNode
				probes = append(probes, p)
			}
			wrong := 0
			counts, err := StreamPairs(context.Background(), c, list, probes, DefaultInstrument(), PairOptions{}, func(b *PairBlock) error {
				for i, second := range b.Second {
					x, y := list[b.First], list[second]
					want := byNet(t, c, probes, solve.DefaultMeter(), append(append([]solve.Change{}, x.Typical()...), y.Typical()...))
					for k, got := range b.Readings(i) {
						if !alikeReadings(probes[k].Quantity, got, want[k]) {
							if wrong++; wrong < 6 {
								t.Errorf("%s, %s, %s to %s with %s and %s (%s): %.15g, by a net %.15g", name, condition, c.Nodes[probes[k].From].Name, c.Nodes[probes[k].To].Name, x.Name, y.Name, b.Ways[i], got, want[k])
							}
						}
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s, %s: %v", name, condition, counts)
			if wrong > 0 {
				t.Errorf("%s, %s: %d readings are wrong", name, condition, wrong)
			}
		}
	}
}

// A meter of short range and with leads that are not zeroed: OL above the range, the
// leads counted, whatever raises the reading.
func TestPairsByAPoorMeter(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	in.Meter.RangeOhms, in.Meter.LeadOhms = 14000, 0.7
	probes := append(Probes(c, Selection{}), probeAt(t, c, solve.Ohms, "X2", "H-L", "X2"))
	over := [2]int{}
	_, err := StreamPairs(context.Background(), c, list, probes, in, PairOptions{}, func(b *PairBlock) error {
		for i, second := range b.Second {
			if (b.First+second)%7 > 0 {
				continue
			}
			x, y := list[b.First], list[second]
			want := byNet(t, c, probes, in.Meter, append(append([]solve.Change{}, x.Typical()...), y.Typical()...))
			for k, got := range b.Readings(i) {
				over[btoi(math.IsInf(got, 1))]++
				if !alikeReadings(solve.Ohms, got, want[k]) {
					t.Errorf("%s with %s and %s (%s): %.15g, by a net %.15g", probes[k], x.Name, y.Name, b.Ways[i], got, want[k])
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if over[0] < 1000 || over[1] < 1000 {
		t.Errorf("%d readings, %d OL: too few to say anything", over[0], over[1])
	}
}
