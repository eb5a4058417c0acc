package faults

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
)

// Looking is what looking into the parts of a harness takes: reaching the nearest place
// where the part can be got at, unless someone has been there, and looking it over or
// opening it up. Minutes are those of the harness, for all parts or for one
// ([netlist.Harness.Looks]).
type Looking struct {
	at     map[string]*netlist.Site // nil for what lies at no place with a time to reach it
	looks  map[string]netlist.Look
	opened float64 // minutes to open up what has none of its own
}

// NewLooking finds the places of a harness's parts. A wire is got at from the nearer of
// its ends that has a time to reach it.
func NewLooking(c *netlist.Circuit) *Looking {
	l := &Looking{at: map[string]*netlist.Site{}, looks: c.Harness.Looks()}
	_, l.opened = c.Harness.LookMinutes()
	near := func(part string, s *netlist.Site) {
		if old := l.at[part]; s.Reachable && (old == nil || s.ReachMin < old.ReachMin) {
			l.at[part] = s
		}
	}
	ends := map[int][]*netlist.Site{} // by node
	for i := range c.Sites {
		s := &c.Sites[i]
		near(s.Name, s)
		if s.Device != "" {
			near(s.Device, s)
		}
		for _, k := range s.Contacts {
			for _, n := range []int{k.Node, k.Other} {
				if n >= 0 {
					ends[n] = append(ends[n], s)
				}
			}
		}
	}
	for _, u := range c.Units {
		for _, i := range u.Sites {
			near(u.Name, &c.Sites[i])
		}
	}
	for _, t := range c.Harness.Terminators {
		for i := range c.Sites {
			if s := &c.Sites[i]; s.Name == t.At || s.Device == t.At {
				near(t.Name, s)
			}
		}
	}
	for _, e := range c.Elements {
		if e.Kind != netlist.WireElement {
			continue
		}
		for _, n := range []int{e.A, e.B} {
			for _, s := range ends[n] {
				near(e.Part, s)
			}
		}
	}
	return l
}

// Minutes is what looking into a part takes, and marks its place as reached. What is no
// part of the harness, "healthy wiring" among it, takes as long as a wire without minutes
// of its own: the cause has to be looked for elsewhere.
func (l *Looking) Minutes(part string, been map[string]bool) float64 {
	minutes := l.minutes(part, been)
	for _, one := range l.each(part) {
		if s := l.at[one]; s != nil {
			been[s.Name] = true
		}
	}
	return minutes
}

// each gives the parts that a name stands for: of several faults at once, all of them.
func (l *Looking) each(part string) []string {
	if _, known := l.looks[part]; known {
		return []string{part}
	}
	return strings.Split(part, " and ")
}

func (l *Looking) minutes(part string, been map[string]bool) float64 {
	sum := 0.0
	var reached []*netlist.Site
	for _, one := range l.each(part) {
		if look, known := l.looks[one]; known {
			sum += look.Minutes
		} else {
			sum += l.opened
		}
		if s := l.at[one]; s != nil && !been[s.Name] && !slices.Contains(reached, s) {
			sum += s.ReachMin
			reached = append(reached, s)
		}
	}
	return sum
}

// lookedInto is the minutes expected until the part is found by looking, the most
// probable first; weight is each part's share and need not sum to 1. (Parts by
// probability for each minute of looking are opened more and found hardly sooner.)
func (l *Looking) lookedInto(parts []string, weight []float64, been map[string]bool) float64 {
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(weight[b], weight[a]) })
	reached := maps.Clone(been)
	left, sum := 0.0, 0.0
	for _, w := range weight {
		left += w
	}
	for _, i := range order {
		if !(weight[i] > 0) {
			break
		}
		sum += left * l.Minutes(parts[i], reached)
		left = math.Max(0, left-weight[i])
	}
	return sum
}

// saved is the minutes of looking that a reading is expected to save, by the chances of
// its outcomes with each part, after which its places have been reached.
func (f *foresight) saved(given [][]float64, been map[string]bool, places ...string) float64 {
	l := f.x.looksInto()
	before := l.lookedInto(f.parts, f.chance, been)
	after := maps.Clone(been)
	for _, s := range places {
		after[s] = true
	}
	weight := make([]float64, len(f.parts))
	sum := 0.0
	for b := range given[0] {
		for i := range given {
			weight[i] = given[i][b]
		}
		sum += l.lookedInto(f.parts, weight, after)
	}
	return before - sum
}

// looksInto is made once.
func (x *Matcher) looksInto() *Looking {
	if x.looking == nil {
		x.looking = NewLooking(x.c)
	}
	return x.looking
}
