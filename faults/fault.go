package faults

import (
	"errors"
	"fmt"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Kind is a sort of fault.
type Kind string

// The kinds of faults, with the words that a table or a filter uses.
const (
	Open            Kind = "open"            // one conductor parted
	OpenBoth        Kind = "open-both"       // every conductor of a pair parted
	HighJoint       Kind = "joint"           // a joint with resistance
	ShortGround     Kind = "short-to-ground" // a conductor on ground
	ShortSupply     Kind = "short-to-supply" // a conductor on the supply
	ShortConductors Kind = "short-between"   // two conductors of one network
	ShortNetworks   Kind = "short-networks"  // conductors of two networks
	Leak            Kind = "leak"            // water, dirt: some ohms to kilohms
	BackedOut       Kind = "backed-out"      // a contact that does not touch
	Unplugged       Kind = "unplugged"       // a connector apart
	Swapped         Kind = "swapped"         // H and L exchanged at a connector
	TermMissing     Kind = "terminator-missing"
	TermValue       Kind = "terminator-value" // wrong resistance
	TermExtra       Kind = "terminator-extra" // one too many
	NoSupply        Kind = "no-supply"        // a module without its supply
	NoGround        Kind = "no-ground"        // a module without its ground
	GroundOffset    Kind = "ground-offset"    // a module's ground lifted
	StuckDominant   Kind = "stuck-dominant"   // a transceiver that sends all the time
	ShortedInside   Kind = "shorted-inside"   // a transceiver with an inner short
)

// Fault is one thing that can be wrong with a harness.
type Fault struct {
	// Name is unique within a catalogue and stable: "open H in pair P3".
	Name string
	Kind Kind
	// Part is what to repair or replace: the name of a wire, pair, connector,
	// splice or terminator.
	Part string
	// Free is the resistance that the fault leaves open; nil where it has none.
	Free *Free
	// Wires are the elements along which the fault may sit at any fraction of
	// the length (two for a short inside a pair); empty where its place is a
	// point.
	Wires []int
	// LengthM is the length of those wires in metres, 0 where not known.
	LengthM float64
	// Rate is how common the fault is beside others: the built-in rate of its
	// kind, unless the harness says otherwise.
	Rate float64

	// base are the changes without freedom, free the one whose ohms are free
	// (a Bridge or an Insert; nil where there is none).
	base []solve.Change
	free func(fraction float64) solve.Change
}

// Free is a resistance in ohms that a fault may have: any value from Min to Max,
// all decades alike; Typical is what a table shows.
type Free struct{ Min, Max, Typical float64 }

// Changes gives what the fault does to the circuit. ohms is the free
// resistance, fraction the place along the wires; either is ignored where the
// fault has no such freedom.
func (f *Fault) Changes(ohms, fraction float64) []solve.Change {
	if f.free == nil {
		return f.base
	}
	out := append([]solve.Change(nil), f.base...)
	switch ch := f.free(fraction).(type) {
	case solve.Bridge:
		ch.Ohms = ohms
		out = append(out, ch)
	case solve.Insert:
		ch.Ohms = ohms
		out = append(out, ch)
	}
	return out
}

// With is the fault with what it leaves open set: ohms its resistance, fraction its place
// along the wires, 0 to 1; either is ignored where the fault has no such freedom. Its name
// says so: "short H to L in pair P3, 5 Ω, 25 % along".
func (f *Fault) With(ohms, fraction float64) *Fault {
	out := *f
	out.base, out.free = f.Changes(ohms, fraction), nil
	if f.Free != nil {
		out.Name += ", " + netlist.FormatOhms(ohms)
	}
	if len(f.Wires) > 0 {
		out.Name += fmt.Sprintf(", %.3g %% along", 100*fraction)
	}
	out.Free, out.Wires, out.LengthM = nil, nil, 0
	return &out
}

// variation lays the fault's free resistance into a net that has its other changes
// already; nil where it has none. anew says that the net must be assembled with it
// for each value, since it joins separate parts or cuts a wire.
func (f *Fault) variation(net *solve.Net, fraction float64) (v *solve.Variation, anew bool, err error) {
	if f.free == nil {
		return nil, false, nil
	}
	v, err = net.Vary(f.free(fraction))
	switch {
	case errors.Is(err, solve.ErrApart), errors.Is(err, solve.ErrCut):
		return nil, true, nil
	case err != nil:
		return nil, false, fmt.Errorf("%s: %w", f.Name, err)
	}
	return v, false, nil
}

// onSupply tells whether the fault leads to the supply rail.
func (f *Fault) onSupply() bool {
	changes := f.base
	if f.free != nil {
		changes = append(changes[:len(changes):len(changes)], f.free(0.5))
	}
	for _, ch := range changes {
		if b, ok := ch.(solve.Bridge); ok && (b.From == solve.AtNode(netlist.SupplyNode) || b.To == solve.AtNode(netlist.SupplyNode)) {
			return true
		}
	}
	return false
}

// sticks tells whether a transceiver sends all the time by the fault.
func (f *Fault) sticks() bool {
	for _, ch := range f.base {
		if _, ok := ch.(solve.Stick); ok {
			return true
		}
	}
	return false
}

// Typical gives the changes with the typical resistance, half-way along.
func (f *Fault) Typical() []solve.Change {
	ohms := 0.0
	if f.Free != nil {
		ohms = f.Free.Typical
	}
	return f.Changes(ohms, 0.5)
}

// Ranges of the free resistances in ohms. From memory; no source: a chafed wire
// is a few ohms at most, a corroded contact anything, water some hundred ohms
// and up.
var (
	shortRange = Free{Min: 0.01, Max: 30, Typical: 0}
	jointRange = Free{Min: 1, Max: 100e3, Typical: 100}
	leakRange  = Free{Min: 30, Max: 100e3, Typical: 1000}
	valueRange = Free{Min: 1, Max: 100e3, Typical: 1000}
	extraRange = Free{Min: 100, Max: 130, Typical: 120} // ISO 11898-2, as netlist's layers
)

// offsetVolts is the ground offset that is looked for, noGroundOhms what a module
// that has lost its ground presents between its inner ground and the supply. From
// memory.
const (
	offsetVolts  = 2.0
	noGroundOhms = 200.0
)

// Catalogue lists every fault of a harness that this package knows, in a stable
// order: wires and pairs, connectors, splices, terminators, each in the order of
// the harness. Faults that cannot happen, by the harness's rates, are left out.
func Catalogue(c *netlist.Circuit) []*Fault { return makeCatalogue(c).out }

func makeCatalogue(c *netlist.Circuit) *catalogue {
	k := &catalogue{c: c, rates: newRateBook(c.Harness.Rates)}
	k.wires()
	for i := range c.Sites {
		k.site(&c.Sites[i])
	}
	k.terminators()
	k.extraTerminators()
	k.modules()
	return k
}

type catalogue struct {
	c     *netlist.Circuit
	rates *rateBook
	out   []*Fault
}

func (k *catalogue) add(f Fault) {
	rate, happens := k.rates.rate(f.Kind, f.Part)
	if !happens {
		return
	}
	f.Rate = rate
	k.out = append(k.out, &f)
}

func copyFree(f Free) *Free { return &f }

// wires adds what can go wrong along wires and pairs.
func (k *catalogue) wires() {
	byPart := map[string][]int{}
	var order []string
	for i, e := range k.c.Elements {
		if e.Kind != netlist.WireElement {
			continue
		}
		if byPart[e.Part] == nil {
			order = append(order, e.Part)
		}
		byPart[e.Part] = append(byPart[e.Part], i)
	}
	for _, part := range order {
		elements := byPart[part]
		where := "pair " + part
		if len(elements) == 1 {
			where = "wire " + part
		}
		for _, i := range elements {
			k.conductor(i, where)
		}
		if len(elements) == 2 {
			k.pair(elements, where)
		}
	}
}

func (k *catalogue) conductor(i int, where string) {
	e := &k.c.Elements[i]
	label := k.c.Label(e.Conductor)
	k.add(Fault{
		Name: fmt.Sprintf("open %s in %s", label, where), Kind: Open, Part: e.Part,
		base: []solve.Change{solve.Part{Element: i}},
	})
	k.add(Fault{
		Name: fmt.Sprintf("high-resistance joint %s in %s", label, where), Kind: HighJoint, Part: e.Part,
		Free: copyFree(jointRange),
		free: func(float64) solve.Change { return solve.Insert{Element: i} },
	})
	for _, rail := range []struct {
		name string
		node int
		kind Kind
	}{{"ground", netlist.GroundNode, ShortGround}, {"supply", netlist.SupplyNode, ShortSupply}} {
		k.add(Fault{
			Name: fmt.Sprintf("short %s to %s in %s", label, rail.name, where), Kind: rail.kind, Part: e.Part,
			Free: copyFree(shortRange), Wires: []int{i}, LengthM: e.LengthM,
			free: func(fraction float64) solve.Change {
				return solve.Bridge{From: solve.OnWire(i, fraction), To: solve.AtNode(rail.node)}
			},
		})
	}
}

func (k *catalogue) pair(elements []int, where string) {
	h, l := elements[0], elements[1]
	eh, el := &k.c.Elements[h], &k.c.Elements[l]
	k.add(Fault{
		Name: "open " + k.c.Label(eh.Conductor) + " and " + k.c.Label(el.Conductor) + " in " + where, Kind: OpenBoth, Part: eh.Part,
		base: []solve.Change{solve.Part{Element: h}, solve.Part{Element: l}},
	})
	k.add(Fault{
		Name: "short " + k.c.Label(eh.Conductor) + " to " + k.c.Label(el.Conductor) + " in " + where, Kind: ShortConductors, Part: eh.Part,
		Free: copyFree(shortRange), Wires: []int{h, l}, LengthM: eh.LengthM,
		free: func(fraction float64) solve.Change {
			return solve.Bridge{From: solve.OnWire(h, fraction), To: solve.OnWire(l, fraction)}
		},
	})
}

// site adds what can go wrong at a connector or a splice.
func (k *catalogue) site(s *netlist.Site) {
	where := "connector " + s.Name
	if s.Kind == netlist.SpliceSite {
		where = "splice " + s.Name
	}
	for _, t := range s.Contacts {
		if t.Rail == "" && t.Element >= 0 {
			k.contact(s, t)
		}
	}
	for i, a := range s.Contacts {
		if a.Rail != "" {
			continue
		}
		for _, z := range s.Contacts[i+1:] {
			if z.Rail == "" && a.Conductor != z.Conductor {
				k.between(s, where, a, z)
			}
		}
		// A conductor may have several cavities here; a leak at one is a leak
		// at the first.
		if firstCavityOf(s, a) {
			k.leak(s, where, k.c.Label(a.Conductor), "ground", a.Node, netlist.GroundNode)
			k.leak(s, where, k.c.Label(a.Conductor), "supply", a.Node, netlist.SupplyNode)
			if s.Kind == netlist.InlineSite && a.Other >= 0 {
				// Water may stand in either half, and stays there when they part.
				k.leak(s, where+", half b", k.c.Label(a.Conductor), "ground", a.Other, netlist.GroundNode)
				k.leak(s, where+", half b", k.c.Label(a.Conductor), "supply", a.Other, netlist.SupplyNode)
			}
		}
	}
	if s.Kind == netlist.SpliceSite {
		return
	}
	if parted, err := k.c.Unplug(s.Name); err == nil && len(parted) > 0 {
		k.add(Fault{Name: where + " unplugged", Kind: Unplugged, Part: s.Name, base: []solve.Change{solve.Unplug{Connector: s.Name}}})
	}
}

func firstCavityOf(s *netlist.Site, t netlist.SiteContact) bool {
	for _, x := range s.Contacts {
		if x.Rail == "" && x.Conductor == t.Conductor {
			return x.Cavity == t.Cavity
		}
	}
	return false
}

func (k *catalogue) contact(s *netlist.Site, t netlist.SiteContact) {
	name := fmt.Sprintf("%s.%s (%s)", s.Name, t.Cavity, k.c.Label(t.Conductor))
	k.add(Fault{
		Name: "backed-out cavity " + name, Kind: BackedOut, Part: s.Name,
		base: []solve.Change{solve.Part{Element: t.Element}},
	})
	k.add(Fault{
		Name: "high-resistance contact " + name, Kind: HighJoint, Part: s.Name,
		Free: copyFree(jointRange),
		free: func(float64) solve.Change { return solve.Insert{Element: t.Element} },
	})
}

// between adds what can go wrong between two cavities of a connector, or two
// joints of a splice.
func (k *catalogue) between(s *netlist.Site, where string, a, z netlist.SiteContact) {
	la, lz := k.c.Label(a.Conductor), k.c.Label(z.Conductor)
	cavities := ""
	if s.Kind != netlist.SpliceSite {
		cavities = fmt.Sprintf(" (cavities %s and %s)", a.Cavity, z.Cavity)
	}
	kind := ShortConductors
	if a.Conductor.Network != z.Conductor.Network {
		kind = ShortNetworks
	}
	k.add(Fault{
		Name: fmt.Sprintf("short %s to %s at %s%s", la, lz, where, cavities), Kind: kind, Part: s.Name,
		Free: copyFree(shortRange),
		free: bridge(a.Node, z.Node),
	})
	if kind == ShortNetworks || !firstCavityOf(s, a) || !firstCavityOf(s, z) {
		return
	}
	k.leak(s, where, la, lz, a.Node, z.Node)
	if a.Element < 0 || z.Element < 0 {
		return
	}
	ea, ez := &k.c.Elements[a.Element], &k.c.Elements[z.Element]
	k.add(Fault{
		Name: fmt.Sprintf("%s and %s swapped at %s%s", la, lz, where, cavities), Kind: Swapped, Part: s.Name,
		base: []solve.Change{
			solve.Part{Element: a.Element}, solve.Part{Element: z.Element},
			solve.Bridge{From: solve.AtNode(a.Node), To: solve.AtNode(z.Other), Ohms: ea.Off.Ohms(nil), Through: []string{s.Name}},
			solve.Bridge{From: solve.AtNode(z.Node), To: solve.AtNode(a.Other), Ohms: ez.Off.Ohms(nil), Through: []string{s.Name}},
		},
	})
}

func (k *catalogue) leak(s *netlist.Site, where, from, to string, a, z int) {
	k.add(Fault{
		Name: fmt.Sprintf("leak %s to %s at %s", from, to, where), Kind: Leak, Part: s.Name,
		Free: copyFree(leakRange),
		free: bridge(a, z),
	})
}

// terminators adds a missing terminator and one of another value.
func (k *catalogue) terminators() {
	for _, t := range k.c.Harness.Terminators {
		var elements []int
		for i, e := range k.c.Elements {
			if e.Kind == netlist.TerminatorElement && e.Part == t.Name {
				elements = append(elements, i)
			}
		}
		gone := partAll(elements)
		k.add(Fault{Name: "terminator " + t.Name + " missing", Kind: TermMissing, Part: t.Name, base: gone})
		// In place of what was there, however split, one resistance of the
		// value between the conductors.
		first, last := &k.c.Elements[elements[0]], &k.c.Elements[elements[len(elements)-1]]
		z := first.B
		if len(elements) > 1 {
			z = last.A
		}
		k.add(Fault{
			Name: "terminator " + t.Name + " of wrong value", Kind: TermValue, Part: t.Name,
			Free: copyFree(valueRange), base: gone, free: bridge(first.A, z),
		})
	}
}

func partAll(elements []int) []solve.Change {
	var out []solve.Change
	for _, e := range elements {
		out = append(out, solve.Part{Element: e})
	}
	return out
}

func bridge(a, z int) func(float64) solve.Change {
	return func(float64) solve.Change {
		return solve.Bridge{From: solve.AtNode(a), To: solve.AtNode(z)}
	}
}

// extraTerminators adds a terminator where none belongs: inside a module that
// was fitted in a wrong variant, or plugged into a free connector.
func (k *catalogue) extraTerminators() {
	has := map[string]bool{}
	for _, t := range k.c.Harness.Terminators {
		has[t.At] = true
	}
	extra := func(where, part string, a, z int) {
		k.add(Fault{
			Name: "extra terminator " + where, Kind: TermExtra, Part: part,
			Free: copyFree(extraRange),
			free: bridge(a, z),
		})
	}
	for _, u := range k.c.Units {
		if has[u.Name] {
			continue
		}
		for j := 0; j+1 < len(u.Inputs); j++ {
			a, z := &k.c.Elements[u.Inputs[j]], &k.c.Elements[u.Inputs[j+1]]
			if a.Conductor.Network != z.Conductor.Network {
				continue
			}
			where := "in module " + u.Name
			if len(k.c.Harness.Networks) > 1 {
				where += " on " + a.Conductor.Network
			}
			extra(where, u.Name, a.A, z.A)
		}
	}
	for _, s := range k.c.Sites {
		if s.Kind != netlist.ConnectorSite || s.Device != "" {
			continue
		}
		for _, pair := range sitePairs(&s) {
			where := "at connector " + s.Name
			if len(k.c.Harness.Networks) > 1 {
				where += " on " + pair[0].Conductor.Network
			}
			extra(where, s.Name, pair[0].Node, pair[1].Node)
		}
	}
}

// modules adds what can go wrong inside modules and with what feeds them.
func (k *catalogue) modules() {
	for i := range k.c.Units {
		u := &k.c.Units[i]
		if len(u.Inputs) == 0 {
			continue // a junction box has nothing to feed
		}
		ground := k.c.Elements[u.GroundElement].A
		var plugs []string
		for _, s := range u.Sites {
			plugs = append(plugs, k.c.Sites[s].Name)
		}
		k.add(Fault{Name: "module " + u.Name + " without supply", Kind: NoSupply, Part: u.Name, base: []solve.Change{solve.Unpower{Unit: i}}})
		k.add(Fault{
			Name: "module " + u.Name + " without ground", Kind: NoGround, Part: u.Name,
			base: []solve.Change{
				solve.Unpower{Unit: i}, solve.Part{Element: u.GroundElement},
				solve.Bridge{From: solve.AtNode(ground), To: solve.AtNode(netlist.SupplyNode), Ohms: noGroundOhms, Through: plugs},
			},
		})
		k.add(Fault{
			Name: fmt.Sprintf("ground of module %s lifted by %g V", u.Name, offsetVolts), Kind: GroundOffset, Part: u.Name,
			base: []solve.Change{solve.Shift{Unit: i, Volts: offsetVolts}},
		})
	}
	for i := range k.c.Transceivers {
		t := &k.c.Transceivers[i]
		module := k.c.Units[t.Unit].Name
		where := "in module " + module
		if len(k.c.Harness.Networks) > 1 {
			where += " on " + t.Network
		}
		k.add(Fault{Name: "transceiver stuck dominant " + where, Kind: StuckDominant, Part: module, base: []solve.Change{solve.Stick{Transceiver: i}}})
		type inner struct {
			from, to string
			a, z     int
		}
		h, l := t.Layer.Conductors[0], t.Layer.Conductors[len(t.Layer.Conductors)-1]
		shorts := []inner{{l, "ground", t.Low, t.Ground}}
		if h != l {
			shorts = []inner{{h, l, t.High, t.Low}, {h, "ground", t.High, t.Ground}, {l, "ground", t.Low, t.Ground}}
		}
		for _, x := range shorts {
			k.add(Fault{
				Name: fmt.Sprintf("transceiver shorted inside, %s to %s, %s", x.from, x.to, where), Kind: ShortedInside, Part: module,
				Free: copyFree(shortRange), free: bridge(x.a, x.z),
			})
		}
	}
}

// sitePairs gives, for each network that a site carries whole, its first
// cavities of the two conductors.
func sitePairs(s *netlist.Site) [][2]netlist.SiteContact {
	var out [][2]netlist.SiteContact
	done := map[string]bool{}
	for i, a := range s.Contacts {
		if a.Rail != "" || done[a.Conductor.Network] {
			continue
		}
		for _, z := range s.Contacts[i+1:] {
			if z.Rail == "" && z.Conductor.Network == a.Conductor.Network && z.Conductor != a.Conductor {
				out = append(out, [2]netlist.SiteContact{a, z})
				done[a.Conductor.Network] = true
				break
			}
		}
	}
	return out
}
