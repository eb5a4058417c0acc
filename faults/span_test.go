package faults

import (
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// bothQuantities lists resistances with the supply off and volts at rest.
func bothQuantities(c *netlist.Circuit) []Probe {
	return append(Probes(c, Selection{}), Probes(c, Selection{Quantity: solve.Volts})...)
}

// A drawn vehicle with a fault never reads outside that fault's span: its
// tolerances, the fault's ohms and place, the meter's errors drawn anew, and every
// reading solved in a net of its own.
func TestSpansHoldWhatVehiclesRead(t *testing.T) {
	for _, demo := range demos {
		c := loadDemo(t, demo)
		list := Catalogue(c)
		probes := bothQuantities(c)
		in := DefaultInstrument()
		table, err := MakeSpannedTable(c, list, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		row := map[*Fault]*Row{}
		for k := range table.Rows {
			row[table.Rows[k].Fault] = &table.Rows[k]
		}
		rng := rand.New(rand.NewPCG(7, 11))
		taken, outside := 0, 0
		for range 60 {
			f, changes := drawFault(rng, list)
			v := newVehicle(c, rng, in, changes...)
			if rng.IntN(4) == 0 {
				for i := range v.z { // a corner
					v.z[i] = float64(2*rng.IntN(2) - 1)
				}
			}
			if rng.IntN(3) == 0 {
				v.lead = 0 // zeroed
			}
			for range 25 {
				i := rng.IntN(len(probes))
				if f.sticks() && probes[i].Quantity == solve.Volts {
					continue // the drawn vehicle does not know how to send
				}
				r := v.read(t, probes[i])
				taken++
				if !row[f].Spans[i].Holds(probes[i].Quantity, r.Value) {
					outside++
					s := row[f].Spans[i]
					t.Logf("%s: %s: %s reads %v, span %v to %v", demo, f.Name, probes[i], r.Value, s.Low, s.High)
				}
			}
		}
		if outside > 0 {
			t.Errorf("%s: %d of %d readings lie outside their fault's span", demo, outside, taken)
		}
		// The healthy ones likewise.
		for range 20 {
			v := newVehicle(c, rng, in)
			for range 20 {
				i := rng.IntN(len(probes))
				if r := v.read(t, probes[i]); !table.HealthySpans[i].Holds(probes[i].Quantity, r.Value) {
					s := table.HealthySpans[i]
					t.Errorf("%s: healthy: %s reads %v, span %v to %v", demo, probes[i], r.Value, s.Low, s.High)
				}
			}
		}
	}
}

// A spanned table has the numbers of a plain one, and its spans hold them.
func TestSpannedTableIsTheTable(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	probes := bothQuantities(c)
	calls := 0
	spanned, err := MakeSpannedTable(c, list, probes, DefaultInstrument(), func(done, of int) {
		calls++
		if done != calls || of != len(list) {
			t.Errorf("progress %d of %d at call %d", done, of, calls)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	plain, err := MakeTable(c, list, probes, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if calls != len(list) {
		t.Errorf("progress was called %d times for %d faults", calls, len(list))
	}
	for k := range plain.Rows {
		a, b := &plain.Rows[k], &spanned.Rows[k]
		if a.Fault != b.Fault {
			t.Fatalf("row %d is %s and %s", k, a.Fault.Name, b.Fault.Name)
		}
		for i := range probes {
			if a.Values[i] != b.Values[i] && !(a.Values[i].OL && b.Values[i].OL) || a.Marks[i] != b.Marks[i] {
				t.Errorf("%s at %s: %v and %v", a.Fault.Name, probes[i], a.Values[i], b.Values[i])
			}
			if !b.Spans[i].Holds(probes[i].Quantity, a.Values[i]) {
				t.Errorf("%s at %s: %v is not in its span %v", a.Fault.Name, probes[i], a.Values[i], b.Spans[i])
			}
		}
	}
}

// Spans worked out by hand. Two modern modules of 120 Ω ± 1 % each: the bench bus
// reads 60 Ω; with one terminator gone it reads the other, 120 Ω ± 1 %, less what
// the inputs of three modules take, and no span of that holds 60 Ω. A joint of 1 Ω to
// 100 kΩ in one branch reads anything between the two.
func TestSpansByHand(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	probe := probeAt(t, c, solve.Ohms, "X1", "H-L")
	table, err := MakeSpannedTable(c, list, []Probe{probe}, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	span := func(name string) Span {
		f := findFault(t, list, name)
		for k := range table.Rows {
			if table.Rows[k].Fault == f {
				return table.Rows[k].Spans[0]
			}
		}
		t.Fatal("no row")
		return Span{}
	}
	for _, tt := range []struct {
		fault  string
		ohms   float64
		inside bool
	}{
		{"terminator T1 missing", 120, true},
		{"terminator T1 missing", 60, false},
		{"terminator T1 missing", 130, false},
		{"high-resistance joint H in pair P2", 61, true},
		{"high-resistance joint H in pair P2", 90, true},
		{"high-resistance joint H in pair P2", 119, true},
		{"high-resistance joint H in pair P2", 140, false},
		{"high-resistance joint H in pair P2", 50, false},
		{"short H to L in pair P1", 0.3, true},
		{"short H to L in pair P1", 60, false},
	} {
		if got := span(tt.fault).Holds(solve.Ohms, solve.Value{Number: tt.ohms}); got != tt.inside {
			t.Errorf("%s: %g Ω inside its span %v: %v, want %v", tt.fault, tt.ohms, span(tt.fault), got, tt.inside)
		}
	}
	if span("terminator T1 missing").Holds(solve.Ohms, solve.Over()) {
		t.Error("OL is in the span of a missing terminator")
	}
}

// Leads that were not zeroed widen a span upwards by all that they may add.
func TestSpansAllowForLeads(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	probe := probeAt(t, c, solve.Ohms, "X1", "H-L")
	with := DefaultInstrument()
	without := with
	without.LeadMinOhms, without.LeadMaxOhms = 0, 0
	var high, low [2]float64
	for i, in := range []Instrument{with, without} {
		table, err := MakeSpannedTable(c, list, []Probe{probe}, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		high[i], low[i] = table.HealthySpans[0].High.Number, table.HealthySpans[0].Low.Number
		for _, row := range table.Rows {
			if row.Fault.Name == "terminator T1 missing" {
				high[i] = row.Spans[0].High.Number
			}
		}
	}
	if more := high[0] - high[1]; more < with.LeadMaxOhms {
		t.Errorf("leads of up to %g Ω widen the span upwards by %g Ω", with.LeadMaxOhms, more)
	}
	if low[0] > low[1] {
		t.Errorf("leads narrow the span downwards: %g Ω, without %g Ω", low[0], low[1])
	}
}

// A short lies anywhere along its wire: at the near end a meter reads next to nothing,
// at the far end both wires.
func TestSpansRunAlongTheWire(t *testing.T) {
	c, err := netlist.NewCircuit(&netlist.Harness{
		Name:       "long",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}},
		Modules:    []netlist.Module{{Name: "far", Connectors: []string{"X2"}}},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "far", Ohms: 120},
		},
		Pairs: []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"X2"}, Ohms: 50}},
	})
	if err != nil {
		t.Fatal(err)
	}
	list := Catalogue(c)
	short := findFault(t, list, "short H to L in pair P1")
	table, err := MakeSpannedTable(c, []*Fault{short}, []Probe{probeAt(t, c, solve.Ohms, "X1", "H-L")}, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	span := table.Rows[0].Spans[0]
	for _, ohms := range []float64{0.1, 50, 99} {
		if !span.Holds(solve.Ohms, solve.Value{Number: ohms}) {
			t.Errorf("%g Ω is not in the span %v to %v", ohms, span.Low, span.High)
		}
	}
	if span.Holds(solve.Ohms, solve.Value{Number: 180}) {
		t.Errorf("180 Ω is in the span %v to %v", span.Low, span.High)
	}
}
