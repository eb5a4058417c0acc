package derivation_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
)

// What carries no current between the leads is left out before anything is joined, and
// named with the point that it hangs on.
func TestDropsWhatCarriesNothing(t *testing.T) {
	c := orchard(t)
	d := explain(t, c, question(t, c, "X1.drive.H", "X1.drive.L"))
	for _, name := range d.Resistances[d.Result].Elements {
		if strings.Contains(name, "work") || strings.Contains(name, "pair Q") || strings.Contains(name, "P14") || strings.Contains(name, "supply") {
			t.Errorf("%s is in the result", name)
		}
	}
	hangs := map[string]string{}
	for _, s := range d.Steps {
		if s.Operation != derivation.Drop {
			break
		}
		for _, i := range s.Inputs {
			hangs[d.Resistances[i].Name] = s.At
		}
	}
	for name, at := range map[string]string{"pair P14 H": "S4.H", "pair P14 L": "S4.L", "loads on the supply rail": "ground", "pair Q6 H": "ground", "terminator TW1": "ground"} {
		if hangs[name] != at {
			t.Errorf("%s hangs on %q, want %q", name, hangs[name], at)
		}
	}
	// An island hangs on nothing.
	d = between(t, raw(6, edge{2, 3, 120}, edge{4, 5, 7}), 2, 3)
	if len(d.Steps) != 1 || d.Steps[0].Operation != derivation.Drop || d.Steps[0].At != "" {
		t.Errorf("%v", d.Steps)
	}
}

// The far ends come first: S4 before S3 before S2, with or without stars.
func TestFromTheFarEnds(t *testing.T) {
	c := orchard(t)
	for _, changes := range [][]solve.Change{nil, {solve.Part{Element: element(t, c, "pair P13 H")}}} {
		d := explain(t, c, question(t, c, "X1.drive.H", "X1.drive.L", changes...))
		last := map[string]int{}
		for n, s := range d.Steps {
			if s.Operation != derivation.Series && s.Operation != derivation.Parallel && s.Operation != derivation.Mesh {
				continue
			}
			for _, i := range s.Inputs {
				for _, end := range []string{d.Resistances[i].A, d.Resistances[i].B} {
					site, _, _ := strings.Cut(end, ".")
					last[site] = n
				}
			}
		}
		if !(last["S4"] < last["S3"] && last["S3"] < last["S2"]) {
			t.Errorf("with %d changes: S4 is done with at step %d, S3 at %d, S2 at %d", len(changes), last["S4"], last["S3"], last["S2"])
		}
	}
}

// Two sides that are only nearly alike are not folded.
func TestNearlyAlike(t *testing.T) {
	c := orchard(t)
	for _, name := range []string{"pair P9 H", "input of dash drive.L", "contact X6.1"} {
		i := element(t, c, name)
		for _, to := range []string{"X1.drive.L", "ground"} {
			d := explain(t, c, question(t, c, "X1.drive.H", to, solve.Replace{Element: i, Ohms: 1.01 * c.Elements[i].Off.Ohms(nil)}))
			if o := operations(d); o[derivation.Fold] != 0 || o[derivation.Mesh] == 0 {
				t.Errorf("%s, to %s: %v", name, to, o)
			}
		}
	}
	// A bridge from one side to the other elsewhere goes across no fold either, though
	// there is one like it the other way round.
	d := explain(t, c, question(t, c, "X1.drive.H", "X1.drive.L",
		solve.Bridge{From: solve.AtNode(node(t, c, "S1.H")), To: solve.AtNode(node(t, c, "S3.L")), Ohms: 500},
		solve.Bridge{From: solve.AtNode(node(t, c, "S3.H")), To: solve.AtNode(node(t, c, "S1.L")), Ohms: 500}))
	if o := operations(d); o[derivation.Fold] != 0 {
		t.Errorf("%v", o)
	}
}

// like builds a bus of alike sides with a source in each input, those of L the other way
// round as elements go.
func like(highVolts, lowVolts float64) (c *netlist.Circuit, h int) {
	c = raw(8, edge{2, 4, 1}, edge{3, 5, 1}, edge{4, 5, 120}, edge{4, 0, 30e3}, edge{0, 5, 30e3}, edge{4, 6, 2}, edge{5, 7, 2}, edge{6, 0, 20e3}, edge{0, 7, 20e3}, edge{6, 7, 120})
	for _, i := range []int{3, 7} {
		c.Elements[i].Kind, c.Elements[i].Awake.Volts.Mid = netlist.InputElement, highVolts
	}
	for _, i := range []int{4, 8} {
		c.Elements[i].Kind, c.Elements[i].Awake.Volts.Mid = netlist.InputElement, -lowVolts
	}
	bus := netlist.Conductor{Network: "bus"}
	for n, at := range [][2]int{{2, 3}, {4, 5}, {6, 7}} {
		c.Sites = append(c.Sites, netlist.Site{Name: string(rune('A' + n)), Contacts: []netlist.SiteContact{
			{Conductor: bus, Node: at[0], Other: -1, Element: -1}, {Conductor: bus, Node: at[1], Other: -1, Element: -1},
		}})
	}
	return c, 2
}

// Tying both conductors takes sources that drive them alike, as seen from outside.
func TestTyingWantsEvenSources(t *testing.T) {
	for _, x := range []struct {
		high, low float64
		tie       int
	}{{2.5, 2.5, 1}, {0.1, 4.9, 0}, {2.5, -2.5, 0}} {
		c, h := like(x.high, x.low)
		d := explain(t, c, derivation.Question{Quantity: solve.Volts, Condition: solve.Condition{Supply: solve.Idle}, From: h, To: netlist.GroundNode})
		if o := operations(d); o[derivation.Tie] != x.tie {
			t.Errorf("%v V and %v V: %v", x.high, x.low, o)
		}
	}
}

// A fault below an ohm joins, one above lies beside, while its own ohms do not count yet.
func TestFaultJoins(t *testing.T) {
	c := orchard(t)
	for ohms, want := range map[float64]float64{0: 0, 0.99: 0, 1.01: 60, 99: 60} {
		d := explain(t, c, question(t, c, "X1.drive.H", "X1.drive.L", solve.Bridge{From: solve.AtNode(node(t, c, "S2.H")), To: solve.AtNode(node(t, c, "S2.L")), Ohms: ohms}))
		if first := d.Terms[0]; math.Abs(first.Total-want) > 1e-9 {
			t.Errorf("%v Ω: begins with %v, want %v", ohms, first.Total, want)
		}
	}
}

// Names of points along a wire, and a split terminator's halves as one.
func TestNames(t *testing.T) {
	c := orchard(t)
	p9 := element(t, c, "pair P9 H") // from S3 to S4
	d := explain(t, c, question(t, c, "X1.drive.H", "ground", solve.Bridge{From: solve.OnWire(p9, 0.25), To: solve.AtNode(netlist.GroundNode), Ohms: 10}))
	found := 0
	for _, r := range d.Resistances {
		ends := []string{r.A, r.B}
		slices.Sort(ends)
		switch r.Name {
		case "pair P9 H, 0 to 25 % of it":
			found++
			if !slices.Equal(ends, []string{"25 % along pair P9 H", "S3.H"}) || math.Abs(r.Ohms-0.25*c.Elements[p9].Off.Ohms(nil)) > 1e-12 {
				t.Errorf("%+v", r)
			}
		case "pair P9 H, 25 to 100 % of it":
			found++
			if !slices.Equal(ends, []string{"25 % along pair P9 H", "S4.H"}) {
				t.Errorf("%+v", r)
			}
		case "fault between 25 % along pair P9 H and ground":
			found++
		}
	}
	if found != 3 {
		t.Errorf("%d of 3 resistances found", found)
	}
	if first := explain(t, c, question(t, c, "X1.drive.H", "X1.drive.L")).Terms[0]; !slices.Equal(first.Parts, []string{"TD1", "TD2"}) || math.Abs(first.Ohms[0]-120) > 1e-9 || math.Abs(first.Ohms[1]-120) > 1e-9 {
		t.Errorf("%+v", first)
	}
}

// With a conductor cut off from its module, idle volts come to nothing, and so do the
// terms.
func TestOpenVolts(t *testing.T) {
	c := orchard(t)
	q := question(t, c, "X3.H", "ground", solve.Part{Element: element(t, c, "pair P1 H")})
	q.Quantity, q.Condition = solve.Volts, solve.Condition{Supply: solve.Idle, Unplugged: []string{"X3"}}
	d := explain(t, c, q)
	if !d.Open || d.Value.Number != 0 || d.Terms[0].Total != 2.5 || !slices.ContainsFunc(d.Terms, func(x derivation.Term) bool { return x.Group == derivation.FaultOhms && x.Open && x.Value == -2.5 }) {
		t.Errorf("%v %+v", d.Value, d.Terms)
	}
}
