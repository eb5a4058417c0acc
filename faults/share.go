package faults

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// The share of the time that the bus is dominant is one number for all readings with
// traffic, known within a wide range. It moves the readings, and how much drivers and bias
// move them as well, in proportion. So it cannot be one more tolerance: a likelihood is
// summed over a few shares, each with readings and covariance of its own.

// shareParts is how many shares that is.
const shareParts = 5

// shareStep is how far apart they lie, in units of half the range, and half of it how
// uncertain each is, as a standard deviation: normal distributions that far apart add up
// to a level sum, and so wide that the sum is as wide as the range itself, evenly taken.
// That is, step² ((n² − 1)/12 + 1/4) = 1/3.
var shareStep = 2 / math.Sqrt(shareParts*shareParts+2)

// shareAt is the k-th share, from −1 at the range's lower end to 1 at its upper.
func shareAt(k int) float64 { return shareStep * (float64(k) - (shareParts-1)/2.0) }

// atShare is what is predicted with one share of dominant time.
type atShare struct {
	weight     float64 // how probable the share is, given the readings
	log        float64 // likelihood of them with it
	mean       []float64
	covariance *mat.SymDense
}

// sharing is what readings have in common, the dominant share among it: rows of
// sensitivities as [evidence] has them, and what the share does to them. Scratch space.
type sharing struct {
	// rows are in the middle of the share's range; by is what they gain by its upper
	// limit, lift what the readings do, on the scale.
	rows, by *mat.Dense // made when needed
	columns  int
	lift     []float64
	moved    bool // some reading is moved by the share
}

// newSharing makes space for so many readings: parameters of the harness, the meter's gain and
// leads, what is left of the dominant share between two of those that are tried.
func newSharing(readings, parameters int) *sharing {
	return &sharing{columns: parameters + 3, lift: make([]float64, readings)}
}

// set fills in one reading, slope being that of its scale.
func (s *sharing) set(i, parameters int, r predicted, slope, gain, lead float64) {
	if s.rows == nil {
		s.rows = mat.NewDense(len(s.lift), s.columns, nil)
	}
	row := s.rows.RawRowView(i)
	clear(row)
	s.lift[i] = 0
	if slope != 0 {
		r.Sensitivities(row[:parameters])
		for k := range row[:parameters] {
			row[k] *= slope * limitToSigma
		}
	}
	row[parameters], row[parameters+1] = gain, lead
	d, ok := r.(*drivenReading)
	if !ok || !d.probe.Traffic {
		return
	}
	if s.by == nil {
		s.by = mat.NewDense(len(s.lift), s.columns, nil)
	}
	by := s.by.RawRowView(i)
	clear(by)
	for k, x := range d.byShare() {
		by[k] = x * slope * limitToSigma
	}
	s.lift[i] = d.dutyLimit() * slope
	row[parameters+2] = s.lift[i] * shareStep / 2
	s.moved = s.moved || s.lift[i] != 0
}

// begin forgets what was there.
func (s *sharing) begin() {
	s.moved = false
	clear(s.lift)
}

// spread gives the covariance that the rows make, and how it changes with the share.
func (s *sharing) spread() *spread {
	n := len(s.lift)
	out := &spread{still: mat.NewSymDense(n, nil)}
	out.still.SymOuterK(1, s.rows)
	if !s.moved {
		return out
	}
	out.first, out.second = mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			if s.lift[a] == 0 && s.lift[b] == 0 {
				continue
			}
			var x, y float64
			ra, rb := s.rows.RawRowView(a), s.rows.RawRowView(b)
			switch {
			case s.lift[b] == 0:
				x = dot(s.by.RawRowView(a), rb)
			case s.lift[a] == 0:
				x = dot(ra, s.by.RawRowView(b))
			default:
				ba, bb := s.by.RawRowView(a), s.by.RawRowView(b)
				x, y = dot(ra, bb)+dot(ba, rb), dot(ba, bb)
			}
			out.first.SetSym(a, b, x)
			out.second.SetSym(a, b, y)
		}
	}
	return out
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for k, x := range a {
		sum += x * b[k]
	}
	return sum
}

// spread is a covariance that goes with a share u: still + u·first + u²·second.
type spread struct{ still, first, second *mat.SymDense }

// at is the covariance with a share, what each reading has of its own added.
func (c *spread) at(u float64, own []float64) *mat.SymDense {
	n := len(own)
	out := mat.NewSymDense(n, nil)
	out.CopySym(c.still)
	for a := range n {
		if c.first != nil {
			for b := a; b < n; b++ {
				out.SetSym(a, b, out.At(a, b)+u*(c.first.At(a, b)+u*c.second.At(a, b)))
			}
		}
		out.SetSym(a, a, out.At(a, a)+own[a])
	}
	return out
}

// shifted are means with a share.
func shifted(mean, lift []float64, u float64) []float64 {
	out := slices.Clone(mean)
	for i, x := range lift {
		out[i] += u * x
	}
	return out
}

// weighShares turns the shares' likelihoods into probabilities and gives the log of their mean.
func weighShares(list []atShare) float64 {
	sum := math.Inf(-1)
	for k := range list {
		sum = logAdd(sum, list[k].log)
	}
	for k := range list {
		if list[k].weight = 1 / float64(len(list)); !math.IsInf(sum, -1) {
			list[k].weight = math.Exp(list[k].log - sum)
		}
	}
	return sum - math.Log(float64(len(list)))
}

// join sums up what is predicted by all shares, each as probable as it is.
func (j *judged) join(list []atShare) {
	n := len(list[0].mean)
	j.shares = list
	j.mean, j.covariance = make([]float64, n), mat.NewSymDense(n, nil)
	for k := range list {
		for i, m := range list[k].mean {
			j.mean[i] += list[k].weight * m
		}
	}
	for k := range list {
		s := &list[k]
		for a := range n {
			for b := a; b < n; b++ {
				x := s.covariance.At(a, b) + (s.mean[a]-j.mean[a])*(s.mean[b]-j.mean[b])
				j.covariance.SetSym(a, b, j.covariance.At(a, b)+s.weight*x)
			}
		}
	}
}

// before is the variance of a reading with all shares as probable as they are before any
// reading, whatever was read.
func (j *judged) before(i int) float64 {
	if j.wide != nil {
		return j.wide[i]
	}
	return j.covariance.At(i, i)
}
