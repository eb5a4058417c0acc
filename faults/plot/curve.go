package plot

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
	"example.com/ohmloom/solve"
)

// Point is one point of a curve: X in ohms or metres.
type Point struct {
	X     float64
	Value solve.Value
	// Gap says that nothing is known between the point before and this one.
	Gap bool
}

// Place is a connector, splice or module along the x axis.
type Place struct {
	X    float64
	Name string
}

// Plot is a reading against what a fault leaves open.
type Plot struct {
	Title, Subtitle string
	// Foreword are paragraphs between the two: cautions.
	Foreword []string
	// XLabel and YLabel name the axes with their units.
	XLabel, YLabel string
	// LogX says that x is drawn by its logarithm.
	LogX     bool
	Quantity solve.Quantity
	Points   []Point
	// Healthy is the reading without the fault; Low to High is where 95 % of
	// healthy harnesses read.
	Healthy, Low, High solve.Value
	// Places along the x axis, in order.
	Places []Place
	// Typical marks the x that the what-if table shows, 0 for none.
	Typical float64
}

// pointsOfCurve is how many points a curve against ohms has.
const pointsOfCurve = 241

// AgainstOhms computes what a probe reads against the free ohms of a fault, from
// its least to its greatest resistance in equal steps of the logarithm, half-way
// along the wires where it sits on some.
func AgainstOhms(c *netlist.Circuit, f *faults.Fault, probe faults.Probe, in faults.Instrument) (*Plot, error) {
	if f.Free == nil {
		return nil, fmt.Errorf("%s leaves no ohms open, so there is nothing to draw it against", f.Name)
	}
	p, err := begin(c, probe, in)
	if err != nil {
		return nil, err
	}
	p.LogX = true
	p.XLabel = "resistance of the fault, Ω"
	p.Typical = f.Free.Typical
	p.Title = f.Name
	if len(f.Wires) > 0 {
		p.Subtitle += "; the fault half-way along the wire"
	}
	if !(f.Free.Min > 0 && f.Free.Max > f.Free.Min) {
		return nil, fmt.Errorf("%s: its ohms go from %v to %v, which a logarithm cannot show", f.Name, f.Free.Min, f.Free.Max)
	}
	from, to := math.Log(f.Free.Min), math.Log(f.Free.Max)
	ohms := make([]float64, pointsOfCurve)
	for i := range ohms {
		ohms[i] = math.Exp(from + (to-from)*float64(i)/(pointsOfCurve-1))
	}
	ohms[0], ohms[len(ohms)-1] = f.Free.Min, f.Free.Max
	values, err := faults.Sweep(c, f, probe, in.Meter, 0.5, ohms)
	if err != nil {
		return nil, err
	}
	for i, v := range values {
		p.Points = append(p.Points, Point{X: ohms[i], Value: v})
	}
	return p, nil
}

// begin fills in what all plots of a probe have in common.
func begin(c *netlist.Circuit, probe faults.Probe, in faults.Instrument) (*Plot, error) {
	table, err := faults.MakeTable(c, nil, []faults.Probe{probe}, in, nil)
	if err != nil {
		return nil, err
	}
	p := &Plot{
		Quantity: probe.Quantity, Healthy: table.Healthy[0], Low: table.Bands[0].Low, High: table.Bands[0].High,
		Subtitle: c.Harness.Name + ": " + probe.String(), YLabel: "reading, V",
	}
	if probe.Quantity == solve.Ohms {
		p.YLabel = "reading, Ω"
	}
	return p, nil
}

// ErrNotOnTrunk says that none of the faults sits on a wire of the trunk.
var ErrNotOnTrunk = errors.New("none of these faults sits along a wire of the network's trunk")

// placesOfWire is how many places along one wire are computed.
const placesOfWire = 33

// AgainstPlace computes what a probe reads against the place of a fault along a
// network's trunk. list has the fault for each wire, all of one kind; those that
// are not on the trunk are left out. ohms is the resistance of the fault.
//
// A wire whose length the harness does not give is drawn one metre long, and the
// label of the axis says so.
func AgainstPlace(c *netlist.Circuit, list []*faults.Fault, network string, probe faults.Probe, in faults.Instrument, ohms float64) (*Plot, error) {
	trunk, err := drawing.Trunk(c, network)
	if err != nil {
		return nil, err
	}
	byPart := map[string]*faults.Fault{}
	for _, f := range list {
		if len(f.Wires) == 0 {
			continue
		}
		if f.Kind != list[0].Kind {
			return nil, fmt.Errorf("%s and %s are of different kinds; one curve shows one kind", list[0].Name, f.Name)
		}
		if g := byPart[f.Part]; g != nil {
			return nil, fmt.Errorf("%s and %s are at the same wire; one curve shows one of them", g.Name, f.Name)
		}
		byPart[f.Part] = f
	}
	p, err := begin(c, probe, in)
	if err != nil {
		return nil, err
	}
	p.XLabel = "place along the trunk of " + network + ", m"
	p.Subtitle += "; the fault with " + solve.FormatReading(solve.Ohms, solve.Value{Number: ohms})
	fractions := make([]float64, placesOfWire)
	for i := range fractions {
		fractions[i] = float64(i) / (placesOfWire - 1)
	}
	x, unknown, missing, found := 0.0, false, false, 0
	var first *faults.Fault
	for _, s := range trunk {
		if !s.Wire {
			if n := len(p.Places); n == 0 || p.Places[n-1].X != x || p.Places[n-1].Name != s.Part {
				p.Places = append(p.Places, Place{x, s.Part})
			}
			continue
		}
		metres := s.Metres
		if metres == 0 {
			metres, unknown = 1, true
		}
		if f := byPart[s.Part]; f != nil {
			if first == nil {
				first = f
			}
			found++
			values, err := faults.Along(c, f, probe, in.Meter, ohms, fractions)
			if err != nil {
				return nil, err
			}
			for i := range values {
				v := values[i]
				if s.Backwards {
					v = values[len(values)-1-i]
				}
				p.Points = append(p.Points, Point{X: x + metres*fractions[i], Value: v, Gap: i == 0 && missing})
			}
		}
		missing = byPart[s.Part] == nil
		x += metres
	}
	if found == 0 {
		return nil, ErrNotOnTrunk
	}
	p.Title = first.Name
	if found > 1 {
		what, _, _ := strings.Cut(first.Name, " in ")
		p.Title = what + ", along the trunk of " + network
	}
	if unknown {
		p.XLabel += " (wires of unknown length: 1 m)"
	}
	return p, nil
}
