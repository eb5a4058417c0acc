package derivation_test

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
	"example.com/ohmloom/solve/derivation"
	"example.com/ohmloom/solve/solvetest"
)

// fataler is what the helpers need of a *testing.T or a *rapid.T.
type fataler interface {
	solvetest.TB
	Fatalf(format string, args ...any)
}

// near holds two numbers against each other within 1e-9 of the greater, and within a
// floor.
func near(a, b, floor float64) bool {
	return a == b || math.Abs(a-b) <= 1e-9*math.Max(math.Abs(a), math.Abs(b))+floor
}

// sheet is a network of its own, as it stands between two steps; it is solved by
// package solve, which knows nothing of steps.
type sheet struct {
	node map[string]int
	c    *netlist.Circuit
}

func newSheet(d *derivation.Derivation, live []int, joints ...[2]string) *sheet {
	s := &sheet{node: map[string]int{"ground": netlist.GroundNode}}
	s.c = &netlist.Circuit{Nodes: []netlist.Node{{Name: "ground"}, {Name: "the supply rail"}}}
	at := func(name string) int {
		i, known := s.node[name]
		if !known {
			i = len(s.c.Nodes)
			s.node[name] = i
			s.c.Nodes = append(s.c.Nodes, netlist.Node{Name: name})
		}
		return i
	}
	for _, i := range live {
		r := &d.Resistances[i]
		law := netlist.Law{Value: netlist.Spread{Mid: r.Ohms}, Volts: netlist.Spread{Mid: r.Volts}}
		s.c.Elements = append(s.c.Elements, netlist.Element{Name: r.Name, Kind: netlist.WireElement, A: at(r.A), B: at(r.B), Off: law, Awake: law})
	}
	for _, j := range joints {
		s.c.Elements = append(s.c.Elements, netlist.Element{Kind: netlist.Joint, A: at(j[0]), B: at(j[1])})
	}
	return s
}

// measure gives the ohms and the volts between two points; false where they are apart.
func (s *sheet) measure(t fataler, a, b string) (ohms, volts float64, joined bool) {
	t.Helper()
	i, known := s.node[a]
	j, knownToo := s.node[b]
	if !known || !knownToo {
		return 0, 0, false
	}
	net, err := solve.Assemble(s.c, solve.Condition{Supply: solve.Idle}, nil)
	if err != nil {
		t.Fatalf("%v", err)
	}
	r, err := net.Respond(solve.Volts, i, j, solve.Meter{})
	if err != nil {
		t.Fatalf("%v", err)
	}
	ohms, joined = r.Ohms()
	return ohms, r.Value().Number, joined
}

// same fails unless two sheets read alike between two points.
func same(t fataler, what string, before, after *sheet, a, b string, scale float64) {
	t.Helper()
	o1, v1, j1 := before.measure(t, a, b)
	o2, v2, j2 := after.measure(t, a, b)
	if j1 != j2 || j1 && (!near(o1, o2, 1e-12) || !near(v1, v2, 1e-9*scale)) {
		t.Errorf("%s: %s to %s: %v Ω and %v V (%t) before, %v Ω and %v V (%t) after", what, a, b, o1, v1, j1, o2, v2, j2)
	}
}

// twoOf gives back the two points that a folded or tied point stands for.
func twoOf(t fataler, name, join string) (a, b string) {
	t.Helper()
	if one, other, ok := strings.Cut(name, " "+join+" "); ok {
		return one, other
	}
	at := strings.LastIndex(name, join)
	if at < 0 {
		t.Fatalf("%q stands for no two points", name)
	}
	cut := strings.LastIndexAny(name[:at], ". ") + 1
	return name[:at], name[:cut] + name[at+len(join):]
}

// pointsOf lists the ends of resistances, each once.
func pointsOf(d *derivation.Derivation, list []int) []string {
	var out []string
	for _, i := range list {
		for _, name := range []string{d.Resistances[i].A, d.Resistances[i].B} {
			if !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	return out
}

// checkSteps goes through a derivation step by step, each time with the network before
// and after the step solved anew, and holds the end against the whole harness.
func checkSteps(t fataler, c *netlist.Circuit, q derivation.Question, d *derivation.Derivation) {
	t.Helper()
	if d.Open {
		if len(d.Steps) > 0 || d.Apart == nil {
			t.Errorf("an open reading has %d steps, apart %v", len(d.Steps), d.Apart)
		}
		return
	}
	net, err := solve.Assemble(c, q.Condition, nil, q.Changes...)
	if err != nil {
		t.Fatalf("%v", err)
	}
	whole, err := net.Respond(q.Quantity, q.From, q.To, solve.Meter{})
	if err != nil {
		t.Fatalf("%v", err)
	}
	ohms, _ := whole.Ohms()
	if !near(d.Ohms, ohms, 1e-12) {
		t.Errorf("comes to %v Ω, solved %v Ω", d.Ohms, ohms)
	}
	scale := 1.0
	for _, r := range d.Resistances {
		scale = math.Max(scale, math.Abs(r.Volts))
	}
	if q.Quantity == solve.Volts && !near(d.Volts, whole.Value().Number, 1e-9*scale) {
		t.Errorf("comes to %v V, solved %v V", d.Volts, whole.Value().Number)
	}
	if d.Result < 0 {
		return
	}

	made := map[int]bool{}
	for _, s := range d.Steps {
		for _, i := range s.Outputs {
			made[i] = true
		}
	}
	var live []int
	for i := range d.Resistances {
		if !made[i] {
			live = append(live, i)
		}
	}
	var untied []int // what was there before a tie
	for n, s := range d.Steps {
		what := fmt.Sprintf("step %d (%s %s)", n+1, s.Operation, s.At)
		before := newSheet(d, live)
		next := without(live, s.Inputs)
		if s.Operation != derivation.Fold && s.Operation != derivation.Quarter && len(next) != len(live)-len(s.Inputs) {
			t.Fatalf("%s takes what is not there", what)
		}
		next = append(next, s.Outputs...)
		after := newSheet(d, next)
		switch s.Operation {
		case derivation.Hold:
			for _, name := range pointsOf(d, s.Outputs) {
				for node := range c.Nodes {
					if c.Nodes[node].Name != name {
						continue
					}
					r, err := net.Respond(solve.Volts, node, netlist.GroundNode, solve.Meter{})
					if err != nil {
						t.Fatalf("%v", err)
					}
					want, _ := r.Ohms()
					o, v, _ := after.measure(t, name, "ground")
					if !near(o, want, 1e-12) || !near(v, r.Value().Number, 1e-9*scale) {
						t.Errorf("%s: %s to ground %v Ω, %v V; solved %v Ω, %v V", what, name, o, v, want, r.Value().Number)
					}
				}
			}
		case derivation.Series, derivation.Parallel, derivation.Mesh:
			ends := pointsOf(d, s.Outputs)
			inputs, outputs := newSheet(d, s.Inputs), newSheet(d, s.Outputs)
			for i, a := range ends {
				for _, b := range ends[:i] {
					// Of their own, and with everything else around them.
					same(t, what+", alone", inputs, outputs, a, b, scale)
					same(t, what, before, after, a, b, scale)
				}
			}
			if s.Operation != derivation.Mesh && len(s.Outputs) != 1 {
				t.Errorf("%s has %d outputs", what, len(s.Outputs))
			}
		case derivation.Drop:
			// Whatever stays reads as before. In the halves of a tied harness the
			// leads are other points.
			for _, a := range pointsOf(d, next) {
				same(t, what, before, after, a, pointsOf(d, next)[0], scale)
			}
		case derivation.Tie:
			untied = live
			var joints [][2]string
			for _, name := range pointsOf(d, s.Outputs) {
				if strings.Contains(name, "+") {
					a, b := twoOf(t, name, "+")
					joints = append(joints, [2]string{a, b})
				}
			}
			tied := newSheet(d, live, joints...)
			for _, j := range joints {
				for _, name := range pointsOf(d, s.Outputs) {
					a := name
					if strings.Contains(name, "+") {
						a, _ = twoOf(t, name, "+")
					}
					o1, v1, j1 := tied.measure(t, a, j[0])
					for _, other := range pointsOf(d, s.Outputs) {
						if x, _, ok := cutJoin(other); ok && x == j[0] {
							o2, v2, j2 := after.measure(t, name, other)
							if j1 != j2 || !near(o1, o2, 1e-12) || !near(v1, v2, 1e-9*scale) {
								t.Errorf("%s: %s to %s is %v Ω, %v V tied and %v Ω, %v V here", what, name, other, o1, v1, o2, v2)
							}
						}
					}
				}
			}
		case derivation.Fold:
			if untied != nil {
				before = newSheet(d, untied)
			}
			after = newSheet(d, s.Outputs)
			if len(s.Outputs) == 0 {
				t.Errorf("%s makes nothing", what)
			}
			for _, name := range pointsOf(d, s.Outputs) {
				if name == derivation.Middle {
					continue
				}
				a, b := twoOf(t, name, "/")
				o1, _, j1 := before.measure(t, a, b)
				o2, _, j2 := after.measure(t, name, derivation.Middle)
				if j1 != j2 || !near(o1, o2, 1e-12) {
					t.Errorf("%s: %s to %s %v Ω (%t), folded %v Ω (%t)", what, a, b, o1, j1, o2, j2)
				}
			}
		case derivation.Quarter:
			r := &d.Resistances[s.Outputs[0]]
			want, volts, _ := newSheet(d, untied).measure(t, r.A, r.B)
			if !near(r.Ohms, want, 1e-12) || !near(r.Volts, volts, 1e-9*scale) {
				t.Errorf("%s: %v Ω, %v V; solved %v Ω, %v V", what, r.Ohms, r.Volts, want, volts)
			}
		}
		live = next
	}
	if len(live) != 1 || live[0] != d.Result {
		t.Errorf("ends with %v, not with %d", live, d.Result)
	}
}

func cutJoin(name string) (a, b string, ok bool) {
	if one, other, ok := strings.Cut(name, " + "); ok {
		return one, other, true
	}
	at := strings.LastIndex(name, "+")
	if at < 0 {
		return "", "", false
	}
	cut := strings.LastIndexAny(name[:at], ". ") + 1
	return name[:at], name[:cut] + name[at+1:], true
}

func without(list, gone []int) []int {
	var out []int
	for _, i := range list {
		if !slices.Contains(gone, i) {
			out = append(out, i)
		}
	}
	return out
}

// checkTerms works each term out by another way: changes laid over the whole harness, a
// part for what is away and a resistance of 0 Ω for what is perfect.
func checkTerms(t fataler, c *netlist.Circuit, q derivation.Question, d *derivation.Derivation) {
	t.Helper()
	kinds := map[netlist.ElementKind]derivation.Group{
		netlist.TerminatorElement: derivation.Terminators, netlist.InputElement: derivation.Transceivers,
		netlist.StrayElement: derivation.Strays, netlist.LoadElement: derivation.SupplyLoads,
		netlist.WireElement: derivation.Wires, netlist.ContactElement: derivation.Contacts,
	}
	back := map[derivation.Group]bool{}
	order := []derivation.Group{derivation.Terminators, derivation.FaultOhms, derivation.Strays, derivation.SupplyLoads, derivation.Transceivers, derivation.Wires, derivation.Contacts}
	if q.Quantity == solve.Volts {
		back[derivation.Terminators], back[derivation.SupplyLoads] = true, true
		order = []derivation.Group{derivation.Transceivers, derivation.Strays, derivation.FaultOhms, derivation.Wires, derivation.Contacts}
	}
	sum, total := 0.0, 0.0
	n := 0
	for _, group := range order {
		back[group] = true
		if n >= len(d.Terms) || d.Terms[n].Group != group {
			continue
		}
		term := d.Terms[n]
		n++
		var changes []solve.Change
		for _, ch := range q.Changes {
			if q.Quantity == solve.Volts && !back[derivation.FaultOhms] {
				continue
			}
			switch x := ch.(type) {
			case solve.Insert:
				if !back[derivation.FaultOhms] {
					continue
				}
			case solve.Bridge:
				if !back[derivation.FaultOhms] && x.Ohms > 1 {
					continue
				}
				if !back[derivation.FaultOhms] {
					x.Ohms = 0
					ch = x
				}
			case solve.Replace:
				if !back[kinds[c.Elements[x.Element].Kind]] {
					continue
				}
			}
			changes = append(changes, ch)
		}
		for i, e := range c.Elements {
			g, known := kinds[e.Kind]
			switch {
			case !known || back[g]:
			case g == derivation.Wires || g == derivation.Contacts:
				changes = append(changes, solve.Replace{Element: i, Ohms: 0})
			default:
				changes = append(changes, solve.Part{Element: i})
			}
		}
		net, err := solve.Assemble(c, q.Condition, nil, changes...)
		if err != nil {
			t.Fatalf("%s: %v", group, err)
		}
		r, err := net.Respond(q.Quantity, q.From, q.To, solve.Meter{})
		if err != nil {
			t.Fatalf("%s: %v", group, err)
		}
		_, joined := r.Ohms()
		if joined == term.Open {
			t.Errorf("%s: open %t, solved %t", group, term.Open, !joined)
		}
		sum += term.Value
		if joined {
			total = r.Value().Number
			if !near(term.Total, total, 1e-12) || !near(sum, total, 1e-9) {
				t.Errorf("%s: total %v, terms up to here add up to %v, solved %v", group, term.Total, sum, total)
			}
		}
	}
	if n < len(d.Terms) && d.Terms[n].Group == derivation.TheMeter {
		sum += d.Terms[n].Value
		if !near(sum, d.Terms[n].Total, 1e-9) {
			t.Errorf("with the meter terms add up to %v, not to %v", sum, d.Terms[n].Total)
		}
		n++
	}
	if n != len(d.Terms) {
		t.Errorf("%d terms, %d in order", len(d.Terms), n)
	}
	if !d.Value.OL && !near(sum, d.Value.Number, 1e-9) {
		t.Errorf("terms add up to %v, the meter shows %v", sum, d.Value)
	}
}

// checkWeights holds weights against finite differences and against the rule that ohms
// grow with all resistances and volts do not.
func checkWeights(t fataler, c *netlist.Circuit, q derivation.Question, d *derivation.Derivation, each bool) {
	t.Helper()
	if d.Open {
		return
	}
	sum, greatest := 0.0, 0.0
	for _, w := range d.Weights {
		sum += 100 * w.PerPercent
		greatest = math.Max(greatest, math.Abs(100*w.PerPercent))
	}
	want := d.Ohms
	if q.Quantity == solve.Volts {
		want = 0
	}
	if math.Abs(sum-want) > 1e-8*math.Max(greatest, math.Abs(want))+1e-11 {
		t.Errorf("all weights come to %v, want %v", sum, want)
	}
	if q.Quantity == solve.Volts {
		gives := 0.0
		scale := 0.0
		for _, s := range d.Sources {
			gives += s.Gives
			scale = math.Max(scale, math.Abs(s.Volts))
		}
		if math.Abs(gives-d.Volts) > 1e-8*scale {
			t.Errorf("all sources give %v, the voltage is %v", gives, d.Volts)
		}
	}
	if !each {
		return
	}
	for i, e := range c.Elements {
		if e.Kind == netlist.Joint || e.Kind == netlist.LoadElement && q.Condition.Supply == solve.Idle {
			continue
		}
		var w *derivation.Weight
		for k := range d.Weights {
			if d.Weights[k].Element == e.Name {
				w = &d.Weights[k]
			}
		}
		if w == nil {
			continue
		}
		// The whole element, of which a part may be between the leads.
		own := e.Off
		if q.Condition.Supply == solve.Idle {
			own = e.Awake
		}
		ohms := own.Ohms(nil)
		if unpowered(c, q, i) {
			ohms = e.Off.Ohms(nil)
		}
		for _, ch := range q.Changes {
			if r, ok := ch.(solve.Replace); ok && r.Element == i {
				ohms = r.Ohms // whether the unit has supply or not
			}
		}
		read := func(factor float64) float64 {
			replaced := append(slices.Clone(q.Changes), solve.Replace{Element: i, Ohms: ohms * factor})
			net, err := solve.Assemble(c, q.Condition, nil, replaced...)
			if err != nil {
				t.Fatalf("%v", err)
			}
			v, err := net.Read(q.Quantity, q.From, q.To, solve.Meter{})
			if err != nil {
				t.Fatalf("%v", err)
			}
			return v.Number
		}
		const h = 1e-3
		difference := (read(1+h) - read(1-h)) / (2 * h) / 100
		if math.Abs(difference-w.PerPercent) > 2e-5*math.Abs(w.PerPercent)+1e-9*math.Max(math.Abs(d.Ohms), math.Abs(d.Volts)) {
			t.Errorf("%s: %v a percent, by differences %v", e.Name, w.PerPercent, difference)
		}
	}
}

// unpowered tells whether an element is an input of a unit without supply or ground.
func unpowered(c *netlist.Circuit, q derivation.Question, element int) bool {
	for i, u := range c.Units {
		if !slices.Contains(u.Inputs, element) {
			continue
		}
		parted, err := c.Unplug(q.Condition.Unplugged...)
		if err == nil && slices.Contains(parted, u.GroundElement) {
			return true
		}
		for _, ch := range q.Changes {
			switch x := ch.(type) {
			case solve.Unpower:
				if x.Unit == i {
					return true
				}
			case solve.Part:
				if x.Element == u.GroundElement {
					return true
				}
			}
		}
	}
	return false
}

// checkShares holds the shares of what is there at each time to the whole: the power in
// all of it is that between the leads.
func checkShares(t fataler, d *derivation.Derivation) {
	t.Helper()
	if d.Open || d.Result < 0 {
		return
	}
	if got := d.Resistances[d.Result].Share; math.Abs(got-1) > 1e-7 {
		t.Errorf("the result has a share of %v", got)
	}
	for _, s := range d.Steps {
		in, out := 0.0, 0.0
		for _, i := range s.Inputs {
			in += d.Resistances[i].Share
		}
		for _, i := range s.Outputs {
			out += d.Resistances[i].Share
		}
		if s.Operation != derivation.Tie && s.Operation != derivation.Fold && s.Operation != derivation.Hold && math.Abs(in-out) > 1e-7 {
			t.Errorf("step %s %s: shares %v in, %v out", s.Operation, s.At, in, out)
		}
	}
}

// explain derives a reading and holds every number of it against the solver.
func explain(t fataler, c *netlist.Circuit, q derivation.Question) *derivation.Derivation {
	t.Helper()
	d, err := derivation.Explain(c, q)
	if err != nil {
		t.Fatalf("%v", err)
	}
	checkSteps(t, c, q, d)
	checkTerms(t, c, q, d)
	checkWeights(t, c, q, d, true)
	checkShares(t, d)
	return d
}
