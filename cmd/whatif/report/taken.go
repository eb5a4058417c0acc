package report

import (
	"errors"
	"fmt"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// Taken is a reading that was taken: at a connector, from one to another, with
// connectors unplugged or not.
type Taken struct {
	Probe faults.Probe
	Value solve.Value
}

// Explanation is what explains the readings best: one fault or several at once, at the
// values fitted to the readings.
type Explanation struct {
	// Name is empty where nothing is wrong, or nothing fits.
	Name    string
	Changes []solve.Change
}

// derivedReading is a reading that was taken and how what it should be comes about.
type derivedReading struct {
	Title string
	Parts []derived
}

// Numeric tells whether a column of the piece's table holds nothing but numbers.
func (d derived) Numeric(column int) bool { return Block{Rows: d.Rows}.numeric(column) }

// deriveTaken derives each reading that was taken, in healthy wiring and by the best
// explanation. The page's own derivations are of readings at one place, with no more
// than the connector there unplugged, and of one fault; these are of all that were taken.
func deriveTaken(c *netlist.Circuit, o Options, progress func(done, of int)) ([]derivedReading, error) {
	var out []derivedReading
	for i, r := range o.Taken {
		d := derivedReading{Title: fmt.Sprintf("%d. %s: %s", i+1, r.Probe, solve.FormatReading(r.Probe.Quantity, r.Value))}
		var err error
		if d.Parts, err = deriveOne(c, o, r.Probe); err != nil {
			return nil, err
		}
		out = append(out, d)
		if progress != nil {
			progress(i+1, len(o.Taken))
		}
	}
	return out, nil
}

// deriveOne derives one reading, healthy and as the best explanation has it.
func deriveOne(c *netlist.Circuit, o Options, p faults.Probe) ([]derived, error) {
	if p.Sender != "" || p.Traffic {
		return notAtRest(), nil
	}
	q := questionOf(p, o.Instrument.Meter)
	h, err := derivation.Explain(c, q)
	if errors.Is(err, derivation.ErrNotAtRest) {
		return notAtRest(), nil
	}
	if err != nil {
		return nil, fmt.Errorf("report: %s, healthy: %w", p, err)
	}
	q.Changes, q.Fault = o.Best.Changes, o.Best.Name
	return against(h, q)
}

func notAtRest() []derived {
	return []derived{{Paragraphs: []string{"It was taken while modules send. Such a reading is not derived."}}}
}

// questionOf asks how a reading comes about in healthy wiring.
func questionOf(p faults.Probe, meter solve.Meter) derivation.Question {
	return derivation.Question{Quantity: p.Quantity, Condition: p.Condition, From: p.From, To: p.To, Meter: meter}
}
