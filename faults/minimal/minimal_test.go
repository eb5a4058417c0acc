package minimal

import (
	"cmp"
	"math"
	"slices"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// Three multipliers and two adders, the standard worked example of diagnosis from a
// model (standing: see the names in the literature, "polybox"; the figures from memory): of
// the inputs 3, 2, 2, 3, 3 come 10 and 12 where 12 and 12 are due. Minimal diagnoses: the
// first multiplier; the first adder; the second multiplier with the third; the second
// multiplier with the second adder.
func TestMultipliersAndAdders(t *testing.T) {
	names := []string{"M1", "M2", "M3", "A1", "A2"}
	// What each says of the three products in between, if it works: a row of an
	// equation and its right side.
	says := [][4]float64{{1, 0, 0, 6}, {0, 1, 0, 6}, {0, 0, 1, 6}, {1, 1, 0, 10}, {0, 1, 1, 12}}
	consistent := func(working []int) bool {
		if len(working) == 0 {
			return true
		}
		left, both := mat.NewDense(len(working), 3, nil), mat.NewDense(len(working), 4, nil)
		for i, k := range working {
			left.SetRow(i, says[k][:3])
			both.SetRow(i, says[k][:])
		}
		return rank(left) == rank(both)
	}
	explain := func(broken []int) ([]int, bool) {
		var working []int
		for k := range names {
			if !slices.Contains(broken, k) {
				working = append(working, k)
			}
		}
		if consistent(working) {
			return nil, true
		}
		// A smallest contradiction: of these at least one is broken.
		for i := 0; i < len(working); {
			if rest := slices.Delete(slices.Clone(working), i, i+1); !consistent(rest) {
				working = rest
			} else {
				i++
			}
		}
		return working, false
	}
	sets, all := Sets([]float64{1, 1, 1, 1, 1}, 5, 100, 1000, explain)
	var got []string
	for _, s := range sets {
		name := ""
		for _, k := range s {
			name += names[k]
		}
		got = append(got, name)
	}
	if diff := gocmp.Diff([]string{"M1", "A1", "M2M3", "M2A2"}, got); diff != "" || !all {
		t.Errorf("minimal diagnoses (all: %v, -want +got):\n%s", all, diff)
	}
	// Adders that fail a hundred times as often come first.
	if sets, _ = Sets([]float64{5, 5, 5, 0.4, 0.4}, 5, 1, 1000, explain); len(sets) != 1 || names[sets[0][0]] != "A1" {
		t.Errorf("the cheapest diagnosis is %v, not A1", sets)
	}
}

func rank(m *mat.Dense) int {
	var svd mat.SVD
	svd.Factorize(m, mat.SVDNone)
	n := 0
	for _, x := range svd.Values(nil) {
		if x > 1e-9 {
			n++
		}
	}
	return n
}

// Covers of drawn families against all subsets, one by one.
func TestSetsAgainstAllSubsets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "things")
		goal := rapid.IntRange(0, 31).Draw(t, "to cover")
		covers := rapid.SliceOfN(rapid.IntRange(0, 31), n, n).Draw(t, "covers")
		cost := rapid.SliceOfN(rapid.Float64Range(0, 4), n, n).Draw(t, "cost")
		most := rapid.IntRange(0, n).Draw(t, "most")
		of := func(set []int) int {
			out := 0
			for _, k := range set {
				out |= covers[k]
			}
			return out
		}
		explain := func(set []int) ([]int, bool) {
			left := goal &^ of(set)
			if left == 0 {
				return nil, true
			}
			var missing []int
			for k, c := range covers {
				if c&(left&-left) != 0 {
					missing = append(missing, k)
				}
			}
			return missing, false
		}
		got, all := Sets(cost, most, 1000, 100000, explain)
		if !all {
			t.Fatal("not all were looked at")
		}
		var want [][]int
		for bits := range 1 << n {
			var set []int
			for k := range n {
				if bits>>k&1 == 1 {
					set = append(set, k)
				}
			}
			minimal := len(set) <= most && goal&^of(set) == 0
			for i := range set {
				minimal = minimal && goal&^of(slices.Delete(slices.Clone(set), i, i+1)) != 0
			}
			if minimal {
				want = append(want, set)
			}
		}
		sum := func(set []int) float64 {
			out := 0.0
			for _, k := range set {
				out += cost[k]
			}
			return out
		}
		for i := 1; i < len(got); i++ {
			if sum(got[i-1]) > sum(got[i])+1e-9 {
				t.Fatalf("%v (%g) comes before %v (%g)", got[i-1], sum(got[i-1]), got[i], sum(got[i]))
			}
		}
		order := func(a, b []int) int { return cmp.Or(cmp.Compare(len(a), len(b)), slices.Compare(a, b)) }
		slices.SortFunc(got, order)
		slices.SortFunc(want, order)
		if diff := gocmp.Diff(want, got); diff != "" && len(want)+len(got) > 0 {
			t.Fatalf("covers of %05b by %05b (-want +got):\n%s", goal, covers, diff)
		}
		// Fewer tries give the cheapest first, and say that there may be more.
		if len(got) > 1 {
			some, all := Sets(cost, most, 1, 100000, explain)
			least := math.Inf(1)
			for _, s := range want {
				least = min(least, sum(s))
			}
			if all || len(some) != 1 || sum(some[0]) > least+1e-9 {
				t.Fatalf("the first of %d is %v (all: %v); the cheapest costs %g", len(got), some, all, least)
			}
		}
	})
}
