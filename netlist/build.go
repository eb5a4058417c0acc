package netlist

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ohmloom/netlist/constraint"
	"example.com/ohmloom/netlist/problem"
)

// NewCircuit derives the electrical network of a harness. The error is a
// [problem.List] with everything that is wrong with the harness.
func NewCircuit(h *Harness) (*Circuit, error) {
	c, problems := build(h)
	if err := problems.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

// Check finds everything that keeps a harness from being solved: values out of
// range, names that are doubled or dangle, conductors that are left floating.
// Paths in the problems are those of the file format (wires[6].to).
func Check(h *Harness) problem.List {
	_, problems := build(h)
	return problems
}

// builder makes a Circuit and notes problems on the way, one pass for both, so
// that what is checked is what is solved.
type builder struct {
	h        *Harness
	c        *Circuit
	problems problem.List

	names    map[string]string     // every name in use: its kind
	networks map[string]Layer      // by network name
	inside   map[insideKey]int     // module and conductor: node
	fitted   map[string]int        // place: index in Modules, −1 a plug-in terminator
	broken   map[string]bool       // places and modules with a problem of their own
	ends     map[int]int           // node: wires that end there
	wherePut map[int]siteReference // node: the file's place that made it

	temperature int // the parameter shared by all wires
}

type insideKey struct {
	module string
	k      Conductor
}

// siteReference is where in the harness a node came from.
type siteReference struct {
	path, element string
}

func build(h *Harness) (*Circuit, problem.List) {
	b := &builder{
		h: h,
		c: &Circuit{
			Harness:       h,
			elementByName: map[string]int{},
			siteByName:    map[string]int{},
		},
		names:    map[string]string{GroundRail: "rail", SupplyRail: "rail"},
		networks: map[string]Layer{},
		inside:   map[insideKey]int{},
		fitted:   map[string]int{},
		broken:   map[string]bool{},
		ends:     map[int]int{},
		wherePut: map[int]siteReference{},
	}
	b.problems = append(b.problems, constraint.Validate(h)...)
	b.node(GroundRail, Conductor{})
	b.node(SupplyRail, Conductor{})
	b.temperature = b.parameter("temperature of the copper")

	b.takeNames()
	b.addNetworks()
	b.addKinds()
	b.claimConnectors()
	b.addSupply()
	for i := range h.Connectors {
		b.addConnector(i)
	}
	for i := range h.Splices {
		b.addSplice(i)
	}
	for i := range h.Modules {
		b.addModule(i)
	}
	for i := range h.Terminators {
		b.addTerminator(i)
	}
	for i := range h.Pairs {
		b.addPair(i)
	}
	for i := range h.Wires {
		b.addWire(i)
	}
	for i := range h.Strays {
		b.addStray(i)
	}
	// Whether anything floats can only be told of a harness whose parts are
	// all in place; before that it would repeat the other problems.
	if len(b.problems) == 0 {
		b.findFloating()
	}
	return b.c, b.problems
}

func (b *builder) wrong(path, element, write, what string, args ...any) {
	b.problems = append(b.problems, problem.Problem{
		Path: path, Element: element, What: fmt.Sprintf(what, args...), Write: write,
	})
}

func (b *builder) node(name string, k Conductor) int {
	b.c.Nodes = append(b.c.Nodes, Node{Name: name, Conductor: k})
	return len(b.c.Nodes) - 1
}

func (b *builder) parameter(name string) int {
	b.c.Parameters = append(b.c.Parameters, Parameter{Name: name})
	return len(b.c.Parameters) - 1
}

func (b *builder) element(e Element) int {
	b.c.Elements = append(b.c.Elements, e)
	i := len(b.c.Elements) - 1
	b.c.elementByName[e.Name] = i
	return i
}

// spread makes a value between two limits with a parameter of its own.
func (b *builder) spread(name string, min, max float64) Spread {
	if min == max {
		return Spread{Mid: min}
	}
	return Spread{Mid: (min + max) / 2, Parts: []Share{{b.parameter(name), (max - min) / 2}}}
}

// percent makes a value with a limit of error in percent.
func (b *builder) percent(name string, value, pct float64) Spread {
	return b.spread(name, value*(1-pct/100), value*(1+pct/100))
}

// takeNames refuses a name that two parts share: a name alone must say which
// part is meant, in readings as on the wiring diagram.
func (b *builder) takeNames() {
	take := func(kind, list string, i int, name string) {
		if name == "" {
			return // reported as missing already
		}
		path := fmt.Sprintf("%s[%d].name", list, i)
		if other, ok := b.names[name]; ok {
			b.wrong(path, kind+" "+name, "a name that nothing else has", "%s is already the name of a %s", name, other)
			return
		}
		b.names[name] = kind
	}
	for i, x := range b.h.Connectors {
		take("connector", "connectors", i, x.Name)
	}
	for i, x := range b.h.Splices {
		take("splice", "splices", i, x.Name)
	}
	for i, x := range b.h.Modules {
		take("module", "modules", i, x.Name)
	}
	for i, x := range b.h.Terminators {
		take("terminator", "terminators", i, x.Name)
	}
	for i, x := range b.h.Pairs {
		take("pair", "pairs", i, x.Name)
	}
	for i, x := range b.h.Wires {
		take("wire", "wires", i, x.Name)
	}
	for i, x := range b.h.Strays {
		take("stray path", "strays", i, x.Name)
	}
}

func (b *builder) addNetworks() {
	for i, n := range b.h.Networks {
		if _, doubled := b.networks[n.Name]; doubled {
			b.wrong(fmt.Sprintf("networks[%d].name", i), "network "+n.Name, "another name", "there are two networks of this name")
			continue
		}
		l, ok := LayerByName(n.Layer)
		if !ok {
			// Reported by its enum rule; the rest is checked as if it were the
			// usual layer, lest every part that uses the network be reported too.
			l = layers["high-speed"]
		}
		b.networks[n.Name] = l
	}
}

func (b *builder) addKinds() {
	seen := map[string]bool{NoTransceiver: true}
	for _, k := range transceiverKinds {
		seen[k.Name] = true
	}
	for i, k := range b.h.Transceivers {
		path, element := fmt.Sprintf("transceivers[%d]", i), "transceiver kind "+k.Name
		if seen[k.Name] {
			b.wrong(path+".name", element, "a name that is neither built in nor used twice", "there is already a transceiver kind of this name")
		}
		seen[k.Name] = true
		if k.UnpoweredMaxOhms != 0 && k.UnpoweredMaxOhms < k.UnpoweredMinOhms {
			b.wrong(path+".unpowered_max_ohms", element, "the greater of the two", "unpowered_max_ohms %v is less than unpowered_min_ohms %v", k.UnpoweredMaxOhms, k.UnpoweredMinOhms)
		}
		if k.AwakeMaxOhms < k.AwakeMinOhms {
			b.wrong(path+".awake_max_ohms", element, "the greater of the two", "awake_max_ohms %v is less than awake_min_ohms %v", k.AwakeMaxOhms, k.AwakeMinOhms)
		}
	}
}

// claimConnectors notes what each connector plugs into, so that connectors can
// be built before modules.
func (b *builder) claimConnectors() {
	for i, m := range b.h.Modules {
		for j, name := range m.Connectors {
			path := listPath("modules", i, "connectors", j, len(m.Connectors))
			element := "module " + m.Name
			at := slices.IndexFunc(b.h.Connectors, func(x Connector) bool { return x.Name == name })
			switch {
			case at < 0:
				b.broken[m.Name] = true
				b.wrong(path, element, "one of "+listNames(b.connectorNames()), "there is no connector %s", name)
			case b.h.Connectors[at].Inline:
				b.broken[m.Name] = true
				b.wrong(path, element, "a connector that is not inline", "connector %s is inline, so no module plugs into it", name)
			default:
				if other, taken := b.fitted[name]; taken {
					b.broken[m.Name] = true
					b.wrong(path, element, "a connector of its own", "connector %s already plugs into module %s", name, b.h.Modules[other].Name)
					continue
				}
				b.fitted[name] = i
			}
		}
	}
	for _, t := range b.h.Terminators {
		at := slices.IndexFunc(b.h.Connectors, func(x Connector) bool { return x.Name == t.At })
		if at >= 0 && !b.h.Connectors[at].Inline {
			if _, taken := b.fitted[t.At]; !taken {
				b.fitted[t.At] = -1
			}
		}
	}
}

// listPath gives the path of a value that may be written as one scalar or as a
// list.
func listPath(list string, i int, key string, j, n int) string {
	if n == 1 {
		return fmt.Sprintf("%s[%d].%s", list, i, key)
	}
	return fmt.Sprintf("%s[%d].%s[%d]", list, i, key, j)
}

func (b *builder) connectorNames() []string {
	var out []string
	for _, x := range b.h.Connectors {
		out = append(out, x.Name)
	}
	return out
}

func (b *builder) networkNames() []string {
	var out []string
	for _, x := range b.h.Networks {
		if !slices.Contains(out, x.Name) {
			out = append(out, x.Name)
		}
	}
	return out
}

func (b *builder) addSupply() {
	volts := b.spread("volts of the supply", DefaultSupplyVolts-SupplySpreadVolts, DefaultSupplyVolts+SupplySpreadVolts)
	load := b.spread("load on the supply rail", 1/SupplyLoadMaxOhms, 1/SupplyLoadMinOhms)
	if s := b.h.Supply; s != nil {
		if s.Volts != 0 {
			volts = b.percent("volts of the supply", s.Volts, SupplyTolerancePct)
		}
		if s.LoadOhms != 0 {
			load = b.percent("load on the supply rail", 1/s.LoadOhms, SupplyLoadTolerancePct)
		}
	}
	law := Law{Siemens: true, Value: load}
	awake := law
	awake.Volts = volts
	b.element(Element{
		Name: "loads on the supply rail", Kind: LoadElement, Part: SupplyRail,
		A: SupplyNode, B: GroundNode, Off: law, Awake: awake,
	})
}

// network finds which network a part means: the one it names, or the only one
// there is.
func (b *builder) network(name, path, element string) (string, bool) {
	if name == "" {
		if len(b.h.Networks) == 1 {
			return b.h.Networks[0].Name, true
		}
		if len(b.h.Networks) > 1 {
			b.wrong(path, element, "network: one of "+listNames(b.networkNames()), "does not say which network it belongs to")
		}
		return "", false
	}
	if !slices.Contains(b.networkNames(), name) {
		b.wrong(path+".network", element, "one of "+listNames(b.networkNames()), "there is no network %s", name)
		return "", false
	}
	return name, true
}

// conductor reads a conductor's name: H, or drive.H. network is what an
// unqualified name belongs to, empty if that is not known.
func (b *builder) conductor(text, network, path, element string) (Conductor, bool) {
	name := text
	if n, rest, qualified := strings.Cut(text, "."); qualified {
		if !slices.Contains(b.networkNames(), n) {
			b.wrong(path, element, "one of "+listNames(b.conductorNames("")), "%q names network %s, which there is not", text, n)
			return Conductor{}, false
		}
		network, name = n, rest
	}
	if network == "" {
		if len(b.h.Networks) != 1 {
			b.wrong(path, element, "one of "+listNames(b.conductorNames("")), "%q does not say which network it is of", text)
			return Conductor{}, false
		}
		network = b.h.Networks[0].Name
	}
	layer, ok := b.networks[network]
	if !ok {
		return Conductor{}, false // its layer is reported
	}
	if !slices.Contains(layer.Conductors, name) {
		b.wrong(path, element, "one of "+listNames(b.conductorNames(network)), "%q is no conductor of network %s", text, network)
		return Conductor{}, false
	}
	return Conductor{network, name}, true
}

// conductorNames lists the conductors of a network, or of all.
func (b *builder) conductorNames(network string) []string {
	var out []string
	for _, n := range b.networkNames() {
		if network != "" && n != network {
			continue
		}
		for _, k := range b.networks[n].Conductors {
			out = append(out, b.h.label(Conductor{n, k}))
		}
	}
	return out
}

func (b *builder) addSite(s Site) {
	b.c.siteByName[s.Name] = len(b.c.Sites)
	b.c.Sites = append(b.c.Sites, s)
}

// contactLaw is one mated contact of a connector.
func (b *builder) contactLaw(x *Connector, name string) Law {
	if x.ContactOhms != 0 {
		return Law{Value: b.percent(name, x.ContactOhms, ContactTolerancePct)}
	}
	return Law{Value: b.spread(name, ContactMinOhms, ContactMaxOhms)}
}

func (b *builder) addConnector(i int) {
	x := &b.h.Connectors[i]
	path, element := fmt.Sprintf("connectors[%d]", i), "connector "+x.Name
	if x.Name == "" {
		return
	}
	if x.Network != "" && !slices.Contains(b.networkNames(), x.Network) {
		b.wrong(path+".network", element, "one of "+listNames(b.networkNames()), "there is no network %s", x.Network)
		b.broken[x.Name] = true
		return
	}
	cavities := x.Cavities
	if len(cavities) == 0 {
		n, ok := b.network(x.Network, path, element)
		if !ok {
			b.broken[x.Name] = true
			return
		}
		for _, k := range b.networks[n].Conductors {
			cavities = append(cavities, Cavity{k, k})
		}
	}
	owner, fitted := b.fitted[x.Name]
	site := Site{Name: x.Name, ReachMin: DefaultReachMin, Reachable: true}
	if x.ReachMin != nil {
		site.ReachMin = *x.ReachMin
	}
	halfB := "/device."
	if x.Inline {
		site.Kind, halfB = InlineSite, "/b."
	} else if fitted && owner >= 0 {
		site.Device = b.h.Modules[owner].Name
	} else if fitted {
		for _, t := range b.h.Terminators {
			if t.At == x.Name {
				site.Device = t.Name
			}
		}
	}
	seen := map[string]bool{}
	for _, cav := range cavities {
		cpath := path + ".cavities." + cav.Name
		if seen[cav.Name] {
			b.broken[x.Name] = true
			continue // reported by the rule for mappings
		}
		seen[cav.Name] = true
		k := SiteContact{Cavity: cav.Name, Other: -1, Element: -1}
		name := x.Name + "." + cav.Name
		if cav.Carries == GroundRail || cav.Carries == SupplyRail {
			// The rail is one point; what little its wires add plays no part in
			// readings of the network.
			k.Rail = cav.Carries
			k.Node = b.node(name, Conductor{})
			rail := GroundNode
			if k.Rail == SupplyRail {
				rail = SupplyNode
			}
			b.element(Element{Name: "rail at " + name, Kind: Joint, Part: x.Name, A: k.Node, B: rail})
			site.Contacts = append(site.Contacts, k)
			continue
		}
		conductor, ok := b.conductor(cav.Carries, x.Network, cpath, element)
		if !ok {
			b.broken[x.Name] = true
			continue
		}
		k.Conductor = conductor
		if x.Inline {
			k.Node = b.node(x.Name+"/a."+cav.Name, conductor)
		} else {
			k.Node = b.node(name, conductor)
		}
		b.wherePut[k.Node] = siteReference{cpath, element}
		if fitted || x.Inline {
			k.Other = b.node(x.Name+halfB+cav.Name, conductor)
			if x.Inline {
				b.wherePut[k.Other] = siteReference{cpath, element}
			}
			law := b.contactLaw(x, "contact "+name)
			k.Element = b.element(Element{
				Name: "contact " + name, Kind: ContactElement, Part: x.Name,
				A: k.Node, B: k.Other, Conductor: conductor, Off: law, Awake: law,
			})
		}
		site.Contacts = append(site.Contacts, k)
	}
	b.addSite(site)
}

func (b *builder) addSplice(i int) {
	x := &b.h.Splices[i]
	path, element := fmt.Sprintf("splices[%d]", i), "splice "+x.Name
	if x.Name == "" {
		return
	}
	n, ok := b.network(x.Network, path, element)
	if !ok {
		b.broken[x.Name] = true
		return
	}
	site := Site{Name: x.Name, Kind: SpliceSite}
	if x.ReachMin != nil {
		site.ReachMin, site.Reachable = *x.ReachMin, true
	}
	joins := x.Joins
	if len(joins) == 0 {
		joins = b.networks[n].Conductors
	}
	seen := map[string]bool{}
	for j, name := range joins {
		cpath := listPath("splices", i, "joins", j, len(joins))
		if len(x.Joins) == 0 {
			cpath = path
		}
		k, ok := b.conductor(name, n, cpath, element)
		if !ok {
			b.broken[x.Name] = true
			continue
		}
		if seen[k.Name] {
			b.wrong(cpath, element, "each conductor once", "conductor %s stands twice", name)
			continue
		}
		seen[k.Name] = true
		node := b.node(x.Name+"."+k.Name, k)
		b.wherePut[node] = siteReference{cpath, element}
		site.Contacts = append(site.Contacts, SiteContact{Cavity: k.Name, Conductor: k, Node: node, Other: -1, Element: -1})
	}
	b.addSite(site)
}

func (b *builder) addModule(i int) {
	m := &b.h.Modules[i]
	path, element := fmt.Sprintf("modules[%d]", i), "module "+m.Name
	unit := Unit{Name: m.Name}
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

	kind, ok := b.h.TransceiverByName(m.Transceiver)
	if m.Transceiver == NoTransceiver {
		ok = true
	}
	if !ok {
		b.wrong(path+".transceiver", element, "modern, older, mixed, none, or a kind that the file lists under transceivers", "there is no transceiver kind %s", m.Transceiver)
	}
	for _, n := range b.transceiverNetworks(i, carried) {
		if ok && m.Transceiver != NoTransceiver {
			unit.Inputs = append(unit.Inputs, b.addInputs(m.Name, n, kind, own)...)
		}
	}
	b.c.Units = append(b.c.Units, unit)
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
		case !slices.Contains(b.networkNames(), n):
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

// anyBroken tells whether one of the places has a problem of its own, which
// makes what it seems to lack not worth a word.
func (b *builder) anyBroken(places ...string) bool {
	for _, p := range places {
		name, _, _ := strings.Cut(p, ".")
		name, _, _ = strings.Cut(name, "/")
		if b.broken[name] {
			return true
		}
	}
	return false
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
	layer := b.networks[network]
	biasP := b.parameter("idle bias of " + label)
	bias := Spread{
		Mid:   layer.IdleVolts,
		Parts: []Share{{biasP, (layer.IdleMaxVolts - layer.IdleMinVolts) / 2}},
	}
	var out []int
	for _, k := range layer.Conductors {
		node, ok := b.inside[insideKey{module, Conductor{network, k}}]
		if !ok {
			continue
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

// wireLaw is the law of one conductor. Its own limits, the length and the
// temperature are separate parameters: the two conductors of a pair have one
// length, and all wires one temperature.
func (b *builder) wireLaw(size conductorSize, name string, length int) Law {
	lo, hi, scales := size.rangeOhms()
	factor := 1.0
	if scales {
		t := DefaultTemperatureC
		if b.h.TemperatureC != nil {
			t = *b.h.TemperatureC
		}
		factor = CopperFactor(t)
	}
	v := b.spread(name, lo*factor, hi*factor)
	if scales {
		at20 := (lo + hi) / 2
		v.Parts = append(v.Parts, Share{length, v.Mid * LengthTolerancePct / 100}, Share{b.temperature, at20 * CopperPerKelvin * TemperatureSpreadC})
	}
	return Law{Value: v}
}

func (b *builder) addPair(i int) {
	p := &b.h.Pairs[i]
	path, element := fmt.Sprintf("pairs[%d]", i), "pair "+p.Name
	if what, write := p.size().problem(); what != "" {
		b.wrong(path, element, write, "%s", what)
	}
	if p.Network != "" && !slices.Contains(b.networkNames(), p.Network) {
		b.wrong(path+".network", element, "one of "+listNames(b.networkNames()), "there is no network %s", p.Network)
		return
	}
	from, okFrom := b.pairEnd(p.From, p.Network, path+".from", element)
	to, okTo := b.pairEnd(p.To, p.Network, path+".to", element)
	if !okFrom || !okTo {
		return
	}
	network, ok := b.pairNetwork(p, from, to, path, element)
	if !ok {
		return
	}
	length := b.parameter("length of " + element)
	for _, name := range b.networks[network].Conductors {
		k := Conductor{network, name}
		a, okA := b.pairNode(from, k, p.From, path+".from", element)
		z, okZ := b.pairNode(to, k, p.To, path+".to", element)
		if !okA || !okZ {
			continue
		}
		b.addConductor(element+" "+name, p.Name, a, z, k, p.size(), length, path, element)
	}
}

func (b *builder) addConductor(name, part string, a, z int, k Conductor, size conductorSize, length int, path, element string) {
	if a == z {
		b.wrong(path+".to", element, "another end", "both ends are %s", b.c.Nodes[a].Name)
		return
	}
	b.ends[a]++
	b.ends[z]++
	law := b.wireLaw(size, name, length)
	b.element(Element{
		Name: name, Kind: WireElement, Part: part, A: a, B: z, Conductor: k,
		LengthM: size.LengthM, Off: law, Awake: law,
	})
}

// pairEnd resolves one end of a pair into the nodes that could be meant, by
// conductor.
func (b *builder) pairEnd(end []string, network, path, element string) (map[Conductor][]int, bool) {
	found := map[Conductor][]int{}
	switch {
	case len(end) == 0:
		return nil, false // reported as missing
	case len(end) == 1 && !strings.Contains(end[0], "."):
		name, halfName, _ := strings.Cut(end[0], "/")
		s, ok := b.c.Site(name)
		if !ok {
			b.noPlace(name, path, element)
			return nil, false
		}
		other, ok := b.wireHalf(s, halfName, end[0], path, element)
		if !ok {
			return nil, false
		}
		for _, k := range s.Contacts {
			if k.Rail != "" || network != "" && k.Conductor.Network != network {
				continue
			}
			node := k.Node
			if other {
				node = k.Other
			}
			found[k.Conductor] = append(found[k.Conductor], node)
		}
		if len(found) == 0 && b.broken[name] {
			return nil, false
		}
		if len(found) == 0 {
			what := "no network"
			if network != "" {
				what = "no network " + network
			}
			b.wrong(path, element, "a place that carries it", "%s carries %s", end[0], what)
			return nil, false
		}
		return found, true
	}
	ok := true
	for j, point := range end {
		ppath := path
		if len(end) > 1 {
			ppath = fmt.Sprintf("%s[%d]", path, j)
		}
		node, good := b.wireEnd(point, ppath, element)
		if !good {
			ok = false
			continue
		}
		k := b.c.Nodes[node].Conductor
		if network != "" && k.Network != network {
			b.wrong(ppath, element, "points of network "+network, "%s carries %s", point, b.h.label(k))
			ok = false
		}
		if len(found[k]) > 0 {
			b.wrong(ppath, element, "one point for each conductor", "%s and %s both carry %s", b.c.Nodes[found[k][0]].Name, point, b.h.label(k))
			ok = false
		}
		found[k] = append(found[k], node)
	}
	if ok && len(networksOf(found)) > 1 {
		b.wrong(path, element, "points of one network", "%s belong to more than one network", strings.Join(end, ", "))
		ok = false
	}
	return found, ok
}

func networksOf(end map[Conductor][]int) map[string]bool {
	out := map[string]bool{}
	for k := range end {
		out[k.Network] = true
	}
	return out
}

// pairNetwork finds the network that both ends of a pair have in common.
func (b *builder) pairNetwork(p *Pair, from, to map[Conductor][]int, path, element string) (string, bool) {
	if p.Network != "" {
		return p.Network, true
	}
	var both []string
	for _, n := range b.h.Networks {
		if networksOf(from)[n.Name] && networksOf(to)[n.Name] && !slices.Contains(both, n.Name) {
			both = append(both, n.Name)
		}
	}
	switch len(both) {
	case 1:
		return both[0], true
	case 0:
		if b.anyBroken(p.From...) || b.anyBroken(p.To...) {
			return "", false
		}
		b.wrong(path, element, "two ends on one network", "its ends %s and %s have no network in common", strings.Join(p.From, ", "), strings.Join(p.To, ", "))
	default:
		b.wrong(path, element, "network: one of "+listNames(both), "its ends have more than one network in common")
	}
	return "", false
}

// pairNode picks the one node of a conductor at a pair's end.
func (b *builder) pairNode(end map[Conductor][]int, k Conductor, text []string, path, element string) (int, bool) {
	nodes := end[k]
	switch len(nodes) {
	case 1:
		return nodes[0], true
	case 0:
		if b.anyBroken(text...) {
			return 0, false
		}
		b.wrong(path, element, "a place or points that carry "+listNames(b.conductorNames(k.Network)), "%s does not carry %s", strings.Join(text, ", "), b.h.label(k))
	default:
		var names []string
		for _, n := range nodes {
			names = append(names, b.c.Nodes[n].Name)
		}
		b.wrong(path, element, "the points themselves, for example ["+names[0]+", ...]", "%s carries %s in more than one cavity: %s", strings.Join(text, ", "), b.h.label(k), listNames(names))
	}
	return 0, false
}

// wireEnd resolves a point at which a wire ends: a harness half or a splice.
func (b *builder) wireEnd(point, path, element string) (int, bool) {
	place, contact, dotted := strings.Cut(point, ".")
	name, halfName, _ := strings.Cut(place, "/")
	s, ok := b.c.Site(name)
	if !ok {
		b.noPlace(name, path, element)
		return 0, false
	}
	other, ok := b.wireHalf(s, halfName, place, path, element)
	if !ok {
		return 0, false
	}
	kind, contactKind := "connector", "cavity"
	if s.Kind == SpliceSite {
		kind, contactKind = "splice", "conductor"
	}
	if !dotted {
		b.wrong(path, element, "a point, for example "+place+"."+s.firstCavity(), "%q does not say which %s of %s %s", point, contactKind, kind, s.Name)
		return 0, false
	}
	// A wire ends in a cavity, and the diagram numbers it, so only its own name
	// will do here.
	for _, k := range s.Contacts {
		if k.Cavity != contact {
			continue
		}
		if k.Rail != "" {
			b.wrong(path, element, "a cavity that carries a conductor of a network", "ends in cavity %s, which carries %s; wires of the rails are not part of the harness file", point, k.Rail)
			return 0, false
		}
		if other {
			return k.Other, true
		}
		return k.Node, true
	}
	if b.broken[s.Name] {
		return 0, false
	}
	var have []string
	for _, k := range s.Contacts {
		if k.Rail == "" {
			have = append(have, place+"."+k.Cavity)
		}
	}
	b.wrong(path, element, "one of "+listNames(have), "ends in %s %s, which %s %s does not have", contactKind, point, kind, s.Name)
	return 0, false
}

func (s *Site) firstCavity() string {
	for _, k := range s.Contacts {
		if k.Rail == "" {
			return k.Cavity
		}
	}
	return "1"
}

func (b *builder) noPlace(name, path, element string) {
	if b.broken[name] {
		return // it is there, but could not be built: its own problem says why
	}
	switch b.names[name] {
	case "module":
		b.wrong(path, element, "the connector that plugs into it", "%s is a module; wires end in connectors and splices", name)
	default:
		var all []string
		for _, s := range b.c.Sites {
			all = append(all, s.Name)
		}
		b.wrong(path, element, "one of "+listNames(all), "there is no connector or splice %q", name)
	}
}

// wireHalf resolves the half of a connector that a wire ends in. At an inline
// connector it must be said: the two sides are different ends of the harness.
func (b *builder) wireHalf(s *Site, half, place, path, element string) (other, ok bool) {
	other, err := s.half(half)
	switch {
	case s.Kind == InlineSite && half == "":
		b.wrong(path, element, s.Name+"/a or "+s.Name+"/b", "%s is an inline connector, and it is not said on which side of it the wire ends", place)
	case err != nil && s.Kind == InlineSite:
		b.wrong(path, element, s.Name+"/a or "+s.Name+"/b", "%s is not a place where wires end", place)
	case err != nil || other && s.Kind != InlineSite:
		b.wrong(path, element, s.Name, "%s is not a place where wires end", place)
	default:
		return other, true
	}
	return false, false
}

func (b *builder) addWire(i int) {
	w := &b.h.Wires[i]
	path, element := fmt.Sprintf("wires[%d]", i), "wire "+w.Name
	if what, write := w.size().problem(); what != "" {
		b.wrong(path, element, write, "%s", what)
	}
	if w.From == "" || w.To == "" {
		return
	}
	a, okA := b.wireEnd(w.From, path+".from", element)
	z, okZ := b.wireEnd(w.To, path+".to", element)
	if !okA || !okZ {
		return
	}
	ka, kz := b.c.Nodes[a].Conductor, b.c.Nodes[z].Conductor
	if ka != kz {
		b.wrong(path+".to", element, "two ends of one conductor", "joins %s at %s to %s at %s", b.h.label(ka), w.From, b.h.label(kz), w.To)
		return
	}
	b.addConductor(element, w.Name, a, z, ka, w.size(), b.parameter("length of "+element), path, element)
}

func (b *builder) addStray(i int) {
	s := &b.h.Strays[i]
	path, element := fmt.Sprintf("strays[%d]", i), "stray path "+s.Name
	end := func(point, key string) (int, bool) {
		switch point {
		case "":
			return 0, false
		case GroundRail:
			return GroundNode, true
		case SupplyRail:
			return SupplyNode, true
		}
		n, err := b.c.Point(point)
		if err != nil {
			if !b.anyBroken(point) {
				b.wrong(path+"."+key, element, "a point: X3.9, S2.H, "+GroundRail+" or "+SupplyRail, "%v", err)
			}
			return 0, false
		}
		return n, true
	}
	a, okA := end(s.From, "from")
	z, okZ := end(s.To, "to")
	if !okA || !okZ {
		return
	}
	if a == z {
		b.wrong(path+".to", element, "another end", "both ends are %s", s.From)
		return
	}
	pct := StrayTolerancePct
	if s.TolerancePct != nil {
		pct = *s.TolerancePct
	}
	law := Law{Value: b.percent(element, s.Ohms, pct)}
	b.element(Element{Name: element, Kind: StrayElement, Part: s.Name, A: a, B: z, Off: law, Awake: law})
}

// findFloating reports conductors that hang in the air: cavities without a
// wire, splices with less than two, and parts of a network's conductor that do
// not reach the rest of it.
func (b *builder) findFloating() {
	for _, s := range b.c.Sites {
		for _, k := range s.Contacts {
			if k.Rail != "" {
				continue
			}
			nodes := []int{k.Node}
			if s.Kind == InlineSite {
				nodes = append(nodes, k.Other)
			}
			for _, n := range nodes {
				at, name := b.wherePut[n], b.c.Nodes[n].Name
				switch {
				case s.Kind == SpliceSite && b.ends[n] < 2:
					b.wrong(at.path, at.element, "the wires or pairs that meet there, or leave the splice out", "joint %s has %s; a splice joins two or more", name, []string{"no wire end", "one wire end"}[b.ends[n]])
				case s.Kind != SpliceSite && b.ends[n] == 0:
					b.wrong(at.path, at.element, "the wire or pair that ends there, or leave the cavity out", "cavity %s carries %s, but no wire ends there", name, b.h.label(k.Conductor))
				}
			}
		}
	}
	if len(b.problems) > 0 {
		return
	}
	b.findParts()
}

// findParts reports where a conductor falls into separate parts: all its nodes
// must hang together by wires, contacts and joints.
func (b *builder) findParts() {
	parent := make([]int, len(b.c.Nodes))
	for i := range parent {
		parent[i] = i
	}
	var find func(int) int
	find = func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, e := range b.c.Elements {
		if e.Conductor != (Conductor{}) && e.Kind != InputElement {
			parent[find(e.A)] = find(e.B)
		}
	}
	for i, n := range b.h.Networks {
		for _, name := range b.networks[n.Name].Conductors {
			k := Conductor{n.Name, name}
			parts := map[int][]int{}
			var order []int
			for j, node := range b.c.Nodes {
				if node.Conductor == k {
					root := find(j)
					if parts[root] == nil {
						order = append(order, root)
					}
					parts[root] = append(parts[root], j)
				}
			}
			if len(order) == 0 {
				b.wrong(fmt.Sprintf("networks[%d]", i), "network "+n.Name, "connectors and pairs for it, or leave it out", "nothing carries %s", b.h.label(k))
				continue
			}
			main := slices.MaxFunc(order, func(x, y int) int { return len(parts[x]) - len(parts[y]) })
			for _, root := range order {
				if root == main {
					continue
				}
				var names []string
				at := siteReference{path: fmt.Sprintf("networks[%d]", i)}
				for _, j := range parts[root] {
					if w, ok := b.wherePut[j]; ok {
						names = append(names, b.c.Nodes[j].Name)
						if at.element == "" {
							at = w
						}
					}
				}
				b.wrong(at.path, at.element, "the wire or pair that joins it to the rest", "%s at %s is not connected with the rest of %s", b.h.label(k), listNames(names), b.h.label(k))
			}
		}
	}
}
