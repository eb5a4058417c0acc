package faults

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Select keeps the faults of a catalogue that any of some texts means, in the order of
// the catalogue; all where there is no text. A text is, the first that fits:
//
//   - a fault's whole name: "open H in pair P3";
//   - a part ("P3") or a [Kind] ("short-to-ground"), for all of its faults;
//   - some of a name, with * for any text and ? for any character, capitals being
//     no matter: "open*pair P3". It begins and ends where words do, so P1 is not P10.
//
// The error lists every text that means no fault, each with what might be meant.
func Select(catalogue []*Fault, texts ...string) ([]*Fault, error) {
	if len(texts) == 0 {
		return catalogue, nil
	}
	meant := map[*Fault]bool{}
	var problems []string
	for _, text := range texts {
		list := means(catalogue, text)
		if len(list) == 0 {
			problems = append(problems, noFault(catalogue, text))
		}
		for _, f := range list {
			meant[f] = true
		}
	}
	if len(problems) > 0 {
		return nil, errors.New(strings.Join(problems, "; "))
	}
	return slices.DeleteFunc(slices.Clone(catalogue), func(f *Fault) bool { return !meant[f] }), nil
}

// Named finds faults of a catalogue one by one, in the order of the texts: each is what
// [Select] takes and must mean just one. The error lists every text that does not.
func Named(catalogue []*Fault, texts ...string) ([]*Fault, error) {
	var out []*Fault
	var problems []string
	for _, text := range texts {
		switch list := means(catalogue, text); len(list) {
		case 0:
			problems = append(problems, noFault(catalogue, text))
		case 1:
			out = append(out, list[0])
		default:
			problems = append(problems, fmt.Sprintf("%q fits %d faults; write one of %s", text, len(list), quoted(list)))
		}
	}
	if len(problems) > 0 {
		return nil, errors.New(strings.Join(problems, "; "))
	}
	return out, nil
}

// means lists the faults that a text means.
func means(catalogue []*Fault, text string) []*Fault {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	pattern := wordsOf(text)
	for _, fits := range []func(f *Fault) bool{
		func(f *Fault) bool { return f.Name == text },
		func(f *Fault) bool { return f.Part == text || string(f.Kind) == text },
		func(f *Fault) bool { return pattern.MatchString(f.Name) },
	} {
		var out []*Fault
		for _, f := range catalogue {
			if fits(f) {
				out = append(out, f)
			}
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

// wordsOf finds a text with * and ? in a name.
func wordsOf(text string) *regexp.Regexp {
	const edge = `[^\pL\pN_-]` // what is no letter of a word
	in := strings.NewReplacer(`\*`, ".*", `\?`, ".").Replace(regexp.QuoteMeta(strings.TrimSpace(text)))
	return regexp.MustCompile(`(?is)(^|` + edge + `)` + in + `($|` + edge + `)`)
}

// noFault says that a text means no fault, and what to write instead: the faults of the
// parts that it mentions, or how names look.
func noFault(catalogue []*Fault, text string) string {
	if len(catalogue) == 0 {
		return fmt.Sprintf("no fault is called %q: there are none, by the rates of the harness none can happen", text)
	}
	mentioned := map[string]bool{}
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,()", r) }) {
		part, _, _ := strings.Cut(word, ".")
		mentioned[word], mentioned[part] = true, true
	}
	var like []*Fault
	for _, f := range catalogue {
		if mentioned[f.Part] {
			like = append(like, f)
		}
	}
	if len(like) == 0 {
		f := catalogue[0]
		return fmt.Sprintf("no fault of %d is called %q; write a name (%q), words of one, a part (%s) or a kind (%s)", len(catalogue), text, f.Name, f.Part, f.Kind)
	}
	return fmt.Sprintf("no fault is called %q; write one of %s", text, quoted(like))
}

// quoted lists names of faults, a dozen at most.
func quoted(list []*Fault) string {
	const most = 12
	var out []string
	for i, f := range list {
		if i == most {
			out = append(out, fmt.Sprintf("and %d more", len(list)-most))
			break
		}
		out = append(out, fmt.Sprintf("%q", f.Name))
	}
	return strings.Join(out, ", ")
}
