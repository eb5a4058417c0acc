package netfile_test

import (
	"bytes"
	"flag"
	"os"
	"testing"

	"example.com/ohmloom/netlist/netfile"
	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
)

var update = flag.Bool("update", false, "write harness.schema.json anew")

const schemaFile = "harness.schema.json"

func TestSchemaFileIsUpToDate(t *testing.T) {
	if *update {
		if err := os.WriteFile(schemaFile, netfile.Schema(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(netfile.Schema()), string(got)); diff != "" {
		t.Errorf("run go test with -update: %s (-want +got):\n%s", schemaFile, diff)
	}
}

func compiledSchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(netfile.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource(netfile.SchemaID, document); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile(netfile.SchemaID)
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

// editorView returns the values that an editor checks. The types that the
// library gives to scalars will do here: nothing in the files below is read
// differently by YAML 1.2.
func editorView(t interface{ Fatalf(string, ...any) }, text []byte) any {
	var document yaml.Node
	if err := yaml.Load(text, &document); err != nil {
		t.Fatalf("not YAML: %v\n%s", err, text)
	}
	var view func(*yaml.Node) any
	view = func(n *yaml.Node) any {
		switch n.Kind {
		case yaml.MappingNode:
			object := make(map[string]any)
			for i := 0; i < len(n.Content); i += 2 {
				object[n.Content[i].Value] = view(n.Content[i+1])
			}
			return object
		case yaml.SequenceNode:
			array := make([]any, len(n.Content))
			for i, entry := range n.Content {
				array[i] = view(entry)
			}
			return array
		}
		var v any
		if err := n.Decode(&v); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		return v
	}
	return view(document.Content[0])
}

func TestSchemaAcceptsExamples(t *testing.T) {
	schema := compiledSchema(t)
	for _, path := range examples(t) {
		data, err := netfile.Load(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(editorView(t, data)); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
}

func TestSchemaRefusesMistakes(t *testing.T) {
	const (
		head  = "harness: h\nlook_min: 0\nlook_wire_min: 40.5\nnetworks: [{name: n, layer: high-speed}]\n"
		valid = head + "connectors: [{name: X1, cavities: {6: H, 14: L}, reach_min: 1, look_min: 10000}]\npairs: [{name: P1, from: X1, to: [X2.1, X2.2], length_m: 1, look_min: 0}]\nrates: [{kind: open, rate: 0}, {part: P1, times: 2.5, note: wet, source: diary}]\n"
	)
	schema := compiledSchema(t)
	if err := schema.Validate(editorView(t, []byte(valid))); err != nil {
		t.Fatalf("refuses a valid file: %v", err)
	}
	for name, file := range map[string]string{
		"no networks":    "harness: h\n",
		"unknown key":    head + "wirez: []\n",
		"unknown layer":  "harness: h\nnetworks: [{name: n, layer: fast}]\n",
		"null":           head + "wires: ~\n",
		"text as number": head + "temperature_c: '20'\n",
		"length of zero": head + "pairs: [{name: P1, from: X1, to: X2, length_m: 0}]\n",
		"name with dot":  head + "connectors: [{name: X.1}]\n",
		"cavity with /":  head + "connectors: [{name: X1, cavities: {a/b: H}}]\n",
		"end left out":   head + "pairs: [{name: P1, from: X1, length_m: 1}]\n",
		"empty end":      head + "pairs: [{name: P1, from: X1, to: [], length_m: 1}]\n",
		"unknown kind":   head + "rates: [{kind: opens, rate: 1}]\n",
		"rate below 0":   head + "rates: [{kind: open, rate: -1}]\n",
		"rate too great": head + "rates: [{kind: open, rate: 1e7}]\n",
		"look below 0":   head + "connectors: [{name: X1, look_min: -1}]\n",
		"look too long":  head + "wires: [{name: W1, from: X1.H, to: X2.H, ohms: 1, look_min: 10001}]\n",
		"look as text":   head + "modules: [{name: M1, connectors: X1, look_min: long}]\n",
		"look for a row": "harness: h\nnetworks: [{name: n, layer: high-speed, look_min: 1}]\n",
		"times 0":        head + "rates: [{kind: open, times: 0}]\n",
	} {
		if schema.Validate(editorView(t, []byte(file))) == nil {
			t.Errorf("%s: the schema accepts\n%s", name, file)
		}
		if _, err := netfile.Parse("f", []byte(file)); err == nil {
			t.Errorf("%s: the reader accepts\n%s", name, file)
		}
	}
}
