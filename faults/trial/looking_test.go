package trial

import (
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

// A pair that takes long to open up is read around for longer, and opened after what is
// soon looked into; its minutes count once it is opened. All pairs at least are such that
// some must be opened.
func TestRepairsTakeTheMinutesOfTheHarness(t *testing.T) {
	play := func(minutes float64) (read float64, out *Course) {
		t.Helper()
		h, err := netfile.Read("../../testdata/layouts/small-6.yaml")
		if err != nil {
			t.Fatal(err)
		}
		h.LookWireMin = &minutes
		c, err := netlist.NewCircuit(h)
		if err != nil {
			t.Fatal(err)
		}
		in := faults.DefaultInstrument()
		list := faults.Catalogue(c)
		v := Make(c, in, rand.New(rand.NewPCG(7, 7)), find(t, list, "short H to ground in pair P8"), 2, 0.5)
		if out, err = Repairs(faults.NewMatcher(c, list, in), v, FirstProbe(c), Rules{}); err != nil {
			t.Fatal(err)
		}
		return out.Sessions[0].Minutes, out
	}
	shortRead, short := play(10)
	longRead, long := play(300)
	t.Logf("read %.1f min and looked %.1f into %d parts, %.1f, %.1f and %d", shortRead, short.Looking, short.Opened, longRead, long.Looking, long.Opened)
	if longRead <= shortRead {
		t.Errorf("read for %.1f min where pairs take 10 min, %.1f where they take 300", shortRead, longRead)
	}
	// P8 itself is opened in the end. A way takes 35 min at most in this layout.
	if short.Looking < 10 || short.Looking > float64(short.Opened)*(10+35) || long.Looking < 300 {
		t.Errorf("looking took %.1f min for %d parts, %.1f for %d", short.Looking, short.Opened, long.Looking, long.Opened)
	}
	if !short.Grouped || !long.Grouped {
		t.Error("the fault was not found")
	}
}
