package capture

import (
	"context"
	"fmt"
	"time"

	"sealworthy/instruments"
)

// Parameters of the wiggle step (common practice, no source).
const (
	stillFor       = 2 * time.Second        // watched without moving, to know the draw
	wiggleLimit    = 500 * time.Millisecond // between looks at constant current
	wiggleDefault  = 20 * time.Second       // where the step doesn't say
	dropFraction   = 0.05                   // of the draw
	dropHalfWidths = 2.0                    // of the meter
)

// wiggle reads as fast as it can while the maker moves wires. A drop is a
// reading clearly below the least draw seen while nothing moved.
func (e *engine) wiggle(ctx context.Context, s Step) error {
	if unattended(e.f) {
		return ErrUnattended
	}
	if byHand(e.b.Meter) {
		return &skipError{"a number typed in by hand is too slow to see a drop"}
	}
	if err := e.prepare(ctx, s, false); err != nil {
		return err
	}
	if _, err := e.connect(ctx, s, s.On); err != nil {
		return err
	}
	if err := e.ramp(ctx, s); err != nil {
		return err
	}
	if err := e.settle(ctx, s); err != nil {
		return err
	}
	w := &drops{}
	e.show(Event{What: Sampling, Text: "Hold still: the draw is being watched."})
	for end := e.b.Clock.Now().Add(max(stillFor, s.Settle.Window)); e.b.Clock.Now().Before(end); {
		r, err := e.watched(ctx, Sampling)
		if err != nil {
			return err
		}
		w.still(r)
	}
	least, ok := w.threshold()
	if !ok {
		return &brokenError{which: theMeter, err: fmt.Errorf("no draw was read, so no drop can be seen")}
	}
	if w.highest-w.lowest > dropFraction*w.highest+dropHalfWidths*w.half {
		e.warn(fmt.Sprintf("the draw blinks between %s and %s: a drop is told only below the lowest", amps(w.lowest),
			amps(w.highest)))
	}
	if err := e.wiggleWhile(ctx, s, w, least); err != nil {
		return err
	}
	w.end(e.b.Clock.Now())
	e.rec.Drops = w.found
	e.rec.ShortestDropS = (w.window + w.gap).Seconds()
	return e.off(ctx)
}

func (e *engine) wiggleWhile(ctx context.Context, s Step, w *drops, least float64) error {
	d := s.For
	if d <= 0 {
		d = wiggleDefault
	}
	began := e.b.Clock.Now()
	limitAt := began
	text := "Move each wire and each joint a little, one after the other. A tone sounds on any drop. The output is on."
	a, err := e.askWhile(ctx, Question{Kind: AskWiggle, Text: text, Choices: []string{"done", "skip", "stop"},
		Step: &s},
		0, d, func() (bool, error) {
			r, err := e.read(ctx, Sampling)
			if err != nil {
				return false, err
			}
			now := e.b.Clock.Now()
			if r != nil && above(*r, e.out.point.MaxA) {
				return false, e.tripOn(r, false)
			}
			if !now.Before(limitAt) {
				limitAt = now.Add(wiggleLimit)
				limiting, err := e.limiting(ctx)
				if err != nil {
					return false, err
				}
				if limiting {
					return false, e.tripOn(r, true)
				}
			}
			if r != nil {
				if err := e.overload(ctx, *r); err != nil {
					return false, err
				}
				if w.next(*r, least) {
					e.show(Event{What: DropSeen, Reading: r, Text: "Drop."})
				}
			}
			return s.MaxTotal > 0 && now.Sub(e.powered()) >= s.MaxTotal, nil
		})
	if err != nil {
		return err
	}
	return choice(a)
}

// drops tells dips of the draw from its course while nothing moved.
type drops struct {
	n               int
	lowest, highest float64 // while nothing moved
	half            float64

	window, gap time.Duration
	last        time.Time
	low         *Drop
	found       []Drop
}

func (w *drops) still(r *instruments.Reading) {
	if r == nil {
		return
	}
	v, ok := r.Float()
	if !ok {
		return
	}
	if w.n == 0 || v < w.lowest {
		w.lowest = v
	}
	if w.n == 0 || v > w.highest {
		w.highest = v
	}
	w.half = max(w.half, r.HalfWidth)
	w.n++
}

// threshold is the draw below which a reading is a drop, and whether there is one.
func (w *drops) threshold() (float64, bool) {
	t := w.lowest - max(dropFraction*w.lowest, dropHalfWidths*w.half)
	return t, w.n > 0 && t > 0
}

// next takes a reading and tells whether a drop begins with it. A drop shorter
// than the window plus the gap between readings may fall between two windows:
// the largest gap that came counts.
func (w *drops) next(r instruments.Reading, least float64) bool {
	w.window = max(w.window, r.Window)
	if !w.last.IsZero() {
		w.gap = max(w.gap, r.At.Sub(w.last))
	}
	w.last = r.At
	v, ok := r.Float()
	if !ok {
		return false
	}
	if v >= least {
		w.end(r.At)
		return false
	}
	if w.low != nil {
		w.low.ToA = min(w.low.ToA, v)
		return false
	}
	w.low = &Drop{At: r.At, ToA: v}
	return true
}

func (w *drops) end(at time.Time) {
	if w.low == nil {
		return
	}
	w.low.For = at.Sub(w.low.At)
	w.found = append(w.found, *w.low)
	w.low = nil
}
