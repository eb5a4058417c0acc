package faults

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ohmloom/solve"
)

// Which pairs have a fault that changes nothing beside the other, found from a few numbers,
// against every pair read at all corners of its free values.
func TestUnseenPairsAreUnseen(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range demos {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(91, uint64(len(list))))
		var probes []Probe
		for _, sel := range []Selection{{}, {Unplugged: true}, {Quantity: solve.Volts}} {
			probes = append(probes, Probes(c, sel)...)
		}
		f := newField(c, list, 0)
		quick, all, edge := 0, 0, 0
		for range 4 {
			var readings []Reading
			for range 3 {
				readings = append(readings, Reading{probes[rng.IntN(len(probes))], solve.Value{Number: 5}})
			}
			s, err := newSearch(f, newEvidence(c, readings, in), in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			_, _, got := s.pairs(&Searched{}, false)
			w := s.worker()
			out := make([]float64, len(readings))
			for range 3000 {
				a, b := rng.IntN(len(list)), rng.IntN(len(list))
				if a >= b || !s.able[a] || !s.able[b] || !w.load(a, b) {
					continue
				}
				all++
				// How far each moves the readings beside the other, in what counts as a change.
				var first, second float64
				for i, x := range s.ohms[a] {
					for k, y := range s.ohms[b] {
						w.read([]float64{x, y}, out)
						for q, v := range out {
							second = max(second, math.Abs(v-s.alone[a][i][q])/s.eps[q])
							first = max(first, math.Abs(v-s.alone[b][k][q])/s.eps[q])
						}
					}
				}
				code := got.of[a][b-a]
				for _, x := range []struct {
					which  uint8
					change float64
				}{{firstUnseen, first}, {secondUnseen, second}} {
					switch said := code&x.which != 0; {
					case x.change > 0.5 && x.change < 2:
						edge++ // either will do
					case said != (x.change < 1):
						t.Errorf("%s: %s and %s: unseen is %v of fault %d, which moves readings by %.3g of what counts", name, list[a].Name, list[b].Name, said, x.which, x.change)
					}
				}
				if s.quiet[a] != s.quiet[b] && code != 0 {
					quick++
				}
			}
		}
		if quick < 100 || edge > all/5 {
			t.Errorf("%s: of %d pairs %d have a quiet fault that is not seen, %d are at the edge", name, all, quick, edge)
		}
	}
}

// What second faults that no reading sees have of the whole, by hand: three faults, of
// which the third is seen beside neither of the others nor they beside it.
func TestUnseenSecondsByHand(t *testing.T) {
	list := []*Fault{{Name: "a", Part: "A", Rate: 1}, {Name: "b", Part: "B", Rate: 2}, {Name: "c", Part: "C", Rate: 4}}
	u := &unseenSeconds{of: [][]uint8{
		{0, secondUnseen, firstUnseen | secondUnseen}, // b unseen beside a; a and c beside each other
		{0, firstUnseen}, // b unseen beside c
		{0},
	}}
	if pairs := u.total(list); pairs != 3 {
		t.Errorf("%d pairs, want 3", pairs)
	}
	// a counts b whole (2) and c half (2); c counts b whole (2) and a half (0.5).
	for k, want := range []float64{4, 0, 2.5} {
		if math.Abs(u.fold[k]-want) > 1e-12 {
			t.Errorf("%s counts %v, want %v", list[k].Name, u.fold[k], want)
		}
	}
	u.share = []float64{0.5, 0, 0.2}
	got := u.parts(list, func(k int) float64 { return []float64{0.4, 0.1, 0.5}[k] })
	// a: 0.4 × 0.5 shared 2 : 2 by B and C; c: 0.5 × 0.2 shared 2 : 0.5 by B and A.
	for part, want := range map[string]float64{"A": 0.1 * 0.5 / 2.5, "B": 0.2*0.5 + 0.1*2/2.5, "C": 0.2 * 0.5} {
		if math.Abs(got[part]-want) > 1e-12 {
			t.Errorf("part %s has %v, want %v", part, got[part], want)
		}
	}
}

// Bounds by another one's tolerances hold for the likelihood by those same tolerances,
// misread readings and all, anywhere in a box of readings.
func TestYardsticksBound(t *testing.T) {
	in := DefaultInstrument()
	for _, name := range []string{"bench", "trunk"} {
		c := loadDemo(t, name)
		list := Catalogue(c)
		rng := rand.New(rand.NewPCG(92, uint64(len(list))))
		probes := Probes(c, Selection{})
		near, doubted := 0, 0
		for range 30 {
			_, changes := drawFault(rng, list)
			v := newVehicle(c, rng, in, changes...)
			var readings []Reading
			for range 4 {
				r := v.read(t, probes[rng.IntN(len(probes))])
				if !r.Value.OL && rng.IntN(4) == 0 {
					r.Value.Number *= 1.5 // misread
				}
				readings = append(readings, r)
			}
			s, err := newSearch(newField(c, list, 0), newEvidence(c, readings, in), in.Meter)
			if err != nil {
				t.Fatal(err)
			}
			w := s.worker()
			by := s.asSound
			k := w.measure(&by)
			for range 200 {
				mean := make([]float64, len(readings))
				for i := range mean {
					at := s.e.y[i] + rng.NormFloat64()*3*math.Sqrt(by.covariance.At(i, i))
					mean[i] = at
					wide := rng.Float64() * 0.01 * float64(rng.IntN(2))
					share := rng.Float64()
					w.low[i], w.high[i] = at-wide*share, at+wide*(1-share)
				}
				with := *k
				with.loose = nil // so that both are of the same tolerances
				for _, with.trusting = range []bool{true, false} {
					bound := w.above(&with)
					log := k.z.log(mean, nil)
					if with.trusting {
						log, _ = k.z.plain(mean)
					}
					if log > bound+0.05 {
						t.Fatalf("%s: log likelihood %.3f, bound %.3f, trusting %v", name, log, bound, with.trusting)
					}
					if bound-log < 1 {
						near++
					}
					if plain, _ := k.z.plain(mean); !with.trusting && log > plain+1 {
						doubted++
					}
				}
			}
		}
		if near < 500 || doubted < 100 {
			t.Errorf("%s: only %d bounds are close, %d readings are doubted", name, near, doubted)
		}
	}
}

// A scan that fails as a whole: that nobody answers costs no more than that.
func TestScansMayFail(t *testing.T) {
	all := func(h solve.Hearing) func(int) solve.Hearing { return func(int) solve.Hearing { return h } }
	var silent, heard []Answer
	for _, m := range []string{"a", "b", "c", "d"} {
		silent = append(silent, Answer{Tool: "X1", Module: m})
		heard = append(heard, Answer{Tool: "X1", Module: m, Answered: true})
	}
	for _, tt := range []struct {
		answers []Answer
		h       solve.Hearing
		want    float64
	}{
		// By hand: (1 − 0.01)·pⁿ + 0.01·qⁿ, each module's chances as above.
		{silent, solve.Yes, 0.99*math.Pow(0.01, 4) + 0.01*math.Pow(0.995, 4)},
		{silent, solve.No, 0.99*math.Pow(0.995, 4) + 0.01*math.Pow(0.995, 4)},
		{heard, solve.Yes, 0.99*math.Pow(0.99, 4) + 0.01*math.Pow(0.005, 4)},
		{heard[:1], solve.Marginal, 0.99*0.5 + 0.01*0.005},
	} {
		if got := math.Exp(logOfAnswers(tt.answers, all(tt.h))); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("%d answers, %v by the wiring: %v, want %v", len(tt.answers), tt.h, got, tt.want)
		}
	}
	// Two tools fail by themselves.
	two := append([]Answer{{Tool: "X2", Module: "a"}}, silent...)
	want := (0.99*0.01 + 0.01*0.995) * (0.99*math.Pow(0.01, 4) + 0.01*math.Pow(0.995, 4))
	if got := math.Exp(logOfAnswers(two, all(solve.Yes))); math.Abs(got-want) > 1e-9*want {
		t.Errorf("two tools: %v, want %v", got, want)
	}
}

// The bound of a pair in ohms, given up early, is that on the scale or beneath what is
// enough anyway.
func TestBoundsInOhms(t *testing.T) {
	c := loadDemo(t, "trunk")
	in := DefaultInstrument()
	rng := rand.New(rand.NewPCG(93, 1))
	probes := Probes(c, Selection{})
	given, kept := 0, 0
	for range 40 {
		var readings []Reading
		for range 4 {
			readings = append(readings, Reading{probes[rng.IntN(len(probes))], solve.Value{Number: 50 + 20*rng.Float64()}})
		}
		s, err := newSearch(newField(c, Catalogue(c), 0), newEvidence(c, readings, in), in.Meter)
		if err != nil {
			t.Fatal(err)
		}
		w := s.worker()
		for range 100 {
			low, high := make([]float64, 4), make([]float64, 4)
			for i := range low {
				low[i] = readings[i].Value.Number * (1 + 0.1*rng.NormFloat64()*float64(rng.IntN(3)))
				high[i] = low[i] * (1 + 0.02*rng.Float64())
			}
			copy(w.low, low)
			copy(w.high, high)
			s.onScale(w.low)
			s.onScale(w.high)
			want := w.bound()
			copy(w.low, low)
			copy(w.high, high)
			enough := s.e.floor - 40*rng.Float64()
			switch got := w.boundRaw(enough); {
			case math.IsInf(got, -1):
				if given++; want >= enough {
					t.Fatalf("given up beneath %.3f, the bound is %.3f", enough, want)
				}
			case math.Abs(got-want) > 1e-9:
				t.Fatalf("bound %.6f in ohms, %.6f on the scale", got, want)
			default:
				kept++
			}
		}
	}
	if given < 300 || kept < 300 {
		t.Errorf("%d given up, %d kept: too few to say anything", given, kept)
	}
}
