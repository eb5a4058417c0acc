package netlist

import "fmt"

// Assumption is a default that a harness makes use of because it does not say
// for itself.
type Assumption struct {
	// About is the parts concerned, in words.
	About string `json:"about"`
	// Taken is the value that was taken, with its unit.
	Taken string `json:"taken"`
	// Source says where the value comes from; "from memory" where it has none.
	Source string `json:"source"`
	// Write is the key that would replace the assumption.
	Write string `json:"write,omitempty"`
}

// Assumptions lists every default that the harness makes use of.
func Assumptions(h *Harness) []Assumption {
	var out []Assumption
	add := func(about []string, taken, source, write string) {
		if len(about) > 0 {
			out = append(out, Assumption{listNames(about), taken, source, write})
		}
	}
	if h.TemperatureC == nil {
		add([]string{"all wires"}, fmt.Sprintf("copper at %g °C ± %g K, the same for all", DefaultTemperatureC, TemperatureSpreadC), "from memory; coefficient 0.00393 per kelvin: IEC 60028", "temperature_c")
	} else {
		add([]string{"all wires"}, fmt.Sprintf("temperature_c good to ± %g K, the same for all", TemperatureSpreadC), "from memory; coefficient 0.00393 per kelvin: IEC 60028", "")
	}
	if h.Supply == nil || h.Supply.Volts == 0 {
		add([]string{"supply"}, fmt.Sprintf("%g ± %g V when on", DefaultSupplyVolts, SupplySpreadVolts), "from memory", "supply: {volts: ...}")
	}
	if h.Supply == nil || h.Supply.LoadOhms == 0 {
		add([]string{"supply"}, fmt.Sprintf("%g to %g Ω to ground through other loads, battery off", SupplyLoadMinOhms, SupplyLoadMaxOhms), "from memory", "supply: {load_ohms: ...}")
	}

	var cavities, reach, contacts []string
	fitted := map[string]bool{}
	for _, m := range h.Modules {
		for _, x := range m.Connectors {
			fitted[x] = true
		}
	}
	for _, t := range h.Terminators {
		fitted[t.At] = true
	}
	for _, x := range h.Connectors {
		if len(x.Cavities) == 0 {
			cavities = append(cavities, x.Name)
		}
		if x.ReachMin == nil {
			reach = append(reach, x.Name)
		}
		if x.ContactOhms == 0 && (x.Inline || fitted[x.Name]) {
			contacts = append(contacts, x.Name)
		}
	}
	add(cavities, "cavities named after the conductors they carry", "this project's own convention", "cavities")
	add(reach, fmt.Sprintf("%g min to reach", DefaultReachMin), "from memory", "reach_min")
	looked, opened := h.looksAssumed()
	add(looked, fmt.Sprintf("%g min to look into, once there", DefaultLookMin), "from memory", "look_min, of the harness or of the part")
	add(opened, fmt.Sprintf("%g min to open up, once there", DefaultLookWireMin), "from memory", "look_wire_min of the harness, or look_min of the part")
	add(contacts, fmt.Sprintf("%g to %g mΩ for each mated contact", ContactMinOhms*1000, ContactMaxOhms*1000), "CiA 303-1, quoted second-hand", "contact_ohms")

	// What each transceiver is taken as needs the networks that reach it, so the
	// circuit is asked.
	var unnamed, driverless []string
	byKind := map[string][]string{}
	var kinds []string
	if c, problems := build(h); len(problems) == 0 {
		for _, t := range c.Transceivers {
			m := h.module(c.Units[t.Unit].Name)
			label := m.Name
			if len(h.Networks) > 1 {
				label += " on " + t.Network
			}
			name := h.kindOn(m, t.Network)
			if m.Transceiver != name && len(m.Kinds) == 0 {
				unnamed = append(unnamed, label)
			}
			if byKind[name] == nil {
				kinds = append(kinds, name)
			}
			byKind[name] = append(byKind[name], label)
			if k, ok := h.TransceiverByName(name); ok && k.DriveVolts == 0 {
				driverless = append(driverless, label)
			}
		}
	}
	add(unnamed, "the kind of transceiver that the layer has by default", "nothing is known of the part", "transceiver, or kinds: {network: kind}")
	for _, name := range kinds {
		if k, ok := h.TransceiverByName(name); ok {
			add(byKind[name], fmt.Sprintf("kind %s: %s to ground each conductor with supply off, %s to the bias when awake", name, ohmsRange(k.UnpoweredMinOhms, k.UnpoweredMaxOhms), ohmsRange(k.AwakeMinOhms, k.AwakeMaxOhms)), k.Source, "a kind under transceivers, from the part's data sheet")
		}
	}
	d := DefaultDriver
	add(driverless, fmt.Sprintf("drives from %g V ± %g %% through %g Ω ± %g %% and %g V ± %g %% on either side, limited at %g to %g mA",
		d.DriveVolts, DriveVoltsPct, d.DriveHOhms, DriveOhmsPct, d.DriveHDiodeVolts, DriveDiodePct, d.DriveLimitMinMA, d.DriveLimitMaxMA), d.Source, "a kind with drive_volts and the like")
	add(moduleNames(h), "supply and ground come through the connectors listed, so a module with all of them unplugged has neither", "this project's own convention", "")

	var tolerance []string
	for _, t := range h.Terminators {
		if t.TolerancePct == nil {
			tolerance = append(tolerance, t.Name)
		}
	}
	add(tolerance, fmt.Sprintf("± %g %%", DefaultTerminatorTolerancePct), "common practice, no source", "tolerance_pct")

	var strays []string
	for _, x := range h.Strays {
		if x.TolerancePct == nil {
			strays = append(strays, x.Name)
		}
	}
	add(strays, fmt.Sprintf("± %g %%", StrayTolerancePct), "from memory", "tolerance_pct")

	var iso, gauge, explicit, lengths []string
	size := func(name string, s conductorSize) {
		switch {
		case s.Ohms != 0:
			if s.TolerancePct == nil {
				explicit = append(explicit, name)
			}
			return
		case s.SectionMM2 != 0:
			iso = append(iso, name)
		case s.AWG != 0 && s.TolerancePct == nil:
			gauge = append(gauge, name)
		case s.OhmsPerM != 0 && s.TolerancePct == nil:
			explicit = append(explicit, name)
		}
		lengths = append(lengths, name)
	}
	for i := range h.Pairs {
		size(h.Pairs[i].Name, h.Pairs[i].size())
	}
	for i := range h.Wires {
		size(h.Wires[i].Name, h.Wires[i].size())
	}
	add(iso, "ohms from annealed copper of the section up to the standard's maximum", "IEC 60028; ISO 6722-1 / ISO 19642 maxima from memory", "ohms, or ohms_per_m with tolerance_pct")
	add(gauge, fmt.Sprintf("ohms of solid annealed copper ± %g %%", DefaultWireTolerancePct), "ASTM B258, IEC 60028; width from memory", "tolerance_pct")
	add(explicit, fmt.Sprintf("the ohms given ± %g %%", DefaultWireTolerancePct), "from memory", "tolerance_pct")
	add(lengths, fmt.Sprintf("lengths good to ± %g %%", LengthTolerancePct), "from memory", "ohms")
	return out
}

// looksAssumed lists the parts that are taken to be looked into within the default
// minutes, and those that are taken to be opened up so.
func (h *Harness) looksAssumed() (looked, opened []string) {
	looks, order := h.looks()
	for _, name := range order {
		switch x := looks[name]; {
		case x.Own:
		case x.Opened && h.LookWireMin == nil:
			opened = append(opened, name)
		case !x.Opened && h.LookMin == nil:
			looked = append(looked, name)
		}
	}
	return looked, opened
}

func (h *Harness) module(name string) *Module {
	for i := range h.Modules {
		if h.Modules[i].Name == name {
			return &h.Modules[i]
		}
	}
	return nil
}

func moduleNames(h *Harness) []string {
	var out []string
	for _, m := range h.Modules {
		out = append(out, m.Name)
	}
	return out
}

// ohmsRange writes a range of resistances; a maximum of 0 stands for open.
func ohmsRange(min, max float64) string {
	if max == 0 {
		return FormatOhms(min) + " up to open"
	}
	return FormatOhms(min) + " to " + FormatOhms(max)
}

// FormatOhms writes a resistance with a unit that a person would choose, to
// four figures.
func FormatOhms(ohms float64) string {
	v, unit := ohms, "Ω"
	switch {
	case ohms >= 1e6:
		v, unit = ohms/1e6, "MΩ"
	case ohms >= 1e3:
		v, unit = ohms/1e3, "kΩ"
	case 0 < ohms && ohms < 1:
		v, unit = ohms*1e3, "mΩ"
	}
	return fmt.Sprintf("%.4g %s", v, unit)
}
