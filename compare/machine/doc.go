// Package machine looks for ways to a word that isn't earned: it makes random
// builds with random faults, plays random sequences of what makers, clocks and
// disks do to a record, and holds every verdict against an oracle that knows the
// truth and the events. It is for tests; no command uses it.
//
// Start with DrawBuild and DrawScript; Play plays a script in a World and gives
// the breaches. Shrink takes out of a failing script what it doesn't need, and
// Script.String prints what is left, one event a line, for a person to replay.
//
// The oracle computes what a group really draws from the drawn pieces (compare/load),
// what it should draw and how far it may be off from the plan's circuit, by
// differences of its own, and keeps its own log of what was measured, looked at,
// touched, damaged and answered, in the order of events. It asks no finding,
// no budget and no record. What it can't know: an error of the circuit that both
// sides solve, and what a maker touched and nobody measured since.
//
// Units: V, A, s.
package machine
