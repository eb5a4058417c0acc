package faults

import "example.com/ohmloom/solve"

// State is what a vehicle is set to while something is read or asked.
type State int

// The states. A scan tool lets the modules send and leaves off when it is told to, so
// from Asked to Quiet or AtWork nothing is to be changed.
const (
	AsLeft State = iota // as the last reading left it; before the first one, as it may be
	Asleep              // supply off, network asleep: ohms
	Quiet               // supply on, modules awake and none sending: idle volts
	AtWork              // supply on, modules sending: volts with traffic, levels
	Asked               // supply on, a scan tool asking the modules
)

// states is how many there are.
const states = int(Asked) + 1

// State is what a reading wants the vehicle set to.
func (p *Probe) State() State {
	switch {
	case p.driven():
		return AtWork
	case p.Condition.Supply == solve.Off:
		return Asleep
	}
	return Quiet
}

// change is what it takes in minutes to come from one state to another.
func change(from, to State) float64 {
	switch {
	case from == to || from == AsLeft || to == AsLeft:
		return 0
	case from == Asleep || to == Asleep:
		// With the supply on the network wakes by itself.
		return SupplyMinutes
	case from == Asked || to == Asked:
		return 0
	}
	return NetworkMinutes
}

// changes are the minutes from each state to each.
func changes() [][]float64 {
	out := make([][]float64, states)
	for from := range out {
		out[from] = make([]float64, states)
		for to := range out[from] {
			out[from][to] = change(State(from), State(to))
		}
	}
	return out
}

// leftAs is the state in which readings and answers leave a vehicle. What was asked may
// have been asked before or after what was read, so it counts only where nothing was
// read.
func leftAs(taken []Reading, asked bool) State {
	switch {
	case len(taken) > 0:
		return taken[len(taken)-1].Probe.State()
	case asked:
		return Asked
	}
	return AsLeft
}
