package faults

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/solve"
)

// The sums over a stream against the same from all readings kept, each group known by
// its readings and not by a hash.
func TestPairGroupsAgainstReadingsKept(t *testing.T) {
	for _, name := range []string{"bench", "star"} {
		c := loadDemo(t, name)
		list := Catalogue(c)
		probes := append(Probes(c, Selection{}), Probes(c, Selection{Quantity: solve.Volts})...)
		table, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
		if err != nil {
			t.Fatal(err)
		}
		healthy, err := MakeTable(c, nil, probes, DefaultInstrument(), nil)
		if err != nil {
			t.Fatal(err)
		}
		type member struct {
			a, b     int // b −1 for a single fault
			readings []float64
		}
		var all []member
		for i := range list {
			all = append(all, member{i, -1, table.Alone(i)})
		}
		sums, err := NewPairGroups(table)
		if err != nil {
			t.Fatal(err)
		}
		left, impossible := 0, 0
		counts, err := table.Stream(context.Background(), PairOptions{NoFresh: true}, func(b *PairBlock) error {
			for i, second := range b.Second {
				switch b.Ways[i] {
				case PairLeft:
					left++
				case PairImpossible:
					impossible++
				default:
					all = append(all, member{b.First, second, append([]float64{}, b.Readings(i)...)})
				}
			}
			return sums.Add(b)
		})
		if err != nil {
			t.Fatal(err)
		}
		type groupOf struct {
			pairs, singles int
			parts          map[string]bool
			rate           float64
			members        []member
		}
		groups := map[string]*groupOf{}
		keys := map[int]string{}
		rate := func(m member) float64 { return list[m.a].Rate * list[m.b].Rate }
		var total, detected, hidden, likeOne float64
		pairs, undetected := 0, 0
		for _, m := range all {
			key, seen := "", false
			for k, x := range m.readings {
				v := solve.Value{Number: x}
				if math.IsInf(x, 1) {
					v = solve.Over()
				}
				y := onScale(probes[k].Quantity, v)
				band := healthy.Bands[k]
				seen = seen || !band.worst.holds(y)
				width := band.likely.high - band.likely.low
				key += fmt.Sprintf("%d ", int(math.Floor((y-band.likely.low)/width)))
			}
			if m.b >= 0 {
				pairs++
				total += rate(m)
			}
			if !seen {
				if m.b >= 0 {
					undetected++
				}
				continue
			}
			g := groups[key]
			if g == nil {
				g = &groupOf{parts: map[string]bool{}}
				groups[key] = g
			}
			g.members = append(g.members, m)
			if m.b < 0 {
				keys[m.a] = key
				g.singles++
				g.parts[list[m.a].Part] = true
				continue
			}
			g.pairs++
			g.rate += rate(m)
			detected += rate(m)
			a, b := list[m.a].Part, list[m.b].Part
			if a > b {
				a, b = b, a
			}
			if a != b {
				a += " and " + b
			}
			g.parts[a] = true
			if g.singles > 0 {
				likeOne += rate(m)
			}
			if keys[m.a] == key || keys[m.b] == key {
				hidden += rate(m)
			}
		}
		var to1, to3, toParts float64
		largest := 0
		for _, g := range groups {
			if g.pairs+g.singles == 1 {
				to1 += g.rate
			}
			if g.pairs+g.singles <= 3 {
				to3 += g.rate
			}
			if len(g.parts) == 1 {
				toParts += g.rate
			}
			largest = max(largest, g.pairs)
		}
		got := sums.Result(1)
		if got.Pairs != pairs || got.Undetected != undetected || got.Groups != len(groups) || got.Left != left || got.Impossible != impossible || counts.Pairs != pairs+left+impossible {
			t.Errorf("%s: %+v; directly %d pairs, %d undetected, %d groups, %d left, %d impossible", name, got, pairs, undetected, len(groups), left, impossible)
		}
		for what, x := range map[string][2]float64{
			"detected": {got.Detected, detected / total}, "to 1": {got.IsolatedTo1, to1 / detected}, "to 3": {got.IsolatedTo3, to3 / detected},
			"to parts": {got.IsolatedToParts, toParts / detected}, "like one": {got.LikeOne, likeOne / detected}, "hidden": {got.Hidden, hidden / detected},
		} {
			if math.Abs(x[0]-x[1]) > 1e-12 || x[1] <= 0 || x[1] >= 1 {
				t.Errorf("%s: %s %v, directly %v", name, what, x[0], x[1])
			}
		}
		if len(got.Largest) != 1 || got.Largest[0].Pairs != largest {
			t.Errorf("%s: largest group %+v, directly of %d pairs", name, got.Largest, largest)
		}
		// The group that is named holds what is named.
		for _, g := range groups {
			if g.pairs != largest {
				continue
			}
			holds := map[[2]int]bool{}
			for _, m := range g.members {
				holds[[2]int{m.a, m.b}] = true
			}
			if x := got.Largest[0]; holds[x.First] && (g.singles != x.Singles || x.Single >= 0 && !holds[[2]int{x.Single, -1}] || x.Single < 0 && g.singles > 0) {
				t.Errorf("%s: %+v is not of its group", name, x)
			}
		}
	}
}

// A pair is detected where the table of the two as one fault says so.
func TestPairsAreDetectedAsInTables(t *testing.T) {
	c := loadDemo(t, "bench")
	var list []*Fault
	for i, f := range Catalogue(c) {
		if i%4 == 0 {
			list = append(list, f)
		}
	}
	probes := Probes(c, Selection{})
	var both []*Fault
	for i := range list {
		for j := i + 1; j < len(list); j++ {
			both = append(both, Combine(list[i], list[j]))
		}
	}
	table, err := MakeTable(c, both, probes, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	pairs, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
	if err != nil {
		t.Fatal(err)
	}
	sums, err := NewPairGroups(pairs)
	if err != nil {
		t.Fatal(err)
	}
	at, seen := 0, [2]int{}
	if _, err := pairs.Stream(context.Background(), PairOptions{}, func(b *PairBlock) error {
		for i := range b.Second {
			_, got := sums.look(b.Readings(i))
			if want := table.Rows[at].Detected(); got != want {
				t.Errorf("%s: detected %v, by the table %v", both[at].Name, got, want)
			}
			seen[btoi(got)]++
			at++
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if at != len(both) || seen[0] == 0 || seen[1] == 0 {
		t.Errorf("%d of %d pairs, detected %v", at, len(both), seen)
	}
}

// The figures of a layout do not depend on the number of processors, and places that
// take longer to reach do not count.
func TestAnalysePairs(t *testing.T) {
	c := loadLayout(t, "../testdata/layouts/small-6.yaml")
	list := Catalogue(c)
	x := NewMatcher(c, list, DefaultInstrument())
	pairs := len(list) * (len(list) - 1) / 2
	var want *PairTestability
	for _, procs := range []int{1, 8} {
		before := runtime.GOMAXPROCS(procs)
		steps := 0
		got, err := x.AnalysePairs(context.Background(), 5, 4, func(done, of int) {
			if steps++; done > of || of != pairs {
				t.Errorf("%d of %d", done, of)
			}
		})
		runtime.GOMAXPROCS(before)
		if err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = got
		}
		if d := cmp.Diff(want, got); d != "" || steps == 0 {
			t.Error(d)
		}
	}
	all, err := x.AnalysePairs(context.Background(), 0, 4, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(all.Detected > want.Detected) || all.Pairs+all.Left+all.Impossible != all.Worked.Pairs || all.Worked.Pairs != pairs {
		t.Errorf("within 5 minutes %+v, everywhere %+v", want, all)
	}
}
