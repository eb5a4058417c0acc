package faults

import "math"

// closest finds the places in a range where what is predicted comes closest to what was
// read; distance is the square of how far off it is, in standard deviations, no reading
// doubted. The likelihood may have a peak there that is too narrow for even steps: beside
// it, where a reading is taken to be misread, it is level and shows no way up, whereas the
// distance falls towards the peak from afar. Places that even steps come near to anyway
// are left out.
func closest(low, high float64, steps int, distance func(x float64) (float64, error)) ([]float64, error) {
	const (
		near   = 1.0  // what is further off by less is near enough
		most   = 24   // looks into one place
		golden = 0.38 // of the wider side is where the next look goes
	)
	at := func(k int) float64 { return low + (high-low)*float64(k)/float64(steps) }
	even := make([]float64, steps+1)
	for k := range even {
		var err error
		if even[k], err = distance(at(k)); err != nil {
			return nil, err
		}
	}
	var out []float64
	for k, d := range even {
		if math.IsInf(d, 1) || k > 0 && even[k-1] < d || k < steps && even[k+1] <= d {
			continue // another step is closer, or as close
		}
		a, x, b := at(max(0, k-1)), at(k), at(min(steps, k+1))
		left, least, right := even[max(0, k-1)], d, even[min(steps, k+1)]
		for n := 0; n < most && max(left, right)-least > near; n++ {
			y := x + golden*(b-x)
			if x-a > b-x {
				y = x - golden*(x-a)
			}
			e, err := distance(y)
			if err != nil {
				return nil, err
			}
			switch {
			case e < least && y > x:
				a, left, x, least = x, least, y, e
			case e < least:
				b, right, x, least = x, least, y, e
			case y > x:
				b, right = y, e
			default:
				a, left = y, e
			}
		}
		if d-least > near {
			out = append(out, x)
		}
	}
	return out, nil
}

// peaks are places of the free range where the fault that is loaded comes closest to the
// readings, by the tolerances known nearest; nothing where none are known yet.
func (p *portFit) peaks(low, high float64) ([]float64, error) {
	z := p.known()
	if z == nil || p.still != nil {
		return nil, nil
	}
	return closest(low, high, looks, func(x float64) (float64, error) {
		if p.looked.within(p.place, p.f.share(x)) < p.least {
			return math.Inf(1), nil
		}
		p.w.ohms[0] = math.Exp(x)
		p.w.read(p.w.ohms, p.mean)
		return z.distance(p.mean), nil
	})
}

// known is a covariance that was worked out already.
func (p *portFit) known() *frozen {
	if p.rough != nil {
		return p.rough.z
	}
	for _, place := range [][]*frozen{p.anchors[p.place], p.anchors[0]} {
		for _, z := range place {
			if z != nil {
				return z
			}
		}
	}
	return nil
}
