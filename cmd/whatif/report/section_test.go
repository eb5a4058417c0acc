package report

import (
	"strings"
	"testing"
)

// A step of a plan ends before what is said of all steps; what its plan does not follow
// is marked; a list without items is no trouble.
func TestStepsOfAPlan(t *testing.T) {
	p := &Page{data: &data{Faults: []fault{{Name: "open H in pair P1"}}}}
	s := p.section(&Section{Name: "plan-1", Blocks: []Block{
		{Kind: Paragraph, Text: "Start at step 1."},
		{Kind: Heading, Text: "1. X1 H-L, ohms"},
		{Kind: List, Items: []string{"supply off, network asleep; 1.0 min; comes up in 100 % of cases", "below 50 Ω (3 %): step 2", "anything else (1 %): go on with whatif next"}},
		{Kind: Heading, Text: "2. X2 H-L, ohms"},
		{Kind: List},
		{Kind: List, Items: []string{"above 50 Ω (3 %): LOOK AT P1"}},
		{Kind: Paragraph, Text: "How common faults are is from memory."},
	}})
	var opens, closes []int
	for i, b := range s.Blocks {
		if b.Opens {
			opens = append(opens, i)
		}
		if b.Closes {
			closes = append(closes, i)
		}
	}
	if len(opens) != 2 || len(closes) != 2 || s.Blocks[closes[0]].Is != "list" || s.Blocks[closes[1]].Is != "list" || opens[1] != closes[0]+1 {
		t.Errorf("steps open at %v and close at %v of %+v", opens, closes, s.Blocks)
	}
	if last := s.Blocks[len(s.Blocks)-1]; last.Opens || last.Closes || last.Is != "paragraph" {
		t.Errorf("what is said of all steps belongs to one: %+v", last)
	}
	first := s.Blocks[3]
	if !s.Blocks[2].State || len(first.Items) != 2 {
		t.Fatalf("the state of step 1 is not apart: %+v", s.Blocks[2:4])
	}
	if x := first.Items[0]; x.Text != "below 50 Ω (3 %): " || x.Step != "step 2" || x.Link != "plan-1-2" || x.Elsewhere {
		t.Errorf("an outcome that leads on: %+v", x)
	}
	if !first.Items[1].Elsewhere {
		t.Error("what the plan does not follow is not marked")
	}
}

// A table's rows are named by the first column of words, in any script; numbers stand
// right, whatever their unit and sign.
func TestTablesOfASection(t *testing.T) {
	for _, tt := range []struct {
		rows    [][]string
		names   int
		numeric string
	}{
		{[][]string{{"1", "X1 H-L", "60.4 Ω", "+0.4"}, {"2", "X2 H-L", "OL", "−0.3"}}, 1, "y n y y"},
		{[][]string{{"1", "Ж", "> 99.9 %", ""}}, 1, "y n y n"},
		{[][]string{{"left", "", "1", "4.82 kΩ"}}, 0, "n n y y"},
		{[][]string{{"left", "x", "14 mΩ", "4.82 kΩ"}, {"right", "x", "1.2 Ω", "1.20 MΩ"}}, 0, "n n y y"},
		{[][]string{{"1", "2", "3", "4"}}, 0, "y y y y"},
	} {
		b := Block{Kind: Table, Header: []string{"", "b", "c", "d"}, Rows: tt.rows}
		if got := b.rowHeader(); got != tt.names {
			t.Errorf("%q: named by column %d, want %d", tt.rows, got, tt.names)
		}
		var numeric []string
		for j := range b.Header {
			numeric = append(numeric, map[bool]string{true: "y", false: "n"}[b.numeric(j)])
		}
		if got := strings.Join(numeric, " "); got != tt.numeric {
			t.Errorf("%q: numbers in %s, want %s", tt.rows, got, tt.numeric)
		}
	}
	header, rows := tableOf(Block{Header: []string{"", "explanation"}, Rows: [][]string{{"1", "open H in pair P1", "beyond"}}}, map[string]int{"open H in pair P1": 7})
	if header[0].Text != "no." || rows[0][1].Fault != 7 || rows[0][1].Label != "explanation" || !rows[0][1].Header || rows[0][0].Fault != -1 || rows[0][2].Label != "" {
		t.Errorf("a table comes out as %+v, %+v", header, rows)
	}
}

// A file's name is one word for a POSIX shell, and no option (IEEE Std 1003.1, 2.2.2:
// single quotes keep every character but themselves).
func TestShellWords(t *testing.T) {
	for name, want := range map[string]string{
		"harness.yaml": "harness.yaml", "my bench.yaml": "'my bench.yaml'", "it's.yaml": `'it'\''s.yaml'`, "$(x).yaml": "'$(x).yaml'",
		"-o.yaml": "'./-o.yaml'", "": "''", "a;b": "'a;b'", "обрат.yaml": "обрат.yaml", "~x": "'~x'", "a&b|c": "'a&b|c'",
	} {
		if got := shellWord(name); got != want {
			t.Errorf("%q is written %s, want %s", name, got, want)
		}
	}
}
