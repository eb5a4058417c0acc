package strictyaml

import (
	"bytes"
	"encoding"
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.com/ohmloom/netlist/constraint"
)

// Encode writes v, a struct or a pointer to one, so that it can be edited by
// hand and read back by [Decode] as the same value. Structs are blocks, each
// entry of a list of structs is one line, what is absent is left out, and text
// is in quotes only where a YAML reader, this or another, would otherwise take
// it for something else.
//
// The error is a [problem.List] when v breaks the rules of its tags, because it
// could not be read back, or the error of a MarshalText method.
//
// [problem.List]: example.com/ohmloom/netlist/problem.List
func Encode(v any) ([]byte, error) {
	if err := constraint.Validate(v).Err(); err != nil {
		return nil, err
	}
	var e encoder
	e.block(reflect.Indirect(reflect.ValueOf(v)), "")
	if e.err != nil {
		return nil, e.err
	}
	if e.out.Len() == 0 {
		return []byte("{}\n"), nil
	}
	return e.out.Bytes(), nil
}

// encoder writes to out and keeps the first error.
type encoder struct {
	out bytes.Buffer
	err error
}

// member is a field that is there, with its value.
type member struct {
	constraint.Field
	value reflect.Value
}

// members returns the fields of struct v that are to be written.
func members(v reflect.Value) []member {
	var present []member
	for _, f := range constraint.Fields(v.Type()) {
		value := v.Field(f.Index)
		// A required struct is written even when it is empty.
		if f.Absent(value) && !f.Required {
			continue
		}
		if f.Pointer {
			value = value.Elem()
		}
		present = append(present, member{f, value})
	}
	return present
}

// block writes the fields of struct v as lines.
func (e *encoder) block(v reflect.Value, indent string) {
	for _, m := range members(v) {
		e.out.WriteString(indent + quote(m.Key) + ":")
		switch {
		case m.Shape == constraint.Sequence && m.Kind == constraint.Struct:
			e.out.WriteByte('\n')
			for i := range m.value.Len() {
				e.out.WriteString(indent + "  - ")
				e.flowStruct(m.value.Index(i))
				e.out.WriteByte('\n')
			}
		case m.Shape == constraint.Single && m.Kind == constraint.Struct && len(members(m.value)) > 0:
			e.out.WriteByte('\n')
			e.block(m.value, indent+"  ")
		default:
			e.out.WriteByte(' ')
			e.flow(m)
			e.out.WriteByte('\n')
		}
	}
}

// flow writes the value of a field without a line break.
func (e *encoder) flow(m member) {
	switch {
	case m.Shape == constraint.Pairs:
		fields := constraint.Fields(m.Elem)
		e.enclose('{', '}', m.value.Len(), func(i int) {
			pair := m.value.Index(i)
			e.scalar(pair.Field(fields[0].Index))
			e.out.WriteString(": ")
			e.scalar(pair.Field(fields[1].Index))
		})
	case m.Shape == constraint.OneOrList && m.value.Len() == 1:
		e.scalar(m.value.Index(0))
	case m.IsList():
		e.enclose('[', ']', m.value.Len(), func(i int) {
			if m.Kind == constraint.Struct {
				e.flowStruct(m.value.Index(i))
				return
			}
			e.scalar(m.value.Index(i))
		})
	case m.Kind == constraint.Struct:
		e.flowStruct(m.value)
	default:
		e.scalar(m.value)
	}
}

func (e *encoder) flowStruct(v reflect.Value) {
	present := members(v)
	e.enclose('{', '}', len(present), func(i int) {
		e.out.WriteString(quote(present[i].Key) + ": ")
		e.flow(present[i])
	})
}

// enclose writes n parts between brackets.
func (e *encoder) enclose(open, end byte, n int, part func(i int)) {
	e.out.WriteByte(open)
	for i := range n {
		if i > 0 {
			e.out.WriteString(", ")
		}
		part(i)
	}
	e.out.WriteByte(end)
}

func (e *encoder) scalar(v reflect.Value) {
	if text, ok := marshaler(v); ok {
		data, err := text.MarshalText()
		if err == nil && !utf8.Valid(data) {
			err = fmt.Errorf("strictyaml: text of %v is not valid UTF-8", v.Type())
		}
		if err != nil && e.err == nil {
			e.err = err
		}
		e.out.WriteString(quote(string(data)))
		return
	}
	switch v.Kind() {
	case reflect.String:
		e.out.WriteString(quote(v.String()))
	case reflect.Float64:
		e.out.WriteString(constraint.FormatNumber(v.Float()))
	case reflect.Bool:
		e.out.WriteString(strconv.FormatBool(v.Bool()))
	default:
		e.out.WriteString(strconv.FormatInt(v.Int(), 10))
	}
}

// marshaler returns v as a TextMarshaler when its type reads itself from text.
func marshaler(v reflect.Value) (encoding.TextMarshaler, bool) {
	addressable := reflect.New(v.Type())
	addressable.Elem().Set(v)
	if _, ok := addressable.Interface().(encoding.TextUnmarshaler); !ok {
		return nil, false
	}
	text, ok := addressable.Interface().(encoding.TextMarshaler)
	if !ok {
		panic(fmt.Sprintf("strictyaml: %v has UnmarshalText but no MarshalText", v.Type()))
	}
	return text, true
}

var (
	// canonicalInteger is how every reader writes a whole number itself.
	canonicalInteger = regexp.MustCompile(`^(0|[1-9][0-9]{0,14})$`)

	// ambiguous is text that some reader of YAML 1.1 or 1.2 takes for a
	// number, a date, a time, a bool or null, and so may rewrite.
	ambiguous = regexp.MustCompile(`^([-+]?\.?[0-9][0-9_.:]*([eE][-+]?[0-9]+)?` +
		`|[-+]?0[xXoObB][0-9a-fA-F_]+` +
		`|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.*` +
		`|(?i:y|n|yes|no|on|off|true|false|null|~))$`)
)

// quote returns s as a YAML scalar that may stand anywhere in a line, in double
// quotes when it would not be safe without.
func quote(s string) string {
	if canonicalInteger.MatchString(s) || plainSafe(s) && !ambiguous.MatchString(s) {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case unicode.IsGraphic(r):
			b.WriteRune(r)
		default:
			// Eight digits serve for every character.
			fmt.Fprintf(&b, `\U%08X`, r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// plainSafe reports whether s means itself without quotes inside brackets: it
// begins with a letter or digit, and has nothing that could end it.
func plainSafe(s string) bool {
	for i, r := range s {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), r == '_':
		case i == 0:
			return false
		case strings.ContainsRune("-./+()%=;", r):
		case r == ' ' && i < len(s)-1:
		case r > unicode.MaxASCII && unicode.IsPrint(r):
		default:
			return false
		}
	}
	return s != ""
}
