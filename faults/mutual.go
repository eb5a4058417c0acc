package faults

// mutual is the resistance between any two ports of all faults in a view, so that pairs
// need not ask for each again. Ports are numbered, those between points before those in
// branches: what a branch sees of all others stands in one column of the net's then.
type mutual struct {
	ports []*seenPort
	rows  [][]float64 // by port and earlier port
}

// mostMutual is for how many ports it is kept: 16 MB.
const mostMutual = 2000

// seeEachOther works it out for each view where that is worth its memory.
func (s *search) seeEachOther() {
	for _, v := range s.views {
		if v.mutual != nil {
			continue
		}
		m := &mutual{}
		for _, series := range []bool{false, true} {
			for _, t := range v.threads {
				if t == nil {
					continue
				}
				for i := range t.ports {
					if p := &t.ports[i]; p.port.Series() == series {
						p.number = len(m.ports)
						m.ports = append(m.ports, p)
					}
				}
			}
		}
		n := len(m.ports)
		if n > mostMutual {
			continue
		}
		flat := make([]float64, n*(n-1)/2)
		m.rows = make([][]float64, n)
		for i := range m.rows {
			m.rows[i], flat = flat[:i:i], flat[i:]
		}
		parallel(n, func() func(int) {
			return func(i int) {
				for j, p := range m.ports[:i] {
					m.rows[i][j] = v.between(m.ports[i], p)
				}
			}
		})
		v.mutual = m
	}
}

// of is the resistance between ports of two faults.
func (v *view) of(a, b *seenPort) float64 {
	switch m := v.mutual; {
	case m == nil:
		return v.between(a, b)
	case a.number > b.number:
		return m.rows[a.number][b.number]
	case a.number < b.number:
		return m.rows[b.number][a.number]
	}
	return v.between(a, b)
}
