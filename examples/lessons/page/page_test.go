package page_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/examples/lessons/page"
	"example.com/ohmloom/solve"
)

// written is what a page has after its beginning.
func written(t *testing.T, write func(p *page.Page)) string {
	t.Helper()
	p := page.New("title")
	before := p.String()
	write(p)
	after, ok := strings.CutPrefix(p.String(), strings.TrimRight(before, "\n"))
	if !ok {
		t.Fatal("the beginning of the page has changed")
	}
	return strings.TrimLeft(after, "\n")
}

func TestBeginning(t *testing.T) {
	if got := page.New("Über 60").String(); !strings.HasPrefix(got, "Über 60\n=======\n\nCAUTION. ") {
		t.Errorf("the page begins with %q", got[:40])
	}
}

func TestTable(t *testing.T) {
	got := written(t, func(p *page.Page) {
		p.Table([]string{"", "reads", "why"}, []string{"left", "60.2 Ω", "two"}, []string{"right", "OL", "none at all"})
	})
	want := `           reads   why
  ----------------------------
  left    60.2 Ω   two
  right       OL   none at all
`
	if diff := cmp.Diff(strings.TrimLeft(want, " "), strings.TrimLeft(got, " ")); diff != "" {
		t.Error(diff)
	}
}

func TestSums(t *testing.T) {
	p := page.New("title")
	sum := page.Sum{Case: "two", Meter: solve.Value{Number: 60.2}, Working: "120 / 2", Hand: 60, Within: 0.5}
	p.Sums("terminators", sum)
	if diff := cmp.Diff([]page.Sum{sum}, p.Worked()); diff != "" {
		t.Error(diff)
	}
	if !strings.Contains(p.String(), "two           60.2 Ω    60.0 Ω   120 / 2\n") {
		t.Errorf("the sum is not on the page:\n%s", p)
	}
}

// Lines are no longer than a page is wide, nothing is lost, and a number stays with
// its unit and its sign.
func TestWrap(t *testing.T) {
	text := strings.Repeat("about 60 Ω is 120 / 2, and 5 % of 2.5 V is not much. ", 12)
	got := written(t, func(p *page.Page) { p.Text("%s", text) })
	if strings.Join(strings.Fields(got), " ") != strings.Join(strings.Fields(text), " ") {
		t.Error("words were lost or changed")
	}
	lines := strings.Split(strings.TrimRight(got, "\n"), "\n")
	for i, line := range lines {
		if n := utf8.RuneCountInString(line); n > 92 {
			t.Errorf("%d characters: %s", n, line)
		}
		for _, unit := range []string{"Ω", "/", "%", "V"} {
			if strings.HasPrefix(line, unit) || unit == "/" && strings.HasSuffix(line, unit) {
				t.Errorf("a line begins or ends with %s: %s", unit, line)
			}
		}
		if i+1 < len(lines) && utf8.RuneCountInString(line) < 70 {
			t.Errorf("a line breaks early: %s", line)
		}
	}
}

func TestLists(t *testing.T) {
	long := strings.Repeat("word ", 25)
	got := written(t, func(p *page.Page) {
		p.Points("one", long)
		p.Steps("first", "second")
		p.Drawing("\n a\nb \n")
	})
	for _, want := range []string{"- one\n- word", "\n  word", "1. first\n2. second\n\n", "     a\n    b\n"} {
		if !strings.Contains(got, want) {
			t.Errorf("the page lacks %q:\n%s", want, got)
		}
	}
}

func TestShow(t *testing.T) {
	for _, tt := range []struct {
		q    solve.Quantity
		v    solve.Value
		want string
	}{
		{solve.Ohms, solve.Value{Number: 60.16}, "60.2 Ω"},
		{solve.Ohms, solve.Over(), "OL"},
		{solve.Volts, solve.Value{Number: 2.4961}, "2.50 V"},
		{solve.Volts, solve.Value{Number: -0.001}, "0.00 V"},
		{solve.Volts, solve.Value{Number: -0.25}, "-0.25 V"},
	} {
		if got := page.Show(tt.q, tt.v); got != tt.want {
			t.Errorf("got %s, want %s", got, tt.want)
		}
	}
}
