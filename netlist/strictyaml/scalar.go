package strictyaml

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist/constraint"
	"go.yaml.in/yaml/v4"
)

// scalarType is what a scalar is by the core schema of YAML 1.2, which editors
// go by. The library's own tags follow YAML 1.1 in part and are not used.
type scalarType int

const (
	textScalar scalarType = iota
	nullScalar
	boolScalar
	numberScalar // written in any way, see parseNumber
)

// number in decimal notation, as in the core schema
var (
	decimalPattern = regexp.MustCompile(`^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$`)
	basedPattern   = regexp.MustCompile(`^(0o[0-7]+|0x[0-9a-fA-F]+|[-+]?(\.inf|\.Inf|\.INF)|\.nan|\.NaN|\.NAN)$`)
)

func isPlain(n *yaml.Node) bool {
	return n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) == 0
}

func typeOf(n *yaml.Node) scalarType {
	if !isPlain(n) {
		return textScalar
	}
	return typeOfPlain(n.Value)
}

func typeOfPlain(s string) scalarType {
	switch s {
	case "", "~", "null", "Null", "NULL":
		return nullScalar
	case "true", "True", "TRUE", "false", "False", "FALSE":
		return boolScalar
	}
	if decimalPattern.MatchString(s) || basedPattern.MatchString(s) {
		return numberScalar
	}
	return textScalar
}

var (
	leadingZeroPattern  = regexp.MustCompile(`^[-+]?0[0-9]`)
	decimalCommaPattern = regexp.MustCompile(`^[-+]?[0-9]+,[0-9]+$`)
	underscorePattern   = regexp.MustCompile(`^[-+]?[0-9][0-9_]*_[0-9_]*(\.[0-9_]*)?$`)
	unitPattern         = regexp.MustCompile(`^[-+]?[0-9]*\.?[0-9]+ ?[\p{L}\p{S}%°/]{1,12}(m[23²³])?$`)
)

// parseNumber reads the text of a plain scalar for a field of kind Number. It
// returns what is wrong with it, as words after the name of the value, and what
// to write instead.
func parseNumber(f constraint.Field, text string) (x float64, what, write string) {
	if !decimalPattern.MatchString(text) {
		what, write = notANumber(f, text)
		return 0, what, write
	}
	if leadingZeroPattern.MatchString(text) {
		return 0, "is " + constraint.Clip(text, 40) + ", a number with a leading zero", decimalOf(f, text)
	}
	x, err := strconv.ParseFloat(text, 64)
	if errors.Is(err, strconv.ErrRange) {
		return 0, "is " + constraint.Clip(text, 40) + ", which is too large for a number", f.Hint()
	}
	what, write = f.CheckNumber(x)
	return x, what, write
}

// parseInteger does the same for a field of kind Integer. As in JSON Schema a
// number without a fraction is whole however it is written: 1.0 and 1e3 are.
func parseInteger(f constraint.Field, text string) (i int64, what, write string) {
	x, what, write := parseNumber(f, text)
	// From 2^53 on a float64 no longer tells one whole number from the next.
	if math.Abs(x) < 1<<53 {
		i = int64(x)
	}
	if what != "" {
		return i, what, write
	}
	if exact, err := strconv.ParseInt(strings.TrimPrefix(text, "+"), 10, 64); err == nil {
		return exact, "", ""
	}
	if float64(i) != x {
		return 0, "is " + constraint.Clip(text, 40) + ", must be a whole number", f.Hint()
	}
	return i, "", ""
}

// decimalPoint is what to write where a comma stands in a number.
const decimalPoint = "a point in place of the decimal comma"

// notANumber guesses what was meant by text that is not a decimal number.
func notANumber(f constraint.Field, text string) (what, write string) {
	what = "is " + constraint.Quote(text) + ", must be a number"
	switch {
	case decimalCommaPattern.MatchString(text):
		// 1,200 may mean either, so the number is not repeated with a point.
		return what, decimalPoint
	case underscorePattern.MatchString(text):
		return what + " without _", decimalOf(f, strings.ReplaceAll(text, "_", ""))
	}
	if basedPattern.MatchString(text) {
		switch strings.ToLower(strings.TrimLeft(text, "+-")) {
		case ".nan":
			return f.CheckNumber(math.NaN())
		case ".inf":
			return f.CheckNumber(math.Inf(1))
		}
		return what + " in decimal notation", f.Hint()
	}
	if unitPattern.MatchString(text) {
		// The number is not repeated: 12 mm is not 12 in a key in metres.
		return what + " without a unit", f.Hint()
	}
	return what, f.Hint()
}

// decimalOf returns the key with the digits of text as a decimal number.
func decimalOf(f constraint.Field, text string) string {
	sign := ""
	if strings.HasPrefix(text, "-") {
		sign = "-"
	}
	digits := strings.TrimLeft(text, "+-0")
	if len(digits) > 40 {
		return f.Hint()
	}
	if digits == "" || digits[0] < '0' || digits[0] > '9' {
		digits = "0" + digits
	}
	return f.Key + ": " + sign + digits
}
