package netlist

import (
	"fmt"
	"slices"
	"strings"
)

// Circuit is a harness as a network of electrical nodes and two-terminal
// elements: every cavity half, splice joint, module inside and rail is a node,
// every wire, contact, terminator and transceiver input an element. It is made
// once by [NewCircuit] and never changed afterwards; vehicle states, tolerances
// and faults are laid over it when it is solved.
type Circuit struct {
	Harness    *Harness
	Nodes      []Node
	Elements   []Element
	Parameters []Parameter
	Sites      []Site
	Units      []Unit
	// Transceivers of all units, in their order.
	Transceivers []Transceiver

	elementByName map[string]int
	siteByName    map[string]int
}

// GroundNode and SupplyNode are the indices of the two rails in every
// Circuit's Nodes.
const (
	GroundNode = 0
	SupplyNode = 1
)

// Conductor names one conductor of one network.
type Conductor struct{ Network, Name string }

// Node is an electrical point.
type Node struct {
	// Name as a person writes it: X3.9, X3/device.9, S2.H, ground.
	Name string
	// Conductor that the node belongs to in a healthy harness; zero for rails
	// and the middle points of terminators.
	Conductor Conductor
}

// ElementKind tells what an Element stands for.
type ElementKind int

// The kinds of elements. A Joint is an ideal connection: solving merges its
// two nodes, no small resistance stands in for it.
const (
	Joint ElementKind = iota
	WireElement
	ContactElement
	TerminatorElement
	InputElement
	LoadElement
	StrayElement
)

// Element is a two-terminal part between Nodes[A] and Nodes[B].
type Element struct {
	// Name is unique: "wire W3", "pair P1 H", "contact X3.9".
	Name string
	Kind ElementKind
	// Part is the part of the harness to repair or replace: a wire, pair,
	// connector, terminator or module name.
	Part string
	A, B int
	// Conductor that the element is part of; zero where it lies between two.
	Conductor Conductor
	// LengthM is the length in metres of a wire where it is known, else 0.
	LengthM float64
	// Off and Awake are the element's law with the supply off and with the
	// modules awake.
	Off, Awake Law
}

// Law is a resistance in series with a source: the current from A to B is
// (V_A − V_B − Volts) / ohms.
type Law struct {
	// Siemens says that Value is a conductance in siemens, not a resistance in
	// ohms. Elements that may be open are written as conductances.
	Siemens bool
	Value   Spread
	// Volts of the series source.
	Volts Spread
}

// Ohms gives the resistance in ohms for standard parameters z (nil for the
// middle of every range); +Inf for a conductance of zero.
func (l Law) Ohms(z []float64) float64 {
	v := l.Value.At(z)
	if l.Siemens {
		return 1 / v
	}
	return v
}

// Spread is a value that depends on the harness's parameters: Mid plus Half
// for each parameter at its upper limit.
type Spread struct {
	Mid   float64
	Parts []Share
}

// Share is how far one parameter moves a value: by Half when the parameter
// goes from the middle of its range to its upper limit.
type Share struct {
	Parameter int
	Half      float64
}

// At gives the value for standard parameters z, each from −1 (lower limit) to
// 1 (upper limit); nil stands for all 0.
func (s Spread) At(z []float64) float64 {
	v := s.Mid
	if z != nil {
		for _, p := range s.Parts {
			v += p.Half * z[p.Parameter]
		}
	}
	return v
}

// Parameter is one thing about the harness that is only known within limits: a
// terminator's error, the copper's temperature. One parameter may move many
// elements, which is why readings of one harness are off together.
type Parameter struct{ Name string }

// SiteKind tells what sort of place a Site is.
type SiteKind int

// The kinds of sites.
const (
	ConnectorSite SiteKind = iota
	InlineSite
	SpliceSite
)

// Site is a place where conductors end or join: a connector or a splice.
type Site struct {
	Name string
	Kind SiteKind
	// ReachMin is the time in minutes to get a meter there; Reachable is false
	// for a splice that the harness gives no time for.
	ReachMin  float64
	Reachable bool
	// Device is the module or plug-in terminator on the device half, or empty.
	Device   string
	Contacts []SiteContact
}

// SiteContact is one cavity of a connector or one joint of a splice.
type SiteContact struct {
	// Cavity is the cavity's name; for a splice the conductor's.
	Cavity    string
	Conductor Conductor
	// Rail is ground or supply for a cavity that carries a rail.
	Rail string
	// Node on the harness half (side a), and on the device half or side b; −1
	// where there is none.
	Node, Other int
	// Element is the index of the mated contact, −1 where there is none.
	Element int
}

// Unit is a module as the circuit sees it.
type Unit struct {
	Name string
	// Sites are the connectors it plugs into, as indices of Circuit.Sites.
	Sites []int
	// GroundElement joins the module's own ground to the ground rail, as an
	// index of Circuit.Elements.
	GroundElement int
	// GroundVolts is how far its own ground lies above the rail, supply on.
	GroundVolts float64
	// Inputs are its transceivers' input elements.
	Inputs []int
}

// Transceiver is what a module sends and receives with on one network.
type Transceiver struct {
	// Unit is an index of Circuit.Units.
	Unit    int
	Network string
	Layer   Layer
	// High and Low are the nodes inside the module of the two conductors,
	// Ground that of its own ground. On a network of one conductor that is Low,
	// and High is the supply.
	High, Low, Ground int
	// Up pulls High towards its volts when the module sends dominant, Down
	// pulls Low towards its volts. Both are to the module's own ground.
	Up, Down Drive
}

// Drive is one switch of a driver: a source of Volts behind Ohms that cannot take
// current the other way, and gives LimitAmps at most.
type Drive struct {
	Volts, Ohms, LimitAmps Spread
}

// Transceiver finds a module's transceiver on a network; network may be empty
// where the module has one.
func (c *Circuit) Transceiver(module, network string) (int, error) {
	var found []int
	known := false
	for i, t := range c.Transceivers {
		if c.Units[t.Unit].Name != module {
			continue
		}
		known = true
		if network == "" || t.Network == network {
			found = append(found, i)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		var names []string
		for _, i := range found {
			names = append(names, module+"/"+c.Transceivers[i].Network)
		}
		return 0, fmt.Errorf("module %s is on several networks; write one of %s", module, strings.Join(names, ", "))
	case known:
		return 0, fmt.Errorf("module %s has no transceiver on a network %q", module, network)
	}
	var names []string
	for _, t := range c.Transceivers {
		if n := c.Units[t.Unit].Name; len(names) == 0 || names[len(names)-1] != n {
			names = append(names, n)
		}
	}
	return 0, fmt.Errorf("there is no module %q with a transceiver; there are %s", module, listNames(names))
}

// HasTransceiver tells whether a module has a transceiver, on whatever network.
func (c *Circuit) HasTransceiver(module string) bool {
	return slices.ContainsFunc(c.Transceivers, func(t Transceiver) bool { return c.Units[t.Unit].Name == module })
}

// Element finds an element by name.
func (c *Circuit) Element(name string) (int, bool) {
	i, ok := c.elementByName[name]
	return i, ok
}

// FindElement is [Circuit.Element] with an error that says which elements are called
// like it.
func (c *Circuit) FindElement(name string) (*Element, error) {
	if i, ok := c.Element(name); ok {
		return &c.Elements[i], nil
	}
	var like []string
	words := strings.Fields(name)
	for i := range c.Elements {
		if e := &c.Elements[i]; e.Part != "" && slices.Contains(words, e.Part) {
			like = append(like, fmt.Sprintf("%q", e.Name))
		}
	}
	switch {
	case len(c.Elements) == 0:
		return nil, fmt.Errorf("there is no element %q; the circuit has none", name)
	case len(like) == 0:
		return nil, fmt.Errorf("there is no element %q; write a name such as %q", name, c.Elements[0].Name)
	}
	return nil, fmt.Errorf("there is no element %q; there are %s", name, listNames(like))
}

// Site finds a connector or splice by name.
func (c *Circuit) Site(name string) (*Site, bool) {
	i, ok := c.siteByName[name]
	if !ok {
		return nil, false
	}
	return &c.Sites[i], true
}

// FindSite is [Circuit.Site] with an error that says which sites there are.
func (c *Circuit) FindSite(name string) (*Site, error) {
	s, ok := c.Site(name)
	if !ok {
		for i := range c.Sites {
			if strings.EqualFold(c.Sites[i].Name, name) {
				return nil, fmt.Errorf("there is no connector or splice %q, but there is %s", name, c.Sites[i].Name)
			}
		}
		return nil, fmt.Errorf("there is no connector or splice %q; there are %s", name, c.siteNames())
	}
	return s, nil
}

// Label names a conductor for people: the bare conductor where the harness has
// one network, else network and conductor.
func (c *Circuit) Label(k Conductor) string { return c.Harness.label(k) }

func (h *Harness) label(k Conductor) string {
	if len(h.Networks) == 1 {
		return k.Name
	}
	return k.Network + "." + k.Name
}

// Point finds the node that a name stands for: ground, supply, a connector's
// cavity (X3.9), the other half of a connector (X3/device.9, X5/b.4), a splice
// joint (S2.H). A conductor's name may stand in place of the cavity (X3.H)
// where just one cavity carries it.
func (c *Circuit) Point(name string) (int, error) {
	switch name {
	case GroundRail:
		return GroundNode, nil
	case SupplyRail:
		return SupplyNode, nil
	}
	place, contact, ok := strings.Cut(name, ".")
	if !ok {
		return 0, fmt.Errorf("point %q has no cavity; a point is X3.9, X3/device.9, S2.H, %s or %s", name, GroundRail, SupplyRail)
	}
	site, half, _ := strings.Cut(place, "/")
	s, err := c.FindSite(site)
	if err != nil {
		return 0, fmt.Errorf("point %q: %w", name, err)
	}
	other, err := s.half(half)
	if err != nil {
		return 0, fmt.Errorf("point %q: %w", name, err)
	}
	k, err := c.contact(s, contact)
	if err != nil {
		return 0, fmt.Errorf("point %q: %w", name, err)
	}
	if other {
		if k.Other < 0 {
			return 0, fmt.Errorf("point %q: nothing is on the other half of %s at cavity %s", name, s.Name, k.Cavity)
		}
		return k.Other, nil
	}
	return k.Node, nil
}

// half tells whether a half's name means the device half or side b.
func (s *Site) half(name string) (other bool, err error) {
	switch {
	case name == "":
		return false, nil
	case s.Kind == SpliceSite:
		return false, fmt.Errorf("splice %s has no halves; leave out /%s", s.Name, name)
	case s.Kind == InlineSite && name == "a":
		return false, nil
	case s.Kind == InlineSite && name == "b":
		return true, nil
	case s.Kind == InlineSite:
		return false, fmt.Errorf("inline connector %s has the halves a and b, not %q", s.Name, name)
	case name == "harness":
		return false, nil
	case name == "device" && s.Device == "":
		return false, fmt.Errorf("nothing is plugged into connector %s, so it has no device half", s.Name)
	case name == "device":
		return true, nil
	}
	return false, fmt.Errorf("connector %s has the halves harness and device, not %q", s.Name, name)
}

// contact finds a site's contact by cavity name, or else by conductor.
func (c *Circuit) contact(s *Site, name string) (*SiteContact, error) {
	var byConductor []*SiteContact
	for i := range s.Contacts {
		k := &s.Contacts[i]
		if k.Cavity == name {
			return k, nil
		}
		if name == k.Rail || k.Rail == "" && (name == k.Conductor.Network+"."+k.Conductor.Name || name == k.Conductor.Name) {
			byConductor = append(byConductor, k)
		}
	}
	if len(byConductor) == 1 {
		return byConductor[0], nil
	}
	describe := func(k *SiteContact) string {
		if k.Rail != "" {
			return k.Cavity + " (" + k.Rail + ")"
		}
		return k.Cavity + " (" + c.Label(k.Conductor) + ")"
	}
	var have []string
	if len(byConductor) > 1 {
		for _, k := range byConductor {
			have = append(have, describe(k))
		}
		return nil, fmt.Errorf("%q may be any of several cavities of %s: %s", name, s.Name, strings.Join(have, ", "))
	}
	for i := range s.Contacts {
		have = append(have, describe(&s.Contacts[i]))
	}
	hint := ""
	if strings.EqualFold(name, "gnd") || strings.EqualFold(name, GroundRail) {
		hint = fmt.Sprintf(" (the ground rail is written %s)", GroundRail)
	}
	return nil, fmt.Errorf("%s has no cavity or conductor %q%s; there are %s", s.Name, name, hint, listNames(have))
}

func (c *Circuit) siteNames() string {
	return listNamesOf(len(c.Sites), func(i int) string { return c.Sites[i].Name })
}

// Unplug gives the elements that part when the named connectors are unplugged:
// their contacts, and the ground of each module of which no connector is left.
// (A module's supply and ground are taken to come through its connectors.)
func (c *Circuit) Unplug(connectors ...string) ([]int, error) {
	var parted []int
	for _, name := range connectors {
		s, ok := c.Site(name)
		if !ok || s.Kind == SpliceSite {
			return nil, fmt.Errorf("there is no connector %q to unplug; there are %s", name, c.siteNames())
		}
		if s.Kind == ConnectorSite && s.Device == "" {
			return nil, fmt.Errorf("nothing is plugged into connector %s, so it cannot be unplugged", name)
		}
		for _, k := range s.Contacts {
			if k.Element >= 0 {
				parted = append(parted, k.Element)
			}
		}
	}
	for _, u := range c.Units {
		if len(u.Sites) == 0 {
			continue
		}
		gone := true
		for _, s := range u.Sites {
			gone = gone && slices.Contains(connectors, c.Sites[s].Name)
		}
		if gone {
			parted = append(parted, u.GroundElement)
		}
	}
	return parted, nil
}

// listNames joins names for a message, a few at most.
func listNames(names []string) string {
	return listNamesOf(len(names), func(i int) string { return names[i] })
}

// listNamesOf is listNames without the names gathered first: a message must not
// cost as much as the harness is large.
func listNamesOf(n int, name func(int) string) string {
	const most = 24
	if n == 0 {
		return "none"
	}
	var b strings.Builder
	for i := 0; i < min(n, most); i++ {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(name(i))
	}
	if n > most {
		fmt.Fprintf(&b, " and %d more", n-most)
	}
	return b.String()
}
