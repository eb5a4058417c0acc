// Command quality measures how well faults are found: vehicles with drawn faults,
// tolerances and meter errors on five layouts, sessions that follow the advice from
// one reading at the service connector on, beside what the workshop's habits take.
//
//	go run ./examples/quality                    # all, some minutes
//	go run ./examples/quality --layouts small-6 --cases 20
//
// Seeds are fixed, so the same numbers come out again. All layouts are invented.
package main

import (
	"flag"
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"time"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/trial"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

var layouts = []struct{ name, file string }{
	{"small-6", "testdata/layouts/small-6.yaml"},
	{"farm-12", "testdata/layouts/farm-12.yaml"},
	{"orchard-18", "examples/orchard/harness.yaml"},
	{"press-30", "testdata/layouts/press-30.yaml"},
	{"fleet-60", "testdata/layouts/fleet-60.yaml"},
}

func main() {
	log.SetFlags(0)
	only := flag.String("layouts", "", "layouts to measure, with commas between; all if empty")
	cases := flag.Int("cases", 0, "single faults drawn for each layout; 0 for as many as take some minutes")
	ahead := flag.Bool("ahead", false, "follow advice that looks ahead")
	traffic := flag.Bool("traffic", false, "volts with traffic are read too")
	anyway := flag.Bool("anyway", false, "go on reading where that takes longer than the looking into parts that it saves")
	scope := flag.Bool("scope", false, "have a scope at hand: levels while one module sends are read too")
	honesty := flag.Int("honesty", 0, "hold so many matches on each layout against what is wrong, twice for each mixture of vehicles: of random readings and of all readings at some connectors; and play no sessions")
	verbose := flag.Bool("v", false, "print every case that ends wrong")
	flag.Parse()
	err := error(nil)
	if *honesty > 0 {
		err = promises(*only, *honesty)
	} else {
		err = run(*only, *cases, trial.Rules{LookAhead: *ahead, Traffic: *traffic, Scope: *scope, Anyway: *anyway}, *verbose)
	}
	if err != nil {
		log.Fatal(err)
	}
}

// number of single faults, pairs and sound vehicles for a layout, by its size.
func number(sites, asked int) (singles, pairs, sound int) {
	singles = 8
	switch {
	case sites < 10:
		singles = 30
	case sites < 20:
		singles = 16
	case sites < 30:
		singles = 12
	}
	if asked > 0 {
		singles = asked
	}
	return singles, max(1, singles/2), max(1, singles/2)
}

func run(only string, asked int, rules trial.Rules, verbose bool) error {
	fmt.Println("layout      vehicles   cases  first group  or its part  first three  part first  all found  in three  opened  promised      Brier  named >= 95  readings  minutes  in turn  halving  fixed order  random  time a session")
	return each(only, func(name string, c *netlist.Circuit) error {
		singles, pairs, sound := number(len(c.Sites), asked)
		for _, kind := range []struct {
			name   string
			n      int
			faults int
			seed   uint64
		}{{"sound", sound, 0, 1}, {"one fault", singles, 1, 2}, {"two faults", pairs, 2, 3}} {
			if err := measure(name, kind.name, c, kind.n, kind.faults, kind.seed, rules, verbose); err != nil {
				return err
			}
		}
		return nil
	})
}

// each does something for every layout that was asked for.
func each(only string, do func(name string, c *netlist.Circuit) error) error {
	for _, l := range layouts {
		if only != "" && !slices.Contains(strings.Split(only, ","), l.name) {
			continue
		}
		h, err := netfile.Read(l.file)
		if err != nil {
			return fmt.Errorf("run this from the top of the repository: %w", err)
		}
		c, err := netlist.NewCircuit(h)
		if err != nil {
			return err
		}
		if err := do(l.name, c); err != nil {
			return err
		}
	}
	return nil
}

// mostReadings is how many readings a match of random readings has at most.
const mostReadings = 8

// mixtures of vehicles that promises are held against: as a workshop may see them, and
// with two faults as often as one.
var mixtures = []struct {
	name string
	trial.Mixture
}{
	{"as a rule", trial.Mixture{Sound: 0.1, Two: 0.04}},
	{"many pairs", trial.Mixture{Sound: 0.2, Two: 0.4}},
}

// mostPlaces is at how many connectors all is read at most, beside the service connector.
const mostPlaces = 3

// promises prints how often what a match says of a part holds.
func promises(only string, n int) error {
	return each(only, func(name string, c *netlist.Circuit) error {
		in := faults.DefaultInstrument()
		list := faults.Catalogue(c)
		x := faults.NewMatcher(c, list, in)
		for w, way := range []struct {
			name string
			read trial.Reader
		}{
			{fmt.Sprintf("readings at random, 1 to %d", mostReadings), trial.Scattered(c, mostReadings)},
			{fmt.Sprintf("all readings of the service connector and up to %d others", mostPlaces), trial.Thorough(c, mostPlaces)},
		} {
			for k, mix := range mixtures {
				start := time.Now()
				p, err := trial.Honesty(c, x, list, in, rand.New(rand.NewPCG(21+uint64(w), uint64(k))), n, way.read, mix.Mixture)
				if err != nil {
					return err
				}
				fmt.Printf("\n%s, vehicles %s (%.0f %% sound, %.0f %% with two faults); %s; %d vehicles, %.2f s each\n",
					name, mix.name, 100*mix.Sound, 100*mix.Two, way.name, p.Vehicles, time.Since(start).Seconds()/float64(n))
				reliability(p)
			}
		}
		return nil
	})
}

// reliability prints what was promised and what held: cases, promised in percent in the
// mean, held in percent.
func reliability(p *trial.Promises) {
	columns := []struct {
		name string
		*trial.Reliability
	}{{"every part", &p.Parts}, {"named first", &p.First}, {"answers, one part", &p.One}, {"answers, two parts", &p.Two}}
	fmt.Printf("  %-10s", "given")
	for _, x := range columns {
		fmt.Printf("  %-26s", x.name)
	}
	fmt.Printf("\n  %-10s", "")
	for range columns {
		fmt.Printf("  %6s %9s %9s", "cases", "promised", "held")
	}
	fmt.Println()
	low := 0.0
	for k := range p.Parts {
		high := 1.0
		if k < len(trial.ReliabilityEdges) {
			high = trial.ReliabilityEdges[k]
		}
		fmt.Printf("  %-10s", fmt.Sprintf("%.0f-%.0f %%", 100*low, 100*high))
		for _, x := range columns {
			if b := x.Reliability[k]; b.Cases > 0 {
				fmt.Printf("  %6d %7.1f %% %7.1f %%", b.Cases, 100*b.Promised/float64(b.Cases), 100*float64(b.Held)/float64(b.Cases))
			} else {
				fmt.Printf("  %6d %9s %9s", 0, "-", "-")
			}
		}
		fmt.Println()
		low = high
	}
	fmt.Printf("  %-10s", "all")
	for _, x := range columns {
		cases, held, promised, variance := x.Sum()
		fmt.Printf("  %-26s", fmt.Sprintf("%d: %d held, %.1f ± %.1f", cases, held, promised, math.Sqrt(variance)))
	}
	v := float64(p.Vehicles)
	fmt.Printf("\n  Brier score of a vehicle: every part %.3f, named first %.3f, whole answer %.3f\n", p.Brier/v, p.FirstBrier/v, p.AnswerBrier/v)
}

// practice is what workshops do without advice.
var practice = [...]struct {
	name string
	work func(*trial.Vehicle, faults.Probe) (*trial.Effort, error)
}{{"in turn", trial.UnplugInTurn}, {"halving", trial.HalveByHand}, {"the silent first", trial.SilentFirst}}

// baseline is how many sessions there are for each that is played in a fixed and in a
// random order too.
const baseline = 4

func measure(layout, name string, c *netlist.Circuit, n, many int, seed uint64, rules trial.Rules, verbose bool) error {
	in := faults.DefaultInstrument()
	list := faults.Catalogue(c)
	x := faults.NewMatcher(c, list, in)
	first := trial.FirstProbe(c)
	var score trial.Score
	var looking, fixed, random float64
	var worked [len(practice)]trial.Effort // sums
	habits, bases, named, grouped, opened := 0, 0, 0, 0, 0
	start := time.Now()
	for k := range n {
		// Each vehicle has its own draws, so that it is the same whatever is advised.
		rng := rand.New(rand.NewPCG(20+seed, uint64(k)))
		v := trial.Draw(c, list, in, rng, many)
		course, err := trial.Repairs(x, v, first, rules)
		if err != nil {
			return fmt.Errorf("%s: %w", v.Name(), err)
		}
		s := course.Sessions[0]
		opened += course.Opened
		looking += course.Looking
		if course.Named {
			named++
		}
		if course.Grouped {
			grouped++
		}
		for _, later := range course.Sessions[1:] {
			score.Minutes += later.Minutes
			score.Steps += len(later.Steps)
		}
		before := score
		if err := score.Add(v, s); err != nil {
			return err
		}
		if verbose && score.First == before.First {
			fmt.Fprintf(os.Stderr, "%s %d: %s; named %s %.3f (%s), %d steps\n", layout, k, v.Name(), s.Match.Parts[0].Part, s.Match.Parts[0].Probability, s.Match.Best().Name, len(s.Steps))
			for _, step := range s.Steps {
				fmt.Fprintf(os.Stderr, "    %-50s %5.1f\n", step.What, step.Minutes)
			}
		}
		if many == 1 {
			for i, p := range practice {
				e, err := p.work(v, first)
				if err != nil {
					return err
				}
				worked[i].Minutes += e.Minutes
				worked[i].Looking += e.Looking
			}
			if k%baseline == 0 { // they take many matches each
				probes := faults.Probes(c, faults.Selection{})
				probes = append(probes, faults.Probes(c, faults.Selection{Unplugged: true})...)
				inOrder, err := trial.Unadvised(x, v, first, probes, trial.Rules{}, s)
				if err != nil {
					return err
				}
				rng.Shuffle(len(probes), func(i, j int) { probes[i], probes[j] = probes[j], probes[i] })
				drawn, err := trial.Unadvised(x, v, first, probes, trial.Rules{}, s)
				if err != nil {
					return err
				}
				fixed, random = fixed+inOrder.Minutes, random+drawn.Minutes
				bases++
			}
			habits++
		}
	}
	session := time.Since(start) / time.Duration(n)
	share := func(k int) string { return fmt.Sprintf("%.1f %%", 100*float64(k)/float64(score.Cases)) }
	mean := func(x float64, of int) string {
		if of == 0 {
			return "-"
		}
		return fmt.Sprintf("%.1f", x/float64(of))
	}
	fmt.Printf("%-11s %-10s %5d  %11s  %11s  %11s  %10s  %9s  %8s  %6s  %4.1f ± %3.1f %%  %5.3f  %12s  %8s  %7s  %7s  %7s  %11s  %6s  %s\n",
		layout, name, score.Cases, share(score.First), share(score.SameParts), share(score.FirstThree), share(score.Named), share(grouped), share(named), mean(float64(opened), score.Cases*max(1, many)),
		100*score.Promised/float64(score.Cases), 100*math.Sqrt(score.Variance)/float64(score.Cases),
		score.Brier/float64(score.Cases), share(score.Alarms),
		mean(float64(score.Steps), score.Cases), mean(score.Minutes, score.Cases), mean(worked[0].Minutes, habits), mean(worked[1].Minutes, habits), mean(fixed, bases), mean(random, bases), session.Round(10*time.Millisecond))
	fmt.Printf("            the part named first, with 0-10 %%, 10-20 %%, ..., was at fault in:")
	for _, b := range score.Reliability {
		if b.Cases == 0 {
			fmt.Print("  -")
		} else {
			fmt.Printf("  %d/%d", b.Right, b.Cases)
		}
	}
	fmt.Println()
	if many != 1 {
		return nil
	}
	fmt.Printf("            reading + looking into parts, minutes: advice %s + %s", mean(score.Minutes, score.Cases), mean(looking, score.Cases))
	for i, p := range practice {
		fmt.Printf("; %s %s + %s", p.name, mean(worked[i].Minutes, habits), mean(worked[i].Looking, habits))
	}
	fmt.Println()
	best, err := x.Least(first)
	if err != nil {
		return err
	}
	fmt.Printf("            over all faults of the layout: the best is %s, no course takes less than %s; reading as long as it tells, the best is %s\n",
		courseText(best.Found), courseText(best.Bound), courseText(best.Isolated))
	return nil
}

// courseText writes what a best course takes.
func courseText(m faults.CourseMinutes) string {
	text := fmt.Sprintf("%.1f + %.1f", m.Readings, m.Minutes-m.Readings)
	if m.Depth > 0 {
		text = fmt.Sprintf("at least %s (%d readings deep)", text, m.Depth)
	}
	return text
}
