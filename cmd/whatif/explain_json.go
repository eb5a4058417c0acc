package main

import (
	"math"
	"strconv"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// figures keeps nine figures, enough to follow every step by hand.
func figures(x float64) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 9, 64), 64) // what it wrote itself
	if math.Abs(y) < 1e-12 {
		return 0
	}
	return y
}

type explainedResistance struct {
	Name     string   `json:"name"`
	Kind     string   `json:"kind"`
	Part     string   `json:"part,omitempty"`
	A        string   `json:"a"`
	B        string   `json:"b"`
	Fold     string   `json:"conductors,omitempty"`
	Ohms     float64  `json:"ohms"`
	Volts    *float64 `json:"volts,omitempty"`
	Share    float64  `json:"share"`
	Elements []string `json:"elements"`
}

type explainedStep struct {
	Operation string `json:"operation"`
	At        string `json:"at,omitempty"`
	Inputs    []int  `json:"inputs"`
	Outputs   []int  `json:"outputs"`
	Words     string `json:"words"`
}

type explainedTerm struct {
	Group string  `json:"group"`
	Value float64 `json:"value"`
	Total float64 `json:"total"`
	Open  bool    `json:"open,omitempty"`
}

type explainedWeight struct {
	Element    string  `json:"element"`
	Ohms       float64 `json:"ohms"`
	PerPercent float64 `json:"per_percent"`
}

type explainedSource struct {
	Name  string  `json:"name"`
	Volts float64 `json:"volts"`
	Gives float64 `json:"gives"`
}

type explainedApart struct {
	AtFrom []string `json:"at_from"`
	AtTo   []string `json:"at_to"`
	Cuts   []string `json:"cuts"`
	Open   []string `json:"open_around"`
	Always bool     `json:"healthy_too"`
}

type explained struct {
	From        string                `json:"from"`
	To          string                `json:"to"`
	Shown       any                   `json:"shown"`
	Ohms        *float64              `json:"ohms,omitempty"`
	Volts       *float64              `json:"volts,omitempty"`
	Sentence    string                `json:"sentence"`
	Terms       []explainedTerm       `json:"terms"`
	Resistances []explainedResistance `json:"resistances"`
	Steps       []explainedStep       `json:"steps"`
	Weights     []explainedWeight     `json:"weights"`
	Sources     []explainedSource     `json:"sources,omitempty"`
	Apart       *explainedApart       `json:"apart,omitempty"`
}

// json writes both derivations whole; --full makes no difference to it.
func (c *explainCommand) json(s streams, circuit *netlist.Circuit, probe faults.Probe, names []string, x *derivation.Comparison) error {
	out := struct {
		Harness  string     `json:"harness"`
		Cautions []string   `json:"cautions"`
		Reading  string     `json:"reading"`
		Faults   []string   `json:"faults"`
		Changed  []string   `json:"changed"`
		Lost     []string   `json:"between_no_more"`
		Gained   []string   `json:"between_now_too"`
		Healthy  *explained `json:"healthy"`
		Faulty   *explained `json:"faulty,omitempty"`
	}{
		circuit.Harness.Name, cautions, probe.String(), append([]string{}, names...), append([]string{}, x.Changed...),
		append([]string{}, x.Lost...), append([]string{}, x.Gained...), explain(x.Healthy), explain(x.Faulty),
	}
	return writeJSON(s, out)
}

func explain(d *derivation.Derivation) *explained {
	if d == nil {
		return nil
	}
	out := &explained{
		From: d.From, To: d.To, Shown: "OL", Sentence: d.Answer(),
		Terms: []explainedTerm{}, Resistances: []explainedResistance{}, Steps: []explainedStep{}, Weights: []explainedWeight{},
	}
	if a := d.Apart; a != nil {
		out.Apart = &explainedApart{append([]string{}, a.AtFrom...), append([]string{}, a.AtTo...), append([]string{}, a.Cuts...), append([]string{}, a.OpenCuts...), a.Always}
	}
	if !d.Value.OL {
		out.Shown = figures(d.Value.Number)
	}
	if !d.Open {
		ohms := figures(d.Ohms)
		out.Ohms = &ohms
	}
	volts := d.Quantity == solve.Volts
	if volts {
		v := figures(d.Volts)
		out.Volts = &v
	}
	for i := range d.Resistances {
		r := &d.Resistances[i]
		e := explainedResistance{r.Name, string(r.Kind), r.Part, r.A, r.B, string(r.Fold), figures(r.Ohms), nil, figures(r.Share), r.Elements}
		if volts {
			v := figures(r.Volts)
			e.Volts = &v
		}
		out.Resistances = append(out.Resistances, e)
	}
	for i := range d.Steps {
		t := &d.Steps[i]
		out.Steps = append(out.Steps, explainedStep{string(t.Operation), t.At, t.Inputs, append([]int{}, t.Outputs...), d.Sentence(t)})
	}
	for _, t := range d.Terms {
		out.Terms = append(out.Terms, explainedTerm{string(t.Group), figures(t.Value), figures(t.Total), t.Open})
	}
	for _, w := range d.Weights {
		out.Weights = append(out.Weights, explainedWeight{w.Element, figures(w.Ohms), figures(w.PerPercent)})
	}
	for _, v := range d.Sources {
		out.Sources = append(out.Sources, explainedSource{v.Name, figures(v.Volts), figures(v.Gives)})
	}
	return out
}
