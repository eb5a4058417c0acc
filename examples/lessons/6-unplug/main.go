// Command 6-unplug is the sixth lesson: what each unplugged connector tells, and how
// to halve the search.
package main

import (
	"fmt"
	"log"
	"math"
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

func lesson() (*page.Page, error) {
	b, err := bench.Open("examples/lessons/line.yaml")
	if err != nil {
		return nil, err
	}
	p := page.New("6. What unplugging tells")
	p.Heading("The question")
	p.Text("A connector that is apart parts the bus, and each half can be measured by itself. What should each half read when all is well? What does it tell when the reading changes, and what when it does not? And with a dozen connectors, which one first?")
	p.Drawing(bench.LineDrawing)
	p.Heading("Guess first")
	p.Text("All is well, and the meter at X1 shows near 60. What does it show after unplugging the dash (X4)? The front (X2) instead? X8 in the trunk instead? The front and the rear together?")

	each(p, b)
	steps(p, b)
	if err := whichEnd(p, b); err != nil {
		return nil, err
	}
	shorted(p, b)
	if err := b.Err(); err != nil {
		return nil, err
	}
	if err := halving(p); err != nil {
		return nil, err
	}
	p.Heading("Remember")
	p.Points(
		"Supply off before each unplugging and each plugging, and before each reading of ohms.",
		"60 to 120: what was unplugged took a terminator with it. 60 stays 60: it had none, and nothing is said of its wires. 120 to kilohms or OL: that was the last terminator.",
		"A trunk connector apart: each half should read 120. The half that does not has the fault.",
		"If the reading becomes what it should be for what is still plugged in, the fault is in what you took away. If it stays wrong, the fault is in what is left.",
		"Split what is in question in the middle, not at the end: each answer then halves it. Connectors that cost much to reach count for more; whatif next weighs that.",
	)
	p.Heading("Where the figures come from")
	p.Points(
		"60, 120, OL and near 0: common practice, no source; the arithmetic is in lesson 1.",
		"Halving n equal places takes log₂ n answers: textbook. How common each fault is: from memory, whatif check lists it.",
	)
	return p, nil
}

// each unplugs every connector in turn.
func each(p *page.Page, b *bench.Bench) {
	var rows [][]string
	read := func(place, unplugged string) string {
		return page.Show(solve.Ohms, b.Reads(b.Ohms(place, "H-L", unplugged)))
	}
	for _, s := range b.Circuit.Sites {
		name, here, there := s.Name, s.Name, s.Name+"/device"
		switch {
		case s.Kind == netlist.SpliceSite || s.Kind == netlist.ConnectorSite && s.Device == "":
			continue
		case s.Kind == netlist.InlineSite:
			here, there = s.Name+"/a", s.Name+"/b"
			name += ", trunk"
		default:
			name += ", " + s.Device
		}
		rows = append(rows, []string{name, read("X1", s.Name), read(here, s.Name), read(there, s.Name)})
	}
	p.Heading("One connector at a time")
	p.Text("All is well. Each connector apart in turn, all others plugged: the reading at X1, at the harness half of that connector (towards the front for X8 and X9), and at what plugs into it (the module, or the half towards the rear):")
	p.Table([]string{"apart", "X1", "harness half", "other half"}, rows...)
	t := b.Element("terminator T1")
	input := b.Element("input of dash H")
	p.Sums("X4, dash, apart",
		page.Sum{Case: "harness half", Meter: b.Reads(b.Ohms("X4", "H-L", "X4")), Hand: hand.Parallel(t, t), Working: "T1 beside T2", Within: 0.6},
		page.Sum{Case: "the dash itself", Meter: b.Reads(b.Ohms("X4/device", "H-L", "X4")), Hand: 2 * input, Working: fmt.Sprintf("2 × %s", page.Ohms(input)), Within: 1},
	)
	p.Text("X2 and X7 carry a terminator inside their module: it leaves with the module, 120 stays on the harness and 120 is in the hand. X3 to X6 carry none: the harness keeps its 60, and the module by itself shows its inputs only. X8 and X9 cut the trunk: each half keeps the terminator of its end, 120 here and 120 there.")
}

// steps goes from 60 to 120 to OL.
func steps(p *page.Page, b *bench.Bench) {
	var rows [][]string
	for _, unplugged := range [][]string{nil, {"X2"}, {"X2", "X7"}, {"X2", "X3", "X4", "X5", "X6", "X7"}} {
		name := "nothing"
		if unplugged != nil {
			name = strings.Join(unplugged, ", ")
		}
		rows = append(rows, []string{name, page.Show(solve.Ohms, b.Reads(b.Ohms("X1", "H-L", unplugged...)))})
	}
	var left []float64
	for range 4 { // pump, dash, lift and lamp
		left = append(left, 2*b.Element("input of dash H"))
	}
	p.Heading("60, 120, OL")
	p.Table([]string{"apart", "X1"}, rows...)
	p.Sums("X2 and X7 apart", page.Sum{
		Case: "at X1", Meter: b.Reads(b.Ohms("X1", "H-L", "X2", "X7")), Hand: hand.Parallel(left...), Within: 1,
		Working: fmt.Sprintf("%s / %d", page.Ohms(left[0]), len(left)),
	})
	p.Text("With both terminators away the four modules that are left still join H and L by their inputs. With all of them apart nothing does: OL. That reading is worth taking: whatever is not OL now, with the supply off, is in the wires, a leak or a short.")
}

// whichEnd has one terminator out of reach, and unplugs the front.
func whichEnd(p *page.Page, b *bench.Bench) error {
	const truth = "open H in pair P3"
	digit := func(v solve.Value) solve.Value {
		if !v.OL && v.Number < 400 {
			v.Number = math.Round(v.Number*10) / 10
		}
		return v
	}
	all, front := b.Ohms("X1", "H-L"), b.Ohms("X1", "H-L", "X2")
	first, second := digit(b.Reads(all, truth)), digit(b.Reads(front, truth))
	other := digit(b.Reads(front, "open H in pair P6"))
	if err := b.Err(); err != nil {
		return err
	}
	readings := []faults.Reading{{Probe: all, Value: first}, {Probe: front, Value: second}}
	meter := faults.DefaultInstrument().Zeroed()
	catalogue := faults.Catalogue(b.Circuit)
	probability := make(map[string][2]float64)
	var order []string
	for i := range readings {
		match, err := faults.MakeMatch(b.Circuit, catalogue, readings[:i+1], meter, nil)
		if err != nil {
			return err
		}
		for _, part := range match.Parts {
			now, known := probability[part.Part]
			if !known {
				order = append(order, part.Part)
			}
			now[i] = part.Probability
			probability[part.Part] = now
		}
	}
	var rows [][]string
	var rest [2]float64
	for _, part := range order {
		now := probability[part]
		if now[0] < 0.02 && now[1] < 0.02 {
			rest[0] += now[0]
			rest[1] += now[1]
			continue
		}
		rows = append(rows, []string{part, percent(now[0]), percent(now[1])})
	}
	rows = append(rows, []string{"all others", percent(rest[0]), percent(rest[1])})
	p.Heading("A terminator is out of reach: at which end?")
	p.Text("The meter at X1 shows %s. One terminator is cut off, and by this reading alone it may be either (lesson 3). Unplug the front, X2, and its T1 with it. Were the fault on the rear side, T1 would have been the one that was left, and the meter would now show %s. It shows %s: nothing has changed, so T1 was lost before. The fault is on the front side.",
		page.Show(solve.Ohms, first), page.Show(solve.Ohms, other), page.Show(solve.Ohms, second))
	p.Text("The library draws the same conclusion with all its faults, tolerances and the meter's error. How probable each part is to be bad, after the first reading and after the second (together more than 100 %%, since two may be bad at once):")
	p.Table([]string{"part", "after one", "after two"}, rows...)
	p.Text("P1, P2, P3, X2 and X8 lie between the meter and T1. The rear side is out of it.")
	return nil
}

func percent(x float64) string {
	if x < 0.01 {
		return "< 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*x)
}

// shorted unplugs with a short in the wires and one in a module.
func shorted(p *page.Page, b *bench.Bench) {
	const (
		inWire   = "short H to L in pair P6"
		inModule = "transceiver shorted inside, H to L, in module pump"
	)
	var rows [][]string
	for _, unplugged := range []string{"", "X3", "X4", "X8", "X9"} {
		var apart []string
		name := "nothing"
		if unplugged != "" {
			apart, name = []string{unplugged}, unplugged
		}
		at := b.Ohms("X1", "H-L", apart...)
		rows = append(rows, []string{name, page.Show(solve.Ohms, b.Reads(at, inWire)), page.Show(solve.Ohms, b.Reads(at, inModule))})
	}
	p.Heading("A short: what makes it go away?")
	p.Table([]string{"apart", "X1, short in P6", "X1, short inside the pump (X3)"}, rows...)
	p.Text("The short in P6 stays whatever module is unplugged. It goes when X9 is apart, since P6 is beyond X9; what is left then is the healthy half with its 120. X8 apart does not help: P6 is on the meter's side of it. The short inside the pump goes with the pump, and with X8, behind which the pump is. The unplugging that turns near 0 into a right reading has the fault on its far side.")
}

// sections of the long line, joined by connectors C1, C2 and so on.
const sections = 8

// long is a line of sections joined by inline connectors, measured at the front end.
func long() *netlist.Harness {
	h := &netlist.Harness{
		Name:     "eight sections",
		Note:     "invented, for teaching",
		Networks: []netlist.Network{{Name: "bus", Layer: "high-speed"}},
		Connectors: []netlist.Connector{
			{Name: "XF", Note: "front"}, {Name: "XR", Note: "rear"},
		},
		Modules: []netlist.Module{
			{Name: "front", Connectors: []string{"XF"}, Transceiver: "modern"},
			{Name: "rear", Connectors: []string{"XR"}, Transceiver: "modern"},
		},
		Terminators: []netlist.Terminator{{Name: "T1", At: "front", Ohms: 120}, {Name: "T2", At: "rear", Ohms: 120}},
	}
	from := "XF"
	for i := 1; i <= sections; i++ {
		to := "XR"
		if i < sections {
			c := fmt.Sprintf("C%d", i)
			h.Connectors = append(h.Connectors, netlist.Connector{Name: c, Inline: true})
			to = c + "/a"
		}
		h.Pairs = append(h.Pairs, netlist.Pair{
			Name: fmt.Sprintf("P%d", i), From: []string{from}, To: []string{to}, LengthM: 3, SectionMM2: 0.35,
		})
		from = fmt.Sprintf("C%d/b", i)
	}
	return h
}

// step is one unplugging and what it said.
type step struct {
	connector string
	reading   solve.Value
	low       bool // the short is on the meter's side
}

// search looks for the short in a section by unplugging where choose says: the
// sections in question are first to last, and the connector behind the chosen one is
// parted. It gives the section that is left.
func search(b *bench.Bench, section int, choose func(first, last int) int) (found int, steps []step) {
	short := fmt.Sprintf("short H to L in pair P%d", section)
	first, last := 1, sections
	for first < last {
		k := choose(first, last)
		if k < first || k >= last {
			b.Keep(fmt.Errorf("connector C%d does not split P%d to P%d", k, first, last))
			break
		}
		c := fmt.Sprintf("C%d", k)
		v := b.Reads(b.Ohms("XF", "H-L", c), short)
		s := step{connector: c, reading: v, low: !v.OL && v.Number < 60}
		steps = append(steps, s)
		if s.low {
			last = k
		} else {
			first = k + 1
		}
	}
	return first, steps
}

// inTurn starts at the meter's end, inMiddle halves what is in question.
func inTurn(first, _ int) int      { return first }
func inMiddle(first, last int) int { return (first + last) / 2 }

// mean is how many unpluggings a way of choosing takes on average, each section as
// probable as the next.
func mean(b *bench.Bench, choose func(first, last int) int) float64 {
	n := 0
	for s := 1; s <= sections; s++ {
		_, steps := search(b, s, choose)
		n += len(steps)
	}
	return float64(n) / sections
}

func halving(p *page.Page) error {
	b, err := bench.New(long())
	if err != nil {
		return err
	}
	const truth = 6
	at := b.Ohms("XF", "H-L")
	before := b.Reads(at, fmt.Sprintf("short H to L in pair P%d", truth))
	var rows [][]string
	first, last := 1, sections
	_, steps := search(b, truth, inMiddle)
	for _, s := range steps {
		asked := fmt.Sprintf("P%d to P%d", first, last)
		var k int
		if _, err := fmt.Sscanf(s.connector, "C%d", &k); err != nil {
			return err
		}
		side := "behind it"
		if s.low {
			side, last = "before it", k
		} else {
			first = k + 1
		}
		left := fmt.Sprintf("P%d to P%d", first, last)
		if first == last {
			left = fmt.Sprintf("P%d", first)
		}
		rows = append(rows, []string{asked, s.connector, page.Show(solve.Ohms, s.reading), side, left})
	}
	turn, middle := mean(b, inTurn), mean(b, inMiddle)
	if err := b.Err(); err != nil {
		return err
	}
	p.Heading("Halve what is in question")
	p.Text("A longer line: %d sections P1 to P%d in a row, joined by connectors C1 to C%d, a terminator in the module at either end, the meter at the front end XF. It shows %s: a short. In which section?", sections, sections, sections-1, page.Show(solve.Ohms, before))
	p.Drawing(`
  front                                                    rear
   XF --P1-- C1 --P2-- C2 --P3-- ...  --P7-- C7 --P8-- XR
   T1                                                  T2
`)
	p.Text("Unplug in the middle of what is in question. Near 0: the short is on the meter's side. 120: it is behind, and T1 is all that is left. Plug back, and split the rest:")
	p.Table([]string{"in question", "apart", "XF", "the short is", "left"}, rows...)
	total := 0
	for k := 1; k <= sections; k++ {
		total += min(k, sections-1)
	}
	p.Text("Each answer halves what is in question: %d, %d, %d, 1. That is log₂ %d = %.0f unpluggings, wherever the short is; played through for every section the library counts %.3g on average. Who starts at the meter's end and goes on connector by connector needs 1 for the first section, 2 for the second, and so on, %d for each of the last two: %d / %d = %.3f on average, and as much by the library: %.3f.",
		sections, sections/2, sections/4, sections, math.Log2(sections), middle, sections-1, total, sections, float64(total)/sections, turn)
	return nil
}
