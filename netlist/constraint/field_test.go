package constraint_test

import (
	"reflect"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/constraint"
	"github.com/google/go-cmp/cmp"
)

// volume reads itself from text, as the values of some fields do.
type volume struct{ litres float64 }

func (v *volume) UnmarshalText(text []byte) error { return nil }

type conductor string

type drawer struct {
	Name string `yaml:"name" rule:"required,name"`
	Pins []pin  `yaml:"pins" element:"pin"`
}

type pin struct {
	Name string   `yaml:"name" rule:"required,name"`
	MM   *float64 `yaml:"pitch_mm" rule:"min=0"`
}

type cavity struct {
	ID      string    `yaml:"id" rule:"required,name"`
	Carries conductor `yaml:"carries" rule:"required,enum=high|low"`
}

type size struct {
	Metric float64  `yaml:"section_mm2" rule:"above=0"`
	Others []string `yaml:"others"`
}

type box struct {
	Name    string      `yaml:"name" rule:"required,name" doc:"name of the box; unique in the file"`
	Label   string      `yaml:"label"`
	Note    string      `yaml:"note" rule:"text"`
	Kind    conductor   `yaml:"kind" rule:"enum=wooden|plastic|steel"`
	LengthM float64     `yaml:"length_m" rule:"required,above=0,max=10000" doc:"the length of the conductor. It wins."`
	Zero    float64     `yaml:"offset_mv" rule:"required,min=-5,max=5"`
	Ohms    *float64    `yaml:"ohms" rule:"above=0"`
	Count   int         `yaml:"count" rule:"min=1,max=9" example:"3"`
	Open    bool        `yaml:"open"`
	Volume  volume      `yaml:"volume"`
	Size    size        `yaml:"size" element:"size"`
	Must    *size       `yaml:"must" rule:"required"`
	Drawers []drawer    `yaml:"drawers" element:"drawer"`
	Ends    []conductor `yaml:"ends" rule:"required,name" shape:"one-or-list"`
	Loads   []float64   `yaml:"loads_v" rule:"max=60"`
	Cavity  []cavity    `yaml:"cavities" shape:"map"`

	Derived int `yaml:"-"`
	hidden  int
}

func valid() *box {
	return &box{
		Name: "B1", LengthM: 1.2, Must: &size{}, Ends: []conductor{"a"},
		Drawers: []drawer{{Name: "D1", Pins: []pin{{Name: "1"}}}},
		Cavity:  []cavity{{"1", "high"}, {"2", "low"}},
	}
}

func TestFields(t *testing.T) {
	fields := constraint.Fields(reflect.TypeFor[box]())
	var keys []string
	byKey := make(map[string]constraint.Field)
	for _, f := range fields {
		keys = append(keys, f.Key)
		byKey[f.Key] = f
	}
	wantKeys := []string{
		"name", "label", "note", "kind", "length_m", "offset_mv", "ohms", "count", "open", "volume",
		"size", "must", "drawers", "ends", "loads_v", "cavities",
	}
	if diff := cmp.Diff(wantKeys, keys); diff != "" {
		t.Fatalf("keys (-want +got):\n%s", diff)
	}
	tests := []constraint.Field{
		{
			Index: 0, GoName: "Name", Key: "name", Doc: "name of the box; unique in the file",
			Kind: constraint.String, Elem: reflect.TypeFor[string](), Required: true, Name: true,
		},
		{Index: 2, GoName: "Note", Key: "note", Kind: constraint.String, Elem: reflect.TypeFor[string](), Text: true},
		{
			Index: 3, GoName: "Kind", Key: "kind", Kind: constraint.String, Elem: reflect.TypeFor[conductor](),
			Enum: []string{"wooden", "plastic", "steel"},
		},
		{
			Index: 4, GoName: "LengthM", Key: "length_m", Doc: "the length of the conductor. It wins.", Unit: "metres",
			Kind: constraint.Number, Elem: reflect.TypeFor[float64](), Required: true,
			Min: &constraint.Bound{Value: 0, Exclusive: true}, Max: &constraint.Bound{Value: 10000},
		},
		{
			Index: 6, GoName: "Ohms", Key: "ohms", Unit: "ohms", Kind: constraint.Number, Pointer: true,
			Elem: reflect.TypeFor[float64](), Min: &constraint.Bound{Value: 0, Exclusive: true},
		},
		{
			Index: 7, GoName: "Count", Key: "count", Kind: constraint.Integer, Elem: reflect.TypeFor[int](), Example: "3",
			Min: &constraint.Bound{Value: 1}, Max: &constraint.Bound{Value: 9},
		},
		{Index: 8, GoName: "Open", Key: "open", Kind: constraint.Bool, Elem: reflect.TypeFor[bool]()},
		{Index: 9, GoName: "Volume", Key: "volume", Kind: constraint.Text, Elem: reflect.TypeFor[volume]()},
		{Index: 10, GoName: "Size", Key: "size", Element: "size", Kind: constraint.Struct, Elem: reflect.TypeFor[size]()},
		{
			Index: 12, GoName: "Drawers", Key: "drawers", Element: "drawer", Kind: constraint.Struct,
			Shape: constraint.Sequence, Elem: reflect.TypeFor[drawer](),
		},
		{
			Index: 13, GoName: "Ends", Key: "ends", Kind: constraint.String, Shape: constraint.OneOrList,
			Elem: reflect.TypeFor[conductor](), Required: true, Name: true,
		},
		{
			Index: 14, GoName: "Loads", Key: "loads_v", Unit: "volts", Kind: constraint.Number, Shape: constraint.Sequence,
			Elem: reflect.TypeFor[float64](), Max: &constraint.Bound{Value: 60},
		},
		{
			Index: 15, GoName: "Cavity", Key: "cavities", Kind: constraint.Struct, Shape: constraint.Pairs,
			Elem: reflect.TypeFor[cavity](),
		},
	}
	for _, want := range tests {
		t.Run(want.Key, func(t *testing.T) {
			sameType := cmp.Comparer(func(a, b reflect.Type) bool { return a == b })
			if diff := cmp.Diff(want, byKey[want.Key], sameType); diff != "" {
				t.Errorf("field (-want +got):\n%s", diff)
			}
		})
	}
	if again := constraint.Fields(reflect.TypeFor[box]()); &again[0] != &fields[0] {
		t.Error("the second call did not use the cache")
	}
}

func TestFieldsPanics(t *testing.T) {
	tests := []struct {
		name string
		in   any
		want string
	}{
		{"not a struct", 3, "int is not a struct"},
		{"no key", struct{ A string }{}, `needs a tag`},
		{"option on the key", struct {
			A string `yaml:"a,omitempty"`
		}{}, `"a,omitempty"`},
		{"key with a dot", struct {
			A string `yaml:"a.b"`
		}{}, `"a.b"`},
		{"embedded", struct {
			Embedded `yaml:"a"`
		}{}, "plain key"},
		{"key twice", struct {
			A string `yaml:"a"`
			B string `yaml:"a"`
		}{}, "key a is taken"},
		{"map type", struct {
			A map[string]string `yaml:"a"`
		}{}, "is not supported"},
		{"unsigned", struct {
			A uint `yaml:"a"`
		}{}, "is not supported"},
		{"float32 cannot round-trip", struct {
			A float32 `yaml:"a"`
		}{}, "is not supported"},
		{"pointer to slice", struct {
			A *[]string `yaml:"a"`
		}{}, "is not supported"},
		{"unknown rule", struct {
			A string `yaml:"a" rule:"requierd"`
		}{}, `"requierd" is not known`},
		{"required with argument", struct {
			A string `yaml:"a" rule:"required=yes"`
		}{}, "does not fit"},
		{"bound that is no number", struct {
			A float64 `yaml:"a" rule:"min=x"`
		}{}, "needs a number"},
		{"bound of a string", struct {
			A string `yaml:"a" rule:"max=3"`
		}{}, "needs a number"},
		{"two lower bounds", struct {
			A float64 `yaml:"a" rule:"min=0,above=0"`
		}{}, "a second time"},
		{"bounds without room", struct {
			A float64 `yaml:"a" rule:"min=3,max=2"`
		}{}, "leave no room"},
		{"name of a number", struct {
			A float64 `yaml:"a" rule:"name"`
		}{}, "does not fit"},
		{"enum of a number", struct {
			A float64 `yaml:"a" rule:"enum=1|2"`
		}{}, "needs a string"},
		{"enum without words", struct {
			A string `yaml:"a" rule:"enum="`
		}{}, "needs a string and words"},
		{"name and text", struct {
			A string `yaml:"a" rule:"name,text"`
		}{}, "exclude each other"},
		{"enum and text", struct {
			A string `yaml:"a" rule:"enum=x,text"`
		}{}, "exclude each other"},
		{"unknown shape", struct {
			A []string `yaml:"a" shape:"mapp"`
		}{}, `"mapp" is not known`},
		{"map of scalars", struct {
			A []string `yaml:"a" shape:"map"`
		}{}, "list of structs"},
		{"map of one field", struct {
			A []struct {
				K string `yaml:"k"`
			} `yaml:"a" shape:"map"`
		}{}, "two plain fields"},
		{"map with a long key", struct {
			A []struct {
				K string `yaml:"k" rule:"text"`
				V string `yaml:"v"`
			} `yaml:"a" shape:"map"`
		}{}, "two plain fields"},
		{"map with a number for a key", struct {
			A []struct {
				K int    `yaml:"k"`
				V string `yaml:"v"`
			} `yaml:"a" shape:"map"`
		}{}, "the first a short string"},
		{"map with a struct for a value", struct {
			A []struct {
				K string `yaml:"k"`
				V size   `yaml:"v"`
			} `yaml:"a" shape:"map"`
		}{}, "two plain fields"},
		{"map with a list for a value", struct {
			A []struct {
				K string   `yaml:"k"`
				V []string `yaml:"v"`
			} `yaml:"a" shape:"map"`
		}{}, "two plain fields"},
		{"map with a pointer for a value", struct {
			A []struct {
				K string `yaml:"k"`
				V *int   `yaml:"v"`
			} `yaml:"a" shape:"map"`
		}{}, "two plain fields"},
		{"bounds that admit one number", struct {
			A float64 `yaml:"a" rule:"min=3,max=3"`
		}{}, "leave no room"},
		{"one-or-list of structs", struct {
			A []size `yaml:"a" shape:"one-or-list"`
		}{}, "list of scalars"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			defer func() {
				got, _ := recover().(string)
				if !strings.HasPrefix(got, "constraint: ") || !strings.Contains(got, test.want) {
					t.Errorf("panic is %q, want one with %q", got, test.want)
				}
			}()
			constraint.Fields(reflect.TypeOf(test.in))
		})
	}
}

// Embedded is exported so that embedding it makes an exported field.
type Embedded struct{}

func TestElementAt(t *testing.T) {
	tests := []struct {
		name                     string
		outer, kind, elementName string
		index                    int
		want                     string
	}{
		{"named", "", "wire", "W7", 6, "wire W7"},
		{"without name", "", "wire", "", 6, "wire number 7"},
		{"without kind", "", "", "W7", 6, ""},
		{"inside another", "connector X1", "pin", "3", 0, "connector X1, pin 3"},
		{"inside another, without kind", "connector X1", "", "3", 0, "connector X1"},
		{"long name", "", "wire", strings.Repeat("é", 70), 0, "wire " + strings.Repeat("é", 64) + "…"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := constraint.ElementAt(test.outer, test.kind, test.elementName, test.index)
			if got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}

func TestNameOf(t *testing.T) {
	tests := []struct {
		name string
		in   any
		want string
	}{
		{"named", pin{Name: "7"}, "7"},
		{"no such field", size{}, ""},
		{"not text", struct {
			Name int `yaml:"name"`
		}{7}, ""},
		{"a list", struct {
			Name []string `yaml:"name"`
		}{[]string{"7"}}, ""},
		{"a pointer", struct {
			Name *string `yaml:"name"`
		}{new(string)}, ""},
		{"behind another field", struct {
			Other string `yaml:"other"`
			Name  string `yaml:"id"`
		}{"6", "7"}, "7"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := constraint.NameOf(reflect.ValueOf(test.in)); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}

func TestPaths(t *testing.T) {
	got := constraint.JoinKey(constraint.JoinIndex(constraint.JoinKey("", "wires"), 6), "to")
	if got != "wires[6].to" {
		t.Errorf("got %s, want wires[6].to", got)
	}
}

func TestAbsent(t *testing.T) {
	zero := 0.0
	tests := []struct {
		key  string
		in   box
		want bool
	}{
		{"name", box{}, true},
		{"name", box{Name: "a"}, false},
		{"length_m", box{}, true},   // required, but zero breaks its bounds
		{"offset_mv", box{}, false}, // required, and zero is a value
		{"ohms", box{}, true},       // nil
		{"ohms", box{Ohms: &zero}, false},
		{"count", box{}, true},
		{"open", box{}, true},
		{"size", box{}, true},
		{"size", box{Size: size{Others: []string{}}}, true},
		{"size", box{Size: size{Metric: 1}}, false},
		{"size", box{Size: size{Others: []string{""}}}, false},
		{"ends", box{}, true},
		{"ends", box{Ends: []conductor{}}, true},
		{"ends", box{Ends: []conductor{""}}, false},
		{"volume", box{}, true},
		{"volume", box{Volume: volume{2}}, false},
	}
	for _, test := range tests {
		for _, f := range constraint.Fields(reflect.TypeFor[box]()) {
			if f.Key != test.key {
				continue
			}
			if got := f.Absent(reflect.ValueOf(test.in).Field(f.Index)); got != test.want {
				t.Errorf("%s in %+v: Absent = %v, want %v", test.key, test.in, got, test.want)
			}
		}
	}
}
