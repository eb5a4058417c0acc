package faults

import (
	"fmt"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Probe is one possible reading: where the two leads go, what the meter is set
// to, and in which condition of the vehicle.
type Probe struct {
	Quantity solve.Quantity
	// Site is the connector or splice where the reading is taken; empty where
	// the two leads are at different places.
	Site string
	// Half is empty for the harness half, else device, a or b.
	Half string
	// Between names what the leads touch: H-L, drive.H-ground.
	Between string
	// From and To are the nodes of the red and the black lead.
	From, To  int
	Condition solve.Condition
	// Sender is the module (or module/network) that sends dominant meanwhile;
	// Traffic says that modules send in turn, and a multimeter shows the mean.
	// Both want volts, and the supply Idle in Condition.
	Sender  string
	Traffic bool
	// DominantShare is the share of time in which the bus is dominant with
	// Traffic, 0 to 1; 0 stands for not known.
	DominantShare float64
	// ReachMin is the time in minutes to get a meter there.
	ReachMin float64
}

// Place names where the reading is taken: X1, X3/device.
func (p Probe) Place() string {
	if p.Half == "" {
		return p.Site
	}
	return p.Site + "/" + p.Half
}

// String names the reading in full: "X1 H-L, ohms".
func (p Probe) String() string {
	var b strings.Builder
	if p.Site != "" {
		b.WriteString(p.Place() + " ")
	}
	b.WriteString(p.Between + ", " + p.Quantity.String())
	if p.Sender != "" {
		b.WriteString(" while " + p.Sender + " sends")
	}
	if p.Traffic {
		b.WriteString(" with traffic")
	}
	if len(p.Condition.Unplugged) > 0 {
		b.WriteString(", " + strings.Join(p.Condition.Unplugged, " ") + " unplugged")
	}
	return b.String()
}

// ProbeAt makes the reading between two contacts of one place. place is a
// connector (X1), one of its halves (X3/device, X5/b) or a splice. between is
// two of: a conductor (H, drive.H), a cavity, ground, supply, joined by a hyphen.
func ProbeAt(c *netlist.Circuit, q solve.Quantity, place, between string, condition solve.Condition) (Probe, error) {
	site, half, _ := strings.Cut(place, "/")
	p := Probe{Quantity: q, Site: site, Half: half, Between: between, Condition: condition}
	s, err := c.FindSite(site)
	if err != nil {
		return p, err
	}
	if s.Kind == netlist.InlineSite && half == "" {
		for _, u := range condition.Unplugged {
			if u == site {
				return p, fmt.Errorf("%s is inline and apart, so the reading was taken at one of its halves: %s/a or %s/b", site, site, site)
			}
		}
	}
	p.ReachMin = s.ReachMin
	var nodes []int
	var problems []string
	for _, pair := range splitBetween(between) {
		nodes = nodes[:0]
		problems = problems[:0]
		for _, end := range pair {
			n, err := leadNode(c, place, end)
			if err != nil {
				problems = append(problems, err.Error())
				continue
			}
			nodes = append(nodes, n)
		}
		if len(nodes) == 2 {
			if nodes[0] == nodes[1] {
				return p, fmt.Errorf("both leads of %s %s are on one point; write two different ones", place, between)
			}
			p.From, p.To = nodes[0], nodes[1]
			return p, nil
		}
	}
	if len(problems) == 0 {
		return p, fmt.Errorf("between %q names no two points; write for example H-L, H-ground or L-supply", between)
	}
	return p, fmt.Errorf("%s", strings.Join(problems, "; "))
}

// splitBetween gives every way to part a text at a hyphen, since names of
// networks and cavities may hold hyphens too.
func splitBetween(text string) [][2]string {
	var out [][2]string
	for i, r := range text {
		if r == '-' && i > 0 && i < len(text)-1 {
			out = append(out, [2]string{text[:i], text[i+1:]})
		}
	}
	return out
}

func leadNode(c *netlist.Circuit, place, end string) (int, error) {
	switch end {
	case netlist.GroundRail, netlist.SupplyRail:
		// The rail itself, whether or not the connector has a cavity for it.
		return c.Point(end)
	}
	return c.Point(place + "." + end)
}

// ProbeFromTo makes the reading between any two points, such as X1.6 and X4.3.
func ProbeFromTo(c *netlist.Circuit, q solve.Quantity, from, to string, condition solve.Condition) (Probe, error) {
	p := Probe{Quantity: q, Between: from + " to " + to, Condition: condition}
	var err error
	if p.From, err = c.Point(from); err != nil {
		return p, err
	}
	if p.To, err = c.Point(to); err != nil {
		return p, err
	}
	if p.From == p.To {
		return p, fmt.Errorf("both leads are on %s; write two different points", from)
	}
	p.ReachMin = wayTo(c, nil, p.places(c)...)
	return p, nil
}

// siteOfPoint gives the connector or splice of a point: X5 of X5/b.4.
func siteOfPoint(point string) string {
	place, _, _ := strings.Cut(point, ".")
	site, _, _ := strings.Cut(place, "/")
	return site
}

// Read gives what a meter shows at a probe with faults that are all there at once, none
// for healthy wiring: every tolerance in the middle of its range, each fault with its
// typical resistance and half-way along its wires, unless [Fault.With] has set them. The
// cost is that of a circuit assembled anew; [MakeTable] shares it among many faults.
func (p Probe) Read(c *netlist.Circuit, meter solve.Meter, faults ...*Fault) (solve.Value, error) {
	x, err := newPredictor(c, []Probe{p}, meter)
	if err != nil {
		return solve.Value{}, err
	}
	var out []predicted
	if len(faults) == 0 {
		out, err = x.healthy()
	} else {
		out, err = x.typical(Combine(faults[0], faults[1:]...))
	}
	if err != nil {
		return solve.Value{}, err
	}
	return out[0].Value(), nil
}

// Selection says which readings [Probes] lists.
type Selection struct {
	Quantity solve.Quantity
	// Unplugged lists the readings with each connector unplugged in turn, taken
	// at that connector's two halves, instead of those with all plugged in.
	Unplugged bool
	// Unreachable includes splices that the harness gives no reach time for.
	Unreachable bool
	// Sender and Traffic make volts those of a bus at work, see Probe. A sender
	// is measured on its own network only.
	Sender        string
	Traffic       bool
	DominantShare float64
}

// Probes lists the readings of a harness that can be taken at single places, in
// the harness's order. Ohms (supply off): conductor to conductor, each conductor
// to ground and to supply. Volts (idle): each conductor to ground, conductor to
// conductor.
func Probes(c *netlist.Circuit, sel Selection) []Probe {
	var out []Probe
	for i := range c.Sites {
		s := &c.Sites[i]
		if !s.Reachable && !sel.Unreachable {
			continue
		}
		condition := solve.Condition{}
		if sel.Quantity == solve.Volts {
			condition.Supply = solve.Idle
		}
		halves := []string{""}
		if s.Kind == netlist.InlineSite {
			halves = []string{"a"}
		}
		if sel.Unplugged {
			switch {
			case s.Kind == netlist.InlineSite:
				halves = []string{"a", "b"}
			case s.Kind == netlist.ConnectorSite && s.Device != "":
				halves = []string{"", "device"}
			default:
				continue
			}
			condition.Unplugged = []string{s.Name}
		}
		for _, half := range halves {
			for _, between := range betweens(c, s, sel.Quantity) {
				p, err := ProbeAt(c, sel.Quantity, s.Name+slash(half), between, condition)
				if err != nil {
					continue
				}
				if p.Traffic, p.DominantShare = sel.Traffic, sel.DominantShare; sel.Sender != "" {
					module, network, _ := strings.Cut(sel.Sender, "/")
					measured := c.Nodes[p.From].Conductor.Network
					if network != "" && network != measured {
						continue
					}
					if _, err := c.Transceiver(module, measured); err != nil {
						continue
					}
					p.Sender = sel.Sender
				}
				out = append(out, p)
			}
		}
	}
	return out
}

func slash(half string) string {
	if half == "" {
		return ""
	}
	return "/" + half
}

// furtherPairs gives, for each network, the second and further cavities of its two
// conductors, in pairs: the other side of a connector that a module joins inside.
func furtherPairs(s *netlist.Site) [][2]netlist.SiteContact {
	var out [][2]netlist.SiteContact
	for _, first := range sitePairs(s) {
		var of [2][]netlist.SiteContact
		for _, k := range s.Contacts {
			for side := range of {
				if k.Rail == "" && k.Conductor == first[side].Conductor {
					of[side] = append(of[side], k)
				}
			}
		}
		for n := 1; n < len(of[0]) && n < len(of[1]); n++ {
			out = append(out, [2]netlist.SiteContact{of[0][n], of[1][n]})
		}
	}
	return out
}

// betweens lists what there is to measure at a site. Where several cavities carry a
// conductor, they are measured in pairs, in the order of the harness.
func betweens(c *netlist.Circuit, s *netlist.Site, q solve.Quantity) []string {
	var out []string
	for _, pair := range append(sitePairs(s), furtherPairs(s)...) {
		h, l := contactName(c, s, pair[0]), contactName(c, s, pair[1])
		switch q {
		case solve.Volts:
			out = append(out, h+"-"+netlist.GroundRail, l+"-"+netlist.GroundRail, h+"-"+l)
		default:
			out = append(out, h+"-"+l,
				h+"-"+netlist.GroundRail, l+"-"+netlist.GroundRail,
				h+"-"+netlist.SupplyRail, l+"-"+netlist.SupplyRail)
		}
	}
	for _, k := range siteSingles(c, s) {
		d := contactName(c, s, k)
		out = append(out, d+"-"+netlist.GroundRail)
		if q == solve.Ohms {
			out = append(out, d+"-"+netlist.SupplyRail)
		}
	}
	return out
}

// siteSingles gives the first cavities of conductors that are their network's only
// one.
func siteSingles(c *netlist.Circuit, s *netlist.Site) []netlist.SiteContact {
	var out []netlist.SiteContact
	for _, k := range s.Contacts {
		if layer, ok := c.Harness.Layer(k.Conductor.Network); ok && k.Rail == "" && len(layer.Conductors) == 1 && firstCavityOf(s, k) {
			out = append(out, k)
		}
	}
	return out
}

// contactName names a contact by its conductor where that is enough.
func contactName(c *netlist.Circuit, s *netlist.Site, k netlist.SiteContact) string {
	n := 0
	for _, x := range s.Contacts {
		if x.Rail == "" && x.Conductor == k.Conductor {
			n++
		}
	}
	if n == 1 {
		return c.Label(k.Conductor)
	}
	return k.Cavity
}
