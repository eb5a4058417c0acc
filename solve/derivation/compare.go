package derivation

import (
	"fmt"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Comparison is a reading of healthy wiring beside the same with something wrong.
type Comparison struct {
	Healthy *Derivation
	// Faulty is nil where the question has no changes.
	Faulty *Derivation
	// Changed says what the changes do, each in words.
	Changed []string
	// Lost are the parts that carry current between the leads in healthy wiring and
	// no more with the fault; Gained those the other way round.
	Lost, Gained []string
	// Divider is there for volts where the one thing wrong is a resistance between
	// two points of the harness.
	Divider *Divider
}

// Divider is what a fault's resistance and healthy wiring make of a voltage between
// them (Thevenin's theorem): healthy wiring has Volts behind Ohms between From and To,
// and the fault's FaultOhms leave Left of that.
type Divider struct {
	From, To                     string
	Volts, Ohms, FaultOhms, Left float64
}

func (v *Divider) words() string {
	return fmt.Sprintf("Healthy wiring, seen from %s and %s where the fault lies, is %s behind %s. With the fault's %s across it a divider stands there: %s × %s / (%s + %s) = %s.",
		v.From, v.To, volts(v.Volts), ohms(v.Ohms), ohms(v.FaultOhms), volts(v.Volts), ohms(v.FaultOhms), ohms(v.FaultOhms), ohms(v.Ohms), volts(v.Left))
}

// findDivider works out the divider at a fault; nil where there is none.
func findDivider(c *netlist.Circuit, q Question) (*Divider, error) {
	if q.Quantity != solve.Volts || len(q.Changes) != 1 {
		return nil, nil
	}
	b, ok := q.Changes[0].(solve.Bridge)
	if !ok || b.From.Wire >= 0 || b.To.Wire >= 0 || b.Ohms == 0 {
		return nil, nil
	}
	healthy := Question{Quantity: solve.Volts, Condition: q.Condition, From: b.From.Node, To: b.To.Node}
	d, err := Explain(c, healthy)
	if err != nil || d.Open {
		return nil, err
	}
	return &Divider{From: d.From, To: d.To, Volts: d.Volts, Ohms: d.Ohms, FaultOhms: b.Ohms, Left: d.Volts * b.Ohms / (b.Ohms + d.Ohms)}, nil
}

// Compare explains a reading without its changes and, if there are any, with them.
func Compare(c *netlist.Circuit, q Question) (*Comparison, error) {
	healthy := q
	healthy.Changes, healthy.Fault = nil, ""
	h, err := Explain(c, healthy)
	if err != nil {
		return nil, fmt.Errorf("healthy wiring: %w", err)
	}
	return h.Against(q)
}

// Against is [Compare] with the healthy derivation of the same reading at hand, for
// many faults of one reading.
func (h *Derivation) Against(q Question) (*Comparison, error) {
	c, out := h.circuit, &Comparison{Healthy: h}
	if len(q.Changes) == 0 {
		return out, nil
	}
	var err error
	if out.Faulty, err = Explain(c, q); err != nil {
		return nil, err
	}
	if out.Divider, err = findDivider(c, q); err != nil {
		return nil, err
	}
	for _, ch := range q.Changes {
		out.Changed = append(out.Changed, Describe(c, ch))
	}
	before, after := h.carrying(), out.Faulty.carrying()
	out.Lost, out.Gained = without(before, after), without(after, before)
	return out, nil
}

// carrying lists the parts that carry current between the leads, each once.
func (d *Derivation) carrying() []string {
	if d.Result < 0 {
		return nil
	}
	var out []string
	for _, k := range d.Resistances[d.Result].kin {
		if part := d.Resistances[k].Part; part != "" && !slices.Contains(out, part) {
			out = append(out, part)
		}
	}
	slices.SortFunc(out, d.byHarness())
	return out
}

// byHarness orders parts as the circuit has them.
func (d *Derivation) byHarness() func(a, b string) int {
	at := map[string]int{}
	for i, e := range d.circuit.Elements {
		if _, known := at[e.Part]; !known {
			at[e.Part] = i
		}
	}
	return func(a, b string) int { return at[a] - at[b] }
}

func without(list, gone []string) []string {
	var out []string
	for _, x := range list {
		if !slices.Contains(gone, x) {
			out = append(out, x)
		}
	}
	return out
}

// Describe says in words what a change does to a circuit. It must be one that
// solve.Assemble takes.
func Describe(c *netlist.Circuit, ch solve.Change) string {
	element := func(i int) string { return c.Elements[i].Name }
	spot := func(s solve.Spot) string {
		if s.Wire >= 0 {
			return alongName(element(s.Wire), s.Fraction)
		}
		return c.Nodes[s.Node].Name
	}
	switch x := ch.(type) {
	case solve.Part:
		return element(x.Element) + " is open"
	case solve.Insert:
		return netlist.FormatOhms(x.Ohms) + " more in " + element(x.Element)
	case solve.Replace:
		return element(x.Element) + " has " + netlist.FormatOhms(x.Ohms)
	case solve.Bridge:
		if x.Ohms == 0 {
			return spot(x.From) + " touches " + spot(x.To)
		}
		return netlist.FormatOhms(x.Ohms) + " between " + spot(x.From) + " and " + spot(x.To)
	case solve.Unplug:
		return "connector " + x.Connector + " is unplugged"
	case solve.Unpower:
		return "module " + c.Units[x.Unit].Name + " has no supply"
	case solve.Shift:
		return fmt.Sprintf("the ground of module %s lies %.3g V higher", c.Units[x.Unit].Name, x.Volts)
	case solve.Stick:
		t := c.Transceivers[x.Transceiver]
		return "module " + c.Units[t.Unit].Name + " sends dominant all the time"
	}
	return fmt.Sprintf("%v", ch)
}
