package strictyaml

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"

	"example.com/ohmloom/netlist/constraint"
)

// schemer is a TextUnmarshaler that knows its own schema.
type schemer interface {
	JSONSchema() map[string]any
}

// Schema returns a JSON Schema (draft 2020-12) for files that [Decode] reads
// into struct type t, for completion and checking in editors. The package
// comment says where the reader is stricter than any schema can be. A type
// that implements encoding.TextUnmarshaler may supply its part of the schema
// with a method JSONSchema() map[string]any; otherwise any single value is
// allowed for it.
//
// Schema panics when t is not a struct with sensible tags, or contains itself.
func Schema(t reflect.Type, id, title string) ([]byte, error) {
	root := structSchema(t, 0)
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["$id"] = id
	root["title"] = title
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(root); err != nil {
		return nil, fmt.Errorf("strictyaml: schema of %v: %w", t, err)
	}
	return out.Bytes(), nil
}

type object = map[string]any

func structSchema(t reflect.Type, depth int) object {
	if depth > MaxDepth {
		panic(fmt.Sprintf("strictyaml: %v contains itself", t))
	}
	properties := object{}
	required := []string{}
	for _, f := range constraint.Fields(t) {
		property := fieldSchema(f, depth)
		if f.Doc != "" {
			property["description"] = f.Doc
		}
		properties[f.Key] = property
		if f.Required {
			required = append(required, f.Key)
		}
	}
	schema := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		schema["required"] = required
	}
	return schema
}

// fieldSchema returns the schema of a field with its shape.
func fieldSchema(f constraint.Field, depth int) object {
	if f.Shape == constraint.Pairs {
		pair := constraint.Fields(f.Elem)
		// Keys are text in JSON; what is said of numbers would be idle.
		key := stringSchema(pair[0])
		delete(key, "type")
		delete(key, "minimum")
		schema := object{"type": "object", "propertyNames": key, "additionalProperties": valueSchema(pair[1], depth)}
		if f.Required {
			schema["minProperties"] = 1
		}
		return schema
	}
	value := valueSchema(f, depth)
	if f.Shape == constraint.Single {
		return value
	}
	array := object{"type": "array", "items": value}
	if f.Required {
		array["minItems"] = 1
	}
	if f.Shape == constraint.OneOrList {
		return object{"oneOf": []any{value, array}}
	}
	return array
}

// valueSchema returns the schema of one value, or of one entry of a list.
func valueSchema(f constraint.Field, depth int) object {
	switch f.Kind {
	case constraint.Struct:
		return structSchema(f.Elem, depth+1)
	case constraint.Bool:
		return object{"type": "boolean"}
	case constraint.Number, constraint.Integer:
		return numberSchema(f)
	case constraint.Text:
		if s, ok := reflect.New(f.Elem).Interface().(schemer); ok {
			return s.JSONSchema()
		}
		return object{"type": []string{"string", "number", "boolean"}}
	}
	return stringSchema(f)
}

func numberSchema(f constraint.Field) object {
	schema := object{"type": "number"}
	if f.Kind == constraint.Integer {
		schema["type"] = "integer"
	}
	// A small integer type is a bound of its own. Those of int and int64 are
	// left out: JSON would round them.
	if bits := f.Elem.Bits(); f.Kind == constraint.Integer && bits < 64 {
		schema["minimum"], schema["maximum"] = -math.Ldexp(1, bits-1), math.Ldexp(1, bits-1)-1
	}
	if f.Min != nil {
		delete(schema, "minimum")
		keyword := "minimum"
		if f.Min.Exclusive {
			keyword = "exclusiveMinimum"
		}
		schema[keyword] = f.Min.Value
	}
	if f.Max != nil {
		schema["maximum"] = f.Max.Value
	}
	return schema
}

// stringSchema allows numbers beside text, because in a hand-written file the
// name 6 has no quotes.
func stringSchema(f constraint.Field) object {
	if f.Enum != nil {
		words := make([]any, 0, len(f.Enum))
		for _, word := range f.Enum {
			words = append(words, word)
			if x, err := strconv.ParseFloat(word, 64); err == nil && decimalPattern.MatchString(word) {
				words = append(words, x)
			}
		}
		return object{"enum": words}
	}
	pattern, maxRunes := f.Pattern()
	schema := object{"type": []string{"string", "number"}, "pattern": pattern, "maxLength": maxRunes}
	if f.Name {
		// The only rule for a number that must hold for its text: no name
		// begins with a minus sign.
		schema["minimum"] = 0
	}
	return schema
}
