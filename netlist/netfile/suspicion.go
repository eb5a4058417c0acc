package netfile

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
)

// suspicion knows which problems of a harness are worth nothing because the
// form of its file was wrong: that a wire ends in connector X3 is no mistake
// when X3 is there but its name could not be read.
type suspicion struct {
	// everything is set when a whole list may be missing.
	everything bool

	// keys holds the paths of values with a problem (wires[3].to), and
	// elements those of the elements they are in (wires[3]).
	keys, elements map[string]bool

	// names holds the elements that may not be what the file meant.
	names map[string]bool

	// A name that is not declared may be meant for an unreadable element: that
	// of a part for one in places, that of an entry of rates for one in parts.
	declared      map[string]bool
	places, parts unreadable

	// refs holds what each element refers to, by its path.
	refs map[string][]reference

	// repeated holds what the rules of the fields say, which decoding has said
	// already in the words of the file.
	repeated map[problem.Problem]bool
}

// unreadable holds the elements whose names could not be read. A name may be meant
// for one in misnamed, which has a name that is none, if the two are alike, or,
// when lost is set, for one that has no name at all.
type unreadable struct {
	misnamed []string
	lost     bool
}

const maxMisnamed = 4

// nameRule is what all names of elements obey.
var nameRule = constraint.Field{Kind: constraint.String, Name: true}

func newSuspicion(h *netlist.Harness, positions strictyaml.Positions, problems problem.List) *suspicion {
	s := &suspicion{
		keys:     make(map[string]bool),
		elements: make(map[string]bool),
		names:    make(map[string]bool),
		declared: make(map[string]bool),
		refs:     make(map[string][]reference),
		repeated: make(map[problem.Problem]bool),
	}
	for _, p := range constraint.Validate(h) {
		s.repeated[p] = true
	}
	hard := make(map[string]bool) // elements with a problem that concerns others
	for _, p := range problems {
		element, key := split(p.Path)
		if element == "" {
			s.everything = s.everything || !harmlessAtRoot(p.Path, positions)
			continue
		}
		s.elements[element] = true
		s.keys[element+key] = true
		hard[element] = hard[element] || !harmless(element, key)
	}
	if s.everything {
		return s
	}
	all := partsOf(h)
	for _, part := range all {
		s.declared[part.name] = true
		s.refs[part.path] = part.refs
		wrong, _ := nameRule.CheckString(part.name)
		if part.target == byParts {
			s.places.note(part.name, wrong != "", s.keys[part.path+".name"])
		}
		if part.target != byNothing {
			s.parts.note(part.name, wrong != "", s.keys[part.path+".name"])
		}
	}
	for i, x := range h.Rates {
		s.refs[constraint.JoinIndex("rates", i)] = []reference{{key: "part", text: []string{x.Part}, rate: true}}
	}
	// Doubt spreads in the order of parts, networks first.
	for _, part := range all {
		if hard[part.path] || s.doubts(part.refs) {
			s.names[part.name] = true
		}
	}
	return s
}

// note takes down an element, the name of which is no name or has a problem.
func (u *unreadable) note(name string, isNone, inDoubt bool) {
	switch {
	case isNone && name != "":
		u.misnamed = append(u.misnamed, name)
	case isNone, inDoubt:
		u.lost = true
	}
	// More than a few are not worth comparing with every name.
	u.lost = u.lost || len(u.misnamed) > maxMisnamed
}

// filter returns those of the problems found in the harness that stand whatever
// becomes of the problems in the form of its file.
func (s *suspicion) filter(found problem.List) problem.List {
	if s.everything {
		return nil
	}
	var kept problem.List
	for _, p := range found {
		element, key := split(p.Path)
		switch {
		case s.repeated[p], s.keys[element+key]:
		case key == "" && (s.elements[element] || s.doubts(s.refs[element])):
		case key != "" && s.doubts(only(s.refs[element], p.Path[len(element):])):
		default:
			kept = append(kept, p)
		}
	}
	return kept
}

// split cuts a path into that of its element and the key in it with its dot:
// wires[3].to[1] into wires[3] and .to. Outside of elements both are empty.
func split(path string) (element, key string) {
	list, rest, ok := strings.Cut(path, "]")
	if !ok {
		return "", ""
	}
	element = list + "]"
	if i := strings.IndexAny(strings.TrimPrefix(rest, "."), ".["); i >= 0 {
		rest = rest[:i+1]
	}
	return element, rest
}

// harmlessAtRoot reports whether a problem outside of all elements leaves the
// lists as they are.
func harmlessAtRoot(path string, positions strictyaml.Positions) bool {
	key, _, _ := strings.Cut(path, ".")
	for _, f := range constraint.Fields(reflect.TypeFor[netlist.Harness]()) {
		if f.Key == key {
			// No other part hangs on the entries of rates.
			return !f.IsList() || key == "rates"
		}
	}
	// An unknown key may be that of a list, misspelt, unless it has one value.
	return positions.IsScalar(path)
}

// harmless reports whether a problem with key concerns its element alone, as
// the length of a wire does, but not the cavities of a connector.
func harmless(element, key string) bool {
	list, _, _ := strings.Cut(element, "[")
	for _, f := range constraint.Fields(reflect.TypeFor[netlist.Harness]()) {
		if f.Key != list || f.Kind != constraint.Struct {
			continue
		}
		for _, inner := range constraint.Fields(f.Elem) {
			if "."+inner.Key == key {
				return inner.Kind == constraint.Number || inner.Kind == constraint.Integer || inner.Text
			}
		}
	}
	return false
}

// doubts reports whether any of the references may be to something else than
// the file meant.
func (s *suspicion) doubts(refs []reference) bool {
	for _, ref := range refs {
		for _, text := range ref.text {
			// The name in X5/b.4 is X5, that in drive.H is drive.
			name := text
			if i := strings.IndexAny(text, "./"); i >= 0 {
				name = text[:i]
			}
			unread := &s.places
			if ref.rate {
				unread = &s.parts
			}
			if s.names[name] || !s.declared[name] && !isBuiltIn(name) && unread.mayBeMeant(name, text) {
				return true
			}
		}
	}
	return false
}

// mayBeMeant reports whether name, which nothing is called, may be meant for an
// element whose name was wrong. text is the whole reference: a wrong name may
// hold a dot.
func (u *unreadable) mayBeMeant(name, text string) bool {
	return u.lost || constraint.Nearest(name, u.misnamed) != "" ||
		slices.ContainsFunc(u.misnamed, func(wrong string) bool { return strings.HasPrefix(text, wrong) })
}

// only returns what a value inside an element refers to: all that stands under
// its key or, for .to[1], that entry.
func only(refs []reference, path string) []reference {
	key, rest, _ := strings.Cut(strings.TrimPrefix(path, "."), "[")
	key, _, _ = strings.Cut(key, ".")
	for _, ref := range refs {
		if ref.key != key {
			continue
		}
		i, err := strconv.Atoi(strings.TrimSuffix(rest, "]"))
		if err == nil && !ref.derived && 0 <= i && i < len(ref.text) {
			ref.text = ref.text[i : i+1]
		}
		return []reference{ref}
	}
	return nil
}
