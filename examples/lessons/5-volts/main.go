// Command 5-volts is the fifth lesson: why a voltmeter finds a bus nearly healthy
// when half of it is gone.
package main

import (
	"fmt"
	"log"

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

// share of the time in which the whole bus is dominant; chosen for the lesson.
const share = 0.2

// What is wrong, in the order of the tables.
const (
	bothOpen = "open H and L in pair P6"
	hOpen    = "open H in pair P6"
	lOpen    = "open L in pair P6"
	shorted  = "short H to L in pair P6"
)

var wrong = []string{bothOpen, hOpen, lOpen, shorted}

func lesson() (*page.Page, error) {
	b, err := bench.Open("examples/lessons/line.yaml")
	if err != nil {
		return nil, err
	}
	p := page.New("5. Why the volts look healthy when half the bus is gone")
	p.Heading("The question")
	p.Text("Both wires of P6 are broken. Lift, lamp and rear are cut off from front, pump and dash: half of the modules do not answer. The supply is on, and somebody puts a voltmeter on the bus at X1 and says: 2.5 V on both, the bus is fine. Is the meter wrong?")
	p.Drawing(bench.LineDrawing)
	p.Heading("Guess first")
	p.Text("Nobody sends: how many volts has H to ground at X1, how many at X7, behind the break? Then the modules send, the bus is dominant for %.0f %% of the time: what does a multimeter show for H and for L, healthy and broken? To a tenth of a volt, can you tell them apart?", 100*share)

	idle(p, b)
	levels(p, b)
	traffic(p, b)
	truth(p, b)
	if err := b.Err(); err != nil {
		return nil, err
	}

	p.Heading("Remember")
	p.Points(
		"2.5 V on H and on L says that some module on this piece of wire is awake. It does not say that the wire goes anywhere.",
		"A multimeter shows the mean. Traffic lifts H and lowers L by a few tenths of a volt, and how much depends as much on how busy the bus is as on whether half of it is missing.",
		"With traffic H rises as far as L falls, so together they stay at twice the idle level. If one moves and the other stays, one conductor is broken somewhere.",
		"2.50 on both while modules try to send can be a short from H to L as well.",
		"Volts find what ties a wire to ground or to the supply. Breaks are found by who answers, and by ohms with the supply off.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"Idle level of 2.0 to 3.0 V, middle 2.5: data sheet SLLSF17B, as ISO 11898-2:2016. Dominant about 3.5 V and 1.5 V at 60 Ω: TJA1051 data sheet, typical.",
		"Mean of H about 2.6 to 2.8 V and of L 2.2 to 2.4 V with traffic, sum about 5 V: common practice, no source; the sum above gives the same for a bus dominant 10 to 30 % of the time.",
		"The voltmeter has 10 MΩ: meter manuals.",
		"Here every module sends equally often, also one that nobody hears; a real one may give up after a while.",
	)
	return p, nil
}

// ground are the two probes of a place, to ground.
func ground(b *bench.Bench, place string) (h, l faults.Probe) {
	return b.Volts(place, "H-ground"), b.Volts(place, "L-ground")
}

func idle(p *page.Page, b *bench.Bench) {
	var probes []faults.Probe
	for _, x := range []string{"X1", "X7"} {
		h, l := ground(b, x)
		probes = append(probes, h, l)
	}
	p.Heading("Nobody sends")
	p.Table([]string{"", "X1 H", "X1 L", "X7 H", "X7 L"}, rows(b, probes)...)
	input := b.Awake("input of dash H")
	p.Text("Every module that is awake holds H and L at 2.5 V, each through a resistance of its own, here %s. That is only a leaning, so that the wires lie somewhere while nobody sends. Cut the bus in two, and each piece still has modules that hold it. No current flows, so there is nothing for the break to interrupt.", page.Ohms(input))
	h, _ := ground(b, "X1")
	modules := 3 // front, pump and dash
	meter := b.Meter.Meter.InputOhms
	p.Sums("H at X1",
		page.Sum{
			Case: "both broken", Quantity: solve.Volts, Meter: b.Reads(h, bothOpen), Within: 0.001,
			Hand: hand.Divider(2.5, meter, input/float64(2*modules)),
			Working: fmt.Sprintf("2.5 × 10 MΩ / (10 MΩ + %s / %d)",
				page.Ohms(input), 2*modules),
		},
	)
	p.Text("Even the meter's own load does not show: on this side %d inputs hold it against 10 MΩ, H's own and, by way of T1, those of L.", 2*modules)
}

func levels(p *page.Page, b *bench.Bench) {
	h, l := ground(b, "X1")
	var probes []faults.Probe
	for _, sender := range []string{"dash", "lift"} {
		probes = append(probes, h.WithSender(sender), l.WithSender(sender))
	}
	p.Heading("One module sends")
	p.Text("What a scope shows at X1 during a dominant bit of the dash, which is on this side of the break, and of the lift, which is behind it:")
	p.Table([]string{"", "dash: H", "dash: L", "lift: H", "lift: L"}, rows(b, probes)...)

	d := netlist.DefaultDriver
	source := d.DriveVolts - d.DriveHDiodeVolts - d.DriveLDiodeVolts
	whole, half := loads(b)
	sum := func(name string, fault []string, load float64) page.Sum {
		v := hand.Divider(source, load, d.DriveHOhms, d.DriveLOhms)
		return page.Sum{
			Case: name, Quantity: solve.Volts, Meter: b.Reads(h.WithSender("dash"), fault...), Hand: 2.5 + v/2, Within: 0.01,
			Working: fmt.Sprintf("2.5 + %.1f × %.1f / (%.1f + %g + %g) / 2", source, load, load, d.DriveHOhms, d.DriveLOhms),
		}
	}
	p.Sums("H while the dash sends", sum("healthy", nil, whole), sum("both broken", []string{bothOpen}, half))
	p.Text("The dash now feeds one terminator in place of two, so its level even grows. (Load: terminators beside the awake inputs, as in lesson 2.) Of the lift nothing arrives: the line stays at rest. With H alone broken the lift still pulls L down, and H on this side is hauled along through T1: both lie low together, with no difference for a receiver to see. With L alone broken it is the other way round. H shorted to L never parts from it.")
}

// loads are what a driver of this side feeds, healthy and with the rear side gone.
func loads(b *bench.Bench) (whole, half float64) {
	t, input := b.Element("terminator T1"), 2*b.Awake("input of dash H")
	return hand.Parallel(t, t, input/6), hand.Parallel(t, input/3)
}

func traffic(p *page.Page, b *bench.Bench) {
	h, l := ground(b, "X1")
	var probes []faults.Probe
	for _, q := range []faults.Probe{h, l} {
		q = q.WithTraffic()
		q.DominantShare = share
		probes = append(probes, q)
	}
	p.Heading("All send in turn, and a multimeter looks on")
	table := rows(b, probes)
	both := b.Table(wrong, probes...)
	if b.Err() != nil {
		return
	}
	table[0] = append(table[0], page.Show(solve.Volts, solve.Value{Number: both.Healthy[0].Number + both.Healthy[1].Number}))
	for i, r := range both.Rows {
		table[i+1] = append(table[i+1], page.Show(solve.Volts, solve.Value{Number: r.Values[0].Number + r.Values[1].Number}))
	}
	p.Table([]string{"", "X1 H", "X1 L", "H + L"}, table...)

	d := netlist.DefaultDriver
	source := d.DriveVolts - d.DriveHDiodeVolts - d.DriveLDiodeVolts
	whole, half := loads(b)
	high := func(load float64) float64 { return 2.5 + hand.Divider(source, load, d.DriveHOhms, d.DriveLOhms)/2 }
	near, far := high(half), 5-high(half)
	p.Sums("mean of H",
		page.Sum{
			Case: "healthy", Quantity: solve.Volts, Meter: b.Reads(probes[0]), Within: 0.01,
			Hand: hand.Mean(2.5, high(whole), share), Working: fmt.Sprintf("2.5 + %g × (%.2f − 2.5)", share, high(whole)),
		},
		page.Sum{
			Case: "both broken", Quantity: solve.Volts, Meter: b.Reads(probes[0], bothOpen), Within: 0.01,
			Hand: hand.Mean(2.5, near, share/2), Working: fmt.Sprintf("2.5 + %g × (%.2f − 2.5)", share/2, near),
		},
		page.Sum{
			Case: "H broken", Quantity: solve.Volts, Meter: b.Reads(probes[0], hOpen), Within: 0.01,
			Hand:    hand.Mean(2.5, near, share/2) + hand.Mean(0, far-2.5, share/2),
			Working: fmt.Sprintf("2.5 + %g × (%.2f − 2.5) + %g × (%.2f − 2.5)", share/2, near, share/2, far),
		},
	)
	p.Text("The meter cannot follow bits; it shows the mean: at rest most of the time, away from it for the share that is dominant. With both broken only half of the modules are heard at X1, so the share halves, while the level grows a little. With H broken the two halves of the time cancel on H and add up on L.")
	p.Text("How busy the bus is does as much: the healthy one shows %.2f V on H if it is dominant for 10 %% of the time, and %.2f V for 30 %%.",
		hand.Mean(2.5, high(whole), 0.1), hand.Mean(2.5, high(whole), 0.3))

	real := faults.DefaultInstrument()
	b.Meter = real
	band := b.Table(wrong, probes...)
	b.Meter = faults.ExactInstrument()
	if b.Err() != nil {
		return
	}
	off := both.Healthy[0].Number - both.Rows[0].Values[0].Number
	p.Text("Healthy and half gone lie %.2f V apart on H. The meter itself may be off by %.2f V (%g %% and %g digits), the modules' idle level alone may lie anywhere from 2.0 to 3.0 V, and nobody knows the share of dominant time. Taken together a healthy bus may show from %.2f to %.2f V on H, and every row above lies within that.",
		off, real.Limit(solve.Volts, both.Healthy[0].Number), real.VoltsPct, real.VoltsDigits, band.Bands[0].WorstLow.Number, band.Bands[0].WorstHigh.Number)
}

func truth(p *page.Page, b *bench.Bench) {
	if b.Err() != nil {
		return
	}
	answers, err := faults.MakeAnswerTable(b.Circuit, b.Faults(wrong...), "X1", nil)
	if err != nil {
		b.Keep(err)
		return
	}
	ohms := b.Ohms("X1", "H-L")
	header := []string{"", "ohms at X1, supply off"}
	healthy := []string{"healthy", page.Show(solve.Ohms, b.Reads(ohms))}
	for k, u := range answers.Units {
		header = append(header, b.Circuit.Units[u].Name)
		healthy = append(healthy, answers.Healthy[k].String())
	}
	table := [][]string{healthy}
	for _, r := range answers.Rows {
		row := []string{r.Fault.Name, page.Show(solve.Ohms, b.Reads(ohms, r.Fault.Name))}
		for _, a := range r.Answers {
			row = append(row, a.String())
		}
		table = append(table, row)
	}
	p.Heading("What does tell")
	p.Text("The meter was not wrong. It was asked the wrong question: not whether a module holds the wire, but whether the wire arrives.")
	p.Text("Ask every module with a scan tool at X1, and read ohms with the supply off:")
	p.Table(header, table...)
	p.Text("The three breaks silence the same three modules, and the ohms say 120: a terminator has gone with them. Lesson 3 goes on from there.")
	p.Text("That front, pump and dash still understand each other is so by level. With one terminator gone the edges ring; on a long or a fast bus they may fall silent too.")
}

// rows is the healthy bus and each of what is wrong, one column for each probe.
func rows(b *bench.Bench, probes []faults.Probe) [][]string {
	t := b.Table(wrong, probes...)
	if b.Err() != nil {
		return nil
	}
	line := func(name string, values []solve.Value) []string {
		out := []string{name}
		for _, v := range values {
			out = append(out, page.Show(solve.Volts, v))
		}
		return out
	}
	out := [][]string{line("healthy", t.Healthy)}
	for _, r := range t.Rows {
		out = append(out, line(r.Fault.Name, r.Values))
	}
	return out
}
