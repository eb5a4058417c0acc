package faults

import (
	"fmt"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Answer is whether a module answered a scan tool.
type Answer struct {
	// Tool is the connector where the scan tool sat.
	Tool string
	// Module that was asked.
	Module string
	// Answered is what it did.
	Answered bool
}

// Chances that a module does other than the wiring has it. From memory: a module
// that is asleep, not fitted or not known to the tool is silent for its own
// reasons (one without supply is a fault of its own); a module that is cut off and
// yet seems to answer is a mix-up of names.
const (
	silentAnyway   = 0.01
	answersAnyway  = 0.005
	marginalAnswer = 0.5
	// ScanFails is how probable it is that a scan tool finds nobody for a reason of its
	// own: the ignition off, the network asleep, the tool's own lead.
	ScanFails = 0.01
)

// chance gives the probability that a module answers when the wiring lets its
// frames through like that.
func chance(h solve.Hearing) float64 {
	switch h {
	case solve.Yes:
		return 1 - silentAnyway
	case solve.Marginal:
		return marginalAnswer
	}
	return answersAnyway
}

// answerer works out which modules answer scan tools, for any fault.
type answerer struct {
	c     *netlist.Circuit
	tools []string
	net   *solve.Net
	buses []*solve.Bus // by tool, healthy
}

func newAnswerer(c *netlist.Circuit, tools []string) (*answerer, error) {
	a := &answerer{c: c, tools: tools}
	var err error
	if a.net, a.buses, err = a.fresh(nil); err == nil {
		a.net.Prepare()
	}
	return a, err
}

func (a *answerer) fresh(changes []solve.Change) (*solve.Net, []*solve.Bus, error) {
	n, err := solve.Assemble(a.c, solve.Condition{Supply: solve.Idle}, nil, changes...)
	if err != nil {
		return nil, nil, err
	}
	var buses []*solve.Bus
	for _, tool := range a.tools {
		b, err := n.Bus(nil, solve.Tool{Site: tool})
		if err != nil {
			return nil, nil, err
		}
		buses = append(buses, b)
	}
	return n, buses, nil
}

// answered is, for each tool, what each unit does.
type answered [][]solve.Hearing

func (a *answerer) of(buses []*solve.Bus) (answered, error) {
	var out answered
	for _, b := range buses {
		t, err := b.Talk()
		if err != nil {
			return nil, err
		}
		out = append(out, t.Answers(len(a.c.Units)))
	}
	return out, nil
}

// preparedAnswers is a fault at one fraction of its wires.
type preparedAnswers struct {
	a        *answerer
	fault    *Fault
	fraction float64
	buses    []*solve.Bus
	vary     *solve.Variation
	anew     bool
	known    map[int]answered
}

func (a *answerer) prepare(f *Fault, fraction float64) (*preparedAnswers, error) {
	out := &preparedAnswers{a: a, fault: f, fraction: fraction, buses: a.buses, known: map[int]answered{}}
	net := a.net
	var err error
	if len(f.base) > 0 {
		if net, out.buses, err = a.fresh(f.base); err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	out.vary, out.anew, err = f.variation(net, fraction)
	return out, err
}

// at gives who answers with the free resistance set.
func (f *preparedAnswers) at(ohms float64) (answered, error) {
	if f.anew {
		_, buses, err := f.a.fresh(f.fault.Changes(ohms, f.fraction))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.fault.Name, err)
		}
		return f.a.of(buses)
	}
	buses := f.buses
	if f.vary != nil {
		buses = make([]*solve.Bus, len(f.buses))
		for i, b := range f.buses {
			var err error
			if buses[i], err = b.Vary(f.vary, ohms); err != nil {
				return nil, err
			}
		}
	}
	return f.a.of(buses)
}

// near is at, worked out once for each step of a factor of about 1.6 in the ohms:
// who answers changes in few places of a resistance's range.
func (f *preparedAnswers) near(ohms float64) (answered, error) {
	if f.vary == nil {
		ohms = 1
	}
	key := int(math.Round(math.Log(ohms) * 2))
	if known, ok := f.known[key]; ok {
		return known, nil
	}
	got, err := f.at(math.Exp(float64(key) / 2))
	f.known[key] = got
	return got, err
}

// logChance gives the log probability of what modules did.
func (a *answerer) logChance(answers []Answer, got answered) float64 {
	return logOfAnswers(answers, func(k int) solve.Hearing { return got.of(a, answers[k]) })
}

// logOfAnswers is the log probability of answers if modules are heard like that: each does
// what it does for itself, but for a scan that fails as a whole. So that all are silent is
// never as improbable as that each of them is silent for its own reasons.
func logOfAnswers(answers []Answer, heard func(k int) solve.Hearing) float64 {
	sum := 0.0
	for k, x := range answers {
		if slices.ContainsFunc(answers[:k], func(y Answer) bool { return y.Tool == x.Tool }) {
			continue
		}
		well, failed := math.Log(1-ScanFails), math.Log(ScanFails)
		for i := k; i < len(answers); i++ {
			if answers[i].Tool != x.Tool {
				continue
			}
			p, q := chance(heard(i)), answersAnyway
			if !answers[i].Answered {
				p, q = 1-p, 1-q
			}
			well += math.Log(p)
			failed += math.Log(q)
		}
		sum += logAdd(well, failed)
	}
	return sum
}

func (got answered) of(a *answerer, x Answer) solve.Hearing {
	for i, tool := range a.tools {
		if tool != x.Tool {
			continue
		}
		for u := range a.c.Units {
			if a.c.Units[u].Name == x.Module {
				return got[i][u]
			}
		}
	}
	return solve.No
}

// anyAnswer is the log probability of the answers if nothing is known of what is
// wrong: each as likely as not.
func anyAnswer(answers []Answer) float64 { return -math.Ln2 * float64(len(answers)) }

// checkAnswers refuses answers that the harness cannot place, and gives their
// tools.
func checkAnswers(c *netlist.Circuit, answers []Answer) ([]string, error) {
	var tools []string
	seen := map[string]bool{}
	for _, x := range answers {
		if !seen[x.Tool] {
			seen[x.Tool] = true
			tools = append(tools, x.Tool)
		}
		found := false
		for _, t := range c.Transceivers {
			found = found || c.Units[t.Unit].Name == x.Module
		}
		if !found {
			_, err := c.Transceiver(x.Module, "")
			return nil, err
		}
	}
	return tools, nil
}

// AnswerTable is who answers a scan tool, for every fault.
type AnswerTable struct {
	Circuit *netlist.Circuit
	// Tool is the connector where the scan tool sits.
	Tool string
	// Units are the columns, as indices of Circuit.Units: the modules that have
	// a transceiver.
	Units   []int
	Healthy []solve.Hearing
	Rows    []AnswerRow
}

// AnswerRow is who answers with one fault, at its typical resistance, half-way
// along.
type AnswerRow struct {
	Fault   *Fault
	Answers []solve.Hearing
}

// MakeAnswerTable works out who answers a scan tool at a connector. progress,
// where it is not nil, is called after each fault.
func MakeAnswerTable(c *netlist.Circuit, faults []*Fault, tool string, progress func(done, of int)) (*AnswerTable, error) {
	a, err := newAnswerer(c, []string{tool})
	if err != nil {
		return nil, err
	}
	t := &AnswerTable{Circuit: c, Tool: tool}
	for i, u := range c.Units {
		if len(u.Inputs) > 0 {
			t.Units = append(t.Units, i)
		}
	}
	pick := func(got answered) []solve.Hearing {
		out := make([]solve.Hearing, len(t.Units))
		for k, u := range t.Units {
			out[k] = got[0][u]
		}
		return out
	}
	healthy, err := a.of(a.buses)
	if err != nil {
		return nil, err
	}
	t.Healthy = pick(healthy)
	for k, f := range faults {
		ready, err := a.prepare(f, 0.5)
		if err != nil {
			return nil, err
		}
		ohms := 0.0
		if f.Free != nil {
			ohms = f.Free.Typical
		}
		got, err := ready.at(ohms)
		if err != nil {
			return nil, err
		}
		t.Rows = append(t.Rows, AnswerRow{f, pick(got)})
		if progress != nil {
			progress(k+1, len(faults))
		}
	}
	return t, nil
}

// AnswerChance is the probability that a module answers a scan tool if the wiring
// lets its frames through like that.
func AnswerChance(h solve.Hearing) float64 { return chance(h) }
