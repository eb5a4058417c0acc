package netfile_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/netlist/problem"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// examples returns the paths of the example harnesses of the project.
func examples(t testing.TB) []string {
	t.Helper()
	paths, err := filepath.Glob("../../examples/*/harness.yaml")
	if err != nil || len(paths) < 4 {
		t.Fatalf("found %d examples (%v), want at least 4", len(paths), err)
	}
	return paths
}

func TestReadExamples(t *testing.T) {
	for _, path := range examples(t) {
		t.Run(filepath.Base(filepath.Dir(path)), func(t *testing.T) {
			h, err := netfile.Read(path)
			if err != nil {
				t.Fatal(err)
			}
			text, err := netfile.Format(h)
			if err != nil {
				t.Fatal(err)
			}
			again, err := netfile.Parse("formatted", text)
			if err != nil {
				t.Fatalf("cannot read back\n%s\n%v", text, err)
			}
			if diff := cmp.Diff(h, again, cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("read back (-want +got):\n%s", diff)
			}
		})
	}
}

func TestReadWhatIsNoFile(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, size int64, mode os.FileMode) string {
		path := filepath.Join(dir, name)
		f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, mode)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(f.Truncate(size), f.Close()); err != nil {
			t.Fatal(err)
		}
		return path
	}
	tests := []struct {
		name string
		path string
		want string
	}{
		{"missing", filepath.Join(dir, "none.yaml"), "there is no such file"},
		{"missing folder", filepath.Join(dir, "none", "none.yaml"), "there is no such file"},
		{"folder", dir, "is a directory, not a file"},
		{"file for a folder", filepath.Join(write("file", 0, 0o600), "none.yaml"), "not a directory"},
		{"no permission", write("secret.yaml", 0, 0), "the file may not be read (no permission)"},
		{"empty", write("empty.yaml", 0, 0o600), "the file is empty"},
		{"no text", write("zeros.yaml", 10, 0o600), "the file holds the control character U+0000 here"},
		{"too large", write("large.yaml", 4<<20+1, 0o600), "the file is larger than 4194304 bytes (4 MiB)"},
		{"as large as may be", write("full.yaml", 4<<20, 0o600), "the file holds the control character U+0000 here"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if f, err := os.Open(test.path); test.name == "no permission" && err == nil {
				f.Close()
				t.Skip("this user may read everything")
			}
			h, err := netfile.Read(test.path)
			var list problem.List
			if !errors.As(err, &list) || len(list) != 1 || h != nil {
				t.Fatalf("got %v and %v, want no harness and one problem", h, err)
			}
			if got := list[0]; got.File != test.path || !strings.HasPrefix(got.What, test.want) {
				t.Errorf("got %v, want %s: %s", got, test.path, test.want)
			}
		})
	}
}

// A file may be larger than memory.
func TestReadDoesNotLoadHugeFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "huge.yaml")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 100<<20); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := netfile.Read(path)
	runtime.ReadMemStats(&after)
	if err == nil || !strings.Contains(err.Error(), "is larger than") {
		t.Errorf("got %v, want that the file is too large", err)
	}
	if used := (after.TotalAlloc - before.TotalAlloc) >> 20; used > 40 {
		t.Errorf("used %d MiB to refuse it", used)
	}
}

const lengthHint = "length in metres, for example length_m: 1.2"

// keys returns the keys of T, which grow with the format, as messages list them.
func keys[T any]() string {
	var keys []string
	for _, f := range constraint.Fields(reflect.TypeFor[T]()) {
		keys = append(keys, f.Key)
	}
	return strings.Join(keys, ", ")
}

// layers returns the physical layers as messages list them.
func layers() string {
	for _, f := range constraint.Fields(reflect.TypeFor[netlist.Network]()) {
		if f.Key == "layer" {
			return f.Hint()
		}
	}
	return ""
}

// One file with everything that people do wrong; each line is found.
func TestParseTypicalMistakes(t *testing.T) {
	const file = `# a harness with mistakes
harness: everything wrong
temprature_c: 20
supply: {volts: 12.8 V}
networks:
  - {name: drive, layer: high-speed}
  - {name: body, layer: highspeed}
transceivers:
  - {name: odd, unpowered_min_ohms: 5e4, unpowered_max_ohms: 1e4, awake_min_ohms: 1e4, awake_max_ohms: 3e4}
connectors:
  - {name: X1, network: drive, cavities: {6: H, 14: L}, reach_min: 1}
  - {name: X2, network: drive, cavities: {1: H, 2: L}, reach_min: 2,5}
  - {name: X3, network: drive, cavities: {010: H, 1.10: L}}
  - {name: X4, network: drive, cavities: {1: H, 2: Low}}
  - {name: X5, network: drive, cavities: {1: H, 1: L}}
  - {name: X 6, network: drive, cavities: {1: H, 2: L}}
  - {name: X7, network: drvie, cavities: {1: H, 2: L}}
  - {name: X8, network: drive, inline: yes, reach_min: -1}
  - {name: X9, network: drive, cavites: {1: H, 2: L}}
  - {name: T1, network: drive}
splices:
  - {name: S1, network: drive, joins: [H, true]}
modules:
  - {name: M1, connectors: X2}
  - {name: M2, connectors: [X4, X99]}
  - {name: M3, conectors: X5}
  - {name: M4, connectors: [X 6, X2]}
terminators:
  - {name: T1, at: M1, ohms: 120R}
  - {name: T2, at: M9, ohms: 120}
  - {name: T3, at: M1, ohms: 0}
pairs:
  - {name: P1, from: X2, to: X1, length: 1.2, section_mm2: 0.35}
  - {name: P2, from: X2, to: X1, lenght_m: 2, section_mm2: 0.35}
  - {name: P3, from: X2, to: X98, length_m: 2, section_mm2: 0.35}
  - {name: P4, from: X2, length_m: -2, section_mm2: 0.35}
wires:
  - {name: W1, from: X1.6, to: X3.9, length_m: 1, section_mm2: 0.35}
  - {name: W2, from: X1.6, to: X2.9, length_m: 0, section_mm2: 0.35}
  - {name: W3, from: X1.6, to: X2.1, length_m: 1, section_mm2: 0.35, colour: red}
  - {name: W4, from: X1.6, to: X2.1, length_m: 10001, section_mm2: ~}
  - {name: W5, from: X1.14, to: X2.2, ohms: 1e999}
  - {name: W6, from: X1.14, to: X2.2, length_m: 1}
  - W7
strays:
  - {name: R1, from: ground, to: ground, ohms: 1000}
  - {name: R1, from: X1.6, to: X1.14, ohms: 1000, tolerance_pct: 5%}
`
	want := []string{
		`3:1: unknown key "temprature_c"; write temperature_c, in degrees Celsius (known keys: ` + keys[netlist.Harness]() + `)`,
		`4:17: supply: volts is "12.8 V", must be a number without a unit; write volts on the supply rail with supply on, for example volts: 12`,
		`7:25: network body: layer is "highspeed", must be ` + layers() + `; write high-speed`,
		`9:62: transceiver kind odd: unpowered_max_ohms 10000 is less than unpowered_min_ohms 50000; write the greater of the two`,
		`12:69: connector X2: inside { } a comma ends the value, and what follows here is no key; write a point in place of the decimal comma`,
		`13:51: connector X3: cavity in cavities is "1.10", but a name has only letters, digits, _ and -, not a dot; write a name such as 1_10`,
		`14:52: connector X4: "Low" is no conductor of network drive; write one of drive.H, drive.L`,
		`15:49: connector X5: key "1" is there twice, first on line 15; write it once`,
		`16:12: connector X 6: name is "X 6", but a name has only letters, digits, _ and -, not a blank; write a name such as X_6`,
		`17:25: connector X7: there is no network drvie; write one of drive, body`,
		`18:40: connector X8: inline is "yes", must be true or false; write true or false without quotes`,
		`18:56: connector X8: reach_min is -1, must be at least 0 and at most 10000 minutes; write minutes to get a meter to it, for example reach_min: 5`,
		`19:32: connector X9: unknown key "cavites"; write cavities (known keys: ` + keys[netlist.Connector]() + `)`,
		`22:43: splice S1: entry 2 of joins is true, which is no text in YAML; write "true" in quotes, if that is meant`,
		`25:33: module M2: there is no connector X99; write one of X1, X2, X3, X4, X5, X 6, X7, X8, X9, T1`,
		`26:16: module M3: unknown key "conectors"; write connectors (known keys: ` + keys[netlist.Module]() + `)`,
		`27:34: module M4: connector X2 already plugs into module M1; write a connector of its own`,
		`29:12: terminator T1: T1 is already the name of a connector; write a name that nothing else has`,
		`29:30: terminator T1: ohms is "120R", must be a number without a unit; write resistance in ohms, for example ohms: 120`,
		`30:20: terminator T2: there is no module, splice or connector M9; write the name of a module, a splice or a connector`,
		`31:30: terminator T3: ohms is 0, must be at least 1e-9 and at most 1e9 ohms; write resistance in ohms, for example ohms: 120`,
		`33:34: pair P1: unknown key "length"; write length_m, in metres (known keys: ` + keys[netlist.Pair]() + `)`,
		`34:34: pair P2: unknown key "lenght_m"; write length_m, in metres (known keys: ` + keys[netlist.Pair]() + `)`,
		`35:30: pair P3: there is no connector or splice "X98"; write one of X1, X2, X3, X4, X5, X 6, X8, X9, T1, S1`,
		`36:5: pair P4: to is missing; write place (X1, X5/b, S2) or [H point, L point]`,
		`36:36: pair P4: length_m is -2, must be at least 0.001 and at most 10000 metres; write ` + lengthHint,
		// W1 is not reported: the cavities of X3 are in doubt.
		`39:32: wire W2: ends in cavity X2.9, which connector X2 does not have; write one of X2.1, X2.2`,
		`39:48: wire W2: length_m is 0, must be at least 0.001 and at most 10000 metres; write ` + lengthHint,
		`40:70: wire W3: unknown key "colour"; write one of the known keys ` + keys[netlist.Wire](),
		`41:48: wire W4: length_m is 10001, must be at least 0.001 and at most 10000 metres; write ` + lengthHint,
		`41:68: wire W4: section_mm2 is ~, which is no value; write conductor section in square millimetres, for example section_mm2: 0.35, or leave the key out`,
		`42:45: wire W5: ohms is 1e999, which is too large for a number; write ohms of the wire, for example ohms: 0.07`,
		`43:5: wire W6: has no size; write section_mm2 or awg as well, for example section_mm2: 0.35`,
		`44:5: wire number 7: entry 7 of wires is a single value, must be a mapping (key: value); write keys out of ` + keys[netlist.Wire](),
		`46:34: stray path R1: both ends are ground; write another end`,
		`47:12: stray path R1: R1 is already the name of a stray path; write a name that nothing else has`,
		`47:66: stray path R1: tolerance_pct is "5%", must be a number without a unit; write limit of error in percent, for example tolerance_pct: 5`,
	}
	h, err := netfile.Parse("h.yaml", []byte(file))
	var list problem.List
	if !errors.As(err, &list) || h != nil {
		t.Fatalf("got %v and %v, want no harness and a list of problems", h, err)
	}
	var got []string
	for _, p := range list {
		got = append(got, strings.TrimPrefix(p.String(), "h.yaml:"))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
}

// Problems of the harness are found in a file of good form, at their place.
func TestParseHarnessMistakes(t *testing.T) {
	const bus = `harness: bus
networks:
  - {name: bus, layer: high-speed}
connectors:
  - {name: X1}
  - {name: X2, cavities: {1: H, 2: L}}
splices: []
modules:
  - {name: M1, connectors: X1}
  - {name: M2, connectors: X2}
terminators:
  - {name: T1, at: M1, ohms: 120}
pairs:
  - {name: P1, from: X1, to: X2, length_m: 1, section_mm2: 0.35}
`
	tests := []struct {
		name     string
		old, new string
		want     string
	}{
		{"nothing wrong", "", "", ""},
		{"dangling", "to: X2,", "to: X3,", "h.yaml:14:30: pair P1: there is no connector or splice \"X3\"; write one of X1, X2"},
		{"dangling in a list", "to: X2,", "to: [X2.1, X2.3],", "h.yaml:14:37: pair P1: ends in cavity X2.3, which connector X2 does not have; write one of X2.1, X2.2"},
		{
			"connector without wires", "splices: []", "  - {name: X3, cavities: {1: H}}",
			"h.yaml:7:30: connector X3: cavity X3.1 carries H, but no wire ends there; write the wire or pair that ends there, or leave the cavity out",
		},
		{"name twice", "splices: []", "splices:\n  - {name: X2}", "h.yaml:8:12: splice X2: X2 is already the name of a connector; write a name that nothing else has"},
		{"no such network", "{name: X1}", "{name: X1, network: buss}", "h.yaml:5:25: connector X1: there is no network buss; write one of bus"},
		{"ambiguous", "{1: H, 2: L}", "{1: H, 2: L, 3: H}", "h.yaml:14:30: pair P1: X2 carries H in more than one cavity: X2.1, X2.3; write the points themselves, for example [X2.1, ...]"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if strings.Count(bus, test.old) != 1 && test.old != "" {
				t.Fatalf("%q is not there once", test.old)
			}
			_, err := netfile.Parse("h.yaml", []byte(strings.Replace(bus, test.old, test.new, 1)))
			got := ""
			if err != nil {
				got = err.Error()
			}
			if got != test.want {
				t.Errorf("\n got %s\nwant %s", got, test.want)
			}
		})
	}
}

func TestFormatRefusesWhatCannotBeRead(t *testing.T) {
	_, err := netfile.Format(&netlist.Harness{Name: "h"})
	if err == nil || err.Error() != "networks: networks is missing; write a list of the two-wire networks of the harness" {
		t.Errorf("got %v, want that networks are missing", err)
	}
}

func ExampleParse() {
	const file = `harness: bench
networks:
  - {name: bus, layer: high-speed}
connectors:
  - {name: X1, cavities: {1: H, 2: L}}
  - {name: X2, cavities: {1: H, 2: L}}
modules:
  - {name: left, connectors: X1}
  - {name: right, connectors: X2}
terminators:
  - {name: T1, at: left, ohms: 120}
wires:
  - {name: W1, from: X1.1, to: X2.1, length_m: 3, section_mm2: 0.35}
  - {name: W2, from: X1.2, to: X2.7, length_m: 3, section_mm2: 0.35}
`
	_, err := netfile.Parse("bench.yaml", []byte(file))
	fmt.Println(err)
	// Output:
	// bench.yaml:14:32: wire W2: ends in cavity X2.7, which connector X2 does not have; write one of X2.1, X2.2
}

// A circuit from a file, and what it says of an element that it does not have.
func TestReadCircuit(t *testing.T) {
	c, err := netfile.ReadCircuit("../../examples/bench/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	// 2 m, as the file says.
	e, err := c.FindElement("pair P2 H")
	if err != nil || e.Name != "pair P2 H" || e.LengthM != 2 {
		t.Errorf("%+v, %v", e, err)
	}
	for name, want := range map[string]string{
		"pair P2 K": `there are "pair P2 H", "pair P2 L"`, "pair P22 H": `write a name such as "`, "": `write a name such as "`,
	} {
		if e, err := c.FindElement(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v; want %s", name, e, err, want)
		}
	}
	if _, err := (&netlist.Circuit{}).FindElement("pair P2 H"); err == nil || !strings.Contains(err.Error(), "has none") {
		t.Errorf("in an empty circuit: %v", err)
	}
	var list problem.List
	if _, err := netfile.ReadCircuit("no/such/file.yaml"); !errors.As(err, &list) || !strings.Contains(err.Error(), "there is no such file") {
		t.Errorf("no file: %v", err)
	}
}
