package solve

import (
	"math"

	"example.com/ohmloom/netlist"
)

// Balance is what the laws of circuits say of a solution, for tests to look at
// after every solve.
type Balance struct {
	// CurrentError is the greatest sum of currents at a node that ought to be
	// 0, as a share of the greatest current in the net. What the rounding of the
	// potentials to float64 makes by itself is taken off first: 1 MV across a
	// 1 MΩ input is not known to better than 0.1 nV, which is 20 nA in a 5 mΩ
	// contact.
	CurrentError float64
	// PowerIn is what the sources deliver, PowerOut what the resistances turn
	// into heat, in watts. PowerRounding is how far the rounding of the
	// potentials alone may drive them apart.
	PowerIn, PowerOut, PowerRounding float64
	// Condition is the greatest condition number of the net's parts that have
	// been solved so far.
	Condition float64
}

// Balances gives the balance of the probe current (1 A between the leads) and
// of the driven state that the reading rests on. An OL reading has neither.
func (r *Response) Balances() []Balance {
	var out []Balance
	if !r.open {
		zero := map[int]float64{}
		inject := map[int]float64{r.from: 1}
		inject[r.to]--
		for _, b := range r.bridge {
			inject[b.class] += b.probe
		}
		out = append(out, r.net.balance(r.probe, inject, zero, false))
	}
	if r.quantity == Volts {
		inject := map[int]float64{}
		for _, b := range r.bridge {
			inject[b.class] += b.drive
		}
		out = append(out, r.net.balance(r.drive, inject, r.net.fixed, true))
	}
	return out
}

func (n *Net) balance(v []float64, inject, held map[int]float64, sources bool) Balance {
	var bal Balance
	// Less than an electron in ten seconds is no current: where no source acts,
	// refinement ends a little beside 0.
	const epsilon, electron = 0x1p-52, 1e-20
	sum := make([]float64, n.classes)
	rounding := make([]float64, n.classes)
	greatest := electron
	for k, i := range inject {
		sum[k] += i
		bal.PowerIn += i * v[k]
		bal.PowerRounding += epsilon * math.Abs(i*v[k])
		greatest = math.Max(greatest, math.Abs(i))
	}
	for _, b := range n.branches {
		e := 0.0
		if sources {
			e = b.volts
		}
		d := v[b.a] - v[b.b] - e
		i := b.siemens * d
		bal.PowerOut += i * d
		bal.PowerIn -= i * e
		greatest = math.Max(greatest, math.Abs(i))
		if b.a != b.b {
			sum[b.a] -= i
			sum[b.b] += i
			by := epsilon * b.siemens * (math.Abs(v[b.a]) + math.Abs(v[b.b]) + math.Abs(e))
			rounding[b.a] += by
			rounding[b.b] += by
			bal.PowerRounding += by * (2*math.Abs(d) + math.Abs(e))
		}
	}
	for k := range sum {
		_, rail := n.fixed[k]
		if rail {
			// What the rail takes up it delivers at its own potential.
			bal.PowerIn -= sum[k] * held[k]
			bal.PowerRounding += rounding[k] * math.Abs(held[k])
			continue
		}
		if over := math.Abs(sum[k]) - rounding[k]; !(over <= 0) {
			bal.CurrentError = math.Max(bal.CurrentError, over/greatest)
		}
	}
	for _, p := range n.parts {
		if p.factor != nil && p.err == nil {
			bal.Condition = math.Max(bal.Condition, p.cond)
		}
	}
	return bal
}

// Apart tells whether two nodes have no path between them, for an ohmmeter.
func (n *Net) Apart(a, b int) bool {
	pa, pb := n.partOf[n.class[a]], n.partOf[n.class[b]]
	return pa != pb && !(n.parts[pa].anchored && n.parts[pb].anchored)
}

// Circuit is the circuit that the net was assembled from.
func (n *Net) Circuit() *netlist.Circuit { return n.circuit }
