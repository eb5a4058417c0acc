// Package disjoint parts small integers into disjoint sets: which nodes hang
// together.
package disjoint

// Sets is a forest of disjoint sets over 0 … n−1.
type Sets struct{ parent []int }

// New makes n sets of one member each.
func New(n int) *Sets {
	s := &Sets{parent: make([]int, n)}
	for i := range s.parent {
		s.parent[i] = i
	}
	return s
}

// Reset makes it n sets of one member each again, of whatever it was; the zero
// value is ready for it.
func (s *Sets) Reset(n int) {
	if cap(s.parent) < n {
		s.parent = make([]int, n)
	}
	s.parent = s.parent[:n]
	for i := range s.parent {
		s.parent[i] = i
	}
}

// Extend adds n sets of one member each.
func (s *Sets) Extend(n int) {
	for range n {
		s.parent = append(s.parent, len(s.parent))
	}
}

// Copy makes it the same sets as others.
func (s *Sets) Copy(other *Sets) { s.parent = append(s.parent[:0], other.parent...) }

// Find gives the member that stands for i's set: its lowest.
func (s *Sets) Find(i int) int {
	for s.parent[i] != i {
		s.parent[i] = s.parent[s.parent[i]]
		i = s.parent[i]
	}
	return i
}

// Join makes one set of those of a and b. The lower member stands for both, so
// that sets keep the order of their members.
func (s *Sets) Join(a, b int) {
	a, b = s.Find(a), s.Find(b)
	if a > b {
		a, b = b, a
	}
	s.parent[b] = a
}

// Together lists the sets, each in ascending order, in the order of their lowest
// members.
func (s *Sets) Together() [][]int {
	var out [][]int
	at := map[int]int{}
	for i := range s.parent {
		r := s.Find(i)
		k, ok := at[r]
		if !ok {
			k = len(out)
			at[r] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], i)
	}
	return out
}
