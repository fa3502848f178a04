// Package wiring turns a plan into a circuit and keeps the names: which node is
// which joint, which branch belongs to which group, what is uncertain, and what
// can go wrong.
//
// Build makes a Wired for one jack. SetOn and SetLit say what is switched on and
// which outputs are lit; Solve finds the operating point; GroupAmps and its kin
// read it. Params lists every uncertain quantity and Apply moves one, so that a
// thousand draws need no building and no allocation. The fault hooks (Open,
// Short, Extra, …) are as cheap, and Reset takes all of it back.
//
// A wire whose minus is its twin is one resistor with both conductors in it.
// Where something behind a joint has a return of its own, the joint's plus and
// minus conductors are kept apart, so that the circuit stays exact.
//
// It knows nothing of supplies and meters but the ohms they put in series, and
// nothing of time. A group that is "as found" contributes nothing known: Unknown
// says so, and what hangs on it is the caller's to say.
package wiring
