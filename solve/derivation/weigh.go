package derivation

import (
	"cmp"
	"math"
	"slices"

	"example.com/ohmloom/solve"
)

// Weight is how much one element does to a reading.
type Weight struct {
	// Element is an element of the harness, or what a fault added.
	Element string
	Kind    Kind
	Part    string
	Ohms    float64
	// PerPercent is how far the reading without the meter moves, in ohms or volts,
	// for each percent that the element's ohms rise, to first order.
	PerPercent float64
}

// Source is what one source gives of a voltage; all of them add up to it.
type Source struct {
	// Name of the input whose bias it is, or of the point that is held.
	Name string
	// Volts of the source, and how many of them it Gives.
	Volts, Gives float64
}

// rounding is more than what rounding makes of a few volts, in volts, and less than any
// source. This project's own choice.
const rounding = 1e-9

// weigh says what each element and each source gives.
func (d *Derivation) weigh(p *paper, r *solve.Response) {
	probe, drive := r.Potentials()
	if d.Quantity == solve.Ohms {
		drive = probe
	}
	net, c := p.net, d.circuit
	at := map[string]int{}
	current := map[int]float64{} // into what is held, of the ampere through the leads
	most := 0.0                  // volts across a resistance between the leads
	for _, b := range net.Branches() {
		w := (probe[b.A] - probe[b.B]) / b.Ohms
		i := (drive[b.A] - drive[b.B] - b.Volts) / b.Ohms
		if math.Abs(w) > 1e-15 { // not of the ampere but of its rounding
			most = math.Max(most, math.Abs(i*b.Ohms))
		}
		current[b.A] -= w
		current[b.B] += w
		add := func(name string, kind Kind, part string, ohms float64) {
			k, ok := at[name]
			if !ok {
				k = len(d.Weights)
				at[name] = k
				d.Weights = append(d.Weights, Weight{Element: name, Kind: kind, Part: part})
			}
			d.Weights[k].Ohms += ohms
			d.Weights[k].PerPercent += 0.01 * ohms * w * i
		}
		if b.Element < 0 {
			add(p.bridgeName(b), Fault, "", b.Ohms)
			continue
		}
		e := &c.Elements[b.Element]
		if b.InsertOhms > 0 {
			add("fault in "+e.Name, Fault, e.Part, b.InsertOhms)
		}
		if own := b.Ohms - b.InsertOhms; own > 1e-12*b.InsertOhms {
			add(e.Name, kinds[e.Kind], e.Part, own)
		}
		if d.Quantity == solve.Volts && b.Volts != 0 {
			d.Sources = append(d.Sources, Source{e.Name, b.Volts, b.Volts * w})
		}
	}
	if d.Quantity == solve.Volts {
		current[p.leads[0]]++
		current[p.leads[1]]--
		for k, volts := range net.Held() {
			if volts != 0 && current[k] != 0 {
				d.Sources = append(d.Sources, Source{p.names[k], volts, volts * current[k]})
			}
		}
	}
	d.still = len(d.Sources) > 0 && most < rounding && !slices.ContainsFunc(d.Sources, func(s Source) bool { return math.Abs(s.Volts-d.Sources[0].Volts) > rounding })
	slices.SortStableFunc(d.Weights, func(a, b Weight) int {
		return cmp.Or(-cmp.Compare(math.Abs(a.PerPercent), math.Abs(b.PerPercent)), cmp.Compare(a.Element, b.Element))
	})
	slices.SortStableFunc(d.Sources, func(a, b Source) int {
		return cmp.Or(-cmp.Compare(math.Abs(a.Gives), math.Abs(b.Gives)), cmp.Compare(a.Name, b.Name))
	})
	d.share(p, probe)
}

// share says of every resistance on the paper how much of the resistance between
// the leads is in it: the power in it with 1 A between them.
func (d *Derivation) share(p *paper, probe []float64) {
	if d.Ohms == 0 {
		return
	}
	volts := func(k int) float64 {
		if k < len(probe) {
			return probe[k]
		}
		b := p.behind[k]
		return probe[b.a] + b.share*(probe[b.b]-probe[b.a])
	}
	for i := range d.Resistances {
		r := &d.Resistances[i]
		// What stands for two points lies between their voltages (a loop), or at the
		// mean of them (tied).
		at := func(k int) float64 {
			pair, folded := p.origin[k]
			switch {
			case !folded && r.Fold == Loop:
				return 0 // the middle
			case !folded:
				return volts(k)
			case r.Fold == Loop:
				return volts(pair[0]) - volts(pair[1])
			}
			return (volts(pair[0]) + volts(pair[1])) / 2
		}
		across := at(r.a) - at(r.b)
		r.Share = across * across / r.Ohms / d.Ohms
	}
}
