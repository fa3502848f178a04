// Package coverage grades a power-on test before anything is measured: which of the
// faults that a closure can have its readings stop, which only a look finds, which
// pass both and are glued in, and what would close the largest gap for its effort.
//
// Start with Of. The faults are those that the plan makes possible (fault.Possible),
// listed without asking what the test can do: a list made from what a test finds
// grades every test well. The idea is that of Hird, Parker and Follis, "Test
// coverage: what does it mean when a board test passes?", ITC 2002,
// doi 10.1109/TEST.2002.1041863.
//
// That a fault passes is a probability over all that isn't known of the parts, the
// bench and the fault itself; package belief integrates it with the rule that judges
// the readings later (belief.Ensemble.Slips). So numbers of faults are expected
// numbers: of ten that pass with 0.3 each, three.
//
// It refuses to grade what the rule can't judge: a group as found, and a load that is
// judged on its envelope, stand in Closure.Ungraded. Two faults at once aren't thought
// of, nor what no list has.
//
// Units: V, A, ohm. The package knows no instrument and no reading.
package coverage
