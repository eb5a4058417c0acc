package netlist

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/constraint"
	"github.com/google/go-cmp/cmp"
)

// A part's own minutes go before the harness's, those before the defaults; a terminator
// without any takes what its place takes.
func TestLooks(t *testing.T) {
	minutes := func(x float64) *float64 { return &x }
	h := oneBus()
	h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "X2.H", Ohms: 0.1}}
	h.Strays = []Stray{{Name: "Y1", From: "X1.6", To: "ground", Ohms: 1e5}}
	h.Terminators = append(h.Terminators, Terminator{Name: "T3", At: "S1", Ohms: 1000}, Terminator{Name: "T4", At: "X4", Ohms: 1000}) // crimped in, plugged in
	closed, opened := Look{Minutes: DefaultLookMin}, Look{Minutes: DefaultLookWireMin, Opened: true}
	want := map[string]Look{
		"X1": closed, "X2": closed, "X3": closed, "X4": closed, "one": closed, "two": closed, "T1": closed, "T2": closed, "T4": closed,
		"S1": opened, "P1": opened, "P2": opened, "P3": opened, "P4": opened, "W1": opened, "T3": opened,
	}
	if diff := cmp.Diff(want, h.Looks()); diff != "" {
		t.Errorf("by default (-want +got):\n%s", diff)
	}

	h.LookMin, h.LookWireMin = minutes(0), minutes(40)
	for name, x := range want {
		x.Minutes = 0
		if x.Opened {
			x.Minutes = 40
		}
		want[name] = x
	}
	if diff := cmp.Diff(want, h.Looks()); diff != "" {
		t.Errorf("by the harness (-want +got):\n%s", diff)
	}

	// T1 is in module one, T3 at the splice, T4 at X4.
	h.Connectors[3].LookMin, h.Modules[0].LookMin, h.Splices[0].LookMin = minutes(5), minutes(25), minutes(60)
	h.Terminators[1].LookMin, h.Pairs[2].LookMin, h.Wires[0].LookMin = minutes(7), minutes(0), minutes(90)
	for name, x := range map[string]float64{"X4": 5, "one": 25, "S1": 60, "T1": 25, "T2": 7, "T3": 60, "T4": 5, "P3": 0, "W1": 90} {
		want[name] = Look{Minutes: x, Opened: want[name].Opened, Own: true}
	}
	if diff := cmp.Diff(want, h.Looks()); diff != "" {
		t.Errorf("with parts' own (-want +got):\n%s", diff)
	}
	h.Terminators[2].LookMin = minutes(8)
	if got := h.Looks()["T3"]; got != (Look{Minutes: 8, Opened: true, Own: true}) {
		t.Errorf("a terminator at a splice with minutes of its own: %+v", got)
	}
}

// What is taken for granted is listed by part: not where the harness or the part says.
func TestLooksAssumed(t *testing.T) {
	minutes := 10.0
	about := func(h *Harness) [2]string {
		var out [2]string
		for _, a := range Assumptions(h) {
			switch {
			case strings.HasPrefix(a.Write, "look_min"):
				out[0] = a.About + ": " + a.Taken
			case strings.HasPrefix(a.Write, "look_wire_min"):
				out[1] = a.About + ": " + a.Taken
			}
		}
		return out
	}
	const looked, opened = ": 3 min to look into, once there", ": 15 min to open up, once there"
	h := oneBus()
	if got, want := about(h), [2]string{"X1, X2, X3, X4, one, two, T1, T2" + looked, "S1, P1, P2, P3, P4" + opened}; got != want {
		t.Errorf("assumed %q, want %q", got, want)
	}
	h.Modules[0].LookMin, h.Pairs[0].LookMin = &minutes, &minutes
	if got, want := about(h), [2]string{"X1, X2, X3, X4, two, T2" + looked, "S1, P2, P3, P4" + opened}; got != want {
		t.Errorf("with two parts' own %q, want %q", got, want)
	}
	h.LookMin = &minutes
	if got, want := about(h), [2]string{"", "S1, P2, P3, P4" + opened}; got != want {
		t.Errorf("with look_min of the harness %q, want %q", got, want)
	}
	h.LookMin, h.LookWireMin = nil, &minutes
	if got, want := about(h), [2]string{"X1, X2, X3, X4, two, T2" + looked, ""}; got != want {
		t.Errorf("with look_wire_min %q, want %q", got, want)
	}
}

// Bounds hold for a harness built in Go too, and what the keys say of the defaults is so.
func TestLookBounds(t *testing.T) {
	for _, bad := range []float64{-1, 10001, math.NaN(), math.Inf(1)} {
		h := oneBus()
		h.LookMin, h.LookWireMin = &bad, &bad
		h.Connectors[0].LookMin, h.Splices[0].LookMin, h.Modules[0].LookMin = &bad, &bad, &bad
		h.Terminators[0].LookMin, h.Pairs[0].LookMin = &bad, &bad
		var paths []string
		for _, p := range Check(h) {
			paths = append(paths, p.Path)
		}
		want := []string{"look_min", "look_wire_min", "connectors[0].look_min", "splices[0].look_min", "modules[0].look_min", "terminators[0].look_min", "pairs[0].look_min"}
		if !slices.Equal(paths, want) {
			t.Errorf("%v: problems at %q", bad, paths)
		}
	}
	for _, f := range constraint.Fields(reflect.TypeFor[Harness]()) {
		for key, minutes := range map[string]float64{"look_min": DefaultLookMin, "look_wire_min": DefaultLookWireMin} {
			if f.Key == key && !strings.Contains(f.Doc, "left out: "+constraint.FormatNumber(minutes)+", from memory") {
				t.Errorf("%s is described as %q, the default is %v", key, f.Doc, minutes)
			}
		}
	}
}
