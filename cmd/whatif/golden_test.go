package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/solve"
)

// Each command line, its whole output and exit status, against a file under
// testdata. -update writes them anew; read the difference before it is committed.
func TestGolden(t *testing.T) {
	const orchard, bench, star = "examples/orchard/harness.yaml", "examples/bench/harness.yaml", "examples/star/harness.yaml"
	for _, tt := range []struct {
		name   string
		args   []string
		status int
	}{
		{"help", []string{"--help"}, exitFine},
		{"help-check", []string{"check", "--help"}, exitFine},
		{"help-table", []string{"table", "--help"}, exitFine},
		{"help-match", []string{"match", "--help"}, exitFine},
		{"check-orchard", []string{"check", orchard}, exitFine},
		{"check-star-remarks", []string{"check", star}, exitFindings},
		{"check-star-markdown", []string{"check", star, "--format", "markdown"}, exitFindings},
		{"check-star-json", []string{"check", star, "--format", "json"}, exitFindings},
		{"check-rates", []string{"check", "cmd/whatif/testdata/rates.yaml"}, exitFindings},
		{"check-rates-markdown", []string{"check", "cmd/whatif/testdata/rates.yaml", "--format", "markdown"}, exitFindings},
		{"check-rates-json", []string{"check", "cmd/whatif/testdata/rates.yaml", "--format", "json"}, exitFindings},
		{"table-orchard-one-network", []string{"table", orchard, "--fault", "P9", "--between", "H-ground", "--at", "X1,X14/a,X2"}, exitFine},
		{"table-orchard", []string{"table", orchard}, exitFine},
		{"table-bench-all", []string{"table", bench, "--all"}, exitFine},
		{"table-bench-volts", []string{"table", bench, "--reading", "volts", "--between", "H-ground", "--between", "L-ground"}, exitFine},
		{"table-bench-unplugged", []string{"table", bench, "--unplugged", "--at", "X2,X3"}, exitFine},
		{"table-bench-markdown", []string{"table", bench, "--fault", "open*", "--format", "markdown"}, exitFine},
		{"table-bench-csv", []string{"table", bench, "--at", "X1", "--fault", "T1", "--format", "csv"}, exitFine},
		{"table-bench-comma", []string{"table", bench, "--at", "X1", "--fault", "transceiver shorted inside, H to L, in module left", "--fault", "swapped, connector"}, exitBadInput},
		{"table-bench-commas", []string{"table", bench, "--at", "X1", "--fault", "transceiver shorted inside, H to L, in module left", "--fault", "pair P1"}, exitFine},
		{"table-bench-json", []string{"table", bench, "--at", "X1", "--fault", "terminator T1", "--between", "H-L,H-ground", "--format", "json"}, exitFine},
		{"table-orchard-answers", []string{"table", orchard, "--reading", "answers"}, exitFine},
		{"table-bench-answers-json", []string{"table", bench, "--reading", "answers", "--at", "X1", "--fault", "X3", "--format", "json"}, exitFine},
		{"table-bench-levels", []string{"table", bench, "--reading", "levels", "--sender", "middle", "--at", "X1,X2"}, exitFine},
		{"table-bench-doubles", []string{"table", bench, "--doubles", "--at", "X1,X2"}, exitFine},
		{"table-bench-doubles-answers", []string{"table", bench, "--doubles", "--reading", "answers"}, exitFine},
		{"table-bench-traffic", []string{"table", bench, "--reading", "traffic", "--at", "X1"}, exitFine},
		{"talk-orchard", []string{"talk", orchard, "--at", "X1"}, exitFine},
		{"talk-orchard-open", []string{"talk", orchard, "--fault", "open drive.H in pair P9"}, exitFindings},
		{"table-bench-traffic-known", []string{"table", bench, "--reading", "traffic", "--dominant", "20", "--at", "X1", "--fault", "P2"}, exitFine},
		{"talk-bench-stuck", []string{"talk", bench, "--fault", "stuck dominant in module left"}, exitFindings},
		{"talk-bench-two-opens", []string{"talk", bench, "--fault", "open H in pair P2", "--fault", "open L in pair P4"}, exitFindings},
		{"talk-bench-json", []string{"talk", bench, "--fault", "module middle without supply", "--format", "json"}, exitFindings},
		{"help-explain", []string{"explain", "--help"}, exitFine},
		{"explain-orchard", []string{"explain", orchard, "--read", "X1 drive.H-drive.L"}, exitFine},
		{"explain-orchard-ground", []string{"explain", orchard, "--read", "X1 drive.H-ground"}, exitFine},
		{"explain-orchard-open", []string{"explain", orchard, "--read", "X2 drive.H-drive.L", "--fault", "open drive.H in pair P9"}, exitFine},
		{"explain-orchard-leak-volts", []string{"explain", orchard, "--read", "X1 work.H-ground, volts", "--fault", "leak work.H to ground at connector X17"}, exitFine},
		{"explain-orchard-apart", []string{"explain", orchard, "--read", "X17/device work.H-ground, ohms, X17 unplugged"}, exitFine},
		{"explain-orchard-points", []string{"explain", orchard, "--read", "X1.6 to X3.21"}, exitFine},
		{"explain-bench-full", []string{"explain", bench, "--read", "X1 H-L", "--full"}, exitFine},
		{"explain-bench-joint-full", []string{"explain", bench, "--read", "X1 H-L", "--fault", "joint H in pair P2", "--full"}, exitFine},
		{"explain-bench-markdown", []string{"explain", bench, "--read", "X1 H-L", "--fault", "terminator T1 missing", "--format", "markdown"}, exitFine},
		{"explain-bench-comma", []string{"explain", bench, "--read", "X1 H-ground", "--fault", "transceiver shorted inside, H to ground, in module left"}, exitFine},
		{"explain-bench-json", []string{"explain", bench, "--read", "X2/device H-L, X2 unplugged", "--format", "json"}, exitFine},
		{"explain-star-volts", []string{"explain", star, "--read", "X1 H-ground, volts"}, exitFine},
		{"bad-explain-read", []string{"explain", bench, "--read", "X1"}, exitBadInput},
		{"bad-explain-place", []string{"explain", bench, "--read", "X9 H-L"}, exitBadInput},
		{"bad-explain-levels", []string{"explain", bench, "--read", "X1 H-L, volts while left sends"}, exitBadInput},
		{"bad-explain-stuck", []string{"explain", bench, "--read", "X1 H-L, volts", "--fault", "stuck dominant in module left"}, exitBadInput},
		{"bad-explain-fault", []string{"explain", bench, "--read", "X1 H-L", "--fault", "open"}, exitBadInput},
		{"bad-explain-unplugged", []string{"explain", bench, "--read", "X1 H-L", "--unplugged", "S1"}, exitBadInput},
		{"bad-explain-twice", []string{"explain", bench, "--read", "X1 H-L", "--fault", "T1 missing", "--fault", "T1 missing"}, exitBadInput},
		{"repaired-silent-side", []string{"repaired", orchard, "examples/orchard/silent-side-repaired.yaml"}, exitFine},
		{"repaired-silent-side-json", []string{"repaired", orchard, "examples/orchard/silent-side-repaired.yaml", "--format", "json"}, exitFine},
		{"repaired-not-read", []string{"repaired", orchard, "examples/orchard/no-crank.yaml", "--at", "X13"}, exitFindings},
		{"match-two-faults", []string{"match", orchard, "examples/orchard/two-faults.yaml"}, exitFindings},
		{"match-misread", []string{"match", bench, "cmd/whatif/testdata/misread.yaml"}, exitFine},
		{"next-look-ahead", []string{"next", orchard, "examples/orchard/first-reading.yaml", "--look-ahead", "--top", "3"}, exitFindings},
		{"plan-bench", []string{"plan", bench}, exitFine},
		{"plan-bench-json", []string{"plan", bench, "--format", "json", "--rare", "5"}, exitFine},
		{"layout-bench", []string{"layout", bench, "--within", "10"}, exitFine},
		{"layout-bench-pairs", []string{"layout", bench, "--within", "10", "--pairs", "--top", "3"}, exitFine},
		{"layout-bench-pairs-json", []string{"layout", bench, "--pairs", "--top", "2", "--format", "json"}, exitFine},
		{"table-bench-pairs-csv", []string{"table", bench, "--pairs", "--fault", "T1", "--at", "X1,X2", "--between", "H-L,H-ground", "--format", "csv"}, exitFine},
		{"table-bench-pairs-json", []string{"table", bench, "--pairs", "--reading", "volts", "--fault", "short H to supply in pair P1", "--at", "X1", "--between", "H-ground", "--format", "json"}, exitFine},
		{"bad-pairs-text", []string{"table", bench, "--pairs"}, exitBadInput},
		{"bad-pairs-answers", []string{"table", bench, "--pairs", "--reading", "answers", "--at", "X1", "--format", "csv"}, exitBadInput},
		{"bad-pairs-doubles", []string{"table", bench, "--pairs", "--doubles", "--format", "csv"}, exitBadInput},
		{"layout-bench-json", []string{"layout", bench, "--format", "json"}, exitFine},
		{"help-picture", []string{"picture", "--help"}, exitFine},
		{"help-curve", []string{"curve", "--help"}, exitFine},
		{"picture-bench", []string{"picture", bench}, exitFine},
		{"picture-bench-misread", []string{"picture", bench, "cmd/whatif/testdata/misread.yaml"}, exitFine},
		{"curve-bench-ohms", []string{"curve", bench, "--fault", "high-resistance joint H in pair P2", "--read", "X1 H-L"}, exitFine},
		{"curve-bench-metres", []string{"curve", bench, "--fault", "short H to L in pair*", "--over", "metres", "--read", "X2 H-L", "--ohms", "1"}, exitFine},
		{"bad-curve-many", []string{"curve", bench, "--fault", "short", "--read", "X1 H-L"}, exitBadInput},
		{"bad-curve-fault", []string{"curve", bench, "--fault", "P2", "--fault", "T1", "--read", "X1 H-L"}, exitBadInput},
		{"bad-curve-read", []string{"curve", bench, "--fault", "high-resistance joint H in pair P2", "--read", "X9 H-L"}, exitBadInput},
		{"bad-curve-between", []string{"curve", bench, "--fault", "high-resistance joint H in pair P2", "--read", "X1"}, exitBadInput},
		{"bad-curve-place", []string{"curve", bench, "--fault", "T1", "--over", "metres", "--read", "X1 H-L"}, exitBadInput},
		{"bad-curve-stub", []string{"curve", bench, "--fault", "short H to L in pair P1", "--over", "metres", "--read", "X1 H-L"}, exitBadInput},
		{"bad-curve-ohms", []string{"curve", bench, "--fault", "high-resistance joint H in pair P2", "--read", "X1 H-L", "--ohms", "3"}, exitBadInput},
		{"bad-curve-none", []string{"curve", bench, "--fault", "open H in pair P2", "--read", "X1 H-L"}, exitBadInput},
		{"bad-curve-unplugged", []string{"curve", bench, "--fault", "high-resistance joint H in pair P2", "--read", "X1 H-L", "--unplugged", "X1"}, exitBadInput},
		{"bad-picture-readings", []string{"picture", bench, "cmd/whatif/testdata/bad-readings.yaml"}, exitBadInput},
		{"bad-picture-output", []string{"picture", bench, "-o", "no-such-folder/x.svg"}, exitBadInput},
		{"bad-plan-network", []string{"plan", bench, "--network", "steam"}, exitBadInput},
		{"bad-plan-rare", []string{"plan", bench, "--rare", "0"}, exitBadInput},
		{"bad-repaired-part", []string{"repaired", orchard, "cmd/whatif/testdata/bad-repaired.yaml"}, exitBadInput},
		{"no-faults-left", []string{"table", "cmd/whatif/testdata/no-faults.yaml", "--fault", "open"}, exitBadInput},
		{"match-silent-side-answers", []string{"match", orchard, "examples/orchard/silent-side-answers.yaml"}, exitFindings},
		{"bad-sender", []string{"table", bench, "--reading", "levels", "--sender", "nobody"}, exitBadInput},
		{"bad-talk-twice", []string{"talk", bench, "--fault", "terminator T1 missing", "--fault", "terminator T1 missing"}, exitBadInput},
		{"bad-talk-inline", []string{"talk", orchard, "--at", "X14/b"}, exitBadInput},
		{"bad-answers-between", []string{"table", bench, "--reading", "answers", "--between", "H-L"}, exitBadInput},
		{"bad-dominant", []string{"table", bench, "--reading", "traffic", "--dominant", "0"}, exitBadInput},
		{"bad-levels-no-sender", []string{"table", bench, "--reading", "levels"}, exitBadInput},
		{"bad-talk-fault", []string{"talk", bench, "--fault", "open"}, exitBadInput},
		{"match-silent-side", []string{"match", orchard, "examples/orchard/silent-side.yaml"}, exitFindings},
		{"match-no-crank", []string{"match", orchard, "examples/orchard/no-crank.yaml"}, exitFindings},
		{"match-wet-basket", []string{"match", orchard, "examples/orchard/wet-basket.yaml"}, exitFindings},
		{"match-wet-basket-markdown", []string{"match", orchard, "examples/orchard/wet-basket.yaml", "--format", "markdown"}, exitFindings},
		{"match-wet-basket-json", []string{"match", orchard, "examples/orchard/wet-basket.yaml", "--format", "json"}, exitFindings},
		{"match-wet-basket-csv", []string{"match", orchard, "examples/orchard/wet-basket.yaml", "--format", "csv"}, exitFindings},
		{"match-healthy", []string{"match", bench, "cmd/whatif/testdata/healthy.yaml"}, exitFine},
		{"match-contradiction", []string{"match", bench, "cmd/whatif/testdata/contradiction.yaml"}, exitFindings},
		{"next-first-reading", []string{"next", orchard, "examples/orchard/first-reading.yaml"}, exitFindings},
		{"help-next", []string{"next", "--help"}, exitFine},
		{"next-traffic", []string{"next", orchard, "examples/orchard/first-reading.yaml", "--traffic", "--now", "asked"}, exitFindings},
		{"next-one-part", []string{"next", orchard, "examples/orchard/no-crank.yaml"}, exitFine},
		{"next-order-of-looking", []string{"next", orchard, "examples/orchard/wet-basket.yaml"}, exitFine},
		{"next-after-traffic", []string{"next", orchard, "examples/orchard/silent-side-answers.yaml", "--top", "3"}, exitFine},
		{"next-scope-json", []string{"next", bench, "cmd/whatif/testdata/lost-terminator.yaml", "--traffic", "--scope", "--format", "json"}, exitFindings},
		{"bad-next-now", []string{"next", bench, "cmd/whatif/testdata/healthy.yaml", "--now", "off"}, exitBadInput},
		{"next-first-reading-json", []string{"next", orchard, "examples/orchard/first-reading.yaml", "--top", "2", "--format", "json"}, exitFindings},
		{"bad-harness", []string{"check", "cmd/whatif/testdata/bad-harness.yaml"}, exitBadInput},
		{"bad-readings", []string{"match", bench, "cmd/whatif/testdata/bad-readings.yaml"}, exitBadInput},
		{"bad-no-file", []string{"check", "no-such-file.yaml"}, exitBadInput},
		{"bad-command", []string{"tabel", bench}, exitBadInput},
		{"bad-fault", []string{"table", bench, "--fault", "opne"}, exitBadInput},
		{"bad-at", []string{"table", bench, "--at", "X9"}, exitBadInput},
		{"bad-between", []string{"table", bench, "--between", "H-K"}, exitBadInput},
		{"bad-unplugged", []string{"table", bench, "--unplugged", "--at", "X2,X1"}, exitBadInput},
		{"bad-top", []string{"match", bench, "cmd/whatif/testdata/healthy.yaml", "--top", "0"}, exitBadInput},
	} {
		t.Run(tt.name, func(t *testing.T) {
			stdout, stderr, status := fromTop(t, tt.args...)
			if status != tt.status {
				t.Errorf("exit status %d, want %d", status, tt.status)
			}
			if status == exitBadInput && (stdout != "" || stderr == "") {
				t.Errorf("bad input: %d bytes on stdout, %d on stderr", len(stdout), len(stderr))
			}
			got := "$ whatif " + strings.Join(tt.args, " ") + "\nexit status " + strconv.Itoa(status) + "\n-- stdout --\n" + stdout + "-- stderr --\n" + stderr
			path := filepath.Join("testdata", "golden", tt.name+".txt")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Error(diff)
			}
			// Whatever tells a person about resistances leads with the cautions.
			if status != exitBadInput && !strings.HasPrefix(tt.name, "help") {
				shown := stdout
				if strings.Contains(tt.name, "csv") {
					shown = stderr
				}
				if at := strings.Index(shown, "network asleep before any resistance reading"); at < 0 {
					t.Error("the supply-off caution is missing")
				} else if ohm := strings.Index(shown, " Ω"); ohm >= 0 && ohm < at && !strings.Contains(tt.name, "json") {
					t.Error("a resistance stands before the caution")
				}
			}
		})
	}
}

// CSV and JSON outputs are what such files must be.
func TestMachineFormats(t *testing.T) {
	stdout, _, _ := fromTop(t, "table", "examples/orchard/harness.yaml", "--format", "csv")
	rows, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	faultNames := map[string]bool{}
	for _, r := range rows[1:] {
		faultNames[r[0]] = true
		if _, err := strconv.ParseFloat(r[8], 64); err != nil && r[8] != "OL" {
			t.Fatalf("reading %q is neither a number nor OL", r[8])
		}
	}
	var table struct {
		Readings []any                    `json:"readings"`
		Healthy  []any                    `json:"healthy"`
		Faults   []struct{ Values []any } `json:"faults"`
	}
	stdout, _, _ = fromTop(t, "table", "examples/orchard/harness.yaml", "--format", "json")
	if err := json.Unmarshal([]byte(stdout), &table); err != nil {
		t.Fatal(err)
	}
	if len(faultNames) != len(table.Faults)+1 { // and the healthy row
		t.Errorf("csv has %d rows, json %d faults", len(faultNames), len(table.Faults))
	}
	if len(rows) != 1+len(faultNames)*len(table.Readings) {
		t.Errorf("csv has %d lines for %d faults and %d readings", len(rows), len(faultNames), len(table.Readings))
	}
	for _, f := range table.Faults {
		if len(f.Values) != len(table.Healthy) {
			t.Fatal("a row has lost a reading")
		}
	}
}

// Progress appears on a terminal when work takes long, and never in the output.
func TestProgress(t *testing.T) {
	var errs bytes.Buffer
	step, end := progress(streams{err: &errs}, "faults")
	if step != nil {
		t.Error("progress without a terminal")
	}
	end()
	step, end = progress(streams{err: &errs, terminal: true}, "faults")
	step(1, 10)
	end()
	if errs.Len() != 0 {
		t.Errorf("progress within the first second: %q", errs.String())
	}
}

func TestCells(t *testing.T) {
	for _, tt := range []struct {
		ohms float64
		want string
	}{{0, "0.0"}, {0.04, "0.0"}, {59.96, "60.0"}, {99.94, "99.9"}, {99.96, "100"}, {999.4, "999"}, {999.6, "1k"}, {14230, "14.2k"}, {1.05e6, "1.05M"}} {
		if got := bare(solve.Ohms, solve.Value{Number: tt.ohms}); got != tt.want {
			t.Errorf("%v Ω is written %q, want %q", tt.ohms, got, tt.want)
		}
	}
	if got := bare(solve.Ohms, solve.Over()); got != "OL" {
		t.Errorf("over limit is written %q", got)
	}
}
