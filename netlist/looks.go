package netlist

// Look is what it takes to look into a part once one is there.
type Look struct {
	Minutes float64
	// Opened says that a sleeve or tape comes off: pairs, wires, splices, and what is
	// crimped into a splice. Other parts are connectors, modules and terminators.
	Opened bool
	// Own says that the harness has the minutes for this very part, or a terminator's
	// for the place where it sits.
	Own bool
}

// LookMinutes gives the minutes to look into a part that has none of its own:
// connectors, modules and terminators, and what is opened up.
func (h *Harness) LookMinutes() (part, opened float64) {
	part, opened = DefaultLookMin, DefaultLookWireMin
	if h.LookMin != nil {
		part = *h.LookMin
	}
	if h.LookWireMin != nil {
		opened = *h.LookWireMin
	}
	return part, opened
}

// Looks gives by name what looking into each part takes. A terminator without minutes
// of its own takes what the module, connector or splice takes that it sits at: to see
// it the same is opened.
func (h *Harness) Looks() map[string]Look {
	out, _ := h.looks()
	return out
}

// looks is Looks with the names in the harness's order.
func (h *Harness) looks() (looks map[string]Look, order []string) {
	looks = map[string]Look{}
	part, opened := h.LookMinutes()
	add := func(name string, look Look, own *float64) {
		if own != nil {
			look.Minutes, look.Own = *own, true
		}
		looks[name] = look
		order = append(order, name)
	}
	for _, x := range h.Connectors {
		add(x.Name, Look{Minutes: part}, x.LookMin)
	}
	for _, x := range h.Modules {
		add(x.Name, Look{Minutes: part}, x.LookMin)
	}
	for _, x := range h.Splices {
		add(x.Name, Look{Minutes: opened, Opened: true}, x.LookMin)
	}
	for _, x := range h.Terminators {
		add(x.Name, looks[x.At], x.LookMin)
	}
	for _, x := range h.Pairs {
		add(x.Name, Look{Minutes: opened, Opened: true}, x.LookMin)
	}
	for _, x := range h.Wires {
		add(x.Name, Look{Minutes: opened, Opened: true}, x.LookMin)
	}
	return looks, order
}
