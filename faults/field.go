package faults

import (
	"errors"
	"math"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// A field sees all readings and all faults as ports of two nets, supply off and
// idle, so that any few faults at once are weighed without solving anew. What it
// gives is exact to far below a meter's last digit; it serves to rule out what
// cannot be and to weigh several faults at once.
type field struct {
	c      *netlist.Circuit
	faults []*Fault
	// fractions are the places along its wires where each fault is looked for.
	fractions [][]float64
	ports     map[solve.Supply]*solve.Ports
	// strands are what each fault is half-way along, by supply; able is false where
	// it cannot be seen from ports. places are the same at each of its fractions.
	strands map[solve.Supply][]threadPlan
	places  map[solve.Supply][][]threadPlan
}

// threadPlan is a fault as strands; free is the one whose ohms are open, or −1.
type threadPlan struct {
	able    bool
	strands []solve.Strand
	free    int
	unplugs []string // connectors that the fault has apart
}

// newField lays out faults for a meter that shows differences of so many ohms.
func newField(c *netlist.Circuit, faults []*Fault, finest float64) *field {
	f := &field{
		c: c, faults: faults, ports: map[solve.Supply]*solve.Ports{},
		strands: map[solve.Supply][]threadPlan{}, places: map[solve.Supply][][]threadPlan{},
	}
	for _, x := range faults {
		f.fractions = append(f.fractions, fractions(c, x, finest))
	}
	return f
}

// of gives the ports of a supply state with every fault laid in, made when first
// asked for.
func (f *field) of(supply solve.Supply) (*solve.Ports, []threadPlan, error) {
	if p, ok := f.ports[supply]; ok {
		return p, f.strands[supply], nil
	}
	p, err := solve.PortsOf(f.c, supply)
	if err != nil {
		return nil, nil, err
	}
	lay := func(x *Fault, fraction float64) (threadPlan, error) {
		plan, err := layFault(p, x, fraction)
		if err != nil {
			return plan, err
		}
		for _, s := range plan.strands {
			if err := p.Prepare(s.Port); err != nil {
				return plan, err
			}
		}
		return plan, nil
	}
	plans, places := make([]threadPlan, len(f.faults)), make([][]threadPlan, len(f.faults))
	for i, x := range f.faults {
		if plans[i], err = lay(x, 0.5); err != nil {
			return nil, nil, err
		}
		if len(f.fractions[i]) == 1 {
			continue
		}
		for _, fraction := range f.fractions[i] {
			plan, err := lay(x, fraction)
			if err != nil {
				return nil, nil, err
			}
			plans[i].able = plans[i].able && plan.able
			places[i] = append(places[i], plan)
		}
	}
	f.ports[supply], f.strands[supply], f.places[supply] = p, plans, places
	return p, plans, nil
}

// layFault lays one fault, the free resistance last.
func layFault(p *solve.Ports, x *Fault, fraction float64) (threadPlan, error) {
	plan := threadPlan{able: true, free: -1}
	base, err := p.Lay(x.base)
	if errors.Is(err, solve.ErrNoPort) {
		return threadPlan{free: -1}, nil
	}
	if err != nil {
		return plan, err
	}
	plan.strands = base
	for _, ch := range x.base {
		if u, ok := ch.(solve.Unplug); ok {
			plan.unplugs = append(plan.unplugs, u.Connector)
		}
	}
	if x.free == nil {
		return plan, nil
	}
	free, err := p.Lay([]solve.Change{x.free(fraction)})
	if errors.Is(err, solve.ErrNoPort) {
		return threadPlan{free: -1}, nil
	}
	if err != nil {
		return plan, err
	}
	if len(free) == 1 {
		plan.free = len(plan.strands)
		plan.strands = append(plan.strands, free[0])
	}
	return plan, nil
}

// view is the readings of one condition, seen from ports.
type view struct {
	c      *netlist.Circuit
	ports  *solve.Ports
	supply solve.Supply
	// base is what the condition parts, taken out of all that follows.
	base      []solve.Strand
	unplugged []string
	lower     [][]float64  // the base's small system as L·D·Lᵀ: L below its unit diagonal
	diagonal  []float64    // and D
	baseVolts []float64    // the voltages at the base's strands through L
	probes    []int        // indices of the readings
	leads     []solve.Port // their ports
	rail      []seenPort   // the same, seen with the base
	threads   []*thread    // by fault; nil where it does nothing here
	turn      []int        // by place in probes, the order in which a search reads them
	nought    []float64    // by reading, none
	mutual    mutual       // nil where it is not kept
	most      int          // ports of a thread
	places    [][]threadPlan
	placed    [][]*thread // by fault and place, made when asked for
	meter     solve.Meter
}

// seenPort is a port with the condition's parted contacts taken into account.
type seenPort struct {
	port   solve.Port
	own    float64 // without free ohms
	volts  float64
	base   []float64 // resistance to each strand of the base, through L
	solved []float64 // the same through D
	number int       // its place in a mutual
}

// thread is one fault in one view.
type thread struct {
	ports []seenPort
	fixed []float64   // own resistance with the fixed ohms in
	limit []float64   // those ohms' part of it, which nothing can take away
	ohms  []float64   // those ohms
	free  int         // the port whose ohms are free, or −1
	to    [][]float64 // by port and probe
	most  float64     // the greatest of them
	order []int       // the ports, the one with free ohms last
	ends  [2]float64  // what the free ohms stand for at the ends of their range, in a search
}

var errNotFromPorts = errors.New("faults: the condition cannot be seen from ports")

// view makes a condition ready. faults lists those to be looked at; nil for all.
func (f *field) view(g *group, probes []Probe, meter solve.Meter, only []int) (*view, error) {
	p, plans, err := f.of(g.condition.Supply)
	if err != nil {
		return nil, err
	}
	v := &view{
		c: f.c, ports: p, supply: g.condition.Supply, unplugged: g.condition.Unplugged, meter: meter, threads: make([]*thread, len(f.faults)),
		places: f.places[g.condition.Supply], placed: make([][]*thread, len(f.faults)),
	}
	parted, err := f.c.Unplug(g.condition.Unplugged...)
	if err != nil {
		return nil, err
	}
	for _, u := range f.c.Units {
		if g.condition.Supply == solve.Idle && slices.Contains(parted, u.GroundElement) {
			return nil, errNotFromPorts // a module without supply is another module
		}
	}
	if v.base, err = p.Lay(partAll(parted)); err != nil {
		if errors.Is(err, solve.ErrNoPort) {
			return nil, errNotFromPorts
		}
		return nil, err
	}
	for i := range v.base {
		if err := p.Prepare(v.base[i].Port); err != nil {
			return nil, err
		}
	}
	if !v.factorise() {
		return nil, errNotFromPorts
	}
	for _, i := range g.probes {
		if probes[i].driven() {
			continue
		}
		lead := p.Meter(probes[i].From, probes[i].To)
		if err := p.Prepare(lead); err != nil {
			return nil, err
		}
		v.probes = append(v.probes, i)
		v.leads = append(v.leads, lead)
		v.rail = append(v.rail, v.see(lead))
	}
	if only == nil {
		only = make([]int, len(plans))
		for i := range only {
			only[i] = i
		}
	}
	for _, i := range only {
		t, err := v.thread(&plans[i])
		if err != nil {
			return nil, err
		}
		if v.threads[i] = t; t != nil {
			v.most = max(v.most, len(t.ports))
		}
	}
	return v, nil
}

// factorise prepares the base's own small system. All of it takes conductance away, so
// the matrix is negative definite and needs no pivots.
//
// Two contacts of one loop that are both apart leave a difference in the last digits,
// which their inverse would multiply into everything; one after the other, each with
// what those before it leave, it stays as small as it is.
func (v *view) factorise() bool {
	for i := range v.base {
		row := make([]float64, i)
		for j := range row {
			row[j] = v.ports.Between(&v.base[i].Port, &v.base[j].Port)
		}
		v.through(row)
		d := v.ports.Own(&v.base[i])
		for j, x := range row {
			row[j] = x / v.diagonal[j]
			d -= x * row[j]
		}
		if d == 0 || math.IsNaN(d) {
			return false
		}
		v.lower, v.diagonal = append(v.lower, row), append(v.diagonal, d)
	}
	v.baseVolts = make([]float64, len(v.base))
	for i := range v.base {
		v.baseVolts[i] = v.ports.Volts(&v.base[i].Port)
	}
	v.through(v.baseVolts)
	return true
}

// through solves L y = x in place, for the first strands of the base.
func (v *view) through(x []float64) {
	for i := range x {
		for j, l := range v.lower[i] {
			x[i] -= l * x[j]
		}
	}
}

func (v *view) see(port solve.Port) seenPort {
	s := seenPort{port: port, own: v.ports.Fixed(&port), volts: v.ports.Volts(&port)}
	if len(v.base) == 0 {
		return s
	}
	s.base, s.solved = make([]float64, len(v.base)), make([]float64, len(v.base))
	for i := range v.base {
		s.base[i] = v.ports.Between(&v.base[i].Port, &port)
	}
	v.through(s.base)
	for i, x := range s.base {
		s.solved[i] = x / v.diagonal[i]
		s.own -= x * s.solved[i]
		s.volts -= s.solved[i] * v.baseVolts[i]
	}
	return s
}

// between is the resistance between two ports, the base in.
func (v *view) between(a, b *seenPort) float64 {
	z := v.ports.Between(&a.port, &b.port)
	for i, x := range a.base {
		z -= x * b.solved[i]
	}
	return z
}

// parts tells whether the condition parts what a strand is about anyway.
func (v *view) parts(s *solve.Strand) bool {
	for k := range v.base {
		if s.SameBranch(&v.base[k].Port) {
			return true
		}
	}
	return s.Gone(v.unplugged)
}

// here gives a fault's strands in this condition, and which is free. Connectors that
// a fault and the condition have apart may together take the ground from a module.
func (v *view) here(plan *threadPlan) (strands []solve.Strand, free int, err error) {
	free = -1
	for i, s := range plan.strands {
		if v.parts(&s) {
			continue
		}
		if i == plan.free {
			free = len(strands)
		}
		strands = append(strands, s)
	}
	if len(plan.unplugs) == 0 || len(v.unplugged) == 0 {
		return strands, free, nil
	}
	parted, err := v.c.Unplug(append(slices.Clone(v.unplugged), plan.unplugs...)...)
	if err != nil {
		return nil, -1, err
	}
	more, err := v.ports.Lay(partAll(parted))
	if err != nil {
		return nil, -1, err
	}
next:
	for _, s := range more {
		for k := range strands {
			if s.SameBranch(&strands[k].Port) {
				continue next
			}
		}
		if v.parts(&s) {
			continue
		}
		if err := v.ports.Prepare(s.Port); err != nil {
			return nil, -1, err
		}
		strands = append(strands, s)
	}
	return strands, free, nil
}

// thread sees a fault here; nil where it does nothing.
func (v *view) thread(plan *threadPlan) (*thread, error) {
	t := &thread{free: -1}
	strands, free, err := v.here(plan)
	if err != nil {
		return nil, err
	}
	for i, s := range strands {
		seen := v.see(s.Port)
		t.ohms = append(t.ohms, s.Ohms())
		limit := 0.0
		if i == free {
			t.free = len(t.ports)
		} else {
			limit = v.ports.Free(&seen.port, s.Ohms())
		}
		t.limit = append(t.limit, limit)
		t.fixed = append(t.fixed, beyond(&seen.port, seen.own+limit, limit))
		to := make([]float64, len(v.rail))
		for k := range v.rail {
			to[k] = v.between(&seen, &v.rail[k])
		}
		t.ports = append(t.ports, seen)
		t.to = append(t.to, to)
		t.most = max(t.most, greatest(to))
	}
	if len(t.ports) == 0 {
		return nil, nil
	}
	for i := range t.ports {
		if i != t.free {
			t.order = append(t.order, i)
		}
	}
	if t.free >= 0 {
		t.order = append(t.order, t.free)
	}
	return t, nil
}

// at sees a fault at one of its places. Different faults may be asked for at the same
// time.
func (v *view) at(fault, place int) (*thread, error) {
	plans := v.places[fault]
	if len(plans) == 0 {
		return v.threads[fault], nil
	}
	if v.placed[fault] == nil {
		list := make([]*thread, len(plans))
		for k := range plans {
			var err error
			if list[k], err = v.thread(&plans[k]); err != nil {
				return nil, err
			}
		}
		v.placed[fault] = list
	}
	return v.placed[fault][place], nil
}

// beyond keeps a port's own resistance, others laid in, where it must lie: what its ohms
// are by themselves, and what it sees of the harness further in the same direction.
// Behind a cut it sees nothing, and rounding alone would decide on which side of a
// pole a reading comes out.
func beyond(p *solve.Port, own, limit float64) float64 {
	if p.Series() {
		return min(own, limit)
	}
	return max(own, limit)
}

// most is how many strands several faults may have together.
const most = 40

// knot is several faults in one view, ready for any ohms.
type knot struct {
	v     *view
	n     int
	z     [most][most]float64 // between their ports
	to    [most][]float64
	volts [most]float64
	fixed [most]float64
	limit [most]float64
	free  [most]int // which fault's ohms stand in the port, or −1
	port  [most]*solve.Port
}

// tie puts faults together; false where they are too many or share a branch.
func (k *knot) tie(v *view, threads ...*thread) bool {
	k.v, k.n = v, 0
	for m, t := range threads {
		if t == nil {
			continue
		}
		for i := range t.ports {
			if k.n == most {
				return false
			}
			p := &t.ports[i]
			for j := 0; j < k.n; j++ {
				if p.port.SameBranch(k.port[j]) {
					return false
				}
			}
			k.port[k.n] = &p.port
			k.to[k.n], k.volts[k.n], k.fixed[k.n], k.limit[k.n] = t.to[i], p.volts, t.fixed[i], t.limit[i]
			k.free[k.n] = -1
			if i == t.free {
				k.free[k.n] = m
			}
			k.n++
		}
	}
	a := 0
	for _, t := range threads {
		if t == nil {
			continue
		}
		for i := range t.ports {
			b := 0
			for _, u := range threads {
				if u == nil {
					continue
				}
				for j := range u.ports {
					if b < a {
						k.z[a][b] = v.between(&t.ports[i], &u.ports[j])
					}
					b++
				}
			}
			a++
		}
	}
	return true
}

// read gives the view's readings on the scale, with ohms of each fault, in out by
// probe index. scratch must be the caller's own.
func (k *knot) read(ohms []float64, out []float64, s *knotScratch) {
	n := k.n
	k.factorise(ohms, s)
	idle := k.v.supply == solve.Idle
	for q, at := range k.v.probes {
		across, volts := k.v.rail[q].own, k.v.rail[q].volts
		for a := 0; a < n; a++ {
			x := k.to[a][q]
			for b := 0; b < a; b++ {
				x -= s.l[a][b] * s.w[b]
			}
			s.w[a] = x
			across -= x * x / s.d[a]
			if idle {
				volts -= x * s.volts[a] / s.d[a]
			}
		}
		meter := &k.v.meter
		switch {
		case idle:
			out[at] = meter.Shown(solve.Volts, max(across, 0), volts).Number
		case meter.RangeOhms > 0 && across+meter.LeadOhms > meter.RangeOhms:
			out[at] = 1
		default:
			out[at] = ohmsOnScale(across + meter.LeadOhms)
		}
	}
}

// factorise makes the small system of the faults ready, with ohms of each.
func (k *knot) factorise(ohms []float64, s *knotScratch) {
	n := k.n
	// A symmetric matrix of which one block is positive and the other negative
	// definite has a factorisation L D Lᵀ without pivots.
	for a := 0; a < n; a++ {
		d, limit := k.fixed[a], k.limit[a]
		if m := k.free[a]; m >= 0 {
			limit = k.v.ports.Free(k.port[a], ohms[m])
			d += limit
		}
		for b := 0; b < a; b++ {
			x := k.z[a][b]
			for c := 0; c < b; c++ {
				x -= s.l[a][c] * s.l[b][c] * s.d[c]
			}
			x /= s.d[b]
			s.l[a][b] = x
			d -= x * x * s.d[b]
		}
		if d = beyond(k.port[a], d, limit); d == 0 {
			d = math.Inf(1) // does nothing beside the others
		}
		s.d[a] = d
	}
	if k.v.supply == solve.Idle {
		for a := 0; a < n; a++ {
			x := k.volts[a]
			for b := 0; b < a; b++ {
				x -= s.l[a][b] * s.volts[b]
			}
			s.volts[a] = x
		}
	}
}

// bend gives what the faults do to a bus whose ports are the view's leads.
func (k *knot) bend(ohms []float64, s *knotScratch) []solve.Bend {
	k.factorise(ohms, s)
	n, ports := k.n, len(k.v.rail)
	lifts := make([]float64, n*ports)
	out := make([]solve.Bend, n)
	for a := range n {
		lift := lifts[a*ports : (a+1)*ports]
		copy(lift, k.to[a])
		for b := range a {
			l := s.l[a][b]
			for q, x := range out[b].Lift {
				lift[q] -= l * x
			}
		}
		out[a] = solve.Bend{Lift: lift, K: -1 / s.d[a], Drive: s.volts[a]}
	}
	return out
}

type knotScratch struct {
	l     [most][most]float64
	d, w  [most]float64
	volts [most]float64
}
