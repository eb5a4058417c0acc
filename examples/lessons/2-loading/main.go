// Command 2-loading is the second lesson: what ten modules do to the reading, how
// many it takes to leave the band, and what the limits have to do with the driver.
package main

import (
	"fmt"
	"log"
	"math"

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

// Between the conductors, one module's input in ohms (R diff).
const (
	leastLegal    = 10e3  // ISO 11898-2:2003, from memory
	leastLegal16  = 12e3  // the 2016 edition, from memory
	greatestLegal = 100e3 // both, from memory
	typical       = 30e3  // TJA1051 data sheet, table 7
	published     = 20e3  // MCP2551 data sheet DS21667F, least
)

// The MCP2551 data sheet DS21667F gives 112 nodes for inputs of 20 kΩ, terminators
// of 120 Ω and the 45 Ω that its driver can feed.
const (
	publishedNodes = 112
	leastFed       = 45.0 // Ω
)

// exactly names a kind of transceiver in a bus of modules.
func exactly(rdiff float64) *netlist.TransceiverKind {
	half := rdiff / 2
	return &netlist.TransceiverKind{
		Name:             fmt.Sprintf("r%g", rdiff),
		UnpoweredMinOhms: half, UnpoweredMaxOhms: half,
		AwakeMinOhms: half, AwakeMaxOhms: half,
		Source: "chosen for the lesson",
	}
}

// bus is n modules of a kind on one splice, and two terminators crimped into it.
// The wires are next to nothing, so that what shows is the modules'. kind is one of
// the built-in ones unless own is given.
func bus(n int, terminator float64, kind string, own *netlist.TransceiverKind) *netlist.Harness {
	h := &netlist.Harness{
		Name:       "modules on one splice",
		Note:       "invented, for teaching",
		Networks:   []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{{Name: "X1"}},
		Splices:    []netlist.Splice{{Name: "S1"}},
		Pairs:      []netlist.Pair{{Name: "P1", From: []string{"X1"}, To: []string{"S1"}, Ohms: wireOhms}},
		Terminators: []netlist.Terminator{
			{Name: "T1", At: "S1", Ohms: terminator}, {Name: "T2", At: "S1", Ohms: terminator},
		},
	}
	if own != nil {
		kind, h.Transceivers = own.Name, []netlist.TransceiverKind{*own}
	}
	for i := range n {
		x := fmt.Sprintf("X%d", i+2)
		h.Connectors = append(h.Connectors, netlist.Connector{Name: x, ContactOhms: wireOhms})
		h.Modules = append(h.Modules, netlist.Module{Name: fmt.Sprintf("m%d", i+1), Connectors: []string{x}, Transceiver: kind})
		h.Pairs = append(h.Pairs, netlist.Pair{Name: fmt.Sprintf("P%d", i+2), From: []string{"S1"}, To: []string{x}, Ohms: wireOhms})
	}
	return h
}

const wireOhms = 1e-4

const each = 120.0 // Ω, the nominal terminator

// reads is what a meter at X1 shows with n modules.
func reads(n int, rdiff float64) (float64, error) {
	b, err := bench.New(bus(n, each, "", exactly(rdiff)))
	if err != nil {
		return 0, err
	}
	v := b.Reads(b.Ohms("X1", "H-L"))
	return v.Number, b.Err()
}

const drawing = `
  H ---+-------+--------+---------+---------+---
       |       |        |         |         |
       |       |        Ri        Ri        Ri
       T1      T2       |         |         |
       |       |      ground    ground    ground    ... one module each
       |       |        |         |         |
       |       |        Ri        Ri        Ri
       |       |        |         |         |
  L ---+-------+--------+---------+---------+---
`

func lesson() (*page.Page, error) {
	p := page.New("2. What ten modules do to the reading")
	p.Heading("The question")
	p.Text("Two terminators read 60 Ω. But every module listens too: its transceiver has a resistance of its own from H to its ground and from L to its ground. How much do ten of them take off the 60, and how many does it take until the reading leaves the band of a healthy bus?")
	p.Drawing(drawing)
	p.Heading("Guess first")
	p.Text("A transceiver has, say, 30 kΩ between H and L. Guess the reading with ten of them: 59? 55? 30? Guess how many bring it down to 50.")

	layer, ok := netlist.LayerByName("high-speed")
	if !ok {
		return nil, fmt.Errorf("there is no layer high-speed")
	}
	if err := ten(p); err != nil {
		return nil, err
	}
	if err := kinds(p); err != nil {
		return nil, err
	}
	if err := howMany(p, layer); err != nil {
		return nil, err
	}
	if err := driver(p, layer); err != nil {
		return nil, err
	}

	p.Heading("Remember")
	p.Points(
		fmt.Sprintf("Ten modules take %.1f Ω off the 60 if each has 30 kΩ, %.1f Ω if each has the least allowed.", each/2-hand.Parallel(each/2, typical/10), each/2-hand.Parallel(each/2, leastLegal/10)),
		"With the supply off modern parts nearly let go of the bus: expect 60, not less. Older ones keep some of their load.",
		fmt.Sprintf("Modules do not make a 40: that would take %.0f of the least allowed. One more terminator does.", math.Ceil(byHand(each/3, leastLegal))),
		"The limits of the load belong to the driver: with so much load it still makes a difference that every receiver understands.",
		"Ohms with the supply off, volts with it on: set the meter before its leads touch.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"R diff 19 to 52 kΩ, typically 30: TJA1051 data sheet, table 7. 10 to 100 kΩ (2003) and 12 to 100 kΩ (2016): ISO 11898-2, from memory.",
		"112 nodes, 20 kΩ, 45 Ω: MCP2551 data sheet DS21667F.",
		"Differences of 1.5 to 3.0 V at 50 to 65 Ω and 1.4 to 3.3 V at 45 to 70 Ω: data sheet SLLSF17B, as ISO 11898-2:2016. Receivers 0.9 V: data sheets SLLS788 table 3, SLLSF19 table 4.",
		"Driver of 5 V, 24 Ω and 0.7 V on either side: this project's fit to the TJA1051 data sheet.",
		"Leakage of unpowered parts, 5 to 10 µA at 5 V (modern) and 100 to 250 µA (older): data sheets NCV7349, TJA1051, TJA1041A.",
	)
	return p, nil
}

// ten puts ten modules of different inputs on the bus.
func ten(p *page.Page) error {
	const n = 10
	var sums []page.Sum
	for _, k := range []struct {
		name  string
		rdiff float64
	}{
		{"least allowed, 2003", leastLegal}, {"least allowed, 2016", leastLegal16},
		{"typical", typical}, {"greatest allowed", greatestLegal},
	} {
		b, err := bench.New(bus(n, each, "", exactly(k.rdiff)))
		if err != nil {
			return err
		}
		sums = append(sums, page.Sum{
			Case: fmt.Sprintf("%g kΩ, %s", k.rdiff/1e3, k.name), Meter: b.Reads(b.Ohms("X1", "H-L")),
			Working: fmt.Sprintf("1 / (1/60 + %d/%g)", n, k.rdiff), Hand: hand.Parallel(each/2, k.rdiff/n), Within: 0.01,
		})
		if err := b.Err(); err != nil {
			return err
		}
	}
	p.Heading("Ten modules, and why it is not more")
	p.Text("Current goes from H through one half Ri to ground and through the other half up to L: between H and L the module is 2 Ri, called R diff. The grounds of all modules are one point, and since all halves are alike no current needs to change from one module to another there. All modules hang side by side, so ten of them are a tenth of one. The terminators are 60, and what is in parallel adds up as conductance. (Here the modules keep their resistance with the supply off; the next section says whether real ones do.)")
	p.Sums("R diff of each", sums...)
	oneMore := hand.Parallel(each/2, typical) - each/2
	p.Text("By rule of thumb one module takes 60 × 60 / R diff off the 60: %.2f Ω for 30 kΩ (exactly %.4f), %.2f Ω for 10 kΩ. Ten take ten times that, less a little.",
		each/2*each/2/typical, -oneMore, each/2*each/2/leastLegal)
	return nil
}

// kinds reads ten modules of the built-in kinds, supply off.
func kinds(p *page.Page) error {
	const n = 10
	var rows [][]string
	for _, kind := range []string{"modern", "older"} {
		b, err := bench.New(bus(n, each, kind, nil))
		if err != nil {
			return err
		}
		at := b.Ohms("X1", "H-L")
		v := b.Reads(at)
		off, awake := 2*b.Element("input of m1 H"), 2*b.Awake("input of m1 H")
		if err := b.Err(); err != nil {
			return err
		}
		rows = append(rows, []string{kind, page.Ohms(off), page.Show(at.Quantity, v), page.Ohms(awake), page.Ohms(hand.Parallel(each/2, awake/n))})
	}
	p.Heading("What a meter finds with the supply off")
	p.Text("Those figures are of parts that have their supply. An ohmmeter meets them without it, and then they differ in kind. Ten of each, in the middle of their range:")
	p.Table([]string{"kind", "R diff, supply off", "meter, supply off", "R diff, awake", "load for the driver"}, rows...)
	p.Text("So the reading with the supply off need not be the load that the driver feels: on a bus of modern parts the meter hardly sees the modules at all. The last column is worked by hand; no meter reads it, since ohms are never read with the supply on.")
	return nil
}

// howMany finds how many modules bring the reading to a limit.
func howMany(p *page.Page, layer netlist.Layer) error {
	p.Heading("How many until the reading leaves the band")
	p.Text("The band of a healthy bus is %g to %g Ω. Let n modules bring 60 down to a limit: 1/60 + n/R diff = 1/limit, so n = R diff × (1/limit − 1/60). For %g Ω the bracket is 1/%.0f: n is R diff divided by %.0f. (The modules count as they load the bus when awake; with the supply off it takes more of them.)",
		layer.LoadMinOhms, layer.LoadMaxOhms, layer.LoadMinOhms, 1/(1/layer.LoadMinOhms-2/each), 1/(1/layer.LoadMinOhms-2/each))
	var rows [][]string
	for _, r := range []float64{leastLegal, published, typical, greatestLegal} {
		n, err := mostAbove(layer.LoadMinOhms, r)
		if err != nil {
			return err
		}
		at, err := reads(n, r)
		if err != nil {
			return err
		}
		more, err := reads(n+1, r)
		if err != nil {
			return err
		}
		rows = append(rows, []string{
			fmt.Sprintf("%g kΩ", r/1e3), fmt.Sprintf("%.1f", byHand(layer.LoadMinOhms, r)),
			fmt.Sprint(n), fmt.Sprintf("%.2f Ω", at), fmt.Sprintf("%.2f Ω", more),
		})
	}
	p.Table([]string{"R diff", "n by hand", "most modules", "they read", "one more reads"}, rows...)
	n, err := mostAbove(leastFed, published)
	if err != nil {
		return err
	}
	p.Text("A published figure to hold this against: a data sheet promises a driver that feeds %g Ω, inputs of %g kΩ at least, and %d nodes. By hand %g × (1/%g − 1/60) = %.1f. The library: %d inputs keep the load above %g Ω, one more does not. With the one that is sending that makes %d nodes, the figure of the data sheet.",
		leastFed, published/1e3, publishedNodes, published, leastFed, byHand(leastFed, published), n, leastFed, n+1)
	p.Text("And with terminators of %g Ω each, the least allowed, the band's end is reached before the first module: the limit is one for terminators and modules together.", layer.TerminatorMinOhms)
	return nil
}

// byHand is how many inputs bring two terminators down to a limit.
func byHand(limit, rdiff float64) float64 { return rdiff * (1/limit - 2/each) }

// mostAbove is the greatest number of modules with which the meter shows no less
// than a limit. It looks where the formula points and takes the solver's word.
func mostAbove(limit, rdiff float64) (int, error) {
	const around = 3
	guess := int(byHand(limit, rdiff))
	for n := max(1, guess-around); n <= guess+around; n++ {
		v, err := reads(n+1, rdiff)
		if err != nil {
			return 0, err
		}
		if v < limit {
			return n, nil
		}
	}
	return 0, fmt.Errorf("%d modules of %g Ω still read above %g Ω, and by hand it is %d", guess+around+1, rdiff, limit, guess)
}

// driver feeds loads from 40 to 120 Ω.
func driver(p *page.Page, layer netlist.Layer) error {
	d := netlist.DefaultDriver
	source := d.DriveVolts - d.DriveHDiodeVolts - d.DriveLDiodeVolts
	var sums []page.Sum
	for _, load := range []struct {
		ohms float64
		what string
	}{
		{each, "one terminator missing"}, {layer.LoadMaxOhms, "greatest"}, {60, "nominal"},
		{layer.LoadMinOhms, "least"}, {leastFed, "least that is fed"}, {40, "three terminators"},
	} {
		b, err := bench.New(bus(2, 2*load.ohms, "modern", nil))
		if err != nil {
			return err
		}
		level := b.Volts("X1", "H-L").WithSender("m1")
		// Both modules' awake inputs hang beside the terminators.
		input := 2 * b.Awake("input of m1 H")
		across := hand.Parallel(load.ohms, input, input)
		sums = append(sums, page.Sum{
			Case: fmt.Sprintf("%g Ω, %s", load.ohms, load.what), Quantity: level.Quantity, Meter: b.Reads(level),
			Working: fmt.Sprintf("%.1f × %.1f / (%.1f + %g + %g)", source, across, across, d.DriveHOhms, d.DriveLOhms),
			Hand:    hand.Divider(source, across, d.DriveHOhms, d.DriveLOhms), Within: 0.005,
		})
		if err := b.Err(); err != nil {
			return err
		}
	}
	p.Heading("Where the limits come from")
	p.Text("A module that sends pulls H up and L down, each through a switch of about %g Ω and a diode of %g V. From its %g V the two diodes leave %.1f V; the rest is a divider, the two switches against the load. The difference between H and L while it sends:",
		d.DriveHOhms, d.DriveHDiodeVolts, d.DriveVolts, source)
	p.Sums("load", sums...)
	p.Text("A driver has to make 1.5 V at %g to %g Ω, and 1.4 V from 45 to 70 Ω, each with a part and a supply at their worst; a receiver understands from %g V on. What lies between is for the wires, for ground shifts and for disturbances. More load, less difference: that is why the load must not fall below a limit, and why each module may take only so little of it.",
		layer.LoadMinOhms, layer.LoadMaxOhms, layer.DominantVolts)
	p.Text("Look at the first line too. With one terminator missing the difference is greater, not less: level alone does not tell of a missing terminator. What suffers is the shape of the edges, by reflections, which these sums of direct current do not show.")
	in := faults.DefaultInstrument()
	p.Text("For the meter: one module of 30 kΩ is %.2f Ω, below what a common meter promises at 60 Ω (± %.2f Ω). Nobody counts modules with an ohmmeter.", each/2*each/2/typical, in.Limit(solve.Ohms, each/2))
	return nil
}
