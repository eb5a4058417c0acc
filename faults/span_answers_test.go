package faults

import (
	"slices"
	"testing"

	"example.com/ohmloom/solve"
)

// What modules may answer over a fault's range holds what they answer with the fault
// set to values of that range, each put into the harness on its own.
func TestAnswersOverRange(t *testing.T) {
	c := loadDemo(t, "orchard")
	list := Catalogue(c)
	table, err := MakeAnswerTable(c, list, "X1", nil)
	if err != nil {
		t.Fatal(err)
	}
	reach, err := AnswersOverRange(table, nil)
	if err != nil {
		t.Fatal(err)
	}
	several, compared := 0, 0
	for k, f := range list {
		if !slices.Equal(reach[k][0], table.Rows[k].Answers) {
			t.Errorf("%s: the first is not the typical one", f.Name)
		}
		if f.Free == nil {
			if len(reach[k]) != 1 {
				t.Errorf("%s leaves nothing open but has %d answers", f.Name, len(reach[k]))
			}
			continue
		}
		if len(reach[k]) > 1 {
			several++
		}
		if k%7 != 0 {
			continue
		}
		for _, ohms := range []float64{min(f.Free.Min, f.Free.Typical), f.Free.Max} {
			n, err := solve.Assemble(c, solve.Condition{Supply: solve.Idle}, nil, f.Changes(ohms, 0.5)...)
			if err != nil {
				t.Fatal(err)
			}
			bus, err := n.Bus(nil, solve.Tool{Site: "X1"})
			if err != nil {
				t.Fatal(err)
			}
			talk, err := bus.Talk()
			if err != nil {
				t.Fatal(err)
			}
			var want []solve.Hearing
			for _, u := range table.Units {
				want = append(want, talk.Answers(len(c.Units))[u])
			}
			if !slices.ContainsFunc(reach[k], func(x []solve.Hearing) bool { return slices.Equal(x, want) }) {
				t.Errorf("%s at %g Ω: %v is not among %v", f.Name, ohms, want, reach[k])
			}
			compared++
		}
	}
	if several < 20 || compared < 30 {
		t.Errorf("%d faults with several answers, %d compared", several, compared)
	}
}
