package constraint

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// units gives the unit that the last part of a key stands for, in the plural.
var units = map[string]string{
	"m":     "metres",
	"mm":    "millimetres",
	"mm2":   "square millimetres",
	"ohm":   "ohms",
	"ohms":  "ohms",
	"kohm":  "kilohms",
	"kohms": "kilohms",
	"mohm":  "milliohms",
	"mohms": "milliohms",
	"v":     "volts",
	"volts": "volts",
	"mv":    "millivolts",
	"a":     "amperes",
	"ma":    "milliamperes",
	"ua":    "microamperes",
	"w":     "watts",
	"s":     "seconds",
	"ms":    "milliseconds",
	"us":    "microseconds",
	"min":   "minutes",
	"h":     "hours",
	"pct":   "percent",
	"c":     "degrees Celsius",
	"k":     "kelvins",
	"pf":    "picofarads",
	"nf":    "nanofarads",
	"hz":    "hertz",
	"khz":   "kilohertz",
	"kbps":  "kilobits per second",
	"mbps":  "megabits per second",
}

// usualValues are values that look sensible in an example. Where there is none,
// or it is out of bounds, any will do.
var usualValues = map[string]float64{
	"minutes":            5,
	"percent":            5,
	"volts":              12,
	"ohms":               120,
	"square millimetres": 0.35,
	"degrees Celsius":    20,
}

// unitOf returns the unit that a key ends with, in words: metres for length_m,
// ohms per metre for lead_ohm_per_m.
func unitOf(key string) string {
	parts := strings.Split(key, "_")
	n := len(parts)
	unit := units[parts[n-1]]
	// A letter alone is a quantity, not its unit: h is no hour; but ohms and
	// volts are.
	if n == 1 && len(key) < len("ohm") {
		return ""
	}
	if n >= 3 && parts[n-2] == "per" && unit != "" {
		per := "per " + strings.TrimSuffix(unit, "s")
		if over := unitOf(strings.Join(parts[:n-2], "_")); over != "" {
			return over + " " + per
		}
		return per
	}
	return unit
}

// Clip shortens s to at most n characters, marking where it did.
func Clip(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return string([]rune(s)[:n]) + "…"
}

// Quote returns text of the input for a message: in quotes, with unprintable
// characters escaped, and shortened when it is long.
func Quote(s string) string {
	return strconv.Quote(Clip(s, 40))
}

// List returns words as a list in a sentence: "a, b, c".
func List(words []string) string { return strings.Join(words, ", ") }

// Nearest returns which of the known words was most likely meant by word, or
// "" when none is near. Case does not count, and a word that lacks only its
// unit (length for length_m) is near.
func Nearest(word string, known []string) string {
	// Nobody mistypes a word of this length, and distance is quadratic.
	if len(word) == 0 || len(word) > 4*MaxName {
		return ""
	}
	folded := []rune(strings.ToLower(word))
	best, bestDistance := "", 1+(utf8.RuneCountInString(word)+2)/3
	for _, k := range known {
		d := distance(folded, []rune(strings.ToLower(k)))
		if rest, ok := strings.CutPrefix(k, word+"_"); ok && units[rest] != "" {
			d = min(d, 1)
		}
		if d < bestDistance {
			best, bestDistance = k, d
		}
	}
	return best
}

// distance is the number of single characters to insert, delete, replace or
// swap with their neighbour that turns a into b (optimal string alignment).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		before, last, row = last, row, before
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
	}
	return row[len(b)]
}

// Hint returns what should be written for the field, to be read after "write".
func (f Field) Hint() string {
	if f.Enum != nil {
		return oneOf(f.Enum)
	}
	hint := f.Doc
	for _, end := range []string{". ", "; "} {
		hint, _, _ = strings.Cut(hint, end)
	}
	hint = strings.TrimSuffix(hint, ".")
	switch {
	case hint == "" && f.Shape == Sequence:
		hint = "a list"
	case hint == "" && f.Shape == OneOrList:
		hint = "a value or a list of them"
	case hint == "":
		hint = f.Noun()
	case f.Shape == Sequence && f.Kind == Struct:
		hint = "a list of " + hint
	}
	if f.Unit != "" && !strings.Contains(hint, f.Unit) {
		hint += " in " + f.Unit
	}
	if example := f.example(); example != "" {
		hint += ", for example " + f.Key + ": " + example
	}
	return hint
}

func oneOf(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return "one of " + List(words)
}

// Noun says in general what the value is, or each entry of a list.
func (f Field) Noun() string {
	switch f.Kind {
	case Number:
		return "a number"
	case Integer:
		return "a whole number"
	case Bool:
		return "true or false"
	case Struct:
		return "a mapping"
	}
	if f.Name {
		return "a name"
	}
	return "text"
}

// example returns a value to show, "" when there is none worth showing.
func (f Field) example() string {
	if f.Example != "" || f.IsList() {
		return f.Example
	}
	var candidates []float64
	switch f.Kind {
	case Number:
		candidates = []float64{1.2, 12, 0.12, 120, 1200, -12}
	case Integer:
		candidates = []float64{1, 10, 100, 1000, 0, -1}
	default:
		return ""
	}
	if usual, ok := usualValues[f.Unit]; ok {
		candidates = append([]float64{usual}, candidates...)
	}
	i := slices.IndexFunc(candidates, f.inBounds)
	if i < 0 {
		return ""
	}
	return FormatNumber(candidates[i])
}

// FormatNumber returns the shortest text that reads back as x, without an
// exponent while that is short.
func FormatNumber(x float64) string {
	format := byte('f')
	if abs := max(x, -x); abs != 0 && (abs < 1e-4 || abs >= 1e9) {
		format = 'e'
	}
	text := strconv.FormatFloat(x, format, -1, 64)
	// 1e+09 is how Go writes it, 1e9 how people do.
	return strings.NewReplacer("e+0", "e", "e+", "e", "e-0", "e-").Replace(text)
}
