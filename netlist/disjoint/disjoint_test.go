package disjoint

import (
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestTogether(t *testing.T) {
	s := New(6)
	s.Join(4, 1)
	s.Join(5, 2)
	s.Join(1, 0)
	if diff := cmp.Diff([][]int{{0, 1, 4}, {2, 5}, {3}}, s.Together()); diff != "" {
		t.Error(diff)
	}
	if s.Find(4) != 0 || s.Find(5) != 2 {
		t.Errorf("4 stands in the set of %d, 5 in that of %d", s.Find(4), s.Find(5))
	}
}

// Two members are in one set just if a search along the joins gets from one to
// the other.
func TestAgainstSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "n")
		s := New(n)
		joined := make([][]int, n)
		for range rapid.IntRange(0, 15).Draw(t, "joins") {
			a, b := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b")
			s.Join(a, b)
			joined[a], joined[b] = append(joined[a], b), append(joined[b], a)
		}
		for from := 0; from < n; from++ {
			reached, todo := map[int]bool{from: true}, []int{from}
			for len(todo) > 0 {
				i := todo[0]
				todo = todo[1:]
				for _, j := range joined[i] {
					if !reached[j] {
						reached[j] = true
						todo = append(todo, j)
					}
				}
			}
			for to := 0; to < n; to++ {
				if (s.Find(from) == s.Find(to)) != reached[to] {
					t.Fatalf("%d and %d: one set %v, reached %v", from, to, s.Find(from) == s.Find(to), reached[to])
				}
			}
		}
	})
}

// Sets that are used again, taken from others, or grown.
func TestSetsUsedAgain(t *testing.T) {
	var s Sets
	s.Reset(4)
	s.Join(1, 3)
	var copied Sets
	copied.Copy(&s)
	s.Join(0, 1)
	copied.Extend(2)
	copied.Join(2, 5)
	want := [][]int{{0}, {1, 3}, {2, 5}, {4}}
	if got := copied.Together(); !reflect.DeepEqual(got, want) {
		t.Errorf("copied and grown: %v, want %v", got, want)
	}
	if got, want := s.Together(), [][]int{{0, 1, 3}, {2}}; !reflect.DeepEqual(got, want) {
		t.Errorf("what was copied from: %v, want %v", got, want)
	}
	s.Reset(2)
	if got, want := s.Together(), [][]int{{0}, {1}}; !reflect.DeepEqual(got, want) {
		t.Errorf("reset: %v, want %v", got, want)
	}
}
