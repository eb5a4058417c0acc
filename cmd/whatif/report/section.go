package report

import (
	"cmp"
	"strings"
)

// sectionView is a section as the template wants it.
type sectionView struct {
	Name, Title string
	// Apart says that on paper the section is hung up apart from the rest.
	Apart  bool
	Blocks []blockView
}

type blockView struct {
	// Is is the kind's name in blockNames.
	Is   string
	Text string
	// State says that a paragraph tells in what state a step is taken.
	State bool
	// Anchor of a heading that is a step of a plan.
	Anchor string
	// Opens and Closes say that a step of a plan starts and ends with the block: on
	// paper a step is not parted from its outcomes.
	Opens, Closes bool
	Items         []itemView
	Header        []headView
	Rows          [][]cellView
}

type headView struct {
	Text    string
	Numeric bool
}

type cellView struct {
	// Label is the column's head, for screens that are too narrow for columns.
	Text, Label     string
	Header, Numeric bool
	// Fault is the index of the fault that the text names, −1 for none.
	Fault int
}

type itemView struct {
	Text string
	// Step and Link lead on to another step of a plan, where they are not empty.
	Step, Link string
	// Elsewhere says that the item is what a plan does not follow.
	Elsewhere bool
}

var blockNames = map[BlockKind]string{Heading: "heading", Paragraph: "paragraph", Verdict: "verdict", Caution: "caution", List: "list", Table: "table"}

// section readies a section for the template; nil stays nil.
func (p *Page) section(s *Section) *sectionView {
	if s == nil {
		return nil
	}
	index := map[string]int{}
	for i, f := range p.data.Faults {
		index[f.Name] = i
	}
	out := &sectionView{Name: s.Name, Title: s.Title}
	open := false // a step has begun
	closeStep := func() {
		if open {
			out.Blocks[len(out.Blocks)-1].Closes = true
		}
		open = false
	}
	for _, b := range s.Blocks {
		if b.Kind != List {
			closeStep()
		}
		if b.Kind == List && open && len(b.Items) > 0 && stepState.MatchString(b.Items[0]) {
			out.Blocks = append(out.Blocks, blockView{Is: blockNames[Paragraph], State: true, Text: b.Items[0]})
			b.Items = b.Items[1:]
		}
		v := blockView{Is: blockNames[b.Kind], Text: b.Text}
		if m := step.FindStringSubmatch(b.Text); b.Kind == Heading && m != nil {
			v.Anchor = s.Name + "-" + m[1]
			v.Opens, open = true, true
		}
		v.Items = itemsOf(b, s.Name)
		v.Header, v.Rows = tableOf(b, index)
		out.Blocks = append(out.Blocks, v)
	}
	closeStep()
	return out
}

// itemsOf readies a list. Where an outcome leads to another step there is a link.
func itemsOf(b Block, section string) []itemView {
	var out []itemView
	for _, item := range b.Items {
		x := itemView{Text: item, Elsewhere: strings.HasPrefix(item, elsewhere)}
		if m := toStep.FindStringSubmatch(item); m != nil {
			x = itemView{Text: m[1], Step: "step " + m[2], Link: section + "-" + m[2]}
		}
		out = append(out, x)
	}
	return out
}

// tableOf readies a table. faultAt are the faults by name: a cell that names one leads
// to it.
func tableOf(b Block, faultAt map[string]int) ([]headView, [][]cellView) {
	var header []headView
	var rows [][]cellView
	for j, text := range b.Header {
		header = append(header, headView{cmp.Or(text, "no."), b.numeric(j)})
	}
	names := b.rowHeader()
	for _, row := range b.Rows {
		var cells []cellView
		for j, text := range row {
			x := cellView{Text: text, Header: j == names, Fault: -1}
			if j < len(header) {
				x.Label, x.Numeric = header[j].Text, header[j].Numeric
			}
			if i, known := faultAt[text]; known {
				x.Fault = i
			}
			cells = append(cells, x)
		}
		rows = append(rows, cells)
	}
	return header, rows
}

func (p *Page) plans() []*sectionView {
	var out []*sectionView
	for i := range p.Options.Plans {
		s := p.section(&p.Options.Plans[i])
		s.Apart = true
		out = append(out, s)
	}
	return out
}
