// Command 1-sixty is the first lesson: why a healthy bus reads 60 Ω, and what one
// terminator too few or too many reads.
package main

import (
	"fmt"
	"log"
	"strings"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/hand"
	"example.com/ohmloom/examples/lessons/page"
	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

func main() {
	p, err := lesson()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Print(p)
}

// places is where terminators go, in the order in which this lesson fits them: the
// two where they belong, then two where they do not.
var places = []string{"left", "right", "middle", "X1"}

// bus is three modules on a line with one terminator for each of ohms. spreadPct
// is their tolerance in percent.
func bus(spreadPct float64, ohms ...float64) *netlist.Harness {
	h := &netlist.Harness{
		Name:       "three modules",
		Note:       "invented, for teaching",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}, {Name: "X2"}, {Name: "X3"}, {Name: "X4"}},
		Splices:    []netlist.Splice{{Name: "S1"}},
		Modules: []netlist.Module{
			{Name: "left", Connectors: []string{"X2"}, Transceiver: "modern"},
			{Name: "middle", Connectors: []string{"X3"}, Transceiver: "modern"},
			{Name: "right", Connectors: []string{"X4"}, Transceiver: "modern"},
		},
		Pairs: []netlist.Pair{
			{Name: "P1", From: []string{"X1"}, To: []string{"S1"}, LengthM: 0.5, SectionMM2: 0.35},
			{Name: "P2", From: []string{"S1"}, To: []string{"X2"}, LengthM: 3, SectionMM2: 0.35},
			{Name: "P3", From: []string{"S1"}, To: []string{"X3"}, LengthM: 0.5, SectionMM2: 0.35},
			{Name: "P4", From: []string{"S1"}, To: []string{"X4"}, LengthM: 3, SectionMM2: 0.35},
		},
	}
	for i, r := range ohms {
		h.Terminators = append(h.Terminators, netlist.Terminator{
			Name: fmt.Sprintf("T%d", i+1), At: places[i], Ohms: r, TolerancePct: &spreadPct,
		})
	}
	return h
}

const drawing = `
  left                  S1                  right
   X2 -------P2---------+---------P4------- X4
   T1                  / \                  T2
                     P1   P3
                     /     \
                   X1       X3
                  meter    middle
`

const each = 120.0 // Ω, the nominal terminator of ISO 11898-2

func lesson() (*page.Page, error) {
	p := page.New("1. Why 60, why 120, and what 40 means")
	p.Heading("The question")
	p.Text("A meter between H and L of a healthy bus shows about 60 Ω. Nobody fitted a part of 60 Ω: the bus has two terminators of %s, one at each end. Why 60?", whole(each))
	p.Drawing(drawing)
	p.Heading("Guess first")
	p.Text("Write down what the meter at X1 shows with two terminators, with one, with three, with four, and with none at all. Then read on.")

	if err := counts(p); err != nil {
		return nil, err
	}
	if err := wires(p); err != nil {
		return nil, err
	}
	if err := acrossBreak(p); err != nil {
		return nil, err
	}
	if err := healthyBands(p); err != nil {
		return nil, err
	}
	if err := notProof(p); err != nil {
		return nil, err
	}

	p.Heading("Remember")
	p.Points(
		"Near 60: two terminators can be reached from where the meter is. Near 120: one. Near 40: three. Near 30: four. Kilohms to OL: none.",
		"Divide: 120 by the reading is the number of terminators.",
		"From 50 to 65 nothing is proved wrong; a usual pair of terminators stays much closer to 60.",
		"60 counts terminators. It does not say that they sit at the ends, or that every module is still connected.",
		"Never with the supply on: an ohmmeter takes any voltage that it finds for its own and shows a number that means nothing.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"Terminator of 100 to 130 Ω, nominal 120: ISO 11898-2 of 2003, quoted second-hand. Load of 50 to 65 Ω: test conditions of data sheet SLLSF17B, which follow the 2016 edition.",
		"60, 120, 40, near 0 and OL as readings: common practice, no source. The arithmetic is above.",
	)
	return p, nil
}

// counts reads the bus with none to four terminators.
func counts(p *page.Page) error {
	names := []string{"none", "one", "two", "three", "four"}
	var sums []page.Sum
	var input float64
	for _, n := range []int{2, 1, 3, 4, 0} {
		b, err := bench.New(bus(1, repeat(each, n)...))
		if err != nil {
			return err
		}
		s := page.Sum{
			Case: names[n], Meter: b.Reads(b.Ohms("X1", "H-L")),
			Working: fmt.Sprintf("%g / %d", each, n), Hand: hand.Parallel(repeat(each, n)...),
			// Up to 7 m of wire out and back and a few contacts stand before the
			// terminators.
			Within: 0.6,
		}
		if n == 0 {
			input = b.Element("input of left H")
			modules := len(b.Circuit.Units)
			s.Working = fmt.Sprintf("2 × %s / %d", page.Ohms(input), modules)
			s.Hand, s.Within = hand.Parallel(repeat(2*input, modules)...), 1
		}
		sums = append(sums, s)
		if err := b.Err(); err != nil {
			return err
		}
	}
	p.Heading("What the meter shows, and why")
	p.Sums("terminators", sums...)
	const volts = 1.0
	p.Text("Put 1 V on the two leads in your mind. A terminator of %s takes %.2f mA, whether there are others or not. Two take %.2f mA together, and a meter that sees 1 V and %.2f mA says %s. Each further terminator adds the same current, so n of them read 120 / n.",
		whole(each), 1000*volts/each, 2*1000*volts/each, 2*1000*volts/each, page.Ohms(volts/(2*volts/each)))
	p.Text("Four also means two buses tied together, H to H and L to L, two terminators each.")
	p.Text("With none, what is left is the modules' own inputs: from H through a module to its ground and back up to L. Here each of the two halves is taken as %s, half-way between open and the greatest leakage in the data sheets of modern parts. Real ones may let the meter show OL; older parts leave some ten kilohms. Lesson 2 is about them.", page.Ohms(input))
	return nil
}

// wires explains what stands above 60.
func wires(p *page.Page) error {
	b, err := bench.New(bus(1, each, each))
	if err != nil {
		return err
	}
	stub := 2 * b.Element("pair P1 H")
	pair := 2 * b.Element("pair P2 H")
	contacts := 2 * b.Element("contact X2.H")
	arm := hand.Series(pair, contacts, each)
	meter := b.Reads(b.Ohms("X1", "H-L"))
	if err := b.Err(); err != nil {
		return err
	}
	p.Heading("Why a little more than 60")
	p.Text("The current goes out on H and comes back on L, so every metre of the pair counts twice. The stub P1 carries the current of both terminators and adds its %s in full. Each arm adds its %s of wire and %s of contacts to its own terminator; side by side only half of that shows.",
		mohm(stub), mohm(pair), mohm(contacts))
	p.Sums("two terminators", page.Sum{
		// Left out: the inputs of three modules, 2 MΩ each, which take 5 mΩ off.
		Case: "with the wires", Meter: meter, Hand: hand.Series(stub, hand.Parallel(arm, arm)), Within: 0.006,
		Working: fmt.Sprintf("%.3f + %.3f / 2", stub, arm),
	})
	return nil
}

// acrossBreak reads from end to end along H, whole and broken.
func acrossBreak(p *page.Page) error {
	b, err := bench.New(bus(1, each, each))
	if err != nil {
		return err
	}
	along := b.OhmsAcross("X2.H", "X4.H")
	wire := hand.Series(b.Element("pair P2 H"), b.Element("pair P4 H"))
	const broken = "open H in pair P2"
	whole, open := b.Reads(along), b.Reads(along, broken)
	if err := b.Err(); err != nil {
		return err
	}
	p.Heading("When 240 shows")
	p.Text("Move the leads: one on H at the left end (X2), one on H at the right end (X4). Now the meter looks along one conductor. Then break H in P2.")
	p.Sums("H from X2 to X4",
		page.Sum{Case: "whole", Meter: whole, Hand: wire, Working: "the wire alone", Within: 0.002},
		page.Sum{
			Case: "H broken", Meter: open, Hand: hand.Series(each, each), Within: 0.6,
			Working: fmt.Sprintf("%g + %g: through T1 to L, along L, through T2 back to H", each, each),
		},
	)
	p.Text("The same two resistors: one behind the other 240, side by side 60. A reading says which way the current has to go, not only what parts there are.")
	return nil
}

// healthyBands reads one, two and three terminators at the limits of their
// tolerance.
func healthyBands(p *page.Page) error {
	layer, ok := netlist.LayerByName("high-speed")
	if !ok {
		return fmt.Errorf("there is no layer high-speed")
	}
	low, high := layer.TerminatorMinOhms, layer.TerminatorMaxOhms
	middle := (low + high) / 2
	kinds := []struct {
		name         string
		ohms, spread float64
	}{
		{"120 Ω ± 1 %", each, 1},
		{"120 Ω ± 5 %", each, 5},
		{fmt.Sprintf("%g to %g Ω", low, high), middle, 100 * (high - middle) / middle},
	}
	real := faults.DefaultInstrument().Zeroed()
	var rows [][]string
	for _, n := range []int{1, 2, 3} {
		for _, k := range kinds {
			b, err := bench.New(bus(k.spread, repeat(k.ohms, n)...))
			if err != nil {
				return err
			}
			at := b.Ohms("X1", "H-L")
			exact := b.TableOf(nil, at)
			b.Meter = real
			read := b.TableOf(nil, at)
			if err := b.Err(); err != nil {
				return err
			}
			share := k.spread / 100
			rows = append(rows, []string{
				fmt.Sprint(n), k.name,
				between(hand.Parallel(repeat(k.ohms*(1-share), n)...), hand.Parallel(repeat(k.ohms*(1+share), n)...)),
				between(exact.Bands[0].WorstLow.Number, exact.Bands[0].WorstHigh.Number),
				between(read.Bands[0].WorstLow.Number, read.Bands[0].WorstHigh.Number),
			})
		}
	}
	p.Heading("How far from 60 is still healthy")
	p.Text("No resistor is exactly 120 Ω, no wire exactly its length, no meter exact. By hand only the terminators are taken at their limits; the bus adds wires, contacts, temperature and modules, all to the worse side; the last column adds the error that a common meter's manual admits (%g %% and %g digits).", real.OhmsPct, real.OhmsDigits)
	p.Table([]string{"terminators", "each", "by hand", "this bus", "as read"}, rows...)
	p.Text("The third line of each block is the widest that the standard leaves: %s for two, and %g to %g Ω is what the standard wants between the conductors. Even so the blocks do not meet: one, two and three terminators within the standard cannot be mistaken for each other.",
		between(hand.Parallel(low, low), hand.Parallel(high, high)), layer.LoadMinOhms, layer.LoadMaxOhms)
	return nil
}

// notProof shows a bus with 60 Ω that is not healthy.
func notProof(p *page.Page) error {
	single, err := bench.New(bus(1, each/2))
	if err != nil {
		return err
	}
	wrong := bus(1, each, each)
	wrong.Terminators[1].At = "middle"
	crowded, err := bench.New(wrong)
	if err != nil {
		return err
	}
	one := single.Reads(single.Ohms("X1", "H-L"))
	two := crowded.Reads(crowded.Ohms("X1", "H-L"))
	for _, b := range []*bench.Bench{single, crowded} {
		if err := b.Err(); err != nil {
			return err
		}
	}
	p.Heading("60 that is not healthy")
	p.Sums("terminators",
		page.Sum{Case: "one of 60 Ω, left; none at the right end", Meter: one, Hand: each / 2, Working: "60 / 1", Within: 0.6},
		page.Sum{Case: "120 Ω left and middle, none at the right end", Meter: two, Hand: hand.Parallel(each, each), Working: "120 / 2", Within: 0.6},
	)
	p.Text("Ohms cannot see where a resistor sits. Both buses reflect at the open end, which direct current does not show; the wiring diagram has to say where the terminators belong.")
	return nil
}

func repeat(ohms float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = ohms
	}
	return out
}

func whole(ohms float64) string { return fmt.Sprintf("%g Ω", ohms) }

func mohm(ohms float64) string { return fmt.Sprintf("%.0f mΩ", 1000*ohms) }

func between(low, high float64) string {
	unit := func(v float64) string { return strings.TrimSuffix(page.Ohms(v), " Ω") }
	return unit(low) + " to " + solve.FormatReading(solve.Ohms, solve.Value{Number: high})
}
