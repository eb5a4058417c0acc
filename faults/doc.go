// Package faults knows what can go wrong with a harness, what each fault reads,
// and which faults explain readings.
//
//	list := faults.Catalogue(circuit)
//	table, err := faults.MakeTable(circuit, list, probes, faults.DefaultInstrument(), nil)
//	reading, err := faults.ParseReading(circuit, "X1 H-L, ohms", "119.1")
//	match, err := faults.MakeMatch(circuit, list, []faults.Reading{reading}, faults.DefaultInstrument(), nil)
//	advice, err := faults.Next(circuit, match, faults.DefaultInstrument(), nil)
//
// A [Fault] is fixed changes of the circuit and at most one free resistance in
// ohms, somewhere along a wire. A [Probe] is one possible reading; [MakeTable] has
// a row for each fault and a column for each probe, [Table.Testability] says what
// they can tell, and [MakeAnswerTable] who answers a scan tool.
//
// [MakeMatch] ranks faults, healthy wiring and "none of these" by Bayes' rule. The
// tolerances of a harness move all of its readings together; OL is what it is, a
// value above the range; free resistances and places run through their whole
// ranges. Readings are compared on a scale of their own, see scale.go. [Next] weighs
// readings to come by what they are expected to say about which part to repair.
//
// # Limits
//
// Tolerances act to first order, but for the worst case of resistances, which is
// exact. Rates of faults, where the harness does not give them, priors and error
// rates of answers and readings are from memory.
package faults
