// Package circuit finds the DC operating point of a lit model: a source, a tree
// of wires, joints and what sits in them, returns, and loads of LED branches,
// boards and resistors between the two.
//
// A caller takes these steps:
//
//  1. New, then AddResistor, AddDiode, AddConverter, AddOutput grow the plus
//     side from Node 0 (jack plus); AddReturn grows the minus side from Ground 0
//     (jack minus). A load whose minus wire is the twin of its plus wire returns
//     to its feed's own Ground, and both conductors are one resistor.
//  2. AddBranch, AddStrip, AddDraw, AddShunt hang loads between a Node and a Ground.
//  3. NewSolver and NewPoint once, then Solve as often as wanted. Between solves
//     any parameter may be set and anything switched; nothing is built again.
//
// The method is Newton's on all node voltages together, with one unknown per
// branch (the logarithm of its current) eliminated on the spot; the LEDs of one
// branch are one lumped diode. The plus tree is eliminated leaf to root in
// linear time, the few returns by a small dense system (a Schur complement), so
// that a wire of 0 ohm and an open return are both exact.
//
// It refuses to guess: Solve either meets its tolerance or returns an *Error
// that says what is wrong and where; no NaN leaves the package. It models no
// time: capacitors, blinking and warm-up are the caller's.
//
// Units: V, A, ohm, degC. A Net and its Solvers belong to one goroutine; Clone
// makes another.
package circuit
