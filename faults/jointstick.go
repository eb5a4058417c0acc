package faults

import "math"

// jointStick is tolerances of all readings together, by share of the dominant time where
// something was read with traffic.
type jointStick struct {
	shares []*frozen
	mean   []float64 // scratch space
}

// joint makes tolerances of an explanation ready; nil where they cannot be.
func (e *evidence) joint(j *judged) *jointStick {
	out := &jointStick{mean: make([]float64, len(j.mean))}
	if j.shares == nil {
		if z := e.freeze(j.covariance); z != nil {
			out.shares = append(out.shares, z)
			return out
		}
		return nil
	}
	for k := range j.shares {
		z := e.freeze(j.shares[k].covariance)
		if z == nil {
			return nil
		}
		out.shares = append(out.shares, z)
	}
	return out
}

// apart is the same for another goroutine.
func (k *jointStick) apart() *jointStick {
	out := &jointStick{mean: make([]float64, len(k.mean))}
	for _, z := range k.shares {
		own := *z
		own.residual, own.w, own.over = make([]float64, len(z.residual)), make([]float64, len(z.w)), make([]float64, len(z.over))
		out.shares = append(out.shares, &own)
	}
	return out
}

// log is the log likelihood of the readings with means in the middle of the dominant share.
func (k *jointStick) log(mean, lift []float64) float64 {
	if len(k.shares) == 1 {
		return k.shares[0].log(mean, nil)
	}
	sum := math.Inf(-1)
	for n, z := range k.shares {
		u := shareAt(n)
		for i, x := range lift {
			k.mean[i] = mean[i] + u*x
		}
		sum = logAdd(sum, z.log(k.mean, nil))
	}
	return sum - math.Log(shareParts)
}
