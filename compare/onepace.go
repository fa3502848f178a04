package compare

import (
	"slices"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// agreeBetweenPaces leaves open what only one pace of a board says: an output that can't
// drive its load stays lit at every pace. Where it runs as planned at one, a trace that
// looks steady at another says nothing of the load, and doesn't pass either.
func agreeBetweenPaces(b plan.Board, fs []Finding) {
	if !slices.ContainsFunc(fs, func(f Finding) bool { return runsAsPlanned(b, f) }) {
		return
	}
	for i := range fs {
		if f := &fs[i]; f.Verdict == StuckLit {
			f.Verdict, f.Causes, f.Why, f.Settle = CantTell, nil, words.SteadyAtOnePace, []string{words.NextSays}
		}
	}
}

// runsAsPlanned: it blinks with the draw of its lights, at a pace that isn't steady.
func runsAsPlanned(b plan.Board, f Finding) bool {
	return f.Verdict == InBand && slices.ContainsFunc(b.Paces, func(p plan.Pace) bool {
		return p.Name == f.Pace &&
			!p.Steady()
	})
}
