package faults

// mutual is the resistance between any two ports of all faults in a view, so that pairs
// need not ask for each again. Ports are numbered, those between points before those in
// branches: what a branch sees of all others stands in one column of the net's then.
type mutual struct {
	ports []*seenPort
	rows  [][]float64 // by port and port
}

// mostMutual is for how many ports it is kept: 32 MB.
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
		if len(m.ports) > mostMutual {
			continue
		}
		m.fill(v)
		v.mutual = m
	}
}

// fill works it out, in strips of rows: the near half by columns of the net, then the other
// half from it, square by square, since memory is read and written in lines.
func (m *mutual) fill(v *view) {
	const strip = 32
	n := len(m.ports)
	flat := make([]float64, n*n)
	m.rows = make([][]float64, n)
	for i := range m.rows {
		m.rows[i] = flat[i*n : (i+1)*n : (i+1)*n]
	}
	strips := (n + strip - 1) / strip
	// The longest first, so that all end at the same time.
	parallel(strips, func() func(int) {
		return func(k int) {
			from := (strips - 1 - k) * strip
			for i := from; i < min(n, from+strip); i++ {
				for j, p := range m.ports[:i] {
					m.rows[i][j] = v.between(m.ports[i], p)
				}
			}
		}
	})
	parallel(strips, func() func(int) {
		return func(k int) {
			for from := k * strip; from < n; from += strip {
				for i := k * strip; i < min(n, (k+1)*strip); i++ {
					for j := max(from, i+1); j < min(n, from+strip); j++ {
						m.rows[i][j] = m.rows[j][i]
					}
				}
			}
		}
	})
}

// of is the resistance between ports of two faults.
func (v *view) of(a, b *seenPort) float64 {
	if v.mutual == nil || a == b {
		return v.between(a, b)
	}
	return v.mutual.rows[b.number][a.number]
}
