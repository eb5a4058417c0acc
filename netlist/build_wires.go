package netlist

import (
	"fmt"
	"slices"
	"strings"
)

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
	if p.Network != "" && !b.hasNetwork(p.Network) {
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
		b.wrong(path, element, "one of "+b.c.siteNames(), "there is no connector or splice %q", name)
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
