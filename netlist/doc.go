// Package netlist describes the wiring of two-wire vehicle networks.
//
// A [Harness] is what a person writes down: networks, connectors with their
// cavities, splices, modules, terminators, twisted pairs and wires. Build one in
// Go, or read it from a file with package netfile. [Check] finds everything that
// is wrong with it in one pass; [Assumptions] lists every default that it makes
// use of.
//
// [NewCircuit] derives the electrical network: nodes and two-terminal elements,
// each with the limits within which its value is known. Packages solve and
// faults work on that.
//
// # Units
//
// All numbers are float64 in the unit that the field's name ends in: metres
// (LengthM), square millimetres (SectionMM2), ohms, volts, minutes (ReachMin, LookMin),
// percent (TolerancePct), degrees Celsius (TemperatureC). In a Harness built in
// Go, zero means "not given".
//
// # Halves
//
// A connector has a harness half, where its wires end (point X3.9). What plugs
// into it, a module or a terminator, is its device half (X3/device.9). An inline
// connector has two harness halves, a and b (X5/a.4, X5/b.4; X5.4 is side a).
package netlist
