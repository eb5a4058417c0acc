package sequence

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// drawProblem draws a small problem with places, settings and shared repairs; sure
// says that outcomes are certain. Its size and kind are rapid's to shrink, the rest
// comes from a seed, since rapid prefers small numbers and so states that are alike.
func drawProblem(t *rapid.T, states, tests int, sure bool) *Problem {
	n := states - rapid.IntRange(0, states-2).Draw(t, "states less")
	places := rapid.IntRange(0, 3).Draw(t, "places")
	outcomes := rapid.IntRange(2, 3).Draw(t, "outcomes")
	even := rapid.Bool().Draw(t, "priors are equal")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	p := &Problem{Setting: r.IntN(3) - 1, SwitchMinutes: float64(r.IntN(6))}
	if rapid.Bool().Draw(t, "each change has minutes of its own") {
		// Other than SwitchMinutes, and other there than back.
		for range 2 {
			p.Changes = append(p.Changes, []float64{float64(10 + r.IntN(20)), float64(10 + r.IntN(20))})
		}
	}
	if rapid.Bool().Draw(t, "repairs are shared") {
		for range n {
			p.Repair = append(p.Repair, 3+r.IntN(2))
		}
	}
	for range n {
		x := 1
		if !even {
			x += r.IntN(20)
		}
		p.Prior = append(p.Prior, float64(x))
	}
	for x := range places {
		p.Reach = append(p.Reach, float64(r.IntN(20)))
		if r.IntN(4) == 0 {
			p.Been = append(p.Been, x)
		}
	}
	for range tests - rapid.IntRange(0, tests-2).Draw(t, "tests less") {
		test := Test{Minutes: float64(r.IntN(7)), Setting: r.IntN(3) - 1}
		for range r.IntN(3) {
			if places > 0 {
				test.Places = append(test.Places, r.IntN(places))
			}
		}
		outcome := make([]int, n)
		for s := range outcome {
			outcome[s] = r.IntN(outcomes)
		}
		test.Chance = Certain(outcome...)
		for s := range n {
			if doubt := float32(r.IntN(9)) / 10; !sure {
				for o := range test.Chance {
					test.Chance[o][s] = (1-doubt)*test.Chance[o][s] + doubt/float32(len(test.Chance))
				}
			}
		}
		p.Tests = append(p.Tests, test)
	}
	return p
}

// simulated is what comes of a tree when every state and every series of outcomes
// is gone through one by one.
type simulated struct {
	minutes, tests, right float64
	ended                 [Deep + 1]float64
	came                  map[*Node]float64
}

func simulate(p *Problem, root *Node) *simulated {
	out := &simulated{came: map[*Node]float64{}}
	all := 0.0
	for _, x := range p.Prior {
		all += x
	}
	for s := range p.Prior {
		var follow func(n *Node, chance float64, log []int)
		follow = func(n *Node, chance float64, log []int) {
			out.came[n] += chance
			if n.Test >= 0 {
				for o := range p.Tests[n.Test].Chance {
					if c := float64(p.Tests[n.Test].Chance[o][s]); c > 0 {
						follow(n.Outcomes[o], chance*c, append(slices.Clone(log), n.Test))
					}
				}
				return
			}
			out.ended[n.End] += chance
			out.tests += chance * float64(len(log))
			repair := s
			if p.Repair != nil {
				repair = p.Repair[s]
			}
			if repair == n.Repairs[0].Repair {
				out.right += chance
			}
			been, setting := map[int]bool{}, p.Setting
			for _, x := range p.Been {
				been[x] = true
			}
			for i, test := range log {
				if slices.Contains(log[:i], test) {
					panic("a test is done twice")
				}
				out.minutes += chance * p.Tests[test].Minutes
				for _, x := range p.Tests[test].Places {
					if !been[x] {
						out.minutes += chance * p.Reach[x]
					}
					been[x] = true
				}
				if needs := p.Tests[test].Setting; needs != Unset {
					if setting != Unset && setting != needs {
						out.minutes += chance * takes(p, setting, needs)
					}
					setting = needs
				}
			}
		}
		follow(root, p.Prior[s]/all, nil)
	}
	return out
}

// A tree's figures are those of going through everything one by one, and its
// branches keep together.
func TestFiguresAgainstSimulation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 5, 5, rapid.Bool().Draw(t, "sure"))
		stop := Stop{
			Sure:  rapid.SampledFrom([]float64{0, 0.7, 0.95}).Draw(t, "Sure"),
			Rare:  rapid.SampledFrom([]float64{0, 0.02, 0.2}).Draw(t, "Rare"),
			Depth: rapid.IntRange(0, 3).Draw(t, "Depth"),
			Bits:  rapid.SampledFrom([]float64{0, 0.01, 0.2}).Draw(t, "Bits"),
		}
		chooser := rapid.SampledFrom([]Chooser{Greedy(), LookAhead(2, 0), LookAhead(3, 9), FixedOrder(2, 0, 4, 1, 3), Random(1)}).Draw(t, "chooser")
		tree, err := Plan(p, chooser, &stop)
		if err != nil {
			t.Fatal(err)
		}
		s := simulate(p, tree.Root)
		close := func(what string, a, b float64) {
			if math.Abs(a-b) > 1e-5*max(1, b) {
				t.Fatalf("%s: %v, one by one %v", what, a, b)
			}
		}
		close("minutes", tree.Minutes, s.minutes)
		close("tests", tree.Tests, s.tests)
		close("right", tree.Right, s.right)
		all := 0.0
		for e, x := range tree.Ended {
			close(End(e).String(), x, s.ended[e])
			all += x
		}
		close("sum", all, 1)
		close("cut", tree.Cut(), s.ended[Rare]+s.ended[Deep])
		if tree.Nodes != len(s.came) {
			t.Fatalf("%d nodes, came to %d", tree.Nodes, len(s.came))
		}
		for n, x := range s.came {
			close("coming to a node", n.Probability, x)
			if n.Test >= 0 {
				continue
			}
			left := 0.0
			for i, r := range n.Repairs {
				left += r.Probability
				if i > 0 && r.Probability > n.Repairs[i-1].Probability {
					t.Fatalf("repairs are out of order: %v", n.Repairs)
				}
			}
			close("repairs", left, 1)
			sure := n.Repairs[0].Probability
			if (n.End == Told) != (len(n.Repairs) == 1) || (n.End == SureEnough) != (n.End != Told && stop.Sure > 0 && sure >= stop.Sure) {
				t.Fatalf("%v with %v, sure at %v", n.End, n.Repairs, stop.Sure)
			}
			if n.End == Rare && n.Probability >= stop.Rare {
				t.Fatalf("%v is cut as rare, at %v", n.Probability, stop.Rare)
			}
		}
	})
}

// fewest is the optimum by trying every test in every situation, with nothing
// remembered: minutes to go with these states possible.
func fewest(p *Problem, states []int, been []bool, setting int) float64 {
	// Nothing is left to learn if states that all tests tell apart have the same
	// mixture of repairs.
	mixture := map[string]map[int]float64{}
	of := map[string]float64{}
	all := 0.0
	for _, s := range states {
		key := ""
		for i := range p.Tests {
			for o := range p.Tests[i].Chance {
				if p.Tests[i].Chance[o][s] == 1 {
					key += string('a' + rune(o))
				}
			}
		}
		if mixture[key] == nil {
			mixture[key] = map[int]float64{}
		}
		mixture[key][p.repair(s)] += p.Prior[s]
		of[key] += p.Prior[s]
		all += p.Prior[s]
	}
	same := true
	for a := range mixture {
		for b := range mixture {
			for s := range p.Prior {
				r := p.repair(s)
				same = same && math.Abs(mixture[a][r]/of[a]-mixture[b][r]/of[b]) < 1e-9
			}
		}
	}
	if same {
		return 0
	}
	least := math.Inf(1)
	for i := range p.Tests {
		test := &p.Tests[i]
		minutes, now, there := test.Minutes, setting, slices.Clone(been)
		for _, x := range test.Places {
			if !there[x] {
				minutes += p.Reach[x]
			}
			there[x] = true
		}
		if test.Setting != Unset {
			if now != Unset && now != test.Setting {
				minutes += takes(p, now, test.Setting)
			}
			now = test.Setting
		}
		useless := false
		for o := range test.Chance {
			var next []int
			share := 0.0
			for _, s := range states {
				if test.Chance[o][s] == 1 {
					next = append(next, s)
					share += p.Prior[s] / all
				}
			}
			useless = useless || len(next) == len(states)
			if len(next) > 0 && !useless {
				minutes += share * fewest(p, next, there, now)
			}
		}
		if !useless {
			least = min(least, minutes)
		}
	}
	return least
}

// With certain outcomes: the optimum is what trying everything finds, nothing is
// better than it, everything learns the same, and looking ahead to the end is not
// worse than Greedy.
func TestOptimalAndChoosersOnSureOutcomes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 7, 5, true)
		best, err := Optimal(p)
		if err != nil {
			t.Fatal(err)
		}
		states := make([]int, len(p.Prior))
		for s := range states {
			states[s] = s
		}
		been := make([]bool, len(p.Reach))
		for _, x := range p.Been {
			been[x] = true
		}
		const slack = 1e-6
		if want := fewest(p, states, been, p.Setting); math.Abs(best.Minutes-want) > slack {
			t.Fatalf("optimum of %v minutes, by trying everything %v", best.Minutes, want)
		}
		b, err := p.Bounds()
		if err != nil {
			t.Fatal(err)
		}
		if best.Ended[Told] > 1-slack && (best.Minutes < b.Minutes-slack || best.Tests < b.Tests-slack) {
			t.Fatalf("optimum of %v minutes, %v tests is below the bounds %+v", best.Minutes, best.Tests, b)
		}
		var greedy float64
		for i, c := range []Chooser{Greedy(), LookAhead(3, 99), LookAhead(2, 0), Random(1), FixedOrder(0, 1, 2, 3, 4)} {
			tree, err := Plan(p, c, nil)
			if err != nil {
				t.Fatal(err)
			}
			if tree.Minutes < best.Minutes-slack || math.Abs(tree.Right-best.Right) > slack || math.Abs(tree.Ended[Told]-best.Ended[Told]) > slack {
				t.Fatalf("chooser %d: %v minutes, right %v, told %v; optimum %v, %v, %v",
					i, tree.Minutes, tree.Right, tree.Ended[Told], best.Minutes, best.Right, best.Ended[Told])
			}
			if i == 0 {
				greedy = tree.Minutes
			} else if i == 1 && tree.Minutes > greedy+slack {
				t.Fatalf("to the end %v minutes, greedy %v", tree.Minutes, greedy)
			}
		}
	})
}

// The bits of a test are H(repair) + H(outcome) − H(both), and the best candidate,
// which is found without weighing all, is the best of all.
func TestBitsAndBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 6, 6, false)
		s := begin(p, Stop{Sure: 1, Bits: rapid.SampledFrom([]float64{0, 0.1}).Draw(t, "Bits")})
		if len(p.Tests) > 0 && rapid.Bool().Draw(t, "after a test") {
			next := slices.DeleteFunc(s.after(0), func(n *Situation) bool { return n == nil })
			s = rapid.SampledFrom(next).Draw(t, "outcome")
		}
		entropy := func(label func(k, o int) [2]int, test int) float64 {
			sum := map[[2]int]float64{}
			for k, x := range s.states {
				for o := range p.Tests[test].Chance {
					sum[label(k, o)] += s.weight[k] * float64(p.Tests[test].Chance[o][x])
				}
			}
			h := 0.0
			for _, x := range sum {
				if x > 0 {
					h -= x * math.Log2(x)
				}
			}
			return h
		}
		repair := func(k int) int { return p.repair(int(s.states[k])) }
		for i := range p.Tests {
			if s.done[i] {
				continue
			}
			question := entropy(func(k, _ int) [2]int { return [2]int{repair(k), 0} }, i)
			want := question + entropy(func(_, o int) [2]int { return [2]int{o, 0} }, i) - entropy(func(k, o int) [2]int { return [2]int{repair(k), o} }, i)
			if math.Abs(s.Bits(i)-want) > 1e-6 || math.Abs(s.Entropy()-question) > 1e-6 {
				t.Fatalf("test %d: %v bits of %v, want %v of %v", i, s.Bits(i), s.Entropy(), want, question)
			}
		}
		all := s.Candidates()
		best, ok := s.best()
		if ok != (len(all) > 0) {
			t.Fatalf("best %v of %v", best, all)
		}
		for _, c := range all {
			if c.better(best) {
				t.Fatalf("%+v is better than the best, %+v", c, best)
			}
		}
	})
}

// Mistakes are listed, all of them, and nothing panics.
func TestMistakes(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	half := [][]float32{{1, 0.5}, {0, 0.5}}
	for _, x := range []struct {
		p    *Problem
		want []string
	}{
		{nil, []string{"no problem given"}},
		{&Problem{}, []string{"no states"}},
		{&Problem{Prior: []float64{0, 0}}, []string{"priors sum to 0"}},
		{&Problem{Prior: []float64{math.MaxFloat64, math.MaxFloat64}}, []string{"priors sum to +Inf"}},
		{&Problem{Prior: []float64{1, -1, nan}}, []string{"prior of state 1 is -1", "prior of state 2 is NaN"}},
		{&Problem{Prior: []float64{1, 1}, Repair: []int{1}}, []string{"1 repairs for 2 states"}},
		{&Problem{Prior: []float64{1}, Reach: []float64{-1, inf}, Been: []int{2, -1}, Setting: -2, SwitchMinutes: nan},
			[]string{"reaching place 0: -1 minutes", "reaching place 1: +Inf", "changing the setting: NaN", "setting -2 at the start", "been to: place 2", "been to: place -1"}},
		{&Problem{Prior: []float64{1}, Setting: 2, Changes: [][]float64{{0, -1}, {1}}, Tests: []Test{{Name: "a", Setting: 3, Chance: Certain(0)}}},
			[]string{"changing from setting 0 to 1: -1 minutes", "changes from setting 1 to 1 settings of 2", "setting 2 at the start is none of the 2 in Changes", "test 0 (a): setting 3 is none of the 2 in Changes"}},
		{&Problem{Prior: []float64{1, 1}, Tests: []Test{
			{Name: "a"},
			{Name: "b", Chance: half[:1], Minutes: -3},
			{Name: "c", Chance: [][]float32{{1, 1}, {0}}, Setting: -2},
			{Name: "d", Chance: [][]float32{{1.5, 1}, {-0.5, 0}}, Places: []int{0}},
			{Name: "e", Chance: [][]float32{{float32(nan), 1}, {0, 0}}, Minutes: 1e10},
			{Name: "f", Chance: Certain(0, -1)},
			{Name: "g", Chance: half},
		}}, []string{
			"test 0 (a): no outcomes", "test 1 (b): -3 minutes", "test 1 (b): chances in state 1 sum to 0.5",
			"test 2 (c): setting -2", "test 2 (c): outcome 1 has chances for 1 states of 2",
			"test 3 (d): place 0 is none of the 0", "test 3 (d): chance of outcome 0 in state 0 is 1.5",
			"test 4 (e): 1e+10 minutes", "test 4 (e): chance of outcome 0 in state 0 is NaN", "test 5 (f): no outcomes",
		}},
	} {
		err := x.p.Validate()
		if err == nil {
			t.Errorf("%+v is accepted", x.p)
			continue
		}
		lines := strings.Split(err.Error(), "\n")
		if len(lines) != len(x.want) {
			t.Errorf("%d mistakes, want %d:\n%v", len(lines), len(x.want), err)
			continue
		}
		slices.Sort(lines)
		slices.Sort(x.want)
		for i := range lines {
			if !strings.HasPrefix(lines[i], "sequence: "+x.want[i]) {
				t.Errorf("%q, want %q", lines[i], x.want[i])
			}
		}
		for what, f := range map[string]func() error{
			"Plan":    func() error { _, err := Plan(x.p, Greedy(), nil); return err },
			"Optimal": func() error { _, err := Optimal(x.p); return err },
			"Bounds":  func() error { _, err := x.p.Bounds(); return err },
		} {
			if got := f(); got == nil || got.Error() != err.Error() {
				t.Errorf("%s: %v", what, got)
			}
		}
	}
	if diff := cmp.Diff([][]float32{{0, 1, 0}, {0, 0, 0}, {1, 0, 1}}, Certain(2, 0, 2)); diff != "" {
		t.Error(diff)
	}
}

func TestMistakesOfAPlan(t *testing.T) {
	nan := math.NaN()
	p := &Problem{Prior: []float64{1, 1}, Tests: minuteTests("0", "1")}
	_, err := Plan(p, nil, &Stop{Sure: 1.1, Bits: -1, Rare: nan, Depth: -1})
	if err == nil || strings.Count(err.Error(), "sequence: ") != 5 {
		t.Errorf("want five mistakes: %v", err)
	}
	for _, test := range []int{1, 0} { // there is none, and one that is done
		q := &Problem{Prior: []float64{1, 1, 1}, Tests: minuteTests("0", "1", "1")}
		if _, err := Plan(q, func(*Situation) int { return test }, nil); err == nil || !strings.Contains(err.Error(), "chose test") {
			t.Errorf("test %d: %v", test, err)
		}
	}
	// Unlikely outcomes of many tests in doubt: too big a tree.
	q := &Problem{Prior: []float64{1, 1}}
	for range 40 {
		q.Tests = append(q.Tests, Test{Minutes: 1, Chance: [][]float32{{0.6, 0.4}, {0.4, 0.6}}})
	}
	if _, err := Plan(q, Greedy(), nil); err == nil || !strings.Contains(err.Error(), "nodes") {
		t.Errorf("an endless tree: %v", err)
	}
	if tree, err := Plan(q, Greedy(), &Stop{Sure: 0.9, Rare: 1e-3}); err != nil || tree.Cut() < 0.5 || tree.Right < 0.7 {
		t.Errorf("with limits: %v, %v", tree, err)
	}
}

func TestOptimalRefuses(t *testing.T) {
	prior := make([]float64, MostStates+1)
	for s := range prior {
		prior[s] = 1
	}
	for want, p := range map[string]*Problem{
		"33 states":           {Prior: prior},
		"65 places":           {Prior: []float64{1}, Reach: make([]float64, MostPlaces+1)},
		"test 0 (x) is uncer": {Prior: []float64{1, 1}, Tests: []Test{{Name: "x", Chance: [][]float32{{0.5, 1}, {0.5, 0}}}}},
	} {
		if _, err := Optimal(p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error with %q: %v", want, err)
		}
	}
	d, err := newDynamic(&Problem{Prior: []float64{4, 3, 2, 1}, Tests: minuteTests("00", "01", "10", "11")})
	if err != nil {
		t.Fatal(err)
	}
	d.most = 2
	if _, err := d.plan(); err == nil || !strings.Contains(err.Error(), "more than 2 situations") {
		t.Errorf("too many situations: %v", err)
	}
	if tree, err := Optimal(&Problem{Prior: prior[:MostStates], Reach: make([]float64, MostPlaces)}); err != nil || tree.Root.End != Silent {
		t.Errorf("no tests: %+v, %v", tree, err)
	}
}

func TestEnds(t *testing.T) {
	seen := map[string]bool{}
	for e := Going; e <= Deep; e++ {
		seen[e.String()] = true
	}
	if len(seen) != 6 || seen["end 3"] || End(9).String() != "end 9" || End(-1).String() != "end -1" {
		t.Error(seen)
	}
}

// takes is what a change of the setting takes by the problem's own words.
func takes(p *Problem, from, to int) float64 {
	if p.Changes != nil {
		return p.Changes[from][to]
	}
	return p.SwitchMinutes
}
