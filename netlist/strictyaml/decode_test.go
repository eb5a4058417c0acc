package strictyaml_test

import (
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
	"github.com/google/go-cmp/cmp"
)

func TestDecode(t *testing.T) {
	const minimal = "rig: r\n"
	tests := []struct {
		name string
		in   string
		want rig
	}{
		{"block style", `
# a comment
rig: bench   # and another
temperature_c: -40
supply:
  volts: 12.5
frame:
  material: 6061
  corners:
  - x_mm: 1
    y_mm: 2
  - {}
parts:
  - name: P1
    length_m: 1.2
    ends: X1.1
    pins:
      1: high
      010: low
`, rig{
			Name: "bench", Temp: pointer(-40.0), Supply: &supply{Volts: 12.5},
			Frame: frame{Material: "6061", Corners: []corner{{1, 2}, {}}},
			Parts: []part{{Name: "P1", LengthM: 1.2, Ends: []side{"X1.1"}, Pins: []pin{{"1", "high"}, {"010", "low"}}}},
		}},
		{"flow style, also JSON", `{"rig": "r", "parts": [{"name": "6", "length_m": 12e-1, "ends": ["a", "b"], "pins": {"1": "high"}}], "steps": "5%"}`, rig{
			Name:  "r",
			Parts: []part{{Name: "6", LengthM: 1.2, Ends: []side{"a", "b"}, Pins: []pin{{"1", "high"}}}},
			Steps: []percent{{5}},
		}},
		{"byte order mark and CRLF", "\ufeffrig: r\r\nlabels:\r\n- a\r\n", rig{Name: "r", Labels: []string{"a"}}},
		{"document markers", "---\nrig: r\n...\n", rig{Name: "r"}},
		{"text stays as it is written", minimal + "labels: [010, 1.10, no, 0x1F, 1e3, +5, 2020-01-01, 12:30, 1_000, .5, yes, 'null', \"true\", a  b]", rig{
			Name: "r", Labels: []string{"010", "1.10", "no", "0x1F", "1e3", "+5", "2020-01-01", "12:30", "1_000", ".5", "yes", "null", "true", "a  b"},
		}},
		{"text of several lines", "rig: |-\n  one\n  two\n", rig{Name: "one\ntwo"}},
		{"numbers in every decimal notation", minimal + "loads_v: [0, 1, +2, .5, 6., 7.5, 1e1, 1.5E+1, 20e-1, 0.0]", rig{
			Name: "r", Loads: []float64{0, 1, 2, .5, 6, 7.5, 10, 15, 2, 0},
		}},
		{"whole numbers in every notation", minimal + "frame: {inner: {depth: -9223372036854775808}}\nparts: [{name: a, length_m: 1, ends: a, turns: 3.0, count: 1e1, small: +4}]", rig{
			Name: "r", Frame: frame{Inner: inner{-9223372036854775808}},
			Parts: []part{{Name: "a", LengthM: 1, Ends: []side{"a"}, Turns: 3, Count: pointer(10), Small: 4}},
		}},
		{"pointers tell zero from absent", minimal + "temperature_c: 0\nsupply: {}\nparts: [{name: a, length_m: 1, ends: a, count: 0, off: false}]", rig{
			Name: "r", Temp: pointer(0.0), Supply: &supply{},
			Parts: []part{{Name: "a", LengthM: 1, Ends: []side{"a"}, Count: pointer(0), Off: pointer(false)}},
		}},
		{"zero that the bounds admit", minimal + "parts: [{name: a, length_m: 1, ends: a, offset_mv: 0}]", rig{
			Name: "r", Parts: []part{{Name: "a", LengthM: 1, Ends: []side{"a"}}},
		}},
		{"empty lists", minimal + "parts: []\nlabels: []\nsteps: []\n", rig{Name: "r"}},
		{"key in quotes and explicit key", "\"rig\": r\n? labels\n: [a]\n", rig{Name: "r", Labels: []string{"a"}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var got rig
			_, problems := strictyaml.Decode("rig.yaml", []byte(test.in), &got)
			if len(problems) > 0 {
				t.Errorf("problems:\n%v", problems)
			}
			if diff := cmp.Diff(test.want, got, sameRig); diff != "" {
				t.Errorf("value (-want +got):\n%s", diff)
			}
		})
	}
}

const (
	rigKeys  = "rig, temperature_c, supply, frame, parts, labels, loads_v, steps"
	partKeys = "name, length_m, offset_mv, turns, small, count, on, off, ends, pins, tolerance, note"
	lengthOf = "the length of the conductor in metres, for example length_m: 1.2"
)

// TestDecodeProblems has in want one line for each problem, without the file.
func TestDecodeProblems(t *testing.T) {
	tests := []struct {
		name string
		in   string
		want string
	}{
		{"unknown keys", `
rig: r
parts:
- {name: P1, length_m: 1, ends: a, trun: 3}
- {name: P2, lenght_m: 1, ends: a, "big\a": b}
- {length: 1, Ends: a}
supply: {volt: 3, volts: 4}
colour: red
`, `
4:36: part P1: unknown key "trun"; write turns (known keys: ` + partKeys + `)
5:14: part P2: unknown key "lenght_m"; write length_m, in metres (known keys: ` + partKeys + `)
5:36: part P2: unknown key "big\a"; write one of the known keys ` + partKeys + `
6:3: part number 3: name is missing; write name of the part
6:4: part number 3: unknown key "length"; write length_m, in metres (known keys: ` + partKeys + `)
6:15: part number 3: unknown key "Ends"; write ends (known keys: ` + partKeys + `)
7:10: supply: unknown key "volt"; write one of the known keys volts, fused
8:1: unknown key "colour"; write one of the known keys ` + rigKeys,
		},
		{"doubled keys", `
rig: r
rig: s
parts:
- name: P1
  ends: a
  length_m: 1
  name: P2
  colour: 1
  colour: 2
  pins: {1: a, 2: b, 1: c}
`, `
3:1: key "rig" is there twice, first on line 2; write it once
8:3: part P1: key "name" is there twice, first on line 5; write it once
9:3: part P1: unknown key "colour"; write one of the known keys ` + partKeys + `
10:3: part P1: key "colour" is there twice, first on line 9; write it once
11:22: part P1: key "1" is there twice, first on line 11; write it once`,
		},
		{"missing keys", `
labels: [a]
parts:
  - name: P1
    turns: 1
  - {}
`, `
2:1: rig is missing; write name of the rig
4:5: part P1: length_m is missing; write ` + lengthOf + `
4:5: part P1: ends is missing; write one end or both
6:5: part number 2: name is missing; write name of the part
6:5: part number 2: length_m is missing; write ` + lengthOf + `
6:5: part number 2: ends is missing; write one end or both`,
		},
		{"wrong types", `
rig: [r]
temperature_c: [1]
supply: 3
frame: []
parts: {a: b}
labels: x
steps: {a: b}
loads_v: [1, a, [2], {a: b}, "3"]
`, `
2:6: rig is a list, must be text; write name of the rig
3:16: temperature_c is a list, must be a number; write temperature of the copper in degrees Celsius, for example temperature_c: 20
4:9: supply: supply is a single value, must be a mapping (key: value); write keys out of volts, fused
5:8: frame is a list, must be a mapping (key: value); write keys out of material, corners, inner
6:8: parts is a mapping (key: value), must be a list; write a list of the parts
7:9: labels is a single value, must be a list; write what is printed on it
8:8: steps is a mapping (key: value), must be a list; write steps of the dial
9:14: entry 2 of loads_v is "a", must be a number; write voltages in volts
9:17: entry 3 of loads_v is a list, must be a number; write voltages in volts
9:22: entry 4 of loads_v is a mapping (key: value), must be a number; write voltages in volts
9:30: entry 5 of loads_v is text in quotes, must be a number; write it without quotes`,
		},
		{"wrong types inside an element", `
rig: r
parts:
- 12
- [a]
- {name: [P3], length_m: true, on: yes, off: "true", turns: {}, ends: {a: b}, pins: [1], tolerance: [5%], note: 2}
- {name: P4, length_m: 1, ends: [], pins: {}, on: TRUE, tolerance: 5}
`, `
4:3: part number 1: entry 1 of parts is a single value, must be a mapping (key: value); write keys out of ` + partKeys + `
5:3: part number 2: entry 2 of parts is a list, must be a mapping (key: value); write keys out of ` + partKeys + `
6:10: part number 3: name is a list, must be a name; write name of the part
6:26: part number 3: length_m is "true", must be a number; write ` + lengthOf + `
6:36: part number 3: on is "yes", must be true or false; write true or false without quotes
6:46: part number 3: off is "true", must be true or false; write true or false without quotes
6:61: part number 3: turns is a mapping (key: value), must be a whole number; write number of turns, for example turns: 1
6:71: part number 3: ends is a mapping (key: value), must be a list; write one end or both
6:85: part number 3: pins is a list, must be a mapping (key: value); write pin: what it carries, for example pins: {1: high}
6:101: part number 3: tolerance is a list, must be text; write limit of error
7:33: part P4: ends is an empty list; write one end or both
7:51: part P4: on is "TRUE", must be true or false; write true or false without quotes
7:68: part P4: tolerance is "5": no number with % behind it; write limit of error`,
		},
		{"no value", `
rig:
temperature_c: ~
supply:
frame: null
parts:
-
- ~
- {name: , length_m: , pins: {1: ~}, ends: [~]}
labels:
-
steps: NULL
`, `
2:5: rig has no value; write name of the rig
3:16: temperature_c is ~, which is no value; write temperature of the copper in degrees Celsius, for example temperature_c: 20, or leave the key out
4:8: supply has no value; write the supply, or leave the key out
5:8: frame is null, which is no value; write the frame, or leave the key out
7:2: part number 1: entry 1 of parts is empty, must be a mapping (key: value); write keys out of ` + partKeys + `
8:3: part number 2: entry 2 of parts is empty, must be a mapping (key: value); write keys out of ` + partKeys + `
9:10: part number 3: name has no value; write name of the part
9:22: part number 3: length_m has no value; write ` + lengthOf + `
9:34: part number 3: pins.1 is ~, which is no value; write what the pin carries
9:45: part number 3: entry 1 of ends is ~, which is no value; write one end or both
11:2: entry 1 of labels has no value; write what is printed on it
12:8: steps is NULL, which is no value; write steps of the dial, or leave the key out`,
		},
		{"words that are not text", `
rig: true
parts:
- {name: False, length_m: 1, ends: [a, true], pins: {true: a, ~: b, 1: false}}
`, `
2:6: rig is true, which is no text in YAML; write "true" in quotes, if that is meant
4:10: part False: name is False, which is no text in YAML; write "False" in quotes, if that is meant
4:40: part False: entry 2 of ends is true, which is no text in YAML; write "true" in quotes, if that is meant
4:54: part False: pin in pins is true, which is no text in YAML; write "true" in quotes, if that is meant
4:63: part False: pin in pins is ~, which is no text in YAML; write "~" in quotes, if that is meant
4:72: part False: pins.1 is false, which is no text in YAML; write "false" in quotes, if that is meant`,
		},
		{"numbers out of bounds", `
rig: r
temperature_c: 151
loads_v: [-1, 61]
frame: {inner: {depth: 1e19}}
parts:
- {name: P1, length_m: 0, ends: a, turns: 0, count: -1, offset_mv: 5.5, small: 128}
- {name: P2, length_m: -3, ends: a, small: -129}
- {name: P3, length_m: 10000.1, ends: a}
- {name: P4, length_m: 1e-999, ends: a}
`, `
3:16: temperature_c is 151, must be at least -60 and at most 150 degrees Celsius; write temperature of the copper in degrees Celsius, for example temperature_c: 20
4:11: entry 1 of loads_v is -1, must be at least 0 and at most 60 volts; write voltages in volts
4:15: entry 2 of loads_v is 61, must be at least 0 and at most 60 volts; write voltages in volts
5:24: depth is 1e19, must be a whole number; write a whole number, for example depth: 1
7:24: part P1: length_m is 0, must be above 0 and at most 10000 metres; write ` + lengthOf + `
7:43: part P1: turns is 0, must be at least 1 and at most 400; write number of turns, for example turns: 1
7:53: part P1: count is -1, must be at least 0; write how many, for example count: 1
7:68: part P1: offset_mv is 5.5, must be at most 5 millivolts; write offset in millivolts, for example offset_mv: 1.2
7:80: part P1: small is 128, which is too large; write a whole number, for example small: 1
8:24: part P2: length_m is -3, must be above 0 and at most 10000 metres; write ` + lengthOf + `
8:44: part P2: small is -129, which is too large; write a whole number, for example small: 1
9:24: part P3: length_m is 10000.1, must be above 0 and at most 10000 metres; write ` + lengthOf + `
10:24: part P4: length_m is 0, must be above 0 and at most 10000 metres; write ` + lengthOf,
		},
		{"numbers in notations that are refused", `
rig: r
parts:
- {name: P1, ends: a, length_m: 0x1f, turns: 0o7, offset_mv: 1_000, count: 007}
- {name: P2, ends: a, length_m: 1e999, offset_mv: -.inf}
- {name: P3, ends: a, length_m: .nan, turns: 1.5, count: -00.5}
- {name: P4, ends: a, length_m: 1.2m, offset_mv: 5 mV, turns: 1e}
- {name: P5, ends: a, length_m: one, turns: 1.2.3, count: 0b1}
`, `
4:33: part P1: length_m is "0x1f", must be a number in decimal notation; write ` + lengthOf + `
4:46: part P1: turns is "0o7", must be a number in decimal notation; write number of turns, for example turns: 1
4:62: part P1: offset_mv is "1_000", must be a number without _; write offset_mv: 1000
4:76: part P1: count is 007, a number with a leading zero; write count: 7
5:33: part P2: length_m is 1e999, which is too large for a number; write ` + lengthOf + `
5:51: part P2: offset_mv is infinite; write offset in millivolts, for example offset_mv: 1.2
6:33: part P3: length_m is not a number (NaN); write ` + lengthOf + `
6:46: part P3: turns is 1.5, must be a whole number; write number of turns, for example turns: 1
6:58: part P3: count is -00.5, a number with a leading zero; write count: -0.5
7:33: part P4: length_m is "1.2m", must be a number without a unit; write ` + lengthOf + `
7:50: part P4: offset_mv is "5 mV", must be a number without a unit; write offset in millivolts, for example offset_mv: 1.2
7:63: part P4: turns is "1e", must be a number without a unit; write number of turns, for example turns: 1
8:33: part P5: length_m is "one", must be a number; write ` + lengthOf + `
8:45: part P5: turns is "1.2.3", must be a number; write number of turns, for example turns: 1
8:59: part P5: count is "0b1", must be a number; write how many, for example count: 1`,
		},
		{"numbers too long to repeat", `
rig: r
temperature_c: 1` + strings.Repeat("0", 400) + `
parts:
- {name: P1, ends: a, length_m: 0` + strings.Repeat("9", 40) + `, turns: 0` + strings.Repeat("9", 41) + `}
- {name: P2, ends: a, length_m: 1, turns: 00, count: 0` + strings.Repeat("0", 99) + `}
frame: {inner: {depth: 9007199254740993.0}}
`, `
3:16: temperature_c is 1` + strings.Repeat("0", 39) + `…, which is too large for a number; write temperature of the copper in degrees Celsius, for example temperature_c: 20
5:33: part P1: length_m is 0` + strings.Repeat("9", 39) + `…, a number with a leading zero; write length_m: ` + strings.Repeat("9", 40) + `
5:83: part P1: turns is 0` + strings.Repeat("9", 39) + `…, a number with a leading zero; write number of turns, for example turns: 1
6:43: part P2: turns is 00, a number with a leading zero; write turns: 0
6:54: part P2: count is ` + strings.Repeat("0", 40) + `…, a number with a leading zero; write count: 0
7:24: depth is 9007199254740993.0, must be a whole number; write a whole number, for example depth: 1`,
		},
		{"keys of a mapping by name", `
rig: r
parts:
- name: P1
  ends: a
  length_m: 1
  pins:
    : a
    ? [b]
    : c
    <<: d
`, `
8:5: part P1: a key is missing before this colon; write key: value
9:7: part P1: a key is a list, must be a word; write key: value
11:5: part P1: << (a merge key) is not allowed; write the keys themselves`,
		},
		{"decimal commas", `
rig: r
parts:
- {name: P1, ends: a, length_m: 1,5, offset_mv: 1,5}
- name: P2
  ends: a
  length_m: 1,5
`, `
4:35: part P1: inside { } a comma ends the value, and what follows here is no key; write a point in place of the decimal comma
4:51: part P1: inside { } a comma ends the value, and what follows here is no key; write a point in place of the decimal comma
7:13: part P2: length_m is "1,5", must be a number; write a point in place of the decimal comma`,
		},
		{"text with a comma", `
rig: r
frame: {inner: {depth: 1}, material: steel, painted twice}
parts:
- {name: P1, ends: a, length_m: 0,5}
`, `
3:45: inside { } a comma ends the value, so "painted twice" is taken for a key; write the whole text in quotes, with its comma
5:35: part P1: inside { } a comma ends the value, and what follows here is no key; write a point in place of the decimal comma`,
		},
		{"what only looks like a decimal comma", `
rig: r
supply: {5, volts: 1}
frame: {inner: {depth: 1, x}, corners: [{x_mm: a, 5}, {x_mm: 1, 5: 3}, {x_mm: 1, 5: ''}, {x_mm: [1], 5}, {x_mm: 1, 5: [a]}]}
parts:
- name: P1
  ends: a
  length_m: 1
  5:
`, `
3:10: supply: unknown key "5"; write one of the known keys volts, fused
4:27: unknown key "x"; write one of the known keys depth
4:48: corner number 1: x_mm is "a", must be a number; write a number in millimetres, for example x_mm: 1.2
4:51: corner number 1: unknown key "5"; write one of the known keys x_mm, y_mm
4:65: corner number 2: unknown key "5"; write one of the known keys x_mm, y_mm
4:82: corner number 3: unknown key "5"; write one of the known keys x_mm, y_mm
4:97: corner number 4: x_mm is a list, must be a number; write a number in millimetres, for example x_mm: 1.2
4:102: corner number 4: unknown key "5"; write one of the known keys x_mm, y_mm
4:116: corner number 5: unknown key "5"; write one of the known keys x_mm, y_mm
9:3: part P1: unknown key "5"; write one of the known keys ` + partKeys,
		},
		{"names of elements", `
rig: r
parts:
- {ends: a, length_m: 1, name: P1, x: y}
- {x: y, ends: a, length_m: 1, name: [P2], name: P3}
- [name, P4]
`, `
4:36: part P1: unknown key "x"; write one of the known keys ` + partKeys + `
5:4: part P3: unknown key "x"; write one of the known keys ` + partKeys + `
5:38: part P3: name is a list, must be a name; write name of the part
5:44: part P3: key "name" is there twice, first on line 5; write it once
6:3: part number 3: entry 3 of parts is a list, must be a mapping (key: value); write keys out of ` + partKeys,
		},
		{"alias for a key", `
rig: &a r
? *a
: b
`, `
2:6: rig has an anchor ("&a"), which is not allowed; write the value without it, or text that begins with & in quotes
3:3: a key is an alias ("*a"), which is not allowed; write the value itself, or text that begins with * in quotes`,
		},
		{"text that breaks its rule", `
rig: ""
frame: {material: stel}
labels: ["", "a\nb"]
parts:
- {name: X.1, length_m: 1, ends: "", pins: {a.b: c, d: ""}, note: "\a"}
`, `
2:6: rig is empty; write name of the rig
3:19: material is "stel", must be one of steel, alloy, 6061; write steel
4:10: entry 1 of labels is empty; write what is printed on it
4:14: entry 2 of labels has more than one line; write all of it in one line
6:10: part X.1: name is "X.1", but a name has only letters, digits, _ and -, not a dot; write a name such as X_1
6:34: part X.1: ends is empty; write one end or both
6:45: part X.1: pin in pins is "a.b", but a name has only letters, digits, _ and -, not a dot; write a name such as a_b
6:56: part X.1: pins.d is empty; write what the pin carries
6:67: part X.1: note holds the unprintable character U+0007; write it without that character`,
		},
		{"features of YAML that are refused", `
rig: &a r
labels: [*a, &b x, !!str y, ! z]
!!str temperature_c: 20
supply: !foo {volts: 3}
frame: &c {inner: *a, corners: &d [&e {x_mm: &f 1}]}
? [a]
: b
? {a: b}
: c
<<: {a: b}
"<<": 3
: v
"": w
`, `
2:6: rig has an anchor ("&a"), which is not allowed; write the value without it, or text that begins with & in quotes
3:10: entry 1 of labels is an alias ("*a"), which is not allowed; write the value itself, or text that begins with * in quotes
3:14: entry 2 of labels has an anchor ("&b"), which is not allowed; write the value without it, or text that begins with & in quotes
3:20: entry 3 of labels has a tag ("!!str"), which is not allowed; write the value without it, or text that begins with ! in quotes
3:29: entry 4 of labels has a tag ("!"), which is not allowed; write the value without it, or text that begins with ! in quotes
4:1: a key has a tag ("!!str"), which is not allowed; write the value without it, or text that begins with ! in quotes
5:9: supply has a tag ("!foo"), which is not allowed; write the value without it, or text that begins with ! in quotes
6:8: frame has an anchor ("&c"), which is not allowed; write the value without it, or text that begins with & in quotes
6:19: inner is an alias ("*a"), which is not allowed; write the value itself, or text that begins with * in quotes
6:32: corners has an anchor ("&d"), which is not allowed; write the value without it, or text that begins with & in quotes
6:36: corner number 1: entry 1 of corners has an anchor ("&e"), which is not allowed; write the value without it, or text that begins with & in quotes
6:46: corner number 1: x_mm has an anchor ("&f"), which is not allowed; write the value without it, or text that begins with & in quotes
7:3: a key is a list, must be a word; write key: value
9:3: a key is a mapping (key: value), must be a word; write key: value
11:1: << (a merge key) is not allowed; write the keys themselves
12:1: unknown key "<<"; write one of the known keys ` + rigKeys + `
13:1: a key is missing before this colon; write key: value
14:1: a key is missing before this colon; write key: value`,
		},
		{"anchor at the root", "&a {rig: r}\n",
			`1:1: the file has an anchor ("&a"), which is not allowed; write the value without it, or text that begins with & in quotes`},
		{"columns count characters", "rig: ü\nlabels: [é, \U0001f50c, ~]\n",
			`2:16: entry 3 of labels is ~, which is no value; write what is printed on it`},
		{"byte order mark takes no column", "\ufeffrig: ~\n",
			`1:6: rig is ~, which is no value; write name of the rig`},
		{"a list for the file", "- a\n", `1:1: the file is a list, must be a mapping (key: value); write keys out of ` + rigKeys},
		{"text for the file", "rig\n", `1:1: the file is a single value, must be a mapping (key: value); write keys out of ` + rigKeys},
		{"null for the file", "~\n", `1:1: the file is empty, must be a mapping (key: value); write keys out of ` + rigKeys},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var r rig
			_, problems := strictyaml.Decode("rig.yaml", []byte(test.in), &r)
			var got strings.Builder
			for _, p := range problems {
				if p.File != "rig.yaml" {
					t.Errorf("file is %q in %v", p.File, p)
				}
				p.File = ""
				fmt.Fprintln(&got, p)
			}
			if diff := cmp.Diff(strings.TrimSpace(test.want)+"\n", got.String()); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
			}
		})
	}
}

// Paths of problems are those of the data, for who looks further.
func TestDecodeProblemPaths(t *testing.T) {
	const in = `
rig: [r]
colour: red
parts:
- {name: P1, ends: a, length_m: 1,5, turns: 2, turns: 3}
- {name: P2, ends: [a, ~], pins: {1: [], 1: a, b.c: d}}
- oops
supply: {volt: 3, <<: {}}
`
	want := []string{
		"rig", "colour", "parts[0].length_m", "parts[0].turns", "parts[1].length_m", "parts[1].ends[1]",
		"parts[1].pins.1", "parts[1].pins.1", "parts[1].pins.b.c", "parts[2]", "supply.volt", "supply",
	}
	var r rig
	_, problems := strictyaml.Decode("f", []byte(in), &r)
	var got []string
	for _, p := range problems {
		got = append(got, p.Path)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("paths (-want +got):\n%s", diff)
	}
}

// A file that is no YAML ends at its first problem.
func TestDecodeSyntax(t *testing.T) {
	const (
		colon  = "this colon cannot stand here: the line is indented too far, or a text holds a colon; write the key under the first letter of the other keys, or the text in quotes"
		key    = "a key should begin here: the line is indented unlike the other keys, or more follows after a closed value; write the key under the first letter of the other keys"
		tag    = "tags (!name) are not allowed; write the value without it, or text that begins with ! in quotes"
		alias  = "aliases (*name) are not allowed; write the value itself, or text that begins with * in quotes"
		quoted = "write the value in quotes"
	)
	tests := []struct {
		name, in, want string
	}{
		{"empty", "", "the file is empty"},
		{"blank", " \n\n", "the file is empty"},
		{"comment alone", "# nothing\n", "the file is empty"},
		{"markers alone", "---\n...\n", "the file is empty"},
		{"byte order mark alone", "\ufeff", "the file is empty"},
		{"two documents", "rig: r\n---\nrig: s\n", "2:1: a second document begins here; write one document, without --- and ... lines"},
		{"text after the document", "rig: r\n...\nrig: s\n", "3:1: a second document begins here; write one document, without --- and ... lines"},
		{"broken second document", "rig: r\n---\nrig: [\n", "4:1: a value is missing before this place; write a value, or nothing after the last comma"},
		{"comma without a value", "labels: [a, , b]\n", "1:13: a value is missing before this place; write a value, or nothing after the last comma"},
		{"YAML directive", "# c\n\n%YAML 1.1\n---\nrig: r\n", "3:1: lines that begin with % are not allowed; write the file without it"},
		{"tag directive", "%TAG ! x\n---\nrig: r\n", "1:1: lines that begin with % are not allowed; write the file without it"},
		{"tab at the start", "\trig: r\n", "1:1: a tab cannot indent a line; write blanks"},
		{"tab in a block", "rig: r\nsupply:\n\tvolts: 3\n", "3:1: a tab cannot indent a line; write blanks"},
		{"tab after text", "rig: r\n\tlabels: [a]\n", "2:1: a tab cannot indent a line; write blanks"},
		{"mapping not closed", "rig: r\nparts: [{name: a\nlabels: [b]\n", "3:7: a comma or the closing } is missing before this place; the { is on line 2; write {key: value, key: value}, and a text that holds a colon or a comma in quotes"},
		{"comma left out", "rig: r\nframe: {material: steel inner: {}}\n", "2:30: a comma or the closing } is missing before this place; the { is on line 2; write {key: value, key: value}, and a text that holds a colon or a comma in quotes"},
		{"list not closed", "rig: r\nlabels: [a, b\n", "3:1: a comma or the closing ] is missing before this place; the [ is on line 2; write [a, b]"},
		{"double quote not closed", "rig: \"r\nlabels: [a]\n", "1:6: this quote is not closed; write the closing quote"},
		{"single quote not closed", "rig: 'r\n---\n", "1:6: this quote is not closed; write the closing quote"},
		{"colon in text", "rig: a: b\n", "1:7: " + colon},
		{"indented too far", "rig: r\n labels: [a]\n", "2:8: " + colon},
		{"indented too little", "supply:\n  volts: 3\n fused: true\n", "3:2: " + key},
		{"text after a quote", "rig: \"x\" y\n", "1:10: " + key},
		{"bracket too many", "labels: [a]]\n", "1:12: " + key},
		{"key inside a list", "- a\nb: c\n", "2:1: this line does not go on with the list above it; write - under the - of the other entries, or the key further to the left"},
		{"list on the line of its key", "labels: - a\n", "1:9: a list entry cannot begin here; write each - on a line of its own, or [a, b]"},
		{"no colon", "rig: r\nlabels\n", "2:1: this key has no colon; write key: value"},
		{"at sign", "rig: @r\n", "1:6: a value cannot begin with @; " + quoted},
		{"grave accent", "rig: `r`\n", "1:6: a value cannot begin with `; " + quoted},
		{"percent sign", "rig: %r\n", "1:6: a value cannot begin with %; " + quoted},
		{"asterisk", "rig: *\n", "1:6: a value cannot begin with *; " + quoted},
		{"ampersand", "rig: &\n", "1:6: a value cannot begin with &; " + quoted},
		{"alias of nothing", "rig: *r\n", "1:6: " + alias},
		{"tag not closed", "rig: !<x\n", "1:6: " + tag},
		{"unknown tag", "rig: !a!b c\n", "1:6: " + tag},
		{"escape", "rig: \"a\\q\"\n", `1:8: this backslash begins no known escape; write \\ for a backslash, or the text in single quotes`},
		{"hexadecimal escape", "rig: \"\\xg\"\n", `1:9: this escape needs more hexadecimal digits; write \\ for a backslash, or the text in single quotes`},
		{"comment right behind", "labels: [a]#\n", "1:12: a comment cannot begin right behind a value; write a blank before #, or text with # in quotes"},
		{"text behind a block sign", "rig: |a\n", "1:7: nothing may follow a | or > on its line; write the text on the next lines, or in quotes"},
		{"more after the data", "{rig: r}\na: b\n", "2:1: more follows here after the end of the data; write all of it as key: value"},
		{"directive in the middle", "rig: r\n%foo: x\n", "2:1: a line cannot begin with %; write a key at the start of the line"},
		{"question mark", "rig: ? a\n", "1:6: a value cannot begin with ?; " + quoted},
		{"not UTF-8", "rig: r\nlabels: [é, \xe9]\n", "2:13: the file is not valid UTF-8 text here; write UTF-8 text without it"},
		{"UTF-16", "\xff\xfer\x00i\x00g\x00", "the file is UTF-16 text; write it as UTF-8 (the editor's \"save as\")"},
		{"UTF-16, other order", "\xfe\xff\x00r\x00i\x00g", "the file is UTF-16 text; write it as UTF-8 (the editor's \"save as\")"},
		{"zero byte", "rig: r\x00\n", "1:7: the file holds the control character U+0000 here; write UTF-8 text without it"},
		{"line separator", "# a\u2028rig: r\n", "1:4: the file holds the control character U+2028 here; write UTF-8 text without it"},
		{"next line", "rig: r\u0085", "1:7: the file holds the control character U+0085 here; write UTF-8 text without it"},
		{"control character after bare carriage returns", "rig: r\r\r\a", "3:1: the file holds the control character U+0007 here; write UTF-8 text without it"},
		{"flow nested as deep as may be, and one more", strings.Repeat("[", strictyaml.MaxDepth+1), "1:65: lists and mappings are nested more than 64 deep here; write fewer levels"},
		{"blocks nested too deep", strings.Repeat("- ", strictyaml.MaxDepth+1), "1:129: lists and mappings are nested more than 64 deep here; write fewer levels"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var r rig
			positions, problems := strictyaml.Decode("rig.yaml", []byte(test.in), &r)
			want := "rig.yaml: " + test.want
			if '0' <= test.want[0] && test.want[0] <= '9' {
				want = "rig.yaml:" + test.want
			}
			if got := problems.Error(); got != want {
				t.Errorf("\n got %s\nwant %s", got, want)
			}
			if diff := cmp.Diff(rig{}, r, sameRig); diff != "" {
				t.Errorf("something was read (-want +got):\n%s", diff)
			}
			if line, column := positions.Lookup("rig"); line != 0 || column != 0 {
				t.Errorf("rig is at %d:%d", line, column)
			}
		})
	}
}

func TestDecodeDeepButAllowed(t *testing.T) {
	var r rig
	in := "rig: r\nx: " + strings.Repeat("[", strictyaml.MaxDepth) + strings.Repeat("]", strictyaml.MaxDepth)
	_, problems := strictyaml.Decode("f", []byte(in), &r)
	if len(problems) != 1 || !strings.HasPrefix(problems[0].What, `unknown key "x"`) {
		t.Errorf("got %v, want an unknown key alone", problems)
	}
}

// What can be read is there for further checks, whatever else is wrong.
func TestDecodeKeepsWhatItCan(t *testing.T) {
	const in = `
rig: [no]
temperature_c: 999
colour: red
parts:
- {name: X.1, length_m: -1, turns: 0, count: 7, ends: [a, 3, ~], pins: {1: a, 2: [], b.c: d, 1: e, "": f}}
- oops
- {name: P3, tolerance: 9%}
`
	var got rig
	_, problems := strictyaml.Decode("f", []byte(in), &got)
	want := rig{
		Temp: pointer(999.0),
		Parts: []part{
			{Name: "X.1", LengthM: -1, Count: pointer(7), Ends: []side{"a", "3", ""}, Pins: []pin{{"1", "a"}, {"2", ""}, {"b.c", "d"}}},
			{},
			{Name: "P3", Tol: percent{9}},
		},
	}
	if diff := cmp.Diff(want, got, sameRig); diff != "" {
		t.Errorf("value (-want +got):\n%s", diff)
	}
	if len(problems) != 14 {
		t.Errorf("%d problems, want 14:\n%v", len(problems), problems)
	}
}

func TestDecodeKeepsAHundredProblems(t *testing.T) {
	for _, n := range []int{99, 100, 101, 5000} {
		in := "rig: r\nlabels:\n" + strings.Repeat("- ~\n", n-1) + "colour: red\n"
		var r rig
		_, problems := strictyaml.Decode("f", []byte(in), &r)
		if n <= 100 {
			if len(problems) != n {
				t.Errorf("of %d problems %d are listed", n, len(problems))
			}
			continue
		}
		want := problem.Problem{
			File: "f", Line: n + 3,
			What: fmt.Sprintf("%d more problems up to the end of the file are not listed", n-100),
		}
		if diff := cmp.Diff(want, problems.Sorted()[len(problems)-1]); diff != "" || len(problems) != 101 {
			t.Errorf("of %d problems %d are listed; last (-want +got):\n%s", n, len(problems), diff)
		}
	}
}

func TestDecodePanicsOnWrongTarget(t *testing.T) {
	for name, target := range map[string]any{"struct": rig{}, "nil": (*rig)(nil), "pointer to text": new(string)} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if r := recover(); !strings.HasPrefix(fmt.Sprint(r), "strictyaml: Decode needs a pointer to a struct") {
					t.Errorf("panic is %v", r)
				}
			}()
			strictyaml.Decode("f", []byte("rig: r"), target)
		})
	}
}

func ExampleDecode() {
	type wire struct {
		Name    string  `yaml:"name" rule:"required,name" doc:"name of the wire"`
		LengthM float64 `yaml:"length_m" rule:"required,above=0" doc:"length of the conductor"`
	}
	type harness struct {
		Wires []wire `yaml:"wires" element:"wire"`
	}
	const file = `wires:
  - {name: W1, length_m: 1.2}
  - {name: W2, lenght_m: 0.8}
  - {name: W3, length_m: 1.2 m}
`
	var h harness
	positions, problems := strictyaml.Decode("harness.yaml", []byte(file), &h)
	fmt.Println(problems)
	fmt.Println(positions.Lookup("wires[0].length_m"))
	// Output:
	// harness.yaml:3:16: wire W2: unknown key "lenght_m"; write length_m, in metres (known keys: name, length_m)
	// harness.yaml:4:26: wire W3: length_m is "1.2 m", must be a number without a unit; write length of the conductor in metres, for example length_m: 1.2
	// 2 26
}
