package solve

// Hearing is how surely something is understood.
type Hearing int

// The degrees: not at all; only if the part at hand is better than the standard
// asks (between the thresholds); as the standard has it.
const (
	No Hearing = iota
	Marginal
	Yes
)

func (h Hearing) String() string { return [...]string{"no", "marginal", "yes"}[h] }

// Talk is who can talk to whom on a bus.
type Talk struct {
	Stations []Station
	// Recessive tells for each station whether it sees a recessive bus while
	// nobody sends (but those that are stuck).
	Recessive []Hearing
	// Dominant[s][r] tells whether r sees a dominant bus while s sends, the
	// common mode at r included. Dominant[s][s] is whether s sees its own.
	Dominant [][]Hearing
	// MarginVolts[s][r] is how far the difference at r lies above the dominant
	// threshold while s sends; negative where it falls short.
	MarginVolts [][]float64
	// RecessiveMarginVolts is how far the difference lies below the recessive
	// threshold while nobody sends.
	RecessiveMarginVolts []float64
	// Clear[s][r] tells whether r tells the dominant and the recessive bits of s
	// apart, by whatever it can look at.
	Clear [][]Hearing
	// Acknowledged tells whether somebody hears a station and is heard by it,
	// without which no frame of its own comes to an end.
	Acknowledged []Hearing
}

// Talk works out who can talk to whom: every station sends in turn.
func (b *Bus) Talk() (*Talk, error) {
	n := len(b.Stations)
	t := &Talk{
		Stations: b.Stations, Recessive: make([]Hearing, n), RecessiveMarginVolts: make([]float64, n),
		Dominant: make([][]Hearing, n), MarginVolts: make([][]float64, n), Clear: make([][]Hearing, n), Acknowledged: make([]Hearing, n),
	}
	quiet, err := b.Send()
	if err != nil {
		return nil, err
	}
	for r := range b.Stations {
		s := &b.Stations[r]
		levels := quiet.At(r)
		margin := s.Layer.RecessiveVolts - levels.Difference()
		t.RecessiveMarginVolts[r] = margin
		t.Recessive[r] = s.judge(margin, s.Layer.DominantVolts-s.Layer.RecessiveVolts, levels)
	}
	heard, margins := make([]Hearing, 2*n*n), make([]float64, n*n)
	dominant, recessive := &Sent{bus: b}, &Sent{bus: b}
	one, other := make([]float64, len(b.ports)), make([]float64, len(b.ports))
	for from := range b.Stations {
		t.Dominant[from], t.Clear[from] = heard[2*from*n:(2*from+1)*n], heard[(2*from+1)*n:(2*from+2)*n]
		t.MarginVolts[from] = margins[from*n : (from+1)*n]
		if !b.Stations[from].Powered || b.Stations[from].Stuck {
			continue
		}
		both := b.Stations[from].Layer.BothWays
		if len(b.stuck) == 0 {
			if err := b.volts(from, false, one); err != nil {
				return nil, err
			}
			dominant.volts, recessive.volts = one, quiet.volts
			if both {
				if err := b.volts(from, true, other); err != nil {
					return nil, err
				}
				recessive.volts = other
			}
		} else {
			if dominant, err = b.Send(from); err != nil {
				return nil, err
			}
			recessive = quiet
			if both {
				if recessive, err = b.SendRecessive(from); err != nil {
					return nil, err
				}
			}
		}
		for r := range b.Stations {
			s := &b.Stations[r]
			if s.Network != b.Stations[from].Network {
				continue
			}
			levels := dominant.At(r)
			margin := levels.Difference() - s.Layer.DominantVolts
			t.MarginVolts[from][r] = margin
			t.Dominant[from][r] = s.judge(margin, s.Layer.DominantVolts-s.Layer.RecessiveVolts, levels)
			t.Clear[from][r] = s.clear(levels, recessive.At(r))
		}
	}
	for s := range t.Stations {
		if t.Stations[s].Layer.BothWays {
			t.Acknowledged[s] = Yes // nobody acknowledges on such a layer
			continue
		}
		for r := range t.Stations {
			if r != s {
				t.Acknowledged[s] = max(t.Acknowledged[s], min(t.hears(s, r), t.Clear[r][s]))
			}
		}
	}
	return t, nil
}

// clear tells whether a station tells two states of the bus apart: by the
// difference of its conductors, or by one of them where its layer can.
func (s *Station) clear(dominant, recessive Levels) Hearing {
	layer := &s.Layer
	best := s.between(layer.DominantVolts-layer.RecessiveVolts,
		dominant.Difference()-layer.DominantVolts, layer.RecessiveVolts-recessive.Difference(), dominant, recessive)
	if a := layer.Alone; a != nil {
		best = max(best,
			s.between(a.HighDominant-a.HighRecessive, dominant.High-a.HighDominant, a.HighRecessive-recessive.High, dominant, recessive),
			s.between(a.LowRecessive-a.LowDominant, a.LowDominant-dominant.Low, recessive.Low-a.LowRecessive, dominant, recessive))
	}
	return best
}

// between judges two states by their margins to two thresholds width apart. A
// receiver's own threshold lies somewhere between them, so it can only tell the
// states apart if they lie apart themselves, by more than its hysteresis (a tenth
// of the width, from memory).
func (s *Station) between(width, dominantMargin, recessiveMargin float64, dominant, recessive Levels) Hearing {
	if swing := dominantMargin + recessiveMargin + width; swing < width/10 {
		return No
	}
	return min(s.judge(dominantMargin, width, dominant), s.judge(recessiveMargin, width, recessive))
}

// judge turns a margin into a degree: at or above 0 the standard's threshold is
// met, down to the width between the thresholds it depends on the part. So it does
// beyond the common mode that the standard has receivers work at.
func (s *Station) judge(margin, width float64, l Levels) Hearing {
	if !s.Powered || s.Stuck {
		return No
	}
	c := l.Common()
	guaranteed := c >= s.Layer.CommonMinVolts && c <= s.Layer.CommonMaxVolts
	switch {
	case margin >= 0 && guaranteed:
		return Yes
	case margin > -width:
		return Marginal
	}
	return No
}

// hears tells whether r understands what s sends: its dominant and its recessive
// bits, and s must see its own or it falls silent.
func (t *Talk) hears(s, r int) Hearing { return min(t.Clear[s][r], t.Clear[s][s]) }

// Hears tells whether a frame from s gets through to r, acknowledged by anybody.
func (t *Talk) Hears(s, r int) Hearing {
	if s == r {
		return No
	}
	return min(t.hears(s, r), t.Acknowledged[s])
}

// Both tells whether two stations get frames through to each other.
func (t *Talk) Both(a, b int) Hearing { return min(t.Hears(a, b), t.Hears(b, a)) }

// Answers tells for each unit of the circuit whether it answers a scan tool: the
// tool's stations are those without a unit. What a module on another network
// answers goes through the modules that are on both.
func (t *Talk) Answers(units int) []Hearing {
	reached := make([]Hearing, len(t.Stations))
	for i := range t.Stations {
		if t.Stations[i].Unit < 0 {
			reached[i] = Yes
		}
	}
	// The surest way to each station; it can only get surer, so this ends.
	for changed := true; changed; {
		changed = false
		raise := func(i int, to Hearing) {
			if to > reached[i] {
				reached[i], changed = to, true
			}
		}
		for a := range t.Stations {
			if reached[a] == No {
				continue
			}
			for b := range t.Stations {
				switch {
				case a == b:
				case t.Stations[a].Network == t.Stations[b].Network:
					raise(b, min(reached[a], t.Both(a, b)))
				case t.Stations[a].Unit >= 0 && t.Stations[a].Unit == t.Stations[b].Unit && t.Stations[a].Powered:
					raise(b, reached[a])
				}
			}
		}
	}
	out := make([]Hearing, units)
	for i, s := range t.Stations {
		if s.Unit >= 0 {
			out[s.Unit] = max(out[s.Unit], reached[i])
		}
	}
	return out
}

// Groups lists, for one network, the stations that still get frames through to
// each other, directly or through others of the group. Stations that talk to
// nobody are left out.
func (t *Talk) Groups(network string) [][]int {
	var out [][]int
	taken := make([]bool, len(t.Stations))
	for i, s := range t.Stations {
		if taken[i] || s.Network != network {
			continue
		}
		group := []int{i}
		taken[i] = true
		for at := 0; at < len(group); at++ {
			for j := range t.Stations {
				if !taken[j] && t.Stations[j].Network == network && t.Both(group[at], j) == Yes {
					taken[j] = true
					group = append(group, j)
				}
			}
		}
		if len(group) > 1 {
			out = append(out, group)
		}
	}
	return out
}
