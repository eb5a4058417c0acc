// Package drawing draws a harness as an SVG picture, from the netlist alone.
//
//	picture, err := drawing.Draw(circuit, &drawing.Options{
//		Notes: map[string][]drawing.Note{
//			"P9": {{Text: "98 %", Weight: 0.98, Kind: drawing.Likely}},
//			"X1": {{Text: "H–L 60.8 Ω", Kind: drawing.Reading}},
//		},
//	})
//
// # What is drawn
//
// The trunk of each network (the way by wire between the two terminators that lie
// farthest apart) is a straight line, turned round into the next row where the
// page ends. What hangs off it stands above and below. A splice is a dot, or dots
// on one bar. Connectors are boxes, each half of an inline connector its own;
// what plugs in stands next to them behind a pair of contacts. Everything stands
// once. Wires that close a loop or lead to another network are drawn between the
// rows; they cross nothing but wires, without a dot.
//
// Networks differ in dash as well as in colour, suspicion is width and text as
// well as shade, so the picture can be printed in grey.
//
// # For pages
//
// The picture is one svg element without scripts, style sheets, fonts or links.
// Each part is a group:
//
//	<g id="part-P9" class="part pair weighted" data-part="P9" data-kind="pair"
//	   data-network="drive" data-weight="0.98"><title>...</title>...</g>
//
// with [PartID] as id; its kinds are pair, wire, stray, splice, connector, module
// and terminator. Wires have data-from and data-to, halves of inline connectors
// data-half. The bands of suspicion lie under everything, as
// <g class="band" data-band="P9">. Styles are presentation attributes, so that a page's style sheet
// overrides them: .harness-drawing .band, .box, .wire-line, .note.reading and so
// on. Width and height are in millimetres for A4; a page sets its own.
package drawing
