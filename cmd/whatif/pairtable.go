package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// pairs streams the table of two faults at once: a line for each pair, as CSV or as
// JSON, so that it may be cut off anywhere.
func (c *tableCommand) pairs(s streams, circuit *netlist.Circuit, all []*faults.Fault) error {
	switch {
	case c.Format != "csv" && c.Format != "json":
		return fmt.Errorf("whatif: --pairs has a line for each two faults, far too many to read: write --format csv, or --format json for a JSON document on each line")
	case c.Doubles:
		return errors.New("whatif: --pairs has the double faults of --doubles among its own; write one of the two")
	case c.Reading != "ohms" && c.Reading != "volts":
		return fmt.Errorf("whatif: --pairs goes with --reading ohms or --reading volts, not with %s", c.Reading)
	}
	chosen, err := chooseFaults(all, c.Fault)
	if err != nil {
		return err
	}
	o := faults.PairOptions{}
	if len(c.Fault) > 0 {
		o.Involving = make([]bool, len(all))
		for i, f := range all {
			o.Involving[i] = slices.Contains(chosen, f)
		}
	}
	probes, err := c.probes(circuit)
	if err != nil {
		return err
	}
	in := faults.DefaultInstrument()
	healthy, err := faults.MakeTable(circuit, nil, probes, in, nil)
	if err != nil {
		return err
	}
	ctx := context.Background()
	t, err := faults.NewPairTable(ctx, circuit, all, probes, in)
	if err != nil {
		return err
	}
	w := newPairWriter(c.Format, s, t, healthy)
	if err := w.head(); err != nil {
		return gone(err)
	}
	step, end := progress(s, "pairs of faults")
	done, of := 0, len(all)*(len(all)-1)/2-(len(all)-len(chosen))*(len(all)-len(chosen)-1)/2
	_, err = t.Stream(ctx, o, func(b *faults.PairBlock) error {
		if done += len(b.Second); step != nil {
			step(done, of)
		}
		return w.block(b)
	})
	end()
	if err == nil {
		err = w.out.Flush()
	}
	return gone(err)
}

// errOutput is a failure to write.
type errOutput struct{ error }

func (e errOutput) Unwrap() error { return e.error }

// gone makes nothing of a reader that has had enough (a closed pipe).
func gone(err error) error {
	var out errOutput
	switch {
	case errors.Is(err, syscall.EPIPE), errors.Is(err, io.ErrClosedPipe), errors.Is(err, os.ErrClosed):
		return nil
	case errors.As(err, &out):
		return fmt.Errorf("whatif: cannot write the output: %w", out.error)
	}
	return err
}

// pairWriter writes a table of pairs line by line.
type pairWriter struct {
	json      bool
	s         streams
	t         *faults.PairTable
	healthy   *faults.Table
	out       *bufio.Writer
	names     []string // as the format quotes them
	low, high []float64
	line      []byte
}

func newPairWriter(format string, s streams, t *faults.PairTable, healthy *faults.Table) *pairWriter {
	w := &pairWriter{json: format == "json", s: s, t: t, healthy: healthy, out: bufio.NewWriterSize(s.out, 1<<16)}
	for _, f := range t.Faults {
		w.names = append(w.names, w.quoted(f.Name))
	}
	for _, b := range healthy.Bands {
		w.low, w.high = append(w.low, number64(b.WorstLow)), append(w.high, number64(b.WorstHigh))
	}
	return w
}

func number64(v solve.Value) float64 {
	if v.OL {
		return math.Inf(1)
	}
	return v.Number
}

// quoted writes a text as the format has it.
func (w *pairWriter) quoted(text string) string {
	if w.json {
		q, _ := json.Marshal(text) // a string cannot fail
		return string(q)
	}
	if !strings.ContainsAny(text, ",\"\n") {
		return text
	}
	return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
}

// head writes what comes before the pairs.
func (w *pairWriter) head() error {
	h := w.t.Circuit.Harness
	if w.json {
		head := struct {
			Harness  string      `json:"harness"`
			Note     string      `json:"note,omitempty"`
			Cautions []string    `json:"cautions"`
			Readings []jsonProbe `json:"readings"`
			Healthy  []any       `json:"healthy"`
			Bands    []jsonBand  `json:"healthy_bands"`
		}{Harness: h.Name, Note: h.Note, Cautions: cautions, Readings: []jsonProbe{}}
		for i, p := range w.t.Probes {
			b := w.healthy.Bands[i]
			head.Readings = append(head.Readings, probeJSON(p))
			head.Healthy = append(head.Healthy, jsonValue(w.healthy.Healthy[i]))
			head.Bands = append(head.Bands, jsonBand{jsonValue(b.WorstLow), jsonValue(b.WorstHigh), jsonValue(b.Low), jsonValue(b.High)})
		}
		text, err := json.Marshal(head)
		if err != nil {
			return fmt.Errorf("whatif: %w", err)
		}
		return w.put(append(text, '\n'))
	}
	aside := h.Name + ": two faults at once\n" + cautionText + "\n"
	if h.Note != "" {
		aside += h.Note + "\n"
	}
	if err := write(w.s.err, aside); err != nil {
		return err
	}
	w.line = append(w.line[:0], "fault,and,outside,note"...)
	for _, p := range w.t.Probes {
		name := p.Place() + " " + p.Between + " " + unitNames[p.Quantity]
		if len(p.Condition.Unplugged) > 0 {
			name += " unplugged"
		}
		w.line = append(append(w.line, ','), w.quoted(name)...)
	}
	w.line = append(w.line, "\nhealthy,,0,"...)
	for _, x := range w.t.Healthy() {
		w.line = w.value(append(w.line, ','), x)
	}
	return w.put(append(w.line, '\n'))
}

func (w *pairWriter) put(line []byte) error {
	if _, err := w.out.Write(line); err != nil {
		return errOutput{err}
	}
	return nil
}

// value appends a reading: six figures, OL, or nothing.
func (w *pairWriter) value(line []byte, x float64) []byte {
	switch {
	case math.IsInf(x, 1) && w.json:
		return append(line, `"OL"`...)
	case math.IsInf(x, 1):
		return append(line, "OL"...)
	case math.IsNaN(x) && w.json:
		return append(line, "null"...)
	case math.IsNaN(x):
		return line
	case math.Abs(x) < 1e-9:
		x = 0 // what rounding leaves of two volts that are alike
	}
	return strconv.AppendFloat(line, x, 'g', 6, 64)
}

// why is a reason without the package that gave it.
func why(text string) string { return strings.TrimPrefix(text, "solve: ") }

// block writes a block of pairs.
func (w *pairWriter) block(b *faults.PairBlock) error {
	for i, second := range b.Second {
		readings := b.Readings(i)
		outside := 0
		for k, x := range readings {
			if x < w.low[k] || x > w.high[k] {
				outside++
			}
		}
		note := ""
		if b.Ways[i] >= faults.PairLeft {
			note = why(b.Why[i].Error())
		}
		line := w.line[:0]
		if w.json {
			line = append(append(line, `{"faults":[`...), w.names[b.First]...)
			line = append(append(line, ','), w.names[second]...)
			line = strconv.AppendInt(append(line, `],"outside":`...), int64(outside), 10)
			if note != "" {
				line = append(append(line, `,"note":`...), w.quoted(note)...)
			}
			line = append(line, `,"values":[`...)
			for k, x := range readings {
				if k > 0 {
					line = append(line, ',')
				}
				line = w.value(line, x)
			}
			line = append(line, "]}\n"...)
		} else {
			line = append(append(line, w.names[b.First]...), ',')
			line = append(append(line, w.names[second]...), ',')
			line = append(strconv.AppendInt(line, int64(outside), 10), ',')
			line = append(line, w.quoted(note)...)
			for _, x := range readings {
				line = w.value(append(line, ','), x)
			}
			line = append(line, '\n')
		}
		w.line = line
		if err := w.put(line); err != nil {
			return err
		}
	}
	return nil
}
