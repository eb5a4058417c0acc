package report

// sectionView is a section as the template wants it.
type sectionView struct {
	Name, Title string
	Blocks      []blockView
}

type blockView struct {
	// Is names the block's kind: heading, paragraph, caution, list, table.
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
	Text            string
	Header, Numeric bool
	// Fault is the index of the fault that the text names, −1 for none.
	Fault int
}

type itemView struct {
	Text string
	// Step and Link lead on to another step of a plan, where they are not empty.
	Step, Link string
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
	steps := false // the last heading was a step of a plan
	for _, b := range s.Blocks {
		if b.Kind == Heading || b.Kind == Table {
			closeStep()
		}
		if b.Kind == Heading {
			steps = step.MatchString(b.Text)
		}
		if b.Kind == List && steps && stepState.MatchString(b.Items[0]) {
			out.Blocks = append(out.Blocks, blockView{Is: "paragraph", State: true, Text: b.Items[0]})
			b.Items = b.Items[1:]
		}
		v := blockView{Is: blockNames[b.Kind], Text: b.Text}
		if m := step.FindStringSubmatch(b.Text); b.Kind == Heading && m != nil {
			v.Anchor = s.Name + "-" + m[1]
			v.Opens, open = true, true
		}
		for _, item := range b.Items {
			x := itemView{Text: item}
			if m := toStep.FindStringSubmatch(item); m != nil {
				x = itemView{m[1], "step " + m[2], s.Name + "-" + m[2]}
			}
			v.Items = append(v.Items, x)
		}
		names := b.rowHeader()
		for j, text := range b.Header {
			if text == "" {
				text = "no."
			}
			v.Header = append(v.Header, headView{text, b.numeric(j)})
		}
		for _, row := range b.Rows {
			var cells []cellView
			for j, text := range row {
				x := cellView{Text: text, Header: j == names, Numeric: b.numeric(j), Fault: -1}
				if i, known := index[text]; known {
					x.Fault = i
				}
				cells = append(cells, x)
			}
			v.Rows = append(v.Rows, cells)
		}
		out.Blocks = append(out.Blocks, v)
	}
	closeStep()
	return out
}

func (p *Page) plans() []*sectionView {
	var out []*sectionView
	for i := range p.Options.Plans {
		out = append(out, p.section(&p.Options.Plans[i]))
	}
	return out
}
