package compare

import (
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// StillDone gives what of done needn't be done again when a test goes on through
// steps: a reading before which nothing was touched since, that was made as its
// step is to be made now; and of a look the groups that weren't touched since and
// have the lights that were seen, with their colours.
func StillDone(p *plan.Plan, h History, steps []capture.Step, done []capture.StepRecord) []capture.StepRecord {
	var out []capture.StepRecord
	for _, r := range done {
		i := slices.IndexFunc(steps, func(s capture.Step) bool { return s.ID == r.Step.ID })
		if i < 0 || r.Redone {
			continue
		}
		switch {
		case r.Step.Kind == capture.Look:
			if r.Step.Groups = stillSeen(p, h, r); len(r.Step.Groups) > 0 {
				out = append(out, r)
			}
		case sameTest(r.Step, steps[i]) && !slices.ContainsFunc(r.Step.Groups, func(g string) bool {
			v, _ := touched(p, g, h)
			return v.covers(r.BeganAt)
		}):
			out = append(out, r)
		}
	}
	return out
}

// stillSeen are the groups of a look of which something was said, and that were
// neither touched nor given other lights since.
func stillSeen(p *plan.Plan, h History, r capture.StepRecord) []string {
	return slices.DeleteFunc(slices.Clone(r.Step.Groups), func(name string) bool {
		g, ok := p.Group(name)
		_, v := touched(p, name, h)
		said := look.Of(r.Seen, name, r.Step.Groups)
		unsaid := r.Outcome == capture.Measured && (said == "" || !look.Parse(said, g).SaysOf(look.Colour))
		return ok && (unsaid || v.covers(seenAt(r)) || otherLights(r.Step, g))
	})
}

// sameTest: it powers the same groups at the same voltage.
func sameTest(a, b capture.Step) bool {
	const halfV = 0.05
	x, y := slices.Sorted(slices.Values(a.Groups)), slices.Sorted(slices.Values(b.Groups))
	return math.Abs(a.Volts-b.Volts) < halfV && slices.Equal(x, y)
}
