package constraint_test

import (
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/constraint"
	"pgregory.net/rapid"
)

// field returns the only field of a struct.
func field(t interface{ Fatalf(string, ...any) }, of any) constraint.Field {
	fields := constraint.Fields(reflect.TypeOf(of))
	if len(fields) != 1 {
		t.Fatalf("%T has %d fields, want 1", of, len(fields))
	}
	return fields[0]
}

type (
	nameOnly struct {
		V string `yaml:"name" rule:"name"`
	}
	lineOnly struct {
		V string `yaml:"label"`
	}
	textOnly struct {
		V string `yaml:"note" rule:"text"`
	}
	enumOnly struct {
		V string `yaml:"kind" rule:"enum=modern|older|none"`
	}
)

func TestCheckString(t *testing.T) {
	tests := []struct {
		name        string
		of          any
		in          string
		what, write string // both empty: in is fine
	}{
		{"name", nameOnly{}, "X1", "", ""},
		{"name of digits", nameOnly{}, "010", "", ""},
		{"name with leading _", nameOnly{}, "_a-b", "", ""},
		{"name with letters of any script", nameOnly{}, "Türkontakt_Ω", "", ""},
		{"name of the greatest length", nameOnly{}, strings.Repeat("ü", 64), "", ""},
		{"name too long", nameOnly{}, strings.Repeat("ü", 65), "has 65 characters, must have at most 64", "something shorter"},
		{"name with dot", nameOnly{}, "X1.2", `is "X1.2", but a name has only letters, digits, _ and -, not a dot`, "a name such as X1_2"},
		{"name with blank", nameOnly{}, "X 1", `is "X 1", but a name has only letters, digits, _ and -, not a blank`, "a name such as X_1"},
		{"name with slash", nameOnly{}, "X5/b", `is "X5/b", but a name has only letters, digits, _ and -, not /`, "a name such as X5_b"},
		{"name with a dot at its end", nameOnly{}, "X1.", `is "X1.", but a name has only letters, digits, _ and -, not a dot`, "a name such as X1"},
		{"name long and wrong", nameOnly{}, strings.Repeat("a", 50) + ".", "is \"" + strings.Repeat("a", 40) + "…\", but a name has only letters, digits, _ and -, not a dot", "a name such as " + strings.Repeat("a", 40) + "…"},
		{"name with leading -", nameOnly{}, "-a", `is "-a", but a name cannot begin with -`, "a name such as a"},
		{"name of signs alone", nameOnly{}, "+", `is "+", but a name has only letters, digits, _ and -, not +`, "a name such as X1"},
		{"name with a line break", nameOnly{}, "a\nb", `is "a\nb", but a name has only letters, digits, _ and -, not the character U+000A`, "a name such as a_b"},
		{"name empty", nameOnly{}, "", "is empty", "a name"},
		{"line", lineOnly{}, "120 Ω, 5 % (see 3.1)", "", ""},
		{"line of the greatest length", lineOnly{}, strings.Repeat("a", 200), "", ""},
		{"line too long", lineOnly{}, strings.Repeat("a", 201), "has 201 characters, must have at most 200", "something shorter"},
		{"line broken", lineOnly{}, "a\nb", "has more than one line", "all of it in one line"},
		{"line with tab", lineOnly{}, "a\tb", "holds the unprintable character U+0009", "it without that character"},
		{"line with bell", lineOnly{}, "a\ab", "holds the unprintable character U+0007", "it without that character"},
		{"line with a direction override", lineOnly{}, "a\u202eb", "holds the unprintable character U+202E", "it without that character"},
		{"line with broken encoding", lineOnly{}, "a\xff", "is not valid UTF-8 text", "text"},
		{"line empty", lineOnly{}, "", "is empty", "text"},
		{"text of two lines", textOnly{}, "a\n\tb", "", ""},
		{"text of the greatest length", textOnly{}, strings.Repeat("a", 2000), "", ""},
		{"text too long", textOnly{}, strings.Repeat("a", 2001), "has 2001 characters, must have at most 2000", "something shorter"},
		{"text with carriage return", textOnly{}, "a\rb", "holds the unprintable character U+000D", "it without that character"},
		{"text empty", textOnly{}, "", "is empty", "text"},
		{"word", enumOnly{}, "older", "", ""},
		{"word nearly", enumOnly{}, "oldre", `is "oldre", must be one of modern, older, none`, "older"},
		{"word in another case", enumOnly{}, "Modern", `is "Modern", must be one of modern, older, none`, "modern"},
		{"word unknown", enumOnly{}, "silver", `is "silver", must be one of modern, older, none`, "one of modern, older, none"},
		{"word empty", enumOnly{}, "", "is empty", "one of modern, older, none"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			what, write := field(t, test.of).CheckString(test.in)
			if what != test.what || write != test.write {
				t.Errorf("CheckString(%q)\n got %s; write %s\nwant %s; write %s", test.in, what, write, test.what, test.write)
			}
		})
	}
}

// The patterns stand in the schema, the code in the reader: they must agree.
func TestCheckStringAgreesWithPattern(t *testing.T) {
	for _, of := range []any{nameOnly{}, lineOnly{}, textOnly{}} {
		f := field(t, of)
		pattern, maxRunes := f.Pattern()
		re := regexp.MustCompile(pattern)
		t.Run(f.Key, rapid.MakeCheck(func(t *rapid.T) {
			// Few runes and the ones at the edges, so that about half obey.
			runes := rapid.OneOf(rapid.RuneFrom([]rune("aZ09_-é٣ ./\n\t\r\a\u00a0\u202e\ufffd²")), rapid.Rune())
			s := rapid.StringOfN(runes, 0, 6, -1).Draw(t, "s")
			if rapid.Bool().Draw(t, "long") {
				s = strings.Repeat("a", maxRunes-3) + s
			}
			what, _ := f.CheckString(s)
			if want := re.MatchString(s) && len([]rune(s)) <= maxRunes; (what == "") != want {
				t.Fatalf("CheckString(%q) says %q, the pattern %v", s, what, want)
			}
		}))
	}
}

func TestCheckNumber(t *testing.T) {
	type (
		both struct {
			V float64 `yaml:"length_m" rule:"above=0,max=10000" doc:"the length of the conductor"`
		}
		least struct {
			V float64 `yaml:"share" rule:"min=0.5"`
		}
		most struct {
			V float64 `yaml:"temperature_c" rule:"max=150"`
		}
		free struct {
			V float64 `yaml:"lead_ohm_per_m"`
		}
		whole struct {
			V int `yaml:"count" rule:"min=1,max=9"`
		}
		narrow struct {
			V float64 `yaml:"width_mm" rule:"min=3,max=4"`
		}
	)
	tests := []struct {
		name        string
		of          any
		in          float64
		what, write string
	}{
		{"inside", both{}, 1.5, "", ""},
		{"upper bound", both{}, 10000, "", ""},
		{"exclusive lower bound", both{}, 0, "is 0, must be above 0 and at most 10000 metres", "the length of the conductor in metres, for example length_m: 1.2"},
		{"least number above", both{}, math.SmallestNonzeroFloat64, "", ""},
		{"below", both{}, -3, "is -3, must be above 0 and at most 10000 metres", "the length of the conductor in metres, for example length_m: 1.2"},
		{"above", both{}, 10000.5, "is 10000.5, must be above 0 and at most 10000 metres", "the length of the conductor in metres, for example length_m: 1.2"},
		{"inclusive lower bound", least{}, 0.5, "", ""},
		{"below lower bound alone", least{}, 0.25, "is 0.25, must be at least 0.5", "a number, for example share: 1.2"},
		{"above upper bound alone", most{}, 151, "is 151, must be at most 150 degrees Celsius", "a number in degrees Celsius, for example temperature_c: 20"},
		{"no bounds", free{}, -1e300, "", ""},
		{"not a number", free{}, math.NaN(), "is not a number (NaN)", "a number in ohms per metre, for example lead_ohm_per_m: 1.2"},
		{"infinite", free{}, math.Inf(1), "is infinite", "a number in ohms per metre, for example lead_ohm_per_m: 1.2"},
		{"minus infinite", free{}, math.Inf(-1), "is infinite", "a number in ohms per metre, for example lead_ohm_per_m: 1.2"},
		{"whole", whole{}, 10, "is 10, must be at least 1 and at most 9", "a whole number, for example count: 1"},
		{"no example fits", narrow{}, 5, "is 5, must be at least 3 and at most 4 millimetres", "a number in millimetres"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			what, write := field(t, test.of).CheckNumber(test.in)
			if what != test.what || write != test.write {
				t.Errorf("CheckNumber(%v)\n got %s; write %s\nwant %s; write %s", test.in, what, write, test.what, test.write)
			}
		})
	}
}

// keyed returns the field of a struct with one field of type V and these tags.
func keyed[V any](t *testing.T, tags string) constraint.Field {
	t.Helper()
	of := reflect.StructOf([]reflect.StructField{{Name: "V", Type: reflect.TypeFor[V](), Tag: reflect.StructTag(tags)}})
	return field(t, reflect.New(of).Elem().Interface())
}

func TestUnits(t *testing.T) {
	tests := []struct{ key, want string }{
		{"length_m", "metres"},
		{"pitch_mm", "millimetres"},
		{"section_mm2", "square millimetres"},
		{"lead_ohm", "ohms"},
		{"load_ohms", "ohms"},
		{"unpowered_min_ohms", "ohms"},
		{"r_kohm", "kilohms"},
		{"r_kohms", "kilohms"},
		{"r_mohm", "milliohms"},
		{"r_mohms", "milliohms"},
		{"idle_v", "volts"},
		{"idle_volts", "volts"},
		{"drop_mv", "millivolts"},
		{"test_a", "amperes"},
		{"test_ma", "milliamperes"},
		{"leak_ua", "microamperes"},
		{"power_w", "watts"},
		{"wake_s", "seconds"},
		{"wake_ms", "milliseconds"},
		{"bit_us", "microseconds"},
		{"reach_min", "minutes"},
		{"age_h", "hours"},
		{"tolerance_pct", "percent"},
		{"temperature_c", "degrees Celsius"},
		{"spread_k", "kelvins"},
		{"input_pf", "picofarads"},
		{"input_nf", "nanofarads"},
		{"rate_hz", "hertz"},
		{"rate_khz", "kilohertz"},
		{"rate_kbps", "kilobits per second"},
		{"rate_mbps", "megabits per second"},
		{"ohms_per_m", "ohms per metre"},
		{"lead_ohm_per_m", "ohms per metre"},
		{"rise_per_k", "per kelvin"},
		{"faults_per_h", "per hour"},
		{"faults_per_year", ""},
		{"ohms", "ohms"},
		{"ohm", "ohms"},
		{"volts", "volts"},
		{"pct", "percent"},
		{"h", ""},
		{"mv", ""},
		{"length", ""},
		{"m_length", ""},
	}
	for _, test := range tests {
		if got := keyed[float64](t, `yaml:"`+test.key+`"`).Unit; got != test.want {
			t.Errorf("unit of %s is %q, want %q", test.key, got, test.want)
		}
	}
	if got := keyed[string](t, `yaml:"side_a"`).Unit; got != "" {
		t.Errorf("unit of text is %q, want none", got)
	}
}

func TestExamples(t *testing.T) {
	number := []struct{ tags, want string }{
		{`yaml:"reach_min"`, "reach_min: 5"},
		{`yaml:"error_pct"`, "error_pct: 5"},
		{`yaml:"idle_v"`, "idle_v: 12"},
		{`yaml:"load_ohms"`, "load_ohms: 120"},
		{`yaml:"section_mm2"`, "section_mm2: 0.35"},
		{`yaml:"temperature_c"`, "temperature_c: 20"},
		{`yaml:"idle_v" rule:"max=6"`, "idle_v: 1.2"},
		{`yaml:"x"`, "x: 1.2"},
		{`yaml:"x" rule:"min=1.3"`, "x: 12"},
		{`yaml:"x" rule:"max=1.1"`, "x: 0.12"},
		{`yaml:"x" rule:"min=13"`, "x: 120"},
		{`yaml:"x" rule:"min=121"`, "x: 1200"},
		{`yaml:"x" rule:"max=-1"`, "x: -12"},
	}
	for _, test := range number {
		if got := keyed[float64](t, test.tags).Hint(); !strings.HasSuffix(got, ", for example "+test.want) {
			t.Errorf("%s: hint is %q, want example %s", test.tags, got, test.want)
		}
	}
	whole := []struct{ tags, want string }{
		{`yaml:"x"`, "x: 1"},
		{`yaml:"x" rule:"min=2"`, "x: 10"},
		{`yaml:"x" rule:"min=11"`, "x: 100"},
		{`yaml:"x" rule:"min=101"`, "x: 1000"},
		{`yaml:"x" rule:"max=0"`, "x: 0"},
		{`yaml:"x" rule:"max=-1"`, "x: -1"},
	}
	for _, test := range whole {
		if got := keyed[int](t, test.tags).Hint(); !strings.HasSuffix(got, ", for example "+test.want) {
			t.Errorf("%s: hint is %q, want example %s", test.tags, got, test.want)
		}
	}
}

func TestFormatNumber(t *testing.T) {
	tests := []struct {
		in   float64
		want string
	}{
		{0, "0"},
		{0.1, "0.1"},
		{-0.35, "-0.35"},
		{0.0001, "0.0001"},
		{0.000099, "9.9e-5"},
		{-0.000099, "-9.9e-5"},
		{2.5e-10, "2.5e-10"},
		{999999999, "999999999"},
		{-1e9, "-1e9"},
		{2.5e10, "2.5e10"},
		{1e100, "1e100"},
		{1e-100, "1e-100"},
	}
	for _, test := range tests {
		if got := constraint.FormatNumber(test.in); got != test.want {
			t.Errorf("%v is %s, want %s", test.in, got, test.want)
		}
	}
}

func TestHint(t *testing.T) {
	tests := []struct {
		name string
		of   any
		want string
	}{
		{"enum of one", struct {
			V string `yaml:"layer" rule:"enum=fast" doc:"physical layer"`
		}{}, "fast"},
		{"doc up to its first clause", struct {
			V string `yaml:"n" doc:"name of the net; unique"`
		}{}, "name of the net"},
		{"doc that names the unit", struct {
			V float64 `yaml:"length_m" doc:"length in metres" example:"7"`
		}{}, "length in metres, for example length_m: 7"},
		{"doc of one sentence", struct {
			V float64 `yaml:"share" doc:"A share."`
		}{}, "A share, for example share: 1.2"},
		{"bool", struct {
			V bool `yaml:"inline"`
		}{}, "true or false"},
		{"list", struct {
			V []float64 `yaml:"loads_v"`
		}{}, "a list in volts"},
		{"list with example", struct {
			V []string `yaml:"ends" shape:"one-or-list" example:"[a, b]"`
		}{}, "a value or a list of them, for example ends: [a, b]"},
		{"one or a list, with doc", struct {
			V []string `yaml:"ends" shape:"one-or-list" doc:"one end or both"`
		}{}, "one end or both"},
		{"list of structs", struct {
			V []size `yaml:"sizes" doc:"all sizes"`
		}{}, "a list of all sizes"},
		{"list of structs without doc", struct {
			V []size `yaml:"sizes"`
		}{}, "a list"},
		{"mapping", struct {
			V size `yaml:"size"`
		}{}, "a mapping"},
		{"pairs", struct {
			V []cavity `yaml:"cavities" shape:"map"`
		}{}, "a mapping"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := field(t, test.of).Hint(); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}

func TestNearest(t *testing.T) {
	known := []string{"name", "from", "to", "length_m", "section_mm2", "ohms", "ohms_per_m", "tolerance_pct"}
	tests := []struct{ in, want string }{
		{"lenght_m", "length_m"},  // neighbours swapped
		{"length", "length_m"},    // unit left out
		{"length_mm", "length_m"}, // another unit
		{"section", "section_mm2"},
		{"Length_M", "length_m"},
		{"length-m", "length_m"},
		{"tolerance", "tolerance_pct"},
		{"form", "from"},
		{"ohm", "ohms"},
		{"too", "to"},
		{"nmea", "name"},
		{"oms", "ohms"},
		{"abc", ""},
		{"colour", ""},
		{"", ""},
		{strings.Repeat("n", 1000), ""},
	}
	for _, test := range tests {
		if got := constraint.Nearest(test.in, known); got != test.want {
			t.Errorf("Nearest(%q) = %q, want %q", constraint.Clip(test.in, 20), got, test.want)
		}
	}
	chosen := []struct {
		in    string
		known string
		want  string
	}{
		{"ba", "ab", "ab"},                // a swap counts once
		{"bac", "abc", "abc"},             // also at the start
		{"acb", "abc", "abc"},             // and at the end
		{"cab", "abc", ""},                // two changes of three are too many
		{"xyab", "yxba", "yxba"},          // two swaps of four
		{"abd", "abcd", "abcd"},           // one left out
		{"abxc", "abc", "abc"},            // one too many
		{"abcdefg", "axcxexg", "axcxexg"}, // three replaced of seven
		{"abcdefg", "xxcxexg", ""},
		{"abcd", "abxx abcx", "abcx"},
		{"abcd", "abcx abcy", "abcx"}, // the first of equals
		{"deep", "deep_inside_m", ""},
		{"deep", "deepest_m", ""},
		{"a", "b", "b"},
		{strings.Repeat("n", 256), strings.Repeat("n", 255), strings.Repeat("n", 255)},
		{strings.Repeat("n", 257), strings.Repeat("n", 256), ""},
	}
	for _, test := range chosen {
		if got := constraint.Nearest(test.in, strings.Fields(test.known)); got != test.want {
			t.Errorf("Nearest(%.10q) of %.20s = %q, want %q", test.in, test.known, constraint.Clip(got, 20), constraint.Clip(test.want, 20))
		}
	}
	if got := constraint.Nearest("lengthm", nil); got != "" {
		t.Errorf("of no words %q is nearest", got)
	}
}

func TestQuote(t *testing.T) {
	tests := []struct{ in, want string }{
		{"a b", `"a b"`},
		{"é\x1b[0m", `"é\x1b[0m"`},
		{strings.Repeat("é", 40), `"` + strings.Repeat("é", 40) + `"`},
		{strings.Repeat("é", 41), `"` + strings.Repeat("é", 40) + `…"`},
	}
	for _, test := range tests {
		if got := constraint.Quote(test.in); got != test.want {
			t.Errorf("Quote(%q) = %s, want %s", test.in, got, test.want)
		}
	}
}
