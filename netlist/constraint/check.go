package constraint

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Limits of the length of strings, in characters (Unicode code points).
const (
	MaxName = 64   // of a name
	MaxLine = 200  // of a string without a rule
	MaxText = 2000 // of a string with rule text
)

// Patterns that the strings of the three rules match, as regular expressions
// that Go and ECMA 262 (with its Unicode flag) read alike. A name begins with
// a letter, a digit or _ and goes on with these and -; it has no dot, which
// separates a connector from its cavity. A line holds printable characters and
// blanks, a text line breaks and tabs too.
const (
	NamePattern = `^[\p{L}\p{Nd}_][\p{L}\p{Nd}_-]*$`
	LinePattern = `^[\p{L}\p{M}\p{N}\p{P}\p{S}\p{Zs}]+$`
	TextPattern = `^[\p{L}\p{M}\p{N}\p{P}\p{S}\p{Zs}\n\t]+$`
)

// Pattern returns the regular expression for strings of the field and the
// largest number of characters.
func (f Field) Pattern() (pattern string, maxRunes int) {
	switch {
	case f.Name:
		return NamePattern, MaxName
	case f.Text:
		return TextPattern, MaxText
	}
	return LinePattern, MaxLine
}

// CheckString returns how s breaks the rules of the field, as words that
// follow the name of the value, and what to write instead. Both are empty when
// s obeys.
func (f Field) CheckString(s string) (what, write string) {
	if s == "" {
		return "is empty", f.Hint()
	}
	if f.Enum != nil {
		return f.checkEnum(s)
	}
	if !utf8.ValidString(s) {
		return "is not valid UTF-8 text", f.Hint()
	}
	_, limit := f.Pattern()
	if n := utf8.RuneCountInString(s); n > limit {
		return fmt.Sprintf("has %d characters, must have at most %d", n, limit), "something shorter"
	}
	if f.Name {
		return checkName(s)
	}
	for _, r := range s {
		switch {
		case unicode.IsGraphic(r), f.Text && (r == '\n' || r == '\t'):
		case r == '\n':
			return "has more than one line", "all of it in one line"
		default:
			return fmt.Sprintf("holds the unprintable character U+%04X", r), "it without that character"
		}
	}
	return "", ""
}

func (f Field) checkEnum(s string) (what, write string) {
	if slices.Contains(f.Enum, s) {
		return "", ""
	}
	what = fmt.Sprintf("is %s, must be %s", Quote(s), oneOf(f.Enum))
	if near := Nearest(s, f.Enum); near != "" {
		return what, near
	}
	return what, oneOf(f.Enum)
}

func checkName(s string) (what, write string) {
	nameRune := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' || r == '-' }
	bad := strings.IndexFunc(s, func(r rune) bool { return !nameRune(r) })
	if bad < 0 && s[0] != '-' {
		return "", ""
	}
	what = fmt.Sprintf("is %s, but a name ", Quote(s))
	if bad >= 0 {
		r, _ := utf8.DecodeRuneInString(s[bad:])
		what += fmt.Sprintf("has only letters, digits, _ and -, not %s", characterWord(r))
	} else {
		what += "cannot begin with -"
	}
	better := strings.Trim(strings.Map(func(r rune) rune {
		if nameRune(r) {
			return r
		}
		return '_'
	}, s), "_-")
	if better == "" {
		return what, "a name such as X1"
	}
	return what, "a name such as " + Clip(better, 40)
}

func characterWord(r rune) string {
	switch {
	case r == ' ':
		return "a blank"
	case r == '.':
		return "a dot"
	case r != utf8.RuneError && unicode.IsPrint(r):
		return string(r)
	}
	return fmt.Sprintf("the character U+%04X", r)
}

// CheckNumber returns how x, in the unit of the field, breaks its bounds, as
// words that follow the name of the value, and what to write instead. Both are
// empty when x obeys.
func (f Field) CheckNumber(x float64) (what, write string) {
	switch {
	case math.IsNaN(x):
		return "is not a number (NaN)", f.Hint()
	case math.IsInf(x, 0):
		return "is infinite", f.Hint()
	case !f.inBounds(x):
		return fmt.Sprintf("is %s, must be %s", FormatNumber(x), f.bounds()), f.Hint()
	}
	return "", ""
}

func (f Field) inBounds(x float64) bool {
	return (f.Min == nil || x > f.Min.Value || x == f.Min.Value && !f.Min.Exclusive) &&
		(f.Max == nil || x <= f.Max.Value)
}

// bounds returns the bounds in words: "above 0 and at most 10000 metres".
func (f Field) bounds() string {
	var parts []string
	if f.Min != nil {
		word := "at least "
		if f.Min.Exclusive {
			word = "above "
		}
		parts = append(parts, word+FormatNumber(f.Min.Value))
	}
	if f.Max != nil {
		parts = append(parts, "at most "+FormatNumber(f.Max.Value))
	}
	words := strings.Join(parts, " and ")
	if f.Unit != "" {
		words += " " + f.Unit
	}
	return words
}
