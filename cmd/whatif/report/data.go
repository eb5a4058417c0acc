package report

import (
	"slices"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// data is what the scripts of the page work with. Lists refer to each other by
// index.
type data struct {
	Networks []string `json:"networks"`
	Kinds    []kind   `json:"kinds"`
	Places   []place  `json:"places"`
	// Readings are in the order of the harness, kind by kind.
	Readings []reading `json:"readings"`
	// Ends are readings from one place to another, along one of Conductors.
	Conductors []conductor `json:"conductors"`
	Ends       []endToEnd  `json:"ends"`
	Parts      []part      `json:"parts"`
	Faults     []fault     `json:"faults"`
	Answers    []answers   `json:"answers"`
	Costs      costs       `json:"costs"`
	// First is the fault that the page opens with, −1 for none.
	First int `json:"first"`
}

// costs are the minutes that go with a reading beside reaching its place.
type costs struct {
	Read   float64 `json:"read"`
	Tool   float64 `json:"tool"`
	Supply float64 `json:"supply"`
	Unplug float64 `json:"unplug"`
}

// kind is one sort of reading: what the meter is set to and what its leads touch.
type kind struct {
	Network int  `json:"network"`
	Volts   bool `json:"volts"`
	// Unplugged says that the connector read at is apart, else everything is plugged in.
	Unplugged bool   `json:"unplugged,omitempty"`
	Between   string `json:"between"` // as a readings file has it: drive.H-ground
	Label     string `json:"label"`
}

func (k kind) quantity() solve.Quantity {
	if k.Volts {
		return solve.Volts
	}
	return solve.Ohms
}

// place is a connector, one half of an inline one, or a splice that can be reached.
type place struct {
	Name    string  `json:"name"` // X1, X14/a, X3/device
	Part    string  `json:"part"` // X14
	Note    string  `json:"note"`
	Minutes float64 `json:"minutes"`
}

// reading is one kind of reading at one place.
type reading struct {
	Kind  int `json:"kind"`
	Place int `json:"place"`
	// Between is set where the place has several of this kind: its cavities.
	Between string `json:"between,omitempty"`
	Healthy number `json:"healthy"`
	// Worst are the limits of healthy harnesses, every tolerance at its own; Usual
	// hold 95 % of them.
	Worst [2]number `json:"worst"`
	Usual [2]number `json:"usual"`
	// May is what healthy wiring may read, leads that were not zeroed included.
	May [2]number `json:"may"`
	// Cells are what faults read. Faults that are in none read as healthy wiring
	// does and may read what it may.
	Cells []cell `json:"cells"`
}

// cell is a reading that some faults share.
type cell struct {
	Value number
	// May are the limits of what the faults may read, whatever they leave open.
	May    [2]number
	Mark   faults.Mark
	Faults []int
}

// answers is which modules answer a scan tool at one place: a letter for each
// module, y, m (marginal) or n.
type answers struct {
	Tool    string   `json:"tool"`
	Modules []string `json:"modules"`
	Healthy string   `json:"healthy"`
	// Differs has the faults with which it is not as in healthy wiring.
	Differs map[int]string `json:"differs"`
	// Ranges has, for faults with a resistance of their own, what else the modules do
	// at other values of it, where that is anything else.
	Ranges map[int][]string `json:"ranges"`
}

type part struct {
	Name  string `json:"name"`
	About string `json:"about"`
}

type fault struct {
	Name string `json:"name"`
	Kind string `json:"kind"`
	Part int    `json:"part"`
	// Rate is how common it is beside others.
	Rate float64 `json:"rate"`
	// Shown says with what resistance the readings are worked out and which a real
	// one may have; empty where the fault has none.
	Shown string `json:"shown,omitempty"`
	// With is that resistance alone.
	With string `json:"with,omitempty"`
}

// faultOf readies a fault for the page.
func faultOf(f *faults.Fault, part int, fitted map[string]faults.Estimate) fault {
	out := fault{Name: f.Name, Kind: string(f.Kind), Part: part, Rate: f.Rate}
	if f.Free == nil {
		return out
	}
	out.With = netlist.FormatOhms(f.Free.Typical)
	out.Shown = "shown with " + out.With
	if x, known := fitted[f.Name]; known {
		out.Shown += ", " + fittedText(x)
	}
	if len(f.Wires) > 0 {
		out.Shown += ", half-way along"
	}
	out.Shown += "; a real one may have " + netlist.FormatOhms(f.Free.Min) + " to " + netlist.FormatOhms(f.Free.Max)
	return out
}

// probesOf lists the readings that the page has: with everything plugged in, ohms
// between the conductors and from each to ground, supply off, and volts from each
// to ground, modules awake and none sending; then the ohms at both halves of each
// connector with that one unplugged.
func probesOf(c *netlist.Circuit) []faults.Probe {
	var out []faults.Probe
	for _, sel := range []faults.Selection{{}, {Quantity: solve.Volts}, {Unplugged: true}} {
		for _, p := range faults.Probes(c, sel) {
			switch {
			case p.From == netlist.SupplyNode || p.To == netlist.SupplyNode:
			case p.Quantity == solve.Volts && p.To != netlist.GroundNode:
			default:
				out = append(out, p)
			}
		}
	}
	return out
}

// kindOf says what sort of reading a probe is.
func kindOf(c *netlist.Circuit, p *faults.Probe) kind {
	from, to := c.Nodes[p.From].Conductor, c.Nodes[p.To].Conductor
	k := kind{Volts: p.Quantity == solve.Volts, Unplugged: len(p.Condition.Unplugged) > 0}
	k.Network = slices.IndexFunc(c.Harness.Networks, func(n netlist.Network) bool { return n.Name == from.Network })
	second, words := netlist.GroundRail, from.Name+" to ground"
	if p.To != netlist.GroundNode {
		second, words = c.Label(to), from.Name+" to "+to.Name
	}
	k.Between = c.Label(from) + "-" + second
	switch {
	case k.Volts:
		k.Label = "volts, " + words + " (modules awake, none sending)"
	case k.Unplugged:
		k.Label = "ohms, " + words + " (supply off, connector unplugged)"
	default:
		k.Label = "ohms, " + words + " (supply off)"
	}
	return k
}

// scan is who answers at one place, and who may over each fault's range.
type scan struct {
	table *faults.AnswerTable
	reach [][][]solve.Hearing
}

// gather puts a spanned table and answers into the page's shape.
func gather(t *faults.Table, scans []scan, fitted map[string]faults.Estimate) *data {
	c := t.Circuit
	// Lists are never null in JSON, also where by the rates nothing can happen.
	d := &data{Networks: []string{}, Kinds: []kind{}, Places: []place{}, Readings: []reading{}, Conductors: []conductor{}, Ends: []endToEnd{}, Parts: []part{}, Faults: []fault{}, Answers: []answers{}, Costs: costs{faults.ReadMinutes, faults.ToolMinutes, faults.SupplyMinutes, faults.UnplugMinutes}}
	for _, n := range c.Harness.Networks {
		d.Networks = append(d.Networks, n.Name)
	}
	kinds, places := map[kind]int{}, map[string]int{}
	for i := range t.Probes {
		p := &t.Probes[i]
		k := kindOf(c, p)
		if _, known := kinds[k]; !known {
			kinds[k] = len(d.Kinds)
			d.Kinds = append(d.Kinds, k)
		}
		name := p.Place()
		if _, known := places[name]; !known {
			places[name] = len(d.Places)
			d.Places = append(d.Places, place{name, p.Site, placeNote(c.Harness, p), p.ReachMin})
		}
		r := reading{Kind: kinds[k], Place: places[name], Healthy: shown(p.Quantity, t.Healthy[i])}
		if p.Between != k.Between {
			r.Between = p.Between
		}
		b := t.Bands[i]
		r.Worst[0], r.Worst[1] = shown(p.Quantity, b.WorstLow), shown(p.Quantity, b.WorstHigh)
		r.Usual[0], r.Usual[1] = shown(p.Quantity, b.Low), shown(p.Quantity, b.High)
		r.May[0], r.May[1] = outward(p.Quantity, t.HealthySpans[i].Low, t.HealthySpans[i].High)
		r.Cells = cellsOf(t, i, &r)
		d.Readings = append(d.Readings, r)
	}
	parts := map[string]int{}
	for _, r := range t.Rows {
		if _, known := parts[r.Fault.Part]; !known {
			parts[r.Fault.Part] = len(d.Parts)
			d.Parts = append(d.Parts, part{r.Fault.Part, aboutPart(c.Harness, r.Fault.Part)})
		}
		d.Faults = append(d.Faults, faultOf(r.Fault, parts[r.Fault.Part], fitted))
	}
	for _, s := range scans {
		d.Answers = append(d.Answers, answersOf(s))
	}
	return d
}

// cellsOf gathers the faults that read the same at one probe.
func cellsOf(t *faults.Table, i int, r *reading) []cell {
	out := []cell{}
	type key struct {
		value, low, high number
		mark             faults.Mark
	}
	at := map[key]int{}
	same := key{r.Healthy, r.May[0], r.May[1], faults.Within}
	for k := range t.Rows {
		row := &t.Rows[k]
		q := t.Probes[i].Quantity
		low, high := outward(q, row.Spans[i].Low, row.Spans[i].High)
		x := key{shown(q, row.Values[i]), low, high, row.Marks[i]}
		if x == same {
			continue
		}
		n, known := at[x]
		if !known {
			n = len(out)
			at[x] = n
			out = append(out, cell{Value: x.value, May: [2]number{low, high}, Mark: x.mark})
		}
		out[n].Faults = append(out[n].Faults, k)
	}
	return out
}

func answersOf(x scan) answers {
	s := x.table
	letters := func(list []solve.Hearing) string {
		var b strings.Builder
		for _, h := range list {
			b.WriteByte(h.String()[0])
		}
		return b.String()
	}
	a := answers{Tool: s.Tool, Modules: []string{}, Healthy: letters(s.Healthy), Differs: map[int]string{}, Ranges: map[int][]string{}}
	for _, u := range s.Units {
		a.Modules = append(a.Modules, s.Circuit.Units[u].Name)
	}
	for k, row := range s.Rows {
		if text := letters(row.Answers); text != a.Healthy {
			a.Differs[k] = text
		}
		for _, other := range x.reach[k][1:] {
			a.Ranges[k] = append(a.Ranges[k], letters(other))
		}
	}
	return a
}
