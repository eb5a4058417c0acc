package strictyaml_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math/big"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/strictyaml"
	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"
)

func TestSchema(t *testing.T) {
	type tray struct {
		Name  string   `yaml:"name" rule:"required,name" doc:"name of the tray"`
		Depth float64  `yaml:"depth_mm" rule:"above=0,max=500"`
		Slots int8     `yaml:"slots" rule:"required,min=1"`
		Kind  string   `yaml:"kind" rule:"enum=deep|6061"`
		Open  bool     `yaml:"open"`
		Ends  []string `yaml:"ends" rule:"required,name" shape:"one-or-list"`
		Pins  []pin    `yaml:"pins" rule:"required" shape:"map"`
		Tol   percent  `yaml:"tolerance"`
		Any   stubborn `yaml:"any"`
		Inner []inner  `yaml:"inner" rule:"required"`
	}
	got, err := strictyaml.Schema(reflect.TypeFor[tray](), "https://example.com/tray.json", "A tray")
	if err != nil {
		t.Fatal(err)
	}
	const want = `{
  "$id": "https://example.com/tray.json",
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "additionalProperties": false,
  "properties": {
    "any": {
      "type": [
        "string",
        "number",
        "boolean"
      ]
    },
    "depth_mm": {
      "exclusiveMinimum": 0,
      "maximum": 500,
      "type": "number"
    },
    "ends": {
      "oneOf": [
        {
          "maxLength": 64,
          "minimum": 0,
          "pattern": "^[\\p{L}\\p{Nd}_][\\p{L}\\p{Nd}_-]*$",
          "type": [
            "string",
            "number"
          ]
        },
        {
          "items": {
            "maxLength": 64,
            "minimum": 0,
            "pattern": "^[\\p{L}\\p{Nd}_][\\p{L}\\p{Nd}_-]*$",
            "type": [
              "string",
              "number"
            ]
          },
          "minItems": 1,
          "type": "array"
        }
      ]
    },
    "inner": {
      "items": {
        "additionalProperties": false,
        "properties": {
          "depth": {
            "type": "integer"
          }
        },
        "type": "object"
      },
      "minItems": 1,
      "type": "array"
    },
    "kind": {
      "enum": [
        "deep",
        "6061",
        6061
      ]
    },
    "name": {
      "description": "name of the tray",
      "maxLength": 64,
      "minimum": 0,
      "pattern": "^[\\p{L}\\p{Nd}_][\\p{L}\\p{Nd}_-]*$",
      "type": [
        "string",
        "number"
      ]
    },
    "open": {
      "type": "boolean"
    },
    "pins": {
      "additionalProperties": {
        "maxLength": 200,
        "pattern": "^[\\p{L}\\p{M}\\p{N}\\p{P}\\p{S}\\p{Zs}]+$",
        "type": [
          "string",
          "number"
        ]
      },
      "minProperties": 1,
      "propertyNames": {
        "maxLength": 64,
        "pattern": "^[\\p{L}\\p{Nd}_][\\p{L}\\p{Nd}_-]*$"
      },
      "type": "object"
    },
    "slots": {
      "maximum": 127,
      "minimum": 1,
      "type": "integer"
    },
    "tolerance": {
      "pattern": "^[-+]?([0-9]+\\.?[0-9]*|\\.[0-9]+)([eE][-+]?[0-9]+)?%$",
      "type": "string"
    }
  },
  "required": [
    "name",
    "slots",
    "ends",
    "pins",
    "inner"
  ],
  "title": "A tray",
  "type": "object"
}
`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("schema (-want +got):\n%s", diff)
	}
}

// ring contains itself.
type ring struct {
	Next *ring `yaml:"next"`
}

func TestSchemaPanicsOnRing(t *testing.T) {
	defer func() {
		if r := fmt.Sprint(recover()); !strings.Contains(r, "contains itself") {
			t.Errorf("panic is %v", r)
		}
	}()
	_, err := strictyaml.Schema(reflect.TypeFor[ring](), "", "")
	t.Errorf("no panic, error %v", err)
}

// rigSchema is the schema of a rig as an editor would use it.
func rigSchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	data, err := strictyaml.Schema(reflect.TypeFor[rig](), "https://example.com/rig.json", "A rig")
	if err != nil {
		t.Fatal(err)
	}
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	// A schema that breaks the rules of the draft would be refused here.
	if err := compiler.AddResource("rig.json", document); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("rig.json")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

var (
	coreNumber = regexp.MustCompile(`^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$`)
	coreBased  = regexp.MustCompile(`^0(x[0-9a-fA-F]+|o[0-7]+)$`)
)

// editorView turns YAML into the JSON values that an editor checks: plain
// scalars by the core schema of YAML 1.2, written here once more so as not to
// trust the code under test.
func editorView(t interface{ Fatalf(string, ...any) }, n *yaml.Node) any {
	switch n.Kind {
	case yaml.DocumentNode:
		return editorView(t, n.Content[0])
	case yaml.MappingNode:
		object := make(map[string]any)
		for i := 0; i < len(n.Content); i += 2 {
			object[n.Content[i].Value] = editorView(t, n.Content[i+1])
		}
		return object
	case yaml.SequenceNode:
		array := make([]any, len(n.Content))
		for i, entry := range n.Content {
			array[i] = editorView(t, entry)
		}
		return array
	}
	if n.Style != 0 {
		return n.Value
	}
	switch s := n.Value; {
	case s == "" || s == "~" || strings.EqualFold(s, "null"):
		return nil
	case strings.EqualFold(s, "true"), strings.EqualFold(s, "false"):
		return strings.EqualFold(s, "true")
	case coreBased.MatchString(s):
		i, ok := new(big.Int).SetString(s, 0)
		if !ok {
			t.Fatalf("no integer: %s", s)
		}
		return json.Number(i.String())
	case coreNumber.MatchString(s) && json.Valid([]byte(s)):
		return json.Number(s)
	case coreNumber.MatchString(s):
		r, ok := new(big.Rat).SetString(s)
		if !ok {
			t.Fatalf("no number: %s", s)
		}
		return json.Number(r.FloatString(400))
	default:
		return s
	}
}

func TestSchemaAgreesWithReader(t *testing.T) {
	schema := rigSchema(t)
	const part = "rig: r\nparts: [{name: P1, length_m: 1, ends: a, %s}]"
	in := func(format string) func(string) string {
		return func(s string) string { return fmt.Sprintf(format, s) }
	}
	inPart := in(part)
	name := in("rig: r\nparts: [{name: %s, length_m: 1, ends: a}]")
	tests := []struct {
		in             string
		reader, schema bool
	}{
		{"rig: r", true, true},
		{"labels: [a]", false, false},
		{"rig: r\nrigg: s", false, false},
		{"rig: ''", false, false},
		{"rig: [r]", false, false},
		{"rig: ~", false, false},
		{"rig: true", false, false},
		{"rig: no", true, true},
		{"rig: 1.10", true, true},
		{"rig: -1e3", true, true},
		{"rig: |\n  two\n  lines", true, true},
		{"rig: r\nlabels: [\"two\\nlines\"]", false, false},
		{"rig: r\nlabels: [\"\\a\"]", false, false},
		{"rig: r\nlabels: a", false, false},
		{"rig: r\nlabels: []", true, true},
		{"rig: r\nparts: {}", false, false},
		{"rig: r\nparts: [~]", false, false},
		{"rig: r\nsupply: {}", true, true},
		{"rig: r\nsupply: {volts: 0}", false, false},
		{"rig: r\nsupply: {volts: 60}", true, true},
		{"rig: r\nsupply: {volts: 60.5}", false, false},
		{"rig: r\nsupply: []", false, false},
		{"rig: r\ntemperature_c: -60", true, true},
		{"rig: r\ntemperature_c: -60.1", false, false},
		{"rig: r\ntemperature_c: '20'", false, false},
		{"rig: r\nframe: {material: steel}", true, true},
		{"rig: r\nframe: {material: Steel}", false, false},
		{"rig: r\nframe: {material: 6061}", true, true},
		{"rig: r\nframe: {material: '6061'}", true, true},
		{"rig: r\nframe: {material: 6062}", false, false},
		{"rig: r\nsteps: 5%", true, true},
		{"rig: r\nsteps: [5%, 6%]", true, true},
		{"rig: r\nsteps: []", true, true},
		{"rig: r\nsteps: 5", false, false},
		{"rig: r\nloads_v: [0, 60]", true, true},
		{"rig: r\nloads_v: [-1]", false, false},
		{name("6"), true, true},
		{name("010"), true, true},
		{name("1e-3"), true, true},
		{name("X1"), true, true},
		{name("X.1"), false, false},
		{name("-5"), false, false},
		{name("-x"), false, false},
		{name("größe_1"), true, true},
		{name(strings.Repeat("ü", 64)), true, true},
		{name(strings.Repeat("ü", 65)), false, false},
		{inPart("turns: 1"), true, true},
		{inPart("turns: 1.0"), true, true},
		{inPart("turns: 1e2"), true, true},
		{inPart("turns: 1.5"), false, false},
		{inPart("turns: 0"), false, false},
		{inPart("turns: 401"), false, false},
		{inPart("small: 127"), true, true},
		{inPart("small: 128"), false, false},
		{inPart("small: -129"), false, false},
		{inPart("on: true"), true, true},
		{inPart("on: yes"), false, false},
		{inPart("on: 1"), false, false},
		{inPart("pins: {}"), true, true},
		{inPart("pins: {1: a, b: 2}"), true, true},
		{inPart("pins: {a.b: c}"), false, false},
		{inPart("pins: {1: true}"), false, false},
		{inPart("pins: {1: [a]}"), false, false},
		{inPart("pins: [1]"), false, false},
		{"rig: r\nparts: [{name: P1, length_m: 1, ends: []}]", false, false},
		{"rig: r\nparts: [{name: P1, length_m: 1, ends: [a, b]}]", true, true},
		{"rig: r\nparts: [{name: P1, length_m: 1, ends: [[a]]}]", false, false},
		{"rig: r\nparts: [{name: P1, length_m: 1, ends: {a: b}}]", false, false},
		{"rig: r\nparts: [{name: P1, length_m: 1}]", false, false},
		// The exceptions that the package comment lists.
		{name("1.0"), false, true},
		{name("+5"), false, true},
		{"rig: r\nframe: {material: 6061.0}", false, true},
		{inPart("turns: 0x10"), false, true},
		{inPart("turns: 0o7"), false, true},
		{inPart("turns: 007"), false, true},
		{inPart("on: True"), false, true},
		{inPart("offset_mv: -1e999"), false, true},
		{"rig: r\nframe: {inner: {depth: 9223372036854775808}}", false, true},
	}
	for _, test := range tests {
		t.Run(test.in, func(t *testing.T) {
			var r rig
			_, problems := strictyaml.Decode("f", []byte(test.in), &r)
			if got := len(problems) == 0; got != test.reader {
				t.Errorf("reader accepts: %v, want %v\n%v", got, test.reader, problems)
			}
			var n yaml.Node
			if err := yaml.Load([]byte(test.in), &n); err != nil {
				t.Fatal(err)
			}
			err := schema.Validate(editorView(t, &n))
			if got := err == nil; got != test.schema {
				t.Errorf("schema accepts: %v, want %v\n%v", got, test.schema, err)
			}
		})
	}
}

// mutate changes something somewhere in a document, often for the worse.
func mutate(t *rapid.T, v any) any {
	scalars := rapid.OneOf(
		rapid.Just[any](nil), rapid.Map(rapid.Bool(), func(b bool) any { return b }),
		// Without those that are another name in another notation.
		rapid.Map(rapid.OneOf(rapid.IntRange(0, 500), rapid.Just(-7)), func(i int) any { return json.Number(strconv.Itoa(i)) }),
		rapid.SampledFrom([]any{json.Number("5e-1"), json.Number("-0.25"), json.Number("1e3")}),
		rapid.SampledFrom([]any{"", "a", "a.b", "-", "steel", "5%", "5", "two\nlines", "\a", "true", strings.Repeat("n", 65), strings.Repeat("n", 201)}),
	)
	anything := rapid.OneOf(scalars, rapid.SampledFrom([]any{
		[]any{}, []any{"a"}, []any{"a", json.Number("3")}, []any{nil}, map[string]any{}, map[string]any{"a": "b"}, map[string]any{"volts": json.Number("12")},
	}))
	switch v := v.(type) {
	case map[string]any:
		keys := slices.Sorted(maps.Keys(v))
		if len(keys) > 0 && rapid.IntRange(0, 9).Draw(t, "into mapping") > 1 {
			key := rapid.SampledFrom(keys).Draw(t, "key")
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				delete(v, key)
			case 1:
				v[key+"x"] = v[key]
			default:
				v[key] = mutate(t, v[key])
			}
			return v
		}
		if rapid.Bool().Draw(t, "add") {
			v[rapid.SampledFrom([]string{"name", "turns", "on", "note", "supply", "frame", "pins", "tolerance", "1", "x.y"}).Draw(t, "new key")] = anything.Draw(t, "new value")
			return v
		}
	case []any:
		if len(v) > 0 && rapid.IntRange(0, 9).Draw(t, "into list") > 1 {
			i := rapid.IntRange(0, len(v)-1).Draw(t, "entry")
			v[i] = mutate(t, v[i])
			return v
		}
	}
	return anything.Draw(t, "value")
}

// TestSchemaAgreesOnMutants compares both on JSON, which is YAML in which all
// text has quotes, so that editor and reader see the same values.
func TestSchemaAgreesOnMutants(t *testing.T) {
	schema := rigSchema(t)
	accepted, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		r := rigs().Draw(t, "rig")
		text, err := strictyaml.Encode(r)
		if err != nil {
			t.Fatal(err)
		}
		var n yaml.Node
		if err := yaml.Load(text, &n); err != nil {
			t.Fatal(err)
		}
		document := editorView(t, &n)
		for range rapid.IntRange(0, 3).Draw(t, "mutations") {
			document = mutate(t, document)
		}
		data, err := json.Marshal(document)
		if err != nil {
			t.Fatal(err)
		}
		var again rig
		_, problems := strictyaml.Decode("f", data, &again)
		err = schema.Validate(document)
		if (len(problems) == 0) != (err == nil) {
			t.Fatalf("reader:\n%v\nschema:\n%v\ndocument:\n%s", problems, err, data)
		}
		if err == nil {
			accepted++
		} else {
			refused++
		}
	})
	if accepted < 10 || refused < 10 {
		t.Errorf("%d accepted, %d refused: the documents are too much alike", accepted, refused)
	}
}
