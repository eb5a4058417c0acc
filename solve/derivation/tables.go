package derivation

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/solve"
)

// scale is a unit for a reading and the digits behind its point.
type scale struct {
	unit   string
	by     float64
	digits int
}

// scale is chosen by what the terms come to.
func (d *Derivation) scale() scale {
	last := 0.0
	if n := len(d.Terms); n > 0 {
		last = math.Abs(d.Terms[n-1].Total)
	}
	switch {
	case d.Quantity == solve.Volts:
		return scale{"V", 1, 4}
	case last >= 1e6:
		return scale{"kΩ", 1e3, 1}
	case last >= 1e3:
		return scale{"Ω", 1, 1}
	case last < 1:
		return scale{"Ω", 1, 3}
	}
	return scale{"Ω", 1, 2}
}

func (s scale) round(v float64) float64 {
	p := math.Pow(10, float64(s.digits))
	return math.Round(v/s.by*p) / p
}

func (s scale) write(v float64) string {
	if v == 0 {
		v = 0 // no −0
	}
	return strings.Replace(fmt.Sprintf("%.*f", s.digits, v), "-", "−", 1)
}

// shownTerm is a term as it is written: rounded so that what is written adds up.
type shownTerm struct {
	*Term
	value, total float64
}

func (d *Derivation) shownTerms(s scale) []shownTerm {
	var out []shownTerm
	last := 0.0
	for i := range d.Terms {
		t := &d.Terms[i]
		total := s.round(t.Total)
		out = append(out, shownTerm{t, s.round(total*s.by - last*s.by), total})
		if !t.Open {
			last = total
		}
	}
	return out
}

// groupNames are groups in the table of terms, where their own words would not do:
// of ohms, of volts.
var groupNames = map[Group][2]string{
	Terminators:  {"terminators, all else perfect or away", ""},
	Transceivers: {"inputs of the modules", "inputs of the modules, wires perfect"},
	FaultOhms:    {"the fault's own resistance", "the fault"},
	TheMeter:     {"the meter itself", "the meter itself"},
}

// terms is the table of terms, healthy beside faulty.
func (x *Comparison) terms() (Section, bool) {
	d := x.Healthy
	if x.Faulty != nil && !x.Faulty.Open {
		d = x.Faulty
	}
	s := d.scale()
	columns := []*Derivation{x.Healthy}
	out := Section{Heading: "The reading as a sum", Header: []string{"put in, one after the other", "healthy, " + s.unit, "sum"}}
	if x.Faulty != nil {
		columns = append(columns, x.Faulty)
		out.Header = append(out.Header, "with the fault, "+s.unit, "sum")
	}
	for _, g := range append(orderOf(d.Quantity), TheMeter) {
		name := groupNames[g][d.Quantity]
		if name == "" {
			name = string(g)
		}
		row := []string{name}
		worth := false
		for _, column := range columns {
			cells := []string{"", ""}
			for _, t := range column.shownTerms(s) {
				if t.Group != g {
					continue
				}
				switch {
				case t.Open && d.Quantity == solve.Ohms:
					cells = []string{"OL", "OL"}
					worth = worth || g == Terminators
				default:
					sign := ""
					if t.value > 0 && t.value != t.total {
						sign = "+"
					}
					cells = []string{sign + s.write(t.value), s.write(t.total)}
					worth = worth || t.Value != 0 || t.value == t.total && g == Terminators
				}
			}
			row = append(row, cells...)
		}
		if worth {
			out.Rows = append(out.Rows, row)
		}
	}
	return out, len(out.Rows) > 0
}

// sources is the table of what each source gives of a voltage.
func (d *Derivation) sources(detail Detail) (Section, bool) {
	if d.Quantity != solve.Volts || len(d.Sources) == 0 || d.still && d.Volts < 1e-9 {
		return Section{}, false
	}
	out := Section{Heading: "What each source gives", Header: []string{"source", "volts", "gives, V"}}
	rest, n := 0.0, 0
	for i, s := range d.Sources {
		if detail == Short && (i >= mostRows || math.Abs(s.Gives) < 1e-6*math.Abs(d.Sources[0].Gives)) {
			rest += s.Gives
			n++
			continue
		}
		out.Rows = append(out.Rows, []string{s.Name, fmt.Sprintf("%.3f", s.Volts), signed(s.Gives)})
	}
	if n > 0 {
		out.Rows = append(out.Rows, []string{fmt.Sprintf("%d more", n), "", signed(rest)})
	}
	out.Rows = append(out.Rows, []string{"together, before the meter loads it", "", signed(d.Volts)})
	return out, true
}

// mostRows is how many elements a short table lists.
const mostRows = 8

func signed(v float64) string {
	if math.Abs(v) < 0.00005 {
		v = 0
	}
	return fmt.Sprintf("%+.4f", v)
}

// weights is the table of what each part does to the reading: elements of one sort at
// one part together.
func (d *Derivation) weights(detail Detail) (Section, bool) {
	if len(d.Weights) == 0 || d.Result < 0 || d.still {
		return Section{}, false
	}
	type sum struct {
		name string
		kind Kind
		part string
		n    int
		ohms []string
		per  float64
	}
	var sums []*sum
	for _, w := range d.Weights {
		k := slices.IndexFunc(sums, func(s *sum) bool { return w.Part != "" && w.Kind != Fault && s.kind == w.Kind && s.part == w.Part })
		if k < 0 {
			k = len(sums)
			sums = append(sums, &sum{name: w.Element, kind: w.Kind, part: w.Part})
		}
		s := sums[k]
		s.n++
		s.ohms = append(s.ohms, ohms(w.Ohms))
		s.per += w.PerPercent
	}
	slices.SortStableFunc(sums, func(a, b *sum) int { return -cmp.Compare(math.Abs(a.per), math.Abs(b.per)) })
	out := Section{Heading: "What moves the reading", Header: []string{"part", "has", "1 % more of it: " + d.Quantity.Unit()}}
	rest, n := 0.0, 0
	for i, s := range sums {
		if detail == Short && (i >= mostRows || math.Abs(s.per) < 1e-4*math.Abs(sums[0].per)) {
			rest += s.per
			n++
			continue
		}
		name, has := s.name, s.ohms[0]
		if s.n > 1 {
			name = map[Kind]string{Wire: "wires of ", Contact: "contacts of ", Input: "inputs of ", Terminator: "terminator "}[s.kind] + s.part
			has = list(s.ohms)
			if len(unique(s.ohms)) == 1 {
				has = fmt.Sprintf("%d × %s", s.n, s.ohms[0])
			}
		}
		out.Rows = append(out.Rows, []string{name, has, fmt.Sprintf("%+.3g", s.per)})
	}
	if n > 0 {
		out.Rows = append(out.Rows, []string{fmt.Sprintf("%d more", n), "", fmt.Sprintf("%+.3g", rest)})
	}
	if d.Quantity == solve.Ohms {
		out.Rows = append(out.Rows, []string{"all of them: 1 % of the reading", "", fmt.Sprintf("%+.3g", 0.01*d.Ohms)})
	}
	return out, true
}
