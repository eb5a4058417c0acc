// Package derivation works a reading out the way a person does on paper: which
// resistances of the harness lie in series and which in parallel as seen from the
// two leads, what is a dead end, where a star is turned into a triangle, each step
// with its numbers and the names of what it joins.
//
//	d, err := derivation.Explain(circuit, derivation.Question{From: h, To: l, Meter: solve.DefaultMeter()})
//	for _, s := range d.Steps { ... }
//
// The arithmetic is its own and not that of package solve: [Explain] ends with an
// error where the two do not come to one value.
//
// # Steps
//
// What carries no current between the leads is dropped first (parts that hang on
// one point, parts that hang on nothing). Where the two conductors are laid out
// alike, element for element, the harness is folded along the middle between them:
// everything that the two sides share is at half the voltage then, and what is left
// is the loop that people draw, both wires of a pair as one resistance. A lead on one of
// two like conductors, the other on ground, is worked out in two halves: both conductors
// tied together, and a quarter of the loop. Then series
// and parallel, from the far ends towards the leads. Where neither goes on, the
// point with the fewest neighbours is taken out by turning its star into a mesh (a
// triangle for three). With the supply on every resistance has a voltage in series
// with it, and the same steps are those of Thevenin and Millman.
//
// # Terms
//
// The answer as a sum: the reading with terminators alone, every wire and contact
// perfect and every module out of the way; then one sort of element after the other
// is put back, and each term is what that moves the reading by. So they add up
// exactly, and each depends on the order, which is that of [Derivation.Terms].
//
// # Weights
//
// By Tellegen's theorem each resistance's share of the answer is the power in it
// with 1 A between the leads: R·dA/dR. For ohms the shares add up to the answer.
package derivation
