// Package bench spares the lessons the repeated handling of errors: the first
// mistake is kept, what comes after it does nothing, and Err reports it at the end.
package bench

import (
	"fmt"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// Bench is a harness with a meter beside it.
type Bench struct {
	Circuit *netlist.Circuit
	// Meter is right to the last digit and its leads are zeroed. What a real one
	// adds, the lessons say where it matters.
	Meter faults.Instrument

	catalogue []*faults.Fault
	err       error
}

// New sets up a harness that is built in Go.
func New(h *netlist.Harness) (*Bench, error) {
	c, err := netlist.NewCircuit(h)
	if err != nil {
		return nil, err
	}
	return &Bench{Circuit: c, Meter: faults.ExactInstrument(), catalogue: faults.Catalogue(c)}, nil
}

// Open sets up a harness from a file.
func Open(path string) (*Bench, error) {
	h, err := netfile.Read(path)
	if err != nil {
		return nil, fmt.Errorf("%w (the lessons are run from the top folder of the checkout)", err)
	}
	return New(h)
}

// Err is the first mistake.
func (b *Bench) Err() error { return b.err }

// Keep notes a mistake, unless there was one before.
func (b *Bench) Keep(err error) {
	if b.err == nil {
		b.err = err
	}
}

// Ohms is a resistance reading at a place, such as X1 or X8/a, supply off and all
// of some connectors apart.
func (b *Bench) Ohms(place, between string, unplugged ...string) faults.Probe {
	p, err := faults.ProbeAt(b.Circuit, solve.Ohms, place, between, solve.Condition{Unplugged: unplugged})
	b.Keep(err)
	return p
}

// OhmsAcross is a resistance reading from one point to another, such as X2.H and
// X7.H.
func (b *Bench) OhmsAcross(from, to string) faults.Probe {
	p, err := faults.ProbeFromTo(b.Circuit, solve.Ohms, from, to, solve.Condition{})
	b.Keep(err)
	return p
}

// Volts is a voltage at a place, supply on and nobody sending.
func (b *Bench) Volts(place, between string) faults.Probe {
	p, err := faults.ProbeAt(b.Circuit, solve.Volts, place, between, solve.Condition{Supply: solve.Idle})
	b.Keep(err)
	return p
}

// Reads is what one probe reads with faults, all of them at once; none for healthy
// wiring.
func (b *Bench) Reads(p faults.Probe, names ...string) solve.Value {
	return b.ReadsWith(p, b.Faults(names...)...)
}

// ReadsWith is Reads for faults that need not be in the catalogue.
func (b *Bench) ReadsWith(p faults.Probe, list ...*faults.Fault) solve.Value {
	if b.err != nil {
		return solve.Value{}
	}
	v, err := p.Read(b.Circuit, b.Meter.Meter, list...)
	b.Keep(err)
	return v
}

// Faults finds faults of the catalogue by their names.
func (b *Bench) Faults(names ...string) []*faults.Fault {
	list, err := faults.Named(b.catalogue, names...)
	b.Keep(err)
	return list
}

// Table is what probes read for faults that are there one at a time.
func (b *Bench) Table(names []string, probes ...faults.Probe) *faults.Table {
	return b.TableOf(b.Faults(names...), probes...)
}

// TableOf is Table for faults that need not be in the catalogue.
func (b *Bench) TableOf(list []*faults.Fault, probes ...faults.Probe) *faults.Table {
	if b.err != nil {
		return &faults.Table{}
	}
	t, err := faults.MakeTable(b.Circuit, list, probes, b.Meter, nil)
	b.Keep(err)
	return t
}

// Element is the resistance in ohms of a part of the circuit with the supply off:
// "pair P1 H", "input of dash L", "contact X2.H".
func (b *Bench) Element(name string) float64 { return b.element(name).Off.Ohms(nil) }

// Awake is the same with the module awake.
func (b *Bench) Awake(name string) float64 { return b.element(name).Awake.Ohms(nil) }

// Metres is the length of a wire: "pair P1 H".
func (b *Bench) Metres(name string) float64 { return b.element(name).LengthM }

func (b *Bench) element(name string) *netlist.Element {
	e, err := b.Circuit.FindElement(name)
	if err != nil {
		b.Keep(err)
		return &netlist.Element{}
	}
	return e
}
