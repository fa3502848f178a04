// Package together finds what several groups have in common when several are
// off: a bad joint upstream of them, a shared return that is open or high, the
// jack or the bench's leads, a supply or meter that is off, a part whose figures
// are wrong. One such cause is set against as many faults in the groups
// themselves as it would take.
//
// Start with Find. Seen is one group's reading with its expectation; FromBudget
// fills the latter. The doubt of the expectations is split into what readings
// share (a reel, the bench, the same pieces measured twice) and what is each
// one's own, so that ten strips of one reel that are 5 % low aren't taken for a
// bad joint. A group measured loose and fitted counts twice: the difference
// shows the joints far better than either.
//
// It judges by normal densities about what each cause does to the plan's own
// circuit; the parts' nonlinearity under a large resistance is allowed for by
// widening. It doesn't judge blinkers' paces, nor groups that are as found or
// electronics with an envelope. Units: V, A, ohm.
package together
