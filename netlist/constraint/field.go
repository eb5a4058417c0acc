package constraint

import (
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Kind is what one value is, or one entry of a list.
type Kind int

// The kinds of value.
const (
	String  Kind = iota + 1 // any type whose underlying type is string
	Number                  // float64
	Integer                 // a signed integer type
	Bool
	Text // a type that implements encoding.TextUnmarshaler
	Struct
)

// Shape is how a field is written.
type Shape int

// The shapes of a field.
const (
	Single    Shape = iota // one value
	Sequence               // a list of values
	Pairs                  // a list of two-field structs, written as a mapping
	OneOrList              // a list of scalars, written as a scalar when it has one entry
)

// Field is one field of a struct with the rules from its tags.
type Field struct {
	Index    int          // index in the Go struct
	GoName   string       // name in the Go struct
	Key      string       // key in the file
	Doc      string       // description, may be empty
	Example  string       // a value as written in a file, may be empty
	Unit     string       // unit in words, such as "metres"; empty without one
	Element  string       // word for one struct or entry of a list of structs, may be empty
	Kind     Kind         // of the value, or of each entry of a list
	Shape    Shape        // how it is written
	Elem     reflect.Type // type of the value or entry, without a pointer
	Pointer  bool         // whether a Single is held by pointer
	Required bool         // whether the key must be there
	Min      *Bound       // lower bound of a number, nil without one
	Max      *Bound       // upper bound of a number, nil without one
	Enum     []string     // the words allowed, nil when any text is
	Name     bool         // whether it is a name
	Text     bool         // whether it may be long and of several lines
}

// Bound is a limit of a number, in the unit of its field.
type Bound struct {
	Value     float64
	Exclusive bool // whether Value itself is outside
}

var (
	unmarshalerType = reflect.TypeFor[encoding.TextUnmarshaler]()

	// fieldCache maps reflect.Type to []Field.
	fieldCache sync.Map
)

// Fields returns the fields of struct type t in the order of their
// declaration. The result is shared and must not be changed. It panics when t
// is not a struct or has tags that make no sense.
func Fields(t reflect.Type) []Field {
	if cached, ok := fieldCache.Load(t); ok {
		return cached.([]Field)
	}
	if t.Kind() != reflect.Struct {
		panic(fmt.Sprintf("constraint: %v is not a struct", t))
	}
	var fields []Field
	for i := range t.NumField() {
		sf := t.Field(i)
		if !sf.IsExported() || sf.Tag.Get("yaml") == "-" {
			continue
		}
		f, err := newField(sf, i)
		if err != nil {
			panic(fmt.Sprintf("constraint: field %s of %v: %v", sf.Name, t, err))
		}
		if slices.ContainsFunc(fields, func(other Field) bool { return other.Key == f.Key }) {
			panic(fmt.Sprintf("constraint: field %s of %v: key %s is taken", sf.Name, t, f.Key))
		}
		fields = append(fields, f)
	}
	cached, _ := fieldCache.LoadOrStore(t, fields)
	return cached.([]Field)
}

func newField(sf reflect.StructField, index int) (Field, error) {
	key := sf.Tag.Get("yaml")
	f := Field{
		Index:   index,
		GoName:  sf.Name,
		Key:     key,
		Doc:     sf.Tag.Get("doc"),
		Example: sf.Tag.Get("example"),
		Element: sf.Tag.Get("element"),
	}
	if key == "" || strings.ContainsAny(key, ",.[] \t") || sf.Anonymous {
		return Field{}, fmt.Errorf("needs a tag yaml:\"key\" with a plain key, has %q", key)
	}
	if err := f.setType(sf.Type, sf.Tag.Get("shape")); err != nil {
		return Field{}, err
	}
	if f.Kind == Number || f.Kind == Integer {
		f.Unit = unitOf(key)
	}
	if err := f.setRules(sf.Tag.Get("rule")); err != nil {
		return Field{}, err
	}
	return f, nil
}

// setType fills Kind, Shape, Elem and Pointer.
func (f *Field) setType(t reflect.Type, shape string) error {
	f.Elem = t
	switch {
	case implementsText(t):
	case t.Kind() == reflect.Pointer:
		f.Pointer, f.Elem = true, t.Elem()
	case t.Kind() == reflect.Slice:
		f.Shape, f.Elem = Sequence, t.Elem()
	}
	if f.Kind = kindOf(f.Elem); f.Kind == 0 {
		return fmt.Errorf("type %v is not supported", t)
	}
	switch shape {
	case "":
		return nil
	case "map":
		if f.Shape != Sequence || f.Kind != Struct {
			return fmt.Errorf("shape map needs a list of structs, not %v", t)
		}
		f.Shape = Pairs
		pair := Fields(f.Elem)
		if len(pair) != 2 || pair[0].Kind != String || pair[1].Kind == Struct ||
			pair[0].Shape != Single || pair[1].Shape != Single || pair[0].Pointer || pair[1].Pointer ||
			// YAML limits the length of keys.
			pair[0].Text {
			return fmt.Errorf("shape map needs two plain fields, the first a short string, in %v", f.Elem)
		}
	case "one-or-list":
		if f.Shape != Sequence || f.Kind == Struct {
			return fmt.Errorf("shape one-or-list needs a list of scalars, not %v", t)
		}
		f.Shape = OneOrList
	default:
		return fmt.Errorf("shape %q is not known", shape)
	}
	return nil
}

func kindOf(t reflect.Type) Kind {
	if implementsText(t) {
		return Text
	}
	switch t.Kind() {
	case reflect.String:
		return String
	case reflect.Float64:
		return Number
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return Integer
	case reflect.Bool:
		return Bool
	case reflect.Struct:
		return Struct
	}
	return 0
}

// implementsText reports whether a variable of type t reads itself from text.
func implementsText(t reflect.Type) bool {
	return t.Kind() != reflect.Pointer && reflect.PointerTo(t).Implements(unmarshalerType)
}

// setRules fills what the rule tag says.
func (f *Field) setRules(rule string) error {
	if rule == "" {
		return nil
	}
	for r := range strings.SplitSeq(rule, ",") {
		word, arg, hasArg := strings.Cut(r, "=")
		switch word {
		case "min", "above", "max":
			limit, err := strconv.ParseFloat(arg, 64)
			if err != nil || f.Kind != Number && f.Kind != Integer {
				return fmt.Errorf("rule %q needs a number", r)
			}
			bound, place := &Bound{Value: limit, Exclusive: word == "above"}, &f.Min
			if word == "max" {
				place = &f.Max
			}
			if *place != nil {
				return fmt.Errorf("rule %q bounds it a second time", r)
			}
			*place = bound
		case "enum":
			f.Enum = strings.Split(arg, "|")
			if f.Kind != String || slices.Contains(f.Enum, "") {
				return fmt.Errorf("rule %q needs a string and words", r)
			}
		case "required", "name", "text":
			if hasArg || word != "required" && f.Kind != String {
				return fmt.Errorf("rule %q does not fit", r)
			}
			f.Required = f.Required || word == "required"
			f.Name = f.Name || word == "name"
			f.Text = f.Text || word == "text"
		default:
			return fmt.Errorf("rule %q is not known", r)
		}
	}
	// Words of an enum may be names as well, which then adds nothing.
	if f.Text && (f.Name || f.Enum != nil) {
		return fmt.Errorf("rules %q exclude each other", rule)
	}
	if f.Min != nil && f.Max != nil && f.Min.Value >= f.Max.Value {
		return fmt.Errorf("rules %q leave no room", rule)
	}
	return nil
}

// IsList reports whether the field holds any number of values.
func (f Field) IsList() bool { return f.Shape != Single }

// Absent reports whether v, the value of the field in Go, means that the key
// is not there.
func (f Field) Absent(v reflect.Value) bool {
	// Without a pointer a required zero can only be a value, unless the
	// bounds say that it cannot be one.
	if f.Required && !f.IsList() && !f.Pointer && (f.Kind == Number || f.Kind == Integer || f.Kind == Bool) {
		return v.IsZero() && !f.inBounds(0)
	}
	return f.empty(v)
}

// empty is reflect's IsZero, but does not tell an empty list from none.
func (f Field) empty(v reflect.Value) bool {
	switch {
	case f.IsList():
		return v.Len() == 0
	case f.Pointer || f.Kind != Struct:
		return v.IsZero()
	}
	for _, inner := range Fields(f.Elem) {
		if !inner.empty(v.Field(inner.Index)) {
			return false
		}
	}
	return true
}

// NameOf returns the name of a struct value: the text of its field Name. It is
// empty when there is no such field.
func NameOf(v reflect.Value) string {
	for _, f := range Fields(v.Type()) {
		if f.GoName == "Name" && f.Kind == String && f.Shape == Single && !f.Pointer {
			return v.Field(f.Index).String()
		}
	}
	return ""
}

// ElementAt returns how messages call entry i (from 0) of a list: the kind
// word with its name, or with its number where it has no name. An entry inside
// another one, called outer, is called by both. Without a kind word it is
// outer.
func ElementAt(outer, kind, name string, i int) string {
	switch {
	case kind == "":
	case name == "":
		kind += " number " + strconv.Itoa(i+1)
	default:
		kind += " " + Clip(name, MaxName)
	}
	return ElementIn(outer, kind)
}

// ElementIn returns how messages call the element inside another one, called
// outer. Either may be empty.
func ElementIn(outer, element string) string {
	if outer == "" || element == "" {
		return outer + element
	}
	return outer + ", " + element
}

// JoinKey returns the path of key inside path.
func JoinKey(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// JoinIndex returns the path of entry i (from 0) of the list at path.
func JoinIndex(path string, i int) string {
	return path + "[" + strconv.Itoa(i) + "]"
}
