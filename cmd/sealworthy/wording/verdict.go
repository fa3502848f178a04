package wording

import (
	"slices"

	"sealworthy/compare"
)

// Mark is the sign before a verdict.
func Mark(v compare.Verdict) string {
	switch v {
	case compare.InBand:
		return "+"
	case compare.CantTell, compare.NotMeasured:
		return "?"
	}
	return "!"
}

// ClosureMark is the sign before the verdict on a closure.
func ClosureMark(v compare.ClosureVerdict) string {
	switch v {
	case compare.ReadyToClose:
		return "+"
	case compare.KeepOpen:
		return "!"
	}
	return "?"
}

// Gravest puts closures into the order in which they're read: what keeps one
// open first, then what isn't settled, then what is ready.
func Gravest(cs []compare.ClosureFinding) []compare.ClosureFinding {
	order := []compare.ClosureVerdict{
		compare.KeepOpen, compare.NotSettled, compare.ClosedByChoice, compare.LookFirst, compare.ReadyToClose,
	}
	gravity := func(c compare.ClosureFinding) int { return slices.Index(order, c.Verdict) }
	cs = slices.Clone(cs)
	slices.SortStableFunc(cs, func(a, b compare.ClosureFinding) int { return gravity(a) - gravity(b) })
	return cs
}

// NothingMeasured is what stands there before anything is.
const NothingMeasured = "Nothing of it is measured yet."

// IsGlued stands in the place of READY for a closure that was glued.
const IsGlued = "glued"

// Next says what comes after the verdict on a closure.
func Next(v compare.ClosureVerdict) string {
	switch v {
	case compare.ReadyToClose:
		return "Take its photo, print the sheet, then glue it shut. Once it has cured, measure it once more at " +
			"stage closed."
	case compare.KeepOpen:
		return "Mend what is named, say what you touched, and measure it again."
	case compare.LookFirst:
		return "Light it and look: a current can't see a swapped colour or a broken fibre."
	case compare.ClosedByChoice:
		return "You accepted something by name. The reasons stand with it."
	}
	return "Measure or look at what is named, and say what you touched."
}
