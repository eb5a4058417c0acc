package faults

import (
	"fmt"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Remark is something about a healthy harness that its physical layer does not
// ask for. The harness can be solved all the same.
type Remark struct {
	// About is the network or terminator.
	About string `json:"about"`
	// What is remarkable.
	What string `json:"what"`
	// Source is the limit's standing.
	Source string `json:"source"`
}

// Remarks holds the healthy harness against its physical layers.
func Remarks(c *netlist.Circuit) ([]Remark, error) {
	var out []Remark
	net, err := solve.Assemble(c, solve.Condition{}, nil)
	if err != nil {
		return nil, err
	}
	networkOf := map[string]string{}
	count := map[string]int{}
	for _, e := range c.Elements {
		if e.Kind == netlist.TerminatorElement {
			n := c.Nodes[e.A].Conductor.Network
			if networkOf[e.Part] == "" {
				networkOf[e.Part] = n
				count[n]++
			}
		}
	}
	for _, n := range c.Harness.Networks {
		layer, ok := netlist.LayerByName(n.Layer)
		if !ok {
			continue
		}
		about := "network " + n.Name
		modules := 0
		for _, t := range c.Transceivers {
			if t.Network == n.Name {
				modules++
			}
		}
		if layer.MostModules > 0 && modules > layer.MostModules {
			out = append(out, Remark{about, fmt.Sprintf("number of modules: %d; the layer has %d at most", modules, layer.MostModules), layer.Source})
		}
		if len(layer.Conductors) == 1 {
			if k := commanders(c, n.Name); k != 1 {
				out = append(out, Remark{about, fmt.Sprintf("modules with the strong pull-up (transceiver: commander): %d; the layer has one", k), layer.Standard})
			}
		}
		switch {
		case count[n.Name] == layer.Terminators:
		case layer.Terminators == 0:
			out = append(out, Remark{about, fmt.Sprintf("number of terminators: %d; the layer has none, each module brings its own share", count[n.Name]), layer.Standard})
		default:
			out = append(out, Remark{about, fmt.Sprintf("number of terminators: %d; the layer has two, one at each end of the trunk", count[n.Name]), layer.Standard})
		}
		if layer.Terminators == 0 {
			continue
		}
		for _, t := range c.Harness.Terminators {
			if networkOf[t.Name] == n.Name && (t.Ohms < layer.TerminatorMinOhms || t.Ohms > layer.TerminatorMaxOhms) {
				out = append(out, Remark{
					"terminator " + t.Name,
					fmt.Sprintf("is %s; the layer has %g to %g Ω", netlist.FormatOhms(t.Ohms), layer.TerminatorMinOhms, layer.TerminatorMaxOhms), layer.Source,
				})
			}
		}
		// The load that a module meets is what lies between the conductors at
		// its connector.
		var places []string
		least, greatest := solve.Over(), solve.Value{}
		for i := range c.Sites {
			for _, pair := range sitePairs(&c.Sites[i]) {
				if pair[0].Conductor.Network != n.Name {
					continue
				}
				v, err := net.Read(solve.Ohms, pair[0].Node, pair[1].Node, solve.Meter{})
				if err != nil {
					return nil, err
				}
				if !v.OL && v.Number >= layer.LoadMinOhms && v.Number <= layer.LoadMaxOhms {
					continue
				}
				places = append(places, c.Sites[i].Name)
				if onScale(solve.Ohms, v) < onScale(solve.Ohms, least) {
					least = v
				}
				if onScale(solve.Ohms, v) > onScale(solve.Ohms, greatest) {
					greatest = v
				}
			}
		}
		if len(places) > 0 {
			out = append(out, Remark{
				about,
				fmt.Sprintf("has %s to %s between its conductors (at %s); the layer asks for %g to %g Ω",
					solve.FormatReading(solve.Ohms, least), solve.FormatReading(solve.Ohms, greatest), strings.Join(places, ", "), layer.LoadMinOhms, layer.LoadMaxOhms),
				layer.Source,
			})
		}
	}
	for _, e := range c.Elements {
		if ohms := e.Off.Ohms(nil); e.Kind == netlist.WireElement && ohms > longWireOhms {
			out = append(out, Remark{e.Name, fmt.Sprintf("has %s from end to end, which no vehicle's network wire has; look at its length and size", solve.FormatReading(solve.Ohms, solve.Value{Number: ohms})), "from memory"})
		}
	}
	return out, nil
}

// commanders counts the modules on a one-wire network that hold it up by less than
// a few kilohms.
func commanders(c *netlist.Circuit, network string) int {
	const strong = 5e3
	n := 0
	for _, e := range c.Elements {
		if e.Kind == netlist.InputElement && e.Conductor.Network == network && e.Awake.Ohms(nil) < strong {
			n++
		}
	}
	return n
}

// longWireOhms is more than 40 m, the longest trunk at 1 Mbit/s, of the thinnest
// section have. From memory.
const longWireOhms = 6
