package capture

import (
	"context"
	"math"
	"slices"
	"time"

	"sealworthy/instruments"
)

// settleSpacing is the least time between readings while waiting for rest.
const settleSpacing = 50 * time.Millisecond

// settle reads until two successive means over the window agree, and marks since when it
// has been at rest. It keeps to Min and Max; giving up at Max is a
// warning. Where both are the same it is a fixed wait.
func (e *engine) settle(ctx context.Context, s Step) error {
	began := e.b.Clock.Now()
	if byHand(e.b.Meter) {
		if err := e.wait(ctx, began.Add(max(s.Settle.Min, s.Settle.Window)), Settling); err != nil {
			return err
		}
		return e.settled(e.b.Clock.Now())
	}
	var seen []instruments.Reading
	if s.Kind == Power && s.Board == "" && e.out.on && !e.out.stands.IsZero() {
		// The last reading of the ramp is of this voltage already.
		began, seen = e.out.stands, e.readSince(e.out.stands)
	}
	for {
		r, err := e.watched(ctx, Settling)
		if err != nil {
			return err
		}
		if r != nil {
			seen = append(seen, *r)
		}
		now := e.b.Clock.Now()
		switch age := now.Sub(began); {
		case age >= s.Settle.Min && atRest(seen, began, s.Settle):
			rest := restSince(s, seen)
			if s.Enough.Readings > 0 {
				now = rest
			}
			err := e.settled(now)
			e.early.rest = rest
			return err
		case s.Settle.Max > 0 && age >= s.Settle.Max:
			if s.Settle.Max > s.Settle.Min { // else it was a fixed wait, as for what blinks
				e.warn("the draw had not settled after " + roughly(age))
			}
			return e.settled(now)
		}
		next := now.Add(settleSpacing)
		if r != nil {
			next = r.At.Add(max(s.Spacing, s.Settle.Spacing, settleSpacing))
		}
		if s.Settle.Max > 0 && next.After(began.Add(s.Settle.Max)) {
			next = began.Add(s.Settle.Max)
		}
		if err := e.wait(ctx, next, Settling); err != nil {
			return err
		}
	}
}

// readSince gives the readings of the draw in the step under way that began at a
// time or later.
func (e *engine) readSince(t time.Time) (out []instruments.Reading) {
	for _, r := range e.rec.Readings {
		if r.Instrument == e.mainName() && r.Quantity == instruments.Current && !r.At.Add(-r.Window).Before(t) {
			out = append(out, r)
		}
	}
	return out
}

func (e *engine) settled(at time.Time) error {
	e.rec.Settled, e.early.rest = at, at
	return e.mark(Mark{Kind: MarkSettled, At: at})
}

// restSince is since when a draw that was found at rest counts as settled where its reading may end
// early: the first of those readings by which that was found. They agree, so they are of
// the draw that is measured, and how they scatter tells whether it is known well enough
// as that of any other reading does. What is kept is read in full from when that is known.
func restSince(s Step, seen []instruments.Reading) time.Time {
	first := seen[len(seen)-1].At.Add(-2 * s.Settle.Window)
	i := slices.IndexFunc(seen, func(r instruments.Reading) bool { return r.At.After(first) })
	if i == len(seen)-1 && i > 0 {
		i-- // a slow bench: it was found by the last two
	}
	return seen[i].At
}

// atRest tells whether the means of the last two windows agree. Both windows
// must lie after began and hold a reading.
func atRest(seen []instruments.Reading, began time.Time, s Settle) bool {
	if s.Window <= 0 {
		return len(seen) > 0
	}
	if len(seen) == 0 {
		return false
	}
	end := seen[len(seen)-1].At
	mid, first := end.Add(-s.Window), end.Add(-2*s.Window)
	if first.Before(began) {
		return false
	}
	var older, newer mean
	for _, r := range seen {
		v, ok := r.Float()
		switch {
		case !ok:
		case r.At.After(mid):
			newer.add(v)
		case r.At.After(first):
			older.add(v)
		}
	}
	if older.n == 0 || newer.n == 0 {
		// A slow bench: its readings are farther apart than the windows are long.
		a, b, both := lastTwo(seen, began, s.Window)
		return both && math.Abs(b-a) <= s.Rel*math.Abs(b)+s.AbsA
	}
	return math.Abs(newer.value()-older.value()) <= s.Rel*math.Abs(newer.value())+s.AbsA
}

// lastTwo are the last two values that were read after began, a window or more apart.
func lastTwo(seen []instruments.Reading, began time.Time, window time.Duration) (before, last float64, both bool) {
	n := 0
	var at time.Time
	for i := len(seen) - 1; i >= 0 && n < 2 && !seen[i].At.Add(-seen[i].Window).Before(began); i-- {
		v, ok := seen[i].Float()
		if !ok {
			continue
		}
		if n++; n == 1 {
			last, at = v, seen[i].At
			continue
		}
		before, both = v, at.Sub(seen[i].At) >= window
	}
	return before, last, both
}

// mean is a running mean.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) { m.sum += x; m.n++ }

func (m mean) value() float64 {
	if m.n == 0 {
		return 0
	}
	return m.sum / float64(m.n)
}
