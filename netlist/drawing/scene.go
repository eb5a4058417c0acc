package drawing

import (
	"example.com/ohmloom/netlist/svg"
)

// Sizes in user units, 96 to the inch.
const (
	nameSize  = 10.0 // text sizes
	textSize  = 9.0
	noteSize  = 9.0
	lineHigh  = 12.0 // one line of text with its space
	notePad   = 3.0  // left and right of a note in its frame
	boxHigh   = 16.0 // a connector's box
	leftPad   = 10.0 // a box begins so far left of its first wire
	contact   = 10.0 // between the halves of a mated connector
	between   = 12.0 // free space between columns
	fromWire  = 6.0  // from a wire to its label
	inBox     = 4.0  // above and below the lines of a module's box
	rowGap    = 14.0 // between rows that no wire runs between
	track     = 9.0  // between wires that run along each other
	lattice   = 12.0 // ends of wires that leave a row stand on a lattice, shifted by half from row to row
	parallels = 7.0  // half the space between two wires in parallel
	fromTrunk = 4.0  // from a trunk's wire to its label
	resistorW = 20.0 // a resistor's rectangle, along the current
	resistorH = 8.0
	signWide  = 20.0 // a terminator's sign, across the pair that it ends
	signHigh  = 12.0 // and along it
	glyphWide = 16.0 // the same in a module's box, with its space
	signLine  = 17.0 // the line that it stands in
	railWide  = 10.0
	railHigh  = 10.0
	strayHigh = resistorW + railHigh
	// Longer texts are cut; the whole text stands in the title.
	mostName = 190.0
	mostNote = 190.0
)

// what a mark is.
type what int

const (
	boxMark      what = iota // a connector's or module's outline
	barMark                  // a splice
	contactMark              // contacts between two halves
	resistorMark             // a terminator or stray path
	signMark                 // a terminator's sign in a module's box
	railMark                 // ground or supply
	textMark
)

// mark is one thing to draw, in the coordinates of its row: x to the right, v
// away from the trunk (up where up is set, else down; on the trunk itself v may
// be negative).
type mark struct {
	what           what
	node           int // -1 for wires
	part, half     string
	row            int
	up             bool
	x0, v0, x1, v1 float64
	text           words
	rail           string
	split          bool
	// toward tells where the leads of a resistor or the device half of a contact
	// are: -1 towards smaller x or v, 1 towards greater; 0 for both.
	toward int
	// turned: the current flows along x rather than along v.
	turned bool
	dots   []float64 // x of a splice's dots
}

// words is one line of text with its style.
type words struct {
	text  string
	size  float64
	bold  bool
	class string
	note  *Note
}

func (w words) wide() float64 {
	x := svg.Width(w.text, w.size, w.bold)
	if w.note != nil {
		x += 2 * notePad
	}
	return x
}

func widest(lines []words) float64 {
	w := 0.0
	for _, l := range lines {
		w = max(w, l.wide())
	}
	return w
}

// spot is a point of a wire, in a row.
type spot struct {
	row  int
	up   bool
	x, v float64
}

// run is a wire as it is drawn within a row.
type run struct {
	edge     int
	from, to spot
	a, b     int // nodes at from and to
}

// wrap is a trunk that goes on in the next row: down along the side of the
// picture.
type wrap struct {
	edges    []int
	from, to int // nodes
	// row is where it begins, right the side at which it turns.
	row        int
	right      bool
	xFrom, xTo float64
	bar        string // the splice whose bar goes on, where no wire does
}

// end is where a wire leaves a row for the space between rows.
type end struct {
	edge, node int
	spot
}

// scene is a laid out harness, before its rows have their heights.
type scene struct {
	marks []mark
	runs  []run
	ends  []end
	wraps []wrap
	rows  []row
}

// row is one row of trunk.
type row struct {
	heading []words
	reverse bool
	// wide is how far it reaches from x = 0, shift how far it is moved right.
	wide, shift float64
	// up and down are how far it reaches from the trunk.
	up, down float64
}

// snapshot remembers how much of a scene there is.
type snapshot struct{ marks, runs, ends int }

func (s *scene) snapshot() snapshot { return snapshot{len(s.marks), len(s.runs), len(s.ends)} }

func (s *scene) restore(k snapshot) {
	s.marks, s.runs, s.ends = s.marks[:k.marks], s.runs[:k.runs], s.ends[:k.ends]
}
