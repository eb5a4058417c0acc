package strictyaml

import (
	"bytes"
	"fmt"
	"unicode"
	"unicode/utf8"

	"example.com/ohmloom/netlist/problem"
)

// Limits of a file. They are far above any real harness and bound the time and
// memory that a hostile one can take.
const (
	// MaxBytes is the largest size of a file in bytes (4 MiB).
	MaxBytes = 4 << 20

	// MaxDepth is how deep lists and mappings may be nested.
	MaxDepth = 64

	// MaxSeparators bounds how many line breaks, commas, colons, dashes and
	// brackets that could separate two values a file may have. The YAML
	// library needs some 300 bytes of memory for every value, even an empty
	// one, and so must not be given millions.
	MaxSeparators = 500_000
)

// bom is the byte order mark that some editors begin UTF-8 files with.
const bom = "\ufeff"

// scan looks for what must not even reach the YAML library: files that are too
// large, or not UTF-8 text, or that hold control characters. It returns the
// first problem found.
func scan(data []byte) (problem.Problem, bool) {
	if len(data) > MaxBytes {
		return problem.Problem{
			What:  fmt.Sprintf("the file is larger than %d bytes (4 MiB), the most that is read", MaxBytes),
			Write: "the harness in a smaller file",
		}, false
	}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return problem.Problem{What: "the file is UTF-16 text", Write: "it as UTF-8 (the editor's \"save as\")"}, false
	}
	text := bytes.TrimPrefix(data, []byte(bom))
	line, column, separators := 1, 1, 0
	head := true // nothing but comments so far
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		next := byte(' ')
		if i+size < len(text) {
			next = text[i+size]
		}
		if what := badCharacter(r, size); what != "" {
			return problem.Problem{Line: line, Column: column, What: what, Write: "UTF-8 text without it"}, false
		}
		// Directives have nothing to say here, and %YAML 1.1 would promise
		// a reading that is not given.
		if head && column == 1 && r != '\n' && r != '\r' && r != '#' {
			if r == '%' {
				return problem.Problem{
					Line: line, Column: column,
					What: "lines that begin with % are not allowed", Write: "the file without it",
				}, false
			}
			head = r == ' ' || r == '\t'
		}
		if separates(r, next) {
			separators++
		}
		if separators > MaxSeparators {
			return problem.Problem{
				Line: line, Column: column,
				What:  fmt.Sprintf("the file has more than %d separate values", MaxSeparators),
				Write: "the harness in a smaller file",
			}, false
		}
		column++
		if r == '\n' || r == '\r' && next != '\n' {
			line, column = line+1, 1
		}
		i += size
	}
	return problem.Problem{}, true
}

// badCharacter returns what is wrong with a character as such. Line separators
// other than CR and LF are refused because editors and the library would count
// lines differently.
func badCharacter(r rune, size int) string {
	switch {
	case r == utf8.RuneError && size <= 1:
		return "the file is not valid UTF-8 text here"
	case r == '\t', r == '\n', r == '\r':
		return ""
	case unicode.IsControl(r), r == '\u2028', r == '\u2029', r == '\ufeff', r == '\ufffe', r == '\uffff':
		return fmt.Sprintf("the file holds the control character U+%04X here", r)
	}
	return ""
}

// separates reports whether r, followed by next, could stand between two YAML
// values. It errs on the safe side, since it knows nothing of quotes.
func separates(r rune, next byte) bool {
	switch r {
	case '\n', ',', '[', '{':
		return true
	case '\r':
		return next != '\n'
	case ':', '-', '?':
		return next == ' ' || next == '\t' || next == '\n' || next == '\r' ||
			r == ':' && (next == ',' || next == ']' || next == '}')
	}
	return false
}
