package netlist

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"pgregory.net/rapid"
)

// oneBus is a harness of one network with one of everything:
//
//	X1 ── S1 ── X2 (one, T1)
//	      └── X4 ── X3 (two, T2)
func oneBus() *Harness {
	pair := func(name, from, to string) Pair {
		return Pair{Name: name, From: []string{from}, To: []string{to}, Ohms: 0.1}
	}
	return &Harness{
		Name:     "one bus",
		Networks: []Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []Connector{
			{Name: "X1", Cavities: []Cavity{{"6", "H"}, {"14", "L"}, {"16", "supply"}, {"4", "ground"}}},
			{Name: "X2"}, {Name: "X3"}, {Name: "X4", Inline: true},
		},
		Splices:     []Splice{{Name: "S1"}},
		Modules:     []Module{{Name: "one", Connectors: []string{"X2"}}, {Name: "two", Connectors: []string{"X3"}}},
		Terminators: []Terminator{{Name: "T1", At: "one", Ohms: 120}, {Name: "T2", At: "two", Ohms: 120}},
		Pairs:       []Pair{pair("P1", "X1", "S1"), pair("P2", "S1", "X2"), pair("P3", "S1", "X4/a"), pair("P4", "X4/b", "X3")},
	}
}

// twoBuses has a gateway between networks drive and body, and a module on each.
func twoBuses() *Harness {
	return &Harness{
		Name:     "two buses",
		Networks: []Network{{Name: "drive", Layer: "high-speed"}, {Name: "body", Layer: "high-speed"}},
		Connectors: []Connector{
			{Name: "XG", Cavities: []Cavity{{"1", "drive.H"}, {"2", "drive.L"}, {"3", "body.H"}, {"4", "body.L"}}},
			{Name: "XD", Network: "drive"}, {Name: "XB", Network: "body"},
		},
		Modules: []Module{
			{Name: "gateway", Connectors: []string{"XG"}},
			{Name: "motor", Connectors: []string{"XD"}}, {Name: "door", Connectors: []string{"XB"}},
		},
		Terminators: []Terminator{{Name: "T1", At: "motor", Ohms: 120}, {Name: "T2", At: "gateway", Network: "body", Ohms: 120}},
		Pairs: []Pair{
			{Name: "PD", From: []string{"XG.1", "XG.2"}, To: []string{"XD"}, Ohms: 0.1},
			{Name: "PB", Network: "body", From: []string{"XG"}, To: []string{"XB"}, Ohms: 0.1},
		},
	}
}

func TestCheckFindsNothingInAValidHarness(t *testing.T) {
	for _, h := range []*Harness{oneBus(), twoBuses()} {
		if problems := Check(h); len(problems) > 0 {
			t.Errorf("%s: %v", h.Name, problems)
		}
	}
}

// mistakes has one mistake each, by what it does to a valid harness.
var mistakes = []struct {
	name   string
	base   func() *Harness
	change func(*Harness)
	want   problem.List
}{
	{"names: connector and module share one", oneBus, func(h *Harness) { h.Modules[0].Name = "X1"; h.Terminators[0].At = "X1" }, problem.List{
		{Path: "modules[0].name", Element: "module X1", What: "X1 is already the name of a connector", Write: "a name that nothing else has"},
	}},
	{"names: two wires share one", oneBus, func(h *Harness) { h.Pairs[1].Name = "P1" }, problem.List{
		{Path: "pairs[1].name", Element: "pair P1", What: "P1 is already the name of a pair", Write: "a name that nothing else has"},
	}},
	{"names: that of a rail", oneBus, func(h *Harness) { h.Terminators[1].Name = "ground" }, problem.List{
		{Path: "terminators[1].name", Element: "terminator ground", What: "ground is already the name of a rail", Write: "a name that nothing else has"},
	}},
	{"networks: two of one name", twoBuses, func(h *Harness) { h.Networks = append(h.Networks, h.Networks[0]) }, problem.List{
		{Path: "networks[2].name", Element: "network drive", What: "there are two networks of this name", Write: "another name"},
	}},
	{"networks: layer unknown", oneBus, func(h *Harness) { h.Networks[0].Layer = "highspeed" }, problem.List{
		{Path: "networks[0].layer", Element: "network bus", What: "layer is \"highspeed\", must be one of high-speed, j1939-11, j1939-15, iso11783-pair, nmea2000, devicenet, fault-tolerant, one-wire, tia-485", Write: "high-speed"},
	}},
	{"networks: nothing carries it", oneBus, func(h *Harness) {
		h.Networks = append(h.Networks, Network{Name: "spare", Layer: "high-speed"})
		for i := range h.Connectors {
			h.Connectors[i].Network = "bus"
		}
		h.Splices[0].Network = "bus"
	}, problem.List{
		{Path: "networks[1]", Element: "network spare", What: "nothing carries spare.H", Write: "connectors and pairs for it, or leave it out"},
		{Path: "networks[1]", Element: "network spare", What: "nothing carries spare.L", Write: "connectors and pairs for it, or leave it out"},
	}},
	{"kinds: name of a built-in one", oneBus, func(h *Harness) {
		h.Transceivers = []TransceiverKind{{Name: "older", UnpoweredMinOhms: 1e4, AwakeMinOhms: 1e4, AwakeMaxOhms: 2e4}}
	}, problem.List{
		{Path: "transceivers[0].name", Element: "transceiver kind older", What: "there is already a transceiver kind of this name", Write: "a name that is neither built in nor used twice"},
	}},
	{"kinds: none", oneBus, func(h *Harness) {
		h.Transceivers = []TransceiverKind{{Name: "none", UnpoweredMinOhms: 1e4, AwakeMinOhms: 1e4, AwakeMaxOhms: 2e4}}
	}, problem.List{
		{Path: "transceivers[0].name", Element: "transceiver kind none", What: "there is already a transceiver kind of this name", Write: "a name that is neither built in nor used twice"},
	}},
	{"kinds: unpowered range upside down", oneBus, func(h *Harness) {
		h.Transceivers = []TransceiverKind{{Name: "own", UnpoweredMinOhms: 1e4, UnpoweredMaxOhms: 5e3, AwakeMinOhms: 1e4, AwakeMaxOhms: 2e4}}
	}, problem.List{
		{Path: "transceivers[0].unpowered_max_ohms", Element: "transceiver kind own", What: "unpowered_max_ohms 5000 is less than unpowered_min_ohms 10000", Write: "the greater of the two"},
	}},
	{"kinds: awake range upside down", oneBus, func(h *Harness) {
		h.Transceivers = []TransceiverKind{{Name: "own", UnpoweredMinOhms: 1e4, AwakeMinOhms: 3e4, AwakeMaxOhms: 2e4}}
	}, problem.List{
		{Path: "transceivers[0].awake_max_ohms", Element: "transceiver kind own", What: "awake_max_ohms 20000 is less than awake_min_ohms 30000", Write: "the greater of the two"},
	}},
	{"modules: no such connector", oneBus, func(h *Harness) { h.Modules[0].Connectors = append(h.Modules[0].Connectors, "X9") }, problem.List{
		{Path: "modules[0].connectors[1]", Element: "module one", What: "there is no connector X9", Write: "one of X1, X2, X3, X4"},
	}},
	{"modules: inline connector", oneBus, func(h *Harness) { h.Modules[0].Connectors = append(h.Modules[0].Connectors, "X4") }, problem.List{
		{Path: "modules[0].connectors[1]", Element: "module one", What: "connector X4 is inline, so no module plugs into it", Write: "a connector that is not inline"},
	}},
	{"modules: connector of another", oneBus, func(h *Harness) { h.Modules[1].Connectors = append(h.Modules[1].Connectors, "X2") }, problem.List{
		{Path: "modules[1].connectors[1]", Element: "module two", What: "connector X2 already plugs into module one", Write: "a connector of its own"},
	}},
	{"modules: no such kind", oneBus, func(h *Harness) { h.Modules[1].Transceiver = "oldest" }, problem.List{
		{Path: "modules[1].transceiver", Element: "module two", What: "there is no transceiver kind oldest", Write: "modern, modern-3v3, older, mixed, tolerant, commander, responder, multidrop, none, or a kind that the file lists under transceivers"},
	}},
	{"modules: kind of another layer", oneBus, func(h *Harness) { h.Modules[1].Transceiver = "responder" }, problem.List{
		{Path: "modules[1].transceiver", Element: "module two", What: "kind responder does not belong to layer high-speed of network bus", Write: "a kind of that layer, or leave it out"},
	}},
	{"modules: kinds that do not fit", twoBuses, func(h *Harness) {
		h.Modules[0].Kinds = []NetworkKind{{"drive", "commander"}, {"bodi", "modern"}, {"body", "newest"}}
	}, problem.List{
		{Path: "modules[0].kinds.drive", Element: "module gateway", What: "kind commander does not belong to layer high-speed of network drive", Write: "a kind of that layer"},
		{Path: "modules[0].kinds.bodi", Element: "module gateway", What: "has no transceiver on a network bodi", Write: "one of drive, body"},
		{Path: "modules[0].kinds.body", Element: "module gateway", What: "there is no transceiver kind newest", Write: "modern, modern-3v3, older, mixed, tolerant, commander, responder, multidrop, none, or a kind that the file lists under transceivers"},
	}},
	{"modules: no network whole", twoBuses, func(h *Harness) {
		h.Connectors = append(h.Connectors, Connector{Name: "XE", Network: "body", Cavities: []Cavity{{"1", "H"}}})
		h.Modules = append(h.Modules, Module{Name: "half", Connectors: []string{"XE"}})
		h.Wires = append(h.Wires, Wire{Name: "W1", From: "XB.H", To: "XE.1", Ohms: 0.1})
	}, problem.List{
		{Path: "modules[3]", Element: "module half", What: "its connectors carry no network whole, so its transceiver has nothing to sit on", Write: "connectors whose cavities carry H and L of a network, or transceiver: none"},
	}},
	{"modules: no such network", twoBuses, func(h *Harness) { h.Modules[0].Networks = []string{"drive", "bodi"} }, problem.List{
		{Path: "modules[0].networks[1]", Element: "module gateway", What: "there is no network bodi", Write: "one of drive, body"},
	}},
	{"modules: network not carried", twoBuses, func(h *Harness) { h.Modules[1].Networks = []string{"body"} }, problem.List{
		{Path: "modules[1].networks", Element: "module motor", What: "its connectors do not carry network body whole", Write: "cavities that carry body.H, body.L on one of its connectors"},
	}},
	{"modules: network twice", twoBuses, func(h *Harness) { h.Modules[0].Networks = []string{"drive", "body", "drive"} }, problem.List{
		{Path: "modules[0].networks[2]", Element: "module gateway", What: "network drive stands twice", Write: "each network once"},
	}},
	{"connectors: no such network", oneBus, func(h *Harness) { h.Connectors[1].Network = "buss" }, problem.List{
		{Path: "connectors[1].network", Element: "connector X2", What: "there is no network buss", Write: "one of bus"},
	}},
	{"connectors: network not said", twoBuses, func(h *Harness) { h.Connectors[1].Network = "" }, problem.List{
		{Path: "connectors[1]", Element: "connector XD", What: "does not say which network it belongs to", Write: "network: one of drive, body"},
	}},
	{"cavities: no such network", twoBuses, func(h *Harness) { h.Connectors[0].Cavities[2].Carries = "boddy.H" }, problem.List{
		{Path: "connectors[0].cavities.3", Element: "connector XG", What: "\"boddy.H\" names network boddy, which there is not", Write: "one of drive.H, drive.L, body.H, body.L"},
	}},
	{"cavities: network not said", twoBuses, func(h *Harness) { h.Connectors[0].Cavities[2].Carries = "H" }, problem.List{
		{Path: "connectors[0].cavities.3", Element: "connector XG", What: "\"H\" does not say which network it is of", Write: "one of drive.H, drive.L, body.H, body.L"},
	}},
	{"cavities: no such conductor", oneBus, func(h *Harness) { h.Connectors[0].Cavities[0].Carries = "Hi" }, problem.List{
		{Path: "connectors[0].cavities.6", Element: "connector X1", What: "\"Hi\" is no conductor of network bus", Write: "one of H, L"},
	}},
	{"cavities: one twice", oneBus, func(h *Harness) {
		h.Connectors[0].Cavities = append(h.Connectors[0].Cavities, Cavity{"16", "supply"})
	}, problem.List{
		{Path: "connectors[0].cavities.16", Element: "connector X1", What: "cavities has \"16\" twice", Write: "it once"},
	}},
	{"cavities: no wire", oneBus, func(h *Harness) {
		h.Connectors[0].Cavities = append(h.Connectors[0].Cavities, Cavity{"7", "H"})
	}, problem.List{
		{Path: "pairs[0].from", Element: "pair P1", What: "X1 carries H in more than one cavity: X1.6, X1.7", Write: "the points themselves, for example [X1.6, ...]"},
	}},
	{"inline: no wire on side b", oneBus, func(h *Harness) {
		h.Connectors[3].Cavities = []Cavity{{"H", "H"}, {"L", "L"}, {"3", "H"}}
		h.Wires = []Wire{{Name: "W1", From: "S1.H", To: "X4/a.3", Ohms: 0.1}}
		h.Pairs[2].To, h.Pairs[3].From = []string{"X4/a.H", "X4/a.L"}, []string{"X4/b.H", "X4/b.L"}
	}, problem.List{
		{Path: "connectors[3].cavities.3", Element: "connector X4", What: "cavity X4/b.3 carries H, but no wire ends there", Write: "the wire or pair that ends there, or leave the cavity out"},
	}},
	{"splices: network not said", twoBuses, func(h *Harness) { h.Splices = []Splice{{Name: "S1"}} }, problem.List{
		{Path: "splices[0]", Element: "splice S1", What: "does not say which network it belongs to", Write: "network: one of drive, body"},
	}},
	{"splices: no such network", twoBuses, func(h *Harness) { h.Splices = []Splice{{Name: "S1", Network: "bod"}} }, problem.List{
		{Path: "splices[0].network", Element: "splice S1", What: "there is no network bod", Write: "one of drive, body"},
	}},
	{"splices: no such conductor", oneBus, func(h *Harness) { h.Splices[0].Joins = []string{"H", "L", "M"} }, problem.List{
		{Path: "splices[0].joins[2]", Element: "splice S1", What: "\"M\" is no conductor of network bus", Write: "one of H, L"},
	}},
	{"splices: conductor twice", oneBus, func(h *Harness) { h.Splices[0].Joins = []string{"H", "L", "L"} }, problem.List{
		{Path: "splices[0].joins[2]", Element: "splice S1", What: "conductor L stands twice", Write: "each conductor once"},
	}},
	{"splices: one wire end", oneBus, func(h *Harness) {
		h.Splices = append(h.Splices, Splice{Name: "S2", Joins: []string{"H"}})
		h.Wires = []Wire{{Name: "W1", From: "S1.H", To: "S2.H", Ohms: 0.1}}
	}, problem.List{
		{Path: "splices[1].joins", Element: "splice S2", What: "joint S2.H has one wire end; a splice joins two or more", Write: "the wires or pairs that meet there, or leave the splice out"},
	}},
	{"splices: no wire end", oneBus, func(h *Harness) { h.Splices = append(h.Splices, Splice{Name: "S2", Joins: []string{"L"}}) }, problem.List{
		{Path: "splices[1].joins", Element: "splice S2", What: "joint S2.L has no wire end; a splice joins two or more", Write: "the wires or pairs that meet there, or leave the splice out"},
	}},
	{"terminators: no such place", oneBus, func(h *Harness) { h.Terminators[0].At = "X9" }, problem.List{
		{Path: "terminators[0].at", Element: "terminator T1", What: "there is no module, splice or connector X9", Write: "the name of a module, a splice or a connector"},
	}},
	{"terminators: in a wire", oneBus, func(h *Harness) { h.Terminators[0].At = "P1" }, problem.List{
		{Path: "terminators[0].at", Element: "terminator T1", What: "there is no module, splice or connector P1", Write: "the name of a module, a splice or a connector"},
	}},
	{"terminators: at an inline connector", oneBus, func(h *Harness) { h.Terminators[0].At = "X4" }, problem.List{
		{Path: "terminators[0].at", Element: "terminator T1", What: "connector X4 is inline, so no terminator plugs into it", Write: "a splice, a module or a connector that is not inline"},
	}},
	{"terminators: at a module's connector", oneBus, func(h *Harness) { h.Terminators[0].At = "X2" }, problem.List{
		{Path: "terminators[0].at", Element: "terminator T1", What: "connector X2 already plugs into one", Write: "at: one for one inside that module, or a splice"},
	}},
	{"terminators: two plugged into one connector", oneBus, func(h *Harness) { h.Terminators[0].At, h.Terminators[1].At = "X1", "X1" }, problem.List{
		{Path: "terminators[1].at", Element: "terminator T2", What: "connector X1 already plugs into T1", Write: "a connector of its own, or a splice"},
	}},
	{"terminators: one conductor only", oneBus, func(h *Harness) {
		h.Splices = append(h.Splices, Splice{Name: "S2", Joins: []string{"H"}})
		h.Wires = []Wire{{Name: "W1", From: "S1.H", To: "S2.H", Ohms: 0.1}, {Name: "W2", From: "S1.H", To: "S2.H", Ohms: 0.1}}
		h.Terminators[1].At = "S2"
	}, problem.List{
		{Path: "terminators[1].at", Element: "terminator T2", What: "S2 does not carry L", Write: "a place that carries H, L"},
	}},
	{"terminators: no conductor at all", oneBus, func(h *Harness) {
		h.Connectors = append(h.Connectors, Connector{Name: "X5", Cavities: []Cavity{{"1", "supply"}}})
		h.Terminators[1].At = "X5"
	}, problem.List{
		{Path: "terminators[1].at", Element: "terminator T2", What: "X5 carries no conductor of a network", Write: "a place that carries a network"},
	}},
	{"terminators: network not said", twoBuses, func(h *Harness) { h.Terminators[1].Network = "" }, problem.List{
		{Path: "terminators[1]", Element: "terminator T2", What: "gateway carries more than one network", Write: "network: one of drive, body"},
	}},
	{"terminators: no such network", twoBuses, func(h *Harness) { h.Terminators[1].Network = "bodi" }, problem.List{
		{Path: "terminators[1].network", Element: "terminator T2", What: "there is no network bodi", Write: "one of drive, body"},
	}},
	{"terminators: network not carried", twoBuses, func(h *Harness) { h.Terminators[0].Network = "body" }, problem.List{
		{Path: "terminators[0].at", Element: "terminator T1", What: "motor does not carry body.H", Write: "a place that carries body.H, body.L"},
	}},
	{"terminators: network of no layer", twoBuses, func(h *Harness) { h.Networks[1].Layer = "" }, problem.List{
		{Path: "networks[1].layer", Element: "network body", What: "layer is missing", Write: "one of high-speed, j1939-11, j1939-15, iso11783-pair, nmea2000, devicenet, fault-tolerant, one-wire, tia-485"},
	}},
	{"pairs: neither length nor size", oneBus, func(h *Harness) { h.Pairs[0].Ohms = 0 }, problem.List{
		{Path: "pairs[0]", Element: "pair P1", What: "has neither length nor size", Write: "length_m with section_mm2 or awg (length_m: 1.2, section_mm2: 0.35), or ohms"},
	}},
	{"pairs: no length", oneBus, func(h *Harness) { h.Pairs[0].Ohms, h.Pairs[0].AWG = 0, 22 }, problem.List{
		{Path: "pairs[0]", Element: "pair P1", What: "has no length", Write: "length_m as well: the length of the conductor in metres, for example length_m: 1.2"},
	}},
	{"pairs: no size", oneBus, func(h *Harness) { h.Pairs[0].Ohms, h.Pairs[0].LengthM = 0, 2 }, problem.List{
		{Path: "pairs[0]", Element: "pair P1", What: "has no size", Write: "section_mm2 or awg as well, for example section_mm2: 0.35"},
	}},
	{"pairs: two sizes", oneBus, func(h *Harness) { h.Pairs[0].AWG, h.Pairs[0].SectionMM2 = 22, 0.35 }, problem.List{
		{Path: "pairs[0]", Element: "pair P1", What: "gives section_mm2 and awg, which say the same thing twice", Write: "just one of them"},
	}},
	{"pairs: section not in the table", oneBus, func(h *Harness) { h.Pairs[0].Ohms, h.Pairs[0].LengthM, h.Pairs[0].SectionMM2 = 0, 2, 0.4 }, problem.List{
		{Path: "pairs[0]", Element: "pair P1", What: "section_mm2 0.4 is not in the table of automotive sections", Write: "one of 0.13, 0.22, 0.35, 0.5, 0.75, 1, 1.5, 2.5, or ohms_per_m from the cable's data sheet"},
	}},
	{"pairs: no such network", oneBus, func(h *Harness) { h.Pairs[0].Network = "buss" }, problem.List{
		{Path: "pairs[0].network", Element: "pair P1", What: "there is no network buss", Write: "one of bus"},
	}},
	{"pairs: no such place", oneBus, func(h *Harness) { h.Pairs[0].From = []string{"X7"} }, problem.List{
		{Path: "pairs[0].from", Element: "pair P1", What: "there is no connector or splice \"X7\"", Write: "one of X1, X2, X3, X4, S1"},
	}},
	{"pairs: end is a module", oneBus, func(h *Harness) { h.Pairs[1].To = []string{"one"} }, problem.List{
		{Path: "pairs[1].to", Element: "pair P2", What: "one is a module; wires end in connectors and splices", Write: "the connector that plugs into it"},
	}},
	{"pairs: end is a device half", oneBus, func(h *Harness) { h.Pairs[1].To = []string{"X2/device"} }, problem.List{
		{Path: "pairs[1].to", Element: "pair P2", What: "X2/device is not a place where wires end", Write: "X2"},
	}},
	{"pairs: no such half of an inline connector", oneBus, func(h *Harness) { h.Pairs[2].To = []string{"X4/c"} }, problem.List{
		{Path: "pairs[2].to", Element: "pair P3", What: "X4/c is not a place where wires end", Write: "X4/a or X4/b"},
	}},
	{"pairs: side of an inline connector not said", oneBus, func(h *Harness) { h.Pairs[2].To = []string{"X4"} }, problem.List{
		{Path: "pairs[2].to", Element: "pair P3", What: "X4 is an inline connector, and it is not said on which side of it the wire ends", Write: "X4/a or X4/b"},
	}},
	{"pairs: end carries another network", twoBuses, func(h *Harness) { h.Pairs[1].To = []string{"XD"} }, problem.List{
		{Path: "pairs[1].to", Element: "pair PB", What: "XD carries no network body", Write: "a place that carries it"},
	}},
	{"pairs: no network in common", twoBuses, func(h *Harness) { h.Pairs[0].To = []string{"XB"} }, problem.List{
		{Path: "pairs[0]", Element: "pair PD", What: "its ends XG.1, XG.2 and XB have no network in common", Write: "two ends on one network"},
	}},
	{"pairs: two networks in common", twoBuses, func(h *Harness) {
		h.Connectors = append(h.Connectors, Connector{Name: "XH", Cavities: h.Connectors[0].Cavities})
		h.Pairs = append(h.Pairs, Pair{Name: "PX", From: []string{"XG"}, To: []string{"XH"}, Ohms: 0.1})
	}, problem.List{
		{Path: "pairs[2]", Element: "pair PX", What: "its ends have more than one network in common", Write: "network: one of drive, body"},
	}},
	{"pairs: end lacks a conductor", oneBus, func(h *Harness) { h.Pairs[0].From = []string{"X1.6"} }, problem.List{
		{Path: "pairs[0].from", Element: "pair P1", What: "X1.6 does not carry L", Write: "a place or points that carry H, L"},
	}},
	{"pairs: a point too many", twoBuses, func(h *Harness) { h.Pairs[0].From = []string{"XG.1", "XG.2", "XG.3"} }, problem.List{
		{Path: "pairs[0].from", Element: "pair PD", What: "XG.1, XG.2, XG.3 belong to more than one network", Write: "points of one network"},
	}},
	{"pairs: two points of one conductor", oneBus, func(h *Harness) { h.Pairs[0].From = []string{"X1.6", "X1.6"} }, problem.List{
		{Path: "pairs[0].from[1]", Element: "pair P1", What: "X1.6 and X1.6 both carry H", Write: "one point for each conductor"},
	}},
	{"pairs: points of another network", twoBuses, func(h *Harness) { h.Pairs[1].From = []string{"XG.1", "XG.2"} }, problem.List{
		{Path: "pairs[1].from[0]", Element: "pair PB", What: "XG.1 carries drive.H", Write: "points of network body"},
		{Path: "pairs[1].from[1]", Element: "pair PB", What: "XG.2 carries drive.L", Write: "points of network body"},
	}},
	{"pairs: end carries a conductor twice", oneBus, func(h *Harness) {
		h.Connectors[1].Cavities = []Cavity{{"1", "H"}, {"2", "L"}, {"3", "H"}}
	}, problem.List{
		{Path: "pairs[1].to", Element: "pair P2", What: "X2 carries H in more than one cavity: X2.1, X2.3", Write: "the points themselves, for example [X2.1, ...]"},
	}},
	{"pairs: from a place to itself", oneBus, func(h *Harness) {
		h.Pairs = append(h.Pairs, Pair{Name: "P5", From: []string{"S1"}, To: []string{"S1"}, Ohms: 0.1})
	}, problem.List{
		{Path: "pairs[4].to", Element: "pair P5", What: "both ends are S1.H", Write: "another end"},
		{Path: "pairs[4].to", Element: "pair P5", What: "both ends are S1.L", Write: "another end"},
	}},
	{"wires: no such cavity", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.7", To: "S1.H", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].from", Element: "wire W1", What: "ends in cavity X1.7, which connector X1 does not have", Write: "one of X1.6, X1.14"},
	}},
	{"wires: no such joint", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1.M", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].to", Element: "wire W1", What: "ends in conductor S1.M, which splice S1 does not have", Write: "one of S1.H, S1.L"},
	}},
	{"wires: conductor in place of a cavity", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.H", To: "S1.H", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].from", Element: "wire W1", What: "ends in cavity X1.H, which connector X1 does not have", Write: "one of X1.6, X1.14"},
	}},
	{"wires: no cavity", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1", To: "S1.H", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].from", Element: "wire W1", What: "\"X1\" does not say which cavity of connector X1", Write: "a point, for example X1.6"},
	}},
	{"wires: no joint", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].to", Element: "wire W1", What: "\"S1\" does not say which conductor of splice S1", Write: "a point, for example S1.H"},
	}},
	{"wires: cavity of a rail", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.16", To: "S1.H", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].from", Element: "wire W1", What: "ends in cavity X1.16, which carries supply; wires of the rails are not part of the harness file", Write: "a cavity that carries a conductor of a network"},
	}},
	{"wires: half of a splice", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1/a.H", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].to", Element: "wire W1", What: "S1/a is not a place where wires end", Write: "S1"},
	}},
	{"wires: H to L", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1.L", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].to", Element: "wire W1", What: "joins H at X1.6 to L at S1.L", Write: "two ends of one conductor"},
	}},
	{"wires: one end twice", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "X1.6", Ohms: 0.1}} }, problem.List{
		{Path: "wires[0].to", Element: "wire W1", What: "both ends are X1.6", Write: "another end"},
	}},
	{"wires: no size", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1.H", LengthM: 2}} }, problem.List{
		{Path: "wires[0]", Element: "wire W1", What: "has no size", Write: "section_mm2 or awg as well, for example section_mm2: 0.35"},
	}},
	{"wires: negative length", oneBus, func(h *Harness) { h.Wires = []Wire{{Name: "W1", From: "X1.6", To: "S1.H", LengthM: -2, AWG: 22}} }, problem.List{
		{Path: "wires[0].length_m", Element: "wire W1", What: "length_m is -2, must be at least 0.001 and at most 10000 metres", Write: "length in metres, for example length_m: 1.2"},
	}},
	{"pairs: negative ohms", oneBus, func(h *Harness) { h.Pairs[0].Ohms = -0.1 }, problem.List{
		{Path: "pairs[0].ohms", Element: "pair P1", What: "ohms is -0.1, must be at least 1e-9 and at most 1e9 ohms", Write: "ohms of one conductor, for example ohms: 0.07"},
	}},
	{"strays: no such point", oneBus, func(h *Harness) { h.Strays = []Stray{{Name: "Y1", From: "X1.9", To: "ground", Ohms: 1e3}} }, problem.List{
		{Path: "strays[0].from", Element: "stray path Y1", What: "point \"X1.9\": X1 has no cavity or conductor \"9\"; there are 6 (H), 14 (L), 16 (supply), 4 (ground)", Write: "a point: X3.9, S2.H, ground or supply"},
	}},
	{"strays: place without cavity", oneBus, func(h *Harness) { h.Strays = []Stray{{Name: "Y1", From: "supply", To: "X1", Ohms: 1e3}} }, problem.List{
		{Path: "strays[0].to", Element: "stray path Y1", What: "point \"X1\" has no cavity; a point is X3.9, X3/device.9, S2.H, ground or supply", Write: "a point: X3.9, S2.H, ground or supply"},
	}},
	{"strays: one end twice", oneBus, func(h *Harness) { h.Strays = []Stray{{Name: "Y1", From: "X1.6", To: "X1.H", Ohms: 1e3}} }, problem.List{
		{Path: "strays[0].to", Element: "stray path Y1", What: "both ends are X1.6", Write: "another end"},
	}},
	{"parts: a network in two", oneBus, func(h *Harness) {
		h.Pairs[2] = Pair{Name: "P3", From: []string{"X1"}, To: []string{"S1"}, Ohms: 0.1}
		h.Connectors[3].Inline = false
		h.Pairs[3].From = []string{"X4"}
	}, problem.List{
		{Path: "connectors[2].cavities.H", Element: "connector X3", What: "H at X3.H, X4.H is not connected with the rest of H", Write: "the wire or pair that joins it to the rest"},
		{Path: "connectors[2].cavities.L", Element: "connector X3", What: "L at X3.L, X4.L is not connected with the rest of L", Write: "the wire or pair that joins it to the rest"},
	}},
	{"parts: one conductor in two", oneBus, func(h *Harness) {
		h.Pairs = h.Pairs[:3]
		h.Connectors = append(h.Connectors, Connector{Name: "X5"})
		h.Wires = []Wire{{Name: "W1", From: "X4/b.L", To: "X3.L", Ohms: 0.1}, {Name: "W2", From: "X5.L", To: "X3.L", Ohms: 0.1}, {Name: "W3", From: "X5.H", To: "X3.H", Ohms: 0.1}, {Name: "W4", From: "X4/b.H", To: "X1.6", Ohms: 0.1}}
	}, problem.List{
		{Path: "connectors[2].cavities.H", Element: "connector X3", What: "H at X3.H, X5.H is not connected with the rest of H", Write: "the wire or pair that joins it to the rest"},
	}},
	{"required: no networks", oneBus, func(h *Harness) { *h = Harness{Name: "empty"} }, problem.List{
		{Path: "networks", Element: "", What: "networks is missing", Write: "a list of the two-wire networks of the harness"},
	}},
	{"required: no name", oneBus, func(h *Harness) { h.Pairs[0].Name = "" }, problem.List{
		{Path: "pairs[0].name", Element: "pair number 1", What: "name is missing", Write: "name of the pair"},
	}},
	{"required: no ohms", oneBus, func(h *Harness) { h.Terminators[0].Ohms = 0 }, problem.List{
		{Path: "terminators[0].ohms", Element: "terminator T1", What: "ohms is missing", Write: "resistance in ohms, for example ohms: 120"},
	}},
}

func TestCheck(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range mistakes {
		t.Run(m.name, func(t *testing.T) {
			if seen[m.name] {
				t.Fatal("two mistakes of this name")
			}
			seen[m.name] = true
			h := m.base()
			m.change(h)
			got := Check(h)
			// Nothing that only follows from the mistake may be reported too.
			if !slices.Equal(got, m.want) {
				t.Errorf("problems:\n%v\nwant:\n%v", got, m.want)
			}
			if c, err := NewCircuit(h); c != nil || err == nil || err.Error() != got.Error() {
				t.Errorf("NewCircuit: %v, %v", c, err)
			}
			for _, p := range got {
				if p.Path == "" || p.What == "" || p.Write == "" {
					t.Errorf("%+v lacks a path, what is wrong or what to write", p)
				}
			}
		})
	}
}

// listing writes a circuit's elements as "name: node – node", or "name: node =
// node" for an ideal joint.
func listing(c *Circuit) []string {
	var out []string
	for _, e := range c.Elements {
		sign := "–"
		if e.Kind == Joint {
			sign = "="
		}
		out = append(out, fmt.Sprintf("%s: %s %s %s", e.Name, c.Nodes[e.A].Name, sign, c.Nodes[e.B].Name))
	}
	return out
}

func circuitOf(t *testing.T, h *Harness) *Circuit {
	t.Helper()
	c, err := NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// has fails unless each of the lines is in the circuit's listing, and as often as
// it is wanted.
func has(t *testing.T, c *Circuit, lines ...string) {
	t.Helper()
	all := listing(c)
	for _, l := range lines {
		if n := len(slices.DeleteFunc(slices.Clone(all), func(s string) bool { return s != l })); n != 1 {
			t.Errorf("%q is there %d times, in:\n%s", l, n, strings.Join(all, "\n"))
		}
	}
}

// The whole circuit of a small harness: default cavities, a splice, an inline
// connector, a service connector with rails, modules and what is in them.
func TestNewCircuit(t *testing.T) {
	h := oneBus()
	h.Terminators[1].Split = true
	h.Strays = []Stray{{Name: "Y1", From: "X1.6", To: "ground", Ohms: 1e3}}
	c := circuitOf(t, h)
	want := []string{
		"loads on the supply rail: supply – ground",
		"rail at X1.16: X1.16 = supply",
		"rail at X1.4: X1.4 = ground",
		"contact X2.H: X2.H – X2/device.H",
		"contact X2.L: X2.L – X2/device.L",
		"contact X3.H: X3.H – X3/device.H",
		"contact X3.L: X3.L – X3/device.L",
		"contact X4.H: X4/a.H – X4/b.H",
		"contact X4.L: X4/a.L – X4/b.L",
		"pin X2/device.H: X2/device.H = inside one H",
		"pin X2/device.L: X2/device.L = inside one L",
		"ground of one: ground of one = ground",
		"input of one H: inside one H – ground of one",
		"input of one L: inside one L – ground of one",
		"pin X3/device.H: X3/device.H = inside two H",
		"pin X3/device.L: X3/device.L = inside two L",
		"ground of two: ground of two = ground",
		"input of two H: inside two H – ground of two",
		"input of two L: inside two L – ground of two",
		"terminator T1: inside one H – inside one L",
		"terminator T2, H half: inside two H – middle of T2",
		"terminator T2, L half: inside two L – middle of T2",
		"pair P1 H: X1.6 – S1.H",
		"pair P1 L: X1.14 – S1.L",
		"pair P2 H: S1.H – X2.H",
		"pair P2 L: S1.L – X2.L",
		"pair P3 H: S1.H – X4/a.H",
		"pair P3 L: S1.L – X4/a.L",
		"pair P4 H: X4/b.H – X3.H",
		"pair P4 L: X4/b.L – X3.L",
		"stray path Y1: X1.6 – ground",
	}
	if got := listing(c); !slices.Equal(got, want) {
		t.Errorf("elements:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if c.Nodes[GroundNode].Name != GroundRail || c.Nodes[SupplyNode].Name != SupplyRail {
		t.Errorf("the first nodes are %s and %s", c.Nodes[GroundNode].Name, c.Nodes[SupplyNode].Name)
	}
	// Every element that has a name is found by it, every node's conductor is
	// that of the part it belongs to.
	for i, e := range c.Elements {
		if j, ok := c.Element(e.Name); !ok || i != j {
			t.Errorf("Element(%q) = %d, %v, want %d", e.Name, j, ok, i)
		}
	}
	for name, k := range map[string]Conductor{
		"ground": {}, "supply": {}, "X1.16": {}, "X1.14": {"bus", "L"}, "S1.H": {"bus", "H"}, "X4/b.L": {"bus", "L"}, "X2/device.H": {"bus", "H"},
	} {
		n, err := c.Point(name)
		if err != nil || c.Nodes[n].Conductor != k {
			t.Errorf("%s: conductor %v, %v, want %v", name, c.Nodes[n].Conductor, err, k)
		}
	}
	// The two halves have half of the ohms each.
	half, _ := c.Element("terminator T2, L half")
	if v := c.Elements[half].Off.Value.Mid; v != 60 {
		t.Errorf("half of 120 Ω is %v", v)
	}
}

// unplug gives the names of what parts.
func unplug(t *testing.T, c *Circuit, connectors ...string) []string {
	t.Helper()
	parted, err := c.Unplug(connectors...)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, i := range parted {
		out = append(out, c.Elements[i].Name)
	}
	return out
}

// A terminator inside a module hangs on the inside of its pins, so it leaves with
// the module; so does the module's ground.
func TestUnplug(t *testing.T) {
	c := circuitOf(t, oneBus())
	for _, test := range []struct {
		connectors, want []string
	}{
		{nil, nil},
		{[]string{"X2"}, []string{"contact X2.H", "contact X2.L", "ground of one"}},
		{[]string{"X4"}, []string{"contact X4.H", "contact X4.L"}},
		{[]string{"X3", "X2"}, []string{"contact X3.H", "contact X3.L", "contact X2.H", "contact X2.L", "ground of one", "ground of two"}},
	} {
		if got := unplug(t, c, test.connectors...); !slices.Equal(got, test.want) {
			t.Errorf("unplug %v: %v, want %v", test.connectors, got, test.want)
		}
	}
	for _, wrong := range []string{"X1", "S1", "X9", "one", ""} {
		if got, err := c.Unplug(wrong); err == nil {
			t.Errorf("unplug %q: %v", wrong, got)
		}
	}
}

// Points may be named by cavity or, where just one cavity carries it, conductor.
func TestPoint(t *testing.T) {
	h := oneBus()
	h.Connectors[1].Cavities = []Cavity{{"1", "H"}, {"2", "L"}, {"3", "H"}}
	h.Pairs[1].To = []string{"X2.1", "X2.2"}
	h.Wires = []Wire{{Name: "W1", From: "X2.3", To: "S1.H", Ohms: 0.1}}
	c := circuitOf(t, h)
	for name, want := range map[string]string{
		"ground": "ground", "supply": "supply", "X1.6": "X1.6", "X1.H": "X1.6", "X1.bus.H": "X1.6", "X1/harness.L": "X1.14", "X1.supply": "X1.16",
		"X2/device.3": "X2/device.3", "X2.L": "X2.2", "X4/a.H": "X4/a.H", "X4.H": "X4/a.H", "X4/b.H": "X4/b.H", "S1.L": "S1.L",
	} {
		if n, err := c.Point(name); err != nil || c.Nodes[n].Name != want {
			t.Errorf("%s: %v, %v, want %s", name, n, err, want)
		}
	}
	for _, name := range []string{"", "X1", "X9.H", "X1.7", "X2.H", "X1/device.6", "X1/a.6", "X4/c.H", "X4/device.H", "S1/a.H", "X1/device.16", "bus.H"} {
		if n, err := c.Point(name); err == nil {
			t.Errorf("%s: node %s", name, c.Nodes[n].Name)
		}
	}
}

// A module that passes the bus through two cavities of each conductor joins them
// inside.
func TestPassThroughModule(t *testing.T) {
	h := oneBus()
	h.Connectors[1].Cavities = []Cavity{{"1", "H"}, {"2", "L"}, {"3", "H"}, {"4", "L"}}
	h.Connectors = append(h.Connectors, Connector{Name: "X5"})
	h.Modules = append(h.Modules, Module{Name: "far", Connectors: []string{"X5"}})
	h.Pairs[1].To = []string{"X2.2", "X2.1"} // the order of points does not matter
	h.Pairs = append(h.Pairs, Pair{Name: "P5", From: []string{"X2.3", "X2.4"}, To: []string{"X5"}, Ohms: 0.1})
	c := circuitOf(t, h)
	has(t, c,
		"pin X2/device.1: X2/device.1 = inside one H",
		"pin X2/device.3: X2/device.3 = inside one H",
		"pin X2/device.2: X2/device.2 = inside one L",
		"pin X2/device.4: X2/device.4 = inside one L",
		"pair P2 H: S1.H – X2.1", "pair P2 L: S1.L – X2.2",
		"pair P5 H: X2.3 – X5.H", "pair P5 L: X2.4 – X5.L",
		"input of one H: inside one H – ground of one")
	if got := unplug(t, c, "X2"); !slices.Equal(got, []string{"contact X2.1", "contact X2.2", "contact X2.3", "contact X2.4", "ground of one"}) {
		t.Errorf("unplugged: %v", got)
	}
}

// A plug-in terminator is the device half of the connector that it sits at.
func TestPlugInTerminator(t *testing.T) {
	h := oneBus()
	h.Connectors = append(h.Connectors, Connector{Name: "X5", ContactOhms: 0.004})
	h.Terminators[1].At = "X5"
	h.Pairs = append(h.Pairs, Pair{Name: "P5", From: []string{"S1"}, To: []string{"X5"}, Ohms: 0.1})
	c := circuitOf(t, h)
	has(t, c, "contact X5.H: X5.H – X5/device.H", "contact X5.L: X5.L – X5/device.L", "terminator T2: X5/device.H – X5/device.L")
	if s, _ := c.Site("X5"); s.Device != "T2" {
		t.Errorf("device %q, want T2", s.Device)
	}
	if got := unplug(t, c, "X5"); !slices.Equal(got, []string{"contact X5.H", "contact X5.L"}) {
		t.Errorf("unplugged: %v", got)
	}
	i, _ := c.Element("contact X5.H")
	if v := c.Elements[i].Off.Value; v.Mid != 0.004 || len(v.Parts) != 1 || math.Abs(v.Parts[0].Half-0.002) > 1e-15 {
		t.Errorf("contact of 4 mΩ ± 50 %%: %+v", v)
	}
	// At a splice there is nothing to unplug.
	h.Terminators[1].At = "S1"
	h.Connectors, h.Pairs = h.Connectors[:4], h.Pairs[:4]
	has(t, circuitOf(t, h), "terminator T2: S1.H – S1.L")
}

// A gateway has a transceiver on both of its networks, with one ground, and no
// element joins the networks.
func TestGateway(t *testing.T) {
	c := circuitOf(t, twoBuses())
	has(t, c,
		"input of gateway drive.H: inside gateway drive.H – ground of gateway",
		"input of gateway drive.L: inside gateway drive.L – ground of gateway",
		"input of gateway body.H: inside gateway body.H – ground of gateway",
		"input of gateway body.L: inside gateway body.L – ground of gateway",
		"terminator T2: inside gateway body.H – inside gateway body.L",
		"pair PD H: XG.1 – XD.H", "pair PB H: XG.3 – XB.H")
	if c.Units[0].Name != "gateway" || len(c.Units[0].Inputs) != 4 {
		t.Errorf("gateway is %+v", c.Units[0])
	}
	// On one of them only, if it says so.
	h := twoBuses()
	h.Modules[0].Networks = []string{"drive"}
	c = circuitOf(t, h)
	if len(c.Units[0].Inputs) != 2 || c.Elements[c.Units[0].Inputs[0]].Conductor != (Conductor{"drive", "H"}) {
		t.Errorf("gateway with a transceiver on drive is %+v", c.Units[0])
	}
}

// A junction box joins its connectors inside and has neither input nor, while one
// of them is plugged, lost its ground.
func TestJunctionBox(t *testing.T) {
	h := oneBus()
	h.Splices = nil
	h.Modules = append(h.Modules, Module{Name: "box", Connectors: []string{"B1", "B2", "B3"}, Transceiver: NoTransceiver})
	h.Terminators = append(h.Terminators, Terminator{Name: "T3", At: "box", Ohms: 1e3})
	for i, p := range []string{"B1", "B2", "B3"} {
		h.Connectors = append(h.Connectors, Connector{Name: p})
		end := &h.Pairs[i].From
		if (*end)[0] != "S1" {
			end = &h.Pairs[i].To
		}
		*end = []string{p}
	}
	c := circuitOf(t, h)
	has(t, c,
		"pin B1/device.H: B1/device.H = inside box H", "pin B2/device.H: B2/device.H = inside box H", "pin B3/device.H: B3/device.H = inside box H",
		"terminator T3: inside box H – inside box L")
	box := c.Units[2]
	if box.Name != "box" || len(box.Inputs) != 0 || len(box.Sites) != 3 {
		t.Errorf("box is %+v", box)
	}
	if got := unplug(t, c, "B1", "B3"); slices.Contains(got, "ground of box") || len(got) != 4 {
		t.Errorf("two of three unplugged: %v", got)
	}
	if got := unplug(t, c, "B1", "B2", "B3"); !slices.Contains(got, "ground of box") || len(got) != 7 {
		t.Errorf("all unplugged: %v", got)
	}
}

// Limits of an input: one parameter moves both conductors, matching one of them.
func TestInputLimits(t *testing.T) {
	h := oneBus()
	h.Transceivers = []TransceiverKind{{Name: "own", UnpoweredMinOhms: 20e3, UnpoweredMaxOhms: 50e3, AwakeMinOhms: 10e3, AwakeMaxOhms: 40e3}}
	h.Modules[0].Transceiver, h.Modules[1].Transceiver = "own", "modern"
	c := circuitOf(t, h)
	law := func(name string) Law {
		i, ok := c.Element(name)
		if !ok {
			t.Fatalf("no %s", name)
		}
		return c.Elements[i].Off
	}
	high, low := law("input of one H"), law("input of one L")
	if high.Value.Parts[0].Parameter != low.Value.Parts[0].Parameter || high.Value.Parts[1].Parameter == low.Value.Parts[1].Parameter {
		t.Errorf("inputs %+v and %+v, want the kind in common and the matching apart", high, low)
	}
	z := make([]float64, len(c.Parameters))
	z[high.Value.Parts[0].Parameter] = 1
	if got := high.Ohms(z); math.Abs(got-20e3) > 1e-6 {
		t.Errorf("upper limit of the conductance: %v Ω, want 20 kΩ", got)
	}
	z[high.Value.Parts[0].Parameter] = -1
	if got := low.Ohms(z); math.Abs(got-50e3) > 1e-6 {
		t.Errorf("lower limit of the conductance: %v Ω, want 50 kΩ", got)
	}
	// A kind that may be open reaches no conductance at all, and no less.
	open := law("input of two H")
	for _, p := range open.Value.Parts {
		z[p.Parameter] = -1
	}
	if got := open.Ohms(z); !math.IsInf(got, 1) {
		t.Errorf("may be open: %v Ω at the limit", got)
	}
}

// NewCircuit and Check say what is wrong with anything and never panic.
func TestCheckNeverPanics(t *testing.T) {
	names := rapid.SampledFrom([]string{"", "X1", "X2", "X3", "S1", "M1", "M2", "T1", "P1", "W1", "bus", "drive", "ground", "supply", "none", "X1.", ".", "/", "X1/b", "a b", "\x00", "\xff", "é", "-"})
	points := rapid.OneOf(names, rapid.SampledFrom([]string{"X1.H", "X1.1", "X1.L", "X2/b.H", "X2/a.L", "X2/device.1", "S1.H", "S1.L", "S1/a.H", "X9.9", "drive.H", "H", "L", "X1.H.H", "X1/b/c.H", "bus.H"}), rapid.String())
	numbers := rapid.OneOf(rapid.SampledFrom([]float64{0, 1, 0.35, 120, -1, 1e300, -1e300, 5e-324, math.NaN(), math.Inf(1), math.Inf(-1)}), rapid.Float64())
	text := func(t *rapid.T, label string) string { return points.Draw(t, label) }
	number := func(t *rapid.T, label string) *float64 {
		if rapid.Bool().Draw(t, label+" given") {
			v := numbers.Draw(t, label)
			return &v
		}
		return nil
	}
	// fill puts garbage into any value, by its type.
	var fill func(t *rapid.T, v reflect.Value, label string)
	fill = func(t *rapid.T, v reflect.Value, label string) {
		switch v.Kind() {
		case reflect.String:
			v.SetString(text(t, label))
		case reflect.Bool:
			v.SetBool(rapid.Bool().Draw(t, label))
		case reflect.Int:
			v.SetInt(int64(rapid.SampledFrom([]int{0, 0, 22, -1, 41, math.MaxInt}).Draw(t, label)))
		case reflect.Float64:
			if p := number(t, label); p != nil {
				v.SetFloat(*p)
			}
		case reflect.Pointer:
			if rapid.Bool().Draw(t, label+" given") {
				v.Set(reflect.New(v.Type().Elem()))
				fill(t, v.Elem(), label)
			}
		case reflect.Slice:
			n := rapid.IntRange(0, 3).Draw(t, label+" count")
			v.Set(reflect.MakeSlice(v.Type(), n, n))
			for i := range n {
				fill(t, v.Index(i), label)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				fill(t, v.Field(i), v.Type().Field(i).Name)
			}
		default:
			t.Fatalf("no garbage for %v", v.Type())
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		var h Harness
		if rapid.Bool().Draw(t, "garbage only") {
			fill(t, reflect.ValueOf(&h).Elem(), "harness")
		} else {
			// A valid harness with one of its values spoilt gets further.
			h = *rapid.SampledFrom([]func() *Harness{oneBus, twoBuses}).Draw(t, "base")()
			v := reflect.ValueOf(&h).Elem()
			for v.Kind() == reflect.Struct || v.Kind() == reflect.Slice && v.Len() > 0 && rapid.IntRange(0, 9).Draw(t, "deeper") > 0 {
				if v.Kind() == reflect.Slice {
					v = v.Index(rapid.IntRange(0, v.Len()-1).Draw(t, "entry"))
				} else {
					v = v.Field(rapid.IntRange(0, v.NumField()-1).Draw(t, "field"))
				}
			}
			fill(t, v, "spoilt")
		}
		problems := Check(&h)
		c, err := NewCircuit(&h)
		if (err == nil) != (len(problems) == 0) || (c == nil) != (err != nil) {
			t.Fatalf("Check finds %d problems, NewCircuit gives %v, %v", len(problems), c, err)
		}
		_ = Assumptions(&h)
		if c == nil {
			return
		}
		// What passes can be solved: every law has a number within its limits.
		for _, e := range c.Elements {
			if e.Kind == Joint {
				continue
			}
			for _, law := range []Law{e.Off, e.Awake} {
				// The bounds of the file format let through 5e-324 Ω, which has
				// no conductance.
				if law.Value.Mid < 1e-12 || law.Value.Mid > 1e12 {
					continue
				}
				for _, at := range []float64{-1, 0, 1} {
					z := make([]float64, len(c.Parameters))
					for i := range z {
						z[i] = at
					}
					if ohms := law.Ohms(z); !(ohms > 0) {
						t.Fatalf("%s: %v Ω with all parameters at %v", e.Name, ohms, at)
					}
				}
			}
		}
	})
}
