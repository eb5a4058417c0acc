package derivation

// hold makes one point of all that are held at a voltage: a resistance to a point
// at 12 V is one to ground with 12 V in series.
func (p *paper) hold() {
	held := p.net.Held()
	if len(held) < 2 {
		return
	}
	var inputs, outputs []int
	for i := range p.d.Resistances {
		r := p.d.Resistances[i]
		va, heldA := held[r.a]
		vb, heldB := held[r.b]
		if !p.live[i] || !(heldA && r.a != p.ground || heldB && r.b != p.ground) {
			continue
		}
		p.remove(i)
		inputs = append(inputs, i)
		if heldA && heldB {
			continue // whatever flows there is between points that do not move
		}
		if heldA {
			r.a, r.b, r.Volts, vb = r.b, r.a, -r.Volts, va
		}
		outputs = append(outputs, p.derive(r.a, p.ground, r.Ohms, r.Volts+vb, []int{i}))
	}
	if volts, ok := held[p.from]; ok {
		p.d.FromHeld, p.from = volts, p.ground
	}
	if volts, ok := held[p.to]; ok {
		p.d.ToHeld, p.to = volts, p.ground
	}
	if len(inputs) > 0 {
		p.step(Hold, p.names[p.ground], inputs, outputs)
	}
}
