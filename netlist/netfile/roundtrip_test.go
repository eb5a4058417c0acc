package netfile_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/netlist/problem"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// builder draws a harness in which everything fits.
type builder struct {
	t *rapid.T
	h netlist.Harness
	n int // names used up
}

func (b *builder) yes(label string) bool { return rapid.Bool().Draw(b.t, label) }

// name returns a name that nothing has yet, some with letters or digits that
// other YAML readers would take for something else.
func (b *builder) name(prefix string) string {
	b.n++
	return fmt.Sprintf(rapid.SampledFrom([]string{"%s%d", "%s_%d", "ö-%s%d", "0%s%d", "%[2]d%[1]s", "%[2]de%[2]d_%[1]s"}).Draw(b.t, "form of the name"), prefix, b.n)
}

func (b *builder) note() string {
	return rapid.OneOf(rapid.Just(""), rapid.StringMatching(`[\p{L}\p{N}\p{P}\p{S} \n\t]{1,40}`)).Draw(b.t, "note")
}

func (b *builder) number(min, max float64) float64 {
	return rapid.Float64Range(min, max).Draw(b.t, "number")
}

func (b *builder) maybe(min, max float64) *float64 {
	if !b.yes("is given") {
		return nil
	}
	x := b.number(min, max)
	return &x
}

// size draws one of the ways to say how large a conductor is.
func (b *builder) size() netlist.Wire {
	var w netlist.Wire
	switch rapid.IntRange(0, 3).Draw(b.t, "size") {
	case 0:
		w.LengthM = b.number(1e-3, 1e4)
		w.SectionMM2 = rapid.SampledFrom([]float64{0.13, 0.35, 0.5, 0.75, 1, 2.5}).Draw(b.t, "section")
	case 1:
		w.LengthM, w.AWG = b.number(1e-3, 1e4), rapid.IntRange(1, 40).Draw(b.t, "awg")
	case 2:
		w.LengthM, w.OhmsPerM = b.number(1e-3, 1e4), b.number(1e-6, 1e6)
	case 3:
		w.Ohms, w.TolerancePct = b.number(1e-6, 1e9), b.maybe(0, 90)
	}
	w.LookMin = b.maybe(0, 1e4)
	return w
}

// place is an end of a cable: what a pair calls it, and its two points.
type place struct{ whole, high, low string }

func (b *builder) connector(network string, inline bool) place {
	x := netlist.Connector{
		Name: b.name("X"), Network: network, Inline: inline,
		ReachMin: b.maybe(0, 1e4), LookMin: b.maybe(0, 1e4), Note: b.note(),
	}
	if b.yes("contact is given") {
		x.ContactOhms = b.number(1e-6, 1e3)
	}
	high, low := "H", "L"
	if b.yes("cavities are given") {
		names := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"1", "2", "010", "a", "B-2", "no", "1e3", "null"}), 2, 2, rapid.ID).Draw(b.t, "cavities")
		high, low = names[0], names[1]
		x.Cavities = []netlist.Cavity{{Name: high, Carries: "H"}, {Name: low, Carries: "L"}}
		if network != "" && b.yes("qualified") {
			x.Cavities[0].Carries = network + ".H"
		}
		if b.yes("with ground") {
			x.Cavities = append(x.Cavities, netlist.Cavity{Name: "gnd", Carries: netlist.GroundRail})
		}
	}
	b.h.Connectors = append(b.h.Connectors, x)
	return place{x.Name, x.Name + "." + high, x.Name + "." + low}
}

// cable joins two places by a pair or by two wires.
func (b *builder) cable(from, to place) {
	size := b.size()
	if b.yes("as a pair") {
		ends := func(p place) []string {
			if b.yes("as points") {
				return []string{p.high, p.low}
			}
			return []string{p.whole}
		}
		b.h.Pairs = append(b.h.Pairs, netlist.Pair{
			Name: b.name("P"), From: ends(from), To: ends(to),
			LengthM: size.LengthM, SectionMM2: size.SectionMM2, AWG: size.AWG, OhmsPerM: size.OhmsPerM, Ohms: size.Ohms, TolerancePct: size.TolerancePct,
			LookMin: size.LookMin,
		})
		return
	}
	size.Name, size.From, size.To = b.name("W"), from.high, to.high
	b.h.Wires = append(b.h.Wires, size)
	size.Name, size.From, size.To = b.name("W"), from.low, to.low
	b.h.Wires = append(b.h.Wires, size)
}

// network draws a row of splices with modules on each.
func (b *builder) network(name string, named bool) {
	b.h.Networks = append(b.h.Networks, netlist.Network{Name: name, Layer: "high-speed"})
	if !named {
		name = ""
	}
	var splices []place
	for range rapid.IntRange(1, 3).Draw(b.t, "splices") {
		s := netlist.Splice{Name: b.name("S"), Network: name, ReachMin: b.maybe(0, 1e4), LookMin: b.maybe(0, 1e4)}
		if b.yes("joins are given") {
			s.Joins = []string{"L", "H"}
		}
		b.h.Splices = append(b.h.Splices, s)
		splices = append(splices, place{s.Name, s.Name + ".H", s.Name + ".L"})
		if n := len(splices); n > 1 {
			b.cable(splices[n-2], splices[n-1])
		}
	}
	for i := range max(2, len(splices)) {
		x := b.connector(name, false)
		m := netlist.Module{
			Name: b.name("M"), Connectors: []string{x.whole},
			Transceiver: rapid.SampledFrom([]string{"", "modern", "older", "mixed", "none"}).Draw(b.t, "transceiver"),
			LookMin:     b.maybe(0, 1e4),
		}
		if m.Transceiver != "none" && named && b.yes("networks are given") {
			m.Networks = []string{name}
		}
		b.h.Modules = append(b.h.Modules, m)
		b.h.Terminators = append(b.h.Terminators, netlist.Terminator{
			Name: b.name("T"), At: m.Name, Network: name, Ohms: b.number(1e-3, 1e9),
			TolerancePct: b.maybe(0, 90), Split: b.yes("split"), LookMin: b.maybe(0, 1e4),
		})
		drop := splices[i%len(splices)]
		if b.yes("by an inline connector") {
			j := b.connector(name, true)
			side := func(half string) place {
				at := func(point string) string { return strings.Replace(point, j.whole+".", j.whole+half+".", 1) }
				return place{j.whole + half, at(j.high), at(j.low)}
			}
			b.cable(x, side("/a"))
			b.cable(side("/b"), drop)
			continue
		}
		b.cable(x, drop)
	}
}

// rates draws entries about any kind or part.
func (b *builder) rates() {
	for range rapid.IntRange(0, 3).Draw(b.t, "rates") {
		r := netlist.FaultRate{Note: b.note(), Source: b.note()}
		which := rapid.IntRange(1, 3).Draw(b.t, "kind, part or both")
		if which&1 != 0 {
			r.Kind = rapid.SampledFrom([]string{"open", "backed-out", "no-supply", "shorted-inside"}).Draw(b.t, "kind of fault")
		}
		if which&2 != 0 {
			names := []string{b.h.Connectors[0].Name, b.h.Splices[0].Name, b.h.Modules[0].Name, b.h.Terminators[0].Name}
			for _, p := range b.h.Pairs {
				names = append(names, p.Name)
			}
			for _, w := range b.h.Wires {
				names = append(names, w.Name)
			}
			r.Part = rapid.SampledFrom(names).Draw(b.t, "part")
		}
		if r.Rate = b.maybe(netlist.LeastRate, netlist.GreatestRate); r.Rate == nil {
			r.Times = b.number(1e-9, 1e6)
		} else if b.yes("cannot happen") {
			*r.Rate = 0
		}
		b.h.Rates = append(b.h.Rates, r)
	}
}

func harnesses() *rapid.Generator[*netlist.Harness] {
	return rapid.Custom(func(t *rapid.T) *netlist.Harness {
		b := &builder{t: t}
		b.h.Name = rapid.StringMatching(`[\p{L}\p{N}\p{P}\p{S}]{1,20}`).Draw(t, "harness")
		b.h.Note = b.note()
		b.h.TemperatureC = b.maybe(-60, 150)
		b.h.LookMin, b.h.LookWireMin = b.maybe(0, 1e4), b.maybe(0, 1e4)
		if b.yes("supply is given") {
			b.h.Supply = &netlist.Supply{Volts: b.number(1, 60), LoadOhms: b.number(1e-3, 1e6)}
		}
		names := rapid.SampledFrom([][]string{{"bus"}, {"drive", "no"}}).Draw(t, "networks")
		for _, name := range names {
			b.network(name, len(names) > 1 || b.yes("network is named"))
		}
		if b.yes("stray path") {
			b.h.Strays = []netlist.Stray{{
				Name: b.name("R"), From: b.h.Connectors[0].Name + "." + cavityOf(b.h.Connectors[0]), To: netlist.SupplyRail,
				Ohms: b.number(1e-3, 1e12), TolerancePct: b.maybe(0, 90),
			}}
		}
		b.rates()
		return &b.h
	})
}

func cavityOf(x netlist.Connector) string {
	if len(x.Cavities) > 0 {
		return x.Cavities[0].Name
	}
	return "H"
}

// What is written reads back as the same harness, and is written the same.
func TestRoundTrip(t *testing.T) {
	schema := compiledSchema(t)
	rapid.Check(t, func(t *rapid.T) {
		want := harnesses().Draw(t, "harness")
		if problems := netlist.Check(want); len(problems) > 0 {
			t.Fatalf("the test draws a harness that does not fit:\n%v", problems)
		}
		text, err := netfile.Format(want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := netfile.Parse("h.yaml", text)
		if err != nil {
			t.Fatalf("cannot read back\n%s\n%v", text, err)
		}
		if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
			t.Fatalf("read back from\n%s\n(-want +got):\n%s", text, diff)
		}
		again, err := netfile.Format(got)
		if err != nil || string(again) != string(text) {
			t.Fatalf("written again (%v)\n%s\nfirst\n%s", err, again, text)
		}
		if err := schema.Validate(editorView(t, text)); err != nil {
			t.Fatalf("the schema refuses\n%s\n%v", text, err)
		}
	})
}

// FuzzParse checks what must hold for every file.
func FuzzParse(f *testing.F) {
	for _, path := range examples(f) {
		data, err := netfile.Load(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, seed := range []string{
		"", "harness: h\n", "harness: h\nnetworks:\n- {name: n, layer: high-speed}\nconnectors: [{name: X, cavities: {1: n.H, 1: L}}]\n",
		"harness: h\nnetworks: [{name: n, layer: fast}]\nconnectors:\n- {name: X.1}\n- X2\nwires: [{name: W, from: X1, to: X/b.1}]\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := netfile.Parse("h.yaml", data)
		if err != nil {
			var list problem.List
			if !errors.As(err, &list) || len(list) == 0 || h != nil {
				t.Fatalf("got %v and %#v, want no harness and problems", h, err)
			}
			lines := 2 + strings.Count(string(data), "\n") + strings.Count(string(data), "\r")
			for i, p := range list {
				if p.File != "h.yaml" || p.What == "" || p.Line > lines || strings.ContainsAny(p.String(), "\n\r\x1b") {
					t.Errorf("malformed problem %#v", p)
				}
				if i > 0 && p.Line < list[i-1].Line {
					t.Errorf("problem %v is out of order", p)
				}
			}
			return
		}
		if problems := netlist.Check(h); len(problems) > 0 {
			t.Errorf("accepted, but\n%v", problems)
		}
		text, err := netfile.Format(h)
		if err != nil {
			t.Fatalf("cannot be written: %v", err)
		}
		again, err := netfile.Parse("h.yaml", text)
		if err != nil {
			t.Fatalf("cannot be read back:\n%s\n%v", text, err)
		}
		if diff := cmp.Diff(h, again, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("read back from\n%s\n(-want +got):\n%s", text, diff)
		}
	})
}
