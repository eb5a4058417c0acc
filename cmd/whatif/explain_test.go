package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// Every reading of the example harnesses, healthy and with every fault of the catalogue
// at a few of them: the derivation comes to what a fresh net reads, its terms add up,
// and nothing in it is empty.
func TestExplainEverything(t *testing.T) {
	operations := map[derivation.Operation]int{}
	for _, name := range []string{"bench", "star", "trunk", "orchard"} {
		c, err := loadHarness(filepath.Join("../../examples", name, "harness.yaml"))
		if err != nil {
			t.Fatal(err)
		}
		meter := faults.DefaultInstrument().Meter
		var probes []faults.Probe
		for _, sel := range []faults.Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			probes = append(probes, faults.Probes(c, sel)...)
		}
		list := append([]*faults.Fault{nil}, faults.Catalogue(c)...)
		for k, f := range list {
			var changes []solve.Change
			fault := "healthy"
			if f != nil {
				changes, fault = f.Typical(), f.Name
			}
			for i, p := range probes {
				if f != nil && (k*7+i)%151 != 0 {
					continue // each fault at a few places is enough
				}
				d, err := derivation.Explain(c, derivation.Question{Quantity: p.Quantity, Condition: p.Condition, From: p.From, To: p.To, Meter: meter, Changes: changes})
				net, bad := solve.Assemble(c, p.Condition, nil, changes...)
				if bad != nil || p.Quantity == solve.Volts && f != nil && f.Kind == faults.StuckDominant {
					if err == nil {
						t.Errorf("%s, %s, %s: explained what cannot be read", name, fault, p)
					}
					continue
				}
				if err != nil {
					t.Errorf("%s, %s, %s: %v", name, fault, p, err)
					continue
				}
				v, err := net.Read(p.Quantity, p.From, p.To, meter)
				if err != nil {
					t.Fatal(err)
				}
				if v.OL != d.Value.OL || !v.OL && math.Abs(v.Number-d.Value.Number) > 1e-9*math.Abs(v.Number) {
					t.Errorf("%s, %s, %s: shown %v, read %v", name, fault, p, d.Value, v)
				}
				sum := 0.0
				for _, term := range d.Terms {
					sum += term.Value
				}
				if !v.OL && math.Abs(sum-v.Number) > 1e-9*math.Abs(v.Number)+1e-9 {
					t.Errorf("%s, %s, %s: terms add up to %v, read %v", name, fault, p, sum, v)
				}
				for i := range d.Steps {
					operations[d.Steps[i].Operation]++
					if s := d.Sentence(&d.Steps[i]); s == "" || strings.Contains(s, "  ") || strings.Contains(s, "%!") {
						t.Errorf("%s, %s, %s: step %d reads %q", name, fault, p, i, s)
					}
				}
				if a := d.Answer(); strings.Contains(a, "%!") || strings.Contains(a, ": .") {
					t.Errorf("%s, %s, %s: %q", name, fault, p, a)
				}
			}
		}
	}
	for _, o := range []derivation.Operation{derivation.Drop, derivation.Fold, derivation.Tie, derivation.Quarter, derivation.Hold, derivation.Series, derivation.Parallel, derivation.Mesh} {
		if operations[o] == 0 {
			t.Errorf("no reading needed %s", o)
		}
	}
}

// The JSON holds enough to do every step again.
func TestExplainJSON(t *testing.T) {
	stdout, _, status := fromTop(t, "explain", "examples/bench/harness.yaml", "--read", "X1 H-ground", "--fault", "open H in pair P2", "--format", "json")
	if status != exitFine {
		t.Fatal(status)
	}
	var out struct {
		Reading string
		Faulty  struct {
			Shown       float64
			Resistances []struct {
				Name     string
				Ohms     float64
				Elements []string
			}
			Steps []struct {
				Operation       string
				Inputs, Outputs []int
				Words           string
			}
			Terms []struct{ Value, Total float64 }
		}
	}
	if err := json.Unmarshal([]byte(stdout), &out); err != nil {
		t.Fatal(err)
	}
	if out.Reading != "X1 H-ground, ohms" || len(out.Faulty.Steps) == 0 {
		t.Errorf("reading %q, %d steps", out.Reading, len(out.Faulty.Steps))
	}
	last := math.NaN()
	for _, s := range out.Faulty.Steps {
		sum, siemens := 0.0, 0.0
		for _, i := range s.Inputs {
			sum += out.Faulty.Resistances[i].Ohms
			siemens += 1 / out.Faulty.Resistances[i].Ohms
		}
		for _, i := range s.Outputs {
			last = out.Faulty.Resistances[i].Ohms
			if want := map[string]float64{"series": sum, "parallel": 1 / siemens}[s.Operation]; want != 0 && math.Abs(last-want) > 1e-7*want {
				t.Errorf("%s: %v, want %v", s.Words, last, want)
			}
		}
	}
	if math.Abs(last-out.Faulty.Shown) > 1e-7*last {
		t.Errorf("ends with %v, shown %v", last, out.Faulty.Shown)
	}
}
