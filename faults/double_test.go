package faults

import (
	"testing"

	"example.com/ohmloom/solve"
)

// Two faults at once read as a net with both of them in it.
func TestCombineIsBothFaults(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	a := findFault(t, list, "leak H to L at connector X3")
	b := findFault(t, list, "open L in pair P2")
	both := Combine(a, b)
	if both.Name != "leak H to L at connector X3 and open L in pair P2" || both.Part != "X3 and P2" || both.Rate >= a.Rate || both.Rate <= 0 {
		t.Errorf("%+v", both)
	}
	probes := Probes(c, Selection{})
	p, err := newPredictor(c, probes, solve.DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	ready, err := p.prepare(both, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ready.at(700)
	if err != nil {
		t.Fatal(err)
	}
	n, err := solve.Assemble(c, solve.Condition{}, nil, append(a.Changes(700, 0.5), b.Changes(0, 0.5)...)...)
	if err != nil {
		t.Fatal(err)
	}
	for i, q := range probes {
		want, err := n.Read(q.Quantity, q.From, q.To, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		if v := got[i].Value(); v.OL != want.OL || !v.OL && relative(v.Number, want.Number) > 1e-9 {
			t.Errorf("%s: %v, want %v", q, v, want)
		}
	}
	// The single faults are as they were.
	if len(a.base) != 0 || len(b.base) != 1 {
		t.Error("combining changed a single fault")
	}
}

func relative(a, b float64) float64 {
	if a == b {
		return 0
	}
	return max(a-b, b-a) / max(a, b, -a, -b)
}

// At splice S1 of the bench bus four pairs meet: 6 pairs of pairs, 4 ways to open a
// conductor in each. With H open to the left and L open to the right, both modules
// with terminators are lost, and only the middle one answers a tool.
func TestBothSidesOfASplice(t *testing.T) {
	c := loadDemo(t, "bench")
	list := BothSides(c)
	if len(list) != 24 {
		t.Errorf("%d double faults, want 24", len(list))
	}
	names := map[string]bool{}
	for _, f := range list {
		if names[f.Name] {
			t.Errorf("two double faults are called %q", f.Name)
		}
		names[f.Name] = true
	}
	f := findFault(t, list, "open H in pair P2 and open L in pair P4 (both at splice S1)")
	tab, err := MakeAnswerTable(c, []*Fault{f}, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, u := range tab.Units {
		want := solve.Yes
		if c.Units[u].Name != "middle" {
			want = solve.No
		}
		if got := tab.Rows[0].Answers[k]; got != want {
			t.Errorf("%s answers %v, want %v", c.Units[u].Name, got, want)
		}
	}
	h, err := MakeTable(c, []*Fault{f}, []Probe{probeAt(t, c, solve.Ohms, "X1", "H-L")}, DefaultInstrument(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if v := h.Rows[0].Values[0]; v.OL || v.Number < 5e3 {
		t.Errorf("with both terminators cut off X1 reads %v", v)
	}
	if n := len(BothSides(loadDemo(t, "orchard"))); n < 100 {
		t.Errorf("the demo has only %d double faults at its splices", n)
	}
}
