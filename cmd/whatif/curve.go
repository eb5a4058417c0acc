package main

import (
	"errors"
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/plot"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
	"example.com/ohmloom/solve"
)

type curveCommand struct {
	Harness   string   `arg:"" help:"Harness file (YAML or JSON)."`
	Fault     []string `required:"" help:"The fault, by part (P9), kind (joint) or text of its name, as in whatif table. May be repeated: all filters must fit. One fault with --over ohms; one kind along the trunk with --over metres."`
	Read      string   `required:"" placeholder:"READING" help:"What is read: a place and what between, for example 'X1 drive.H-drive.L' or 'X5/a H-ground'."`
	Over      string   `enum:"ohms,metres" default:"ohms" help:"What the reading is drawn against: the fault's ohms, or its place along the trunk in metres."`
	Ohms      *float64 `placeholder:"OHMS" help:"Resistance of the fault, for --over metres; left out: what whatif table shows (0 for shorts)."`
	Reading   string   `enum:"ohms,volts" default:"ohms" help:"ohms (supply off) or volts (modules awake, none sending)."`
	Unplugged []string `help:"Connectors that are unplugged."`
	Output    string   `short:"o" placeholder:"FILE" help:"File to write; left out: standard output."`
}

func (c *curveCommand) Help() string {
	return cautionText + "\n\nDraws one reading against what a fault leaves open, as SVG.\n\nExamples:\n  whatif curve examples/orchard/harness.yaml --fault 'joint drive.H in pair P9' --read 'X2 drive.H-drive.L' -o joint.svg\n  whatif curve examples/orchard/harness.yaml --fault 'short drive.H to drive.L in pair*' --over metres --read 'X1 drive.H-drive.L' -o short.svg"
}

func (c *curveCommand) Run(s streams, _ *int) error {
	circuit, err := loadHarness(c.Harness)
	if err != nil {
		return err
	}
	list, err := c.faults(circuit)
	if err != nil {
		return err
	}
	probe, err := c.probe(circuit)
	if err != nil {
		return err
	}
	in := faults.DefaultInstrument()
	var p *plot.Plot
	switch {
	case c.Over == "metres":
		p, err = c.along(circuit, list, probe, in)
	case c.Ohms != nil:
		return fmt.Errorf("whatif: --ohms goes with --over metres; the curve over ohms shows all of them")
	case len(list) > 1:
		return fmt.Errorf("whatif: --fault fits %d faults, and a curve over ohms shows one; write the whole name of one, for example %q", len(list), list[0].Name)
	case list[0].Free == nil:
		return fmt.Errorf("whatif: --fault: %s leaves no ohms open; whatif table says what is read", list[0].Name)
	default:
		p, err = plot.AgainstOhms(circuit, list[0], probe, in)
	}
	if err != nil {
		return fmt.Errorf("whatif: %w", err)
	}
	p.Foreword = append(p.Foreword, cautionText)
	if circuit.Harness.Note != "" {
		p.Subtitle += "; " + circuit.Harness.Note
	}
	svg, err := p.SVG()
	if err != nil {
		return fmt.Errorf("whatif: %w", err)
	}
	return writePicture(s, c.Output, svg)
}

// faults keeps the faults that all filters fit; the one whose name is written out
// alone where there is such a one.
func (c *curveCommand) faults(circuit *netlist.Circuit) ([]*faults.Fault, error) {
	all := faults.Catalogue(circuit)
	list := all
	for _, filter := range c.Fault {
		for _, f := range all {
			if f.Name == filter {
				return []*faults.Fault{f}, nil
			}
		}
		var err error
		before := len(list)
		if list, err = chooseFaults(list, []string{filter}); err != nil {
			if before < len(all) {
				return nil, fmt.Errorf("%w (of those that the other filters leave)", err)
			}
			return nil, err
		}
	}
	return list, nil
}

func (c *curveCommand) probe(circuit *netlist.Circuit) (faults.Probe, error) {
	place, between, ok := strings.Cut(strings.TrimSpace(c.Read), " ")
	if !ok {
		return faults.Probe{}, fmt.Errorf("whatif: --read %q; write a place, a blank and what between, for example 'X1 H-L'", c.Read)
	}
	q, condition := solve.Ohms, solve.Condition{Unplugged: c.Unplugged}
	if c.Reading == "volts" {
		q, condition.Supply = solve.Volts, solve.Idle
	}
	for _, name := range c.Unplugged {
		if _, err := circuit.Unplug(name); err != nil {
			return faults.Probe{}, fmt.Errorf("whatif: --unplugged %s: %w", name, err)
		}
	}
	probe, err := faults.ProbeAt(circuit, q, place, strings.TrimSpace(between), condition)
	if err != nil {
		return faults.Probe{}, fmt.Errorf("whatif: --read %q: %w", c.Read, err)
	}
	return probe, nil
}

// along draws a fault against its place, on the network of its first wire.
func (c *curveCommand) along(circuit *netlist.Circuit, list []*faults.Fault, probe faults.Probe, in faults.Instrument) (*plot.Plot, error) {
	first := (*faults.Fault)(nil)
	for _, f := range list {
		if len(f.Wires) > 0 {
			first = f
			break
		}
	}
	if first == nil {
		return nil, fmt.Errorf("--over metres needs a fault along a wire, such as a short; %s sits at one place", list[0].Name)
	}
	ohms := first.Free.Typical
	if c.Ohms != nil {
		if ohms = *c.Ohms; !(ohms >= 0 && ohms <= 1e9) {
			return nil, fmt.Errorf("--ohms %v; write a resistance from 0 to 1e9", ohms)
		}
	}
	var same []*faults.Fault
	network := circuit.Elements[first.Wires[0]].Conductor.Network
	for _, f := range list {
		if len(f.Wires) > 0 && circuit.Elements[f.Wires[0]].Conductor.Network == network {
			same = append(same, f)
		}
	}
	p, err := plot.AgainstPlace(circuit, same, network, probe, in, ohms)
	if !errors.Is(err, plot.ErrNotOnTrunk) {
		return p, err
	}
	trunk, _ := drawing.Trunk(circuit, network) // there is one, or the error would be another
	var wires []string
	for _, s := range trunk {
		if s.Wire {
			wires = append(wires, s.Part)
		}
	}
	return nil, fmt.Errorf("%w; write a fault of %s", err, strings.Join(wires, ", "))
}
