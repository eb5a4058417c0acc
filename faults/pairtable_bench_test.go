package faults

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
	"example.com/ohmloom/solve"
)

// chain makes an invented harness of networks of up to 30 connectors each, in a row
// along a trunk: every splice has a branch to a module, the first connector is a
// measuring point, the two at the ends have terminators.
func chain(tb testing.TB, connectors int) *netlist.Circuit {
	tb.Helper()
	h := &netlist.Harness{Name: fmt.Sprintf("chain of %d connectors", connectors), Note: "invented, for benchmarks only"}
	for n := 0; connectors > 0; n++ {
		k := min(connectors, 30)
		connectors -= k
		network := fmt.Sprintf("n%d", n)
		h.Networks = append(h.Networks, netlist.Network{Name: network, Layer: "high-speed"})
		last := ""
		for i := range k {
			x, s := fmt.Sprintf("X%d-%d", n, i+1), fmt.Sprintf("S%d-%d", n, i+1)
			h.Connectors = append(h.Connectors, netlist.Connector{Name: x, Network: network})
			h.Splices = append(h.Splices, netlist.Splice{Name: s, Network: network})
			h.Pairs = append(h.Pairs, netlist.Pair{Name: "B" + x[1:], Network: network, From: []string{s}, To: []string{x}, LengthM: 0.4, SectionMM2: 0.35})
			if last != "" {
				h.Pairs = append(h.Pairs, netlist.Pair{Name: "T" + x[1:], Network: network, From: []string{last}, To: []string{s}, LengthM: 1.5, SectionMM2: 0.35})
			}
			last = s
			if i == 0 {
				continue
			}
			m := "m" + x[1:]
			h.Modules = append(h.Modules, netlist.Module{Name: m, Connectors: []string{x}})
			if i == 1 || i == k-1 {
				h.Terminators = append(h.Terminators, netlist.Terminator{Name: "R" + x[1:], At: m, Ohms: 120})
			}
		}
	}
	c, err := netlist.NewCircuit(h)
	if err != nil {
		tb.Fatal(err)
	}
	return c
}

// acrossPairs are the readings between the two conductors of each network, at most so
// many.
func acrossPairs(c *netlist.Circuit, most int) []Probe {
	var all []Probe
	for _, p := range Probes(c, Selection{}) {
		if c.Nodes[p.From].Conductor != (netlist.Conductor{}) && c.Nodes[p.To].Conductor != (netlist.Conductor{}) {
			all = append(all, p)
		}
	}
	step := (len(all) + most - 1) / most
	var out []Probe
	for i := 0; i < len(all); i += step {
		out = append(out, all[i])
	}
	return out
}

// floor does for a piece of the table what cannot be done with less: the same number
// of multiplications and additions for each pair and reading, the same number of bytes
// written into a block that is used again. steps are the faults' steps, seconds which
// faults each is paired with.
func floor(steps []int, seconds [][]int, probes int) {
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			t, out := make([]float64, 4096), make([]float64, 32768+probes)
			for i := range t {
				t[i] = 1 / float64(i+1)
			}
			at := 0
			for i := w; i < len(steps); i += workers {
				for _, j := range seconds[i] {
					a, b := max(steps[i], steps[j]), min(steps[i], steps[j])
					o := out[at:][:probes]
					base, tb, ta := t[i%64:][:len(o)], t[j%64:][:len(o)], t[(i+j)%64:][:len(o)]
					p, c := t[i%512], t[j%512]
					for k := range o {
						x := tb[k] - p*ta[k]
						o[k] = base[k] - c*x*x
					}
					for more := a*b + b*(b-1)/2 + 2*b - 3; more > 0; more-- {
						for k := range o {
							o[k] -= p * ta[k]
						}
					}
					if at += probes; at > 32768 {
						at = 0
					}
				}
			}
		}()
	}
	wg.Wait()
}

// dense factorises the nodal matrix of a circuit anew, gonum's Cholesky, with what is
// put in series with some elements, and reads probes. Joints are merged; a part that
// floats would be singular, and benchmarks have none.
func dense(tb testing.TB, c *netlist.Circuit, insert map[int]float64, probes []Probe, out []float64) {
	sets := disjoint.New(len(c.Nodes))
	for i := range c.Elements {
		if e := &c.Elements[i]; e.Kind == netlist.Joint {
			sets.Join(e.A, e.B)
		}
	}
	row := make([]int, len(c.Nodes))
	n := 0
	for i := range row {
		if row[i] = -1; sets.Find(i) == i && i != sets.Find(netlist.GroundNode) {
			row[i] = n
			n++
		}
	}
	at := func(node int) int { return row[sets.Find(node)] }
	a := mat.NewSymDense(n, nil)
	for i := range c.Elements {
		e := &c.Elements[i]
		if e.Kind == netlist.Joint {
			continue
		}
		g := 1 / (e.Off.Ohms(nil) + insert[i])
		x, y := at(e.A), at(e.B)
		if x >= 0 {
			a.SetSym(x, x, a.At(x, x)+g)
		}
		if y >= 0 {
			a.SetSym(y, y, a.At(y, y)+g)
		}
		if x >= 0 && y >= 0 && x != y {
			a.SetSym(x, y, a.At(x, y)-g)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		tb.Fatal("singular")
	}
	v := mat.NewVecDense(n, nil)
	for k, p := range probes {
		v.Zero()
		x, y := at(p.From), at(p.To)
		if x >= 0 {
			v.SetVec(x, 1)
		}
		if y >= 0 {
			v.SetVec(y, -1)
		}
		if err := chol.SolveVecTo(v, v); err != nil {
			tb.Fatal(err)
		}
		out[k] = 0
		if x >= 0 {
			out[k] += v.AtVec(x)
		}
		if y >= 0 {
			out[k] -= v.AtVec(y)
		}
	}
}

// The table of all pairs and that of all single faults, resistances between the
// conductors at each connector. Ratios are of the same run. 600 connectors have 160
// million pairs: there the pairs of the first 100 faults stand for all, and 60 readings.
func BenchmarkPairTable(b *testing.B) {
	for _, tt := range []struct {
		connectors int
		circuit    func() *netlist.Circuit
		firsts     int
	}{
		{10, func() *netlist.Circuit { return chain(b, 10) }, 0},
		{60, func() *netlist.Circuit { return loadLayout(b, "../testdata/layouts/fleet-60.yaml") }, 0},
		{600, func() *netlist.Circuit { return chain(b, 600) }, 100},
	} {
		var c *netlist.Circuit
		var list []*Fault
		var probes []Probe
		var table *PairTable
		ready := func(b *testing.B) {
			if c == nil {
				c = tt.circuit()
				list, probes = Catalogue(c), acrossPairs(c, 66)
			}
			if table == nil {
				var err error
				if table, err = NewPairTable(context.Background(), c, list, probes, DefaultInstrument()); err != nil {
					b.Fatal(err)
				}
			}
		}
		b.Run(fmt.Sprintf("connectors=%d/pairs", tt.connectors), func(b *testing.B) {
			ready(b)
			o := PairOptions{}
			every := make([]int, len(list))
			var steps []int
			for i := range list {
				steps = append(steps, table.groups[0].faults[i].rows)
				every[i] = i
			}
			seconds := make([][]int, len(list))
			if tt.firsts > 0 {
				o.Involving = make([]bool, len(list))
			}
			for i := range list {
				switch {
				case tt.firsts == 0:
					seconds[i] = every[i+1:]
				case i < tt.firsts:
					seconds[i], o.Involving[i] = every[i+1:], true
				}
			}
			var counts PairCounts
			var stream, least time.Duration
			b.ReportAllocs()
			for b.Loop() {
				start := time.Now()
				var err error
				if counts, err = table.Stream(context.Background(), o, func(*PairBlock) error { return nil }); err != nil {
					b.Fatal(err)
				}
				middle := time.Now()
				floor(steps, seconds, len(probes))
				stream, least = stream+middle.Sub(start), least+time.Since(middle)
			}
			n := float64(b.N)
			b.ReportMetric(float64(counts.Pairs), "pairs")
			b.ReportMetric(stream.Seconds()/n, "s/table")
			b.ReportMetric(float64(stream.Nanoseconds())/n/float64(counts.Pairs)/float64(len(probes)), "ns/reading")
			b.ReportMetric(stream.Seconds()/least.Seconds(), "times-floor")
			b.ReportMetric(100*float64(counts.Ways[PairStreamed])/float64(counts.Pairs), "%streamed")
		})
		b.Run(fmt.Sprintf("connectors=%d/singles", tt.connectors), func(b *testing.B) {
			ready(b)
			// Bad joints for the factorisations: they change one element each.
			var joints []int
			for i, f := range list {
				if len(f.base) == 0 && f.Kind == HighJoint {
					joints = append(joints, i)
				}
			}
			sampled := min(len(joints), map[int]int{10: 20, 60: 10, 600: 1}[tt.connectors])
			out := make([]float64, len(probes))
			var all, fresh time.Duration
			b.ReportAllocs()
			for b.Loop() {
				start := time.Now()
				t, err := NewPairTable(context.Background(), c, list, probes, DefaultInstrument())
				if err != nil {
					b.Fatal(err)
				}
				all += time.Since(start)
				for k := range sampled {
					i := joints[k*len(joints)/sampled]
					insert := list[i].free(0.5).(solve.Insert)
					start = time.Now()
					dense(b, c, map[int]float64{insert.Element: list[i].Free.Typical}, probes, out)
					fresh += time.Since(start)
					for p, want := range t.Alone(i) {
						if math.Abs(out[p]-want) > 1e-5*want {
							b.Fatalf("%s with %s: %v, by Cholesky %v", probes[p], list[i].Name, want, out[p])
						}
					}
				}
			}
			n := float64(b.N)
			one := all.Seconds() / n / float64(len(list))
			b.ReportMetric(float64(len(list)), "faults")
			b.ReportMetric(all.Seconds()/n, "s/table")
			b.ReportMetric(fresh.Seconds()/n/float64(sampled)/one, "times-faster-than-cholesky")
		})
	}
}
