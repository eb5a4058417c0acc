// Package pagetest holds every lesson to the same rules: what is worked by hand is
// what the solver says, and the page is built as a lesson is.
package pagetest

import (
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"example.com/ohmloom/examples/lessons/bench"
	"example.com/ohmloom/examples/lessons/page"
	"example.com/ohmloom/netlist"
)

// widest a line may be, tables and drawings included.
const widest = 110

// FromTop runs a lesson's tests in the top folder of the checkout, from where the
// lessons read their harness files.
func FromTop(m *testing.M) int {
	if err := os.Chdir("../../.."); err != nil {
		panic(err)
	}
	return m.Run()
}

// Line is the bus of several lessons.
func Line(t *testing.T) *bench.Bench {
	t.Helper()
	b, err := bench.Open("examples/lessons/line.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Check goes through a lesson's page.
func Check(t *testing.T, p *page.Page) {
	t.Helper()
	sums(t, p)
	layout(t, p.String())
}

// sums holds what is worked by hand against the solver.
func sums(t *testing.T, p *page.Page) {
	t.Helper()
	if len(p.Worked()) == 0 {
		t.Error("the page has no sums")
	}
	for _, s := range p.Worked() {
		switch {
		case s.Meter.OL || math.IsNaN(s.Meter.Number):
			t.Errorf("%s: the meter shows %s, which no sum comes to", s.Case, s.Meter)
		case !(math.Abs(s.Meter.Number-s.Hand) <= s.Within):
			t.Errorf("%s: the meter shows %g, by hand it is %g (%s), more than %g apart", s.Case, s.Meter.Number, s.Hand, s.Working, s.Within)
		// What a formula leaves out is small, or it explains nothing.
		case s.Within > math.Max(0.02*math.Abs(s.Hand), 0.005):
			t.Errorf("%s: a formula that is allowed to miss %g by %g explains nothing", s.Case, s.Hand, s.Within)
		}
	}
}

// layout holds the page to what a lesson has, in its order.
func layout(t *testing.T, text string) {
	t.Helper()
	at := 0
	for _, part := range []string{
		"=\n\nCAUTION. ", "The question\n-", "Guess first\n-", "meter", "by hand", "Remember\n-", "Where the figures come from\n-",
	} {
		i := strings.Index(text[at:], part)
		if i < 0 {
			t.Errorf("%q is missing, or stands before what should come first", part)
			continue
		}
		at += i
	}
	for _, line := range strings.Split(text, "\n") {
		if n := utf8.RuneCountInString(line); n > widest {
			t.Errorf("%d characters in a line: %s", n, line)
		}
	}
	for _, bad := range []string{"%!", "NaN", "Inf", "e+", "0000000", "9999999"} {
		if strings.Contains(text, bad) {
			t.Errorf("the page has %q in it", bad)
		}
	}
}

// Drawn holds a drawing against its circuit: every connector, splice, pair and
// terminator stands in it, and none that does not exist.
func Drawn(t *testing.T, drawing string, c *netlist.Circuit) {
	t.Helper()
	exists := map[string]bool{}
	for _, s := range c.Sites {
		exists[s.Name] = true
	}
	for _, p := range c.Harness.Pairs {
		exists[p.Name] = true
	}
	for _, x := range c.Harness.Terminators {
		exists[x.Name] = true
	}
	drawn := map[string]bool{}
	for _, name := range regexp.MustCompile(`\b[A-Z]\d+\b`).FindAllString(drawing, -1) {
		if drawn[name] {
			t.Errorf("%s is drawn twice", name)
		}
		drawn[name] = true
		if !exists[name] {
			t.Errorf("%s is drawn, and not in the harness", name)
		}
	}
	for name := range exists {
		if !drawn[name] {
			t.Errorf("%s is in the harness, and not drawn", name)
		}
	}
}
