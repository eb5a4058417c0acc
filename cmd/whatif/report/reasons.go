package report

import (
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve/derivation"
)

// reasons say how readings come about: every reading in healthy wiring, those at the
// nearest connectors with each fault that changes them, and of each kind of reading the
// nearest that shows a fault, with that fault.
type reasons struct {
	// Healthy has a derivation for each reading, by index.
	Healthy [][]derived `json:"healthy"`
	// Faulty has, for some readings, a derivation for each fault that changes it.
	Faulty map[int]map[int][]derived `json:"faulty"`
}

// derived is one piece of a derivation in words.
type derived struct {
	Heading    string     `json:"heading,omitempty"`
	Paragraphs []string   `json:"paragraphs,omitempty"`
	Steps      []string   `json:"steps,omitempty"`
	Header     []string   `json:"header,omitempty"`
	Rows       [][]string `json:"rows,omitempty"`
}

// mostDerived is how many derivations with a fault a page has at most. They make most
// of its size and of the time it takes; a harness of twenty connectors stays below.
const mostDerived = 6000

// byUse orders the readings by what people take first: resistances between the
// conductors, resistances to ground, volts, then what is unplugged.
func byUse(d *data) []int {
	rank := func(i int) int {
		k := d.Kinds[d.Readings[i].Kind]
		switch {
		case k.Unplugged:
			return 3
		case k.Volts:
			return 2
		case strings.HasSuffix(k.Between, "-"+netlist.GroundRail):
			return 1
		}
		return 0
	}
	out := make([]int, len(d.Readings))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int { return rank(a) - rank(b) })
	return out
}

// deriveReadings works the reasons out. at are the places whose readings are derived
// with faults too.
func deriveReadings(t *faults.Table, d *data, at []string, progress func(done, of int)) (*reasons, error) {
	out := &reasons{Healthy: make([][]derived, len(d.Readings)), Faulty: map[int]map[int][]derived{}}
	type task struct {
		reading int
		faults  []int
	}
	var tasks []task
	left := mostDerived
	nearest := nearestShowing(d)
	for _, i := range byUse(d) {
		x := task{reading: i}
		x.faults = nearest[i]
		if slices.Contains(at, d.Places[d.Readings[i].Place].Name) {
			x.faults = nil
			for _, c := range d.Readings[i].Cells {
				x.faults = append(x.faults, c.Faults...)
			}
		}
		slices.Sort(x.faults)
		if len(x.faults) > left {
			x.faults = nil
		}
		if left -= len(x.faults); len(x.faults) > 0 {
			out.Faulty[i] = map[int][]derived{}
		}
		tasks = append(tasks, x)
	}
	next := make(chan task)
	var workers sync.WaitGroup
	var lock sync.Mutex
	var problems []error
	done := 0
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for x := range next {
				healthy, faulty, err := deriveReading(t, x.reading, x.faults)
				lock.Lock()
				problems = append(problems, err)
				out.Healthy[x.reading] = healthy
				for k, f := range x.faults {
					if err == nil {
						out.Faulty[x.reading][f] = faulty[k]
					}
				}
				if done++; progress != nil {
					progress(done, len(tasks))
				}
				lock.Unlock()
			}
		})
	}
	for _, x := range tasks {
		next <- x
	}
	close(next)
	workers.Wait()
	return out, errors.Join(problems...)
}

// nearestShowing gives, by reading, the faults that it is the nearest of its kind to show: that lie outside the healthy band there and nowhere
// nearer.
func nearestShowing(d *data) map[int][]int {
	type key struct{ kind, fault int }
	best := map[key]int{}
	for i, r := range d.Readings {
		for _, c := range r.Cells {
			if c.Mark != faults.Outside {
				continue
			}
			for _, f := range c.Faults {
				k := key{r.Kind, f}
				if known, ok := best[k]; !ok || d.Places[r.Place].Minutes < d.Places[d.Readings[known].Place].Minutes {
					best[k] = i
				}
			}
		}
	}
	out := map[int][]int{}
	for k, i := range best {
		out[i] = append(out[i], k.fault)
	}
	return out
}

// maySkip leads the steps on paper where stars are turned into triangles.
const maySkip = "You may skip this part when you learn: what stands above is enough. It is for who wants to follow every number."

// starWords are in a section of steps that has stars in it.
const starWords = "the star around"

// deriveReading explains one reading, healthy and with faults.
func deriveReading(t *faults.Table, reading int, list []int) (healthy []derived, faulty [][]derived, err error) {
	p := t.Probes[reading]
	q := questionOf(p, t.Instrument.Meter)
	h, err := derivation.Explain(t.Circuit, q)
	if err != nil {
		return nil, nil, fmt.Errorf("report: %s, healthy: %w", p, err)
	}
	if healthy, err = against(h, q); err != nil {
		return nil, nil, err
	}
	for _, k := range list {
		f := t.Rows[k].Fault
		q.Changes, q.Fault = f.Typical(), f.Name
		got, err := against(h, q)
		if err != nil {
			return nil, nil, err
		}
		faulty = append(faulty, got)
	}
	return healthy, faulty, nil
}

// against is a reading in words, beside its healthy derivation where something is wrong.
func against(h *derivation.Derivation, q derivation.Question) ([]derived, error) {
	x, err := h.Against(q)
	if errors.Is(err, derivation.ErrNotAtRest) {
		return []derived{{Paragraphs: []string{"With " + q.Fault + " nothing is at rest: a module sends all the time. Such a reading is not derived."}}}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("report: the reading with %s: %w", cmp.Or(q.Fault, faults.HealthyName), err)
	}
	var out []derived
	for _, s := range x.Sections(derivation.Short) {
		if strings.Contains(strings.Join(s.Paragraphs, " "), starWords) {
			s.Paragraphs = append([]string{maySkip}, s.Paragraphs...)
		}
		out = append(out, derived(s))
	}
	return out, nil
}

// nearestPlaces gives, for each network, the place that is reached first.
func nearestPlaces(c *netlist.Circuit, d *data) []string {
	var out []string
	for n := range d.Networks {
		best := -1
		for _, r := range d.Readings {
			if d.Kinds[r.Kind].Network == n && (best < 0 || d.Places[r.Place].Minutes < d.Places[best].Minutes) {
				best = r.Place
			}
		}
		if best >= 0 && !slices.Contains(out, d.Places[best].Name) {
			out = append(out, d.Places[best].Name)
		}
	}
	return out
}
