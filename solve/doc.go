// Package solve reads a harness with a meter by computation: exact resistive
// nodal analysis of a [netlist.Circuit] in a vehicle condition, with changes
// (faults) laid over it.
//
//	net, err := solve.Assemble(circuit, solve.Condition{}, nil)
//	value, err := net.Read(solve.Ohms, h, l, solve.DefaultMeter())
//
// # Model
//
// Ideal joints merge nodes, opened elements are left out, and parts that are
// separate are solved apart: an ohmmeter across them shows OL, a result of its
// own and not a large number. No stray conductance is added anywhere to make a
// matrix solvable.
//
// A part is factorised once and serves all readings: its nodes are eliminated one after
// the other, each star of conductances made into the mesh that does the same to its
// neighbours. Conductances are only ever added, multiplied and divided, never
// subtracted, so a 1 MΩ input beside a 5 mΩ contact keeps its digits whatever the
// condition number. Nodes with few neighbours go first: a harness is nearly a tree, and
// then the work and the memory grow with its length, not with the square or the cube
// of it. A single reading needs only the few nodes above its two points in the
// elimination, some fifteen of twenty thousand. Whole solutions are corrected with
// residuals taken branch by branch, so that currents add up. A part whose condition
// number is above [MaxCondition] gives a [DoubtfulError], not a number.
//
// With the supply off the modules' inputs are resistances to ground, and the
// supply rail hangs on its other loads. With it on ([Idle]), the inputs hold each
// conductor at the bias voltage and the rail is held at its volts; a module without
// supply or ground has the inputs of an unpowered one.
//
// # A bus at work
//
// [Net.Bus] sees a solved net from its drivers. [Bus.Send] lets modules send
// dominant, each of their two switches blocked, conducting or limiting as it must
// be; [Bus.Read] is a voltmeter meanwhile; [Bus.Talk] tells who hears whom, who is
// acknowledged and which modules answer a scan tool.
//
// # Variations
//
// [Net.Vary] lays one free resistance into a solved net (a short, a bad joint);
// every reading then follows for any ohms in closed form. [Response.Sensitivities]
// gives how each of the harness's parameters moves a reading.
//
// # By another way
//
// [Net.Branches] and [Response.Potentials] show what a reading rests on; package
// derivation works readings out from them step by step, for people.
//
// Nothing here changes the circuit. A Net is not safe for concurrent use, since
// it factorises on first need; different Nets of one circuit are independent.
package solve
