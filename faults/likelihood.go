package faults

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// evidence is readings made ready to be held against predictions.
type evidence struct {
	readings []Reading
	finite   []int     // readings with a number
	over     []int     // readings that showed OL
	y        []float64 // on the scale, the leads' middle value taken off
	own      []float64 // variance of the reading's own error, on the scale
	gain     []float64 // standard deviation of the gain error that ohms share
	lead     []float64 // standard deviation of the leads, which ohms share
	wide     []float64 // variance of all that the meter adds
	overFrom float64   // where OL begins on the scale
	leadMid  float64   // what the leads add, in ohms

	// floor is the greatest log likelihood that predictions without any error
	// could reach: no covariance is smaller than the readings' own errors.
	floor  float64
	floors []float64 // each reading's share of it

	any []float64 // log likelihood of each reading if nothing is known of it
	// slip is the same if the reading is misread: it may be that of other points
	// near by. As any where nothing is known of those.
	slip []float64

	parameters int
	// j holds the sensitivities on the scale, a row a reading: the parameters,
	// then the meter's shared gain and leads, then what the share of dominant time
	// leaves open, which readings with traffic have in common. Scratch space, and
	// so is spare.
	j     *sharing
	spare *frozen
}

func newEvidence(c *netlist.Circuit, readings []Reading, in Instrument) *evidence {
	e := &evidence{readings: readings, parameters: len(c.Parameters)}
	leadMid, _ := in.leads()
	e.leadMid = leadMid
	e.overFrom = 1
	if in.Meter.RangeOhms > 0 {
		e.overFrom = onScale(solve.Ohms, solve.Value{Number: in.Meter.RangeOhms})
	}
	for i, r := range readings {
		q, v := r.Probe.Quantity, r.Value
		if q == solve.Ohms && !v.OL {
			v.Number = math.Max(0, v.Number-leadMid)
		}
		e.y = append(e.y, onScale(q, v))
		if v.OL {
			e.over = append(e.over, i)
		} else {
			e.finite = append(e.finite, i)
		}
		own, gain, lead := in.errors(q, v)
		e.own, e.gain, e.lead = append(e.own, own), append(e.gain, gain), append(e.lead, lead)
		e.wide = append(e.wide, own+gain*gain+lead*lead)
	}
	if len(readings) > 0 {
		e.j = newSharing(len(readings), e.parameters)
	}
	e.floors = make([]float64, len(readings))
	for _, i := range e.finite {
		e.floors[i] = -0.5 * math.Log(2*math.Pi*e.own[i])
		e.floor += e.floors[i]
	}
	for i := range readings {
		e.any = append(e.any, e.anyReading(i))
	}
	e.slip = slices.Clone(e.any)
	return e
}

// errors gives what the meter adds to a reading, on the scale: the variance of what is
// the reading's own, and the standard deviations of the gain and the leads that ohms
// share.
func (in *Instrument) errors(q solve.Quantity, v solve.Value) (own, gain, lead float64) {
	stray := strayOnScale(q, onScale(q, v)) * limitToSigma
	if v.OL {
		return stray * stray, 0, 0
	}
	s := slope(q, v)
	digit := in.digit(q, v.Number) * s * limitToSigma
	gain = in.gain(q, v.Number) * s * limitToSigma
	if q == solve.Volts {
		// Volts are read on another range: their gain is their own.
		digit, gain = math.Hypot(digit, gain), 0
	} else {
		_, half := in.leads()
		lead = half * s * limitToSigma
		digit, gain = shareGain(digit, gain)
	}
	return digit*digit + stray*stray, gain, lead
}

// ownGain is the part of a meter's gain error that is not the same in all resistances
// (other ranges, linearity), as a share of its limit. From memory.
const ownGain = 1.0 / 3

// shareGain moves that part of the gain error to the reading's own.
func shareGain(digit, gain float64) (own, shared float64) {
	return math.Hypot(digit, gain*ownGain), gain * math.Sqrt(1-ownGain*ownGain)
}

// apart is the same evidence with scratch space of its own.
func (e *evidence) apart() *evidence {
	out := *e
	out.spare = nil
	if e.j != nil {
		out.j = newSharing(len(e.readings), e.parameters)
	}
	return &out
}

// judged is how well one set of predictions explains the readings.
type judged struct {
	log        float64   // log likelihood
	chiSquare  float64   // of the finite readings
	mean       []float64 // predictions on the scale
	covariance *mat.SymDense
	overChance []float64 // chance of each OL reading, given the finite ones
	misread    []float64 // how probable it is of each reading that it is misread
	// shares is what is predicted by share of dominant time, where something was read
	// with traffic; mean and covariance are then those of all shares as probable as the
	// readings leave them. wide are the readings' variances before.
	shares []atShare
	wide   []float64
}

// judge takes predictions and gives their likelihood. Tolerances act on all
// readings together: the covariance is J Σ Jᵀ of the harness's parameters, each
// evenly spread within its limits, plus the instrument's shared gain and leads,
// plus each reading's own error. OL readings are what they are, censored: the
// chance of a value above the range.
func (e *evidence) judge(responses []predicted) judged {
	n := len(e.readings)
	if n == 0 {
		return judged{} // answers alone
	}
	out := judged{mean: make([]float64, n)}
	if c := e.spread(responses, &out); c.first == nil {
		out.covariance = c.at(0, e.own)
		e.compare(&out)
	} else {
		e.compareShares(c, &out)
	}
	return out
}

// spread works out the middle of the readings by predictions, and how uncertain they are.
func (e *evidence) spread(responses []predicted, out *judged) *spread {
	e.j.begin()
	for i, r := range responses {
		q, v := e.readings[i].Probe.Quantity, r.Value()
		out.mean[i] = onScale(q, v)
		e.j.set(i, e.parameters, r, slope(q, v), e.gain[i], e.lead[i])
	}
	return e.j.spread()
}

// fill works out mean and covariance of readings without traffic by predictions.
func (e *evidence) fill(responses []predicted, out *judged) {
	out.covariance = e.spread(responses, out).at(0, e.own)
}

// compareShares fills in the likelihood over the shares of dominant time.
func (e *evidence) compareShares(c *spread, out *judged) {
	list, parts := make([]atShare, shareParts), make([]judged, shareParts)
	out.wide = make([]float64, len(out.mean))
	for k := range list {
		u := shareAt(k)
		s := &list[k]
		s.mean, s.covariance = shifted(out.mean, e.j.lift, u), c.at(u, e.own)
		parts[k] = judged{mean: s.mean, covariance: s.covariance}
		e.compare(&parts[k])
		s.log = parts[k].log
		for i, x := range e.j.lift {
			out.wide[i] += (s.covariance.At(i, i) + u*u*x*x) / shareParts
		}
	}
	out.log = weighShares(list)
	out.join(list)
	out.misread = make([]float64, len(out.mean))
	out.overChance = make([]float64, len(e.over))
	for k := range list {
		for i, x := range parts[k].misread {
			out.misread[i] += list[k].weight * x
		}
		for i, x := range parts[k].overChance {
			out.overChance[i] += list[k].weight * x
		}
		out.chiSquare += list[k].weight * parts[k].chiSquare
	}
}

// misread is how probable it is that a reading is not what it is said to be: a wrong
// cavity, another range, the supply left on. One reading of a match at most is taken
// to be so. From memory; no source.
const misread = 0.01

var logMisread = math.Log(misread)

// bound is a log likelihood that predictions cannot exceed if each reading's
// variance is at most the one given: no χ² is less than that of its worst single
// reading, and one reading may be misread. It costs no covariance.
func (e *evidence) bound(predicted []solve.Value, variance []float64) float64 {
	b := newBounded(e)
	for _, i := range e.finite {
		d := e.y[i] - onScale(e.readings[i].Probe.Quantity, predicted[i])
		b.add(i, d*d/variance[i])
	}
	return b.log()
}

// bounded keeps the two worst readings of a bound.
type bounded struct {
	e             *evidence
	worst, second float64
	at            int
}

func newBounded(e *evidence) bounded { return bounded{e: e, at: -1} }

// add takes a reading that is off by a square of so many variances at least.
func (b *bounded) add(i int, square float64) {
	switch {
	case square > b.worst:
		b.second, b.worst, b.at = b.worst, square, i
	case square > b.second:
		b.second = square
	}
}

func (b *bounded) log() float64 {
	out := b.e.floor - b.worst/2
	if b.at < 0 {
		return out
	}
	return math.Max(out, b.e.floor+b.e.doubt(b.at)-b.second/2)
}

// doubt is what a misread reading costs, as a logarithm, whatever it is held against.
func (e *evidence) doubt(i int) float64 {
	out := logMisread + e.slip[i]
	if !e.readings[i].Value.OL {
		out -= e.floors[i]
	}
	return out
}

// frozen is a covariance made ready for any predictions. Its scratch space makes it
// one goroutine's own.
type frozen struct {
	e         *evidence
	precision [][]float64 // of the finite readings
	root      [][]float64 // lower: its square root, which makes residuals independent
	top       float64     // log likelihood of finite readings that are met exactly
	// doubt is what each finite reading gains in log likelihood by being misread,
	// before what it is off.
	doubt []float64
	// cross is the covariance of each OL reading with the finite ones, slope what
	// they say of it, variance what is left of its own.
	cross, slope [][]float64
	variance     []float64
	residual, w  []float64
	over         []float64 // chance of each OL reading
	marginal     []float64 // variance of each finite reading by itself
	factor       blas64.Symmetric
}

// freeze prepares a covariance; nil for an instrument that claims to have no error
// at all, with which nothing can be compared.
func (e *evidence) freeze(covariance *mat.SymDense) *frozen {
	z := &frozen{}
	if !z.take(e, covariance) {
		return nil
	}
	return z
}

// make has space for so many finite readings and such that showed OL, in one piece.
func (z *frozen) make(finite, over int) {
	flat := make([]float64, finite*(2*finite+4)+over*(2*finite+2))
	cut := func(n int) []float64 {
		out := flat[:n:n]
		flat = flat[n:]
		return out
	}
	lists := make([][]float64, 2*finite+2*over)
	z.root, z.precision, lists = lists[:finite:finite], lists[finite:2*finite:2*finite], lists[2*finite:]
	z.cross, z.slope = lists[:over:over], lists[over:]
	for a := range finite {
		z.root[a], z.precision[a] = cut(finite)[:a+1], cut(finite)
	}
	for k := range over {
		z.cross[k], z.slope[k] = cut(finite), cut(finite)
	}
	z.doubt, z.residual, z.w, z.marginal = cut(finite), cut(finite), cut(finite), cut(finite)
	z.variance, z.over = cut(over), cut(over)
	if finite > 0 {
		z.factor = blas64.Symmetric{N: finite, Stride: finite, Data: make([]float64, finite*finite), Uplo: blas.Upper}
	}
}

// take makes a covariance ready; false where nothing can be compared with it.
func (z *frozen) take(e *evidence, covariance *mat.SymDense) bool {
	f := len(e.finite)
	if z.e == nil || len(z.w) != f || len(z.over) != len(e.over) {
		z.make(f, len(e.over))
	}
	z.e, z.top = e, -float64(f)/2*math.Log(2*math.Pi)
	if f > 0 {
		from := covariance.RawSymmetric()
		for a, i := range e.finite {
			row := z.factor.Data[a*f : (a+1)*f]
			for b := a; b < f; b++ {
				j := e.finite[b] // after i
				row[b] = from.Data[i*from.Stride+j]
			}
			z.marginal[a] = row[a]
		}
		// Without an estimate of the condition, which would cost more than all the rest:
		// each reading's own error keeps the covariance away from being singular.
		root, ok := lapack64.Potrf(z.factor)
		if !ok {
			return false
		}
		for a := range f {
			z.top -= math.Log(root.Data[a*root.Stride+a])
		}
		// The covariance is UᵀU; the inverse of Uᵀ makes residuals independent.
		if !lapack64.Trtri(root) {
			return false
		}
		for a := range f {
			row := z.root[a]
			for b := range row {
				row[b] = root.Data[b*root.Stride+a]
			}
		}
		for a, i := range e.finite {
			row := z.precision[a]
			for b := range row {
				sum := 0.0
				for k := max(a, b); k < f; k++ {
					sum += z.root[k][a] * z.root[k][b]
				}
				row[b] = sum
			}
			z.doubt[a] = -0.5*math.Log(row[a]/(2*math.Pi)) + logMisread + e.slip[i]
		}
	}
	for n, i := range e.over {
		variance := covariance.At(i, i)
		cross, slope := z.cross[n], z.slope[n]
		for a, k := range e.finite {
			cross[a] = covariance.At(i, k)
		}
		for a := range slope {
			slope[a] = 0
			for b := range cross {
				slope[a] += z.precision[a][b] * cross[b]
			}
			variance -= slope[a] * cross[a]
		}
		z.variance[n] = math.Max(variance, e.own[i])
	}
	return true
}

// overChance is the chance of a value above the range.
func (e *evidence) overChance(mean, variance float64) float64 {
	if mean >= 1 {
		return 1
	}
	return 0.5 * math.Erfc((e.overFrom-mean)/math.Sqrt(2*variance))
}

// log gives the log likelihood of the readings for predictions on the scale, one
// reading at most misread. What else is in out is filled in where it is not nil.
func (z *frozen) log(mean []float64, out *judged) float64 {
	e := z.e
	sum0, chi := z.plain(mean)
	sum, over := logSum{top: sum0}, 0.0
	for _, chance := range z.over {
		over += logChance(chance)
	}
	all := sum0 - over
	var doubted []float64
	if out != nil {
		doubted = make([]float64, len(e.readings))
	}
	// What is well explained gains nothing by being doubted; nor does what could not, were
	// all that showed OL certain to.
	const little = -4.0
	for a, i := range e.finite {
		p := z.precision[a][a]
		gain := 0.5*z.w[a]*z.w[a]/p + z.doubt[a]
		if gain < over+little {
			continue
		}
		rest := all + gain
		for k, j := range e.over {
			// The same without what this reading said.
			m := mean[j]
			for b, c := range z.cross[k] {
				if b != a {
					m += c * (z.w[b] - z.precision[a][b]*z.w[a]/p)
				}
			}
			v := z.variance[k] + z.slope[k][a]*z.slope[k][a]/p
			rest += logChance(e.overChance(m, v))
		}
		sum.add(rest)
		if doubted != nil {
			doubted[i] = rest
		}
	}
	for k, i := range e.over {
		gain := -logChance(z.over[k]) + logMisread + e.slip[i]
		if gain < little {
			continue
		}
		rest := sum0 + gain
		sum.add(rest)
		if doubted != nil {
			doubted[i] = rest
		}
	}
	log := sum.log()
	if out != nil {
		out.log, out.chiSquare, out.overChance = log, chi, nil
		if len(z.over) > 0 {
			out.overChance = slices.Clone(z.over)
		}
		for i, x := range doubted {
			if x != 0 {
				doubted[i] = math.Exp(x - log)
			}
		}
		out.misread = doubted
	}
	return log
}

// logChance is a logarithm that stays finite.
func logChance(p float64) float64 {
	if p > 1-1e-9 {
		return 0
	}
	return math.Log(math.Max(p, 1e-300))
}

// overLog is the log of the chance that all readings which showed OL do, given what is
// left of the finite ones, in z.w.
func (z *frozen) overLog(mean []float64) float64 {
	sum := 0.0
	for k, i := range z.e.over {
		m := mean[i]
		for a, c := range z.cross[k] {
			m += c * z.w[a]
		}
		z.over[k] = z.e.overChance(m, z.variance[k])
		sum += logChance(z.over[k])
	}
	return sum
}

// plain is the log likelihood if no reading is doubted, and what χ² the finite ones have.
func (z *frozen) plain(mean []float64) (log, chi float64) {
	for a, i := range z.e.finite {
		z.residual[a] = z.e.y[i] - mean[i]
	}
	for a, row := range z.precision {
		w := 0.0
		for b, r := range z.residual {
			w += row[b] * r
		}
		z.w[a] = w
		chi += w * z.residual[a]
	}
	return z.top - chi/2 + z.overLog(mean), chi
}

// distance is the square of how far the finite readings lie from predictions, in
// standard deviations, none of them doubted.
func (z *frozen) distance(mean []float64) float64 { return z.whiten(mean, z.w) }

// whiten makes what readings are off predictions independent of each other, in standard
// deviations, none of them doubted, and gives the sum of their squares.
func (z *frozen) whiten(mean, into []float64) float64 {
	for a, i := range z.e.finite {
		z.residual[a] = z.e.y[i] - mean[i]
	}
	sum := 0.0
	for a, row := range z.root {
		x := 0.0
		for b, u := range row {
			x += u * z.residual[b]
		}
		into[a] = x
		sum += x * x
	}
	return sum
}

// compare fills in the likelihood from mean and covariance.
func (e *evidence) compare(out *judged) {
	if e.spare == nil {
		e.spare = &frozen{}
	}
	if !e.spare.take(e, out.covariance) {
		out.log = math.Inf(-1)
		return
	}
	e.spare.log(out.mean, out)
}

// What a reading may be when nothing is known of what it comes from: a share of
// OL, else evenly spread over the decades of ohms down to 1 Ω and evenly below,
// where a meter tells no decades apart; evenly spread volts. From memory.
const (
	anyMostOhms = 10e6
	anyOver     = 0.2
	anyVolts    = 16.0
)

// anything is the log likelihood of the readings if nothing is known of what
// they come from: what "none of these" has to offer.
func (e *evidence) anything() float64 {
	sum := 0.0
	for _, a := range e.any {
		sum += a
	}
	return sum
}

// anyReading is the log likelihood of one reading of which nothing is known.
func (e *evidence) anyReading(i int) float64 {
	r := e.readings[i]
	switch {
	case r.Value.OL:
		return math.Log(anyOver)
	case r.Probe.Quantity == solve.Volts:
		return -math.Log(anyVolts)
	}
	ohms := math.Min(offScale(solve.Ohms, e.y[i], 0).Number, anyMostOhms)
	density := (1 - anyOver) / ((1 + math.Log(anyMostOhms)) * math.Max(ohms, 1))
	return math.Log(density / slope(solve.Ohms, solve.Value{Number: ohms}))
}

// anyBelow is the chance of a value below a place on the scale if nothing is known of
// the reading, as [evidence.anyReading] has it.
func anyBelow(q solve.Quantity, y float64) float64 {
	if q == solve.Volts {
		return math.Max(0, math.Min(1, y/anyVolts))
	}
	if y <= 0 {
		return 0
	}
	ohms := anyMostOhms
	if y < 1 {
		ohms = math.Min(ohms, ohmsOffScale(y))
	}
	share := math.Min(ohms, 1)
	if ohms > 1 {
		share += math.Log(ohms)
	}
	return (1 - anyOver) * share / (1 + math.Log(anyMostOhms))
}
