package faults

// mutual is the resistance in ohms between any two ports of all faults in a view, by port
// and port, so that pairs need not ask for each again.
type mutual [][]float64

// mostMutual is how many such resistances are kept for all views together: 32 MB. What
// does not fit is asked for each time.
const mostMutual = 4_000_000

// seeEachOther works them out. Ports are numbered, those between points before those in
// branches: what a branch sees of all others stands in one column of the net's then.
func (s *search) seeEachOther() {
	left := mostMutual
	for _, v := range s.views {
		if v.mutual != nil {
			return // by an earlier look at all pairs
		}
		var ports []*seenPort
		for _, series := range []bool{false, true} {
			for _, t := range v.threads {
				if t == nil {
					continue
				}
				for i := range t.ports {
					if p := &t.ports[i]; p.port.Series() == series {
						p.number = len(ports)
						ports = append(ports, p)
					}
				}
			}
		}
		if n := len(ports); n*n <= left {
			left -= n * n
			v.mutual = v.mutually(ports)
		}
	}
}

// mutually works it out for ports, in strips of rows: the near half by columns of the net,
// then the other half from it, square by square, since memory is read and written in lines.
func (v *view) mutually(ports []*seenPort) mutual {
	const strip = 32
	n := len(ports)
	flat := make([]float64, n*n)
	m := make(mutual, n)
	for i := range m {
		m[i] = flat[i*n : (i+1)*n : (i+1)*n]
	}
	strips := (n + strip - 1) / strip
	// The longest first, so that all end at the same time.
	parallel(strips, func() func(int) {
		return func(k int) {
			from := (strips - 1 - k) * strip
			for i := from; i < min(n, from+strip); i++ {
				for j, p := range ports[:i] {
					m[i][j] = v.between(ports[i], p)
				}
			}
		}
	})
	parallel(strips, func() func(int) {
		return func(k int) {
			for from := k * strip; from < n; from += strip {
				for i := k * strip; i < min(n, (k+1)*strip); i++ {
					for j := max(from, i+1); j < min(n, from+strip); j++ {
						m[i][j] = m[j][i]
					}
				}
			}
		}
	})
	return m
}

// of is the resistance between ports of two faults.
func (v *view) of(a, b *seenPort) float64 {
	if v.mutual == nil || a == b {
		return v.between(a, b)
	}
	return v.mutual[b.number][a.number]
}
