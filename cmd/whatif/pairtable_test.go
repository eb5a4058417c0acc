package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// A table of pairs has a line for each two faults, as CSV and as JSON documents with
// the same numbers.
func TestPairFormats(t *testing.T) {
	args := []string{"table", "examples/bench/harness.yaml", "--pairs", "--fault", "X3", "--between", "H-L"}
	stdout, stderr, status := fromTop(t, append(args, "--format", "csv")...)
	if status != exitFine || !strings.Contains(stderr, "network asleep before any resistance reading") {
		t.Fatalf("exit status %d, stderr %q", status, stderr)
	}
	rows, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	stdout, _, _ = fromTop(t, append(args, "--format", "json")...)
	lines := strings.Split(strings.TrimSpace(stdout), "\n")
	if len(lines)+1 != len(rows) { // the healthy row stands in the first document
		t.Fatalf("csv has %d lines, json %d", len(rows), len(lines))
	}
	var table struct {
		Faults []struct{ Part, Fault string }
	}
	all, _, _ := fromTop(t, "table", "examples/bench/harness.yaml", "--format", "json")
	if err := json.Unmarshal([]byte(all), &table); err != nil {
		t.Fatal(err)
	}
	part := map[string]string{}
	own := 0
	for _, f := range table.Faults {
		if part[f.Fault] = f.Part; f.Part == "X3" {
			own++
		}
	}
	// Pairs of which one fault is of X3: with each other, and with all others.
	if n := len(part); len(lines)-1 != own*(own-1)/2+own*(n-own) || own < 5 {
		t.Errorf("%d pairs of %d faults, %d of them at X3", len(lines)-1, n, own)
	}
	seen := map[string]bool{}
	for i, line := range lines[1:] {
		var pair struct {
			Faults  [2]string
			Outside int
			Values  []any
		}
		if err := json.Unmarshal([]byte(line), &pair); err != nil {
			t.Fatal(err)
		}
		row := rows[i+2]
		if row[0] != pair.Faults[0] || row[1] != pair.Faults[1] || row[2] != strconv.Itoa(pair.Outside) || len(row) != 4+len(pair.Values) {
			t.Fatalf("csv %q, json %s", row, line)
		}
		if part[row[0]] != "X3" && part[row[1]] != "X3" {
			t.Errorf("%s and %s: neither is of X3", row[0], row[1])
		}
		if key := row[0] + " and " + row[1]; seen[key] || row[0] == row[1] {
			t.Errorf("%s stands twice", key)
		} else {
			seen[key] = true
		}
		for k, v := range pair.Values {
			switch v := v.(type) {
			case float64:
				if got, err := strconv.ParseFloat(row[4+k], 64); err != nil || got != v {
					t.Errorf("csv %s, json %v", row[4+k], v)
				}
			case string:
				if v != "OL" || row[4+k] != "OL" {
					t.Errorf("csv %s, json %v", row[4+k], v)
				}
			default:
				t.Errorf("json has %v", v)
			}
		}
	}
}

// failing takes so many bytes and then no more.
type failing struct {
	left int
	err  error
}

func (f *failing) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, f.err
	}
	return len(p), nil
}

// A reader that has had enough ends the table without a word; a full disk does not.
func TestPairsStopOnAClosedPipe(t *testing.T) {
	for _, tt := range []struct {
		err    error
		status int
	}{{syscall.EPIPE, exitFine}, {io.ErrClosedPipe, exitFine}, {errors.New("no space left"), exitBadInput}} {
		for _, format := range []string{"csv", "json"} {
			var stderr bytes.Buffer
			out := &failing{left: 200000, err: tt.err}
			status := run([]string{"table", "../../examples/orchard/harness.yaml", "--pairs", "--between", "H-L", "--format", format}, streams{out: out, err: &stderr})
			if status != tt.status {
				t.Errorf("%v, %s: exit status %d, want %d", tt.err, format, status, tt.status)
			}
			if said := strings.Contains(stderr.String(), "cannot write the output: no space left"); said != (tt.status == exitBadInput) {
				t.Errorf("%v, %s: stderr ends %q", tt.err, format, stderr.String()[max(0, stderr.Len()-200):])
			}
			if out.left > 0 || out.left < -400000 {
				t.Errorf("%v, %s: %d bytes too many were tried", tt.err, format, -out.left)
			}
		}
	}
}
