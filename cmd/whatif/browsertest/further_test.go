package browsertest

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// What the page says to ask next has the most bits a minute about the part to repair, by
// the library's own spans, answers, rates and minutes, of all readings of the page and
// the scan tool; common faults count for more.
func TestFurtherQuestionIsTheBest(t *testing.T) {
	c := circuitOf(t, bench)
	list := faults.Catalogue(c)
	probes, labels := probesOf(c)
	table, err := faults.MakeSpannedTable(c, list, probes, faults.DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	answers, err := faults.MakeAnswerTable(c, list, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	reach, err := faults.AnswersOverRange(answers, nil)
	if err != nil {
		t.Fatal(err)
	}
	bits := func(of []int) float64 {
		parts, total, sum := map[string]float64{}, 0.0, 0.0
		for _, f := range of {
			parts[list[f].Part] += list[f].Rate
		}
		for _, w := range parts {
			total += w
			sum += w * math.Log2(w)
		}
		return math.Log2(total) - sum/total
	}
	b := open(t, bench, 1280, 900)
	suggested := map[string]bool{}
	for _, tt := range []struct {
		place, kind, typed string
		value              solve.Value
	}{
		{"X1", "ohms, H to L (supply off)", "119.8", solve.Value{Number: 119.8}}, {"X1", "ohms, H to L (supply off)", "60.4", solve.Value{Number: 60.4}},
		{"X2", "ohms, H to L (supply off)", "2.5", solve.Value{Number: 2.5}}, {"X4", "ohms, L to ground (supply off)", "1.5k", solve.Value{Number: 1500}},
		{"X1", "ohms, H to L (supply off)", "68", solve.Value{Number: 68}}, {"X1", "ohms, H to L (supply off)", "52", solve.Value{Number: 52}},
		{"X3", "ohms, H to ground (supply off)", "OL", solve.Over()}, {"X2", "ohms, H to L (supply off, connector unplugged)", "OL", solve.Over()},
		{"X1", "volts, H to ground (modules awake, none sending)", "0.4", solve.Value{Number: 0.4}},
		{"X2", "volts, L to ground (modules awake, none sending)", "1.2", solve.Value{Number: 1.2}}, {"X4", "volts, H to ground (modules awake, none sending)", "3.5", solve.Value{Number: 3.5}},
		{"X2", "volts, H to ground (modules awake, none sending)", "2.5", solve.Value{Number: 2.5}}, {"X1", "volts, L to ground (modules awake, none sending)", "2.2", solve.Value{Number: 2.2}}, {"", "", "", solve.Value{}},
	} {
		b.eval(`document.querySelectorAll("#entered-table tbody button").forEach(x => x.click())`, nil)
		taken := -1
		var left []int
		if tt.place != "" {
			b.typeReading(tt.place, tt.kind, tt.typed)
			for i, p := range probes {
				if p.Place() == tt.place && labels[i] == tt.kind {
					taken = i
				}
			}
		}
		for k, row := range table.Rows {
			if taken < 0 || row.Spans[taken].Holds(probes[taken].Quantity, tt.value) {
				left = append(left, k)
			}
		}
		said := b.text("#further")
		parts := map[string]bool{}
		for _, f := range left {
			parts[list[f].Part] = true
		}
		if len(parts) == 1 {
			if !strings.HasPrefix(said, "Look at "+list[left[0]].Part+".") {
				t.Errorf("%s at %s leaves %v, it says %q", tt.typed, tt.place, parts, said)
			}
			continue
		}
		// rates are the bits a minute of each question; the last is the scan.
		worth := make([]float64, len(probes)+1)
		minutes := make([]float64, len(probes)+1)
		for i := range worth {
			expected, weight := 0.0, 0.0
			for _, f := range left {
				var stay []int
				for _, g := range left {
					var may bool
					if i < len(probes) {
						may = table.Rows[g].Spans[i].Holds(probes[i].Quantity, table.Rows[f].Values[i])
					} else {
						may = slices.ContainsFunc(reach[g], func(way []solve.Hearing) bool {
							for m, did := range way {
								if shown := answers.Rows[f].Answers[m]; did != solve.Marginal && shown != solve.Marginal && did != shown {
									return false
								}
							}
							return true
						})
					}
					if may {
						stay = append(stay, g)
					}
				}
				expected += list[f].Rate * bits(stay)
				weight += list[f].Rate
			}
			worth[i] = bits(left) - expected/weight
			on := i == len(probes) || probes[i].Quantity == solve.Volts
			site := "X1"
			if i < len(probes) {
				site = probes[i].Site
				minutes[i] = faults.ReadMinutes + probes[i].ReachMin
				if len(probes[i].Condition.Unplugged) > 0 {
					minutes[i] += faults.UnplugMinutes
				}
			} else {
				minutes[i] = faults.ToolMinutes + 1 // X1 is reached in a minute
			}
			if taken >= 0 {
				if on != (probes[taken].Quantity == solve.Volts) {
					minutes[i] += faults.SupplyMinutes
				}
				if site == probes[taken].Site {
					if s, ok := c.Site(site); ok {
						minutes[i] -= s.ReachMin
					}
				}
			}
		}
		if taken >= 0 {
			worth[taken] = 0
		}
		most, best := slices.Max(worth), 0.0
		for i, x := range worth {
			if x >= most/4 {
				best = math.Max(best, x/minutes[i])
			}
		}
		at := -1
		for i, p := range probes {
			for _, lead := range []string{"Read next at ", "Start at "} {
				if strings.Contains(said, lead+p.Place()+": "+labels[i]+".") {
					at = i
				}
			}
		}
		if strings.Contains(said, "scan tool at X1, supply on.") {
			at = len(probes)
		}
		const slack = 0.05 // the page's limits are rounded outward
		switch {
		case strings.HasPrefix(said, "Read next from ") && most <= slack: // no single place says anything		case at < 0 && !strings.HasPrefix(said, "No reading on this page tells these apart"):
			t.Errorf("%s at %s: it says %q", tt.typed, tt.place, said)
		case at < 0 && most > slack:
			t.Errorf("%s at %s: it says %q, but there are %.3f bits to be had", tt.typed, tt.place, said, most)
		case at >= 0 && worth[at]/minutes[at] < best*(1-slack)-0.01:
			t.Errorf("%s at %s: it says %.80q, which has %.3f bits in %g minutes; the best has %.3f a minute", tt.typed, tt.place, said, worth[at], minutes[at], best)
		}
		if at >= 0 {
			suggested[fmt.Sprint(at)] = true
		}
		if at >= 0 && at < len(probes) {
			if groups := groupsOf(table, left, at); groups > 1 != strings.Contains(said, "groups whose readings do not overlap") {
				t.Errorf("%s at %s: %d groups, it says %q", tt.typed, tt.place, groups, said)
			}
		}
	}
	if len(suggested) < 4 {
		t.Errorf("only these were suggested: %v", suggested)
	}
}

// groupsOf counts the groups of faults whose spans do not touch.
func groupsOf(table *faults.Table, left []int, probe int) int {
	y := func(v solve.Value) float64 {
		if v.OL {
			return math.Inf(1)
		}
		return v.Number
	}
	order := slices.Clone(left)
	slices.SortFunc(order, func(a, b int) int {
		x, z := y(table.Rows[a].Spans[probe].Low), y(table.Rows[b].Spans[probe].Low)
		switch {
		case x < z:
			return -1
		case x > z:
			return 1
		}
		return 0
	})
	n, end := 0, math.Inf(-1)
	for _, k := range order {
		s := table.Rows[k].Spans[probe]
		if n == 0 || y(s.Low) > end {
			n++
		}
		end = math.Max(end, y(s.High))
	}
	return n
}

// Where a connector was apart, whatever is read elsewhere, or asked, wants it back first. What
// is counted is counted in words that fit.
func TestPlugsBackFirst(t *testing.T) {
	b := open(t, bench, 1280, 900)
	b.eval(`(() => {
	  const data = JSON.parse(document.getElementById("data").textContent);
	  const pick = (id, v) => { const s = document.getElementById(id); s.value = v; s.dispatchEvent(new Event("change", { bubbles: true })); };
	  window.said = [];
	  const values = ["OL", "0.2", "2", "25", "60", "119", "300", "1.5k", "9k", "23k", "60k"];
	  data.readings.forEach((r, i) => {
	    if (!data.kinds[r.kind].unplugged) return;
	    for (const v of values) {
	      document.getElementById("clear").click();
	      pick("entry-place", r.place); pick("entry-other", ""); pick("entry-kind", i);
	      document.getElementById("entry-value").value = v;
	      document.getElementById("entry").requestSubmit();
	      window.said.push([data.places[r.place].part, document.getElementById("further").textContent]);
	    }
	  });
	})()`, nil)
	var said [][2]string
	b.eval(`window.said`, &said)
	sorts := map[string]int{}
	for _, x := range said {
		part, text := x[0], x[1]
		sort := ""
		switch {
		case strings.HasPrefix(text, "Ask the modules next"):
			sort = "modules"
		case strings.HasPrefix(text, "Read next") && !strings.Contains(text, "connector unplugged"):
			sort = "plugged"
		case strings.HasPrefix(text, "Read next") && !strings.HasPrefix(text, "Read next at "+part):
			sort = "another unplugged"
		case strings.HasPrefix(text, "Read next"):
			if strings.Contains(text, "Plug back") {
				t.Errorf("%s is apart already: %q", part, text)
			}
			continue
		default:
			continue
		}
		sorts[sort]++
		if !strings.Contains(text, "Plug back what was apart first") {
			t.Errorf("%s is apart: %q", part, text)
		}
		if strings.Contains(text, " 1 more parts") || strings.Contains(text, "the 1 others") {
			t.Errorf("badly counted: %q", text)
		}
	}
	if sorts["plugged"] == 0 || sorts["modules"]+sorts["another unplugged"] == 0 {
		t.Errorf("advised are %v of %d; the test checks little", sorts, len(said))
	}
}

// As long as nothing speaks against healthy wiring, and nobody was asked, the page wants
// to know first who is silent; with a tick, or something wrong, it does not.
func TestWantsToKnowWhoIsSilent(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	const wants = "Say first who is silent."
	check := func(when string, want bool) {
		t.Helper()
		if said := b.text("#further"); strings.HasPrefix(said, wants) != want {
			t.Errorf("%s it says %q", when, said)
		}
	}
	check("at first", true)
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "60.8")
	check("after a healthy reading", true)
	b.tick("steering", "n")
	check("with a tick", false)
	b.tick("steering", "")
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "119.1")
	check("with something wrong", false)
}

// The button beside the advice turns the controls to that reading, ready to be typed.
func TestTypeWhatIsAdvised(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "119.1")
	b.tick("charger", "n")
	said := b.text("#further")
	if !strings.HasPrefix(said, "Read next at X11: drive, ohms, H to L (supply off, connector unplugged). 20 min to reach.") {
		t.Errorf("it says %q", said)
	}
	// By the library: faults that are level at OL count as one another.
	c := circuitOf(t, orchard)
	var names []string
	b.eval(remaining, &names)
	left, err := faults.Named(faults.Catalogue(c), names...)
	if err != nil {
		t.Fatal(err)
	}
	p, err := faults.ProbeAt(c, solve.Ohms, "X11", "drive.H-drive.L", solve.Condition{Unplugged: []string{"X11"}})
	if err != nil {
		t.Fatal(err)
	}
	table, err := faults.MakeSpannedTable(c, left, []faults.Probe{p}, faults.DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	parts, weight := 0.0, 0.0
	for f, row := range table.Rows {
		stay := map[string]bool{}
		for g, other := range table.Rows {
			if other.Spans[0].Holds(solve.Ohms, row.Values[0]) {
				stay[left[g].Part] = true
			}
		}
		parts += left[f].Rate * float64(len(stay))
		weight += left[f].Rate
	}
	if want := fmt.Sprintf("leaves faults at %.1f of 5 parts on average", parts/weight); !strings.Contains(said, want) {
		t.Errorf("it says %q, want %q", said, want)
	}
	b.focus("#further button")
	b.press("\r")
	b.is("connector", `document.getElementById("entry-place").selectedOptions[0].text.split(":")[0]`, "X11")
	b.is("reading", `document.getElementById("entry-kind").selectedOptions[0].text`, "drive: ohms, H to L (supply off, connector unplugged)")
	b.is("focus", active, "entry-value")
	b.press("O", "L", "\r")
	b.is("taken", `document.querySelectorAll("#entered-table tbody tr").length`, "2")
	if said := b.text("#further"); !strings.HasPrefix(said, "Look at P4. All faults that remain are there.") {
		t.Errorf("then it says %q", said)
	}
}

// Where nothing remains, what is left without each single reading or the ticks is named.
func TestNamesWhatContradicts(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "117.3")
	b.typeReading("X1:", "drive: ohms, H to ground (supply off)", "680")
	said := b.text("#further")
	for _, want := range []string{"without X1 drive, ohms, H to L (supply off), 117.3 Ω: faults at 17 parts", "without X1 drive, ohms, H to ground (supply off), 680.0 Ω: faults at 9 parts"} {
		if !strings.Contains(said, want) {
			t.Errorf("it says %q, want %q", said, want)
		}
	}
	b.eval(`document.querySelector("#entered-table button").click()`, nil)
	if said := b.text("#further"); strings.Contains(said, "misread") {
		t.Errorf("with one reading it says %q", said)
	}
	b.eval(`document.querySelector("#entered-table button").click()`, nil)
	b.typeReading("X2:", "drive: ohms, H to L (supply off)", "22.22k")
	b.tick("dash", "n")
	b.tick("steering", "y")
	if said := b.text("#further"); !strings.Contains(said, "without what was ticked: faults at P9") {
		t.Errorf("with ticks against a reading it says %q", said)
	}
}

// Where the modules are the best to ask, the page says how many parts that leaves on
// average, and who is silent with how many faults, by the library's answers.
func TestAdviceToAskTheModules(t *testing.T) {
	b := open(t, orchard, 1280, 900)
	c := circuitOf(t, orchard)
	list := faults.Catalogue(c)
	p, err := faults.ProbeAt(c, solve.Ohms, "X1", "drive.H-drive.L", solve.Condition{})
	if err != nil {
		t.Fatal(err)
	}
	table, err := faults.MakeSpannedTable(c, list, []faults.Probe{p}, faults.DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var left []*faults.Fault
	for k, row := range table.Rows {
		if row.Spans[0].Holds(solve.Ohms, solve.Value{Number: 119.1}) {
			left = append(left, list[k])
		}
	}
	answers, err := faults.MakeAnswerTable(c, left, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	reach, err := faults.AnswersOverRange(answers, nil)
	if err != nil {
		t.Fatal(err)
	}
	silent, all := map[string]int{}, map[string]bool{}
	parts, weight := 0.0, 0.0
	for f, row := range answers.Rows {
		var names []string
		for i, h := range row.Answers {
			if h == solve.No {
				names = append(names, c.Units[answers.Units[i]].Name)
			}
		}
		silent[strings.Join(names, ", ")]++
		all[left[f].Part] = true
		stay := map[string]bool{}
		for g := range left {
			if slices.ContainsFunc(reach[g], func(way []solve.Hearing) bool {
				return !slices.ContainsFunc(answers.Units, func(u int) bool {
					i := slices.Index(answers.Units, u)
					return way[i] != solve.Marginal && row.Answers[i] != solve.Marginal && way[i] != row.Answers[i]
				})
			}) {
				stay[left[g].Part] = true
			}
		}
		parts += left[f].Rate * float64(len(stay))
		weight += left[f].Rate
	}
	b.typeReading("X1:", "drive: ohms, H to L (supply off)", "119.1")
	said := b.text("#further")
	if want := fmt.Sprintf("leaves faults at %.1f of %d parts on average", parts/weight, len(all)); !strings.HasPrefix(said, "Ask the modules next: scan tool at X1, supply on.") || !strings.Contains(said, want) {
		t.Errorf("it says %q, want %q", said, want)
	}
	for names, n := range silent {
		want := fmt.Sprintf("Silent: %s: %d faults at ", names, n)
		if names == "" {
			want = fmt.Sprintf("All answer: %d faults at ", n)
		}
		if !strings.Contains(said, want) {
			t.Errorf("it says %q, want %q", said, want)
		}
	}
	if len(silent) < 4 {
		t.Errorf("only %d outcomes", len(silent))
	}
}
