package drawing

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.com/ohmloom/netlist"
)

// layouts are the harness files of the project.
func layouts(t *testing.T) map[string]*netlist.Circuit {
	t.Helper()
	out := map[string]*netlist.Circuit{}
	for _, pattern := range []string{"../../examples/*/harness.yaml", "../../testdata/layouts/*.yaml"} {
		paths, err := filepath.Glob(pattern)
		if err != nil || len(paths) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(paths), err)
		}
		for _, p := range paths {
			out[p] = circuit(t, strings.TrimPrefix(p, "../../"))
		}
	}
	return out
}

// notesOn puts notes of all kinds on every part, the longer the later.
func notesOn(h *netlist.Harness) map[string][]Note {
	out := map[string][]Note{}
	n := 0
	add := func(name string) {
		n++
		for i := range n % 4 {
			out[name] = append(out[name], Note{Text: fmt.Sprintf("%.*s %d %%", n%30, "reading of H and L <to> & ground", n), Weight: float64(n%11) / 10, Kind: NoteKind((n + i) % 4)})
		}
	}
	for _, x := range h.Connectors {
		if x.Inline {
			add(x.Name + "/a")
			add(x.Name + "/b")
		} else {
			add(x.Name)
		}
	}
	for _, x := range h.Splices {
		add(x.Name)
	}
	for _, x := range h.Modules {
		add(x.Name)
	}
	for _, x := range h.Terminators {
		add(x.Name)
	}
	for _, x := range h.Pairs {
		add(x.Name)
	}
	for _, x := range h.Wires {
		add(x.Name)
	}
	for _, x := range h.Strays {
		add(x.Name)
	}
	return out
}

// Every layout, plain and with notes everywhere: each part once, wires from symbol
// to symbol, nothing on top of anything else.
func TestLayouts(t *testing.T) {
	for name, c := range layouts(t) {
		for _, o := range []*Options{nil, {Notes: notesOn(c.Harness), Foreword: []string{"CAUTION. Supply off."}}} {
			p, err := Draw(c, o)
			if err != nil {
				t.Fatal(err)
			}
			notes := map[string][]Note(nil)
			if o != nil {
				notes = o.Notes
			}
			for _, f := range faultsOf(c.Harness, notes, p.SVG()) {
				t.Errorf("%s, notes %v: %s", name, o != nil, f)
			}
			if n := len(p.SVG()); n > 1<<20 {
				t.Errorf("%s: %d bytes", name, n)
			}
			again, err := Draw(c, o)
			if err != nil || !bytes.Equal(p.SVG(), again.SVG()) {
				t.Errorf("%s: drawn twice it differs (%v)", name, err)
			}
		}
	}
}

// The same for harnesses that nobody would build.
func TestMadeUpHarnesses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHarness(t)
		c, err := netlist.NewCircuit(h)
		if err != nil {
			t.Fatalf("the harness is not sound: %v", err)
		}
		o := &Options{}
		if rapid.Bool().Draw(t, "notes") {
			o = &Options{Notes: notesOn(h), IDPrefix: "p1-"}
		}
		p, err := Draw(c, o)
		if err != nil {
			t.Fatal(err)
		}
		if f := faultsOf(h, o.Notes, p.SVG()); len(f) > 0 {
			t.Fatalf("%d faults:\n%s", len(f), strings.Join(f[:min(8, len(f))], "\n"))
		}
	})
}
