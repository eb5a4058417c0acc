package drawing

import (
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/svg"
)

// wireLines are the label of a wire and what is noted about it.
func (p *placer) wireLines(e int) []words {
	x := &p.g.edges[e]
	if x.kind != wireEdge {
		return nil
	}
	return append([]words{{text: x.text, size: textSize, class: "name"}}, p.noteLines(x.part)...)
}

func (p *placer) noteLines(keys ...string) []words {
	var out []words
	for i, k := range keys {
		if i > 0 && k == keys[0] {
			continue
		}
		for j := range p.notes[k] {
			n := &p.notes[k][j]
			if n.Text == "" {
				continue
			}
			out = append(out, words{text: svg.Shorten(n.Text, noteSize, n.bold(), mostNote), size: noteSize, bold: n.bold(), class: "note " + n.Kind.class(), note: n})
		}
	}
	return out
}

// jointLabels sets the labels of a joint between two places on the trunk: above
// it, and below it where two wires run in parallel; notes on a single wire below.
func (p *placer) jointLabels(j joint, x0, x1 float64) {
	if len(j.edges) == 0 || p.docked(j) {
		return
	}
	off := offsets(len(j.edges))
	for i, e := range j.edges {
		lines := p.wireLines(e)
		gap := fromTrunk + p.clear(p.g.edges[e].part)
		at := func(lines []words, v float64) {
			for k, l := range lines {
				p.text(l, edgeOwner(e), (x0+x1-l.wide())/2, v+float64(k)*lineHigh, false)
			}
		}
		switch {
		case i > 0:
			at(lines, off[i]+gap)
		case len(j.edges) > 1:
			at(lines, off[i]-gap-float64(len(lines))*lineHigh)
		default:
			at(lines[:1], -gap-lineHigh)
			at(lines[1:], gap)
		}
	}
}

// clear is how much farther from a part its labels stand for the band of its
// weight.
func (p *placer) clear(part string) float64 {
	if w := weightOf(p.notes, part); w > 0 {
		return bandHalf(w) - 2
	}
	return 0
}

// alsoNamed is the other name that notes at a connector's half may go by.
func (p *placer) alsoNamed(n *node) string {
	if n.half == "a" {
		return n.part
	}
	return n.name()
}

// ownLines are a node's name and what goes with it, where they stand beside the
// symbol or in its box.
func (p *placer) ownLines(n int) []words {
	x := &p.g.nodes[n]
	switch x.kind {
	case spliceNode, terminatorNode, strayNode:
		text := x.part
		if x.value != "" {
			text += "  " + x.value
		}
		return append([]words{{text: shortName(text), size: textSize, bold: true, class: "name"}}, p.noteLines(x.part)...)
	case halfNode:
		return []words{{text: shortName(x.name()), size: nameSize, bold: true, class: "name"}}
	}
	return nil
}

func shortName(text string) string { return svg.Shorten(text, nameSize, true, mostName) }

// wide is the least width of a node's box.
func (p *placer) wide(n int) float64 {
	x := &p.g.nodes[n]
	switch x.kind {
	case halfNode:
		return widest(p.ownLines(n)) + leftPad + float64(len(x.rails))*(railWide+2)
	case moduleNode:
		w := 0.0
		for _, l := range p.moduleLines(n) {
			w = max(w, l.wide+l.words.wide())
		}
		return w + leftPad
	}
	return 0
}

// high is the height of a module's box.
func (p *placer) high(n int) float64 {
	h := 2 * inBox
	for _, l := range p.moduleLines(n) {
		h += l.high()
	}
	return h
}

// boxLine is a line of a module's box; sign marks the line of a terminator.
type boxLine struct {
	words
	sign  *netlist.Terminator
	wide  float64 // before the text
	owner owner
}

func (l *boxLine) high() float64 {
	if l.sign != nil {
		return signLine
	}
	return lineHigh
}

func (p *placer) moduleLines(n int) []boxLine {
	x := &p.g.nodes[n]
	out := []boxLine{{words: words{text: shortName(x.part), size: nameSize, bold: true, class: "name"}, owner: nodeOwner(n)}}
	for _, l := range p.noteLines(x.part) {
		out = append(out, boxLine{words: l, owner: nodeOwner(n)})
	}
	for _, t := range x.inside {
		of := owner{node: n, part: t.Name}
		out = append(out, boxLine{words: words{text: shortName(t.Name + "  " + netlist.FormatOhms(t.Ohms)), size: textSize, class: "name"}, sign: t, wide: glyphWide, owner: of})
		for _, l := range p.noteLines(t.Name) {
			out = append(out, boxLine{words: l, wide: glyphWide, owner: of})
		}
	}
	return out
}

// box draws the box of a connector or module with what stands in it.
func (p *placer) box(n int, x0, v0, x1, v1 float64, up bool) {
	x := &p.g.nodes[n]
	p.mark(mark{what: boxMark, node: n, part: x.part, half: x.half, x0: x0, v0: v0, x1: x1, v1: v1, up: up})
	if x.kind == halfNode {
		at := x0 + leftPad/2
		l := p.ownLines(n)[0]
		p.text(l, nodeOwner(n), at, v0+(boxHigh-lineHigh)/2, up)
		at += l.wide() + 4
		for _, r := range x.rails {
			p.mark(mark{what: railMark, part: x.part, node: n, rail: r, x0: at, x1: at + railWide, v0: v0 + (boxHigh-railHigh)/2, v1: v0 + (boxHigh+railHigh)/2, up: up})
			at += railWide + 2
		}
		return
	}
	down := inBox // from the box's upper edge
	for _, l := range p.moduleLines(n) {
		high := l.high()
		v := v0 + down
		if up {
			v = v1 - down - high
		}
		down += high
		at := x0 + leftPad/2
		if l.sign != nil {
			p.mark(mark{what: signMark, part: l.sign.Name, node: n, x0: at, x1: at + signHigh, v0: v + 1, v1: v + high - 1, up: up, toward: -1, turned: true, split: l.sign.Split})
		}
		p.text(l.words, l.owner, at+l.wide, v+(high-lineHigh)/2, up)
	}
}

// owner is what a mark belongs to: a node or an edge, or a terminator inside a
// module's box.
type owner struct {
	node, edge int
	part       string
}

func nodeOwner(n int) owner { return owner{node: n, edge: -1} }
func edgeOwner(e int) owner { return owner{node: -1, edge: e} }

// stack sets lines of text from v on away from the trunk, the first one on top,
// and gives their height.
func (p *placer) stack(lines []words, of owner, x, v float64, up bool) float64 {
	for i, l := range lines {
		k := i
		if up {
			k = len(lines) - 1 - i
		}
		p.text(l, of, x, v+float64(k)*lineHigh, up)
	}
	return float64(len(lines)) * lineHigh
}

func (p *placer) text(l words, of owner, x, v float64, up bool) {
	m := mark{what: textMark, node: of.node, part: of.part, x0: x, x1: x + l.wide(), v0: v, v1: v + lineHigh, up: up, text: l}
	switch {
	case of.part != "":
	case of.node >= 0:
		m.part, m.half = p.g.nodes[of.node].part, p.g.nodes[of.node].half
	default:
		m.part = p.g.edges[of.edge].part
	}
	p.mark(m)
}

func (p *placer) mark(m mark) {
	m.row = p.row
	p.scene.marks = append(p.scene.marks, m)
}
