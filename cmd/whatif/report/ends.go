package report

import (
	"cmp"
	"slices"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Readings from one place to another: ohms along one conductor, supply off, everything plugged
// in. There are as many as pairs of places, so they are offered where readings are typed, and
// stand in no table.

// mostEnds is how many of them a page has at most: those between the places that are reached
// first. On thirty connectors with 1100 faults 562 of them take 13 s and 0.2 MB.
const mostEnds = 600

// conductor is one that has both leads on it.
type conductor struct {
	Network int    `json:"network"`
	Name    string `json:"name"` // as a readings file has it: drive.H
	Label   string `json:"label"`
}

// endToEnd is a reading from one place to another.
type endToEnd struct {
	Conductor int `json:"conductor"`
	From      int `json:"from"` // places
	To        int `json:"to"`
	// Contacts are what the leads touch at both, where that is not just the conductor.
	Contacts []string  `json:"contacts,omitempty"`
	Healthy  number    `json:"healthy"`
	May      [2]number `json:"may"`
	Cells    []cell    `json:"cells"`
}

// contact is a point of a conductor that a lead can touch.
type contact struct {
	place, site, name string
	minutes           float64
}

// point is the contact as a readings file has it.
func (x contact) point() string { return x.place + "." + x.name }

// endProbe is a reading from one contact to another.
type endProbe struct {
	faults.Probe
	conductor netlist.Conductor
	ends      [2]contact
}

// contactsOf lists the contacts of each conductor at all places, in the order of the harness.
func contactsOf(c *netlist.Circuit) (order []netlist.Conductor, of map[netlist.Conductor][]contact) {
	of = map[netlist.Conductor][]contact{}
	for _, p := range faults.Probes(c, faults.Selection{}) {
		if p.To != netlist.GroundNode {
			continue
		}
		k := c.Nodes[p.From].Conductor
		if of[k] == nil {
			order = append(order, k)
		}
		of[k] = append(of[k], contact{p.Place(), p.Site, strings.TrimSuffix(p.Between, "-"+netlist.GroundRail), p.ReachMin})
	}
	return order, of
}

// endProbes lists the readings from one place to another, most at most, and between how many
// places of all they are, the soonest reached. Both halves of an inline connector have a
// reading between them.
func endProbes(c *netlist.Circuit, most int) (out []endProbe, places, of int, err error) {
	order, contacts := contactsOf(c)
	var sites []contact
	for _, k := range order {
		for _, x := range contacts[k] {
			if !slices.ContainsFunc(sites, func(y contact) bool { return y.site == x.site }) {
				sites = append(sites, x)
			}
		}
	}
	slices.SortStableFunc(sites, func(a, b contact) int { return cmp.Compare(a.minutes, b.minutes) })
	for n, last := range sites {
		var more []endProbe
		for _, k := range order {
			for _, a := range contacts[k] {
				if a.site != last.site {
					continue
				}
				if half, inline := strings.CutSuffix(a.place, "/a"); inline {
					b := a
					b.place = half + "/b"
					more = append(more, endProbe{conductor: k, ends: [2]contact{a, b}})
				}
				for _, before := range sites[:n] {
					for _, b := range contacts[k] {
						if b.site == before.site {
							more = append(more, endProbe{conductor: k, ends: [2]contact{b, a}})
						}
					}
				}
			}
		}
		if len(out)+len(more) > most {
			break
		}
		out, places = append(out, more...), n+1
	}
	for i := range out {
		x := &out[i]
		if x.Probe, err = faults.ProbeFromTo(c, solve.Ohms, x.ends[0].point(), x.ends[1].point(), solve.Condition{}); err != nil {
			return nil, 0, 0, err
		}
	}
	return out, places, len(sites), nil
}

// addEnds works the readings out and adds them to the page's numbers. It gives between how
// many places they are, where those are not all that there are, else 0.
func addEnds(d *data, c *netlist.Circuit, list []*faults.Fault, in faults.Instrument, progress func(done, of int)) (places int, err error) {
	ends, places, all, err := endProbes(c, mostEnds)
	if err != nil || len(ends) == 0 {
		return 0, err
	}
	if places == all {
		places = 0
	}
	probes := make([]faults.Probe, len(ends))
	for i := range ends {
		probes[i] = ends[i].Probe
	}
	t, err := faults.MakeSpannedTable(c, list, probes, in, progress)
	if err != nil {
		return 0, err
	}
	place := map[string]int{}
	for i, p := range d.Places {
		place[p.Name] = i
	}
	of := map[netlist.Conductor]int{}
	for i, x := range ends {
		k, known := of[x.conductor]
		if !known {
			k = len(d.Conductors)
			of[x.conductor] = k
			d.Conductors = append(d.Conductors, conductor{
				slices.Index(d.Networks, x.conductor.Network), c.Label(x.conductor), x.conductor.Name,
			})
		}
		r := reading{Healthy: shown(solve.Ohms, t.Healthy[i])}
		r.May[0], r.May[1] = outward(solve.Ohms, t.HealthySpans[i].Low, t.HealthySpans[i].High)
		e := endToEnd{Conductor: k, From: place[x.ends[0].place], To: place[x.ends[1].place], Healthy: r.Healthy, May: r.May, Cells: cellsOf(t, i, &r)}
		if name := d.Conductors[k].Name; x.ends[0].name != name || x.ends[1].name != name {
			e.Contacts = []string{x.ends[0].name, x.ends[1].name}
		}
		d.Ends = append(d.Ends, e)
	}
	return places, nil
}
