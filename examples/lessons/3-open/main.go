// Command 3-open is the third lesson: what an open wire reads on either side of the
// meter, in H, in L and in both.
package main

import (
	"fmt"
	"log"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/hand"
	"example.com/ohmloom/examples/lessons/page"
	"example.com/ohmloom/solve"
)

func main() {
	p, err := lesson()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Print(p)
}

// where are the pairs that this lesson breaks.
var where = []struct{ pair, name string }{
	{"P3", "P3, on the front side of the meter"},
	{"P6", "P6, on the rear side of the meter"},
	{"Q1", "Q1, the meter's own stub"},
	{"Q3", "Q3, the stub of the dash"},
}

// opens are the three ways to break a pair.
func opens(pair string) []string {
	return []string{"open H in pair " + pair, "open L in pair " + pair, "open H and L in pair " + pair}
}

func lesson() (*page.Page, error) {
	b, err := bench.Open("examples/lessons/line.yaml")
	if err != nil {
		return nil, err
	}
	p := page.New("3. An open wire: before the meter, behind it, in H, in L, in both")
	p.Heading("The question")
	p.Text("Six modules on a line, a terminator in the first and in the last, a meter near the middle. One wire breaks. What does the meter say, and does it say where, and which of the two conductors?")
	p.Drawing(bench.LineDrawing)
	p.Heading("Guess first")
	p.Text("H breaks in P3. What does the meter at X1 show? And if L breaks there instead? If both do? If H breaks in P6, on the other side? If it breaks in the stub of the dash? Write it down.")

	table(p, b)
	reasons(p, b)
	along(p, b)
	side(p, b)
	if err := b.Err(); err != nil {
		return nil, err
	}

	p.Heading("Remember")
	p.Points(
		"120 at the meter: one terminator is cut off. Before the meter or behind it, H or L or both: between H and L all of that reads the same.",
		"Near 60 does not say that no wire is broken: a broken stub to a module without a terminator takes nothing away that an ohmmeter finds. Ask which modules answer.",
		"OL at one connector and near 60 at the others: the break is in that connector's own stub.",
		"Along the conductor, from end to end: whole is a fraction of an ohm, broken is 240, both broken is what the modules leave.",
		"Which side: unplug one end. If 120 stays, that end was the lost one; if it goes to kilohms or OL, that end was the last terminator left.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"120 for one terminator gone, OL or kilohms for none on this side: common practice, no source; the arithmetic is above and in lesson 1.",
		"Unpowered modules, 5 to 10 µA at 5 V or less: data sheets NCV7349, TJA1051. With older parts (100 to 250 µA, TJA1041A) read tens of kilohms where hundreds or megohms stand here.",
	)
	return p, nil
}

// table reads every break at the meter and at both ends.
func table(p *page.Page, b *bench.Bench) {
	at := []string{"X1", "X2", "X7", "X4"}
	header := append([]string{"broken"}, at...)
	read := func(name string, faults ...string) []string {
		row := []string{name}
		for _, x := range at {
			probe := b.Ohms(x, "H-L")
			row = append(row, page.Show(solve.Ohms, b.Reads(probe, faults...)))
		}
		return row
	}
	rows := [][]string{read("nothing")}
	for _, w := range where {
		for i, f := range opens(w.pair) {
			rows = append(rows, read([]string{"H", "L", "H and L"}[i]+" in "+w.pair, f))
		}
	}
	p.Heading("What the meter shows between H and L")
	p.Text("At X1, at both ends (X2 front, X7 rear) and at the dash (X4), all plugged in:")
	p.Table(header, rows...)
}

// reasons works the table by hand.
func reasons(p *page.Page, b *bench.Bench) {
	t1 := b.Element("terminator T1")
	at := b.Ohms("X1", "H-L")
	far := b.Ohms("X2", "H-L")
	input := b.Element("input of dash H")
	own := b.Ohms("X4", "H-L")
	p.Heading("Why")
	p.Text("H broken in P3: to reach T1 the current would have to cross the break. It cannot, so only T2 is left, 120 and a little wire. L broken: the way back from T1 is cut, which is the same to the meter. Both: the same again. And at the front end, X2, the meter sees T1 and not T2. Also 120: a break parts the bus into two halves of one terminator each.")
	p.Text("The stub Q1 carries only the meter. Broken, it takes the meter off the bus; the bus itself is whole, as the other columns show. The stub Q3 carries only the dash, which has no terminator. Broken, it changes nothing that the meter at X1 could see, and the dash is silent all the same.")
	// The dash with H off: from its H down to ground through one input, then up to L
	// through the L inputs of all modules and, by way of the terminators, the H
	// inputs of the other five.
	modules := len(b.Circuit.Units)
	others := make([]float64, 2*modules-1)
	for i := range others {
		others[i] = input
	}
	p.Sums("reading",
		page.Sum{Case: "H broken in P3, at X1", Meter: b.Reads(at, "open H in pair P3"), Hand: t1, Working: "T2 alone", Within: 0.6},
		page.Sum{Case: "L broken in P3, at X2", Meter: b.Reads(far, "open L in pair P3"), Hand: t1, Working: "T1 alone", Within: 0.6},
		page.Sum{
			Case: "H broken in Q3, at X4", Meter: b.Reads(own, "open H in pair Q3"), Hand: hand.Series(input, hand.Parallel(others...)), Within: 200,
			Working: fmt.Sprintf("%s + %s / %d", page.Ohms(input), page.Ohms(input), len(others)),
		},
	)
	p.Text("The last line: at X4 H hangs on the dash alone. Current goes down through one input of the dash to ground and comes back up through the %d other inputs of the bus to L.", len(others))
}

// along reads each conductor from end to end.
func along(p *page.Page, b *bench.Bench) {
	h, l := b.OhmsAcross("X2.H", "X7.H"), b.OhmsAcross("X2.L", "X7.L")
	var rows [][]string
	for _, f := range append([]string{""}, opens("P6")...) {
		name, names := f, []string{f}
		if f == "" {
			name, names = "nothing broken", nil
		}
		rows = append(rows, []string{name, page.Show(solve.Ohms, b.Reads(h, names...)), page.Show(solve.Ohms, b.Reads(l, names...))})
	}
	p.Heading("H or L? Measure along the conductor")
	p.Text("With long leads, zeroed together with the meter: one on H at the front end, one on H at the rear end. Then the same for L.")
	p.Table([]string{"broken", "H, X2 to X7", "L, X2 to X7"}, rows...)

	t := b.Element("terminator T1")
	wire := 0.0
	for _, name := range []string{"P1", "P2", "P3", "P4", "P5", "P6", "P7"} {
		wire += b.Element("pair " + name + " H")
	}
	inline := b.Element("contact X8.H") + b.Element("contact X9.H")
	input := b.Element("input of dash H")
	// With both broken each side's conductors hang together by its terminator, and
	// reach ground through two inputs a module.
	const behind = 3 // lift, lamp and rear
	front := 2 * (len(b.Circuit.Units) - behind)
	p.Sums("H from X2 to X7",
		page.Sum{Case: "whole", Meter: b.Reads(h), Hand: hand.Series(wire, inline), Working: fmt.Sprintf("%.3f wire + %.3f contacts", wire, inline), Within: 0.005},
		page.Sum{Case: "H broken", Meter: b.Reads(h, "open H in pair P6"), Hand: hand.Series(t, t), Working: fmt.Sprintf("%g + %g", t, t), Within: 1},
		page.Sum{Case: "L broken", Meter: b.Reads(h, "open L in pair P6"), Hand: hand.Series(wire, inline), Working: "as whole: H is", Within: 0.005},
		page.Sum{
			Case: "both broken", Meter: b.Reads(h, "open H and L in pair P6"), Within: 500,
			Hand:    input/float64(front) + input/float64(2*behind),
			Working: fmt.Sprintf("%s / %d + %s / %d", page.Ohms(input), front, page.Ohms(input), 2*behind),
		},
	)
	p.Text("Broken H, 240: the current leaves by T1 to L, runs along L, and comes back by T2. The conductor that reads a fraction of an ohm is whole. With both broken only the modules' inputs to ground join the two sides: on each side all conductors hang together by the terminator there, and their inputs are side by side.")
}

// side unplugs one end.
func side(p *page.Page, b *bench.Bench) {
	var rows [][]string
	for _, f := range []string{"", "open H in pair P3", "open H in pair P6"} {
		name, names := f, []string{f}
		if f == "" {
			name, names = "nothing broken", nil
		}
		row := []string{name}
		for _, unplugged := range [][]string{nil, {"X2"}, {"X7"}} {
			row = append(row, page.Show(solve.Ohms, b.Reads(b.Ohms("X1", "H-L", unplugged...), names...)))
		}
		rows = append(rows, row)
	}
	p.Heading("Before the meter or behind it? Unplug one end")
	p.Table([]string{"broken", "X1, all plugged", "X1, X2 unplugged", "X1, X7 unplugged"}, rows...)
	p.Text("With X2 unplugged T1 is taken away on purpose. If the meter showed 120 before and still does, T1 was missing already: the break is between the meter and the front end, or T1 itself is gone. If it now shows kilohms to OL, T1 was the one that was left: look on the rear side.")
}
