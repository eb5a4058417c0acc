package browsertest

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// circuitOf reads the harness of a page.
func circuitOf(t *testing.T, name string) *netlist.Circuit {
	t.Helper()
	file, _, _ := strings.Cut(name, ":")
	h, err := netfile.Read(filepath.Join(top, file))
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// library answers for what the library itself says, by the words that a page has.
type library struct {
	t     *testing.T
	table *faults.Table
	row   map[string]int // by fault
	probe map[string]int
}

// key names a reading: network, what is set, what is touched, place.
func key(network, label, place string) string { return network + "|" + label + "|" + place }

// probesOf lists the readings of a page and how it calls them.
func probesOf(c *netlist.Circuit) (probes []faults.Probe, labels []string) {
	for _, sel := range []faults.Selection{{}, {Quantity: solve.Volts}, {Unplugged: true}} {
		for _, p := range faults.Probes(c, sel) {
			from, to := c.Nodes[p.From].Conductor, c.Nodes[p.To].Conductor
			label := "ohms, " + from.Name + " to "
			state := " (supply off)"
			switch {
			case sel.Quantity == solve.Volts:
				label, state = "volts, "+from.Name+" to ", " (modules awake, none sending)"
			case len(p.Condition.Unplugged) > 0:
				state = " (supply off, connector unplugged)"
			case sel.Unplugged:
				continue
			}
			switch {
			case p.To == netlist.SupplyNode || sel.Quantity == solve.Volts && p.To != netlist.GroundNode:
				continue
			case p.To == netlist.GroundNode:
				label += "ground"
			default:
				label += to.Name
			}
			probes, labels = append(probes, p), append(labels, label+state)
		}
	}
	return probes, labels
}

// ask makes a table of every fault for the readings of a page, by its own ways.
func ask(t *testing.T, c *netlist.Circuit) *library {
	t.Helper()
	l := &library{t: t, row: map[string]int{}, probe: map[string]int{}}
	probes, labels := probesOf(c)
	for i, p := range probes {
		l.probe[key(c.Nodes[p.From].Conductor.Network, labels[i], p.Place())] = i
	}
	list := faults.Catalogue(c)
	for i, f := range list {
		l.row[f.Name] = i
	}
	var err error
	if l.table, err = faults.MakeTable(c, list, probes, faults.DefaultInstrument(), nil); err != nil {
		t.Fatal(err)
	}
	return l
}

// reads gives what a meter shows, and how it lies: within, unlikely, outside.
func (l *library) reads(network, label, place, fault string) (string, faults.Mark) {
	l.t.Helper()
	i, ok := l.probe[key(network, label, place)]
	if !ok {
		l.t.Fatalf("the library knows no reading %s", key(network, label, place))
	}
	q := l.table.Probes[i].Quantity
	format := func(v solve.Value) string {
		return strings.Replace(solve.FormatReading(q, v), "-0.000 V", "0.000 V", 1)
	}
	if fault == "" {
		return format(l.table.Healthy[i]), faults.Within
	}
	k, ok := l.row[fault]
	if !ok {
		l.t.Fatalf("the library knows no fault %q", fault)
	}
	return format(l.table.Rows[k].Values[i]), l.table.Rows[k].Marks[i]
}

// side tells whether a reading with a fault lies above or below the healthy reading.
func (l *library) side(network, label, place, fault string) string {
	i, k := l.probe[key(network, label, place)], l.row[fault]
	ohms := func(v solve.Value) float64 {
		if v.OL {
			return math.Inf(1)
		}
		return v.Number
	}
	if ohms(l.table.Rows[k].Values[i]) > ohms(l.table.Healthy[i]) {
		return "above"
	}
	return "below"
}
