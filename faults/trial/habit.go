package trial

import (
	"cmp"
	"math"
	"slices"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve"
)

// What a competent workshop does without advice, as minutes until the fault is seen.
// Common practice, no source. It knows the wiring diagram and, from the complaint, the
// network at fault; it takes what the meter shows for what it is, against the bands of
// the healthy table with every tolerance at its limit, and knows nothing else of the
// fault before it looks into the very part. Where practice leaves a choice, the one that
// is kind to the habit is taken: every place is reached once, what is looked into with
// the fault in it is never missed, and measuring a wire from end to end tells whether it
// is bad, whatever is wrong with it and without cutting splices.

// Minutes that the habits take beside reaching places, as package faults has them.
const (
	readMinutes   = faults.ReadMinutes
	unplugMinutes = faults.UnplugMinutes
)

// Effort is what it took to find a fault.
type Effort struct {
	// Minutes of reaching places, unplugging and reading, and of looking into parts,
	// as [faults.Looking] has them.
	Minutes, Looking float64
	// Opened is how many parts were looked into, Found whether the fault was in one.
	Opened int
	Found  bool
}

// Total is all minutes until the fault is seen.
func (e *Effort) Total() float64 { return e.Minutes + e.Looking }

// habit is the common part of both habits.
type habit struct {
	Effort
	v       *Vehicle
	in      faults.Instrument
	network map[string]bool // at fault
	service *netlist.Site
	order   []*netlist.Site // connectors of the network with something on them, nearest first
	been    map[string]bool
	parts   *faults.Looking
	looked  map[string]bool
	wires   []string        // parts that are wires, in the order of the harness
	splices []string        // and the terminators crimped into them
	free    []string        // connectors with nothing on them
	aside   map[string]bool // parts on the side of an inline connector that reads right
	seen    bool            // the fault shows at the service connector
}

func newHabit(v *Vehicle, first faults.Probe) (*habit, error) {
	h := &habit{
		v: v, in: v.in, network: map[string]bool{}, been: map[string]bool{}, looked: map[string]bool{}, aside: map[string]bool{},
		parts: faults.NewLooking(v.Circuit),
	}
	h.service, _ = v.Circuit.Site(first.Site)
	h.Minutes = h.service.ReachMin
	h.been[h.service.Name] = true
	for _, f := range v.Faults {
		for n := range networksOf(v.Circuit, f.Part) {
			h.network[n] = true
		}
	}
	for i := range v.Circuit.Sites {
		s := &v.Circuit.Sites[i]
		switch {
		case !h.concerns(s):
		case s.Kind == netlist.SpliceSite:
			h.splices = append(h.splices, s.Name)
			for _, t := range v.Circuit.Harness.Terminators {
				if t.At == s.Name {
					h.splices = append(h.splices, t.Name)
				}
			}
		case s.Kind != netlist.ConnectorSite || s.Device != "" || h.holdsTerminator(s):
			h.order = append(h.order, s)
		default:
			h.free = append(h.free, s.Name)
		}
	}
	slices.SortStableFunc(h.order, func(a, b *netlist.Site) int { return cmp.Compare(a.ReachMin, b.ReachMin) })
	for _, e := range v.Circuit.Elements {
		if e.Kind == netlist.WireElement && h.on(e.Conductor.Network) && !slices.Contains(h.wires, e.Part) {
			h.wires = append(h.wires, e.Part)
		}
	}
	ok, err := h.healthyAt(h.service.Name)
	h.seen = !ok
	return h, err
}

func (h *habit) on(network string) bool { return len(h.network) == 0 || h.network[network] }

func (h *habit) holdsTerminator(s *netlist.Site) bool {
	return slices.ContainsFunc(h.v.Circuit.Harness.Terminators, func(t netlist.Terminator) bool { return t.At == s.Name })
}

// networksOf gives the networks that a part is on.
func networksOf(c *netlist.Circuit, part string) map[string]bool {
	out := map[string]bool{}
	for _, e := range c.Elements {
		if e.Part == part && e.Conductor.Network != "" {
			out[e.Conductor.Network] = true
		}
	}
	for _, t := range c.Harness.Terminators {
		if t.Name == part {
			for _, e := range c.Elements {
				if e.Part == part {
					for _, n := range []int{e.A, e.B} {
						if k := c.Nodes[n].Conductor; k.Network != "" {
							out[k.Network] = true
						}
					}
				}
			}
		}
	}
	for _, t := range c.Transceivers {
		if c.Units[t.Unit].Name == part {
			out[t.Network] = true
		}
	}
	if s, ok := c.Site(part); ok {
		for _, k := range s.Contacts {
			if k.Conductor.Network != "" {
				out[k.Conductor.Network] = true
			}
		}
	}
	return out
}

func (h *habit) concerns(s *netlist.Site) bool {
	if len(h.network) == 0 {
		return true
	}
	for _, k := range s.Contacts {
		if h.network[k.Conductor.Network] {
			return true
		}
	}
	return false
}

// unplug parts a connector, reaching it first.
func (h *habit) unplug(s *netlist.Site) {
	if !h.been[s.Name] {
		h.been[s.Name] = true
		h.Minutes += s.ReachMin
	}
	h.Minutes += unplugMinutes
}

// healthyAt reads at a connector or one of its halves with connectors apart, each
// network's conductors against each other and against ground, and tells whether all is
// as it is in a healthy harness then.
func (h *habit) healthyAt(place string, unplugged ...string) (bool, error) {
	probes := habitProbes(h.v.Circuit, place, unplugged...)
	probes = slices.DeleteFunc(probes, func(p faults.Probe) bool { return !h.on(h.v.Circuit.Nodes[p.From].Conductor.Network) })
	t, err := faults.MakeTable(h.v.Circuit, nil, probes, h.in, nil)
	if err != nil {
		return false, err
	}
	ok := true
	for i, p := range probes {
		h.Minutes += readMinutes
		r, err := h.v.Read(p)
		if err != nil {
			return false, err
		}
		b := t.Bands[i]
		y, low, high := asNumber(r.Value), asNumber(b.WorstLow), asNumber(b.WorstHigh)
		if y < low-h.in.LeadMaxOhms || y > high+h.in.LeadMaxOhms {
			ok = false
		}
	}
	return ok, nil
}

func asNumber(v solve.Value) float64 {
	if v.OL {
		return math.Inf(1)
	}
	return v.Number
}

// look looks into parts, one after the other, until the fault is seen.
func (h *habit) look(parts ...string) bool {
	for _, part := range parts {
		if h.looked[part] {
			continue
		}
		h.looked[part] = true
		h.Looking += h.parts.Minutes(part, h.been)
		h.Opened++
		if h.bad(part) {
			h.Found = true
			return true
		}
	}
	return false
}

func (h *habit) bad(part string) bool {
	return slices.ContainsFunc(h.v.Faults, func(f *faults.Fault) bool { return f.Part == part })
}

// there lists what is at a connector: itself, the module or terminator on it.
func (h *habit) there(s *netlist.Site) []string {
	out := []string{s.Name}
	if u := slices.IndexFunc(h.v.Circuit.Units, func(u netlist.Unit) bool { return u.Name == s.Device }); u >= 0 {
		out = append(out, s.Device)
	}
	for _, t := range h.v.Circuit.Harness.Terminators {
		if t.At == s.Name || t.At == s.Device {
			out = append(out, t.Name)
		}
	}
	return out
}

// stubs lists the wires that end at the harness half of a connector.
func (h *habit) stubs(s *netlist.Site) []string {
	var out []string
	for _, e := range h.v.Circuit.Elements {
		if e.Kind != netlist.WireElement || !h.on(e.Conductor.Network) || slices.Contains(out, e.Part) {
			continue
		}
		if slices.ContainsFunc(s.Contacts, func(k netlist.SiteContact) bool { return k.Node == e.A || k.Node == e.B }) {
			out = append(out, e.Part)
		}
	}
	return out
}

// try parts one connector and tells whether the search has ended with it. Where the fault
// goes from the service connector's readings with the connector apart, it is at the
// connector or on it. A fault that does not show at the service connector is looked for
// at each connector as it is apart; where the harness half reads wrong, it is in the wire
// between, or it is traced from there wire by wire.
func (h *habit) try(s *netlist.Site) (bool, error) {
	h.unplug(s)
	if h.seen {
		cured, err := h.healthyAt(h.service.Name, s.Name)
		if err != nil || !cured {
			return false, err
		}
	}
	if h.look(h.there(s)...) {
		return true, nil
	}
	ok, err := h.healthyAt(s.Name, s.Name)
	if err != nil || ok {
		return false, err
	}
	if !h.look(h.stubs(s)...) && !h.seen {
		h.lineByLine()
	}
	return h.Found, nil
}

// part parts an inline connector and reads at both its halves: what is left in question
// is the side that reads wrong, and the connector if neither does.
func (h *habit) part(s *netlist.Site, rest []*netlist.Site) (left []*netlist.Site, found bool, err error) {
	h.unplug(s)
	a, err := h.healthyAt(s.Name+"/a", s.Name)
	if err != nil {
		return nil, false, err
	}
	b, err := h.healthyAt(s.Name+"/b", s.Name)
	if err != nil {
		return nil, false, err
	}
	if a && b {
		if h.seen { // only the connector, and the way to the service connector, are left
			return rest, h.look(append([]string{s.Name}, h.way()...)...), nil
		}
		return rest, false, nil
	}
	if !a && !b {
		return rest, false, nil // both halves: what is apart cannot show which
	}
	near := h.side(s)
	for _, other := range h.order {
		if near[other.Name] == a && other != s {
			h.aside[other.Name] = true
		} else if slices.Contains(rest, other) {
			left = append(left, other)
		}
	}
	for _, part := range slices.Concat(h.wires, h.splices, h.free) {
		if near[part] == a {
			h.aside[part] = true
		}
	}
	return left, false, nil
}

// way lists what is between a meter at the service connector and the network.
func (h *habit) way() []string { return append([]string{h.service.Name}, h.stubs(h.service)...) }

// side lists the connectors, splices and wires that hang together with half a of an
// inline connector when it is apart.
func (h *habit) side(inline *netlist.Site) map[string]bool {
	c := h.v.Circuit
	sets := disjoint.New(len(c.Nodes))
	same := func(a, b int) bool {
		n := c.Nodes[a].Conductor.Network
		return n != "" && n == c.Nodes[b].Conductor.Network
	}
	own := map[int]bool{}
	for _, k := range inline.Contacts {
		own[k.Element] = true
	}
	for i, e := range c.Elements {
		if !own[i] && e.Kind != netlist.InputElement && same(e.A, e.B) {
			sets.Join(e.A, e.B)
		}
	}
	roots := map[int]bool{}
	for _, k := range inline.Contacts {
		if k.Node >= 0 && h.on(k.Conductor.Network) && k.Rail == "" {
			roots[sets.Find(k.Node)] = true
		}
	}
	out := map[string]bool{}
	for i := range c.Sites {
		for _, k := range c.Sites[i].Contacts {
			if k.Node >= 0 && roots[sets.Find(k.Node)] {
				out[c.Sites[i].Name] = true
			}
		}
	}
	for _, e := range c.Elements {
		if e.Kind == netlist.WireElement && roots[sets.Find(e.A)] {
			out[e.Part] = true
		}
	}
	return out
}

// lineByLine measures each wire of the network from end to end, in the order of the
// harness, and looks into the bad one; then the splices are opened, and at last
// everything that has not been looked into.
func (h *habit) lineByLine() *Effort {
	for _, w := range h.wires {
		if h.aside[w] {
			continue
		}
		h.Minutes += readMinutes
		if h.bad(w) && h.look(w) {
			return &h.Effort
		}
	}
	// Contacts are looked over before splices are opened, and what a reading put aside
	// comes last.
	h.look(h.service.Name)
	for _, aside := range []bool{false, true} {
		for _, s := range h.order {
			if !h.Found && h.aside[s.Name] == aside {
				h.look(h.there(s)...)
			}
		}
		for _, list := range [][]string{h.free, h.splices, h.wires} {
			for _, part := range list {
				if !h.Found && h.aside[part] == aside && (aside || !slices.Contains(h.wires, part)) {
					h.look(part)
				}
			}
		}
	}
	return &h.Effort
}

// UnplugInTurn is the habit of unplugging one connector after the other, nearest
// first, reading at the service connector each time, until the reading is as it
// should be; and then wire by wire.
func UnplugInTurn(v *Vehicle, first faults.Probe) (*Effort, error) {
	h, err := newHabit(v, first)
	if err != nil {
		return nil, err
	}
	return h.inTurn(h.order)
}

// SilentFirst is the habit of asking a scan tool at the service connector and unplugging
// in turn, but where a single module does not answer its connectors first. (Where several
// do not, what they have in common is bad, which is no reason to go to one of them.)
func SilentFirst(v *Vehicle, first faults.Probe) (*Effort, error) {
	h, err := newHabit(v, first)
	if err != nil {
		return nil, err
	}
	h.Minutes += faults.ToolMinutes + faults.SupplyMinutes
	answers, err := v.Scan(first.Site)
	if err != nil {
		return nil, err
	}
	silent := map[string]bool{}
	for _, a := range answers {
		if !a.Answered {
			silent[a.Module] = true
		}
	}
	if len(silent) != 1 {
		return h.inTurn(h.order)
	}
	slices.SortStableFunc(h.order, func(a, b *netlist.Site) int {
		switch {
		case silent[a.Device] == silent[b.Device]:
			return 0
		case silent[a.Device]:
			return -1
		}
		return 1
	})
	return h.inTurn(h.order)
}

func (h *habit) inTurn(rest []*netlist.Site) (*Effort, error) {
	for len(rest) > 0 {
		s := rest[0]
		rest = rest[1:]
		var found bool
		var err error
		if s.Kind == netlist.InlineSite {
			rest, found, err = h.part(s, rest)
		} else {
			found, err = h.try(s)
		}
		if found || err != nil {
			return &h.Effort, err
		}
	}
	return h.lineByLine(), nil
}

// HalveByHand is the habit of parting the harness at its inline connectors, nearest
// first, then of unplugging half of what is in question, and going on with the half
// that makes the difference. A fault that does not show at the service connector nor at
// an inline one cannot be halved, and the connectors are taken in turn.
func HalveByHand(v *Vehicle, first faults.Probe) (*Effort, error) {
	h, err := newHabit(v, first)
	if err != nil {
		return nil, err
	}
	rest := slices.Clone(h.order)
	for {
		k := slices.IndexFunc(rest, func(s *netlist.Site) bool { return s.Kind == netlist.InlineSite })
		if k < 0 {
			break
		}
		s := rest[k]
		left, found, err := h.part(s, slices.Delete(rest, k, k+1))
		if found || err != nil {
			return &h.Effort, err
		}
		rest = left
	}
	if !h.seen {
		return h.inTurn(rest)
	}
	for len(rest) > 1 {
		half := rest[:(len(rest)+1)/2]
		var names []string
		for _, s := range half {
			h.unplug(s)
			names = append(names, s.Name)
		}
		cured, err := h.healthyAt(h.service.Name, names...)
		if err != nil {
			return nil, err
		}
		if cured {
			rest = half
		} else {
			rest = rest[len(half):]
		}
	}
	if len(rest) == 1 {
		if found, err := h.try(rest[0]); found || err != nil {
			return &h.Effort, err
		}
	}
	return h.lineByLine(), nil
}
