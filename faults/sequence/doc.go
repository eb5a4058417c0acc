// Package sequence finds which test to do next, and next after that, to learn which
// of several states holds in the fewest expected minutes.
//
//	tree, err := sequence.Plan(problem, sequence.Greedy(), nil)
//	best, err := sequence.Optimal(problem) // small problems with sure outcomes only
//
// A [Problem] is states with prior probabilities, the repair that each calls for,
// and tests whose outcomes have a known chance in each state. States with the same
// repair need not be told apart. What a test costs depends on what was done before:
// a place is reached once, a setting (the supply on or off, say) is changed only
// when it must be.
//
// [Plan] grows the whole decision tree that a [Chooser] leads to, and its figures
// are worked out from the finished tree over all states and outcomes, by code that
// the choosers do not share. [Optimal] and [Problem.Bounds] say how good it is.
//
// # Limits
//
// Outcomes of different tests are taken as independent once the state is given, but
// the same test done twice gives the same outcome twice (the tolerances behind it
// are the same), so no test is done twice. Only the minutes of tests count: not those
// of a repair, nor of a wrong one. States with less than 1e-9 of what is left are no
// longer looked at when tests are chosen; a plan's figures count them.
package sequence
