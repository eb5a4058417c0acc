package faults

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Span is where a reading may lie with one fault, whatever the fault leaves open:
// its free resistance over its whole range, its place anywhere along its wires,
// every tolerance of the harness at its limit (volts to first order), the
// instrument's error at its limit, its leads zeroed or not. A reading outside is not of this
// fault alone; a reading inside says only that it may be. [Matcher.Match] weighs
// readings together, which tells far more.
type Span struct{ Low, High solve.Value }

// Holds tells whether a reading of the quantity lies in the span.
func (s Span) Holds(q solve.Quantity, v solve.Value) bool {
	y := onScale(q, v)
	return y >= onScale(q, s.Low) && y <= onScale(q, s.High)
}

// MakeSpannedTable is [MakeTable] with the spans of every row, and of healthy
// wiring, filled in. It wants readings at rest: none while modules send.
func MakeSpannedTable(c *netlist.Circuit, faults []*Fault, probes []Probe, in Instrument, progress func(done, of int)) (*Table, error) {
	t, err := MakeTable(c, nil, probes, in, nil)
	if err != nil {
		return nil, err
	}
	for i, b := range t.Bands {
		t.HealthySpans = append(t.HealthySpans, t.span(probes[i].Quantity, b.worst))
	}
	spans, err := newSpanner(t)
	if err != nil {
		return nil, err
	}
	t.Rows = make([]Row, len(faults))
	problems := make([]error, len(faults))
	next := make(chan int)
	var workers sync.WaitGroup
	var count sync.Mutex
	done := 0
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			j := make([]float64, len(c.Parameters))
			for k := range next {
				t.Rows[k], problems[k] = spans.row(faults[k], j)
				count.Lock()
				if done++; progress != nil {
					progress(done, len(faults))
				}
				count.Unlock()
			}
		})
	}
	for k := range faults {
		next <- k
	}
	close(next)
	workers.Wait()
	return t, errors.Join(problems...)
}

// spanner works out rows with their spans.
type spanner struct {
	t      *Table
	middle *predictor
	// ohms are the probes of resistances, as indices of the table's, and corners
	// the harness with every resistance at its lower and at its upper limit: a
	// resistance rises with every resistance in the net (Rayleigh), those of the
	// fault among them, so its limits are exact.
	ohms    []int
	corners [2]*predictor
}

func newSpanner(t *Table) (*spanner, error) {
	s := &spanner{t: t}
	var probes []Probe
	for i, p := range t.Probes {
		if p.driven() {
			return nil, fmt.Errorf("faults: %s: spans are of readings at rest", p)
		}
		if p.Quantity == solve.Ohms {
			s.ohms = append(s.ohms, i)
			probes = append(probes, p)
		}
	}
	up := raising(t.Circuit)
	down := make([]float64, len(up))
	for i := range up {
		down[i] = -up[i]
	}
	var err error
	if s.middle, err = newPredictor(t.Circuit, t.Probes, t.Instrument.Meter); err != nil {
		return nil, err
	}
	for i, z := range [][]float64{down, up} {
		if s.corners[i], err = predictorAt(t.Circuit, probes, t.Instrument.Meter, z); err != nil {
			return nil, fmt.Errorf("with every tolerance at its limit: %w", err)
		}
	}
	return s, nil
}

// row is one fault's row with its spans. j is scratch space.
func (s *spanner) row(f *Fault, j []float64) (Row, error) {
	half, err := s.middle.prepare(f, 0.5)
	if err != nil {
		return Row{}, err
	}
	row, err := s.t.row(half, j)
	if err != nil {
		return row, err
	}
	reach := make([]interval, len(s.t.Probes))
	for i := range reach {
		reach[i] = interval{math.Inf(1), math.Inf(-1)}
	}
	places := []float64{0.5}
	if f.free != nil && len(f.Wires) > 0 {
		places = []float64{0.5, 0, 1}
	}
	for _, fraction := range places {
		there := half
		if fraction != 0.5 {
			if there, err = s.middle.prepare(f, fraction); err != nil {
				return row, err
			}
		}
		if err := s.volts(there, reach, j); err != nil {
			return row, err
		}
		for _, corner := range s.corners {
			if err := s.resistances(corner, f, fraction, reach); err != nil {
				return row, err
			}
		}
	}
	for i, r := range reach {
		q := s.t.Probes[i].Quantity
		r.low -= s.t.instrumentOnScale(q, s.t.off(q, r.low))
		r.high += s.t.instrumentOnScale(q, s.t.off(q, r.high))
		row.Spans = append(row.Spans, s.t.span(q, r))
	}
	return row, nil
}

// ends are the limits of a fault's free resistance. A reading against one
// resistance is a ratio of two straight lines, which turns nowhere, so its limits
// are there.
func (f *Fault) ends() []float64 {
	if f.Free == nil {
		return []float64{0}
	}
	return []float64{min(f.Free.Min, f.Free.Typical), f.Free.Max}
}

// resistances widens the reach to what resistances read in one corner.
func (s *spanner) resistances(corner *predictor, f *Fault, fraction float64, reach []interval) error {
	if len(s.ohms) == 0 {
		return nil
	}
	there, err := corner.prepare(f, fraction)
	if err != nil {
		return err
	}
	values := make([]solve.Value, len(s.ohms))
	for _, ohms := range f.ends() {
		if err := there.values(ohms, values); err != nil {
			return err
		}
		for k, i := range s.ohms {
			reach[i].include(onScale(solve.Ohms, values[k]))
		}
	}
	return nil
}

// volts widens the reach to what voltages read, every tolerance at its limit, to
// first order: they have no rule that names the worst corner.
func (s *spanner) volts(there *prepared, reach []interval, j []float64) error {
	if len(s.ohms) == len(s.t.Probes) {
		return nil
	}
	for _, ohms := range there.fault.ends() {
		all, err := there.at(ohms)
		if err != nil {
			return err
		}
		for i, r := range all {
			if s.t.Probes[i].Quantity != solve.Volts {
				continue
			}
			for k := range j {
				j[k] = 0
			}
			r.Sensitivities(j)
			sum := 0.0
			for _, d := range j {
				sum += math.Abs(d)
			}
			v := r.Value().Number
			reach[i].include(v - sum)
			reach[i].include(v + sum)
		}
	}
	return nil
}

// span turns limits on the scale into values. The display rounds to its last digit,
// and leads that were not zeroed add to the upper limit.
func (t *Table) span(q solve.Quantity, limits interval) Span {
	s := Span{t.off(q, limits.low), t.off(q, limits.high)}
	if !s.Low.OL {
		s.Low.Number -= t.Instrument.lastDigit(q, s.Low.Number) / 2
	}
	if !s.High.OL {
		s.High.Number += t.Instrument.lastDigit(q, s.High.Number) / 2
		if q == solve.Ohms {
			s.High.Number += t.Instrument.LeadMaxOhms
		}
	}
	return s
}

// AnswersOverRange gives, for each fault, every answer that the modules of an
// [AnswerTable] may give a scan tool, in the order of its Units: one list where the
// fault leaves no resistance open, else the distinct ones at its typical resistance
// (the first), at its ends, and two to a decade between. Wires are hurt half-way along, as
// in the table. Between two steps something may yet lie that neither shows.
func AnswersOverRange(t *AnswerTable, progress func(done, of int)) ([][][]solve.Hearing, error) {
	a, err := newAnswerer(t.Circuit, []string{t.Tool})
	if err != nil {
		return nil, err
	}
	out := make([][][]solve.Hearing, len(t.Rows))
	for k, row := range t.Rows {
		out[k] = [][]solve.Hearing{row.Answers}
		if row.Fault.Free != nil {
			ready, err := a.prepare(row.Fault, 0.5)
			if err != nil {
				return nil, err
			}
			for _, ohms := range row.Fault.steps() {
				got, err := ready.at(ohms)
				if err != nil {
					return nil, err
				}
				list := make([]solve.Hearing, len(t.Units))
				for i, u := range t.Units {
					list[i] = got[0][u]
				}
				if !slices.ContainsFunc(out[k], func(known []solve.Hearing) bool { return slices.Equal(known, list) }) {
					out[k] = append(out[k], list)
				}
			}
		}
		if progress != nil {
			progress(k+1, len(t.Rows))
		}
	}
	return out, nil
}

// steps are resistances over a fault's range, its ends among them, two to a decade.
func (f *Fault) steps() []float64 {
	ends := f.ends()
	low, high := ends[0], ends[len(ends)-1]
	out := []float64{low}
	for ohms := max(low, 0.1) * math.Sqrt(10); ohms < high; ohms *= math.Sqrt(10) {
		out = append(out, ohms)
	}
	return append(out, high)
}
