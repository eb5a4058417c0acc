package faults

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/strictyaml"
	"example.com/ohmloom/solve"
)

// loadDemo reads one of the demo harnesses.
func loadDemo(t testing.TB, name string) *netlist.Circuit {
	t.Helper()
	data, err := os.ReadFile("../examples/" + name + "/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var h netlist.Harness
	if _, problems := strictyaml.Decode(name, data, &h); len(problems) > 0 {
		t.Fatal(problems)
	}
	c, err := netlist.NewCircuit(&h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var demos = []string{"bench", "orchard", "star", "trunk"}

func findFault(t testing.TB, list []*Fault, name string) *Fault {
	t.Helper()
	for _, f := range list {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no fault %q", name)
	return nil
}

func probeAt(t testing.TB, c *netlist.Circuit, q solve.Quantity, place, between string, unplugged ...string) Probe {
	t.Helper()
	cond := solve.Condition{Unplugged: unplugged}
	if q == solve.Volts {
		cond.Supply = solve.Idle
	}
	p, err := ProbeAt(c, q, place, between, cond)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// vehicle is one harness with its own tolerances, and a meter with its own
// errors: what simulated readings are taken from.
type vehicle struct {
	c          *netlist.Circuit
	z          []float64
	changes    []solve.Change
	gain, lead float64
	in         Instrument
	rng        *rand.Rand
}

func newVehicle(c *netlist.Circuit, rng *rand.Rand, in Instrument, changes ...solve.Change) *vehicle {
	v := &vehicle{c: c, z: make([]float64, len(c.Parameters)), changes: changes, in: in, rng: rng}
	for i := range v.z {
		v.z[i] = v.even()
	}
	v.gain = v.even()
	mid, half := in.leads()
	v.lead = mid + half*v.even()
	return v
}

func (v *vehicle) even() float64 { return 2*v.rng.Float64() - 1 }

// read takes a reading as the meter shows it, rounded to its digits.
func (v *vehicle) read(t testing.TB, p Probe) Reading {
	t.Helper()
	n, err := solve.Assemble(v.c, p.Condition, v.z, v.changes...)
	if err != nil {
		t.Fatal(err)
	}
	value, err := n.Read(p.Quantity, p.From, p.To, v.in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	if value.OL {
		return Reading{p, value}
	}
	x := value.Number
	digit := v.in.DigitVolts
	if p.Quantity == solve.Ohms {
		x += v.lead
		digit = v.in.digit(solve.Ohms, x) / v.in.OhmsDigits
		x += v.in.gain(p.Quantity, x) * v.gain
	} else {
		x += v.in.gain(p.Quantity, x) * v.even()
	}
	x += v.in.digit(p.Quantity, x) * v.even()
	x = math.Round(x/digit) * digit
	if p.Quantity == solve.Ohms {
		if x > v.in.Meter.RangeOhms {
			return Reading{p, solve.Over()}
		}
		x = math.Max(0, x)
	}
	return Reading{p, solve.Value{Number: x}}
}

func healthyOf(t testing.TB, p *predictor) []predicted {
	t.Helper()
	r, err := p.healthy()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// drawFault draws a fault by its rate, its free resistance evenly over the decades
// and its place evenly along the wire: as the matcher's prior has it.
func drawFault(rng *rand.Rand, list []*Fault) (*Fault, []solve.Change) {
	all := 0.0
	for _, f := range list {
		all += f.Rate
	}
	var f *Fault
	draw := rng.Float64() * all
	for _, x := range list {
		if f = x; draw < x.Rate {
			break
		}
		draw -= x.Rate
	}
	ohms := 0.0
	if f.Free != nil {
		ohms = f.Free.Min * math.Pow(f.Free.Max/f.Free.Min, rng.Float64())
	}
	return f, f.Changes(ohms, rng.Float64())
}
