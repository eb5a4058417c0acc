package report

import (
	"regexp"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/drawing"
)

// widest is the widest text that the picture has room for at each place; the scripts
// put the chosen reading there.
const widest = "188.88 kΩ ▲"

// draw draws the harness with what each place reads in healthy wiring.
func draw(c *netlist.Circuit, d *data) (string, error) {
	notes := map[string][]drawing.Note{}
	text := map[string]string{}
	for _, r := range d.Readings {
		at := d.Places[r.Place]
		if text[at.Part] != "" {
			continue // the first kind of reading stands for all
		}
		text[at.Part] = r.Healthy.text(d.Kinds[r.Kind].quantity())
		notes[at.Name] = []drawing.Note{{Text: widest, Kind: drawing.Reading}}
	}
	p, err := drawing.Draw(c, &drawing.Options{Notes: notes, NoTitle: true, IDPrefix: "picture-"})
	if err != nil {
		return "", err
	}
	pieces := strings.SplitAfter(string(p.SVG()), `<g id="picture-part-`)
	for i := 1; i < len(pieces); i++ {
		m := partOfGroup.FindStringSubmatch(pieces[i])
		if m == nil {
			continue
		}
		pieces[i] = strings.ReplaceAll(pieces[i], "; "+widest, "")
		pieces[i] = noteText.ReplaceAllString(pieces[i], "${1}${2}>"+strings.ReplaceAll(text[m[1]], "$", "$$")+"</text>")
	}
	return strings.Join(pieces, ""), nil
}

var (
	partOfGroup = regexp.MustCompile(`^[^>]*data-part="([^"]*)"[^>]*>`)
	// noteText is a text set into a fixed width, which the shorter one goes without.
	noteText = regexp.MustCompile(`(<text [^>]*?) textLength="[^"]*" lengthAdjust="[^"]*"( class="note reading")>` + widest + `</text>`)
)
