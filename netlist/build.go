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

	names        map[string]string     // every name in use: its kind
	partNames    []string              // those of parts that may be at fault
	networks     map[string]Layer      // by network name
	inside       map[insideKey]int     // module and conductor: node
	fitted       map[string]int        // place: index in Modules, −1 a plug-in terminator
	connectors   map[string]int        // by name: index in Connectors
	plugged      map[string]string     // connector: the terminator that plugs into it
	networkOrder []string              // names, each once
	broken       map[string]bool       // places and modules with a problem of their own
	ends         map[int]int           // node: wires that end there
	wherePut     map[int]siteReference // node: the file's place that made it

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
		names:      map[string]string{GroundRail: "rail", SupplyRail: "rail"},
		networks:   map[string]Layer{},
		inside:     map[insideKey]int{},
		fitted:     map[string]int{},
		connectors: map[string]int{},
		plugged:    map[string]string{},
		broken:     map[string]bool{},
		ends:       map[int]int{},
		wherePut:   map[int]siteReference{},
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
	b.checkRates()
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
		if kind != strayPath {
			b.partNames = append(b.partNames, name)
		}
	}
	h := b.h
	for i, x := range h.Connectors {
		take("connector", "connectors", i, x.Name)
		if _, doubled := b.connectors[x.Name]; !doubled {
			b.connectors[x.Name] = i
		}
	}
	takeAll := func(kind, list string, n int, name func(int) string) {
		for i := range n {
			take(kind, list, i, name(i))
		}
	}
	takeAll("splice", "splices", len(h.Splices), func(i int) string { return h.Splices[i].Name })
	takeAll("module", "modules", len(h.Modules), func(i int) string { return h.Modules[i].Name })
	takeAll("terminator", "terminators", len(h.Terminators), func(i int) string { return h.Terminators[i].Name })
	takeAll("pair", "pairs", len(h.Pairs), func(i int) string { return h.Pairs[i].Name })
	takeAll("wire", "wires", len(h.Wires), func(i int) string { return h.Wires[i].Name })
	takeAll(strayPath, "strays", len(h.Strays), func(i int) string { return h.Strays[i].Name })
}

// strayPath is what takeNames calls the one kind of part that is known to be there
// and so is not at fault.
const strayPath = "stray path"

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
		b.networkOrder = append(b.networkOrder, n.Name)
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
		if k.DriveVolts == 0 && (k.DriveHOhms != 0 || k.DriveLOhms != 0 || k.DriveLimitMinMA != 0 || k.DriveLimitMaxMA != 0) {
			b.wrong(path, element, "drive_volts as well, or none of the drive keys", "has drive figures but no drive_volts")
		}
		if k.DriveVolts != 0 {
			for _, x := range []struct {
				key   string
				value float64
			}{{"drive_h_ohms", k.DriveHOhms}, {"drive_l_ohms", k.DriveLOhms}, {"drive_limit_min_ma", k.DriveLimitMinMA}, {"drive_limit_max_ma", k.DriveLimitMaxMA}} {
				if x.value == 0 {
					b.wrong(path, element, x.key+" as well, from the part's data sheet", "has drive_volts but no %s", x.key)
				}
			}
			if k.DriveLimitMaxMA != 0 && k.DriveLimitMaxMA < k.DriveLimitMinMA {
				b.wrong(path+".drive_limit_max_ma", element, "the greater of the two", "drive_limit_max_ma %v is less than drive_limit_min_ma %v", k.DriveLimitMaxMA, k.DriveLimitMinMA)
			}
		}
		if k.AwakeMaxOhms < k.AwakeMinOhms {
			b.wrong(path+".awake_max_ohms", element, "the greater of the two", "awake_max_ohms %v is less than awake_min_ohms %v", k.AwakeMaxOhms, k.AwakeMinOhms)
		}
	}
}

func (b *builder) networkNames() []string { return b.networkOrder }

func (b *builder) hasNetwork(name string) bool {
	_, ok := b.networks[name]
	return ok
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
	if !b.hasNetwork(name) {
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
		if !b.hasNetwork(n) {
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
