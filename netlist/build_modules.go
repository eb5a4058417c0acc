package netlist

import (
	"fmt"
	"slices"
)

func (b *builder) addSupply() {
	volts := b.spread("volts of the supply", DefaultSupplyVolts-SupplySpreadVolts, DefaultSupplyVolts+SupplySpreadVolts)
	load := b.spread("load on the supply rail", SupplyLoadMinOhms, SupplyLoadMaxOhms)
	if s := b.h.Supply; s != nil {
		if s.Volts != 0 {
			volts = b.percent("volts of the supply", s.Volts, SupplyTolerancePct)
		}
		if s.LoadOhms != 0 {
			load = b.percent("load on the supply rail", s.LoadOhms, SupplyLoadTolerancePct)
		}
	}
	law := Law{Value: load}
	awake := law
	awake.Volts = volts
	b.element(Element{
		Name: "loads on the supply rail", Kind: LoadElement, Part: SupplyRail,
		A: SupplyNode, B: GroundNode, Off: law, Awake: awake,
	})
}

func (b *builder) addModule(i int) {
	m := &b.h.Modules[i]
	path, element := fmt.Sprintf("modules[%d]", i), "module "+m.Name
	unit := Unit{Name: m.Name, GroundVolts: m.GroundOffsetVolts}
	var carried []Conductor
	for _, name := range m.Connectors {
		s, ok := b.c.siteByName[name]
		if !ok || b.c.Sites[s].Device != m.Name {
			continue
		}
		unit.Sites = append(unit.Sites, s)
		for _, k := range b.c.Sites[s].Contacts {
			if k.Rail != "" {
				continue
			}
			in, ok := b.inside[insideKey{m.Name, k.Conductor}]
			if !ok {
				in = b.node("inside "+m.Name+" "+b.h.label(k.Conductor), k.Conductor)
				b.inside[insideKey{m.Name, k.Conductor}] = in
				carried = append(carried, k.Conductor)
			}
			b.element(Element{
				Name: "pin " + name + "/device." + k.Cavity, Kind: Joint, Part: m.Name,
				A: k.Other, B: in, Conductor: k.Conductor,
			})
		}
	}
	if len(unit.Sites) == 0 {
		return // its connectors are reported
	}
	own := b.node("ground of "+m.Name, Conductor{})
	unit.GroundElement = b.element(Element{Name: "ground of " + m.Name, Kind: Joint, Part: m.Name, A: own, B: GroundNode})

	known := m.Transceiver == NoTransceiver
	if !known {
		if _, known = b.h.TransceiverByName(m.Transceiver); !known {
			b.wrong(path+".transceiver", element, kindsToWrite, "there is no transceiver kind %s", m.Transceiver)
		}
	}
	networks := b.transceiverNetworks(i, carried)
	b.checkKinds(m, networks, known, path, element)
	for _, n := range networks {
		if m.Transceiver == NoTransceiver {
			break
		}
		kind, ok := b.h.TransceiverByName(b.h.kindOn(m, n))
		if !ok {
			continue // reported
		}
		unit.Inputs = append(unit.Inputs, b.addInputs(m.Name, n, kind, own)...)
		b.addTransceiver(m.Name, n, kind.withDriver(), own)
	}
	b.c.Units = append(b.c.Units, unit)
}

const kindsToWrite = "modern, modern-3v3, older, mixed, tolerant, commander, responder, multidrop, none, or a kind that the file lists under transceivers"

// checkKinds refuses kinds that the module's networks have no use for.
func (b *builder) checkKinds(m *Module, networks []string, known bool, path, element string) {
	named := map[string]bool{}
	for _, k := range m.Kinds {
		at := path + ".kinds." + k.Network
		_, exists := b.h.TransceiverByName(k.Kind)
		switch {
		case !slices.Contains(networks, k.Network):
			b.wrong(at, element, "one of "+listNames(networks), "has no transceiver on a network %s", k.Network)
		case !exists:
			b.wrong(at, element, kindsToWrite, "there is no transceiver kind %s", k.Kind)
		case !b.h.fits(k.Kind, b.networks[k.Network]):
			b.wrong(at, element, "a kind of that layer", "kind %s does not belong to layer %s of network %s", k.Kind, b.networks[k.Network].Name, k.Network)
		}
		named[k.Network] = true
	}
	if !known || m.Transceiver == "" || m.Transceiver == NoTransceiver || len(networks) == 0 {
		return
	}
	for _, n := range networks {
		if named[n] || b.h.fits(m.Transceiver, b.networks[n]) {
			return
		}
	}
	b.wrong(path+".transceiver", element, "a kind of that layer, or leave it out", "kind %s does not belong to layer %s of network %s", m.Transceiver, b.networks[networks[0]].Name, networks[0])
}

// transceiverNetworks gives the networks on which a module has a transceiver,
// all conductors of which must reach it.
func (b *builder) transceiverNetworks(i int, carried []Conductor) []string {
	m := &b.h.Modules[i]
	element := "module " + m.Name
	complete := func(n string) bool {
		for _, k := range b.networks[n].Conductors {
			if !slices.Contains(carried, Conductor{n, k}) {
				return false
			}
		}
		return len(b.networks[n].Conductors) > 0
	}
	if len(m.Networks) == 0 {
		var out []string
		for _, n := range b.h.Networks {
			if complete(n.Name) {
				out = append(out, n.Name)
			}
		}
		if len(out) == 0 && m.Transceiver != NoTransceiver && !b.broken[m.Name] && !b.anyBroken(m.Connectors...) {
			b.wrong(fmt.Sprintf("modules[%d]", i), element, "connectors whose cavities carry H and L of a network, or transceiver: none", "its connectors carry no network whole, so its transceiver has nothing to sit on")
		}
		return out
	}
	var out []string
	for j, n := range m.Networks {
		path := listPath("modules", i, "networks", j, len(m.Networks))
		switch {
		case !b.hasNetwork(n):
			b.wrong(path, element, "one of "+listNames(b.networkNames()), "there is no network %s", n)
		case !complete(n) && (b.broken[m.Name] || b.anyBroken(m.Connectors...)):
		case !complete(n):
			b.wrong(path, element, "cavities that carry "+listNames(b.conductorNames(n))+" on one of its connectors", "its connectors do not carry network %s whole", n)
		case slices.Contains(out, n):
			b.wrong(path, element, "each network once", "network %s stands twice", n)
		default:
			out = append(out, n)
		}
	}
	return out
}

// addInputs adds a transceiver's load on each conductor: a resistance to the
// module's ground, in series with the bias voltage when awake. The kind's width
// moves both conductors together; they differ only by the matching.
func (b *builder) addInputs(module, network string, kind TransceiverKind, ground int) []int {
	siemens := func(name string, minOhms, maxOhms float64) (mid, half float64, p int) {
		lo, hi := 0.0, 1/minOhms
		if maxOhms != 0 {
			lo = 1 / maxOhms
		}
		return (lo + hi) / 2, (hi - lo) / 2, b.parameter(name)
	}
	label := module
	if len(b.h.Networks) > 1 {
		label += " " + network
	}
	offMid, offHalf, offP := siemens("unpowered input of "+label, kind.UnpoweredMinOhms, kind.UnpoweredMaxOhms)
	onMid, onHalf, onP := siemens("awake input of "+label, kind.AwakeMinOhms, kind.AwakeMaxOhms)
	layer := b.layerOf(network)
	biasP := b.parameter("idle bias of " + label)
	var out []int
	for i, k := range layer.Conductors {
		node, ok := b.inside[insideKey{module, Conductor{network, k}}]
		if !ok {
			continue
		}
		level := layer.Idle[i]
		bias := Spread{Mid: level.Volts, Parts: []Share{{biasP, (level.MaxVolts - level.MinVolts) / 2}}}
		if kind.IdleVolts != 0 {
			bias.Mid = kind.IdleVolts
		}
		name := "input of " + module + " " + b.h.label(Conductor{network, k})
		// The matching must not make a conductance negative where the part may
		// be open: it is a share of the least value.
		match := func(mid, half float64) []Share {
			if lo := mid - half; lo > 0 {
				return []Share{{b.parameter("match of " + name), lo * InputMatchPct / 100}}
			}
			return nil
		}
		out = append(out, b.element(Element{
			Name: name, Kind: InputElement, Part: module, A: node, B: ground, Conductor: Conductor{network, k},
			Off: Law{Siemens: true, Value: Spread{offMid, append([]Share{{offP, offHalf}}, match(offMid, offHalf)...)}},
			Awake: Law{
				Siemens: true,
				Value:   Spread{onMid, append([]Share{{onP, onHalf}}, match(onMid, onHalf)...)},
				Volts:   bias,
			},
		}))
	}
	return out
}

// addTransceiver adds what a module sends and receives with. The two switches
// share the supply's error; their own differ.
func (b *builder) addTransceiver(module, network string, kind TransceiverKind, ground int) {
	layer := b.layerOf(network)
	last := len(layer.Conductors) - 1
	t := Transceiver{
		Unit: len(b.c.Units), Network: network, Layer: layer,
		High: b.inside[insideKey{module, Conductor{network, layer.Conductors[0]}}],
		Low:  b.inside[insideKey{module, Conductor{network, layer.Conductors[last]}}], Ground: ground,
	}
	label := module
	if len(b.h.Networks) > 1 {
		label += " " + network
	}
	limit := b.spread("current limit of "+label, kind.DriveLimitMinMA/1000, kind.DriveLimitMaxMA/1000)
	supply := b.parameter("driver supply of " + label)
	diode := func(side string, volts float64) []Share {
		if volts == 0 {
			return nil
		}
		return []Share{{b.parameter("driver diode " + side + " of " + label), volts * DriveDiodePct / 100}}
	}
	t.Up = Drive{
		Volts: Spread{kind.DriveVolts - kind.DriveHDiodeVolts, append(diode("H", kind.DriveHDiodeVolts), Share{supply, kind.DriveVolts * DriveVoltsPct / 100})},
		Ohms:  b.percent("driver H of "+label, kind.DriveHOhms, DriveOhmsPct), LimitAmps: limit,
	}
	t.Down = Drive{
		Volts: Spread{kind.DriveLDiodeVolts, diode("L", kind.DriveLDiodeVolts)},
		Ohms:  b.percent("driver L of "+label, kind.DriveLOhms, DriveOhmsPct), LimitAmps: limit,
	}
	if last == 0 {
		// The one conductor is pulled down only, and looked at from the supply.
		t.High, t.Up.LimitAmps = SupplyNode, Spread{}
	}
	b.c.Transceivers = append(b.c.Transceivers, t)
}

// layerOf is a network's layer, with shares of the supply turned into volts.
func (b *builder) layerOf(network string) Layer {
	return b.networks[network].atSupply(b.h.SupplyVolts())
}

// SupplyVolts is the voltage in volts of the supply rail when it is on.
func (h *Harness) SupplyVolts() float64 {
	if h.Supply != nil && h.Supply.Volts != 0 {
		return h.Supply.Volts
	}
	return DefaultSupplyVolts
}

// Layer gives the physical layer of a network of the harness, with shares of the
// supply turned into volts; false where there is no such network or layer.
func (h *Harness) Layer(network string) (Layer, bool) {
	for _, n := range h.Networks {
		if n.Name == network {
			l, ok := LayerByName(n.Layer)
			return l.atSupply(h.SupplyVolts()), ok
		}
	}
	return Layer{}, false
}

func (b *builder) addTerminator(i int) {
	t := &b.h.Terminators[i]
	path, element := fmt.Sprintf("terminators[%d]", i), "terminator "+t.Name
	if t.Name == "" || t.At == "" {
		return
	}
	nodes := map[Conductor]int{}
	switch b.names[t.At] {
	case "module":
		for key, node := range b.inside {
			if key.module == t.At {
				nodes[key.k] = node
			}
		}
	case "splice":
		if s, ok := b.c.Site(t.At); ok {
			for _, k := range s.Contacts {
				nodes[k.Conductor] = k.Node
			}
		}
	case "connector":
		s, ok := b.c.Site(t.At)
		if !ok {
			return // the connector is reported
		}
		if s.Kind == InlineSite {
			b.wrong(path+".at", element, "a splice, a module or a connector that is not inline", "connector %s is inline, so no terminator plugs into it", t.At)
			return
		}
		if s.Device != t.Name {
			write := "a connector of its own, or a splice"
			if b.names[s.Device] == "module" {
				write = "at: " + s.Device + " for one inside that module, or a splice"
			}
			b.wrong(path+".at", element, write, "connector %s already plugs into %s", t.At, s.Device)
			return
		}
		for _, k := range s.Contacts {
			if k.Rail == "" {
				nodes[k.Conductor] = k.Other
			}
		}
	default:
		b.wrong(path+".at", element, "the name of a module, a splice or a connector", "there is no module, splice or connector %s", t.At)
		return
	}
	if b.anyBroken(t.At) || b.anyBroken(b.connectorsOf(t.At)...) {
		return
	}
	n, ok := b.terminatorNetwork(t, path, element, nodes)
	if !ok {
		return
	}
	if len(b.networks[n].Conductors) != 2 {
		b.wrong(path+".network", element, "a stray path, or leave it out", "network %s has one conductor, between which and what would it lie", n)
		return
	}
	ends := make([]int, 0, 2)
	for _, k := range b.networks[n].Conductors {
		node, ok := nodes[Conductor{n, k}]
		if !ok {
			b.wrong(path+".at", element, "a place that carries "+listNames(b.conductorNames(n)), "%s does not carry %s", t.At, b.h.label(Conductor{n, k}))
			return
		}
		ends = append(ends, node)
	}
	pct := DefaultTerminatorTolerancePct
	if t.TolerancePct != nil {
		pct = *t.TolerancePct
	}
	if !t.Split {
		law := Law{Value: b.percent(element, t.Ohms, pct)}
		b.element(Element{Name: element, Kind: TerminatorElement, Part: t.Name, A: ends[0], B: ends[1], Off: law, Awake: law})
		return
	}
	// The middle node of a split terminator goes to ground through a capacitor
	// only, which direct current does not pass.
	middle := b.node("middle of "+t.Name, Conductor{})
	for j, k := range b.networks[n].Conductors {
		name := fmt.Sprintf("%s, %s half", element, k)
		law := Law{Value: b.percent(name, t.Ohms/2, pct)}
		b.element(Element{Name: name, Kind: TerminatorElement, Part: t.Name, A: ends[j], B: middle, Off: law, Awake: law})
	}
}

// connectorsOf lists the connectors of a module; none for another name.
func (b *builder) connectorsOf(module string) []string {
	for _, m := range b.h.Modules {
		if m.Name == module {
			return m.Connectors
		}
	}
	return nil
}

// terminatorNetwork finds which network a terminator is on: the one it names
// or the only one at its place.
func (b *builder) terminatorNetwork(t *Terminator, path, element string, nodes map[Conductor]int) (string, bool) {
	if t.Network != "" {
		return b.network(t.Network, path, element)
	}
	var here []string
	for _, n := range b.h.Networks {
		for _, k := range b.networks[n.Name].Conductors {
			if _, ok := nodes[Conductor{n.Name, k}]; ok && !slices.Contains(here, n.Name) {
				here = append(here, n.Name)
			}
		}
	}
	switch len(here) {
	case 1:
		return here[0], true
	case 0:
		b.wrong(path+".at", element, "a place that carries a network", "%s carries no conductor of a network", t.At)
	default:
		b.wrong(path, element, "network: one of "+listNames(here), "%s carries more than one network", t.At)
	}
	return "", false
}
