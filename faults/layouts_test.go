package faults_test

import (
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/solve"
)

// The invented layouts for benchmarks are what their names say: sound harnesses of so
// many connectors, each network of which reads about 60 ohms at the service connector
// X1. The band is two terminators of 120 ohms and what a workshop would wonder at:
// common practice, no source.
func TestLayouts(t *testing.T) {
	const least, greatest = 54, 66
	paths, err := filepath.Glob("../testdata/layouts/*.yaml")
	if err != nil || len(paths) != 4 {
		t.Fatalf("%d layouts (%v), want 4", len(paths), err)
	}
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		t.Run(name, func(t *testing.T) {
			h, err := netfile.Read(path)
			if err != nil {
				t.Fatal(err)
			}
			_, count, _ := strings.Cut(name, "-")
			if want, err := strconv.Atoi(count); err != nil || len(h.Connectors) != want {
				t.Errorf("%d connectors, the name says %s", len(h.Connectors), count)
			}
			if h.Note != "invented machine and data, for benchmarks only" {
				t.Errorf("its note is %q", h.Note)
			}
			for _, x := range h.Connectors {
				if x.ReachMin == nil || (*x.ReachMin == 1) != (x.Name == "X1") || *x.ReachMin < 1 || *x.ReachMin > 60 {
					t.Errorf("%s: reach_min is to be 1 at X1, and up to 60 at the others", x.Name)
				}
			}
			c, err := netlist.NewCircuit(h)
			if err != nil {
				t.Fatal(err)
			}
			remarks, err := faults.Remarks(c)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range append(remarks, faults.RateRemarks(c)...) {
				t.Errorf("%s: %s", r.About, r.What)
			}
			net, err := solve.Assemble(c, solve.Condition{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range h.Networks {
				from, errH := c.Point("X1." + n.Name + ".H")
				to, errL := c.Point("X1." + n.Name + ".L")
				if errH != nil || errL != nil {
					t.Errorf("the service connector does not carry %s: %v, %v", n.Name, errH, errL)
					continue
				}
				v, err := net.Read(solve.Ohms, from, to, solve.DefaultMeter())
				if err != nil {
					t.Fatal(err)
				}
				if v.OL || v.Number < least || v.Number > greatest {
					t.Errorf("%s reads %s at X1", n.Name, solve.FormatReading(solve.Ohms, v))
				}
			}
		})
	}
}
