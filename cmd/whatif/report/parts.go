package report

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// placeNote is what there is to say of a place: the harness file's note, and for the
// module's half of a plug that it is that.
func placeNote(h *netlist.Harness, p *faults.Probe) string {
	note := noteOf(h, p.Site)
	if p.Half != "device" {
		return note
	}
	if note != "" {
		note += ", "
	}
	return note + "module half"
}

// noteOf is what the harness file says of a connector.
func noteOf(h *netlist.Harness, name string) string {
	for i := range h.Connectors {
		if h.Connectors[i].Name == name {
			return h.Connectors[i].Note
		}
	}
	return ""
}

// aboutPart says in a few words what a part is.
func aboutPart(h *netlist.Harness, name string) string {
	for _, x := range h.Pairs {
		if x.Name == name {
			return wireText("pair", x.From, x.To, x.LengthM)
		}
	}
	for _, x := range h.Wires {
		if x.Name == name {
			return wireText("wire", []string{x.From}, []string{x.To}, x.LengthM)
		}
	}
	for _, x := range h.Connectors {
		if x.Name == name {
			text := "connector"
			if x.Inline {
				text = "inline connector"
			}
			if x.Note != "" {
				text += ", " + x.Note
			}
			return text
		}
	}
	for _, x := range h.Splices {
		if x.Name == name {
			return "splice"
		}
	}
	for _, x := range h.Terminators {
		if x.Name == name {
			return fmt.Sprintf("terminator at %s, %s", x.At, netlist.FormatOhms(x.Ohms))
		}
	}
	for _, x := range h.Modules {
		if x.Name == name {
			return "module at " + strings.Join(x.Connectors, ", ")
		}
	}
	return ""
}

func wireText(what string, from, to []string, metres float64) string {
	text := fmt.Sprintf("%s, %s to %s", what, strings.Join(from, " and "), strings.Join(to, " and "))
	if metres > 0 {
		text += fmt.Sprintf(", %g m", metres)
	}
	return text
}
