package faults

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
)

// Looking is what looking into the parts of a harness takes: reaching the nearest place
// where the part can be got at, unless someone has been to one, and looking it over or
// opening it up. Minutes are those of the harness, for all parts or for one
// ([netlist.Harness.Looks]).
type Looking struct {
	sites  []netlist.Site
	place  map[string]int
	at     map[string][]int // by part: places with a time to reach them, nearest first
	looks  map[string]netlist.Look
	opened float64 // minutes to open up what has none of its own
}

// NewLooking finds the places of a harness's parts. A wire is got at from either end, a
// module at each of its connectors; what lies at no place with a time to reach it takes no
// way.
func NewLooking(c *netlist.Circuit) *Looking {
	l := &Looking{sites: c.Sites, place: map[string]int{}, at: map[string][]int{}, looks: c.Harness.Looks()}
	_, l.opened = c.Harness.LookMinutes()
	near := func(part string, site int) {
		if c.Sites[site].Reachable && !slices.Contains(l.at[part], site) {
			l.at[part] = append(l.at[part], site)
		}
	}
	ends := map[int][]int{} // by node: places
	for i := range c.Sites {
		s := &c.Sites[i]
		l.place[s.Name] = i
		near(s.Name, i)
		if s.Device != "" {
			near(s.Device, i)
		}
		for _, k := range s.Contacts {
			for _, n := range []int{k.Node, k.Other} {
				if n >= 0 {
					ends[n] = append(ends[n], i)
				}
			}
		}
	}
	for _, u := range c.Units {
		for _, i := range u.Sites {
			near(u.Name, i)
		}
	}
	for _, t := range c.Harness.Terminators {
		for i := range c.Sites {
			if s := &c.Sites[i]; s.Name == t.At || s.Device == t.At {
				near(t.Name, i)
			}
		}
	}
	for _, e := range c.Elements {
		if e.Kind != netlist.WireElement {
			continue
		}
		for _, n := range []int{e.A, e.B} {
			for _, i := range ends[n] {
				near(e.Part, i)
			}
		}
	}
	for _, at := range l.at {
		slices.SortStableFunc(at, func(a, b int) int { return cmp.Compare(c.Sites[a].ReachMin, c.Sites[b].ReachMin) })
	}
	return l
}

// Minutes is what looking into a part takes, and marks its place as reached. What is no
// part of the harness, "healthy wiring" among it, takes as long as a wire without minutes
// of its own: the cause has to be looked for elsewhere.
func (l *Looking) Minutes(part string, been map[string]bool) float64 {
	reached := l.indices(been)
	minutes := l.list([]string{part}).look(0, reached)
	for i, yes := range reached {
		if yes {
			been[l.sites[i].Name] = true
		}
	}
	return minutes
}

// Order gives parts in the order in which looking into them, one after the other, finds
// the one that is at fault in the fewest minutes expected, as indices: the most probable
// first, or those with the most probability for each minute of way and looking, whichever
// takes less. weight is each part's share and need not sum to 1.
func (l *Looking) Order(parts []string, weight []float64, been map[string]bool) []int {
	order, _ := l.list(parts).best(weight, l.indices(been))
	return slices.Clone(order)
}

// indices tells by place whether someone has been there.
func (l *Looking) indices(been map[string]bool) []bool {
	out := make([]bool, len(l.sites))
	for name, yes := range been {
		if i, ok := l.place[name]; ok && yes {
			out[i] = true
		}
	}
	return out
}

// each gives the parts that a name stands for: of several faults at once, all of them.
func (l *Looking) each(part string) []string {
	if _, known := l.looks[part]; known {
		return []string{part}
	}
	return strings.Split(part, " and ")
}

// lookList is what looking into a list of parts takes, worked out once.
type lookList struct {
	sites   []netlist.Site
	minutes []float64 // by part, beside the way
	at      [][][]int // by part, and by each of the parts that it stands for: its places

	order, byRate []int // working space
	rate          []float64
	reached       []bool
}

func (l *Looking) list(parts []string) *lookList {
	out := &lookList{
		sites: l.sites, minutes: make([]float64, len(parts)), at: make([][][]int, len(parts)),
		rate: make([]float64, len(parts)), reached: make([]bool, len(l.sites)),
	}
	for i, part := range parts {
		for _, one := range l.each(part) {
			if look, known := l.looks[one]; known {
				out.minutes[i] += look.Minutes
			} else {
				out.minutes[i] += l.opened
			}
			if at := l.at[one]; len(at) > 0 {
				out.at[i] = append(out.at[i], at)
			}
		}
	}
	return out
}

// look is what looking into a part takes, and marks its places as reached.
func (k *lookList) look(part int, reached []bool) float64 {
	sum := k.minutes[part]
	for _, at := range k.at[part] {
		if !slices.ContainsFunc(at, func(s int) bool { return reached[s] }) {
			sum += k.sites[at[0]].ReachMin
			reached[at[0]] = true
		}
	}
	return sum
}

// best gives the better order of those of [Looking.Order], which is good until the next
// call, and the minutes expected in it until the part is found. Parts of no weight are
// left out.
func (k *lookList) best(weight []float64, been []bool) (order []int, minutes float64) {
	k.order = k.order[:0]
	for i, w := range weight {
		if w > 0 {
			k.order = append(k.order, i)
			copy(k.reached, been)
			k.rate[i] = w / k.look(i, k.reached)
		}
	}
	slices.SortStableFunc(k.order, func(a, b int) int { return cmp.Compare(weight[b], weight[a]) })
	k.byRate = append(k.byRate[:0], k.order...)
	slices.SortStableFunc(k.byRate, func(a, b int) int { return cmp.Compare(k.rate[b], k.rate[a]) })
	likeliest, soonest := k.expected(k.order, weight, been), k.expected(k.byRate, weight, been)
	if soonest < likeliest {
		return k.byRate, soonest
	}
	return k.order, likeliest
}

// expected is the minutes expected until the part is found by looking in an order.
func (k *lookList) expected(order []int, weight []float64, been []bool) float64 {
	copy(k.reached, been)
	left, sum := 0.0, 0.0
	for _, w := range weight {
		left += w
	}
	for _, i := range order {
		sum += left * k.look(i, k.reached)
		left = math.Max(0, left-weight[i])
	}
	return sum
}

// saving is what readings are expected to save of looking into parts.
type saving struct {
	l      *Looking
	list   *lookList
	been   []bool
	before float64 // minutes expected without one more reading
}

// saving begins with places been to.
func (f *foresight) saving(been map[string]bool) *saving {
	l := f.x.looksInto()
	s := &saving{l: l, list: l.list(f.parts), been: l.indices(been)}
	_, s.before = s.list.best(f.chance, s.been)
	return s
}

// by is the minutes of looking that a reading is expected to save, by the chances of its
// outcomes with each part, after which its places have been reached.
func (s *saving) by(given [][]float64, places ...string) float64 {
	after := slices.Clone(s.been)
	for _, name := range places {
		if i, ok := s.l.place[name]; ok {
			after[i] = true
		}
	}
	weight := make([]float64, len(given))
	sum := 0.0
	for b := range given[0] {
		for i := range given {
			weight[i] = given[i][b]
		}
		_, minutes := s.list.best(weight, after)
		sum += minutes
	}
	return s.before - sum
}

// looksInto is made once.
func (x *Matcher) looksInto() *Looking {
	if x.looking == nil {
		x.looking = NewLooking(x.c)
	}
	return x.looking
}
