package report

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve/derivation"
)

// reasons say how readings come about: every reading in healthy wiring, and those at
// the nearest connectors with each fault that changes them.
type reasons struct {
	// Healthy has a derivation for each reading, by index.
	Healthy [][]derived `json:"healthy"`
	// Faulty has, for some readings, a derivation for each fault that changes it.
	Faulty map[int]map[int][]derived `json:"faulty"`
}

// derived is one piece of a derivation in words.
type derived struct {
	Heading    string     `json:"heading,omitempty"`
	Paragraphs []string   `json:"paragraphs,omitempty"`
	Steps      []string   `json:"steps,omitempty"`
	Header     []string   `json:"header,omitempty"`
	Rows       [][]string `json:"rows,omitempty"`
}

// deriveReadings works the reasons out. at are the places whose readings are derived
// with faults too.
func deriveReadings(t *faults.Table, d *data, at []string, progress func(done, of int)) (*reasons, error) {
	out := &reasons{Healthy: make([][]derived, len(d.Readings)), Faulty: map[int]map[int][]derived{}}
	type task struct{ reading, fault int }
	var tasks []task
	for i := range d.Readings {
		tasks = append(tasks, task{i, -1})
		if !slices.Contains(at, d.Places[d.Readings[i].Place].Name) {
			continue
		}
		out.Faulty[i] = map[int][]derived{}
		for _, c := range d.Readings[i].Cells {
			for _, f := range c.Faults {
				tasks = append(tasks, task{i, f})
			}
		}
	}
	slices.SortFunc(tasks, func(a, b task) int { // the same at every run, faults of cells as they come
		if a.reading != b.reading {
			return a.reading - b.reading
		}
		return a.fault - b.fault
	})
	next := make(chan task)
	var workers sync.WaitGroup
	var lock sync.Mutex
	var problems []error
	done := 0
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for x := range next {
				got, err := deriveOne(t, x.reading, x.fault)
				lock.Lock()
				switch {
				case err != nil:
					problems = append(problems, err)
				case x.fault < 0:
					out.Healthy[x.reading] = got
				default:
					out.Faulty[x.reading][x.fault] = got
				}
				if done++; progress != nil {
					progress(done, len(tasks))
				}
				lock.Unlock()
			}
		})
	}
	for _, x := range tasks {
		next <- x
	}
	close(next)
	workers.Wait()
	return out, errors.Join(problems...)
}

// deriveOne explains one reading, healthy where fault is −1.
func deriveOne(t *faults.Table, reading, fault int) ([]derived, error) {
	p := &t.Probes[reading]
	q := derivation.Question{Quantity: p.Quantity, Condition: p.Condition, From: p.From, To: p.To, Meter: t.Instrument.Meter}
	name := faults.HealthyName
	if fault >= 0 {
		f := t.Rows[fault].Fault
		q.Changes, q.Fault, name = f.Typical(), f.Name, f.Name
	}
	x, err := derivation.Compare(t.Circuit, q)
	if errors.Is(err, derivation.ErrNotAtRest) {
		return []derived{{Paragraphs: []string{"With " + name + " nothing is at rest: a module sends all the time. Such a reading is not derived."}}}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("report: %s, %s: %w", p, name, err)
	}
	var out []derived
	for _, s := range x.Sections(derivation.Short) {
		out = append(out, derived(s))
	}
	return out, nil
}

// nearestPlaces gives, for each network, the place that is reached first.
func nearestPlaces(c *netlist.Circuit, d *data) []string {
	var out []string
	for n := range d.Networks {
		best := -1
		for _, r := range d.Readings {
			if d.Kinds[r.Kind].Network == n && (best < 0 || d.Places[r.Place].Minutes < d.Places[best].Minutes) {
				best = r.Place
			}
		}
		if best >= 0 && !slices.Contains(out, d.Places[best].Name) {
			out = append(out, d.Places[best].Name)
		}
	}
	return out
}

// pack writes a value as compressed JSON in base64. Derivations repeat themselves a
// great deal, so that this is a tenth of their size.
func pack(v any) (string, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.BestCompression)
	if err != nil {
		return "", err
	}
	if _, err := w.Write(text); err != nil {
		return "", err
	}
	if err := w.Close(); err != nil {
		return "", err
	}
	return base64.StdEncoding.EncodeToString(out.Bytes()), nil
}
