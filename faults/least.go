package faults

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/solve"
)

// Least says what courses of readings can take at best on a harness with one fault, over
// all faults by their rates, the first reading given.
type Least struct {
	// Bound is in no course's reach: the minutes until the fault is seen, looking into
	// parts included (see [Looking]), of a technician who is told the ohms that the
	// fault has if it is one with ohms, the place along the wire, every tolerance, the
	// gain of the meter and the resistance of its leads, and who tells apart readings
	// that lie half a standard deviation of the meter's digits apart. Only many readings
	// still nearer to each other could tell more, or looking into parts between readings.
	Bound CourseMinutes
	// Found is an estimate of the best that there is: the same with tolerances and
	// meter as they are, and readings told apart where they lie so far apart that 95 %
	// are told right.
	Found CourseMinutes
	// Isolated is the estimate for a course that goes on reading until one part has 95 %
	// or no reading tells any more apart, and what looking takes is not counted.
	Isolated CourseMinutes
}

// CourseMinutes is what a best course takes.
type CourseMinutes struct {
	// Minutes expected, and the part of them that goes into reaching places, unplugging,
	// switching the supply and reading.
	Minutes, Readings float64
	// Depth is how many readings in a row were weighed, after which all is taken to be
	// told for nothing, so that the figures are still bounds; 0 for no limit.
	Depth int
}

const (
	leastValues = 5          // values of a free resistance that stand for all
	mostWork    = 20_000_000 // explanations looked at for each of them beyond one reading: some seconds
	sharply     = 0.5        // standard deviations of Bound
	certainly   = 3.29       // of the estimates: Φ(−3.29/2) is 5 %
	isolated    = 0.95       // probability of a part
)

// Least works out the best courses. All readings of a place with the same connectors
// apart are had for the time of one. The order of readings is the best of all, and where
// they end (dynamic programming over what is known, the places reached and the supply);
// on a large harness courses are weighed to a depth.
func (x *Matcher) Least(first Probe) (*Least, error) {
	out := &Least{}
	for _, one := range []struct {
		out  *CourseMinutes
		rule courseRule
	}{
		{&out.Bound, courseRule{sharp: true, apart: sharply}},
		{&out.Found, courseRule{apart: certainly}},
		{&out.Isolated, courseRule{apart: certainly, isolate: true}},
	} {
		var all []*course
		for k := range leastValues {
			f := &foresight{x: x, none: -1, rangeOhms: x.in.Meter.RangeOhms}
			f.each((float64(k)+0.5)/leastValues, math.Mod(0.5+float64(k)*goldenShare, 1))
			d, err := newCourse(f, first, one.rule)
			if err != nil {
				return nil, err
			}
			all = append(all, d)
		}
		for depth := 1; ; depth++ {
			at, full, cut := CourseMinutes{Depth: depth}, false, false
			for _, d := range all {
				total, readings := d.begin(depth)
				at.Minutes += total / leastValues
				at.Readings += readings / leastValues
				full, cut = full || d.full, cut || d.cut
				if full {
					break
				}
			}
			if full {
				break // the one before stands
			}
			if !cut {
				at.Depth = 0
			}
			*one.out = at
			if !cut {
				break
			}
		}
	}
	return out, nil
}

// goldenShare spreads a few places along a wire evenly: the golden section.
const goldenShare = 0.6180339887

// courseRule is what a best course is told, and where it ends.
type courseRule struct {
	sharp   bool    // tolerances, gain and leads are known
	apart   float64 // standard deviations that are told apart
	isolate bool    // reading goes on as long as it tells, and looking is not counted
}

// each makes a component of every fault, with its free resistance and its place at given
// shares of what they may be.
func (f *foresight) each(share, fraction float64) {
	index := map[string]int{}
	for _, x := range f.x.faults {
		part, ok := index[x.Part]
		if !ok {
			part = len(f.parts)
			index[x.Part] = part
			f.parts, f.chance = append(f.parts, x.Part), append(f.chance, 0)
		}
		f.chance[part] += x.Rate
		c := component{part: part, weight: x.Rate, members: []*Fault{x}, ohms: []float64{0}, fraction: fraction}
		if x.Free != nil {
			c.ohms[0] = x.Free.Min * math.Pow(x.Free.Max/x.Free.Min, share)
		}
		f.components = append(f.components, c)
	}
}

// course is the search for the best order of readings.
type course struct {
	f     *foresight
	tests []courseTest
	start courseTest
	reach []float64
	parts []coursePart
	best  map[string]courseFound
	rule  courseRule
	depth int  // readings to weigh in a row
	cut   bool // more could follow
	work  int
	full  bool // too much work

	slot  []int32   // working space
	share []float64 // by part
	order []int
}

// courseTest is all readings with one place, one set of connectors apart and one state
// of the supply: their outcome together by component.
type courseTest struct {
	outcome []int32
	minutes float64
	places  uint64
	setting int
}

// coursePart is what looking into a part takes, and where it is: one place of several
// faults at once for each.
type coursePart struct {
	minutes float64
	at      []coursePlace
}

// coursePlace is where a part is got at: any of places, the nearest of which is so far
// away.
type coursePlace struct {
	places, nearest uint64
	reach           float64
}

// way is what reaching a part takes.
func (p *coursePart) way(been uint64) float64 {
	sum := 0.0
	for _, x := range p.at {
		if been&x.places == 0 {
			sum += x.reach
			been |= x.nearest
		}
	}
	return sum
}

type courseFound struct{ total, readings float64 }

func newCourse(f *foresight, first Probe, rule courseRule) (*course, error) {
	c := f.x.c
	if len(c.Sites) > 64 {
		return nil, fmt.Errorf("faults: %d connectors and splices; at most 64 can be worked through", len(c.Sites))
	}
	d := &course{f: f, rule: rule}
	place := map[string]int{}
	for i := range c.Sites {
		place[c.Sites[i].Name] = i
		d.reach = append(d.reach, c.Sites[i].ReachMin)
	}
	looks := f.x.looksInto().list(f.parts)
	for i := range f.parts {
		p := coursePart{minutes: looks.minutes[i]}
		for _, at := range looks.at[i] {
			var places uint64
			for _, s := range at {
				places |= 1 << s
			}
			p.at = append(p.at, coursePlace{places, 1 << at[0], d.reach[at[0]]})
		}
		d.parts = append(d.parts, p)
	}
	probes := append([]Probe{first}, f.x.allProbes()...)
	mean, err := f.means(probes)
	if err != nil {
		return nil, err
	}
	f.roughly(probes, mean)
	together := map[string][]int{}
	var order []string
	for k := range probes {
		key := "first"
		if k > 0 {
			key = probes[k].Site + " " + probes[k].Condition.String()
		}
		if together[key] == nil {
			order = append(order, key)
		}
		together[key] = append(together[key], k)
	}
	for n, key := range order {
		t := courseTest{outcome: make([]int32, len(f.components)), minutes: ReadMinutes}
		for _, k := range together[key] {
			t.refine(f.classes(probes[k].Quantity, k, rule))
		}
		p := &probes[together[key][0]]
		t.setting = int(p.Condition.Supply)
		t.places = 1 << place[p.Site]
		for _, s := range p.Condition.Unplugged {
			t.minutes += UnplugMinutes
			t.places |= 1 << place[s]
		}
		if n == 0 {
			d.start = t
			continue
		}
		d.tests = append(d.tests, t)
	}
	for _, at := range f.x.tools() {
		_, lists, err := f.answers(at)
		if err != nil {
			return nil, err
		}
		t := courseTest{outcome: make([]int32, len(f.components)), minutes: ToolMinutes, places: 1 << place[at], setting: int(solve.Idle)}
		seen := map[string]int32{}
		for i, list := range lists {
			key := fmt.Sprint(list)
			if _, ok := seen[key]; !ok {
				seen[key] = int32(len(seen))
			}
			t.outcome[i] = seen[key]
		}
		d.tests = append(d.tests, t)
	}
	return d, nil
}

// classes parts components by one reading where they lie apart.
func (f *foresight) classes(q solve.Quantity, k int, rule courseRule) []int32 {
	order := make([]int, len(f.components))
	mean, sd := make([]float64, len(order)), make([]float64, len(order))
	for i := range order {
		c := &f.components[i]
		order[i], mean[i], sd[i] = i, c.mean[k], c.sd[k]
		if rule.sharp {
			own, _, _ := f.x.in.errors(q, offScale(q, mean[i], 0))
			sd[i] = math.Sqrt(own)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(mean[a], mean[b]) })
	out := make([]int32, len(order))
	for n, i := range order[1:] {
		before := order[n]
		out[i] = out[before]
		if mean[i]-mean[before] > rule.apart*(sd[i]+sd[before])/2 {
			out[i]++
		}
	}
	return out
}

// refine parts the outcomes by those of a further reading.
func (t *courseTest) refine(class []int32) {
	pairs := map[[2]int32]int32{}
	for i, x := range class {
		key := [2]int32{t.outcome[i], x}
		if _, ok := pairs[key]; !ok {
			pairs[key] = int32(len(pairs))
		}
		t.outcome[i] = pairs[key]
	}
}

// begin takes the first reading and gives the minutes expected from there.
func (d *course) begin(depth int) (total, readings float64) {
	d.depth, d.cut, d.work, d.full, d.best = depth, false, 0, false, map[string]courseFound{}
	var all []int32
	sum := 0.0
	for i := range d.f.components {
		all = append(all, int32(i))
		sum += d.f.components[i].weight
	}
	first := d.price(&d.start, 0, d.start.setting)
	for _, cell := range d.split(&d.start, all) {
		got := d.solve(cell, d.start.places, d.start.setting, 0)
		total += got.total * d.weight(cell) / sum
		readings += got.readings * d.weight(cell) / sum
	}
	return total + first, readings + first
}

func (d *course) weight(cell []int32) float64 {
	sum := 0.0
	for _, i := range cell {
		sum += d.f.components[i].weight
	}
	return sum
}

func (d *course) price(t *courseTest, been uint64, setting int) float64 {
	sum := t.minutes
	for i, m := range d.reach {
		if t.places&^been>>i&1 == 1 {
			sum += m
		}
	}
	if t.setting != setting {
		sum += SupplyMinutes
	}
	return sum
}

// worked counts explanations looked at. One reading is always weighed, lest nothing be.
func (d *course) worked(explanations int) {
	if d.work += explanations; d.work > mostWork && d.depth > 1 {
		d.full = true
	}
}

// split parts a set of components by a test's outcome, in the order of the first of each.
func (d *course) split(t *courseTest, cell []int32) [][]int32 {
	d.worked(len(cell))
	if d.slot == nil {
		d.slot = make([]int32, len(d.f.components)) // of an outcome: one more than its part
	}
	var out [][]int32
	for _, i := range cell {
		o := t.outcome[i]
		if d.slot[o] == 0 {
			out = append(out, nil)
			d.slot[o] = int32(len(out))
		}
		out[d.slot[o]-1] = append(out[d.slot[o]-1], i)
	}
	for _, part := range out {
		d.slot[t.outcome[part[0]]] = 0
	}
	return out
}

// looking is the least that looking into the parts of a set takes, and what is spent
// even when the right part is looked into at once. A place is counted as reached for all
// but the part that is at fault itself.
func (d *course) looking(cell []int32, been uint64) (least, known float64) {
	if d.rule.isolate {
		return 0, 0
	}
	d.worked(len(cell))
	if d.share == nil {
		d.share = make([]float64, len(d.parts))
	}
	all, weight, order := 0.0, d.share, d.order[:0]
	for _, i := range cell {
		c := &d.f.components[i]
		if weight[c.part] == 0 {
			order = append(order, c.part)
		}
		weight[c.part] += c.weight
		all += c.weight
	}
	d.order = order
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(weight[b]/d.parts[b].minutes, weight[a]/d.parts[a].minutes), a-b)
	})
	left := all
	for _, p := range order {
		least += left * d.parts[p].minutes
		known += weight[p] * d.parts[p].minutes
		way := d.parts[p].way(been)
		least += weight[p] * way
		known += weight[p] * way
		left -= weight[p]
		weight[p] = 0
	}
	return least / all, known / all
}

// told says whether a course that isolates ends with a set: one part is sure enough, or
// nothing tells more.
func (d *course) told(cell []int32) bool {
	most, all := 0.0, 0.0
	weight := map[int]float64{}
	for _, i := range cell {
		c := &d.f.components[i]
		weight[c.part] += c.weight
		all += c.weight
		most = max(most, weight[c.part])
	}
	if most >= isolated*all {
		return true
	}
	for n := range d.tests {
		d.worked(len(cell))
		if t := &d.tests[n]; slices.ContainsFunc(cell, func(i int32) bool { return t.outcome[i] != t.outcome[cell[0]] }) {
			return false
		}
	}
	return true
}

// solve gives the least minutes from a situation on, after so many readings.
func (d *course) solve(cell []int32, been uint64, setting, readings int) courseFound {
	stop, known := d.looking(cell, been)
	out := courseFound{total: stop}
	switch {
	case d.full:
		return out
	case d.rule.isolate && d.told(cell):
		return courseFound{}
	case d.rule.isolate:
		out.total = math.Inf(1)
	case stop-known < ReadMinutes:
		return out
	}
	if readings == d.depth {
		d.cut = true
		return courseFound{total: known}
	}
	key := d.key(cell, been, setting, readings)
	if found, ok := d.best[key]; ok {
		return found
	}
	all := d.weight(cell)
	for n := range d.tests {
		t := &d.tests[n]
		price := d.price(t, been, setting)
		after := been | t.places
		if _, k := d.looking(cell, after); price+k >= out.total {
			continue // even if all were told
		}
		parts := d.split(t, cell)
		if len(parts) == 1 {
			continue
		}
		// What is known at best after the outcome, before going deeper.
		total, spent := price, price
		for _, part := range parts {
			_, k := d.looking(part, after)
			total += k * d.weight(part) / all
		}
		for _, part := range parts {
			if total >= out.total {
				break
			}
			share := d.weight(part) / all
			_, k := d.looking(part, after)
			got := d.solve(part, after, t.setting, readings+1)
			total += (got.total - k) * share
			spent += got.readings * share
		}
		if total < out.total {
			out = courseFound{total, spent}
		}
	}
	d.best[key] = out
	return out
}

func (d *course) key(cell []int32, been uint64, setting, readings int) string {
	buf := make([]byte, 0, 2*len(cell)+10)
	for _, i := range cell {
		buf = binary.LittleEndian.AppendUint16(buf, uint16(i))
	}
	buf = binary.LittleEndian.AppendUint64(buf, been)
	return string(append(buf, byte(setting), byte(readings)))
}
