package faults

import (
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/solve"
)

// A likelihood with a peak that is far narrower than the first steps, on a level that a
// misread reading leaves: its integral is that of the level and of a normal distribution.
func TestTraceFindsMarkedPeaks(t *testing.T) {
	const low, high, level = 0.0, 8.0, -10.0
	for _, width := range []float64{0.1, 0.01, 0.002} {
		for _, middle := range []float64{0.49 / 24 * 8, 3.1415, 5.01, 7.61} {
			distance := func(x float64) (float64, error) {
				d := (x - middle) / width
				return d * d, nil
			}
			marks, err := closest(low, high, looks, distance)
			if err != nil {
				t.Fatal(err)
			}
			curve, err := trace(low, high, func(x float64) (float64, error) {
				d, _ := distance(x)
				// The level rises towards one end, and has a top of its own there.
				return logAdd(-d/2, level+0.05*x), nil
			}, marks...)
			if err != nil {
				t.Fatal(err)
			}
			got := math.Exp(integrate(curve, 1))
			want := width*math.Sqrt(2*math.Pi) + math.Exp(level)*(math.Exp(0.05*high)-1)/0.05
			if math.Abs(got/want-1) > 0.1 {
				t.Errorf("peak %g wide at %g: marks %.5v, integral %.4g, want %.4g", width, middle, marks, got, want)
			}
		}
	}
}

func TestClosest(t *testing.T) {
	square := func(at ...float64) func(x float64) (float64, error) {
		return func(x float64) (float64, error) {
			least := math.Inf(1)
			for _, a := range at {
				least = min(least, (x-a)*(x-a)*1e6)
			}
			return least, nil
		}
	}
	for _, tt := range []struct {
		name     string
		distance func(x float64) (float64, error)
		want     []float64
	}{
		{"between two steps", square(3.3), []float64{3.3}},
		{"in the first step", square(0.2), []float64{0.2}},
		{"in the last step", square(9.9), []float64{9.9}},
		{"two", square(2.5, 7.4), []float64{2.5, 7.4}},
		{"on a step", square(4), nil},
		{"outside", square(-1), nil},
		{"level", func(float64) (float64, error) { return 7, nil }, nil},
		{"out of reach all over", func(float64) (float64, error) { return math.Inf(1), nil }, nil},
		{"out of reach beside", func(x float64) (float64, error) {
			if x < 3 || x > 5 {
				return math.Inf(1), nil
			}
			return (x - 3.6) * (x - 3.6) * 1e6, nil
		}, []float64{3.6}},
		{"wide", func(x float64) (float64, error) { return (x - 3.3) * (x - 3.3), nil }, nil},
	} {
		looked := 0
		got, err := closest(0, 10, 10, func(x float64) (float64, error) {
			looked++
			return tt.distance(x)
		})
		if err != nil {
			t.Fatal(err)
		}
		ok := len(got) == len(tt.want)
		for i := range got {
			ok = ok && math.Abs(got[i]-tt.want[i]) < 2e-3
		}
		// Where nothing changes nothing is looked into.
		most := 11 + 24*max(1, len(tt.want))
		if tt.name == "level" || tt.name == "out of reach all over" {
			most = 11
		}
		if !ok || looked > most {
			t.Errorf("%s: %v after %d looks, want %v", tt.name, got, looked, tt.want)
		}
	}
}

// sharpReadings are those of a vehicle of small-6 with 37.03 Ω in a joint of P6, conductor
// L: only the first sees it, the others say so well what the tolerances are that it fits a
// few tenths of an ohm only. Beside them the first is as good as misread.
func sharpReadings(t *testing.T) (*Matcher, *Fault, []Reading) {
	c := smallLayout(t)
	list := Catalogue(c)
	var out []Reading
	for _, r := range []struct {
		place, between string
		ohms           float64
		unplugged      []string
	}{
		{"X1", "H-L", 99.5, nil},
		{"X4/a", "H-L", 121, []string{"X4"}},
		{"X4/b", "H-L", 127.4, []string{"X4"}},
		{"X4/a", "H-L", 62.8, nil},
	} {
		out = append(out, Reading{Probe: probeAt(t, c, solve.Ohms, r.place, r.between, r.unplugged...), Value: solve.Value{Number: r.ohms}})
	}
	return NewMatcher(c, list, DefaultInstrument()), findFault(t, list, "high-resistance joint L in pair P6"), out
}

func TestFitFindsNarrowPeaks(t *testing.T) {
	x, f, readings := sharpReadings(t)
	var probes []Probe
	for _, r := range readings {
		probes = append(probes, r.Probe)
	}
	p, err := newPredictor(x.c, probes, x.in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	p.finest = x.in.finest()
	e := newEvidence(x.c, readings, x.in)
	got, err := p.fit(f, e, nil, nil, math.Inf(-1))
	if err != nil {
		t.Fatal(err)
	}
	// The same by 20 thousand even steps.
	const steps = 20000
	want := math.Inf(-1)
	places := fractions(x.c, f, p.finest)
	for _, fraction := range places {
		ready, err := p.prepare(f, fraction)
		if err != nil {
			t.Fatal(err)
		}
		for k := range steps {
			responses, err := ready.at(f.at((float64(k) + 0.5) / steps))
			if err != nil {
				t.Fatal(err)
			}
			want = logAdd(want, e.judge(responses).log-math.Log(float64(steps*len(places))))
		}
	}
	if math.Abs(got.evidence-want) > 0.1 || math.Abs(got.ohms-37) > 1 {
		t.Errorf("log likelihood %.3f at %.4g Ω, even steps give %.3f and the vehicle had 37.03 Ω", got.evidence, got.ohms, want)
	}
}

// The whole match weighs faults from ports: the same vehicle, and what the readings say.
func TestMatchFindsNarrowPeaks(t *testing.T) {
	x, f, readings := sharpReadings(t)
	m, err := x.Match(readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	h := &m.Hypotheses[slices.IndexFunc(m.Hypotheses, func(h Hypothesis) bool { return h.Fault == f })]
	if h.Ohms == nil || h.Ohms.Best < 36 || h.Ohms.Best > 38 || h.Misread() >= 0 {
		t.Errorf("%s is fitted with %+v, reading %d misread; the vehicle had 37.03 Ω", f.Name, h.Ohms, h.Misread())
	}
	for _, p := range m.Parts {
		if p.Part == HealthyName && p.Probability > 0.01 {
			t.Errorf("healthy wiring has %.3f with 99.5 Ω at the service connector", p.Probability)
		}
	}
}
