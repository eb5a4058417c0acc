package solve

import (
	"slices"

	"gonum.org/v1/gonum/floats"
)

// elimination is a part's nodes taken out one after the other, each star made
// into the mesh that does the same to its neighbours: of a node k with
// conductances g to its neighbours i, j, …
//
//	g_ij becomes g_ij + g_ki·g_kj/Σ g_k
//
// The reference is a neighbour like any other. That is Cholesky's factorisation
// without a diagonal: a diagonal is the sum of a node's conductances, and to take
// from it what eliminated nodes carried off is what costs a 1 MΩ way to ground
// beside a 5 mΩ contact its digits. Here nothing is ever taken from anything, so
// that each number keeps nearly all its digits however far the ohms lie apart.
// (A. S. Alfa, J. Xue, Q. Ye, Accurate computation of the smallest eigenvalue of a
// diagonally dominant M-matrix, Mathematics of Computation 71, 2002, p. 217–236;
// for Markov chains W. K. Grassmann, M. I. Taksar, D. P. Heyman, Operations Research
// 33, 1985, p. 1107–1116.)
type elimination struct {
	// Place by place: its neighbours' places, all of them later, in to from
	// start[place] to start[place+1], their shares of all the conductance there,
	// and the ohms of all the conductance together.
	start []int32
	to    []int32
	share []float64
	ohms  []float64
	// up is the earliest of a place's neighbours, −1 for none; depth is how many
	// are above it.
	up, depth []int32
}

// eliminate takes out m rows and tells in which order, place by place. Ends of wires
// from m on are the reference.
//
// Rows with few neighbours go first, which in a net that is nearly a tree makes nearly no
// new ties. It goes by rounds: who has lost a neighbour in a round waits for the next,
// so that a chain is folded in half again and again and not taken up from its end. A
// place then has few above it, about as many as the number of rows has doublings, and
// whatever needs only the places above (path.go) hardly grows at all.
func eliminate(m int, wires []wire) (e *elimination, order []int32) {
	w := newWeb(m, wires)
	order = make([]int32, 0, m)
	e = &elimination{
		start: make([]int32, 1, m+1), ohms: make([]float64, 0, m),
		to: make([]int32, 0, 2*m), share: make([]float64, 0, 2*m),
	}
	// waiting[d] are the rows that had d neighbours when they were put there;
	// touched is the round in which a row last lost a neighbour.
	waiting := make([][]int32, 1, 8)
	put := func(k int32) {
		d := int(w.degree[k])
		for len(waiting) <= d {
			waiting = append(waiting, nil)
		}
		waiting[d] = append(waiting[d], k)
	}
	for k := range int32(m) {
		put(k)
	}
	const gone = -1
	touched := make([]int32, m)
	var later, now []int32
	for round := int32(1); len(order) < m; round++ {
		// Rows with one or two neighbours leave no more ties than there were, so
		// they go together.
		limit := 2
		for d, rows := range waiting {
			if len(rows) > 0 {
				limit = max(limit, d)
				break
			}
		}
		if left := m - len(order); limit >= leastDense && 2*limit >= left {
			var rows []int32
			for k, t := range touched {
				if t != gone {
					rows = append(rows, int32(k))
				}
			}
			w.takeOutAll(rows, e)
			order = append(order, rows...)
			break
		}
		later = later[:0]
		for d := 0; d <= limit && d < len(waiting); d++ {
			now = append(now[:0], waiting[d]...)
			waiting[d] = waiting[d][:0]
			for _, k := range now {
				switch {
				case touched[k] == gone || touched[k] != round && int(w.degree[k]) != d:
					continue // it waits elsewhere by now
				case touched[k] == round:
					continue // it is put back below
				}
				touched[k] = gone
				order = append(order, k)
				for _, j := range w.takeOut(k, e) {
					if touched[j] != round {
						touched[j] = round
						later = append(later, j)
					}
				}
			}
		}
		for _, k := range later {
			put(k)
		}
	}
	place := make([]int32, m)
	for p, k := range order {
		place[k] = int32(p)
	}
	for q, row := range e.to {
		e.to[q] = place[row]
	}
	e.up, e.depth = make([]int32, m), make([]int32, m)
	for p := int32(m) - 1; p >= 0; p-- {
		e.up[p] = -1
		if near := e.to[e.start[p]:e.start[p+1]]; len(near) > 0 {
			e.up[p] = slices.Min(near)
			e.depth[p] = e.depth[e.up[p]] + 1
		}
	}
	return e, order
}

// web is what is left of a part while its rows are taken out. Each tie is two
// ends, number 2t and 2t+1, each in the list of the row it is at.
type web struct {
	at, next, prev []int32   // end: its row, its neighbours in that row's list
	siemens        []float64 // tie
	first, degree  []int32   // row: first of its ends, how many
	ground         []float64 // row: conductance to the reference
	free           []int32   // ties that are gone and may be used anew
	near           []int32   // the neighbours of the row that was taken out last
	weight         []float64 // and the conductances to them
	mark           []int32   // row: an end that leads to it, −1
}

func newWeb(m int, wires []wire) *web {
	ends := 2 * len(wires)
	ints := make([]int32, 3*ends+3*m)
	w := &web{
		at: ints[:0:ends], next: ints[ends : ends : 2*ends], prev: ints[2*ends : 2*ends : 3*ends],
		first: ints[3*ends : 3*ends+m], degree: ints[3*ends+m : 3*ends+2*m], mark: ints[3*ends+2*m:],
		siemens: make([]float64, 0, len(wires)), ground: make([]float64, m),
	}
	for k := range w.first {
		w.first[k], w.mark[k] = -1, -1
	}
	for i := range wires {
		switch a, b, g := wires[i].a, wires[i].b, wires[i].siemens; {
		case int(a) < m && int(b) < m:
			w.join(a, b, g)
		case int(a) < m:
			w.ground[a] += g
		case int(b) < m:
			w.ground[b] += g
		}
	}
	for k := range int32(m) {
		w.merge(k)
	}
	return w
}

// merge makes one tie of those that lead from a row to the same other.
func (w *web) merge(k int32) {
	for h := w.first[k]; h >= 0; h = w.next[h] {
		j := w.at[h^1]
		same := w.mark[j]
		if same < 0 {
			w.mark[j] = h
			continue
		}
		w.siemens[same/2] += w.siemens[h/2]
		w.unlist(h)
		w.unlist(h ^ 1)
		w.free = append(w.free, h/2)
	}
	for h := w.first[k]; h >= 0; h = w.next[h] {
		w.mark[w.at[h^1]] = -1
	}
}

// between finds the end at one of two rows of the tie that joins them, −1 for none.
func (w *web) between(a, b int32) int32 {
	if w.degree[a] > w.degree[b] {
		a, b = b, a
	}
	for h := w.first[a]; h >= 0; h = w.next[h] {
		if w.at[h^1] == b {
			return h
		}
	}
	return -1
}

// add puts conductance between two rows.
func (w *web) add(a, b int32, siemens float64) {
	if h := w.between(a, b); h >= 0 {
		w.siemens[h/2] += siemens
		return
	}
	w.join(a, b, siemens)
}

// join makes a tie between two rows that have none.
func (w *web) join(a, b int32, siemens float64) {
	var t int32
	if last := len(w.free) - 1; last >= 0 {
		t = w.free[last]
		w.free = w.free[:last]
		w.siemens[t] = siemens
	} else {
		t = int32(len(w.siemens))
		w.siemens = append(w.siemens, siemens)
		w.at, w.next, w.prev = append(w.at, 0, 0), append(w.next, 0, 0), append(w.prev, 0, 0)
	}
	w.list(2*t, a)
	w.list(2*t+1, b)
}

// list puts an end first in a row's list.
func (w *web) list(h, k int32) {
	w.at[h], w.prev[h], w.next[h] = k, -1, w.first[k]
	if w.next[h] >= 0 {
		w.prev[w.next[h]] = h
	}
	w.first[k] = h
	w.degree[k]++
}

// unlist takes an end out of its row's list.
func (w *web) unlist(h int32) {
	if w.prev[h] >= 0 {
		w.next[w.prev[h]] = w.next[h]
	} else {
		w.first[w.at[h]] = w.next[h]
	}
	if w.next[h] >= 0 {
		w.prev[w.next[h]] = w.prev[h]
	}
	w.degree[w.at[h]]--
}

// takeOut takes out a row, makes its star into a mesh and notes it as the next
// of e. It gives the row's neighbours.
func (w *web) takeOut(k int32, e *elimination) []int32 {
	w.near, w.weight = w.near[:0], w.weight[:0]
	sum := w.ground[k]
	for h := w.first[k]; h >= 0; h = w.next[h] {
		g := w.siemens[h/2]
		sum += g
		w.near, w.weight = append(w.near, w.at[h^1]), append(w.weight, g)
		w.unlist(h ^ 1)
		w.free = append(w.free, h/2)
	}
	e.ohms = append(e.ohms, 1/sum)
	for x, i := range w.near {
		share := w.weight[x] / sum
		e.to, e.share = append(e.to, i), append(e.share, share)
		w.ground[i] += share * w.ground[k]
		w.mesh(i, share, w.near[x+1:], w.weight[x+1:])
	}
	e.start = append(e.start, int32(len(e.to)))
	return w.near
}

// mesh adds share of each of some rows' weights between row i and them.
func (w *web) mesh(i int32, share float64, others []int32, weight []float64) {
	// Looking one tie up goes through a list; many are found by marking the rows
	// that i leads to first. Rails have long lists, so they are not marked for a few.
	if len(others) <= 4 || int(w.degree[i]) > 8*len(others) {
		for x, j := range others {
			w.add(i, j, share*weight[x])
		}
		return
	}
	for h := w.first[i]; h >= 0; h = w.next[h] {
		w.mark[w.at[h^1]] = h
	}
	for x, j := range others {
		if h := w.mark[j]; h >= 0 {
			w.siemens[h/2] += share * weight[x]
		} else {
			w.join(i, j, share*weight[x])
		}
	}
	for h := w.first[i]; h >= 0; h = w.next[h] {
		w.mark[w.at[h^1]] = -1
	}
}

// leastDense is the number of neighbours from which on it pays to take out rows as a
// full array, where each has at least half of the others for neighbours. A harness has
// none such. A few hundred rows that are all tied to each other are done ten times as
// fast so, in twice the time of gonum's dense Cholesky, which does not keep the digits
// (BenchmarkMesh).
const leastDense = 8

// takeOutAll takes out all rows that are left, in order, as a full array.
func (w *web) takeOutAll(rows []int32, e *elimination) {
	m := len(rows)
	all := make([]float64, m*m) // what stands right of the diagonal counts
	for i, k := range rows {
		w.mark[k] = int32(i)
	}
	for i, k := range rows {
		for h := w.first[k]; h >= 0; h = w.next[h] {
			all[i*m+int(w.mark[w.at[h^1]])] = w.siemens[h/2]
		}
	}
	for i, k := range rows {
		g := all[i*m : (i+1)*m]
		sum := w.ground[k] + floats.Sum(g[i+1:])
		e.ohms = append(e.ohms, 1/sum)
		for j := i + 1; j < m; j++ {
			if g[j] == 0 {
				continue
			}
			share := g[j] / sum
			e.to, e.share = append(e.to, rows[j]), append(e.share, share)
			w.ground[rows[j]] += share * w.ground[k]
			floats.AddScaled(all[j*m+j+1:(j+1)*m], share, g[j+1:])
		}
		e.start = append(e.start, int32(len(e.to)))
	}
}

// solve turns currents in amperes into each place into potentials in volts to
// the reference, in place.
func (e *elimination) solve(x []float64) {
	to, share := e.to, e.share
	for p := range x {
		if amps := x[p]; amps != 0 {
			for q := e.start[p]; q < e.start[p+1]; q++ {
				x[to[q]] += share[q] * amps
			}
		}
	}
	for p := len(x) - 1; p >= 0; p-- {
		v := x[p] * e.ohms[p]
		for q := e.start[p]; q < e.start[p+1]; q++ {
			v += share[q] * x[to[q]]
		}
		x[p] = v
	}
}
