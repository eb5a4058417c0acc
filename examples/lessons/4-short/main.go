// Command 4-short is the fourth lesson: a short between H and L somewhere along a
// trunk, what each end reads, and how the place follows from two readings.
package main

import (
	"fmt"
	"log"
	"math"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/hand"
	"example.com/ohmloom/examples/lessons/page"
	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

func main() {
	p, err := lesson()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Print(p)
}

const drawing = `
  front                                                              rear
   X1 --B1-- S1 --B2-- S2 --B3-- S3 --B4-- X5 --B5-- S4 --B6-- S5 --B7-- S6 --B8-- X9
   T1        |         |         |                   |         |         |        T2
             D1        D2        D3                  D4        D5        D6
             |         |         |                   |         |         |
             X2        X3        X4                  X6        X7        X8
           node-a    node-b    node-c              node-d    node-e   (service)
`

// trunk is the trunk's pairs from the front to the rear, and its inline connector
// behind the fourth.
var trunk = []string{"B1", "B2", "B3", "B4", "B5", "B6", "B7", "B8"}

// way is the trunk as the sums see it.
type way struct {
	*bench.Bench
	metres   float64 // of the trunk
	loop     float64 // ohms of both conductors from end to end, contacts left out
	contacts float64 // ohms of the inline connector, both conductors
	t1       float64
}

func (w *way) perMetre() float64 { return w.loop / w.metres }

func open() (*way, error) {
	b, err := bench.Open("examples/trunk/harness.yaml")
	if err != nil {
		return nil, err
	}
	w := &way{Bench: b, t1: b.Element("terminator T1"), contacts: 2 * b.Element("contact X5.H")}
	for _, p := range trunk {
		w.metres += w.Metres("pair " + p + " H")
		w.loop += b.Element("pair "+p+" H") + b.Element("pair "+p+" L")
	}
	return w, b.Err()
}

// before is how many metres of trunk lie before the middle of a pair.
func (w *way) before(pair string) float64 {
	metres := 0.0
	for _, p := range trunk {
		length := w.Metres("pair " + p + " H")
		if p == pair {
			return metres + length/2
		}
		metres += length
	}
	return metres
}

// short is the short half-way along a pair, with some ohms of its own.
func (w *way) short(pair string, ohms float64) (front, rear float64, err error) {
	list := w.Faults("short H to L in pair " + pair)
	if err := w.Err(); err != nil {
		return 0, 0, err
	}
	short := list[0].With(ohms, 0.5)
	front = w.ReadsWith(w.Ohms("X1", "H-L"), short).Number
	rear = w.ReadsWith(w.Ohms("X9", "H-L"), short).Number
	return front, rear, w.Err()
}

// place works out the metres from the front end, the short taken to have no ohms:
// its share of the way is its share of the two readings.
func (w *way) place(front, rear float64) float64 {
	a, b := hand.Without(front, w.t1), hand.Without(rear, w.t1)
	return w.metres * a / (a + b)
}

// placeByDifference needs the ohms of a metre, but not those of the short: they are
// in both readings and nearly cancel.
func (w *way) placeByDifference(front, rear float64) float64 {
	a, b := hand.Without(front, w.t1), hand.Without(rear, w.t1)
	return w.metres/2 + (a-b)/(2*w.perMetre())
}

func lesson() (*page.Page, error) {
	w, err := open()
	if err != nil {
		return nil, err
	}
	p := page.New("4. A short half-way along: what each end reads, and where it is")
	p.Heading("The question")
	p.Text("H touches L somewhere in a trunk of %g m; nothing works any more. The trunk is under covers from end to end, only its two ends X1 and X9 can be reached. Can two readings tell where to open it?", w.metres)
	p.Drawing(drawing)
	p.Heading("Guess first")
	p.Text("The short is exactly in the middle, at X5. What does the meter show at the front end, and what at the rear end? Then the short moves to the rear, into B6. Which reading grows?")
	if err := middle(p, w); err != nil {
		return nil, err
	}
	if err := anywhere(p, w); err != nil {
		return nil, err
	}
	if err := ownOhms(p, w); err != nil {
		return nil, err
	}
	if err := howSure(p, w); err != nil {
		return nil, err
	}
	p.Heading("Remember")
	p.Points(
		"Near 0 between H and L: a short, and the bus is dead wherever you stand. The end that reads less is nearer.",
		"A short that has no ohms of its own: share of the way = reading here / (reading here + reading there). No table is needed.",
		"A short with some ohms: half of the way plus the difference of the readings over twice the ohms of a metre of pair. Its own ohms nearly cancel.",
		"Zero the leads: a few tenths of an ohm in them are metres of cable. On a harness of a few metres the two readings say which half, no more.",
		"At a tap the reading counts from where its stub leaves the trunk, plus the stub, and does not say to which side. A short in a stub reads at both ends as if it were where the stub leaves, with the stub's wire as its ohms.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"Conductor AWG 20: ASTM B258 diameter, annealed copper of IEC 60028 at 20 °C. Copper changes by 0.393 % a kelvin (IEC 60028).",
		"Longest trunk of 40 m with 120 Ω at both ends: SAE J1939-11, second-hand.",
		"Error of the meter, percent and digits, and of the leads: meter manuals.",
	)
	return p, nil
}

// middle has the short at the inline connector.
func middle(p *page.Page, w *way) error {
	const name = "short H to L at connector X5 (cavities H and L)"
	half := w.loop / 2
	front, rear := w.Reads(w.Ohms("X1", "H-L"), name), w.Reads(w.Ohms("X9", "H-L"), name)
	if err := w.Err(); err != nil {
		return err
	}
	p.Heading("In the middle")
	p.Text("A metre of this conductor has %.1f mΩ, and the current needs H to go and L to come back: %.1f mΩ for a metre of pair, %.2f Ω for the whole trunk and back. The short ends the way in the middle. Both terminators stay plugged in. The one beside the meter takes a share of the current; the other one is behind the short and sees none.",
		1000*w.perMetre()/2, 1000*w.perMetre(), w.loop)
	p.Sums("short at X5",
		page.Sum{Case: "front end, X1", Meter: front, Hand: hand.Parallel(half, w.t1), Working: fmt.Sprintf("%.2f beside %g", half, w.t1), Within: 0.005},
		page.Sum{Case: "rear end, X9", Meter: rear, Hand: hand.Parallel(half+w.contacts, w.t1), Working: fmt.Sprintf("%.2f and the contacts of X5, %.3f, beside %g", half, w.contacts, w.t1), Within: 0.005},
	)
	p.Text("Two readings alike: the short is half-way.")
	return nil
}

// anywhere has it in each pair in turn, without ohms of its own.
func anywhere(p *page.Page, w *way) error {
	var rows [][]string
	for _, pair := range trunk {
		front, rear, err := w.short(pair, 0)
		if err != nil {
			return err
		}
		rows = append(rows, []string{
			pair, fmt.Sprintf("%.1f m", w.before(pair)), page.Ohms(front), page.Ohms(rear),
			fmt.Sprintf("%.1f m", w.place(front, rear)),
		})
	}
	front, rear, err := w.short("B6", 0)
	if err != nil {
		return err
	}
	a, b := hand.Without(front, w.t1), hand.Without(rear, w.t1)
	p.Heading("Anywhere")
	p.Text("Half-way along each pair of the trunk in turn. The last column is worked from the two readings and the length of the trunk, nothing else:")
	p.Table([]string{"short in", "really at", "X1 reads", "X9 reads", "worked out"}, rows...)
	p.Text("The sum, for B6:")
	p.Steps(
		fmt.Sprintf("Take the terminator beside the meter out of each reading: 1 / (1/%.3f − 1/%g) = %.3f, and 1 / (1/%.3f − 1/%g) = %.3f.", front, w.t1, a, rear, w.t1, b),
		fmt.Sprintf("The share of the way from the front: %.3f / (%.3f + %.3f) = %.3f.", a, a, b, a/(a+b)),
		fmt.Sprintf("Of %g m that is %.1f m. Really it is %.1f m; the contacts of X5 make the difference.", w.metres, w.place(front, rear), w.before("B6")),
	)
	p.Text("So near 0 the first step hardly matters. The ohms of a metre do not come into it at all: warm or thin copper moves both readings alike.")
	return nil
}

// ownOhms has a short in B6 that has some ohms of its own.
func ownOhms(p *page.Page, w *way) error {
	var rows [][]string
	for _, ohms := range []float64{0, 1, 5, 20} {
		front, rear, err := w.short("B6", ohms)
		if err != nil {
			return err
		}
		rows = append(rows, []string{
			page.Ohms(ohms), page.Ohms(front), page.Ohms(rear),
			fmt.Sprintf("%.1f m", w.place(front, rear)), fmt.Sprintf("%.1f m", w.placeByDifference(front, rear)),
		})
	}
	front, rear, err := w.short("B6", 5)
	if err != nil {
		return err
	}
	a, b := hand.Without(front, w.t1), hand.Without(rear, w.t1)
	p.Heading("When the short has ohms of its own")
	p.Text("A strand that just touches, or carbon, may have some ohms. They stand in both readings and pull the share towards the middle. The difference of the two readings hardly knows them:")
	p.Table([]string{"short in B6", "X1 reads", "X9 reads", "by share", "by difference"}, rows...)
	p.Text("For 5 Ω, terminators taken out as before: half the trunk, %.1f m, plus (%.3f − %.3f) / (2 × %.4f Ω/m) = %.1f m: together %.1f m. Really: %.1f m.",
		w.metres/2, a, b, w.perMetre(), (a-b)/(2*w.perMetre()), w.placeByDifference(front, rear), w.before("B6"))
	p.Text("Which of the two? The readings say so: if they add up to the %.2f Ω of the whole trunk and back, the short has none of its own.", w.loop)
	return nil
}

// howSure says what a common meter leaves of that.
func howSure(p *page.Page, w *way) error {
	front, rear, err := w.short("B6", 0)
	if err != nil {
		return err
	}
	meter := faults.DefaultInstrument().Zeroed()
	digit := meter.DigitOhms
	round := func(ohms float64) float64 { return math.Round(ohms/digit) * digit }
	a, b := round(front), round(rear)
	worst := (meter.Limit(solve.Ohms, a) + meter.Limit(solve.Ohms, b)) / (2 * w.perMetre())
	low, high := worked(w, a, b, digit/2)

	// The same two readings, weighed by the library.
	var readings []faults.Reading
	for _, x := range []struct {
		at   string
		ohms float64
	}{{"X1", a}, {"X9", b}} {
		readings = append(readings, faults.Reading{Probe: w.Ohms(x.at, "H-L"), Value: solve.Value{Number: x.ohms}})
	}
	match, err := faults.MakeMatch(w.Circuit, faults.Catalogue(w.Circuit), readings, meter, nil)
	if err != nil {
		return err
	}
	var rows [][]string
	rest := 1.0
	for _, part := range match.Parts {
		if part.Probability < 0.05 {
			break
		}
		rest -= part.Probability
		rows = append(rows, []string{part.Part, fmt.Sprintf("%.0f %%", 100*part.Probability)})
	}
	rows = append(rows, []string{"all others", fmt.Sprintf("%.0f %%", 100*rest)})
	p.Heading("How sure that is")
	p.Text("A meter shows tenths of an ohm: %.1f and %.1f for the short in B6. A tenth is %.1f m of pair. The digits alone leave anything from %.1f to %.1f m; the %g digits that a common manual allows for leave ± %.0f m at worst by the difference. In practice two readings of one meter within a minute are off by much the same, and most of it cancels; the library does not count on it:",
		a, b, digit/w.perMetre(), low, high, meter.OhmsDigits, worst)
	p.Table([]string{"part", "at fault"}, rows...)
	p.Text("That is a list of where to look first, not a verdict. What helps: a meter with a finer range, or unplugging at X5 and reading each half by itself (lesson 6).")
	return nil
}

// worked is the range of places by share when both readings may be off by half a
// digit.
func worked(w *way, front, rear, half float64) (low, high float64) {
	return w.place(front-half, rear+half), w.place(front+half, rear-half)
}
