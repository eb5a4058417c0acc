// Package trial plays technicians on vehicles that are drawn: harnesses with
// tolerances of their own, faults as the catalogue has them, a meter with its own
// errors. It measures how well and how fast advice leads to the fault, and what the
// workshop's habits take for the same vehicle.
package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Vehicle is one harness with its own tolerances and faults, and a meter with its
// own errors. Readings are those of nets assembled anew for each.
type Vehicle struct {
	Circuit *netlist.Circuit
	Faults  []*faults.Fault // none for a sound one

	z          []float64
	changes    []solve.Change
	laid       [][]solve.Change // by fault
	gain, lead float64
	// dominant is how much of the time the networks are dominant, from the least (0) to
	// the most (1) that package faults holds possible; below 0 as long as it was not
	// drawn.
	dominant float64
	in       faults.Instrument
	rng      *rand.Rand
	// shown remembers readings: the same points read again show the same, since
	// what makes them differ from the prediction is the same.
	shown map[string]faults.Reading
	nets  map[string]*solve.Net
}

// Make makes a vehicle with a fault of given ohms at a fraction of its wires,
// tolerances and the meter's errors drawn.
func Make(c *netlist.Circuit, in faults.Instrument, rng *rand.Rand, f *faults.Fault, ohms, fraction float64) *Vehicle {
	v := sound(c, in, rng)
	v.Faults, v.laid = []*faults.Fault{f}, [][]solve.Change{f.Changes(ohms, fraction)}
	v.changes = v.laid[0]
	return v
}

// sound is a vehicle without a fault.
func sound(c *netlist.Circuit, in faults.Instrument, rng *rand.Rand) *Vehicle {
	v := &Vehicle{
		Circuit: c, z: make([]float64, len(c.Parameters)), in: in, rng: rng, dominant: -1,
		shown: map[string]faults.Reading{}, nets: map[string]*solve.Net{},
	}
	for i := range v.z {
		v.z[i] = v.even()
	}
	v.gain = v.even()
	v.lead = in.LeadMinOhms + (in.LeadMaxOhms-in.LeadMinOhms)*rng.Float64()
	return v
}

// Draw makes a vehicle with so many faults, drawn by their rates, free resistances
// evenly over the decades, places evenly along the wire, tolerances and the meter's
// errors evenly within their limits. Of several faults none are about the same part.
func Draw(c *netlist.Circuit, list []*faults.Fault, in faults.Instrument, rng *rand.Rand, many int) *Vehicle {
	v := sound(c, in, rng)
	for len(v.Faults) < many {
		f := pick(rng, list)
		twice := false
		for _, x := range v.Faults {
			twice = twice || x.Part == f.Part
		}
		if twice {
			continue
		}
		ohms := 0.0
		if f.Free != nil {
			ohms = f.Free.Min * math.Pow(f.Free.Max/f.Free.Min, rng.Float64())
		}
		own := f.Changes(ohms, rng.Float64())
		changes := append(append([]solve.Change(nil), v.changes...), own...)
		// Faults that cannot be there together (a supply shorted by two of them).
		if _, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, v.z, changes...); err != nil {
			continue
		}
		v.changes, v.laid = changes, append(v.laid, own)
		v.Faults = append(v.Faults, f)
	}
	return v
}

// repaired is the vehicle without one of its faults.
func (v *Vehicle) repaired(k int) *Vehicle {
	out := *v
	out.Faults, out.laid, out.changes = nil, nil, nil
	for i, f := range v.Faults {
		if i != k {
			out.Faults, out.laid = append(out.Faults, f), append(out.laid, v.laid[i])
			out.changes = append(out.changes, v.laid[i]...)
		}
	}
	out.shown, out.nets = map[string]faults.Reading{}, map[string]*solve.Net{}
	return &out
}

func pick(rng *rand.Rand, list []*faults.Fault) *faults.Fault {
	all := 0.0
	for _, f := range list {
		all += f.Rate
	}
	at := rng.Float64() * all
	for _, f := range list {
		if at < f.Rate {
			return f
		}
		at -= f.Rate
	}
	return list[len(list)-1]
}

func (v *Vehicle) even() float64 { return 2*v.rng.Float64() - 1 }

// Name of what is wrong.
func (v *Vehicle) Name() string {
	if len(v.Faults) == 0 {
		return faults.HealthyName
	}
	name := ""
	for i, f := range v.Faults {
		if i > 0 {
			name += " and "
		}
		name += f.Name
	}
	return name
}

func (v *Vehicle) net(condition solve.Condition) (*solve.Net, error) {
	key := condition.String()
	if n := v.nets[key]; n != nil {
		return n, nil
	}
	n, err := solve.Assemble(v.Circuit, condition, v.z, v.changes...)
	v.nets[key] = n
	return n, err
}

// stuck tells whether a transceiver sends all the time.
func (v *Vehicle) stuck() bool {
	for _, ch := range v.changes {
		if _, ok := ch.(solve.Stick); ok {
			return true
		}
	}
	return false
}

// Read takes a reading as the meter shows it, rounded to its digits.
func (v *Vehicle) Read(p faults.Probe) (faults.Reading, error) {
	key := fmt.Sprint(p.Quantity, p.From, p.To, p.Condition, p.Sender, p.Traffic)
	if r, ok := v.shown[key]; ok {
		return r, nil
	}
	n, err := v.net(p.Condition)
	if err != nil {
		return faults.Reading{}, err
	}
	var value solve.Value
	if p.Traffic || p.Sender != "" || p.Condition.Supply == solve.Idle && v.stuck() {
		if value, err = v.atWork(n, &p); err != nil {
			return faults.Reading{}, err
		}
	} else if value, err = n.Read(p.Quantity, p.From, p.To, v.in.Meter); err != nil {
		return faults.Reading{}, err
	}
	r := faults.Reading{Probe: p, Value: v.display(p.Quantity, value)}
	v.shown[key] = r
	return r, nil
}

// atWork is what a meter shows, or a scope, where something sends: the level while one
// module does, or the mean over all that have a supply, each for the same share of the
// time that the bus is dominant. A module that sends all the time does so meanwhile too.
func (v *Vehicle) atWork(n *solve.Net, p *faults.Probe) (solve.Value, error) {
	bus, err := n.Bus([]solve.Leads{{From: p.From, To: p.To}})
	if err != nil {
		return solve.Value{}, err
	}
	quiet, err := bus.Read(0, v.in.Meter)
	if err != nil || p.Sender == "" && !p.Traffic {
		return quiet, err
	}
	module, network, _ := strings.Cut(p.Sender, "/")
	touched := map[string]bool{network: network != ""}
	if network == "" {
		for _, node := range []int{p.From, p.To} {
			if k := v.Circuit.Nodes[node].Conductor; k.Network != "" {
				touched[k.Network] = true
			}
		}
	}
	sum, senders := 0.0, 0
	for i, s := range bus.Stations {
		// One that has no supply sends nothing, whoever asks it to.
		if !touched[s.Network] || p.Traffic && (!s.Powered || s.Stuck) || p.Sender != "" && s.Name != module {
			continue
		}
		level, err := bus.Read(0, v.in.Meter, i)
		if err != nil {
			return solve.Value{}, err
		}
		sum += level.Number
		senders++
	}
	switch {
	case senders == 0 && p.Sender != "":
		return solve.Value{}, fmt.Errorf("%s: there is no module %s on the network that is measured", p, p.Sender)
	case senders == 0:
		return quiet, nil
	case p.Sender != "":
		return solve.Value{Number: sum / float64(senders)}, nil
	}
	if v.dominant < 0 {
		v.dominant = v.rng.Float64()
	}
	least, most := p.DominantRange()
	share := least + (most-least)*v.dominant
	return solve.Value{Number: (1-share)*quiet.Number + share*sum/float64(senders)}, nil
}

// display adds the meter's errors and rounds to its digits.
func (v *Vehicle) display(q solve.Quantity, value solve.Value) solve.Value {
	if value.OL {
		return value
	}
	x, in := value.Number, &v.in
	if q == solve.Volts {
		x += math.Abs(x)*in.VoltsPct/100*v.even() + in.VoltsDigits*in.DigitVolts*v.even()
		return solve.Value{Number: math.Round(x/in.DigitVolts) * in.DigitVolts}
	}
	x += v.lead
	digit, top := in.DigitOhms, in.LowRangeOhms
	for x > top && top > 0 {
		digit, top = digit*10, top*10
	}
	x += x*in.OhmsPct/100*v.gain + in.OhmsDigits*digit*v.even()
	x = math.Max(0, math.Round(x/digit)*digit)
	if x > in.Meter.RangeOhms {
		return solve.Over()
	}
	return solve.Value{Number: x}
}

// Scan asks every module from a connector. Modules do otherwise than the wiring has
// it as rarely as package faults takes it.
func (v *Vehicle) Scan(tool string) ([]faults.Answer, error) {
	n, err := v.net(solve.Condition{Supply: solve.Idle})
	if err != nil {
		return nil, err
	}
	bus, err := n.Bus(nil, solve.Tool{Site: tool})
	if err != nil {
		return nil, err
	}
	talk, err := bus.Talk()
	if err != nil {
		return nil, err
	}
	hear := talk.Answers(len(v.Circuit.Units))
	if v.rng.Float64() < faults.ScanFails {
		for u := range hear {
			hear[u] = solve.No
		}
	}
	var out []faults.Answer
	for u := range v.Circuit.Units {
		if len(v.Circuit.Units[u].Inputs) == 0 {
			continue
		}
		out = append(out, faults.Answer{
			Tool: tool, Module: v.Circuit.Units[u].Name,
			Answered: v.rng.Float64() < faults.AnswerChance(hear[u]),
		})
	}
	return out, nil
}
