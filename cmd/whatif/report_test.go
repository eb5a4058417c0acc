package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A page says what match, next and plan print, word for word.
func TestReportSaysWhatTheCommandsSay(t *testing.T) {
	const harness, readings = "examples/orchard/harness.yaml", "examples/orchard/silent-side.yaml"
	file := filepath.Join(t.TempDir(), "page.html")
	stdout, stderr, status := fromTop(t, "report", harness, readings, "-o", file)
	if status != exitFine || stderr != "" {
		t.Fatalf("exit status %d: %s", status, stderr)
	}
	if !strings.Contains(stdout, "page.html: ") || !strings.Contains(stdout, "18 connectors, 202 readings, 615 faults") {
		t.Errorf("it says %q", stdout)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	page := strings.NewReplacer("&#39;", "'", "&#43;", "+", "&gt;", ">", "&lt;", "<", "&#34;", `"`, "&amp;", "&").Replace(string(data))
	for _, c := range cautions { // once in full, as points, and as a paragraph with each plan
		if n := strings.Count(page, c); n != 3 {
			t.Errorf("the page says %d times: %s", n, c)
		}
	}
	held := 0
	for _, args := range [][]string{
		{"match", harness, readings, "--format", "markdown"},
		{"next", harness, readings, "--format", "markdown"},
		{"plan", harness, "--network", "drive", "--format", "markdown"},
		{"plan", harness, "--network", "work", "--format", "markdown"},
	} {
		said, _, _ := fromTop(t, args...)
		for _, line := range strings.Split(said, "\n") {
			line = strings.TrimLeft(line, "-# ")
			pieces := []string{line}
			if strings.HasPrefix(line, "|") {
				pieces = strings.Split(strings.Trim(line, "| "), " | ")
			}
			if strings.HasPrefix(line, "Branchwick") || strings.HasPrefix(line, "| ---") {
				continue // the title, which the page has once
			}
			for _, piece := range pieces {
				if before, after, link := strings.Cut(piece, ": step "); link {
					piece = before
					if !strings.Contains(page, ">step "+after+"</a>") {
						t.Errorf("%v: no link to step %s", args, after)
					}
				}
				if !strings.Contains(page, piece) {
					t.Errorf("%v: the page does not say %q", args, piece)
				}
				held++
			}
		}
	}
	if held < 400 {
		t.Errorf("only %d pieces held against the page", held)
	}
}

// What leads nowhere in a plan: every step that an outcome names is there.
func TestReportPlanLinks(t *testing.T) {
	page, _, status := fromTop(t, "report", "examples/bench/harness.yaml", "-o", "-")
	if status != exitFine {
		t.Fatal(status)
	}
	links := 0
	for _, piece := range strings.Split(page, `<a href="#plan-`)[1:] {
		anchor, _, _ := strings.Cut(piece, `"`)
		if !strings.Contains(page, `id="plan-`+anchor+`"`) {
			t.Errorf("plan-%s is not there", anchor)
		}
		links++
	}
	if links < 5 {
		t.Errorf("%d links", links)
	}
}

// Bad input ends as it does everywhere, and leaves no page behind.
func TestReportRefuses(t *testing.T) {
	t.Chdir("../..")
	file := filepath.Join(t.TempDir(), "page.html")
	for _, tt := range []struct {
		args []string
		says string
	}{
		{[]string{"report", "no-such-file.yaml", "-o", file}, "no-such-file.yaml"},
		{[]string{"report", "cmd/whatif/testdata/bad-harness.yaml", "-o", file}, "bad-harness.yaml:"},
		{[]string{"report", "examples/bench/harness.yaml", "cmd/whatif/testdata/bad-readings.yaml", "-o", file}, "bad-readings.yaml:"},
		{[]string{"report", "examples/bench/harness.yaml", "-o", filepath.Join(file, "nowhere")}, "write another file with -o"},
		{[]string{"report"}, "whatif report --help"},
	} {
		var out, errs bytes.Buffer
		status := run(tt.args, streams{out: &out, err: &errs})
		if status != exitBadInput || !strings.Contains(errs.String(), tt.says) {
			t.Errorf("%v: exit status %d, %q", tt.args, status, errs.String())
		}
		if _, err := os.Stat(file); err == nil {
			t.Errorf("%v left a page behind", tt.args)
		}
	}
}

// A harness in which by its rates nothing can happen still has its healthy readings.
func TestReportWithoutFaults(t *testing.T) {
	page, stderr, status := fromTop(t, "report", "cmd/whatif/testdata/no-faults.yaml", "-o", "-")
	if status != exitFine {
		t.Fatalf("exit status %d: %s", status, stderr)
	}
	for _, want := range []string{"There is no plan: ", `<table class="healthy">`, ", 0 faults."} {
		if !strings.Contains(page, want) {
			t.Errorf("the page has no %q", want)
		}
	}
}

// A page made with readings derives each of them, unplugged and from end to end too,
// and shows the faults that explain them at the value fitted to them.
func TestReportDerivesWhatWasRead(t *testing.T) {
	page, stderr, status := fromTop(t, "report", "examples/orchard/harness.yaml", "examples/orchard/no-crank.yaml", "-o", "-")
	if status != exitFine {
		t.Fatalf("exit status %d: %s", status, stderr)
	}
	page = strings.NewReplacer("&#39;", "'", "&#43;", "+").Replace(page)
	for _, want := range []string{
		"<summary>1. X1 drive.H-drive.L, ohms: 119.1 Ω</summary>",
		"<summary>2. X1 drive.H-drive.L, ohms, X3 unplugged: 13.98 kΩ</summary>",
		"<summary>7. X1.14 to X13.9, ohms: 236.2 Ω</summary>",
		"as fitted to the readings (95 %: 36 kΩ to 100 kΩ)", // the second explanation, as match prints it
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(page, `<details class="why">`); n != 7 {
		t.Errorf("%d derivations of 7 readings", n)
	}
	// The best explanation of reading 2 is what whatif explain derives.
	said, _, _ := fromTop(t, "explain", "examples/orchard/harness.yaml", "--read", "X1 drive.H-drive.L, ohms, X3 unplugged", "--fault", "backed-out cavity X11.2 (drive.L)", "--format", "markdown")
	held := 0
	for _, line := range strings.Split(said, "\n") {
		if line = strings.TrimLeft(line, "# "); strings.Contains(line, "the meter shows") || strings.HasPrefix(line, "What is changed") {
			held++
			if !strings.Contains(page, line) {
				t.Errorf("the page does not say, as whatif explain does: %s", line)
			}
		}
	}
	if held < 3 {
		t.Errorf("only %d sentences compared", held)
	}
}
