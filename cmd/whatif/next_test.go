package main

import (
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// Of readings that are taken alike at one place the first stands for all; idle volts,
// volts with traffic and levels are taken differently, and so is asking.
func TestOnePerPlace(t *testing.T) {
	at := func(place, between string, q solve.Quantity) faults.Probe {
		p := faults.Probe{Site: place, Between: between, Quantity: q}
		if q == solve.Volts {
			p.Condition.Supply = solve.Idle
		}
		return p
	}
	idle := at("X1", "H-ground", solve.Volts)
	list := []faults.Advice{
		{Probe: idle}, {Probe: at("X1", "L-ground", solve.Volts)},
		{Probe: idle.WithTraffic()}, {Probe: at("X1", "H-L", solve.Volts).WithTraffic()}, {Probe: at("X2", "H-L", solve.Volts).WithTraffic()},
		{Probe: idle.WithSender("left")}, {Probe: idle.WithSender("right")},
		{Probe: at("X1", "H-L", solve.Ohms)}, {Probe: at("X1", "", solve.Volts), Tool: "X1"},
	}
	var got []string
	for _, a := range onePerPlace(list) {
		got = append(got, a.String())
	}
	want := []int{0, 2, 4, 5, 7, 8}
	if len(got) != len(want) {
		t.Fatalf("kept %q", got)
	}
	for k, i := range want {
		if got[k] != list[i].String() {
			t.Errorf("kept %q, want %q", got[k], &list[i])
		}
	}
}
