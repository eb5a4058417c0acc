package bench_test

import (
	"os"
	"strings"
	"testing"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/pagetest"
	"example.com/ohmloom/netlist"
)

func TestMain(m *testing.M) { os.Exit(pagetest.FromTop(m)) }

// The first mistake stays, whatever comes after it, and nothing panics.
func TestFirstMistakeIsKept(t *testing.T) {
	for name, tt := range map[string]struct {
		do   func(b *bench.Bench)
		want string
	}{
		"place":   {func(b *bench.Bench) { b.Reads(b.Ohms("X99", "H-L")) }, "X99"},
		"points":  {func(b *bench.Bench) { b.Reads(b.OhmsAcross("X1.H", "X1.K")) }, "X1.K"},
		"volts":   {func(b *bench.Bench) { b.Reads(b.Volts("X1", "H-K"), "open H in pair P3") }, "K"},
		"fault":   {func(b *bench.Bench) { b.Reads(b.Ohms("X1", "H-L"), "open H in pair P77") }, "P77"},
		"faults":  {func(b *bench.Bench) { b.Table([]string{"open H in pair P78"}, b.Ohms("X1", "H-L")) }, "P78"},
		"element": {func(b *bench.Bench) { b.Element("pair P79 H") }, "P79"},
		"awake":   {func(b *bench.Bench) { b.Awake("pair P80 H") }, "P80"},
	} {
		b := pagetest.Line(t)
		tt.do(b)
		b.Reads(b.Ohms("X98", "H-L"))
		if err := b.Err(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want something about %s", name, err, tt.want)
		}
	}
}

// Several faults are there at once: with both terminators missing no terminator is
// left, with one of them 120.
func TestReadsSeveral(t *testing.T) {
	b := pagetest.Line(t)
	at := b.Ohms("X1", "H-L")
	if v := b.Reads(at, "terminator T1 missing", "terminator T2 missing"); v.OL || v.Number < 1e5 {
		t.Errorf("both missing read %s", v)
	}
	if v := b.Reads(at, "terminator T1 missing"); v.OL || v.Number < 120 || v.Number > 121 {
		t.Errorf("one missing reads %s", v)
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
}

func TestBadHarness(t *testing.T) {
	if _, err := bench.New(&netlist.Harness{}); err == nil {
		t.Error("an empty harness is taken")
	}
	if _, err := bench.Open("no/such/file.yaml"); err == nil || !strings.Contains(err.Error(), "top folder") {
		t.Errorf("a missing file: %v", err)
	}
}
