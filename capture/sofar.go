package capture

import (
	"slices"
	"time"
)

// early is what was told of the step under way before it was over.
type early struct {
	rest time.Time // since when its draw is at rest
	said []Said
}

// tellsEarly: the curve of a step is read after what decides it, so that its verdict is told before
// that. At a single other voltage it's read in a moment, and because the verdict hangs on it.
func (e *engine) tellsEarly(s Step) bool {
	_, ok := e.g.(Previewer)
	return ok && len(s.Sweep) > 1 && !byHand(e.b.Supply) && !byHand(e.b.Meter) && e.early.said == nil
}

// sayEarly shows what a step comes to by what was read of it at its own voltage. A verdict that isn't
// one waits for all of it. Nothing of this is kept: the record, the next steps and each closure go
// by the whole step alone. since is from when on what was read counts for that.
func (e *engine) sayEarly(s Step, since time.Time) {
	if !e.tellsEarly(s) {
		return
	}
	r := *e.rec
	r.Outcome, r.Ended, r.Settled = Measured, e.b.Clock.Now(), since
	r.Readings, r.Warnings = slices.Clone(r.Readings), slices.Clone(r.Warnings)
	said := e.g.(Previewer).Preview(r)
	if len(said) == 0 || slices.ContainsFunc(said, func(x Said) bool { return x.Undecided }) {
		return
	}
	e.early.said = said
	e.show(Event{What: SoFar, Said: said})
}

// changedBy puts to each verdict what was told before it, where that was another one.
func changedBy(said, before []Said) []Said {
	out := slices.Clone(said)
	for i, x := range out {
		for _, b := range before {
			if b.Group == x.Group && b.Pace == x.Pace && b.Verdict != x.Verdict {
				out[i].Before = b.Verdict
			}
		}
	}
	return out
}
