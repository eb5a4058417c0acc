// Package problem holds what is wrong with an input file: where it is wrong,
// in which part of the harness, and what to write instead.
//
// Every check of ohmloom returns a [List] of all problems that it found, never
// only the first one, so that a file can be put right in one go:
//
//	harness.yaml:12:9: wire W7: ends in cavity X3.9, which connector X3 does not have; write one of X3.1, X3.2
//
// The same list serves a harness that was built in Go and has no file: the
// problem then carries the path of the value, such as wires[6].to, in place of
// a position.
package problem

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// maxErrorLines is how many problems [List.Error] prints. A file in which
// everything is wrong, say a key renamed throughout, must not fill the screen.
const maxErrorLines = 50

// Problem is one thing that is wrong with an input. The zero value of each
// field means "not known" and is left out of the text.
type Problem struct {
	File    string // name of the file as the user gave it
	Line    int    // 1-based line, 0 when not known
	Column  int    // 1-based column in characters, 0 when not known
	Path    string // place in the data, such as wires[6].to
	Element string // kind and name of the part concerned, such as "wire W7"
	What    string // what is wrong, a clause without a full stop
	Write   string // what to write instead, to be read after the word "write"
}

// String returns the problem as one line without a line break: position,
// element, what is wrong, what to write instead. A problem without a line is
// placed by its element or, when it has none, by its path. Characters that
// cannot be printed are shown escaped, since What may quote the input.
func (p Problem) String() string {
	var parts []string
	if pos := p.position(); pos != "" {
		parts = append(parts, pos)
	}
	switch {
	case p.Element != "":
		parts = append(parts, p.Element)
	case p.Line == 0 && p.Path != "":
		parts = append(parts, p.Path)
	}
	what := p.What
	switch {
	case p.Write == "":
	case what == "":
		what = "write " + p.Write
	default:
		what += "; write " + p.Write
	}
	if what != "" {
		parts = append(parts, what)
	}
	return printable(strings.Join(parts, ": "))
}

// position returns file:line:column without the parts that are not known.
func (p Problem) position() string {
	var parts []string
	if p.File != "" {
		parts = append(parts, p.File)
	}
	if p.Line > 0 {
		parts = append(parts, strconv.Itoa(p.Line))
		// A column means nothing without its line.
		if p.Column > 0 {
			parts = append(parts, strconv.Itoa(p.Column))
		}
	}
	return strings.Join(parts, ":")
}

// printable escapes what would break the line or drive the terminal.
func printable(s string) string {
	ok := func(r rune) bool { return unicode.IsPrint(r) && r != unicode.ReplacementChar }
	if strings.IndexFunc(s, func(r rune) bool { return !ok(r) }) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if ok(r) {
			b.WriteRune(r)
			continue
		}
		quoted := strconv.QuoteRuneToASCII(r)
		b.WriteString(quoted[1 : len(quoted)-1])
	}
	return b.String()
}

// List is every problem found in one pass. It is an error; return it through
// [List.Err], because an empty List in an error variable is not nil.
type List []Problem

// Error returns the problems in the order of the list, one line each, at most
// 50 of them, then how many more there are.
func (l List) Error() string {
	var b strings.Builder
	for i, p := range l {
		if i == maxErrorLines {
			fmt.Fprintf(&b, "\nand %d more", len(l)-i)
			break
		}
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p.String())
	}
	return b.String()
}

// Err returns the list as an error, or nil when it is empty.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Sorted returns a copy of the list ordered by line, then column. Problems of
// one position keep their order; those without a line come first, since they
// concern the file as a whole.
func (l List) Sorted() List {
	sorted := slices.Clone(l)
	slices.SortStableFunc(sorted, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return sorted
}
