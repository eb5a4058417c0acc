package netlist

import (
	"fmt"
)

// claimConnectors notes what each connector plugs into, so that connectors can
// be built before modules.
func (b *builder) claimConnectors() {
	for i, m := range b.h.Modules {
		for j, name := range m.Connectors {
			path := listPath("modules", i, "connectors", j, len(m.Connectors))
			element := "module " + m.Name
			at, there := b.connectors[name]
			switch {
			case !there:
				b.broken[m.Name] = true
				b.wrong(path, element, "one of "+listNamesOf(len(b.h.Connectors), func(i int) string { return b.h.Connectors[i].Name }), "there is no connector %s", name)
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
		at, there := b.connectors[t.At]
		if there && !b.h.Connectors[at].Inline {
			if _, taken := b.fitted[t.At]; !taken {
				b.fitted[t.At] = -1
				b.plugged[t.At] = t.Name
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
	if x.Network != "" && !b.hasNetwork(x.Network) {
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
		site.Device = b.plugged[x.Name]
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
