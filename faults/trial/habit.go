package trial

import (
	"cmp"
	"math"
	"slices"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// What the workshop does without advice, as minutes until the part with the fault
// is in hand. Common practice, no source; where it leaves a choice, the one that is
// kind to the habit is taken: every place is reached once, bands are those of the
// healthy table with every tolerance at its limit, the network at fault is known
// from the complaint, and a find is never doubted.

// Minutes that the habits take beside reaching places, as package faults has them.
const (
	readMinutes   = faults.ReadMinutes
	unplugMinutes = faults.UnplugMinutes
)

// habit is the common part of both habits.
type habit struct {
	v        *Vehicle
	in       faults.Instrument
	network  map[string]bool // at fault
	service  *netlist.Site
	order    []*netlist.Site // connectors with something on them, nearest first
	minutes  float64
	been     map[string]bool
	culprits map[string]map[string]bool // connector: parts at or behind it
}

func newHabit(v *Vehicle, first faults.Probe) *habit {
	h := &habit{v: v, in: v.in, network: map[string]bool{}, been: map[string]bool{}, culprits: map[string]map[string]bool{}}
	h.service, _ = v.Circuit.Site(first.Site)
	h.minutes = h.service.ReachMin
	for _, f := range v.Faults {
		for n := range networksOf(v.Circuit, f.Part) {
			h.network[n] = true
		}
	}
	for i := range v.Circuit.Sites {
		s := &v.Circuit.Sites[i]
		if s.Kind == netlist.SpliceSite || s.Kind == netlist.ConnectorSite && s.Device == "" || !h.concerns(s) {
			continue
		}
		h.order = append(h.order, s)
		h.culprits[s.Name] = map[string]bool{s.Name: true, s.Device: true}
		for _, t := range v.Circuit.Harness.Terminators {
			if t.At == s.Device {
				h.culprits[s.Name][t.Name] = true
			}
		}
	}
	slices.SortStableFunc(h.order, func(a, b *netlist.Site) int { return cmp.Compare(a.ReachMin, b.ReachMin) })
	// Wires that end at the connector, on its harness half, are its stub.
	for _, e := range v.Circuit.Elements {
		if e.Kind != netlist.WireElement {
			continue
		}
		for _, s := range h.order {
			for _, k := range s.Contacts {
				if k.Node == e.A || k.Node == e.B {
					h.culprits[s.Name][e.Part] = true
				}
			}
		}
	}
	return h
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
		h.minutes += s.ReachMin
	}
	h.minutes += unplugMinutes
}

// cured reads at the service connector with connectors apart, and tells whether all
// is as it is in a healthy harness then.
func (h *habit) cured(unplugged ...string) (bool, error) {
	probes := habitProbes(h.v.Circuit, h.service.Name, unplugged...)
	probes = slices.DeleteFunc(probes, func(p faults.Probe) bool {
		n := h.v.Circuit.Nodes[p.From].Conductor.Network
		return len(h.network) > 0 && !h.network[n]
	})
	t, err := faults.MakeTable(h.v.Circuit, nil, probes, h.in, nil)
	if err != nil {
		return false, err
	}
	ok := true
	for i, p := range probes {
		h.minutes += readMinutes
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

func (h *habit) holds(connector string) bool {
	for _, f := range h.v.Faults {
		if h.culprits[connector][f.Part] {
			return true
		}
	}
	return false
}

// lineByLine measures each conductor of the network from end to end, in the order of
// the harness, until the bad one: what is left when no module is to blame.
func (h *habit) lineByLine() float64 {
	for _, e := range h.v.Circuit.Elements {
		if e.Kind != netlist.WireElement || len(h.network) > 0 && !h.network[e.Conductor.Network] {
			continue
		}
		h.minutes += readMinutes
		for _, f := range h.v.Faults {
			if f.Part == e.Part {
				return h.minutes
			}
		}
	}
	return h.minutes
}

// UnplugInTurn is the habit of unplugging one connector after the other, nearest
// first, reading at the service connector each time, until the reading is as it
// should be; and then wire by wire.
func UnplugInTurn(v *Vehicle, first faults.Probe) (float64, error) {
	h := newHabit(v, first)
	if _, err := h.cured(); err != nil {
		return 0, err
	}
	for _, s := range h.order {
		h.unplug(s)
		ok, err := h.cured(s.Name)
		if err != nil {
			return 0, err
		}
		if ok && h.holds(s.Name) {
			return h.minutes, nil
		}
	}
	return h.lineByLine(), nil
}

// HalveByHand is the habit of unplugging half of what is in question, nearest first,
// and going on with the half that makes the difference.
func HalveByHand(v *Vehicle, first faults.Probe) (float64, error) {
	h := newHabit(v, first)
	if _, err := h.cured(); err != nil {
		return 0, err
	}
	rest := h.order
	for len(rest) > 0 {
		half := rest[:(len(rest)+1)/2]
		var names []string
		for _, s := range half {
			h.unplug(s)
			names = append(names, s.Name)
		}
		ok, err := h.cured(names...)
		if err != nil {
			return 0, err
		}
		switch {
		case ok && len(half) == 1:
			if h.holds(half[0].Name) {
				return h.minutes, nil
			}
			rest = rest[1:]
		case ok:
			rest = half
		default:
			rest = rest[len(half):]
		}
	}
	return h.lineByLine(), nil
}
