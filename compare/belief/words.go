package belief

import (
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Text says a class in plain words, with where to look first. Where the plan may
// be wrong instead, that comes first, for counting costs nothing.
func (c Class) Text(p *plan.Plan) string {
	f := c.Fault
	if f.Kind.OfPlan() && c.Suspect != nil {
		i := slices.IndexFunc(c.Kinds, func(k fault.Kind) bool { return !k.OfPlan() })
		if i < 0 {
			return words.Suspect(*c.Suspect)
		}
		f = c.Suspect.Fault()
		f.Kind = c.Kinds[i]
	}
	s := words.Fault(p, f, c.Kinds)
	switch {
	case c.Second != nil:
		return words.Second(s, words.Fault(p, *c.Second, c.Kinds))
	case c.Suspect != nil:
		return words.PlanFirst(*c.Suspect, f, max(1, c.Count), s)
	case c.Count > 1:
		return words.Times(c.Count, s)
	}
	return s
}

// Ranked is the class in the form of package fault: DeltaA is what it makes of
// the draw at voltage k of the Ensemble.
func (e *Ensemble) Ranked(c Class, k int) fault.Ranked {
	return fault.Ranked{Fault: c.Fault, Kinds: c.Kinds, Groups: len(c.Groups), Places: c.Places,
		DeltaA: c.PredictedA[k] - e.HealthyA[k], P: c.P}
}
