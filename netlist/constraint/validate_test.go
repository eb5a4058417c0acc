package constraint_test

import (
	"math"
	"testing"

	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/problem"
	"github.com/google/go-cmp/cmp"
)

func TestValidate(t *testing.T) {
	number := func(x float64) *float64 { return &x }
	tests := []struct {
		name   string
		change func(*box)
		want   problem.List
	}{
		{"valid", func(*box) {}, nil},
		{"fields that are left out", func(b *box) { b.Drawers, b.Cavity = nil, nil }, nil},
		{"not in the file", func(b *box) { b.Derived, b.hidden = -1, -1 }, nil},
		{"zero that is a value", func(b *box) { b.Zero = 0 }, nil},
		{"required name", func(b *box) { b.Name = "" }, problem.List{
			{Path: "name", What: "name is missing", Write: "name of the box"},
		}},
		{"required number", func(b *box) { b.LengthM = 0 }, problem.List{
			{Path: "length_m", What: "length_m is missing", Write: "the length of the conductor in metres, for example length_m: 1.2"},
		}},
		{"required list", func(b *box) { b.Ends = nil }, problem.List{
			{Path: "ends", What: "ends is missing", Write: "a value or a list of them"},
		}},
		{"required pointer", func(b *box) { b.Must = nil }, problem.List{
			{Path: "must", What: "must is missing", Write: "a mapping"},
		}},
		{"number out of bounds", func(b *box) { b.LengthM = -3 }, problem.List{
			{Path: "length_m", What: "length_m is -3, must be above 0 and at most 10000 metres", Write: "the length of the conductor in metres, for example length_m: 1.2"},
		}},
		{"number that is not required, NaN", func(b *box) { b.Size.Metric = math.NaN() }, problem.List{
			{Path: "size.section_mm2", Element: "size", What: "section_mm2 is not a number (NaN)", Write: "a number in square millimetres, for example section_mm2: 0.35"},
		}},
		{"number infinite", func(b *box) { b.Zero = math.Inf(-1) }, problem.List{
			{Path: "offset_mv", What: "offset_mv is infinite", Write: "a number in millivolts, for example offset_mv: 1.2"},
		}},
		{"zero by pointer is a value", func(b *box) { b.Ohms = number(0) }, problem.List{
			{Path: "ohms", What: "ohms is 0, must be above 0 ohms", Write: "a number in ohms, for example ohms: 120"},
		}},
		{"whole number", func(b *box) { b.Count = 10 }, problem.List{
			{Path: "count", What: "count is 10, must be at least 1 and at most 9", Write: "a whole number, for example count: 3"},
		}},
		{"word", func(b *box) { b.Kind = "plastik" }, problem.List{
			{Path: "kind", What: `kind is "plastik", must be one of wooden, plastic, steel`, Write: "plastic"},
		}},
		{"line", func(b *box) { b.Label = "a\nb" }, problem.List{
			{Path: "label", What: "label has more than one line", Write: "all of it in one line"},
		}},
		{"inside a pointer", func(b *box) { b.Must.Metric = -1 }, problem.List{
			{Path: "must.section_mm2", What: "section_mm2 is -1, must be above 0 square millimetres", Write: "a number in square millimetres, for example section_mm2: 0.35"},
		}},
		{"element with a name", func(b *box) { b.Drawers[0].Pins[0].MM = number(-1) }, problem.List{
			{
				Path: "drawers[0].pins[0].pitch_mm", Element: "drawer D1, pin 1",
				What: "pitch_mm is -1, must be at least 0 millimetres", Write: "a number in millimetres, for example pitch_mm: 1.2",
			},
		}},
		{"element without a name", func(b *box) { b.Drawers = append(b.Drawers, drawer{}) }, problem.List{
			{Path: "drawers[1].name", Element: "drawer number 2", What: "name is missing", Write: "a name"},
		}},
		{"entry of a list of text", func(b *box) { b.Ends = []conductor{"a", "", "c.d"} }, problem.List{
			{Path: "ends[1]", What: "entry 2 of ends is empty", Write: "a value or a list of them"},
			{Path: "ends[2]", What: `entry 3 of ends is "c.d", but a name has only letters, digits, _ and -, not a dot`, Write: "a name such as c_d"},
		}},
		{"entry of a list of numbers", func(b *box) { b.Loads = []float64{0, 61} }, problem.List{
			{Path: "loads_v[1]", What: "entry 2 of loads_v is 61, must be at most 60 volts", Write: "a list in volts"},
		}},
		{"pair", func(b *box) { b.Cavity = []cavity{{"1", "hihg"}, {"a.b", "low"}, {"", ""}} }, problem.List{
			{Path: "cavities.1", What: `cavities.1 is "hihg", must be one of high, low`, Write: "high"},
			{Path: "cavities.a.b", What: `id in cavities is "a.b", but a name has only letters, digits, _ and -, not a dot`, Write: "a name such as a_b"},
			{Path: "cavities.", What: "id in cavities is empty", Write: "a name"},
			{Path: "cavities.", What: "cavities. is empty", Write: "one of high, low"},
		}},
		{"pair twice", func(b *box) { b.Cavity = []cavity{{"1", "high"}, {"1", "low"}} }, problem.List{
			{Path: "cavities.1", What: `cavities has "1" twice`, Write: "it once"},
		}},
		{"several, in the order of the fields", func(b *box) { b.Count, b.Name, b.LengthM = -1, "", 0 }, problem.List{
			{Path: "name", What: "name is missing", Write: "name of the box"},
			{Path: "length_m", What: "length_m is missing", Write: "the length of the conductor in metres, for example length_m: 1.2"},
			{Path: "count", What: "count is -1, must be at least 1 and at most 9", Write: "a whole number, for example count: 3"},
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			b := valid()
			test.change(b)
			if diff := cmp.Diff(test.want, constraint.Validate(b)); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(test.want, constraint.Validate(*b)); diff != "" {
				t.Errorf("problems of the struct itself (-want +got):\n%s", diff)
			}
		})
	}
}

func TestValidateNil(t *testing.T) {
	want := problem.List{{What: "is nil", Write: "a value"}}
	if diff := cmp.Diff(want, constraint.Validate((*box)(nil))); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
}

func TestValidateRequiredStruct(t *testing.T) {
	type outer struct {
		Easy size   `yaml:"easy" rule:"required"`
		Hard drawer `yaml:"hard" rule:"required"`
	}
	// Nothing is required inside Easy, so that an empty one is complete.
	want := problem.List{{Path: "hard", What: "hard is missing", Write: "a mapping"}}
	if diff := cmp.Diff(want, constraint.Validate(outer{})); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
}
