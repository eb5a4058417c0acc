package solve

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
)

// ErrSupplyOff says that a bus at work was asked for with the supply off.
var ErrSupplyOff = errors.New("solve: modules send with the supply on only; set the condition's supply to Idle")

// Station is something that sends and receives on one network: a module's
// transceiver, or a scan tool's.
type Station struct {
	// Name of the module or tool.
	Name string
	// Unit is an index of Circuit.Units, −1 for a tool.
	Unit    int
	Network string
	Layer   netlist.Layer
	// Powered is false for a module without supply or ground, Stuck true for
	// one that sends dominant all the time.
	Powered, Stuck bool

	up, down netlist.Drive
}

// Bus is a solved net seen from its drivers: the open-circuit voltage at every
// port, and what current into one port does at every other. A driver is a switch
// of volts behind ohms that takes no current the other way and gives no more than
// its limit, so what the drivers settle at is a small quadratic program over the
// ports, whatever the size of the net.
type Bus struct {
	Stations []Station
	net      *Net
	z        []float64 // standard parameters of the drivers, nil for the middle
	nodes    []Leads   // the ports as nodes of the circuit
	ports    []port    // High and Low of each station in turn, then the probes
	open     []float64 // by port: volts with no driver on
	across   []float64 // port resistances in ohms, row by row
	bent     []Bend    // resistances that are set, laid over both
	stuck    []int     // stations that send all the time
	unloaded bool      // nothing is known of what the leads draw
}

// Bend is what one resistance, or a combination of several, does to a bus: to the
// resistances between ports, Z' = Z + K·t·tᵀ, and to their voltages, V' = V + K·Drive·t,
// t being Lift by port. It is added where a number is asked for, since a reading asks for
// a few of them only. Lift is in ohms, K in siemens, Drive in volts; or in others that come
// to the same.
type Bend struct {
	Lift     []float64
	K, Drive float64
}

// between is the resistance in ohms between two ports.
func (b *Bus) between(p, q int) float64 {
	x := b.across[p*len(b.ports)+q]
	for i := range b.bent {
		c := &b.bent[i]
		x += c.K * c.Lift[p] * c.Lift[q]
	}
	return x
}

// idle is the voltage of a port with no driver on.
func (b *Bus) idle(p int) float64 {
	x := b.open[p]
	for i := range b.bent {
		c := &b.bent[i]
		x += c.K * c.Drive * c.Lift[p]
	}
	return x
}

// port is a pair of node classes. A port between parts that have nothing in
// common is apart: no current flows there and it shows nothing.
type port struct {
	plus, minus int
	apart       bool
}

// Leads is where the two leads of a voltmeter are, as indices of Circuit.Nodes.
type Leads struct{ From, To int }

// Tool is a scan tool at a connector: its transceivers, one for each network that
// the connector carries whole.
type Tool struct {
	// Site is the connector.
	Site string
}

// Bus prepares the net for modules that send. leads are the places whose voltages
// will be asked for, tools the scan tools that are plugged in. A tool is taken as
// the default driver and thresholds, and to load the bus with nothing.
func (n *Net) Bus(leads []Leads, tools ...Tool) (*Bus, error) { return n.bus(leads, false, tools) }

// UnloadedBus is [Net.Bus] for a meter that draws no current, whatever its input. It costs
// a solution for each driver, and none for the leads.
func (n *Net) UnloadedBus(leads []Leads, tools ...Tool) (*Bus, error) {
	return n.bus(leads, true, tools)
}

func (n *Net) bus(leads []Leads, unloaded bool, tools []Tool) (*Bus, error) {
	if n.condition.Supply != Idle {
		return nil, ErrSupplyOff
	}
	b := &Bus{net: n, z: n.z, unloaded: unloaded}
	c := n.circuit
	for i, t := range c.Transceivers {
		b.Stations = append(b.Stations, Station{
			Name: c.Units[t.Unit].Name, Unit: t.Unit, Network: t.Network, Layer: t.Layer,
			Powered: n.powered[t.Unit], Stuck: n.stuck[i] && n.powered[t.Unit], up: t.Up, down: t.Down,
		})
		b.addPort(t.High, t.Ground)
		b.addPort(t.Low, t.Ground)
	}
	for _, tool := range tools {
		if err := b.addTool(tool); err != nil {
			return nil, err
		}
	}
	for i := range b.Stations {
		if b.Stations[i].Stuck {
			b.stuck = append(b.stuck, i)
		}
	}
	for _, l := range leads {
		if l.From < 0 || l.From >= len(c.Nodes) || l.To < 0 || l.To >= len(c.Nodes) {
			return nil, fmt.Errorf("solve: no nodes %d and %d", l.From, l.To)
		}
		b.addPort(l.From, l.To)
	}
	idle, err := n.state()
	if err != nil {
		return nil, err
	}
	b.open = make([]float64, len(b.ports))
	b.across = make([]float64, len(b.ports)*len(b.ports))
	for q, to := range b.ports {
		if to.apart {
			continue
		}
		b.open[q] = idle[to.plus] - idle[to.minus]
		upTo := q
		if unloaded {
			if q >= 2*len(b.Stations) {
				continue // no current comes from the leads
			}
			upTo = len(b.ports) - 1 // what they show is had from the drivers
		}
		lift, err := n.potentials(dipole(to.plus, to.minus), false)
		if err != nil {
			return nil, err
		}
		for p := 0; p <= upTo; p++ {
			if at := b.ports[p]; !at.apart {
				x := lift[at.plus] - lift[at.minus]
				b.across[p*len(b.ports)+q], b.across[q*len(b.ports)+p] = x, x
			}
		}
	}
	return b, nil
}

func (b *Bus) addPort(plus, minus int) {
	n := b.net
	p := port{plus: n.class[plus], minus: n.class[minus]}
	p.apart = n.Apart(plus, minus)
	b.nodes = append(b.nodes, Leads{plus, minus})
	b.ports = append(b.ports, p)
}

func (b *Bus) addTool(tool Tool) error {
	c := b.net.circuit
	s, err := c.FindSite(tool.Site)
	if err != nil {
		return fmt.Errorf("solve: %w", err)
	}
	found := false
	for _, n := range c.Harness.Networks {
		layer, ok := c.Harness.Layer(n.Name)
		if !ok {
			continue
		}
		nodes := make([]int, 0, 2)
		for _, k := range layer.Conductors {
			for _, contact := range s.Contacts {
				if contact.Rail == "" && contact.Conductor == (netlist.Conductor{Network: n.Name, Name: k}) {
					nodes = append(nodes, contact.Node)
					break
				}
			}
		}
		if len(nodes) != len(layer.Conductors) {
			continue
		}
		if len(nodes) == 1 {
			nodes = []int{netlist.SupplyNode, nodes[0]}
		}
		found = true
		up, down := netlist.DefaultDrives(layer)
		b.Stations = append(b.Stations, Station{Name: "scan tool at " + s.Name, Unit: -1, Network: n.Name, Layer: layer, Powered: true, up: up, down: down})
		b.addPort(nodes[0], netlist.GroundNode)
		b.addPort(nodes[1], netlist.GroundNode)
	}
	if !found {
		return fmt.Errorf("solve: connector %s carries no network whole, so no scan tool can talk there", s.Name)
	}
	return nil
}

// Vary gives the bus with a free resistance set, at the cost of a number for each port.
// It is the bus itself where the resistance moves no port of it, whatever its ohms.
func (b *Bus) Vary(v *Variation, ohms float64) (*Bus, error) {
	n := b.net
	if v.net != n {
		return nil, errors.New("solve: the variation is of another net")
	}
	idle, err := n.state()
	if err != nil {
		return nil, err
	}
	var bent Bend
	if v.insert {
		if v.branch < 0 {
			return b, nil
		}
		br := n.branches[v.branch]
		bent.K = br.siemens * br.siemens * ohms / (1 + ohms*v.seen)
		bent.Drive = v.at(idle) - br.volts
	} else {
		total := ohms + v.source
		if total <= 0 {
			return b, nil
		}
		bent.K, bent.Drive = -1/total, v.at(idle)
	}
	bent.Lift = make([]float64, len(b.ports))
	moved := false
	for i, p := range b.ports {
		if !p.apart {
			bent.Lift[i] = v.lift[p.plus] - v.lift[p.minus]
			moved = moved || bent.Lift[i] != 0
		}
	}
	if !moved {
		return b, nil
	}
	return b.Bent(bent), nil
}

// Bent is the bus with more laid over it. Each Lift has a number for each port, in the
// order of [Bus.Ports].
func (b *Bus) Bent(list ...Bend) *Bus {
	out := *b
	out.bent = append(b.bent[:len(b.bent):len(b.bent)], list...)
	return &out
}

// Ports lists the pairs of nodes that the bus is seen from, as indices of Circuit.Nodes:
// High and Low of each station to its own ground, then the leads.
func (b *Bus) Ports() []Leads { return b.nodes }

// WithoutSupply is the bus with the stations of some units sending no more; the wiring
// stays as it is.
func (b *Bus) WithoutSupply(units ...int) *Bus {
	out := *b
	out.Stations = slices.Clone(b.Stations)
	for i := range out.Stations {
		if slices.Contains(units, out.Stations[i].Unit) {
			out.Stations[i].Powered = false
		}
	}
	return &out
}

// Below these a change of a port's resistance or voltage is no change: far less than a
// meter's last digit for any current that a driver gives.
const (
	sameOhms  = 1e-6
	sameVolts = 1e-7
)

// SameAs tells whether the k-th leads read the same on b as on the bus that it was varied
// from, as far as a meter could ever show, while some stations send.
func (b *Bus) SameAs(of *Bus, k int, senders []int) bool {
	if b == of {
		return true
	}
	if len(of.bent) > 0 || b.net != of.net || !sameList(b.across, of.across) || !sameList(b.Stations, of.Stations) {
		return false
	}
	for c := range b.bent {
		bent := &b.bent[c]
		most := math.Abs(bent.Lift[2*len(b.Stations)+k])
		for _, list := range [][]int{senders, b.stuck} {
			for _, i := range list {
				most = max(most, math.Abs(bent.Lift[2*i]), math.Abs(bent.Lift[2*i+1]))
			}
		}
		if lift := math.Abs(bent.K) * most; lift*most >= sameOhms || lift*math.Abs(bent.Drive) >= sameVolts {
			return false
		}
	}
	return true
}

// sameList tells whether two lists are one and the same; a harness may have no station, so
// that there is none to look at.
func sameList[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// DriveState is what a driver's switch does.
type DriveState int

// The states of a switch: its diode blocks, it conducts, it limits its current.
const (
	Blocked DriveState = iota
	Conducting
	Limiting
)

func (s DriveState) String() string {
	return [...]string{"blocked", "conducting", "limiting"}[s]
}

// Sent is what the bus settles at while stations send dominant.
type Sent struct {
	bus *Bus
	// Senders are the stations that send, as indices of Bus.Stations, those that
	// are stuck included.
	Senders []int
	// UpAmps and DownAmps are the currents of each sender's switches, Up and
	// Down what they do.
	UpAmps, DownAmps []float64
	Up, Down         []DriveState

	volts []float64 // by port
}

// Send lets stations send dominant at once, beside those that are stuck. A
// station without supply sends nothing. With no senders it gives the recessive
// bus.
func (b *Bus) Send(senders ...int) (*Sent, error) { return b.send(senders, false) }

// SendRecessive lets stations drive the recessive state, for layers that are
// driven both ways: the two switches exchanged.
func (b *Bus) SendRecessive(senders ...int) (*Sent, error) { return b.send(senders, true) }

func (b *Bus) send(senders []int, recessive bool) (*Sent, error) {
	vars, sending, err := b.variables(senders)
	if err != nil {
		return nil, err
	}
	if recessive {
		for k := 0; k+1 < len(vars); k += 2 {
			if slices.Contains(senders, sending[k/2]) {
				vars[k].port, vars[k+1].port = vars[k+1].port, vars[k].port
			}
		}
	}
	x := make([]float64, len(vars))
	if err := b.settle(vars, len(vars), x); err != nil {
		return nil, err
	}
	out := &Sent{bus: b, Senders: sending, volts: make([]float64, len(b.ports))}
	for k := 0; k < len(vars); k += 2 {
		out.UpAmps, out.DownAmps = append(out.UpAmps, x[k]), append(out.DownAmps, x[k+1])
		out.Up, out.Down = append(out.Up, vars[k].state(x[k])), append(out.Down, vars[k+1].state(x[k+1]))
	}
	for p := range out.volts {
		out.volts[p] = b.voltage(p, vars, x)
	}
	return out, nil
}

// volts fills in, by port, the voltages at the stations of one network while one of them
// sends. Only for a bus with nothing stuck.
func (b *Bus) volts(from int, recessive bool, out []float64) error {
	var some [few]variable
	var x [few]float64
	vars := b.drive(some[:0], from)
	if recessive {
		vars[0].port, vars[1].port = vars[1].port, vars[0].port
	}
	if err := b.settle(vars, len(vars), x[:]); err != nil {
		return err
	}
	for r := range b.Stations {
		if b.Stations[r].Network == b.Stations[from].Network {
			out[2*r], out[2*r+1] = b.voltage(2*r, vars, x[:]), b.voltage(2*r+1, vars, x[:])
		}
	}
	return nil
}

// Read gives what a voltmeter at the k-th leads shows meanwhile, its load on the
// bus included.
func (b *Bus) Read(k int, meter Meter, senders ...int) (Value, error) {
	var some [few]variable
	var x [few]float64
	vars := some[:0]
	var err error
	if len(senders) == 1 && len(b.stuck) == 0 && senders[0] >= 0 && senders[0] < len(b.Stations) {
		if i := senders[0]; b.Stations[i].Powered {
			vars = b.drive(vars, i)
		}
	} else if vars, _, err = b.variables(senders); err != nil {
		return Value{}, err
	}
	probe := 2*len(b.Stations) + k
	drivers := len(vars)
	if !b.ports[probe].apart && !b.unloaded && meter.InputOhms > 0 {
		vars = append(vars, variable{probe, -1, 0, meter.InputOhms, math.Inf(1)})
	}
	amps := x[:]
	if len(vars) > few {
		amps = make([]float64, len(vars))
	}
	if err := b.settle(vars, drivers, amps); err != nil {
		return Value{}, err
	}
	return Value{Number: b.voltage(probe, vars, amps)}, nil
}

// variable is one unknown current of the quadratic program.
type variable struct {
	port        int
	sign        float64 // +1 into the port, −1 out of it
	volts, ohms float64
	limit       float64
}

// variables lists the currents of the stations that send: two for each, up and
// down, in the order of stations.
func (b *Bus) variables(senders []int) ([]variable, []int, error) {
	sends := func(i int) bool {
		if b.Stations[i].Stuck {
			return true
		}
		return b.Stations[i].Powered && slices.Contains(senders, i)
	}
	for _, s := range senders {
		if s < 0 || s >= len(b.Stations) {
			return nil, nil, fmt.Errorf("solve: no station %d", s)
		}
	}
	vars := make([]variable, 0, 2*len(senders)+1)
	var sending []int
	for i := range b.Stations {
		if !sends(i) {
			continue
		}
		sending = append(sending, i)
		vars = b.drive(vars, i)
	}
	return vars, sending, nil
}

// drive adds the two currents of a station that sends.
func (b *Bus) drive(vars []variable, i int) []variable {
	s, z := &b.Stations[i], b.z
	if s.Unit < 0 {
		z = nil // a tool has no tolerances of the harness
	}
	return append(vars,
		variable{2 * i, 1, s.up.Volts.At(z), s.up.Ohms.At(z), s.up.LimitAmps.At(z)},
		variable{2*i + 1, -1, s.down.Volts.At(z), s.down.Ohms.At(z), s.down.LimitAmps.At(z)})
}

// voltage is what a port shows with the currents flowing.
func (b *Bus) voltage(p int, vars []variable, x []float64) float64 {
	v := b.idle(p)
	for k := range vars {
		v += vars[k].sign * b.between(p, vars[k].port) * x[k]
	}
	return v
}

func (v variable) state(amps float64) DriveState {
	switch {
	case amps <= 0:
		return Blocked
	case amps >= v.limit:
		return Limiting
	}
	return Conducting
}

// settle finds the currents, into x. A conducting switch has V_port = volts ∓ ohms·amps,
// a blocked one is held away from that by its diode, a limiting one by its limit:
// the conditions of a minimum of ½ xᵀ(S Z S + R) x + (S (V₀ − volts))ᵀ x over the
// box of 0 to the limits.
func (b *Bus) settle(vars []variable, drivers int, x []float64) error {
	n := len(vars)
	if n == 0 {
		return nil
	}
	for i := range vars[:drivers] {
		if b.ports[vars[i].port].apart {
			vars[i].limit = 0 // no way for a current
		}
	}
	if n <= few && b.settleFew(vars, drivers, x) {
		return nil
	}
	q := mat.NewSymDense(n, nil)
	c, low, high := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, v := range vars {
		for j := i; j < n; j++ {
			q.SetSym(i, j, v.sign*vars[j].sign*b.between(v.port, vars[j].port))
		}
		q.SetSym(i, i, q.At(i, i)+v.ohms)
		c[i] = v.sign * (b.idle(v.port) - v.volts)
		low[i], high[i] = 0, v.limit
		if i >= drivers {
			low[i] = math.Inf(-1) // the meter
		}
	}
	got, ok := boxQP(q, c, low, high)
	if !ok {
		return &DoubtfulError{Condition: math.Inf(1), Least: "a driver", Most: "the bus"}
	}
	copy(x, got)
	return nil
}

// few is so many currents that all states of their switches are soon tried: one sender
// and a meter.
const few = 3

// settleFew tries the states of the switches one after the other, every switch conducting
// first. Where a state holds it is the answer, since there is but one. false where rounding
// leaves none that does.
func (b *Bus) settleFew(vars []variable, drivers int, x []float64) bool {
	n := len(vars)
	var a [few][few]float64
	var c [few]float64
	for i := range vars {
		v := &vars[i]
		for j := range i + 1 {
			a[i][j] = v.sign * vars[j].sign * b.between(v.port, vars[j].port)
			a[j][i] = a[i][j]
		}
		a[i][i] += v.ohms
		c[i] = v.sign * (b.idle(v.port) - v.volts)
	}
	states := 1
	for range drivers {
		states *= 3
	}
	var state [few]DriveState
	for k := range states {
		for i := range drivers {
			state[i] = [...]DriveState{Conducting, Blocked, Limiting}[k%3]
			k /= 3
		}
		for i := drivers; i < n; i++ {
			state[i] = Conducting // the meter
		}
		if tryState(&a, &c, vars, drivers, &state, x) {
			return true
		}
	}
	return false
}

// tryState solves for the currents of the switches that conduct, the others held, and tells
// whether all are in the state that they are taken to be in.
func tryState(a *[few][few]float64, c *[few]float64, vars []variable, drivers int, state *[few]DriveState, x []float64) bool {
	n := len(vars)
	var m [few][few + 1]float64
	var free [few]int
	f := 0
	for i := range n {
		switch state[i] {
		case Conducting:
			if vars[i].limit == 0 {
				return false // one of no width stays where it is
			}
			free[f] = i
			f++
		case Blocked:
			x[i] = 0
		default:
			if x[i] = vars[i].limit; !(x[i] > 0) || math.IsInf(x[i], 1) {
				return false
			}
		}
	}
	for k, i := range free[:f] {
		m[k][f] = -c[i]
		for j := range n {
			if state[j] != Conducting {
				m[k][f] -= a[i][j] * x[j]
			}
		}
		for l, j := range free[:f] {
			m[k][l] = a[i][j]
		}
	}
	// The matrix is symmetric and positive definite, so it needs no pivoting.
	for k := range f {
		if !(m[k][k] > 0) {
			return false
		}
		for i := k + 1; i < f; i++ {
			r := m[i][k] / m[k][k]
			for j := k; j <= f; j++ {
				m[i][j] -= r * m[k][j]
			}
		}
	}
	for k := f - 1; k >= 0; k-- {
		sum := m[k][f]
		for l := k + 1; l < f; l++ {
			sum -= m[k][l] * x[free[l]]
		}
		i := free[k]
		if x[i] = sum / m[k][k]; i < drivers && !(x[i] > 0 && x[i] < vars[i].limit) {
			return false
		}
	}
	for i := range drivers {
		if state[i] == Conducting || vars[i].limit == 0 {
			continue
		}
		slope, noise := c[i], math.Abs(c[i])
		for j := range n {
			slope += a[i][j] * x[j]
			noise += math.Abs(a[i][j] * x[j])
		}
		// What rounding makes of a slope of nothing is no slope.
		noise *= 1e-13
		if state[i] == Blocked && slope < -noise || state[i] == Limiting && slope > noise {
			return false
		}
	}
	return true
}

// Levels are the voltages in volts at a station's conductors, to its own ground.
type Levels struct{ High, Low float64 }

// Difference is High less Low.
func (l Levels) Difference() float64 { return l.High - l.Low }

// Common is the mean of the two.
func (l Levels) Common() float64 { return (l.High + l.Low) / 2 }

// At gives the levels at a station.
func (s *Sent) At(station int) Levels {
	return Levels{s.volts[2*station], s.volts[2*station+1]}
}

// Volts gives the voltage at the k-th leads, without a meter's load.
func (s *Sent) Volts(k int) float64 { return s.volts[2*len(s.bus.Stations)+k] }

// DriveParameters lists the circuit's parameters on which the drivers of some
// stations depend, in ascending order.
func (b *Bus) DriveParameters(stations []int) []int {
	seen := map[int]bool{}
	for _, i := range stations {
		if s := &b.Stations[i]; s.Unit >= 0 {
			for _, d := range []netlist.Drive{s.up, s.down} {
				for _, spread := range []netlist.Spread{d.Volts, d.Ohms, d.LimitAmps} {
					for _, share := range spread.Parts {
						seen[share.Parameter] = true
					}
				}
			}
		}
	}
	out := make([]int, 0, len(seen))
	for p := range seen {
		out = append(out, p)
	}
	slices.Sort(out)
	return out
}

// WithParameter gives the bus with one standard parameter of its drivers moved by
// z (−1 to 1); the wiring keeps its values.
func (b *Bus) WithParameter(parameter int, z float64) *Bus {
	out, all := b.Movable()
	all[parameter] += z
	return out
}

// Movable gives the bus with the standard parameters of its drivers in a list that the
// caller may change and change back: many moves without a copy for each.
func (b *Bus) Movable() (*Bus, []float64) {
	out := *b
	out.z = make([]float64, len(b.net.circuit.Parameters))
	copy(out.z, b.z)
	return &out, out.z
}

// IdleSensitivities adds share times how far each parameter moves the voltage of
// the recessive bus at the k-th leads, to first order. What resistances that are laid over the
// bus change of that is counted for the inputs of the modules, which a leak is held up by.
func (b *Bus) IdleSensitivities(k int, share float64, out []float64) {
	p := b.ports[2*len(b.Stations)+k]
	if share == 0 || p.apart {
		return
	}
	n := b.net
	idle, err := n.state()
	if err != nil {
		return
	}
	probe, err := n.potentials(dipole(p.plus, p.minus), false)
	if err != nil {
		return
	}
	r := Response{net: n, quantity: Volts, from: p.plus, to: p.minus, drive: idle, probe: probe}
	j := make([]float64, len(out))
	r.Sensitivities(j)
	if len(b.bent) > 0 {
		b.bendInputs(2*len(b.Stations)+k, j)
	}
	for i := range j {
		out[i] += share * j[i]
	}
}

// bendInputs adds what the resistances laid over a bus change of how far the modules' inputs
// move the voltage at a port: an input lies across a port of its station.
func (b *Bus) bendInputs(at int, out []float64) {
	n := b.net
	for i := range n.branches {
		br := &n.branches[i]
		if br.element < 0 || br.replaced || n.circuit.Elements[br.element].Kind != netlist.InputElement {
			continue
		}
		p := slices.IndexFunc(b.ports[:2*len(b.Stations)], func(x port) bool { return x.plus == br.a && x.minus == br.b })
		if p < 0 || b.ports[p].apart {
			continue
		}
		before, after := b.across[p*len(b.ports)+at], b.between(p, at)
		d := after*(b.idle(p)-br.volts) - before*(b.open[p]-br.volts)
		for _, x := range br.law.Value.Parts {
			out[x.Parameter] -= d * x.Half // the law of an input is a conductance
		}
		for _, x := range br.law.Volts.Parts {
			out[x.Parameter] += br.siemens * (after - before) * x.Half
		}
	}
}
