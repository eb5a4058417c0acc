package constraint

import (
	"fmt"
	"reflect"

	"example.com/ohmloom/netlist/problem"
)

// Validate returns every place where v, a struct or a pointer to one, breaks
// the rules of its tags, in the order of the fields. Each problem has the path
// of the value and, inside a field with an element tag, the element.
func Validate(v any) problem.List {
	value := reflect.ValueOf(v)
	for value.Kind() == reflect.Pointer {
		if value.IsNil() {
			return problem.List{{What: "is nil", Write: "a value"}}
		}
		value = value.Elem()
	}
	var w walker
	w.structure(value, "", "")
	return w.problems
}

// walker collects problems on the way through a value.
type walker struct {
	problems problem.List
}

func (w *walker) report(path, element, label, what, write string) {
	if what == "" {
		return
	}
	w.problems = append(w.problems, problem.Problem{
		Path: path, Element: element, What: label + " " + what, Write: write,
	})
}

func (w *walker) structure(v reflect.Value, path, element string) {
	for _, f := range Fields(v.Type()) {
		w.field(f, v.Field(f.Index), JoinKey(path, f.Key), element)
	}
}

func (w *walker) field(f Field, v reflect.Value, path, element string) {
	if f.Absent(v) {
		// A required struct of which nothing is required may be empty.
		if f.Required && (f.Kind != Struct || f.IsList() || f.Pointer || needsKeys(f.Elem)) {
			w.report(path, element, f.Key, "is missing", f.Hint())
		}
		return
	}
	switch f.Shape {
	case Single:
		if f.Pointer {
			v = v.Elem()
		}
		if f.Kind == Struct {
			w.structure(v, path, ElementIn(element, f.Element))
			return
		}
		w.scalar(f, v, path, element, f.Key)
	case Pairs:
		w.pairs(f, v, path, element)
	default:
		for i := range v.Len() {
			entry, at := v.Index(i), JoinIndex(path, i)
			if f.Kind == Struct {
				w.structure(entry, at, ElementAt(element, f.Element, NameOf(entry), i))
				continue
			}
			w.scalar(f, entry, at, element, EntryLabel(f.Key, i))
		}
	}
}

// EntryLabel returns how messages call entry i (from 0) of the list of scalars
// under key.
func EntryLabel(key string, i int) string {
	return fmt.Sprintf("entry %d of %s", i+1, key)
}

// needsKeys reports whether a struct of type t cannot be left empty.
func needsKeys(t reflect.Type) bool {
	return len(Validate(reflect.New(t).Interface())) > 0
}

func (w *walker) pairs(f Field, v reflect.Value, path, element string) {
	fields := Fields(f.Elem)
	keyField, valueField := fields[0], fields[1]
	seen := make(map[string]bool)
	for i := range v.Len() {
		entry := v.Index(i)
		key := entry.Field(keyField.Index).String()
		at := JoinKey(path, key)
		what, write := keyField.CheckString(key)
		w.report(at, element, keyField.Key+" in "+f.Key, what, write)
		if seen[key] {
			w.report(at, element, f.Key, "has "+Quote(key)+" twice", "it once")
		}
		seen[key] = true
		w.scalar(valueField, entry.Field(valueField.Index), at, element, f.Key+"."+Clip(key, MaxName))
	}
}

func (w *walker) scalar(f Field, v reflect.Value, path, element, label string) {
	var what, write string
	switch f.Kind {
	case String:
		what, write = f.CheckString(v.String())
	case Number:
		what, write = f.CheckNumber(v.Float())
	case Integer:
		what, write = f.CheckNumber(float64(v.Int()))
	}
	w.report(path, element, label, what, write)
}
