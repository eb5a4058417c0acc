package derivation

import (
	"fmt"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Group is a sort of thing that a reading is made of.
type Group string

// The groups, in the order in which they are put back for ohms. For volts the
// faults come behind the transceivers, whole.
const (
	Terminators  Group = "terminators"
	FaultOhms    Group = "fault"
	Strays       Group = "stray paths"
	SupplyLoads  Group = "loads on the supply rail"
	Transceivers Group = "transceivers"
	Wires        Group = "wires"
	Contacts     Group = "contacts"
	TheMeter     Group = "meter"
)

// Term is what putting back one group moves a reading by.
type Term struct {
	Group Group
	// With are the groups that were put back before and have no term of their own to
	// speak of: nothing joined the two points yet, or the circuit could not be solved
	// with them alone.
	With []Group
	// Value is the term in ohms or volts, Total the sum up to here. All Values of a
	// derivation add up to the last Total, which is what a meter of unlimited range
	// shows.
	Value, Total float64
	// Open says that nothing joins the points even now; Total is 0 then.
	Open bool
	// Elements of the group that carry current between the leads once they are put
	// back, and the Parts that they belong to, each once.
	Elements []string
	Parts    []string
	// Ohms are those of each of Parts that is a terminator: its halves added up.
	Ohms []float64
}

var groupOf = map[netlist.ElementKind]Group{
	netlist.TerminatorElement: Terminators, netlist.InputElement: Transceivers, netlist.StrayElement: Strays,
	netlist.LoadElement: SupplyLoads, netlist.WireElement: Wires, netlist.ContactElement: Contacts,
}

var kindOf = map[Group]Kind{Terminators: Terminator, FaultOhms: Fault, Strays: Stray, SupplyLoads: Load, Transceivers: Input, Wires: Wire, Contacts: Contact}

// joinBelow is the greatest resistance in ohms of a fault's bridge that is taken for
// a joint and not for something beside the bus, while its own ohms do not count yet.
// This project's own choice, between a contact and a leak.
const joinBelow = 1.0

// orderOf is the order in which groups are put back. Volts begin with terminators and
// supply loads in place: by themselves they make no voltage.
func orderOf(q solve.Quantity) []Group {
	if q == solve.Volts {
		return []Group{Transceivers, Strays, FaultOhms, Wires, Contacts}
	}
	return []Group{Terminators, FaultOhms, Strays, SupplyLoads, Transceivers, Wires, Contacts}
}

// stage is a reading with some groups put back.
type stage struct {
	c       *netlist.Circuit
	changes []solve.Change
}

// makeStage leaves of a circuit and of changes what the groups say: of what lies
// along a conductor an ideal joint stands in for the rest, of what lies beside
// it nothing. Volts are without any change until the fault is put back.
func makeStage(c *netlist.Circuit, q Question, back []Group) stage {
	ideal := *c
	ideal.Elements = slices.Clone(c.Elements)
	for i := range ideal.Elements {
		e := &ideal.Elements[i]
		group, known := groupOf[e.Kind]
		if !known || slices.Contains(back, group) {
			continue
		}
		law := netlist.Law{Siemens: true} // open
		if group == Wires || group == Contacts {
			law = netlist.Law{} // a joint
		}
		e.Off = law
		if group != SupplyLoads {
			e.Awake = law
		}
	}
	s := stage{c: &ideal}
	faulty := slices.Contains(back, FaultOhms)
	if q.Quantity == solve.Volts && !faulty {
		return s
	}
	for _, ch := range q.Changes {
		switch x := ch.(type) {
		case solve.Insert:
			if !faulty {
				continue
			}
		case solve.Bridge:
			if !faulty && x.Ohms > joinBelow {
				continue
			}
			if !faulty {
				x.Ohms = 0
				ch = x
			}
		case solve.Replace:
			if x.Element >= 0 && x.Element < len(c.Elements) {
				if group, known := groupOf[c.Elements[x.Element].Kind]; known && !slices.Contains(back, group) {
					continue
				}
			}
		}
		s.changes = append(s.changes, ch)
	}
	return s
}

// explainTerms puts one group after the other back. A stage that cannot be solved
// (an ideal wire may join what must not be joined) goes together with the next.
func explainTerms(c *netlist.Circuit, q Question) ([]Term, error) {
	var back []Group
	if q.Quantity == solve.Volts {
		back = []Group{Terminators, SupplyLoads}
	}
	var out []Term
	var with []Group
	total, started := 0.0, false
	present := func(group Group) bool {
		return group == FaultOhms && len(q.Changes) > 0 || slices.ContainsFunc(c.Elements, func(e netlist.Element) bool { return groupOf[e.Kind] == group })
	}
	order := slices.DeleteFunc(orderOf(q.Quantity), func(g Group) bool { return !present(g) })
	for n, group := range order {
		back = append(back, group)
		last := n == len(order)-1
		s := makeStage(c, q, back)
		t := Term{Group: group, With: with}
		net, err := solve.Assemble(s.c, q.Condition, nil, s.changes...)
		var r *solve.Response
		if err == nil {
			r, err = net.Respond(q.Quantity, q.From, q.To, solve.Meter{}) // an ideal one
		}
		switch {
		case err != nil && last:
			return nil, fmt.Errorf("the reading in terms: %w", err)
		case err != nil:
			with = append(with, group)
			continue
		}
		if _, joined := r.Ohms(); !joined {
			t.Open = true
			if q.Quantity == solve.Volts {
				t.Value, total = -total, 0 // nothing drives the meter
			}
			out = append(out, t)
			if !started {
				with = append(with, group)
			}
			continue
		}
		value := r.Value().Number
		t.Value, t.Total = value-total, value
		total, started, with = value, true, nil
		s.carriers(net, q, &t)
		out = append(out, t)
	}
	if !started || out[len(out)-1].Open {
		return out, nil
	}
	return q.meterTerm(c, out, total)
}

// meterTerm adds what the meter itself does.
func (q *Question) meterTerm(c *netlist.Circuit, out []Term, total float64) ([]Term, error) {
	if q.Meter.LeadOhms == 0 && (q.Quantity == solve.Ohms || q.Meter.InputOhms == 0) {
		return out, nil
	}
	meter := q.Meter
	meter.RangeOhms = 0
	net, err := solve.Assemble(c, q.Condition, nil, q.Changes...)
	if err != nil {
		return nil, err
	}
	v, err := net.Read(q.Quantity, q.From, q.To, meter)
	if err != nil {
		return nil, err
	}
	return append(out, Term{Group: TheMeter, Value: v.Number - total, Total: v.Number}), nil
}

// carriers lists what of a term's group carries current between the leads.
func (s *stage) carriers(net *solve.Net, q Question, t *Term) {
	q.Changes = s.changes
	p := newPaper(&Derivation{Result: -1, circuit: s.c}, net, q)
	p.hold()
	if p.from == p.to {
		return
	}
	on := p.between()
	for i := range on {
		if !on[i] || !p.live[i] {
			continue
		}
		for _, k := range p.d.Resistances[i].kin {
			r := &p.d.Resistances[k]
			if r.Kind != kindOf[t.Group] {
				continue
			}
			if !slices.Contains(t.Elements, r.Name) {
				t.Elements = append(t.Elements, r.Name)
			}
			at := slices.Index(t.Parts, r.Part)
			if at < 0 {
				at = len(t.Parts)
				t.Parts = append(t.Parts, r.Part)
				t.Ohms = append(t.Ohms, 0)
			}
			t.Ohms[at] += r.Ohms
		}
	}
}
