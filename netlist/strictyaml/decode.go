package strictyaml

import (
	"bytes"
	"encoding"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/problem"
	"go.yaml.in/yaml/v4"
)

// maxProblems is how many problems are kept. A file of one wrong key in each
// of its lines must not cost more memory for the complaints than for the data.
const maxProblems = 100

// Decode reads data, the contents of the file called file, into the struct that
// into points to, by the tags that package constraint documents.
//
// The list has everything that is wrong, by line and column; after 100 problems
// a last one says how many more there are. It is empty when all is well. What
// could be read is in the struct even then, so that more can be checked; of a
// value that breaks a rule it is the value as written, where the type allows.
// Positions serves to locate problems that are found later.
//
// Decode panics when into is not a pointer to a struct with sensible tags.
func Decode(file string, data []byte, into any) (Positions, problem.List) {
	target := reflect.ValueOf(into)
	if target.Kind() != reflect.Pointer || target.IsNil() || target.Elem().Kind() != reflect.Struct {
		panic(fmt.Sprintf("strictyaml: Decode needs a pointer to a struct, not %T", into))
	}
	var d decoder
	root, problems := parse(data)
	d.problems = problems
	if at := (place{label: "the file"}); root != nil && d.usable(root, at) {
		d.mapping(root, target.Elem(), at)
	}
	list := d.problems.Sorted()
	if d.dropped > 0 {
		list = append(list, problem.Problem{
			// Behind all others, so that sorting leaves it there.
			Line: max(bytes.Count(data, []byte("\n")), list[len(list)-1].Line) + 1,
			What: fmt.Sprintf("%d more problems up to the end of the file are not listed", d.dropped),
		})
	}
	for i := range list {
		list[i].File = file
	}
	return Positions{root: root}, list
}

// place is where the decoder is: the path of the value and the element around
// it, for messages, and what to call the value in them.
type place struct {
	path    string
	element string
	label   string
}

// decoder collects problems on the way through the nodes.
type decoder struct {
	problems problem.List
	dropped  int // problems beyond maxProblems
}

// full reports whether a further problem would only be counted, which saves
// the work of wording it.
func (d *decoder) full() bool { return len(d.problems) >= maxProblems }

// report notes a problem at n. what follows the label of the place.
func (d *decoder) report(n *yaml.Node, at place, what, write string) {
	if what == "" {
		return
	}
	if d.full() {
		d.dropped++
		return
	}
	if at.label != "" {
		what = at.label + " " + what
	}
	d.problems = append(d.problems, problem.Problem{
		Line: n.Line, Column: n.Column, Path: at.path, Element: at.element, What: what, Write: write,
	})
}

// usable reports whether n is a value of its own, and complains of the features
// of YAML that are refused. Values with an anchor or a tag are still looked
// into.
func (d *decoder) usable(n *yaml.Node, at place) bool {
	switch {
	case n.Kind == yaml.AliasNode:
		d.report(n, at, "is an alias ("+constraint.Quote("*"+n.Value)+"), which is not allowed",
			"the value itself, or text that begins with * in quotes")
		return false
	case n.Anchor != "":
		d.report(n, at, "has an anchor ("+constraint.Quote("&"+n.Anchor)+"), which is not allowed",
			"the value without it, or text that begins with & in quotes")
	case n.Style&yaml.TaggedStyle != 0, n.Tag == "!":
		d.report(n, at, "has a tag ("+constraint.Quote(n.Tag)+"), which is not allowed",
			"the value without it, or text that begins with ! in quotes")
	}
	return true
}

// kindWord says what a node is.
func kindWord(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping (key: value)"
	case yaml.SequenceNode:
		return "a list"
	}
	if typeOf(n) == nullScalar {
		return "empty"
	}
	return "a single value"
}

// isNull complains of a value that is not there.
func (d *decoder) isNull(n *yaml.Node, at place, f constraint.Field) bool {
	if n.Kind != yaml.ScalarNode || typeOf(n) != nullScalar {
		return false
	}
	what := "has no value"
	if n.Value != "" {
		what = "is " + n.Value + ", which is no value"
	}
	write := f.Hint()
	if !f.Required {
		write += ", or leave the key out"
	}
	d.report(n, at, what, write)
	return true
}

// mapping decodes n into struct v.
func (d *decoder) mapping(n *yaml.Node, v reflect.Value, at place) {
	fields := constraint.Fields(v.Type())
	if n.Kind != yaml.MappingNode {
		d.report(n, at, "is "+kindWord(n)+", must be a mapping (key: value)", "keys out of "+constraint.List(keysOf(fields)))
		return
	}
	first := make(map[string]*yaml.Node) // keys seen
	guess := guesser{node: n, fields: fields, meant: make(map[string]bool)}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if !d.key(key, at) {
			continue
		}
		inside := place{path: constraint.JoinKey(at.path, key.Value), element: at.element, label: key.Value}
		f, known := fieldOf(fields, key.Value)
		if !known && decimalComma(n, i) {
			inside.path, inside.label = constraint.JoinKey(at.path, n.Content[i-2].Value), ""
			d.report(key, inside, "inside { } a comma ends the value, and what follows here is no key", decimalPoint)
			continue
		}
		if before := first[key.Value]; before != nil {
			d.doubled(key, before, inside)
			continue
		}
		first[key.Value] = key
		if !known && textComma(n, i) {
			inside.label = ""
			d.report(key, inside, "inside { } a comma ends the value, so "+constraint.Quote(key.Value)+" is taken for a key", "the whole text in quotes, with its comma")
			continue
		}
		if !known {
			d.unknown(&guess, key, inside)
			continue
		}
		if i+3 < len(n.Content) && decimalComma(n, i+2) {
			continue // only half of its number; the other half is reported
		}
		d.field(f, value, v.Field(f.Index), inside)
	}
	for _, f := range fields {
		if f.Required && first[f.Key] == nil && !guess.meant[f.Key] {
			inside := place{path: constraint.JoinKey(at.path, f.Key), element: at.element, label: f.Key}
			d.report(n, inside, "is missing", f.Hint())
		}
	}
}

func fieldOf(fields []constraint.Field, key string) (constraint.Field, bool) {
	for _, f := range fields {
		if f.Key == key {
			return f, true
		}
	}
	return constraint.Field{}, false
}

func keysOf(fields []constraint.Field) []string {
	keys := make([]string, len(fields))
	for i, f := range fields {
		keys[i] = f.Key
	}
	return keys
}

// key reports whether n can be a key at all.
func (d *decoder) key(n *yaml.Node, at place) bool {
	at.label = "a key"
	if !d.usable(n, at) {
		return false
	}
	switch {
	case n.Kind != yaml.ScalarNode:
		d.report(n, at, "is "+kindWord(n)+", must be a word", "key: value")
	case n.Value == "<<" && isPlain(n):
		at.label = "<<"
		d.report(n, at, "(a merge key) is not allowed", "the keys themselves")
	case n.Value == "":
		d.report(n, at, "is missing before this colon", "key: value")
	default:
		return true
	}
	return false
}

func (d *decoder) doubled(key, before *yaml.Node, at place) {
	at.label = "key " + constraint.Quote(key.Value)
	d.report(key, at, "is there twice, first on line "+strconv.Itoa(before.Line), "it once")
}

// guesser finds the known key that an unknown one in a mapping stands for.
type guesser struct {
	node   *yaml.Node
	fields []constraint.Field
	absent []string        // known keys that the mapping does not have, once needed
	meant  map[string]bool // known keys that have been guessed
}

func (g *guesser) guess(key string) (constraint.Field, bool) {
	if g.absent == nil {
		present := make(map[string]bool)
		for i := 0; i < len(g.node.Content); i += 2 {
			present[g.node.Content[i].Value] = true
		}
		g.absent = slices.DeleteFunc(keysOf(g.fields), func(key string) bool { return present[key] })
	}
	f, found := fieldOf(g.fields, constraint.Nearest(key, g.absent))
	g.meant[f.Key] = found
	return f, found
}

// unknown complains of a key of the guesser's mapping.
func (d *decoder) unknown(g *guesser, key *yaml.Node, at place) {
	if d.full() {
		d.dropped++
		return
	}
	at.label = ""
	what := "unknown key " + constraint.Quote(key.Value)
	known := constraint.List(keysOf(g.fields))
	near, found := g.guess(key.Value)
	if !found {
		d.report(key, at, what, "one of the known keys "+known)
		return
	}
	write := near.Key
	if near.Unit != "" && near.Unit != near.Key {
		write += ", in " + near.Unit
	}
	d.report(key, at, what, write+" (known keys: "+known+")")
}

var digitsPattern = regexp.MustCompile(`^[-+]?[0-9]{1,20}$`)

// decimalComma recognises key i of n as the second half of a number with a
// comma: YAML reads {length_m: 1,2} as the keys length_m and 2.
func decimalComma(n *yaml.Node, i int) bool {
	if n.Style&yaml.FlowStyle == 0 || i < 2 {
		return false
	}
	whole, fraction, value := n.Content[i-1], n.Content[i], n.Content[i+1]
	return value.Kind == yaml.ScalarNode && value.Value == "" && isPlain(value) &&
		whole.Kind == yaml.ScalarNode && digitsPattern.MatchString(whole.Value) && digitsPattern.MatchString(fraction.Value)
}

// textComma recognises key i of n as the rest of a text with a comma: YAML reads
// {note: left, front} as the keys note and front. Only the rest of a text has no
// value and holds a blank, or follows a text that does.
func textComma(n *yaml.Node, i int) bool {
	if n.Style&yaml.FlowStyle == 0 || i < 2 {
		return false
	}
	before, rest, value := n.Content[i-1], n.Content[i], n.Content[i+1]
	return value.Kind == yaml.ScalarNode && value.Value == "" && isPlain(value) &&
		before.Kind == yaml.ScalarNode && isPlain(before) && (strings.Contains(rest.Value, " ") || strings.Contains(before.Value, " "))
}

// field decodes n, the value of a key, into v.
func (d *decoder) field(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if !d.usable(n, at) || d.isNull(n, at, f) {
		return
	}
	switch f.Shape {
	case constraint.Pairs:
		d.pairs(f, n, v, at)
	case constraint.Sequence, constraint.OneOrList:
		d.list(f, n, v, at)
	default:
		if f.Pointer {
			v.Set(reflect.New(f.Elem))
			v = v.Elem()
		}
		if f.Kind == constraint.Struct {
			at.element = constraint.ElementIn(at.element, f.Element)
			d.mapping(n, v, at)
			return
		}
		d.scalar(f, n, v, at)
	}
}

func (d *decoder) list(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if f.Shape == constraint.OneOrList && n.Kind == yaml.ScalarNode {
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		d.scalar(f, n, v.Index(0), at)
		return
	}
	if n.Kind != yaml.SequenceNode {
		d.report(n, at, "is "+kindWord(n)+", must be a list", f.Hint())
		return
	}
	if len(n.Content) == 0 {
		if f.Required {
			d.report(n, at, "is an empty list", f.Hint())
		}
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(n.Content), len(n.Content)))
	entryField := f
	entryField.Required = true // an entry has no key to leave out
	for i, entry := range n.Content {
		inside := place{
			path:    constraint.JoinIndex(at.path, i),
			element: at.element,
			label:   constraint.EntryLabel(f.Key, i),
		}
		if f.Kind == constraint.Struct {
			inside.element = constraint.ElementAt(at.element, f.Element, nameIn(entry, f.Elem), i)
		}
		switch {
		case !d.usable(entry, inside):
		case f.Kind == constraint.Struct:
			d.mapping(entry, v.Index(i), inside)
		case !d.isNull(entry, inside, entryField):
			d.scalar(f, entry, v.Index(i), inside)
		}
	}
}

// nameIn returns the name of the element that n describes, "" when it is not
// to be found.
func nameIn(n *yaml.Node, t reflect.Type) string {
	for _, f := range constraint.Fields(t) {
		if f.GoName != "Name" || n.Kind != yaml.MappingNode {
			continue
		}
		for i := 0; i+1 < len(n.Content); i += 2 {
			if value := n.Content[i+1]; n.Content[i].Value == f.Key && value.Kind == yaml.ScalarNode {
				return value.Value
			}
		}
	}
	return ""
}

func (d *decoder) pairs(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if n.Kind != yaml.MappingNode {
		d.report(n, at, "is "+kindWord(n)+", must be a mapping (key: value)", f.Hint())
		return
	}
	if len(n.Content) == 0 {
		if f.Required {
			d.report(n, at, "is an empty mapping", f.Hint())
		}
		return
	}
	fields := constraint.Fields(f.Elem)
	keyField, valueField := fields[0], fields[1]
	// The value has no key of its own to leave out, whatever its tag says.
	valueField.Required = true
	list := reflect.MakeSlice(v.Type(), 0, len(n.Content)/2)
	first := make(map[string]*yaml.Node)
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if !d.key(key, at) {
			continue
		}
		inside := place{path: constraint.JoinKey(at.path, key.Value), element: at.element}
		if before := first[key.Value]; before != nil {
			d.doubled(key, before, inside)
			continue
		}
		first[key.Value] = key
		pair := reflect.New(f.Elem).Elem()
		inside.label = keyField.Key + " in " + f.Key
		d.text(keyField, key, pair.Field(keyField.Index), inside)
		inside.label = f.Key + "." + constraint.Clip(key.Value, constraint.MaxName)
		if d.usable(value, inside) && !d.isNull(value, inside, valueField) {
			d.scalar(valueField, value, pair.Field(valueField.Index), inside)
		}
		list = reflect.Append(list, pair)
	}
	v.Set(list)
}

// scalar decodes n into v, which is no struct and no list.
func (d *decoder) scalar(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if n.Kind != yaml.ScalarNode {
		d.report(n, at, "is "+kindWord(n)+", must be "+f.Noun(), f.Hint())
		return
	}
	switch f.Kind {
	case constraint.String:
		d.text(f, n, v, at)
	case constraint.Text:
		err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(n.Value))
		if err != nil {
			d.report(n, at, fmt.Sprintf("is %s: %v", constraint.Quote(n.Value), err), f.Hint())
		}
	case constraint.Bool:
		if !isPlain(n) || n.Value != "true" && n.Value != "false" {
			d.report(n, at, "is "+constraint.Quote(n.Value)+", must be true or false", "true or false without quotes")
			return
		}
		v.SetBool(n.Value == "true")
	case constraint.Number, constraint.Integer:
		d.number(f, n, v, at)
	}
}

func (d *decoder) text(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if t := typeOf(n); t == boolScalar || t == nullScalar {
		d.report(n, at, "is "+n.Value+", which is no text in YAML", strconv.Quote(n.Value)+" in quotes, if that is meant")
		return
	}
	v.SetString(n.Value)
	what, write := f.CheckString(n.Value)
	d.report(n, at, what, write)
}

func (d *decoder) number(f constraint.Field, n *yaml.Node, v reflect.Value, at place) {
	if !isPlain(n) {
		write := f.Hint()
		if decimalPattern.MatchString(n.Value) {
			write = "it without quotes"
		}
		d.report(n, at, "is text in quotes, must be "+f.Noun(), write)
		return
	}
	if f.Kind == constraint.Number {
		x, what, write := parseNumber(f, n.Value)
		v.SetFloat(x)
		d.report(n, at, what, write)
		return
	}
	i, what, write := parseInteger(f, n.Value)
	if what == "" && v.OverflowInt(i) {
		i, what, write = 0, "is "+constraint.Clip(n.Value, 40)+", which is too large", f.Hint()
	}
	v.SetInt(i)
	d.report(n, at, what, write)
}
