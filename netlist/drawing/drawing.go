package drawing

import (
	"fmt"
	"strings"

	"example.com/ohmloom/netlist"
)

// Options say what is drawn beside the harness itself. The zero value draws it
// plain.
type Options struct {
	// Notes stand at the parts that they are filed under: a connector (X3), one
	// half of an inline connector (X5/a, X5/b), a splice, module, terminator,
	// pair, wire or stray path.
	Notes map[string][]Note
	// Foreword is set between the title and the drawing, a paragraph each.
	Foreword []string
	// IDPrefix stands before every id, for pages with more than one picture. It is
	// made of letters, digits, - and _.
	IDPrefix string
	// NoTitle leaves out the harness's name and note, NoLegend what the signs
	// mean.
	NoTitle, NoLegend bool
}

// NoteKind tells what a note says. It decides the frame that the text stands in.
type NoteKind int

// The kinds of notes.
const (
	Remark  NoteKind = iota // anything: no frame
	Reading                 // what a meter read: a thin frame
	Likely                  // how probable a fault there is: a thick frame
	Mark                    // a state such as silent: a dashed frame
)

func (k NoteKind) class() string {
	return [...]string{"remark", "reading", "likely", "mark"}[k]
}

// Note is a short text at a part, and how much weight the part is given.
type Note struct {
	Text string
	// Weight from 0 to 1 lays a band around the part, the thicker and darker the
	// greater. 0: none.
	Weight float64
	Kind   NoteKind
}

func (n *Note) bold() bool { return n.Kind == Likely && n.Weight >= 0.5 }

// Picture is a drawn harness.
type Picture struct {
	// Width and Height in user units, 96 to the inch.
	Width, Height float64
	// Rows is how many rows of trunk it has.
	Rows int
	svg  []byte
}

// SVG is the picture as one svg element, to be written to a file or put into a
// page.
func (p *Picture) SVG() []byte { return p.svg }

// Draw draws a circuit's harness.
//
// It refuses notes that are filed under what the harness does not have, and says
// which.
func Draw(c *netlist.Circuit, o *Options) (*Picture, error) {
	if o == nil {
		o = &Options{}
	}
	g := newGraph(c)
	if err := o.check(g); err != nil {
		return nil, err
	}
	components, links := g.part()
	return arrange(g, components, links, o).render(o, components)
}

// PartID is the id of a part's element in a picture with that IDPrefix.
func PartID(prefix, part string) string { return prefix + "part-" + part }

func (o *Options) check(g *graph) error {
	h := g.c.Harness
	known := map[string]bool{}
	for _, e := range elements(g) {
		known[e.part] = true
	}
	for _, x := range h.Connectors {
		if x.Inline {
			known[x.Name+"/a"], known[x.Name+"/b"] = true, true
		}
	}
	var wrong []string
	for _, k := range sortedKeys(o.Notes) {
		if !known[k] {
			wrong = append(wrong, fmt.Sprintf("a note is filed under %q, which harness %q does not have; write the name of a connector (or X5/a, X5/b of an inline one), splice, module, terminator, pair, wire or stray path", k, h.Name))
		}
		for _, n := range o.Notes[k] {
			if !(n.Weight >= 0 && n.Weight <= 1) {
				wrong = append(wrong, fmt.Sprintf("the note %q at %s has weight %v; write a number from 0 to 1", n.Text, k, n.Weight))
			}
			if n.Kind < Remark || n.Kind > Mark {
				wrong = append(wrong, fmt.Sprintf("the note %q at %s has the kind %d; write Remark, Reading, Likely or Mark", n.Text, k, n.Kind))
			}
		}
	}
	for _, r := range o.IDPrefix {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_') {
			wrong = append(wrong, fmt.Sprintf("IDPrefix is %q; write letters, digits, - and _ only", o.IDPrefix))
			break
		}
	}
	if len(wrong) > 0 {
		return fmt.Errorf("drawing: %s", strings.Join(wrong, "; "))
	}
	return nil
}
