package faults

import (
	"errors"
	"math"

	"example.com/ohmloom/solve"
)

// Sets of faults beside readings of a bus at work. A bus is seen from its drivers and leads;
// what faults do to it is seen from ports, as readings at rest are: their small system bends
// the bus, and nothing is assembled anew. So the free values of a set are averaged over by
// all readings together. What no port shows (a module without supply, a transceiver that is
// stuck) is read from nets.

// setsAtWork is the readings of a bus at work, for any set of faults.
type setsAtWork struct {
	r     *ranking
	p     *predictor // of those readings only
	at    []int      // by reading: which one of the match it is
	views []workView
	// able tells by fault that it is seen from ports in all views, off which units it
	// takes the ground from.
	able []bool
	off  [][]int
	// alone is what each fault does to the readings by itself, by step of its free range.
	alone [][]workLook
	sound workLook
	// sd is how uncertain a reading is beside the dominant share, roughly: that of sound
	// wiring, in volts.
	sd     []float64
	supply float64 // how uncertain the supply is, as a share of it
	peak   float64 // log likelihood of readings that are met exactly, by those
	// best is by fault what it explains by itself of the readings, see explains.
	best  []float64
	stick *jointStick // the tolerances of sound wiring
}

// workView is the readings of one condition: a view whose leads are the ports of the bus.
type workView struct {
	g      *group
	v      *view
	probes []int // by lead of the bus: the reading
	// high is the same with the supply at its upper limit; nil where that is known.
	high *workView
}

// workLook is volts in the middle of the dominant share, and what they gain by its upper
// limit; for a fault, what it adds to those of sound wiring.
type workLook struct{ volts, lift []float64 }

// hearSets makes ready to read a bus at work for sets of faults; nil where nothing was read
// of one.
func (r *ranking) hearSets() (*setsAtWork, error) {
	h := &setsAtWork{r: r}
	var probes []Probe
	for i, x := range r.m.Readings {
		if x.Probe.driven() {
			h.at, probes = append(h.at, i), append(probes, x.Probe)
		}
	}
	if len(probes) == 0 {
		return nil, nil
	}
	var err error
	if h.p, err = newPredictor(r.x.c, probes, r.x.in.Meter); err != nil {
		return nil, err
	}
	n := len(r.x.faults)
	h.able, h.off = make([]bool, n), make([][]int, n)
	for i := range h.able {
		h.able[i] = true
	}
	high, _, err := h.p.supplied()
	if err != nil {
		return nil, err
	}
	for k, g := range h.p.groups {
		view, err := h.view(g, r.x.field)
		switch {
		case errors.Is(err, errNotFromPorts):
			clear(h.able) // a module is unplugged: nets it is
			continue
		case err != nil:
			return nil, err
		}
		if high != nil {
			other, err := h.view(high.groups[k], r.x.supplied())
			if err != nil {
				return nil, err
			}
			view.high = &other
		}
		h.views = append(h.views, view)
	}
	if _, plans, err := r.x.field.of(solve.Idle); err != nil {
		return nil, err
	} else {
		for i := range plans {
			h.able[i] = h.able[i] && plans[i].able
		}
	}
	for i, f := range r.x.faults {
		if h.off[i], err = f.takesGround(r.x); err != nil {
			return nil, err
		}
	}
	return h, h.look()
}

// ready makes a worker ready to weigh sets by readings at work.
func (h *setsAtWork) ready(w *worker) {
	if w.set == nil {
		w.set, w.joint, w.sticks = h.reader(), h.r.e.apart(), h.stick.apart()
	}
}

// view sees a group's bus from ports.
func (h *setsAtWork) view(g *group, f *field) (workView, error) {
	out := workView{g: g, probes: g.probes}
	var ends []Probe
	of := &group{condition: g.condition}
	for k, port := range g.bus.Ports() {
		ends = append(ends, Probe{Quantity: solve.Volts, From: port.From, To: port.To, Condition: g.condition})
		of.probes = append(of.probes, k)
	}
	var err error
	out.v, err = f.view(of, ends, h.r.x.in.Meter, nil)
	return out, err
}

// look reads every fault by itself, at steps of its free range.
func (h *setsAtWork) look() error {
	healthy, err := h.p.healthy()
	if err != nil {
		return err
	}
	full, err := h.r.p.healthy()
	if err != nil {
		return err
	}
	j := h.r.e.judge(full)
	if h.stick = h.r.e.joint(&j); h.stick == nil {
		return errors.New("faults: readings without any error of their own cannot be compared; give the instrument digits or per cent, as DefaultInstrument has")
	}
	h.sound = newWorkLook(healthy)
	for _, i := range h.at {
		variance := j.covariance.At(i, i)
		if j.shares != nil {
			// Of the share in the middle, without what the share itself does.
			variance = j.shares[shareParts/2].covariance.At(i, i)
		}
		h.sd = append(h.sd, math.Sqrt(variance))
		h.peak -= 0.5 * math.Log(2*math.Pi*variance)
	}
	s := h.r.search
	h.supply = s.loose.supply * limitToSigma
	h.alone, h.best = make([][]workLook, len(s.faults)), make([]float64, len(s.faults))
	failed := make([]error, len(s.faults))
	parallel(len(s.faults), func() func(int) {
		set := h.reader()
		return func(i int) {
			steps := s.steps[i]
			if steps == nil {
				steps = s.ohms[i]
			}
			set.load([]int{i})
			for _, ohms := range steps {
				got, err := set.read([]float64{ohms})
				if err != nil {
					failed[i] = err
					return
				}
				h.alone[i] = append(h.alone[i], h.less(got))
			}
			h.best[i] = h.explains(h.alone[i], []workLook{{}}, s.rail[i])
		}
	})
	return errors.Join(failed...)
}

func newWorkLook(got []predicted) workLook {
	var out workLook
	for _, x := range got {
		d := x.(*drivenReading)
		out.volts, out.lift = append(out.volts, d.value), append(out.lift, d.dutyLimit())
	}
	return out
}

// less is readings less those of sound wiring.
func (h *setsAtWork) less(got []predicted) workLook {
	look := newWorkLook(got)
	for k := range look.volts {
		look.volts[k] -= h.sound.volts[k]
		look.lift[k] -= h.sound.lift[k]
	}
	return look
}
