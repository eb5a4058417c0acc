package strictyaml_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/strictyaml"
	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v4"
)

var hugeExponent = regexp.MustCompile(`[eE][-+]?[0-9]{4,}`)

// FuzzDecode checks what must hold for every file: problems are one line each
// and lie inside the file; a file without problems obeys the rules, is accepted
// by the schema, and can be written and read back.
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{
		"", "rig: r\n", "rig: r\nrig: s\n", "rig: [\n", "rig: r\n---\n", "\ufeffrig: r\r\nlabels: [010, ~]\r\n", "rig: &a r\nlabels: [*a, !!str b]\n",
		"rig: r\nparts:\n- {name: P1, length_m: 1,5, ends: a, pins: {1: a, 1: b}}\n- name: P2\n  length_m: 0x1f\n  ends: [a, b]\n",
		"{\"rig\": \"r\", \"loads_v\": [1e3, .5, -0, 1_0, .inf]}", "rig: |\n  a\n  b\nframe: {material: 6061, inner: {depth: 9}}\nsteps: 5%\n",
		"? rig\n: r\n<<: {a: b}\n", "\t", "rig: \"\\x\"", "%YAML 1.2\n---\nrig: r\n", positionsFile,
	} {
		f.Add([]byte(seed))
	}
	schema := rigSchema(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		var r rig
		positions, problems := strictyaml.Decode("f", data, &r)
		lines := 2 + bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r"))
		for _, p := range problems {
			if p.What == "" || p.File != "f" || p.Line < 0 || p.Line > lines || p.Line == 0 && p.Column != 0 {
				t.Errorf("malformed problem %#v", p)
			}
			if s := p.String(); strings.ContainsAny(s, "\n\r\x1b") || strings.Contains(s, "go-yaml") {
				t.Errorf("malformed text %q", s)
			}
			if line, _ := positions.Lookup(p.Path); line > lines {
				t.Errorf("%s is on line %d of %d", p.Path, line, lines)
			}
		}
		if len(problems) > 101 {
			t.Errorf("%d problems", len(problems))
		}
		if len(problems) > 0 {
			return
		}
		if broken := constraint.Validate(r); len(broken) > 0 {
			t.Errorf("accepted, but\n%v", broken)
		}
		var n yaml.Node
		if err := yaml.Load(data, &n); err != nil {
			t.Fatalf("accepted, but %v", err)
		}
		// The evaluator writes numbers out, and 1e9999999 is text in a rig.
		if hugeExponent.Match(data) {
			return
		}
		if err := schema.Validate(editorView(t, &n)); err != nil {
			t.Errorf("the reader accepts what the schema refuses:\n%v", err)
		}
		text, err := strictyaml.Encode(r)
		if err != nil {
			t.Fatalf("cannot be written: %v", err)
		}
		var again rig
		if _, problems := strictyaml.Decode("f", text, &again); len(problems) > 0 {
			t.Fatalf("cannot be read back:\n%s\n%v", text, problems)
		}
		if diff := cmp.Diff(r, again, sameRig); diff != "" {
			t.Errorf("read back from\n%s\n(-want +got):\n%s", text, diff)
		}
	})
}
