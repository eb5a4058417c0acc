package faults

import (
	"fmt"
	"strings"
)

// Named finds faults of a catalogue by their full names, in the order of the names.
// The error lists every name that the catalogue does not have, each with what it
// has for the same part.
func Named(catalogue []*Fault, names ...string) ([]*Fault, error) {
	byName := make(map[string]*Fault, len(catalogue))
	for _, f := range catalogue {
		byName[f.Name] = f
	}
	var out []*Fault
	var problems []string
	for _, name := range names {
		f, ok := byName[name]
		if !ok {
			problems = append(problems, fmt.Sprintf("no fault is called %q%s", name, nearest(catalogue, name)))
			continue
		}
		out = append(out, f)
	}
	if len(problems) > 0 {
		return nil, fmt.Errorf("faults: %s", strings.Join(problems, "; "))
	}
	return out, nil
}

// nearest says what to write instead of a name: the faults of the parts that it
// mentions, or how names look.
func nearest(catalogue []*Fault, name string) string {
	const most = 12
	mentioned := map[string]bool{}
	for _, word := range strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune(" ,()", r) }) {
		mentioned[word] = true
		part, _, _ := strings.Cut(word, ".")
		mentioned[part] = true
	}
	var like []string
	for _, f := range catalogue {
		if mentioned[f.Part] {
			like = append(like, fmt.Sprintf("%q", f.Name))
		}
	}
	switch {
	case len(catalogue) == 0:
		return ", and the catalogue is empty"
	case len(like) == 0:
		return fmt.Sprintf("; write a name of the catalogue whole, for example %q", catalogue[0].Name)
	case len(like) > most:
		like = append(like[:most], fmt.Sprintf("and %d more", len(like)-most))
	}
	return "; write one of " + strings.Join(like, ", ")
}
