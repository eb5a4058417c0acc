package readingfile

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/solve"
)

func circuit(t testing.TB, demo string) *netlist.Circuit {
	t.Helper()
	h, err := netfile.Read("../../examples/" + demo + "/harness.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// No reading is lost, and each is where and what the file says.
func TestParse(t *testing.T) {
	c := circuit(t, "orchard")
	r, err := Parse("r.yaml", []byte(`readings: title
note: story
meter: {ohms_pct: 0, ohms_digits: 2, low_range_ohms: 200, leads_zeroed: true, input_ohms: 1e6}
taken:
  - {at: X1, between: drive.H-drive.L, ohms: 60.40, note: first}
  - {at: X14/b, between: H-L, unplugged: [X14, X6], ohms: ol}
  - {from: X1.6, to: X2.1, ohms: 0}
  - {at: X1, between: work.L-ground, volts: -0.25}
`), c)
	if err != nil {
		t.Fatal(err)
	}
	if r.Title != "title" || r.Note != "story" || !cmp.Equal(r.Notes, []string{"first", "", "", ""}) {
		t.Errorf("title %q, note %q, notes %q", r.Title, r.Note, r.Notes)
	}
	want := faults.DefaultInstrument()
	want.OhmsPct, want.OhmsDigits, want.LowRangeOhms, want.LeadMinOhms, want.LeadMaxOhms, want.Meter.InputOhms = 0, 2, 200, 0, 0, 1e6
	if diff := cmp.Diff(want, r.Instrument); diff != "" {
		t.Error(diff)
	}
	node := func(name string) int {
		n, err := c.Point(name)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	type got struct {
		From, To  int
		Q         solve.Quantity
		Condition solve.Condition
		OL        bool
		Number    float64
	}
	var all []got
	for _, x := range r.Readings {
		g := got{x.Probe.From, x.Probe.To, x.Probe.Quantity, x.Probe.Condition, x.Value.OL, 0}
		if !x.Value.OL {
			g.Number = x.Value.Number
		}
		all = append(all, g)
	}
	if diff := cmp.Diff([]got{
		{node("X1.6"), node("X1.14"), solve.Ohms, solve.Condition{}, false, 60.4},
		{node("X14/b.1"), node("X14/b.2"), solve.Ohms, solve.Condition{Unplugged: []string{"X14", "X6"}}, true, 0},
		{node("X1.6"), node("X2.1"), solve.Ohms, solve.Condition{}, false, 0},
		{node("X1.11"), node("ground"), solve.Volts, solve.Condition{Supply: solve.Idle}, false, -0.25},
	}, all); diff != "" {
		t.Error(diff)
	}
}

// Every mistake of a file is reported in one pass, each at its place.
func TestParseReportsEveryMistake(t *testing.T) {
	c := circuit(t, "bench")
	_, err := Parse("r.yaml", []byte(`readings: title
taken:
  - {at: X1, between: H-L, ohms: sixty}
  - {at: X9, between: H-L, ohms: 60}
  - {at: X1, between: HL, ohms: 60}
  - {at: X1, between: H-L}
  - {at: X1, between: H-L, ohms: 60, volts: 2.5}
  - {at: X1, between: H-L, volts: OL}
  - {at: X1, from: X1.H, to: X2.H, ohms: 60}
  - {at: X2, between: H-L, unplugged: X1, ohms: 120}
  - {from: X1.H, to: X1.H, ohms: 0.3}
  - {at: X1, between: H-L, ohms: -40}
  - {at: X2, between: H-device, ohms: 40, volt: 3}
`), c)
	var list problem.List
	if !errors.As(err, &list) {
		t.Fatalf("error %T: %v", err, err)
	}
	type at struct{ Line, Column int }
	var got []at
	for _, p := range list {
		if p.What == "" || p.Write == "" || p.File != "r.yaml" {
			t.Errorf("incomplete problem: %v", p)
		}
		got = append(got, at{p.Line, p.Column})
	}
	if diff := cmp.Diff([]at{{3, 34}, {4, 10}, {5, 10}, {6, 5}, {7, 45}, {8, 35}, {9, 5}, {10, 39}, {11, 12}, {12, 34}, {13, 43}}, got); diff != "" {
		t.Errorf("%s\n%v", diff, err)
	}
}

// Answers and readings of a bus at work.
func TestParseBusAtWork(t *testing.T) {
	c := circuit(t, "orchard")
	r, err := Parse("r.yaml", []byte(`readings: title
answered:
  - {at: X1, yes: [dash, gateway], no: brakes}
taken:
  - {at: X1, between: drive.H-ground, volts: 2.7, traffic: true}
  - {at: X1, between: work.H-work.L, volts: 1.9, sender: gateway}
  - {at: X1, between: drive.H-drive.L, volts: 1.9, sender: gateway/drive}
  - {at: X1, between: drive.L-ground, volts: 2.3, traffic: true, dominant_pct: 20}
`), c)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]faults.Answer{{Tool: "X1", Module: "dash", Answered: true}, {Tool: "X1", Module: "gateway", Answered: true}, {Tool: "X1", Module: "brakes"}}, r.Answers); diff != "" {
		t.Error(diff)
	}
	if p := r.Readings[0].Probe; !p.Traffic || p.Sender != "" || p.Condition.Supply != solve.Idle {
		t.Errorf("traffic: %+v", p)
	}
	if p := r.Readings[3].Probe; !p.Traffic || p.DominantShare != 0.2 {
		t.Errorf("known share: %+v", p)
	}
	if p := r.Readings[1].Probe; p.Traffic || p.Sender != "gateway" {
		t.Errorf("sender: %+v", p)
	}
	_, err = Parse("r.yaml", []byte(`readings: title
answered:
  - {at: X99, yes: dash}
  - {at: X14, yes: dash}
  - {at: X1}
  - {at: X1, yes: [dash, rear-box], no: [dash, nobody]}
  - {at: X1, no: dash}
taken:
  - {at: X1, between: drive.H-ground, ohms: 60, traffic: true}
  - {at: X1, between: drive.H-ground, volts: 2, traffic: true, sender: dash}
  - {at: X1, between: drive.H-ground, volts: 2, sender: nobody}
  - {at: X1, between: drive.H-ground, volts: 2, sender: dash/work}
  - {at: X1, between: drive.H-ground, volts: 2, dominant_pct: 20}
`), c)
	var list problem.List
	if !errors.As(err, &list) {
		t.Fatalf("error %T: %v", err, err)
	}
	var got []int
	for _, p := range list {
		got = append(got, p.Line)
		if p.What == "" || p.Write == "" {
			t.Errorf("incomplete problem: %v", p)
		}
	}
	if diff := cmp.Diff([]int{3, 4, 5, 6, 6, 6, 7, 9, 10, 11, 12, 13}, got); diff != "" {
		t.Errorf("%s\n%v", diff, err)
	}
	_, err = Parse("r.yaml", []byte("readings: nothing at all\n"), c)
	if err == nil {
		t.Error("a file with neither readings nor answers is taken")
	}
}

func TestReadDemoFiles(t *testing.T) {
	files, err := filepath.Glob("../../examples/orchard/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, n := circuit(t, "orchard"), 0
	for _, f := range files {
		if filepath.Base(f) == "harness.yaml" {
			continue
		}
		n++
		r, err := Read(f, c)
		if err != nil {
			t.Error(err)
			continue
		}
		if len(r.Readings)+len(r.Answers) < 5 && filepath.Base(f) != "first-reading.yaml" {
			t.Errorf("%s: %d readings, %d answers", f, len(r.Readings), len(r.Answers))
		}
	}
	if n < 3 {
		t.Errorf("only %d stories", n)
	}
	if _, err := Read("no-such-file.yaml", c); err == nil {
		t.Error("a file that is not there is read")
	}
}

func FuzzParse(f *testing.F) {
	c := circuit(f, "bench")
	files, _ := filepath.Glob("../../*/*/testdata/*readings*.yaml")
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte("readings: x\ntaken:\n  - {at: X1, between: H-L, ohms: 60.4}\n"))
	f.Add([]byte("readings: x\ntaken:\n  - {from: X1.H, to: X2/device.L, unplugged: X2, ohms: OL}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Parse("r.yaml", data, c)
		if err != nil {
			return
		}
		for _, x := range r.Readings {
			// Whatever is accepted can be held against the harness.
			n, err := solve.Assemble(c, x.Probe.Condition, nil)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := n.Read(x.Probe.Quantity, x.Probe.From, x.Probe.To, r.Instrument.Meter); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// What was repaired and what was read since, one part or several; mistakes there are
// placed like those of the readings before.
func TestParseRepaired(t *testing.T) {
	c := circuit(t, "orchard")
	r, err := Parse("r.yaml", []byte(`readings: title
taken:
  - {at: X1, between: drive.H-drive.L, ohms: 119}
repaired:
  part: [P9, X7]
  taken:
    - {at: X1, between: drive.H-drive.L, ohms: 60.2, note: now}
    - {at: X2, between: drive.H-ground, volts: 2.5}
`), c)
	if err != nil {
		t.Fatal(err)
	}
	if !cmp.Equal(r.Repaired, []string{"P9", "X7"}) || len(r.Readings) != 1 || len(r.After) != 2 || !cmp.Equal(r.AfterNotes, []string{"now", ""}) {
		t.Errorf("repaired %v, %d readings before, %d after, notes %q", r.Repaired, len(r.Readings), len(r.After), r.AfterNotes)
	}
	if v := r.After[0].Value; v.Number != 60.2 || r.After[1].Probe.Quantity != solve.Volts {
		t.Errorf("read %v and %v", v, r.After[1].Probe)
	}
	_, err = Parse("r.yaml", []byte(`readings: title
taken:
  - {at: X1, between: drive.H-drive.L, ohms: 119}
repaired:
  taken:
    - {at: X99, between: drive.H-drive.L, ohms: 60.2}
    - {at: X1, between: drive.H-ground, volts: 2.6, traffic: true}
`), c)
	var list problem.List
	if !errors.As(err, &list) || len(list) != 2 {
		t.Fatalf("got %v, want two problems", err)
	}
	for i, line := range []int{6, 7} {
		if list[i].Line != line {
			t.Errorf("problem %d is at line %d, want %d: %v", i, list[i].Line, line, list[i])
		}
	}
}
