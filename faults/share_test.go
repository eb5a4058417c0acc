package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/solve"
)

// The shares that are tried add up to an even spread over the range: the same mean and
// variance, and level inside.
func TestSharesAreEvenlySpread(t *testing.T) {
	sigma := shareStep / 2
	density := func(u float64) float64 {
		sum := 0.0
		for k := range shareParts {
			z := (u - shareAt(k)) / sigma
			sum += math.Exp(-z*z/2) / (sigma * math.Sqrt(2*math.Pi)) / shareParts
		}
		return sum
	}
	const step = 1e-3
	all, mean, variance := 0.0, 0.0, 0.0
	for u := -3.0; u < 3; u += step {
		p := density(u) * step
		all, mean, variance = all+p, mean+p*u, variance+p*u*u
	}
	if math.Abs(all-1) > 1e-6 || math.Abs(mean) > 1e-6 || math.Abs(variance-1.0/3) > 1e-5 {
		t.Errorf("sum %v, mean %v, variance %v; an even spread from -1 to 1 has 1, 0, 1/3", all, mean, variance)
	}
	for u := -0.7; u <= 0.7; u += 0.01 {
		if d := density(u); math.Abs(d-0.5) > 0.05 {
			t.Errorf("density %v at %v, an even spread has 0.5", d, u)
		}
	}
}

// The likelihood of readings with traffic against one that is summed over a thousand shares,
// each with the mean and covariance that it makes, by a library's factorisation. Means and
// sensitivities at a share are those of a harness whose share is known: of levels while each
// module sends, and of idle volts, in proportion.
func TestLikelihoodIsSummedOverShares(t *testing.T) {
	c := loadDemo(t, "bench")
	in := DefaultInstrument()
	at := func(place, between string) Probe { return probeAt(t, c, solve.Volts, place, between).WithTraffic() }
	probes := []Probe{at("X1", "H-ground"), at("X4", "L-ground"), at("X3", "H-L"), probeAt(t, c, solve.Volts, "X2", "L-ground")}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	healthy := healthyOf(t, p)
	n, params := len(probes), len(c.Parameters)
	// Of each reading, what it is while the bus is quiet and while a module sends, and what
	// moves it then.
	quiet, sent := make([]float64, n), make([]float64, n)
	jq, js := mat.NewDense(n, params, nil), mat.NewDense(n, params, nil)
	for i, q := range probes {
		idle := q
		idle.Traffic = false
		one := []Probe{idle}
		if q.Traffic {
			for _, m := range []string{"left", "middle", "right"} {
				one = append(one, idle.WithSender(m))
			}
		}
		of, err := newPredictor(c, one, in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		got := healthyOf(t, of)
		quiet[i] = got[0].Value().Number
		got[0].Sensitivities(jq.RawRowView(i))
		for _, r := range got[1:] {
			sent[i] += r.Value().Number / 3
			j := make([]float64, params)
			r.Sensitivities(j)
			for k, x := range j {
				js.Set(i, k, js.At(i, k)+x/3)
			}
		}
	}
	rng := rand.New(rand.NewPCG(71, 72))
	for _, tt := range []struct{ share, bias, off float64 }{{0.02, 0, 0}, {0.1, 0.1, 0}, {0.25, -0.1, 0.05}, {0.4, 0, 0.1}, {0.48, 0.2, 0}, {0.3, 0, 0.03}} {
		var readings []Reading
		for i, q := range probes {
			d := 0.0
			if q.Traffic {
				d = tt.share
			}
			y := (1-d)*quiet[i] + d*sent[i] + tt.off*rng.NormFloat64()
			if q.To == 0 {
				y += tt.bias
			}
			readings = append(readings, Reading{q, solve.Value{Number: y}})
		}
		e := newEvidence(c, readings, in)
		e.slip = []float64{-1e3, -1e3, -1e3, -1e3} // none is misread
		got := e.judge(healthy)
		const shares = 1000
		want := math.Inf(-1)
		for k := range shares {
			d := 0.5 * (float64(k) + 0.5) / shares
			mean, j := make([]float64, n), mat.NewDense(n, params, nil)
			for i, q := range probes {
				if !q.Traffic {
					mean[i] = quiet[i]
					j.SetRow(i, jq.RawRowView(i))
				} else {
					mean[i] = (1-d)*quiet[i] + d*sent[i]
					for k := range params {
						j.Set(i, k, (1-d)*jq.At(i, k)+d*js.At(i, k))
					}
				}
			}
			cov := mat.NewSymDense(n, nil)
			cov.SymOuterK(1.0/3, j)
			for i, own := range e.own {
				cov.SetSym(i, i, cov.At(i, i)+own)
			}
			var chol mat.Cholesky
			if !chol.Factorize(cov) {
				t.Fatal("no covariance")
			}
			off, x := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
			for i := range mean {
				off.SetVec(i, e.y[i]-mean[i])
			}
			if err := chol.SolveVecTo(x, off); err != nil {
				t.Fatal(err)
			}
			want = logAdd(want, -0.5*(mat.Dot(off, x)+chol.LogDet()+float64(n)*math.Log(2*math.Pi)))
		}
		want -= math.Log(shares)
		t.Logf("share %v: log likelihood %.3f, summed over a thousand shares %.3f", tt.share, got.log, want)
		// At the ends of its range a share is half as probable here, as it is beyond them.
		near := 0.15
		if tt.share < 0.05 || tt.share > 0.45 {
			near = math.Ln2
		}
		if math.Abs(got.log-want) > near {
			t.Errorf("share %v, bias %v V: log likelihood %.3f, summed over a thousand shares %.3f", tt.share, tt.bias, got.log, want)
		}
		// The reading that is predicted goes with the share that was there.
		if tt.off == 0 {
			if lift := (got.mean[2] - quiet[2]) / (sent[2] - quiet[2]); math.Abs(lift-tt.share) > 0.06 {
				t.Errorf("share %v: the readings are explained by one of %.3f", tt.share, lift)
			}
		}
		// What each reading adds beside the others sums up to nothing that all together do
		// not have: each alone is what all are worth less the others.
		m := &Match{Readings: readings, evidence: e}
		h := &Hypothesis{judged: got}
		for i, x := range m.each(h) {
			var some []Reading
			var rest []predicted
			for k := range readings {
				if k != i {
					some, rest = append(some, readings[k]), append(rest, healthy[k])
				}
			}
			other := newEvidence(c, some, in)
			other.slip = []float64{-1e3, -1e3, -1e3}
			if without := got.log - other.judge(rest).log; math.Abs(x-without) > 1e-6 {
				t.Errorf("share %v: reading %d is worth %v, without it the others are worth %v less", tt.share, i, x, without)
			}
		}
	}
}

// A share that is given is taken to be at most all of the time.
func TestGivenShareEndsAtAllOfTheTime(t *testing.T) {
	for _, tt := range []struct{ given, least, most float64 }{{0, 0, 0.5}, {0.1, 0, 0.2}, {0.5, 0, 1}, {0.8, 0, 1}, {1, 0, 1}} {
		p := Probe{Traffic: true, DominantShare: tt.given}
		if least, most := p.DominantRange(); math.Abs(least-tt.least) > 1e-12 || math.Abs(most-tt.most) > 1e-12 {
			t.Errorf("given %v: from %v to %v of the time, want %v to %v", tt.given, least, most, tt.least, tt.most)
		}
		if mid, half := p.duty(); math.Abs(mid+half-tt.most) > 1e-12 || math.Abs(mid-half-tt.least) > 1e-12 {
			t.Errorf("given %v: %v ± %v", tt.given, mid, half)
		}
	}
}

// A short to the supply has the supply's tolerance act on a bus at work: against nets drawn
// with another supply.
func TestSupplyActsOnABusAtWork(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	at := supplyParameter(c)
	probes := []Probe{
		probeAt(t, c, solve.Volts, "X1", "H-ground").WithTraffic(), probeAt(t, c, solve.Volts, "X4", "L-ground").WithSender("right"),
	}
	p, err := newPredictor(c, probes, DefaultInstrument().Meter)
	if err != nil {
		t.Fatal(err)
	}
	readings := []Reading{{probeAt(t, c, solve.Ohms, "X1", "H-L"), solve.Value{Number: 60}}}
	for _, q := range probes {
		readings = append(readings, Reading{q, solve.Value{Number: 3}})
	}
	h := preparedRanking(t, c, list, readings).search.work
	short, missing := findFault(t, list, "short H to supply in pair P1"), findFault(t, list, "open L in pair P4")
	index := func(f *Fault) int {
		for i := range list {
			if list[i] == f {
				return i
			}
		}
		return -1
	}
	moved := 0.0
	for _, ohms := range []float64{0.1, 5, 50} {
		for _, members := range [][]*Fault{{short}, {short, missing}} {
			values := []float64{ohms, 0}[:len(members)]
			got, err := fromNets(p, members, values, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			var changes []solve.Change
			var indices []int
			for k, f := range members {
				changes = append(changes, f.Changes(values[k], 0.5)...)
				indices = append(indices, index(f))
			}
			set := h.reader()
			set.load(indices)
			ported, err := set.read(values)
			if err == nil {
				err = set.supply(values, ported)
			}
			if err != nil {
				t.Fatal(err)
			}
			var want, base, lifts [2]float64
			for n, z := range []float64{0, 1} {
				all := make([]float64, len(c.Parameters))
				all[at] = z
				net, err := solve.Assemble(c, probes[0].Condition, all, changes...)
				if err != nil {
					t.Fatal(err)
				}
				bus, err := net.Bus([]solve.Leads{{From: probes[0].From, To: probes[0].To}, {From: probes[1].From, To: probes[1].To}})
				if err != nil {
					t.Fatal(err)
				}
				for i := range probes {
					r, err := p.read(bus, i, i)
					if err != nil {
						t.Fatal(err)
					}
					if n == 0 {
						base[i], lifts[i] = r.value, -r.dutyLimit()
					} else {
						want[i] = r.value - base[i]
						lifts[i] += r.dutyLimit()
					}
				}
			}
			for i := range probes {
				// Roughly, for sets to be put in order by, it is a share of what is read.
				sd := math.Sqrt(max(0, math.Pow(h.uncertain(i, base[i], true), 2)-math.Pow(h.uncertain(i, base[i], false), 2)))
				if sure := want[i] * limitToSigma; ohms < 1 && math.Abs(want[i]) > 1 && !(sd > 0.3*sure && sd < 1.5*sure) {
					t.Errorf("%s: the supply makes %s uncertain by %.3f V, roughly %.3f V", combineAt(members, values).Name, probes[i], sure, sd)
				}
				for name, r := range map[string]predicted{"nets": got[i], "ports": ported[i]} {
					j := make([]float64, len(c.Parameters))
					r.Sensitivities(j)
					moved = max(moved, math.Abs(want[i]))
					if math.Abs(j[at]-want[i]) > 0.05*math.Abs(want[i])+5e-3 {
						t.Errorf("%s with %v Ω: %s by %s: the supply moves it by %v V, nets by %v V", combineAt(members, values).Name, ohms, probes[i], name, j[at], want[i])
					}
					if by := r.(*drivenReading).byShare(); probes[i].Traffic && math.Abs(by[at]-lifts[i]) > 0.05*math.Abs(lifts[i])+5e-3 {
						t.Errorf("%s with %v Ω: %s by %s: the supply moves what the share does by %v V, nets by %v V", combineAt(members, values).Name, ohms, probes[i], name, by[at], lifts[i])
					}
				}
			}
		}
	}
	if moved < 0.5 {
		t.Errorf("the supply moves readings by %v V at most; the test checks little", moved)
	}
}

// A second fault that no reading at rest sees, but one of a bus at work does: the pair is
// weighed by itself.
func TestPairThatOnlyWorkShows(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	var readings []Reading
	for _, place := range []string{"X1", "X3"} {
		readings = append(readings, Reading{probeAt(t, c, solve.Ohms, place, "H-L"), solve.Value{Number: 119.6}})
	}
	x := NewMatcher(c, list, DefaultInstrument())
	for _, place := range []string{"X1", "X3"} {
		readings = append(readings, Reading{probeAt(t, c, solve.Volts, place, "H-L").WithSender("middle"), solve.Value{Number: 0}})
	}
	m, err := x.Match(readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	// By itself, at X3, the module is cut off by its connector, by both conductors of its
	// stub, or it has no supply: nothing at rest sees it then, but for what it has in common
	// with the stub.
	sum, alone := 0.0, 0.0
	for i := range m.Hypotheses {
		h := &m.Hypotheses[i]
		for _, x := range h.Members {
			if x.Fault.Kind == NoSupply && x.Fault.Part == "middle" {
				if len(h.Members) == 2 {
					sum += h.Probability
				} else {
					alone += h.Probability
				}
			}
		}
	}
	if sum < 0.05 || alone > 0.01 || m.NothingFits() || len(m.Best().Members) != 2 {
		t.Errorf("the module without supply has %.3f beside another fault, %.3f alone; best %s, none %.3f", sum, alone, m.Best().Name, m.None())
	}
}

// A reading that is misread is so whatever the share: the chances add up to no more than one.
func TestMisreadWithTraffic(t *testing.T) {
	c := loadDemo(t, "bench")
	var probes []Probe
	for _, place := range []string{"X1", "X3", "X4"} {
		probes = append(probes, probeAt(t, c, solve.Volts, place, "H-ground").WithTraffic())
	}
	p, err := newPredictor(c, probes, DefaultInstrument().Meter)
	if err != nil {
		t.Fatal(err)
	}
	readings := []Reading{{probes[0], solve.Value{Number: 2.7}}, {probes[1], solve.Value{Number: 2.7}}, {probes[2], solve.Value{Number: 4.5}}}
	j := newEvidence(c, readings, DefaultInstrument()).judge(healthyOf(t, p))
	sum := 0.0
	for _, x := range j.misread {
		sum += x
	}
	if j.misread[2] < 0.99 || sum > 1+1e-9 {
		t.Errorf("misread %v, in all %v", j.misread, sum)
	}
}

// A single fault's free ohms, all readings at work: averaged as by a fine grid.
func TestFreeOhmsAtWorkAreAveraged(t *testing.T) {
	c := loadDemo(t, "bench")
	list := Catalogue(c)
	in := DefaultInstrument()
	at := func(place, between string) Probe { return probeAt(t, c, solve.Volts, place, between).WithTraffic() }
	probes := []Probe{at("X1", "H-ground"), at("X4", "L-ground"), probeAt(t, c, solve.Volts, "X4", "H-L").WithSender("left")}
	p, err := newPredictor(c, probes, in.Meter)
	if err != nil {
		t.Fatal(err)
	}
	const steps = 1500
	var answers []Answer
	for _, m := range []string{"left", "middle", "right"} {
		answers = append(answers, Answer{Tool: "X1", Module: m, Answered: m != "right"})
	}
	q, err := NewMatcher(c, list, in).ask(answers)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"high-resistance joint H in pair P4", "leak H to ground at connector X1", "short H to L in pair P3", "short H to supply in pair P1"} {
		f := findFault(t, list, name)
		truth, err := fromNets(p, []*Fault{f}, []float64{f.Free.Typical}, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		var readings []Reading
		for i, of := range probes {
			readings = append(readings, Reading{of, truth[i].Value()})
		}
		e := newEvidence(c, readings, in)
		got, err := p.fit(f, e, q, nil, math.Inf(-1))
		if err != nil {
			t.Fatal(err)
		}
		want := math.Inf(-1)
		places := fractions(c, f, p.finest)
		for _, fraction := range places {
			ready, err := p.prepare(f, fraction)
			if err != nil {
				t.Fatal(err)
			}
			asked, err := q.prepare(f, fraction)
			if err != nil {
				t.Fatal(err)
			}
			for k := range steps {
				ohms := f.at((float64(k) + 0.5) / steps)
				responses, err := ready.at(ohms)
				if err != nil {
					t.Fatal(err)
				}
				heard, err := asked.near(ohms)
				if err != nil {
					t.Fatal(err)
				}
				want = logAdd(want, e.judge(responses).log+q.answerer.logChance(answers, heard)-math.Log(steps*float64(len(places))))
			}
		}
		t.Logf("%s: %.3f, by a grid %.3f", name, got.evidence, want)
		if math.Abs(got.evidence-want) > 0.1 {
			t.Errorf("%s: log of the evidence %.3f, by a grid %.3f", name, got.evidence, want)
		}
		if len(got.values) != len(probes) || math.Abs(got.best.log) > 50 {
			t.Errorf("%s: at its best %v, %v", name, got.values, got.best.log)
		}
	}
}
