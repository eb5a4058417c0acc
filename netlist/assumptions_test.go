package netlist

import (
	"slices"
	"strings"
	"testing"
)

// What a harness leaves out is listed with its source, and what it says is not.
func TestAssumptions(t *testing.T) {
	keys := func(h *Harness) []string {
		var out []string
		for _, a := range Assumptions(h) {
			if a.About == "" || a.Taken == "" || a.Source == "" {
				t.Errorf("incomplete: %+v", a)
			}
			if a.Write != "" && !slices.Contains(out, a.Write) {
				out = append(out, a.Write)
			}
		}
		slices.Sort(out)
		return out
	}
	h := oneBus()
	h.Strays = []Stray{{Name: "Y1", From: "X1.6", To: "ground", Ohms: 1e5}}
	h.Pairs[0].Ohms, h.Pairs[0].LengthM, h.Pairs[0].AWG = 0, 2, 22
	h.Pairs[1].Ohms, h.Pairs[1].LengthM, h.Pairs[1].SectionMM2 = 0, 2, 0.35
	got := keys(h)
	for _, want := range []string{
		"temperature_c", "supply: {volts: ...}", "supply: {load_ohms: ...}", "cavities", "reach_min", "contact_ohms",
		"look_min, of the harness or of the part", "look_wire_min of the harness, or look_min of the part",
		"transceiver, or kinds: {network: kind}", "tolerance_pct", "ohms", "ohms, or ohms_per_m with tolerance_pct",
		"a kind under transceivers, from the part's data sheet", "a kind with drive_volts and the like",
	} {
		if !slices.Contains(got, want) {
			t.Errorf("nothing assumed that %q would replace: %q", want, got)
		}
	}
	about := func(name string) bool {
		return slices.ContainsFunc(Assumptions(h), func(a Assumption) bool {
			return a.Write == "tolerance_pct" && slices.Contains(strings.Split(a.About, ", "), name)
		})
	}
	for _, name := range []string{"T1", "T2", "Y1", "P1"} {
		if !about(name) {
			t.Errorf("the tolerance of %s is not listed", name)
		}
	}

	// Now all of it is said.
	five, ten, temperature := 5.0, 10.0, 20.0
	h.LookMin, h.LookWireMin = &five, &ten
	h.TemperatureC, h.Supply = &temperature, &Supply{Volts: 12, LoadOhms: 20}
	h.Transceivers = []TransceiverKind{{
		Name: "own", UnpoweredMinOhms: 1e5, AwakeMinOhms: 2e4, AwakeMaxOhms: 4e4, Source: "data sheet",
		DriveVolts: 5, DriveHOhms: 20, DriveLOhms: 20, DriveLimitMinMA: 50, DriveLimitMaxMA: 90,
	}}
	for i := range h.Connectors {
		h.Connectors[i].ReachMin, h.Connectors[i].ContactOhms = &ten, 0.005
		if len(h.Connectors[i].Cavities) == 0 {
			h.Connectors[i].Cavities = []Cavity{{"H", "H"}, {"L", "L"}}
		}
	}
	for i := range h.Modules {
		h.Modules[i].Transceiver = "own"
	}
	for i := range h.Terminators {
		h.Terminators[i].TolerancePct = &five
	}
	h.Strays[0].TolerancePct = &five
	for i := range h.Pairs {
		h.Pairs[i] = Pair{Name: h.Pairs[i].Name, From: h.Pairs[i].From, To: h.Pairs[i].To, Ohms: 0.1, TolerancePct: &five}
	}
	if got := keys(h); !slices.Equal(got, []string{"a kind under transceivers, from the part's data sheet"}) {
		t.Errorf("still assumed: %q", got)
	}
}

func TestFormatOhms(t *testing.T) {
	for ohms, want := range map[float64]string{0: "0 Ω", 0.005: "5 mΩ", 0.5: "500 mΩ", 1: "1 Ω", 120: "120 Ω", 28571.43: "28.57 kΩ", 2e6: "2 MΩ"} {
		if got := FormatOhms(ohms); got != want {
			t.Errorf("%v is written %q, want %q", ohms, got, want)
		}
	}
}
