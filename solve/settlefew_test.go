package solve

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// One sender, with a meter and without, settled by trying its switches' states, against the
// quadratic program: drawn port resistances, one of them bent, a port that is apart, limits
// from none to hardly any.
func TestFewCurrentsAreThoseOfTheProgram(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	var seen [3][3]int
	for range 4000 {
		const ports = 3
		b := &Bus{ports: make([]port, ports), open: make([]float64, ports), across: make([]float64, ports*ports)}
		// A sum of squares is positive definite.
		var m [ports][ports]float64
		for i := range m {
			for j := range m[i] {
				m[i][j] = 8 * rng.NormFloat64()
			}
		}
		for i := range m {
			for j := range m {
				for k := range m {
					b.across[i*ports+j] += m[i][k] * m[j][k]
				}
			}
			b.open[i] = 5*rng.Float64() - 1
		}
		if rng.IntN(2) == 0 {
			b.bent = append(b.bent, Bend{Lift: []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}, K: rng.Float64() * 20, Drive: rng.NormFloat64()})
		}
		limit := func() float64 {
			switch rng.IntN(4) {
			case 0:
				return math.Inf(1)
			case 1:
				return 0.001 * rng.Float64()
			}
			return 0.2 * rng.Float64()
		}
		b.ports[0].apart, b.ports[1].apart = rng.IntN(12) == 0, rng.IntN(12) == 0
		vars := []variable{
			{0, 1, 4 * rng.Float64(), 20 * rng.Float64(), limit()},
			{1, -1, 2 * rng.Float64(), 20 * rng.Float64(), limit()},
			{2, -1, 0, 1e7, math.Inf(1)},
		}[:2+rng.IntN(2)]
		n := len(vars)
		q, c := mat.NewSymDense(n, nil), make([]float64, n)
		low, high := make([]float64, n), make([]float64, n)
		for i, v := range vars {
			for j := i; j < n; j++ {
				w := vars[j]
				z := b.across[v.port*ports+w.port]
				for _, c := range b.bent {
					z += c.K * c.Lift[v.port] * c.Lift[w.port]
				}
				q.SetSym(i, j, v.sign*w.sign*z)
			}
			q.SetSym(i, i, q.At(i, i)+v.ohms)
			volts := b.open[v.port]
			for _, c := range b.bent {
				volts += c.K * c.Drive * c.Lift[v.port]
			}
			c[i] = v.sign * (volts - v.volts)
			if high[i] = v.limit; b.ports[v.port].apart {
				high[i] = 0
			}
			if i >= 2 {
				low[i] = math.Inf(-1)
			}
		}
		want, ok := boxQP(q, c, low, high)
		if !ok {
			t.Fatal("the program has no answer")
		}
		x := make([]float64, n)
		for i := range vars[:2] {
			if b.ports[i].apart {
				vars[i].limit = 0
			}
		}
		if !b.settleFew(vars, 2, x) {
			t.Errorf("no state holds; the program gives %v", want)
			continue
		}
		for i := range x {
			if math.Abs(x[i]-want[i]) > 1e-9*(1+math.Abs(want[i])) {
				t.Errorf("current %d is %v A, by the program %v A", i, x[i], want[i])
			}
		}
		seen[vars[0].state(want[0])][vars[1].state(want[1])]++
	}
	for up := range seen {
		for down := range seen[up] {
			if seen[up][down] < 20 {
				t.Errorf("up %v, down %v: seen %d times only", DriveState(up), DriveState(down), seen[up][down])
			}
		}
	}
}

// A bus is the same as far as a meter could show where nothing is bent at the leads and the
// senders, whatever happens to others.
func TestSameAsLooksAtLeadsAndSenders(t *testing.T) {
	of := &Bus{Stations: make([]Station, 2), ports: make([]port, 5), open: make([]float64, 5), across: make([]float64, 25)}
	bent := func(k, drive float64, lift ...float64) *Bus { return of.Bent(Bend{Lift: lift, K: k, Drive: drive}) }
	for _, tt := range []struct {
		name    string
		b       *Bus
		senders []int
		want    bool
	}{
		{"itself", of, []int{0, 1}, true},
		{"nothing bent", bent(1, 1, 0, 0, 0, 0, 0), []int{0, 1}, true},
		{"another station", bent(1, 1, 0, 0, 50, 50, 0), []int{0}, true},
		{"a sender", bent(1, 1, 0, 0, 50, 50, 0), []int{0, 1}, false},
		{"the leads", bent(1, 0, 0, 0, 0, 0, 1), nil, false},
		{"the leads by little", bent(1e-8, 0.1, 0, 0, 0, 0, 1), nil, true},
		{"volts only", bent(1e-6, 5, 0, 0, 0, 0, 0.1), nil, false},
		{"other stations", of.WithoutSupply(0), nil, false},
	} {
		if got := tt.b.SameAs(of, 0, tt.senders); got != tt.want {
			t.Errorf("%s: %v", tt.name, got)
		}
	}
}
