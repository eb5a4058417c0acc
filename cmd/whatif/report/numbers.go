package report

import (
	"math"
	"strconv"
	"strings"

	"example.com/ohmloom/solve"
)

// number is a value in ohms or volts as the page carries it: with the digits that
// are shown and no more, null in JSON where it is OL.
type number struct {
	value float64
	over  bool
}

// MarshalJSON implements json.Marshaler.
func (n number) MarshalJSON() ([]byte, error) {
	if n.over {
		return []byte("null"), nil
	}
	return []byte(strconv.FormatFloat(n.value, 'f', -1, 64)), nil
}

// UnmarshalJSON implements json.Unmarshaler.
func (n *number) UnmarshalJSON(data []byte) (err error) {
	if *n = (number{}); string(data) == "null" {
		n.over = true
		return nil
	}
	n.value, err = strconv.ParseFloat(string(data), 64)
	return err
}

// text is the number as a meter shows it.
func (n number) text(q solve.Quantity) string {
	return solve.FormatReading(q, solve.Value{Number: n.value, OL: n.over})
}

// prefixes are the powers of ten of the units that readings are written in.
var prefixes = map[string]string{"Ω": "e0", "kΩ": "e3", "MΩ": "e6", "V": "e0"}

// shown is the number that solve.FormatReading writes.
func shown(q solve.Quantity, v solve.Value) number {
	if v.OL {
		return number{over: true}
	}
	digits, unit, _ := strings.Cut(solve.FormatReading(q, v), " ")
	n, _ := strconv.ParseFloat(digits+prefixes[unit], 64) // what was written there
	if n == 0 {
		n = 0 // and not −0
	}
	return number{value: n}
}

// outward rounds the limits of a band to few digits, so that it never gets
// narrower: ohms to three figures and no finer than a meter's 0.1 Ω, volts to
// 0.01 V.
func outward(q solve.Quantity, low, high solve.Value) (number, number) {
	at := func(v solve.Value, round func(float64) float64) number {
		if v.OL {
			return number{over: true}
		}
		if q == solve.Ohms && v.Number <= 0 {
			return number{}
		}
		places := 2
		if q == solve.Ohms {
			places = min(1, 2-int(math.Floor(math.Log10(v.Number))))
		}
		scale := math.Pow(10, math.Abs(float64(places))) // exact, unlike its inverse
		n := v.Number
		if places >= 0 {
			n = round(n*scale) / scale
		} else {
			n = round(n/scale) * scale
		}
		if n == 0 {
			n = 0
		}
		return number{value: n}
	}
	return at(low, math.Floor), at(high, math.Ceil)
}
