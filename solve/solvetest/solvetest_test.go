package solvetest

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// recorder is a TB that keeps what a test would have failed with.
type recorder struct{ failures []string }

func (*recorder) Helper() {}
func (r *recorder) Errorf(format string, args ...any) {
	r.failures = append(r.failures, fmt.Sprintf(format, args...))
}

// A balance that breaks one law fails with just that law.
func TestCheckFails(t *testing.T) {
	good := solve.Balance{CurrentError: 1e-12, PowerIn: 60, PowerOut: 60, Condition: 1e6}
	for _, test := range []struct {
		name  string
		spoil func(*solve.Balance)
		want  string // part of the only failure; empty for none
	}{
		{"nothing wrong", func(*solve.Balance) {}, ""},
		{"rounding of a net without current", func(b *solve.Balance) { b.PowerIn, b.PowerOut, b.PowerRounding = 3e-19, 1e-30, 1e-18 }, ""},
		{"currents do not add up", func(b *solve.Balance) { b.CurrentError = 2e-9 }, "currents at a node"},
		{"current error not a number", func(b *solve.Balance) { b.CurrentError = math.NaN() }, "currents at a node"},
		{"power goes missing", func(b *solve.Balance) { b.PowerOut *= 1 - 2e-9 }, "sources deliver"},
		{"power out of nothing", func(b *solve.Balance) { b.PowerIn = 0 }, "sources deliver"},
		{"power in not a number", func(b *solve.Balance) { b.PowerIn = math.NaN() }, "sources deliver"},
		{"negative heat", func(b *solve.Balance) { b.PowerIn, b.PowerOut = -60, -60 }, "dissipate -60"},
		{"too badly conditioned", func(b *solve.Balance) { b.Condition = 2 * solve.MaxCondition }, "condition number"},
		{"singular", func(b *solve.Balance) { b.Condition = math.Inf(1) }, "condition number"},
	} {
		t.Run(test.name, func(t *testing.T) {
			b, r := good, &recorder{}
			test.spoil(&b)
			check(r, 0, b)
			switch {
			case test.want == "" && len(r.failures) > 0:
				t.Errorf("failed with %q", r.failures)
			case test.want != "" && (len(r.failures) != 1 || !strings.Contains(r.failures[0], test.want)):
				t.Errorf("failures %q, want one with %q", r.failures, test.want)
			}
		})
	}
}

// A response that no net has: a variation prepared in one net, laid over the
// reading of another in which the element has other ohms. The healthy readings
// of both pass.
func TestCheckFailsOnAForeignVariation(t *testing.T) {
	circuit := func(ohms float64) *netlist.Circuit {
		law := func(v float64) netlist.Law { return netlist.Law{Value: netlist.Spread{Mid: v}} }
		return &netlist.Circuit{
			Nodes: make([]netlist.Node, 3),
			Elements: []netlist.Element{
				{Name: "one", Kind: netlist.WireElement, A: 0, B: 1, Off: law(ohms)},
				{Name: "two", Kind: netlist.WireElement, A: 1, B: 2, Off: law(10)},
				{Name: "three", Kind: netlist.WireElement, A: 0, B: 2, Off: law(30)},
			},
		}
	}
	respond := func(ohms float64) (*solve.Net, *solve.Response) {
		n, err := solve.Assemble(circuit(ohms), solve.Condition{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		r, err := n.Respond(solve.Ohms, 1, 2, solve.DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		Check(t, r)
		return n, r
	}
	net, own := respond(20)
	_, foreign := respond(25)
	v, err := net.Vary(solve.Insert{Element: 0, Ohms: 5})
	if err != nil {
		t.Fatal(err)
	}
	Check(t, v.Apply(own, 5))
	var r recorder
	Check(&r, v.Apply(foreign, 5))
	if len(r.failures) == 0 {
		t.Error("Check passes the potentials of one net with the branches of another")
	}
}
