package compare

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
)

// How much of a pace must be seen to be sure that a button was pressed to it: so many
// periods of its own, or, of one that is steady, of the slowest of the others; and so many
// readings (our own choice, no source).
const (
	surePeriods  = 3
	sureReadings = 12
)

var _ capture.Pacer = (*Guide)(nil)

// Runs implements capture.Pacer.
func (g *Guide) Runs(s capture.Step, drew []instruments.Reading) bool {
	b, ok := g.judge.Expected.Plan.Board(s.Board)
	own, known := b.Pace(s.Pace)
	if !ok || !known || len(b.Paces) < 2 || len(drew) == 0 {
		return false
	}
	slowest := own.PeriodS
	if own.Steady() {
		for _, p := range b.Paces {
			slowest = max(slowest, p.PeriodS)
		}
	}
	last := drew[len(drew)-1].At
	long := time.Duration(surePeriods * slowest * float64(time.Second))
	if last.Sub(drew[0].At) < long {
		return false
	}
	seen := slices.DeleteFunc(slices.Clone(drew), func(x instruments.Reading) bool { return last.Sub(x.At) > long })
	t := step{j: g.judge, r: capture.StepRecord{Step: s}, b: g.budget, t: readingsTrace(slices.Values(seen))}
	if t.t.n < sureReadings || t.t.whyUnusable() != "" {
		return false
	}
	var blank []Finding
	for _, name := range s.Groups {
		if x, ok := g.judge.Expected.Plan.Group(name); ok {
			blank = append(blank, Finding{Group: name, Output: x.Output})
		}
	}
	os, base := t.outputs(blank), t.baseDraw(b.Name)
	return len(os) > 0 && t.fitsPace(b, own, os, base) &&
		!slices.ContainsFunc(b.Paces, func(p plan.Pace) bool {
			return p.Name != own.Name && t.fitsPace(b, p, os,
				base)
		})
}
