package main

import (
	"errors"
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/plot"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
)

type curveCommand struct {
	Harness   string   `arg:"" help:"Harness file (YAML or JSON)."`
	Fault     []string `required:"" sep:"none" help:"The fault, by its name, or faults by part (P9), kind (joint) or words of their names, as in whatif table. May be repeated: all filters must fit. One fault with --over ohms; one kind along the trunk with --over metres."`
	Read      string   `required:"" placeholder:"READING" help:"What is read, as in whatif explain: 'X1 drive.H-drive.L', 'X5/a H-ground', 'X2 drive.H-ground, volts', 'X1.6 to X4.6'."`
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

// faults keeps the faults that all filters fit.
func (c *curveCommand) faults(circuit *netlist.Circuit) ([]*faults.Fault, error) {
	all := faults.Catalogue(circuit)
	list := all
	for _, filter := range c.Fault {
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

// probe is what --read says, in volts where --reading does.
func (c *curveCommand) probe(circuit *netlist.Circuit) (faults.Probe, error) {
	text := c.Read
	if c.Reading == "volts" {
		text += ", volts"
	}
	return parseRead(circuit, text, c.Unplugged)
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
