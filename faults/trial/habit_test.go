package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
)

// The habits on the layout of six connectors, worked by hand. Reach times there: X1 1, X4
// 6 (inline), X3 8, X2 12, X6 15, X5 35 min; a reading takes ReadMinutes (0.5), a place
// has three of them, unplugging UnplugMinutes (1); looking 3 and 15. Every course begins
// with 1 + 1.5 at X1; parting X4 and reading at both halves takes 6 + 1 + 3.
func TestHabitsByHand(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	first := FirstProbe(c)
	for _, tt := range []struct {
		fault         string
		ohms          float64
		turn, halving float64
		looking       float64
		opened        int
	}{
		// Nothing shows at X1 nor at X4; X3 is next: X3 and panel are looked into.
		{"module panel without supply", 0, 2.5 + 10 + 9, 2.5 + 10 + 9, 6, 2},
		{"backed-out cavity X3.4 (H)", 0, 2.5 + 10 + 9, 2.5 + 10 + 9, 3, 1},
		// X1 reads 120 Ω, half b of X4 is wrong: X6 apart cures; X6, then T2. By halves
		// X6 and X5 are left, X6 is half of them: cured, and tried once more alone.
		{"terminator T2 missing", 0, 2.5 + 10 + 17.5, 2.5 + 10 + 17.5 + 2.5, 6, 2},
		// X1 reads nothing, X4 reads right on both halves: X4, X1 and its own wires.
		{"open H in pair P6", 0, 2.5 + 10, 2.5 + 10, 3 + 3 + 15, 3},
		// Half a of X4 is wrong: X3 and X2 apart cure nothing, then P1 and P2 are measured.
		// By halves X3 alone cures nothing, so X2 is left.
		{"short H to ground in pair P2", 1, 2.5 + 10 + 10.5 + 14.5 + 1, 2.5 + 10 + 10.5 + 14.5 + 1, 15, 1},
		// The connector itself reads wrong on neither half.
		{"backed-out cavity X4.A (H)", 0, 2.5 + 10, 2.5 + 10, 3, 1},
	} {
		for _, p := range []struct {
			name string
			work func(*Vehicle, faults.Probe) (*Effort, error)
			want float64
		}{{"in turn", UnplugInTurn, tt.turn}, {"halving", HalveByHand, tt.halving}} {
			v := Make(c, in, rand.New(rand.NewPCG(3, 3)), find(t, list, tt.fault), tt.ohms, 0.5)
			e, err := p.work(v, first)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(e.Minutes-p.want) > 1e-9 || e.Looking != tt.looking || e.Opened != tt.opened || !e.Found {
				t.Errorf("%s, %s: %+v, want %.1f + %.1f min, %d parts", tt.fault, p.name, *e, p.want, tt.looking, tt.opened)
			}
		}
	}
}

// The silent module's connector comes first if it is the only one that does not answer:
// asking takes 2 min and 5 for the supply, then X5 (35 + 1), X5 and brush looked into.
func TestSilentFirst(t *testing.T) {
	c := load(t, "testdata/layouts/small-6.yaml")
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	v := Make(c, in, rand.New(rand.NewPCG(4, 4)), find(t, list, "module brush without supply"), 0, 0.5)
	e, err := SilentFirst(v, FirstProbe(c))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(e.Minutes-(2.5+7+36)) > 1e-9 || e.Looking != 6 || !e.Found {
		t.Errorf("%+v, want 45.5 + 6 min", *e)
	}
	turn, err := UnplugInTurn(v, FirstProbe(c))
	if err != nil {
		t.Fatal(err)
	}
	if turn.Minutes < e.Minutes {
		t.Errorf("in turn %.1f min, the silent first %.1f", turn.Minutes, e.Minutes)
	}
}

// An open wire that does not show at the service connector shows at one behind it, and is
// traced from there: the rest of the connectors, two hours away, is not unplugged.
func TestHabitTracesAWire(t *testing.T) {
	c := load(t, "examples/orchard/harness.yaml")
	in := faults.DefaultInstrument()
	f := find(t, faults.Catalogue(c), "open drive.H in pair P9")
	v := Make(c, in, rand.New(rand.NewPCG(6, 6)), f, 0, 0.5)
	e, err := UnplugInTurn(v, FirstProbe(c))
	if err != nil {
		t.Fatal(err)
	}
	if e.Minutes > 220 || !e.Found {
		t.Errorf("%+v, all connectors take some 300 min", *e)
	}
}

// Whatever is wrong is found in the end, in each layout's habits, and no part is looked
// into twice or after the fault was seen.
func TestHabitsFindEverything(t *testing.T) {
	for _, file := range []string{"testdata/layouts/small-6.yaml", "examples/orchard/harness.yaml"} {
		c := load(t, file)
		in := faults.DefaultInstrument()
		list := faults.Catalogue(c)
		for k, f := range list {
			if k%13 != 0 {
				continue
			}
			ohms := 0.0
			if f.Free != nil {
				ohms = math.Sqrt(f.Free.Min * f.Free.Max)
			}
			for i, work := range []func(*Vehicle, faults.Probe) (*Effort, error){UnplugInTurn, HalveByHand, SilentFirst} {
				v := Make(c, in, rand.New(rand.NewPCG(5, uint64(k))), f, ohms, 0.5)
				e, err := work(v, FirstProbe(c))
				if err != nil {
					t.Fatal(err)
				}
				if !e.Found || e.Opened < 1 || e.Looking < netlist.DefaultLookMin*float64(e.Opened) {
					t.Errorf("%s: %s, habit %d: %+v", file, f.Name, i, *e)
				}
			}
		}
	}
}
