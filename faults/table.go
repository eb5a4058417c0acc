package faults

import (
	"fmt"
	"math"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Table is what every probe reads for every fault: a row for each fault, a
// column for each probe, and the healthy row with its bands.
type Table struct {
	Circuit    *netlist.Circuit
	Instrument Instrument
	Probes     []Probe
	Healthy    []solve.Value
	Bands      []Band
	Rows       []Row

	// HealthySpans are where healthy wiring may read, as [Row.Spans]; nil but
	// for [MakeSpannedTable].
	HealthySpans []Span
}

// Band is where a healthy harness may read, the instrument's own error
// included.
type Band struct {
	// WorstLow to WorstHigh: every tolerance at its limit, to the worse side.
	WorstLow, WorstHigh solve.Value
	// Low to High holds 95 % of healthy harnesses, every tolerance taken as
	// evenly spread within its limits.
	Low, High solve.Value

	worst, likely interval // on the scale
}

// interval is a range on the comparison scale.
type interval struct{ low, high float64 }

func (i interval) holds(y float64) bool         { return y >= i.low && y <= i.high }
func (i interval) overlaps(other interval) bool { return i.low <= other.high && other.low <= i.high }

// Mark says how a reading lies to the healthy bands.
type Mark int

// The marks: within both bands, outside the 95 % band only, outside both.
const (
	Within Mark = iota
	Unlikely
	Outside
)

// Row is one fault's readings, at its typical resistance and half-way along.
type Row struct {
	Fault  *Fault
	Values []solve.Value
	Marks  []Mark
	// Spans are where each reading may lie whatever the fault leaves open; nil
	// but for [MakeSpannedTable].
	Spans []Span

	likely []interval // 95 % of harnesses with this fault, on the scale
}

// Detected tells whether some reading lies where no healthy harness reads.
func (r *Row) Detected() bool {
	for _, m := range r.Marks {
		if m == Outside {
			return true
		}
	}
	return false
}

// MakeTable computes what probes read for faults. progress, where it is not
// nil, is called after each fault with how many of how many are done.
func MakeTable(c *netlist.Circuit, faults []*Fault, probes []Probe, in Instrument, progress func(done, of int)) (*Table, error) {
	t := &Table{Circuit: c, Instrument: in, Probes: probes}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		return nil, err
	}
	healthy, err := p.healthy()
	if err != nil {
		return nil, err
	}
	worst, err := t.worstCase(p, healthy)
	if err != nil {
		return nil, err
	}
	j := make([]float64, len(c.Parameters))
	for i, r := range healthy {
		q := probes[i].Quantity
		t.Healthy = append(t.Healthy, r.Value())
		b := Band{worst: worst[i], likely: t.likely(r, q, j)}
		// No spread of evenly spread values goes past their limits.
		b.likely.low = math.Max(b.likely.low, b.worst.low)
		b.likely.high = math.Min(b.likely.high, b.worst.high)
		b.WorstLow, b.WorstHigh = t.off(q, b.worst.low), t.off(q, b.worst.high)
		b.Low, b.High = t.off(q, b.likely.low), t.off(q, b.likely.high)
		t.Bands = append(t.Bands, b)
	}
	for k, f := range faults {
		ready, err := p.prepare(f, 0.5)
		if err != nil {
			return nil, err
		}
		row, err := t.row(ready, j)
		if err != nil {
			return nil, err
		}
		t.Rows = append(t.Rows, row)
		if progress != nil {
			progress(k+1, len(faults))
		}
	}
	return t, nil
}

// row takes a fault's readings with its typical resistance. j is scratch space.
func (t *Table) row(ready *prepared, j []float64) (Row, error) {
	row := Row{Fault: ready.fault}
	responses, err := ready.typical()
	if err != nil {
		return row, err
	}
	for i, r := range responses {
		q, v := t.Probes[i].Quantity, r.Value()
		y := onScale(q, v)
		m := Within
		switch {
		case !t.Bands[i].worst.holds(y):
			m = Outside
		case !t.Bands[i].likely.holds(y):
			m = Unlikely
		}
		row.Values = append(row.Values, v)
		row.Marks = append(row.Marks, m)
		row.likely = append(row.likely, t.likely(r, q, j))
	}
	return row, nil
}

func (t *Table) off(q solve.Quantity, y float64) solve.Value {
	return offScale(q, y, t.Instrument.Meter.RangeOhms)
}

// instrumentOnScale is the limit of the instrument's error on the scale.
func (t *Table) instrumentOnScale(q solve.Quantity, v solve.Value) float64 {
	if v.OL {
		return strayOnScale(q, 1)
	}
	limit := t.Instrument.limit(q, v.Number)
	if q == solve.Ohms {
		_, half := t.Instrument.leads()
		limit += half
	}
	return limit*slope(q, v) + strayOnScale(q, onScale(q, v))
}

// likely is where 95 % of harnesses read, on the scale: first order in the
// parameters, each evenly spread within its limits. j is scratch space.
func (t *Table) likely(r predicted, q solve.Quantity, j []float64) interval {
	for i := range j {
		j[i] = 0
	}
	r.Sensitivities(j)
	v := r.Value()
	s := slope(q, v)
	variance := 0.0
	for _, d := range j {
		variance += d * d * s * s / 3
	}
	m := t.instrumentOnScale(q, v) * limitToSigma
	if d, ok := r.(*drivenReading); ok {
		m = math.Hypot(m, d.dutyLimit()*limitToSigma)
	}
	const z95 = 1.959964 // the normal distribution's 97.5 % point
	half := z95 * math.Sqrt(variance+m*m)
	y := onScale(q, v)
	return interval{y - half, y + half}
}

// worstCase finds the limits of each healthy reading. A resistance rises with
// every resistance in the net (Rayleigh), so all at their upper limits give its
// greatest value, exactly. A voltage has no such rule: its corner is found by
// following the sensitivities until their signs stay.
func (t *Table) worstCase(p *predictor, healthy []predicted) ([]interval, error) {
	out := make([]interval, len(p.probes))
	for i, r := range healthy {
		y := onScale(p.probes[i].Quantity, r.Value())
		out[i] = interval{y, y}
	}
	up := raising(p.c)
	down := make([]float64, len(up))
	for i := range up {
		down[i] = -up[i]
	}
	for _, g := range p.groups {
		for _, z := range [][]float64{down, up} {
			_, responses, err := p.direct(g, z, nil)
			if err != nil {
				return nil, fmt.Errorf("with every tolerance at its limit: %w", err)
			}
			for j, i := range g.probes {
				if !p.probes[i].driven() {
					out[i].include(onScale(p.probes[i].Quantity, responses[j].Value()))
				}
			}
		}
		for j, i := range g.probes {
			switch {
			case p.probes[i].driven():
				out[i] = t.drivenLimits(healthy[i].(*drivenReading))
			case p.probes[i].Quantity == solve.Volts:
				if err := t.voltageCorners(p, g, j, &out[i]); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range out {
		q := p.probes[i].Quantity
		out[i].low -= t.instrumentOnScale(q, t.off(q, out[i].low))
		out[i].high += t.instrumentOnScale(q, t.off(q, out[i].high))
	}
	return out, nil
}

func (i *interval) include(y float64) {
	i.low, i.high = math.Min(i.low, y), math.Max(i.high, y)
}

// drivenLimits adds the effects of all parameters at their limits, each to first
// order: a bus at work has no corner that is sure to be the worst.
func (t *Table) drivenLimits(r *drivenReading) interval {
	j := make([]float64, len(t.Circuit.Parameters))
	r.Sensitivities(j)
	sum := math.Abs(r.dutyLimit())
	for _, d := range j {
		sum += math.Abs(d)
	}
	return interval{r.value - sum, r.value + sum}
}

// raising gives the parameter values that raise every resistance to its limit.
func raising(c *netlist.Circuit) []float64 {
	z := make([]float64, len(c.Parameters))
	for i := range z {
		z[i] = 1
	}
	for _, e := range c.Elements {
		if e.Off.Siemens {
			for _, law := range []netlist.Law{e.Off, e.Awake} {
				for _, s := range law.Value.Parts {
					z[s.Parameter] = -1
				}
			}
		}
	}
	return z
}

// voltageCorners widens a band to the corners that sensitivities lead to.
func (t *Table) voltageCorners(p *predictor, g *group, j int, band *interval) error {
	probe := p.probes[g.probes[j]]
	for _, sign := range []float64{-1, 1} {
		r := g.healthy[j]
		var last []float64
		for pass := 0; pass < 4; pass++ {
			d := make([]float64, len(p.c.Parameters))
			r.Sensitivities(d)
			z := make([]float64, len(d))
			for i := range d {
				z[i] = sign
				if d[i] < 0 {
					z[i] = -sign
				}
			}
			if last != nil && equal(z, last) {
				break
			}
			last = z
			n, err := solve.Assemble(p.c, g.condition, z)
			if err != nil {
				return err
			}
			if r, err = n.Respond(probe.Quantity, probe.From, probe.To, p.meter); err != nil {
				return err
			}
			band.include(r.Value().Number)
		}
	}
	return nil
}

func equal(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}
