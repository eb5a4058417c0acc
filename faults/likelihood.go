package faults

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/solve"
)

// Reading is what a meter showed at a probe.
type Reading struct {
	Probe Probe
	Value solve.Value
}

// evidence is readings made ready to be held against predictions.
type evidence struct {
	readings []Reading
	finite   []int     // readings with a number
	over     []int     // readings that showed OL
	y        []float64 // on the scale, the leads' middle value taken off
	own      []float64 // variance of the reading's own error, on the scale
	gain     []float64 // standard deviation of the gain error that ohms share
	lead     []float64 // standard deviation of the leads, which ohms share
	overFrom float64   // where OL begins on the scale
	leadMid  float64   // what the leads add, in ohms

	// floor is the greatest log likelihood that predictions without any error
	// could reach: no covariance is smaller than the readings' own errors.
	floor float64

	parameters int
	// j holds the sensitivities on the scale, a row a reading: the parameters,
	// then the meter's shared gain and leads, then the share of dominant time that
	// readings with traffic have in common. Scratch space.
	j *mat.Dense
}

func newEvidence(c *netlist.Circuit, readings []Reading, in Instrument) *evidence {
	e := &evidence{readings: readings, parameters: len(c.Parameters)}
	leadMid, leadHalf := in.leads()
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
		y := onScale(q, v)
		e.y = append(e.y, y)
		stray := strayOnScale(q, y) * limitToSigma
		if v.OL {
			e.over = append(e.over, i)
			e.own = append(e.own, stray*stray)
			e.gain = append(e.gain, 0)
			e.lead = append(e.lead, 0)
		} else {
			e.finite = append(e.finite, i)
			s := slope(q, v)
			digit := in.digit(q, v.Number) * s * limitToSigma
			gain := in.gain(q, v.Number) * s * limitToSigma
			lead := 0.0
			if q == solve.Volts {
				// Volts are read on another range: their gain is their own.
				digit, gain = math.Hypot(digit, gain), 0
			} else {
				lead = leadHalf * s * limitToSigma
			}
			e.own = append(e.own, digit*digit+stray*stray)
			e.gain = append(e.gain, gain)
			e.lead = append(e.lead, lead)
		}
	}
	if len(readings) > 0 {
		e.j = mat.NewDense(len(readings), e.parameters+3, nil)
	}
	for _, i := range e.finite {
		e.floor -= 0.5 * math.Log(2*math.Pi*e.own[i])
	}
	return e
}

// judged is how well one set of predictions explains the readings.
type judged struct {
	log        float64   // log likelihood
	chiSquare  float64   // of the finite readings
	mean       []float64 // predictions on the scale
	covariance *mat.SymDense
	overChance []float64 // chance of each OL reading, given the finite ones
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
	out := judged{mean: make([]float64, n), covariance: mat.NewSymDense(n, nil)}
	for i, r := range responses {
		q, v := e.readings[i].Probe.Quantity, r.Value()
		out.mean[i] = onScale(q, v)
		j := e.j.RawRowView(i)
		for k := range j {
			j[k] = 0
		}
		if s := slope(q, v); s != 0 {
			r.Sensitivities(j[:e.parameters])
			for k := range j {
				j[k] *= s * limitToSigma
			}
		}
		j[e.parameters], j[e.parameters+1] = e.gain[i], e.lead[i]
		if d, ok := r.(*drivenReading); ok {
			j[e.parameters+2] = d.dutyLimit() * limitToSigma
		}
	}
	out.covariance.SymOuterK(1, e.j)
	for i, v := range e.own {
		out.covariance.SetSym(i, i, out.covariance.At(i, i)+v)
	}
	e.compare(&out)
	return out
}

// bound is a log likelihood that predictions cannot exceed if each reading's
// variance is at most the one given: no χ² is less than that of its worst single
// reading. It costs no covariance.
func (e *evidence) bound(predicted []solve.Value, variance []float64) float64 {
	worst := 0.0
	for _, i := range e.finite {
		d := e.y[i] - onScale(e.readings[i].Probe.Quantity, predicted[i])
		worst = math.Max(worst, d*d/variance[i])
	}
	return e.floor - worst/2
}

// compare fills in the likelihood from mean and covariance.
func (e *evidence) compare(out *judged) {
	f := len(e.finite)
	var chol mat.Cholesky
	residual := mat.NewVecDense(max(f, 1), nil)
	weighted := mat.NewVecDense(max(f, 1), nil)
	if f > 0 {
		c := mat.NewSymDense(f, nil)
		for a, i := range e.finite {
			residual.SetVec(a, e.y[i]-out.mean[i])
			for b := a; b < f; b++ {
				c.SetSym(a, b, out.covariance.At(i, e.finite[b]))
			}
		}
		if !chol.Factorize(c) {
			// Every reading has an error of its own, so this does not happen but
			// for an instrument that claims to have none.
			out.log = math.Inf(-1)
			return
		}
		if err := chol.SolveVecTo(weighted, residual); err != nil {
			if _, doubtful := err.(mat.Condition); !doubtful {
				out.log = math.Inf(-1)
				return
			}
		}
		out.chiSquare = mat.Dot(residual, weighted)
		out.log = -0.5*(out.chiSquare+chol.LogDet()) - float64(f)/2*math.Log(2*math.Pi)
	}
	for _, i := range e.over {
		mean, variance := out.mean[i], out.covariance.At(i, i)
		if f > 0 {
			cross := mat.NewVecDense(f, nil)
			for a, k := range e.finite {
				cross.SetVec(a, out.covariance.At(i, k))
			}
			mean += mat.Dot(cross, weighted)
			solved := mat.NewVecDense(f, nil)
			if err := chol.SolveVecTo(solved, cross); err == nil {
				variance -= mat.Dot(cross, solved)
			}
		}
		chance := 1.0
		if mean < 1 {
			sd := math.Sqrt(math.Max(variance, e.own[i]))
			chance = 0.5 * math.Erfc((e.overFrom-mean)/(sd*math.Sqrt2))
		}
		out.overChance = append(out.overChance, chance)
		out.log += math.Log(math.Max(chance, 1e-300))
	}
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
	for i, r := range e.readings {
		switch {
		case r.Value.OL:
			sum += math.Log(anyOver)
		case r.Probe.Quantity == solve.Volts:
			sum -= math.Log(anyVolts)
		default:
			ohms := math.Min(offScale(solve.Ohms, e.y[i], 0).Number, anyMostOhms)
			density := (1 - anyOver) / ((1 + math.Log(anyMostOhms)) * math.Max(ohms, 1))
			sum += math.Log(density / slope(solve.Ohms, solve.Value{Number: ohms}))
		}
	}
	return sum
}
