package strictyaml_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// sameRig compares rigs. An empty list and none are the same in a file.
var sameRig = cmp.Options{cmpopts.EquateEmpty(), cmp.AllowUnexported(percent{})}

func TestEncode(t *testing.T) {
	got, err := strictyaml.Encode(validRig())
	if err != nil {
		t.Fatal(err)
	}
	want := `rig: bench
temperature_c: 20
supply:
  volts: 12.5
frame:
  material: alloy
  corners:
    - {x_mm: 1, y_mm: 2}
    - {}
parts:
  - {name: P1, length_m: 1.2, turns: 3, ends: X1.1, pins: {1: high, "010": low}}
  - {name: P2, length_m: 1e-7, count: 0, on: true, off: false, ends: [a, b], tolerance: 5%, note: "two\nlines: \"quoted\""}
labels: ["no", "1.10", "it's # here"]
loads_v: [0, 48]
steps: 1%
`
	// YAML 1.1 takes the words on and off for true and false, as keys too.
	want = strings.NewReplacer(" on:", ` "on":`, " off:", ` "off":`).Replace(want)
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("text (-want +got):\n%s", diff)
	}
	var back rig
	if _, problems := strictyaml.Decode("rig.yaml", got, &back); len(problems) > 0 {
		t.Fatalf("cannot read it back:\n%v", problems)
	}
	if diff := cmp.Diff(validRig(), back, sameRig); diff != "" {
		t.Errorf("read back (-want +got):\n%s", diff)
	}
}

func TestEncodeQuotesOnlyWhereNeeded(t *testing.T) {
	tests := []struct{ in, want string }{
		{"X1", "X1"},
		{"6", "6"},
		{"X5/b.4", "X5/b.4"},
		{"front left door", "front left door"},
		{"5 % (cold)", "5 % (cold)"},
		{"größer", "größer"},
		{"10 Ω", "10 Ω"},
		{"1b", "1b"},
		{"010", `"010"`},
		{"1.10", `"1.10"`},
		{"1e3", `"1e3"`},
		{"0x1F", `"0x1F"`},
		{"1_000", `"1_000"`},
		{"12:30", `"12:30"`},
		{"2020-01-01", `"2020-01-01"`},
		{"1234567890123456789", `"1234567890123456789"`},
		{"Off", `"Off"`},
		{"null", `"null"`},
		{"a: b", `"a: b"`},
		{"a #b", `"a #b"`},
		{"a, b", `"a, b"`},
		{" a", `" a"`},
		{"a ", `"a "`},
		{"- a", `"- a"`},
		{`\"`, `"\\\""`},
		{"a\u00a0b", "\"a\u00a0b\""},
	}
	for _, test := range tests {
		got, err := strictyaml.Encode(struct {
			V string `yaml:"v"`
		}{test.in})
		if want := "v: " + test.want + "\n"; err != nil || string(got) != want {
			t.Errorf("%q is written %q (%v), want %q", test.in, got, err, want)
		}
	}
}

func TestEncodeNumbers(t *testing.T) {
	tests := []struct {
		in   float64
		want string
	}{
		{1, "1"},
		{0.1, "0.1"},
		{1.0 / 3, "0.3333333333333333"},
		{123456789.5, "123456789.5"},
		{1e9, "1e9"},
		{0.0001, "0.0001"},
		{0.00001, "1e-5"},
		{-2.5, "-2.5"},
		{math.MaxFloat64, "1.7976931348623157e308"},
		{2.5e10, "2.5e10"},
		{2.5e-10, "2.5e-10"},
		{math.SmallestNonzeroFloat64, "5e-324"},
	}
	for _, test := range tests {
		got, err := strictyaml.Encode(struct {
			V float64 `yaml:"v"`
		}{test.in})
		if want := "v: " + test.want + "\n"; err != nil || string(got) != want {
			t.Errorf("%v is written %q (%v), want %q", test.in, got, err, want)
		}
	}
}

func TestEncodeRequired(t *testing.T) {
	type needed struct {
		Offset float64 `yaml:"offset_mv" rule:"required"`
		On     bool    `yaml:"active" rule:"required"`
		Supply supply  `yaml:"supply" rule:"required"`
	}
	got, err := strictyaml.Encode(needed{})
	if err != nil {
		t.Fatal(err)
	}
	if want := "offset_mv: 0\nactive: false\nsupply: {}\n"; string(got) != want {
		t.Errorf("got %q, want %q", got, want)
	}
	var back needed
	if _, problems := strictyaml.Decode("f", got, &back); len(problems) > 0 {
		t.Errorf("cannot read it back: %v", problems)
	}
}

// label is text with anything in it.
type label string

func (l *label) UnmarshalText(text []byte) error { *l = label(text); return nil }

func (l label) MarshalText() ([]byte, error) { return []byte(l), nil }

func TestEncodeNested(t *testing.T) {
	type leaf struct {
		Label label `yaml:"label"`
	}
	type branch struct {
		Leaf   leaf      `yaml:"leaf"`
		Leaves []leaf    `yaml:"leaves"`
		Widths []float64 `yaml:"widths_mm"`
		Pins   []pin     `yaml:"pins" shape:"map"`
	}
	type tree struct {
		Branches []branch `yaml:"branches"`
		Inner    struct {
			Branches []branch `yaml:"branches"`
		} `yaml:"inner"`
	}
	var want tree
	want.Branches = []branch{{Leaves: []leaf{{"a"}, {}, {"b, c"}}, Widths: []float64{1, 0}}, {Leaf: leaf{"\a\u2028\x7f\\"}}}
	want.Inner.Branches = []branch{{Pins: []pin{{"1", "x"}, {"2", "y"}}}}
	text, err := strictyaml.Encode(want)
	if err != nil {
		t.Fatal(err)
	}
	const wantText = `branches:
  - {leaves: [{label: a}, {}, {label: "b, c"}], widths_mm: [1, 0]}
  - {leaf: {label: "\U00000007\U00002028\U0000007F\\"}}
inner:
  branches:
    - {pins: {1: x, 2: "y"}}
`
	if diff := cmp.Diff(wantText, string(text)); diff != "" {
		t.Errorf("text (-want +got):\n%s", diff)
	}
	var got tree
	if _, problems := strictyaml.Decode("f", text, &got); len(problems) > 0 {
		t.Fatalf("cannot read it back: %v", problems)
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("read back (-want +got):\n%s", diff)
	}
}

func TestEncodePanicsWithoutMarshalText(t *testing.T) {
	defer func() {
		if r := fmt.Sprint(recover()); !strings.Contains(r, "has UnmarshalText but no MarshalText") {
			t.Errorf("panic is %v", r)
		}
	}()
	_, err := strictyaml.Encode(struct {
		V oneWay `yaml:"v"`
	}{oneWay{1}})
	t.Errorf("no panic, error %v", err)
}

// oneWay can be read but not written.
type oneWay struct{ n int }

func (*oneWay) UnmarshalText([]byte) error { return nil }

func TestEncodeEmpty(t *testing.T) {
	got, err := strictyaml.Encode(&supply{})
	if err != nil || string(got) != "{}\n" {
		t.Fatalf("got %q (%v), want {}", got, err)
	}
	var back supply
	if _, problems := strictyaml.Decode("f", got, &back); len(problems) > 0 {
		t.Errorf("cannot read it back: %v", problems)
	}
}

func TestEncodeRefusesWhatCannotBeRead(t *testing.T) {
	bad := validRig()
	bad.Parts[1].LengthM = -1
	_, err := strictyaml.Encode(bad)
	var list problem.List
	if !errors.As(err, &list) || len(list) != 1 || list[0].Path != "parts[1].length_m" {
		t.Errorf("got %v, want a problem with parts[1].length_m", err)
	}
}

// stubborn cannot be written.
type stubborn struct{ reason string }

func (s *stubborn) UnmarshalText(text []byte) error { s.reason = string(text); return nil }

func (s *stubborn) MarshalText() ([]byte, error) {
	if s.reason == "\xff" {
		return []byte(s.reason), nil
	}
	return nil, errors.New(s.reason)
}

func TestEncodeReportsTextErrors(t *testing.T) {
	for reason, want := range map[string]string{"will not": "will not", "\xff": "not valid UTF-8"} {
		_, err := strictyaml.Encode(struct {
			V stubborn `yaml:"v"`
		}{stubborn{reason}})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want an error with %q", err, want)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rigs().Draw(t, "rig")
		data, err := strictyaml.Encode(&want)
		if err != nil {
			t.Fatalf("a valid rig cannot be written: %v", err)
		}
		var got rig
		if _, problems := strictyaml.Decode("rig.yaml", data, &got); len(problems) > 0 {
			t.Fatalf("cannot read back\n%s\n%v", data, problems)
		}
		if diff := cmp.Diff(want, got, sameRig); diff != "" {
			t.Fatalf("read back from\n%s\n(-want +got):\n%s", data, diff)
		}
		again, err := strictyaml.Encode(&got)
		if err != nil || string(again) != string(data) {
			t.Fatalf("written again (%v)\n%s\nfirst\n%s", err, again, data)
		}
	})
}

func ExampleEncode() {
	type connector struct {
		Name     string  `yaml:"name" rule:"required,name"`
		Pins     []pin   `yaml:"pins" shape:"map"`
		ReachMin float64 `yaml:"reach_min" rule:"min=0"`
	}
	type harness struct {
		Name       string      `yaml:"harness" rule:"required"`
		Connectors []connector `yaml:"connectors" element:"connector"`
	}
	text, err := strictyaml.Encode(harness{"bench", []connector{
		{Name: "X1", Pins: []pin{{"6", "H"}, {"014", "L"}}, ReachMin: 1.5},
		{Name: "X2"},
	}})
	fmt.Print(string(text), err)
	// Output:
	// harness: bench
	// connectors:
	//   - {name: X1, pins: {6: H, "014": L}, reach_min: 1.5}
	//   - {name: X2}
	// <nil>
}
