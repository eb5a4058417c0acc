package solve

import (
	"math"
	"math/bits"
	"slices"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/disjoint"
)

// Settled is what strands do to a net by structure. The zero value is ready for
// [ExactPorts.Settle], which reuses it.
type Settled struct {
	// Strands are those that matter, as pointers into what was settled, and the
	// ties of floating parts that something else ties now. Left out are bridges of
	// 0 Ω between points that are joined already, and elements that part where
	// nothing flows: what closes the last gap between two parts may as well stay,
	// for the readings within either.
	Strands []*ExactStrand
	// Parts says that some part is apart from what it was one with before; Ties that
	// a part that floated does not float any more.
	Parts, Ties bool

	ideal, whole, bridged disjoint.Sets
	part, point           []int32
	gone                  []*ExactStrand
	labels                []uint64
	ends                  [][2]int
	spots                 []Spot
}

// Settle finds which strands matter and what is apart; of those in series no two may be
// with the same element. Their pointers must stay good as long as s is used. [ErrSupplyShorted] and [ErrGroundsJoined] say that the
// changes cannot be together with the supply on.
func (p *ExactPorts) Settle(strands []*ExactStrand, s *Settled) error {
	s.Strands, s.Parts, s.Ties, s.spots, s.ends = s.Strands[:0], false, false, s.spots[:0], s.ends[:0]
	if len(s.gone) != len(p.links) {
		s.gone = make([]*ExactStrand, len(p.links))
	}
	for _, t := range strands {
		if t.link >= 0 {
			s.gone[t.link] = t
		}
	}
	for _, t := range strands {
		var ends [2]int
		for i, end := range t.ends {
			if ends[i] = end.Node; t.link < 0 && end.Wire >= 0 {
				k := slices.Index(s.spots, end)
				if k < 0 {
					k = len(s.spots)
					s.spots = append(s.spots, end)
				}
				ends[i] = p.nodes + k
			}
		}
		s.ends = append(s.ends, ends)
	}
	defer func() { // as it was found, without a pass over all links
		for _, t := range strands {
			if t.link >= 0 {
				s.gone[t.link] = nil
			}
		}
	}()
	// Mostly no joint parts and nothing falls apart; then the net as it is will do.
	joints, labels := true, s.labels[:0]
	for _, t := range strands {
		if t.link >= 0 {
			joints = joints && t.joint == nil
			if math.IsInf(t.ohms, 1) {
				labels = append(labels, p.label[t.link])
			}
		}
	}
	s.labels = labels
	if p.whole != nil && joints {
		s.ideal.Copy(p.ideal)
	} else {
		s.ideal.Reset(p.nodes)
		for i := range p.links {
			if l := &p.links[i]; l.ideal && s.gone[i] == nil {
				s.ideal.Join(int(l.a), int(l.b))
			}
		}
	}
	if p.whole != nil && Independent(labels) {
		s.whole.Copy(p.whole)
	} else {
		s.whole.Reset(p.nodes)
		for i := range p.links {
			l := &p.links[i]
			if t := s.gone[i]; l.a >= 0 && !l.tie && (t == nil || !math.IsInf(t.ohms, 1)) {
				s.whole.Join(int(l.a), int(l.b))
			}
		}
		for _, r := range p.rails {
			s.whole.Join(int(r[0]), int(r[1]))
		}
	}
	s.ideal.Extend(len(s.spots))
	s.whole.Extend(len(s.spots))
	for i, at := range s.spots {
		l := &p.links[at.Wire]
		s.whole.Join(p.nodes+i, int(l.b)) // a wire parts at its A end
	}
	for i, t := range strands {
		if t.link >= 0 {
			continue
		}
		a, b := s.ends[i][0], s.ends[i][1]
		s.whole.Join(a, b)
		if t.ohms == 0 {
			if s.ideal.Find(a) == s.ideal.Find(b) {
				continue
			}
			s.ideal.Join(a, b)
		}
		s.Strands = append(s.Strands, t)
	}
	s.part, s.point = s.part[:0], s.point[:0]
	for i := range p.nodes {
		s.part, s.point = append(s.part, int32(s.whole.Find(i))), append(s.point, int32(s.ideal.Find(i)))
	}
	if p.state != nil {
		if err := p.fuses(strands, s); err != nil {
			return err
		}
	}
	// Elements that part and ties, as long as they close no gap.
	s.bridged.Copy(&s.whole)
	for _, t := range strands {
		if t.link < 0 {
			continue
		}
		if math.IsInf(t.ohms, 1) {
			l := &p.links[t.link]
			if s.bridged.Find(int(l.a)) != s.bridged.Find(int(l.b)) {
				s.bridged.Join(int(l.a), int(l.b))
				s.Parts = true
				continue
			}
		}
		s.Strands = append(s.Strands, t)
	}
	for i := range p.ties {
		t := &p.ties[i]
		l := &p.links[t.link]
		if s.bridged.Find(int(l.a)) == s.bridged.Find(int(l.b)) {
			s.Strands = append(s.Strands, t)
			s.Ties = true
			continue
		}
		s.bridged.Join(int(l.a), int(l.b))
	}
	return nil
}

// fuses tells whether the rails are joined ideally.
func (p *ExactPorts) fuses(strands []*ExactStrand, s *Settled) error {
	g, v := s.ideal.Find(netlist.GroundNode), s.ideal.Find(netlist.SupplyNode)
	if g == v {
		return ErrSupplyShorted
	}
	for _, r := range p.rails {
		if x := s.ideal.Find(int(r[1])); r[1] != netlist.SupplyNode && (x == g || x == v) {
			return ErrGroundsJoined
		}
	}
	for _, t := range strands {
		if t.joint != nil && t.ohms == 0 && t.volts != 0 {
			if x := s.ideal.Find(int(p.links[t.link].a)); x == g || x == v {
				return ErrGroundsJoined
			}
		}
	}
	return nil
}

// Apart tells whether nothing leads from one node to another any more.
func (s *Settled) Apart(a, b int) bool { return s.part[a] != s.part[b] }

// Joined tells whether two nodes are one point now.
func (s *Settled) Joined(a, b int) bool { return s.point[a] == s.point[b] }

// PartOf numbers the parts, by node; it is overwritten by the next Settle.
func (s *Settled) PartOf() []int32 { return s.part }

// findLabels gives each link 64 bits such that the labels of any set of links whose
// loss parts the net add up to nothing (by exclusive or): every loop's links have a
// number of its own in common. A set whose labels are independent parts nothing;
// one whose labels are not does so but for one chance in 2⁶⁴, and is looked at.
func (p *ExactPorts) findLabels() {
	type arc struct{ to, link int32 }
	tree := make([][]arc, p.nodes)
	sum := make([]uint64, p.nodes)
	sets := disjoint.New(p.nodes)
	p.label = make([]uint64, len(p.links))
	add := func(a, b int32, link int) {
		if a < 0 {
			return
		}
		if sets.Find(int(a)) != sets.Find(int(b)) {
			sets.Join(int(a), int(b))
			tree[a] = append(tree[a], arc{b, int32(link)})
			tree[b] = append(tree[b], arc{a, int32(link)})
			return
		}
		x := scrambled(uint64(link) + 1)
		sum[a] ^= x
		sum[b] ^= x
		if link < len(p.label) {
			p.label[link] = x
		}
	}
	for i, r := range p.rails {
		add(r[0], r[1], len(p.links)+i)
	}
	for i, l := range p.links {
		add(l.a, l.b, i)
	}
	// Down each tree, and back up with what its nodes add up to.
	seen := make([]bool, p.nodes)
	for root := range tree {
		if seen[root] {
			continue
		}
		seen[root] = true
		order := []arc{{int32(root), -1}}
		from := []int32{-1}
		for i := 0; i < len(order); i++ {
			for _, x := range tree[order[i].to] {
				if !seen[x.to] {
					seen[x.to] = true
					order, from = append(order, x), append(from, order[i].to)
				}
			}
		}
		for i := len(order) - 1; i > 0; i-- {
			if link := int(order[i].link); link < len(p.label) {
				p.label[link] = sum[order[i].to]
			}
			sum[from[i]] ^= sum[order[i].to]
		}
	}
}

// scrambled is 64 bits that look like chance: the mixing function of SplitMix64
// (Steele, Lea and Flood, OOPSLA 2014; from memory).
func scrambled(x uint64) uint64 {
	x *= 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// Label is what a strand in series has for [Independent]; 0 for a bridge, and for an
// element that is all that holds two parts together.
func (p *ExactPorts) Label(s *ExactStrand) uint64 {
	if s.Bridge() {
		return 0
	}
	return p.label[s.link]
}

// Independent tells whether no exclusive or of some labels is 0, and overwrites
// them.
func Independent(labels []uint64) bool {
	for i, x := range labels {
		if x == 0 {
			return false
		}
		top := uint64(1) << (bits.Len64(x) - 1)
		for j := i + 1; j < len(labels); j++ {
			if labels[j]&top != 0 {
				labels[j] ^= x
			}
		}
	}
	return true
}
