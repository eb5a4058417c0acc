package report

import (
	"math"
	"slices"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/solve"
)

// pointsOf are the points of a reading from one place to another, as a readings file has them.
func pointsOf(d *data, e *endToEnd) (from, to string) {
	names := e.Contacts
	if names == nil {
		name := d.Conductors[e.Conductor].Name
		names = []string{name, name}
	}
	return d.Places[e.From].Name + "." + names[0], d.Places[e.To].Name + "." + names[1]
}

// Readings from one place to another are the library's, with every fault, and there is one for
// every two places on a conductor.
func TestEndsAreTheLibrarys(t *testing.T) {
	for _, demo := range demos {
		c, html := pageOf(t, demo)
		d := numbersOf(t, html)
		list := faults.Catalogue(c)
		in := faults.DefaultInstrument()
		var probes []faults.Probe
		type pair struct{ conductor, from, to int }
		seen := map[pair]bool{}
		for i := range d.Ends {
			e := &d.Ends[i]
			from, to := pointsOf(d, e)
			p, err := faults.ProbeFromTo(c, solve.Ohms, from, to, solve.Condition{})
			if err != nil {
				t.Fatalf("%s: %v", demo, err)
			}
			k := d.Conductors[e.Conductor]
			for _, n := range []int{p.From, p.To} {
				if on := c.Nodes[n].Conductor; c.Label(on) != k.Name || on.Name != k.Label || on.Network != d.Networks[k.Network] {
					t.Errorf("%s: %s is on %v, not on %v", demo, p, on, k)
				}
			}
			probes = append(probes, p)
			seen[pair{e.Conductor, min(e.From, e.To), max(e.From, e.To)}] = true
		}
		// By the readings at single places: what is read to ground is a conductor's place.
		wanted, on := 0, map[string][]int{}
		for _, r := range d.Readings {
			if k := d.Kinds[r.Kind]; !k.Volts && !k.Unplugged && k.Between[max(0, len(k.Between)-7):] == "-ground" {
				name := k.Between[:len(k.Between)-7]
				if !slices.Contains(on[name], r.Place) {
					on[name] = append(on[name], r.Place)
				}
			}
		}
		for k, x := range d.Conductors {
			for i, a := range on[x.Name] {
				for _, b := range on[x.Name][i+1:] {
					if wanted++; !seen[pair{k, min(a, b), max(a, b)}] {
						t.Errorf("%s: no reading along %s from %s to %s", demo, x.Name, d.Places[a].Name, d.Places[b].Name)
					}
				}
			}
		}
		if len(on) != len(d.Conductors) || wanted == 0 {
			t.Errorf("%s: %d conductors of %d, %d pairs", demo, len(d.Conductors), len(on), wanted)
		}
		plain, err := faults.MakeTable(c, list, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		spanned, err := faults.MakeSpannedTable(c, list, probes, in, nil)
		if err != nil {
			t.Fatal(err)
		}
		moved := 0
		for i := range d.Ends {
			e := &d.Ends[i]
			of := cellsByFault(len(list), cell{Value: e.Healthy, May: e.May}, e.Cells)
			same := func(what string, n number, v solve.Value) {
				t.Helper()
				if got, want := n.text(solve.Ohms), solve.FormatReading(solve.Ohms, v); got != want {
					t.Errorf("%s: %s, %s: the page has %s, the library %s", demo, probes[i], what, got, want)
				}
			}
			same("healthy", e.Healthy, plain.Healthy[i])
			around(t, demo+": "+probes[i].String()+" healthy", solve.Ohms, e.May, spanned.HealthySpans[i])
			for k, f := range list {
				same(f.Name, of[k].Value, plain.Rows[k].Values[i])
				around(t, demo+": "+probes[i].String()+", "+f.Name, solve.Ohms, of[k].May, spanned.Rows[k].Spans[i])
				if of[k].Mark == faults.Outside {
					moved++
				}
			}
		}
		if moved < 20 {
			t.Errorf("%s: %d readings with faults lie outside; the test checks little", demo, moved)
		}
	}
}

// An inline connector's contact has a reading across it.
func TestInlineContactIsReadAcross(t *testing.T) {
	c, html := pageOf(t, "examples/orchard/harness.yaml")
	d := numbersOf(t, html)
	across := 0
	for i := range d.Ends {
		from, to := pointsOf(d, &d.Ends[i])
		if from == "X14/a.work.H" && to == "X14/b.work.H" || from == "X14/a.drive.H" && to == "X14/b.drive.H" {
			across++
		}
	}
	if s, err := c.FindSite("X14"); err != nil || across == 0 {
		t.Errorf("nothing is read across %v (%v)", s.Name, err)
	}
}

// Where there are too many, they are those between the places that are reached first.
func TestEndsOfThePlacesReachedFirst(t *testing.T) {
	c := circuitOf(t, "testdata/layouts/press-30.yaml")
	all, places, of, err := endProbes(c, math.MaxInt)
	if err != nil || places != of {
		t.Fatal(places, of, err)
	}
	for _, most := range []int{0, 1, 40, 200, len(all) - 1, len(all)} {
		some, places, _, err := endProbes(c, most)
		if err != nil {
			t.Fatal(err)
		}
		if len(some) > most || len(some) < most*3/4 && most > 40 {
			t.Errorf("%d readings of %d at most", len(some), most)
		}
		if (places == of) != (len(some) == len(all)) {
			t.Errorf("at most %d: %d of %d places, %d of %d readings", most, places, of, len(some), len(all))
		}
		latest, soonest := 0.0, math.Inf(1) // of those that are in, and of those that are not
		in := map[string]bool{}
		for _, x := range some {
			for _, e := range x.ends {
				in[e.site] = true
				latest = max(latest, e.minutes)
			}
		}
		for _, x := range all {
			for _, e := range x.ends {
				if !in[e.site] {
					soonest = min(soonest, e.minutes)
				}
			}
		}
		if len(some) > 0 && latest > soonest {
			t.Errorf("at most %d: a place of %v min is in, one of %v min is not", most, latest, soonest)
		}
	}
}
