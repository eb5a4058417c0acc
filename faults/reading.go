package faults

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/solve"
)

// Reading is what a meter showed at a probe.
type Reading struct {
	Probe Probe
	Value solve.Value
}

// String is what the meter showed, with its unit: 60.4 Ω, 2.510 V, OL.
func (r Reading) String() string { return solve.FormatReading(r.Probe.Quantity, r.Value) }

// ParseReading makes a reading of where it was taken, as [ParseProbe] reads it, and of
// what the meter showed, as [solve.ParseValue] does: "X1 H-L" and "60.4". The error says
// what is wrong with either, and whether no meter can have shown that.
func ParseReading(c *netlist.Circuit, where, shown string) (Reading, error) {
	p, err := ParseProbe(c, where)
	if err != nil {
		return Reading{}, fmt.Errorf("reading %q: %w", where, err)
	}
	v, err := solve.ParseValue(shown)
	if err != nil {
		return Reading{}, fmt.Errorf("%s: %w", p, err)
	}
	r := Reading{p, v}
	if wrong := r.Wrong(c); len(wrong) > 0 {
		return Reading{}, wrong
	}
	return r, nil
}

// mostVolts is more than any vehicle's supply below high voltage, 48 V systems
// included (from memory).
const mostVolts = 60

// belowZeroOhms is what a meter may show below nothing, with leads that were zeroed while
// they touched worse than now. From memory.
const belowZeroOhms = -1

// Wrong lists what of a reading cannot be, whatever the harness and whatever is wrong
// with it: no meter shows that, or nobody reads so. A match of such a reading would say
// nothing, so [Matcher.Match] refuses it.
func (r Reading) Wrong(c *netlist.Circuit) problem.List {
	var out problem.List
	p, n := &r.Probe, r.Value.Number
	bad := func(what, write string) {
		out = append(out, problem.Problem{Element: p.String(), What: what, Write: write})
	}
	there := func(node int) bool { return node >= 0 && node < len(c.Nodes) }
	switch {
	case !there(p.From) || !there(p.To):
		bad(fmt.Sprintf("has its leads on nodes %d and %d, which the circuit does not have", p.From, p.To), "a probe that ParseProbe, ProbeAt or ProbeFromTo made for this circuit")
	case p.From == p.To:
		bad("has both leads on one point", "two different points")
	}
	if p.Quantity == solve.Volts {
		switch {
		case r.Value.OL:
			bad("OL is no voltage", "the volts that the meter showed")
		case math.IsNaN(n) || math.IsInf(n, 0):
			bad(fmt.Sprintf("%v is no voltage", n), "the volts that the meter showed")
		case math.Abs(n) > mostVolts:
			bad(fmt.Sprintf("is %g V, more than a vehicle's network carries", n), "volts, not millivolts, read on direct current")
		}
		if p.Condition.Supply != solve.Idle {
			bad("is a voltage with the supply off", "Condition.Supply Idle: modules awake, none sending")
		}
		return out
	}
	switch {
	case r.Value.OL:
	case math.IsNaN(n) || math.IsInf(n, 0):
		bad(fmt.Sprintf("%v is no resistance", n), "what the meter showed, OL where it was above its range")
	case n < belowZeroOhms:
		bad("is negative, which says that a voltage is on the wires; the reading means nothing", "a reading taken with the supply off and the network asleep")
	}
	if p.Condition.Supply != solve.Off || p.driven() {
		bad("is a resistance with the supply on or modules sending", "Condition.Supply Off: a resistance is read with the supply off and the network asleep")
	}
	return out
}

// ParseProbe makes a probe of words, those of [Probe.String]: a place and what the leads
// touch, or two points, then what is read and how, each after a comma:
//
//	X1 H-L
//	X3/device drive.H-ground, ohms, X3 unplugged
//	X1.6 to X4.3
//	X1 H-ground, volts
//	X1 H-ground, volts while dash sends
//	X1 H-ground, volts with traffic
//
// Where nothing else is said it is ohms, all plugged in.
func ParseProbe(c *netlist.Circuit, text string) (Probe, error) {
	pieces := strings.Split(text, ",")
	var q solve.Quantity
	var condition solve.Condition
	var sender string
	traffic := false
	for _, piece := range pieces[1:] {
		piece = strings.Join(strings.Fields(piece), " ")
		names, apart := strings.CutSuffix(piece, " unplugged")
		sends, driven := strings.CutSuffix(piece, " sends")
		module, while := strings.CutPrefix(sends, "volts while ")
		switch {
		case piece == "ohms":
			q = solve.Ohms
		case piece == "volts":
			q = solve.Volts
		case piece == "volts with traffic":
			q, traffic = solve.Volts, true
		case driven && while:
			q, sender = solve.Volts, module
		case apart:
			for _, name := range strings.Fields(names) {
				if !slices.Contains(condition.Unplugged, name) {
					condition.Unplugged = append(condition.Unplugged, name)
				}
			}
		default:
			return Probe{}, fmt.Errorf("%q says nothing; write ohms, volts, volts with traffic, volts while dash sends, or X3 unplugged", piece)
		}
	}
	if q == solve.Volts {
		condition.Supply = solve.Idle
	}
	if _, err := c.Unplug(condition.Unplugged...); err != nil {
		return Probe{}, err
	}
	if sender != "" {
		if err := CheckSender(c, sender); err != nil {
			return Probe{}, err
		}
	}
	var p Probe
	var err error
	if from, to, ok := strings.Cut(pieces[0], " to "); ok {
		p, err = ProbeFromTo(c, q, strings.TrimSpace(from), strings.TrimSpace(to), condition)
	} else if words := strings.Fields(pieces[0]); len(words) == 2 {
		p, err = ProbeAt(c, q, words[0], words[1], condition)
	} else {
		err = fmt.Errorf("does not say where; write a place and what the leads touch (X1 H-L, X3/device H-ground), or two points (X1.6 to X4.3)")
	}
	if err != nil {
		return Probe{}, err
	}
	p.Sender, p.Traffic = sender, traffic
	return p, nil
}

// CheckSender tells whether a module, or module/network, is there to send.
func CheckSender(c *netlist.Circuit, sender string) error {
	module, network, _ := strings.Cut(sender, "/")
	_, err := c.Transceiver(module, network)
	if err != nil && network == "" && c.HasTransceiver(module) {
		return nil // on several networks: it sends on the one that is measured
	}
	return err
}
