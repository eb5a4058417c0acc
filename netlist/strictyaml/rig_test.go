package strictyaml_test

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist/constraint"
	"pgregory.net/rapid"
)

// rig has a field of every kind and shape that the package knows.
type rig struct {
	Name   string    `yaml:"rig" rule:"required,text" doc:"name of the rig"`
	Temp   *float64  `yaml:"temperature_c" rule:"min=-60,max=150" doc:"temperature of the copper"`
	Supply *supply   `yaml:"supply" element:"supply" doc:"the supply"`
	Frame  frame     `yaml:"frame" doc:"the frame"`
	Parts  []part    `yaml:"parts" element:"part" doc:"the parts"`
	Labels []string  `yaml:"labels" doc:"what is printed on it"`
	Loads  []float64 `yaml:"loads_v" rule:"min=0,max=60" doc:"voltages"`
	Steps  []percent `yaml:"steps" shape:"one-or-list" doc:"steps of the dial"`

	Derived string `yaml:"-"`
}

type supply struct {
	Volts float64 `yaml:"volts" rule:"above=0,max=60" doc:"volts on the rail"`
	Fused bool    `yaml:"fused"`
}

type frame struct {
	Material string   `yaml:"material" rule:"enum=steel|alloy|6061" doc:"what it is made of"`
	Corners  []corner `yaml:"corners" element:"corner"`
	Inner    inner    `yaml:"inner"`
}

type inner struct {
	Depth int64 `yaml:"depth"`
}

type corner struct {
	X float64 `yaml:"x_mm"`
	Y float64 `yaml:"y_mm"`
}

type part struct {
	Name    string  `yaml:"name" rule:"required,name" doc:"name of the part"`
	LengthM float64 `yaml:"length_m" rule:"required,above=0,max=10000" doc:"the length of the conductor"`
	Offset  float64 `yaml:"offset_mv" rule:"max=5" doc:"offset"`
	Turns   int     `yaml:"turns" rule:"min=1,max=400" doc:"number of turns"`
	Small   int8    `yaml:"small"`
	Count   *int    `yaml:"count" rule:"min=0" doc:"how many"`
	On      bool    `yaml:"on" doc:"true when it is on"`
	Off     *bool   `yaml:"off"`
	Ends    []side  `yaml:"ends" rule:"required" shape:"one-or-list" doc:"one end or both"`
	Pins    []pin   `yaml:"pins" shape:"map" doc:"pin: what it carries" example:"{1: high}"`
	Tol     percent `yaml:"tolerance" doc:"limit of error"`
	Note    string  `yaml:"note" rule:"text"`
}

type side string

type pin struct {
	ID      string `yaml:"pin" rule:"required,name" doc:"number of the pin"`
	Carries string `yaml:"carries" rule:"required" doc:"what the pin carries"`
}

// percent is written as 5% and reads itself from that.
type percent struct{ value float64 }

const percentPattern = `^[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?%$`

func (p *percent) UnmarshalText(text []byte) error {
	x, err := strconv.ParseFloat(strings.TrimSuffix(string(text), "%"), 64)
	if !regexp.MustCompile(percentPattern).Match(text) || err != nil {
		return errors.New("no number with % behind it")
	}
	p.value = x
	return nil
}

func (p percent) MarshalText() ([]byte, error) {
	return append(strconv.AppendFloat(nil, p.value, 'g', -1, 64), '%'), nil
}

// JSONSchema is the part of the schema for a percent.
func (percent) JSONSchema() map[string]any {
	return map[string]any{"type": "string", "pattern": percentPattern}
}

func pointer[T any](v T) *T { return &v }

func validRig() rig {
	return rig{
		Name:   "bench",
		Temp:   pointer(20.0),
		Supply: &supply{Volts: 12.5},
		Frame:  frame{Material: "alloy", Corners: []corner{{1, 2}, {}}},
		Parts: []part{
			{Name: "P1", LengthM: 1.2, Turns: 3, Ends: []side{"X1.1"}, Pins: []pin{{"1", "high"}, {"010", "low"}}},
			{Name: "P2", LengthM: 1e-7, Count: pointer(0), Off: pointer(false), On: true, Ends: []side{"a", "b"}, Tol: percent{5}, Note: "two\nlines: \"quoted\""},
		},
		Labels: []string{"no", "1.10", "it's # here"},
		Loads:  []float64{0, 48},
		Steps:  []percent{{1}},
	}
}

// graphic draws characters that text may hold, many of them special in YAML.
var graphic = rapid.OneOf(
	rapid.RuneFrom([]rune(`aZ09_-.,:;#&*!|>'"%@`+"`"+`?{}[]<~=\/+ é²Ω`+"\u00a0\ufffd\U0001f50c")),
	rapid.Rune().Filter(func(r rune) bool {
		what, _ := lineField.CheckString(string(r))
		return what == ""
	}),
)

var lineField = constraint.Field{Kind: constraint.String}

// Words that one reader or another takes for something else than text.
var words = rapid.SampledFrom([]string{
	"010", "1.10", "no", "true", "null", "~", "Null", "y", "0x1F", "1e3", "1_000", "12:30", "2020-01-01", "0", "6", "-5", "+5",
	".5", "5.", ".inf", ".nan", "<<", "---", "...", "- a", "a: b", "a #b", " a", "a ", "a:", "? a", "=", "&a", "*a", "!a", "@a",
})

func line(max int) *rapid.Generator[string] {
	return rapid.OneOf(words, rapid.StringOfN(graphic, 1, max, -1))
}

func text() *rapid.Generator[string] {
	return rapid.OneOf(line(2000), rapid.StringOfN(rapid.OneOf(graphic, rapid.RuneFrom([]rune("\n\t"))), 1, 200, -1))
}

func name() *rapid.Generator[string] {
	return rapid.OneOf(rapid.StringMatching(`[\p{L}0-9_][\p{L}0-9_-]{0,63}`), rapid.SampledFrom([]string{"010", "1e3", "no", "true", "null", "on", "0x1F", "1_0", "H"}))
}

func optional[T any](t *rapid.T, g *rapid.Generator[T], label string) *T {
	if !rapid.Bool().Draw(t, label+" is there") {
		return nil
	}
	return pointer(g.Draw(t, label))
}

func list[T any](g *rapid.Generator[T], min, max int) *rapid.Generator[[]T] {
	return rapid.SliceOfN(g, min, max)
}

// rigs draws valid rigs.
func rigs() *rapid.Generator[rig] {
	corners := rapid.Custom(func(t *rapid.T) corner {
		any := rapid.OneOf(rapid.Float64(), rapid.Just(0.0))
		return corner{any.Draw(t, "x"), any.Draw(t, "y")}
	})
	percents := rapid.Map(rapid.Float64(), func(x float64) percent { return percent{x} })
	parts := rapid.Custom(func(t *rapid.T) part {
		p := part{
			Name:    name().Draw(t, "name"),
			LengthM: rapid.Float64Range(math.SmallestNonzeroFloat64, 10000).Draw(t, "length"),
			Offset:  rapid.Float64Max(5).Draw(t, "offset"),
			Turns:   rapid.OneOf(rapid.Just(0), rapid.IntRange(1, 400)).Draw(t, "turns"),
			Small:   rapid.Int8().Draw(t, "small"),
			Count:   optional(t, rapid.IntRange(0, math.MaxInt), "count"),
			On:      rapid.Bool().Draw(t, "on"),
			Off:     optional(t, rapid.Bool(), "off"),
			Ends:    list(rapid.Map(line(200), func(s string) side { return side(s) }), 1, 3).Draw(t, "ends"),
			Tol:     percents.Draw(t, "tolerance"),
			Note:    rapid.OneOf(rapid.Just(""), text()).Draw(t, "note"),
		}
		for i, id := range rapid.SliceOfNDistinct(name(), 0, 4, rapid.ID).Draw(t, "pins") {
			p.Pins = append(p.Pins, pin{id, line(200).Draw(t, fmt.Sprint("carries ", i))})
		}
		return p
	})
	return rapid.Custom(func(t *rapid.T) rig {
		r := rig{
			Name: text().Draw(t, "rig"),
			Temp: optional(t, rapid.Float64Range(-60, 150), "temperature"),
			Supply: optional(t, rapid.Custom(func(t *rapid.T) supply {
				return supply{rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-9, 60)).Draw(t, "volts"), rapid.Bool().Draw(t, "fused")}
			}), "supply"),
			Parts:  list(parts, 0, 3).Draw(t, "parts"),
			Labels: list(line(200), 0, 3).Draw(t, "labels"),
			Loads:  list(rapid.Float64Range(0, 60), 0, 3).Draw(t, "loads"),
			Steps:  list(percents, 0, 3).Draw(t, "steps"),
		}
		r.Frame.Material = rapid.SampledFrom([]string{"", "steel", "alloy", "6061"}).Draw(t, "material")
		r.Frame.Corners = list(corners, 0, 3).Draw(t, "corners")
		r.Frame.Inner.Depth = rapid.OneOf(rapid.Int64(), rapid.Just(int64(0))).Draw(t, "depth")
		return r
	})
}
