package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"sealworthy/instruments"
)

// fixRange fixes the range that holds the peak, by command or by asking for the
// meter's key: offset and burden differ from range to range.
func (e *engine) fixRange(ctx context.Context, s Step, peak float64) error {
	f, ok := e.b.Meter.(instruments.Ranger)
	if !ok {
		return nil
	}
	want, err := f.FixRange(ctx, instruments.Current, peak)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, instruments.ErrPortGone):
		return of(theMeter, err)
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case errors.Is(err, instruments.ErrNotSet) && want.Name != "" && !unattended(e.f):
		if e.keyed == want.Name {
			return nil
		}
		text := fmt.Sprintf("Set the meter to its range %s with its range key, not to automatic.", want.Name)
		a, err := e.ask(ctx, Question{Kind: AskClip, Text: text + " The output is off.",
			Choices: []string{"done", "skip", "stop"}, Step: &s})
		if err != nil {
			return err
		}
		if err := choice(a); err != nil {
			return err
		}
		e.keyed = want.Name
		return nil
	}
	e.warn(fmt.Sprintf("the meter's range could not be fixed: %v", err))
	return nil
}

// overload handles a meter beyond its range: a larger range where it has one,
// else a trip, since what isn't read isn't watched.
func (e *engine) overload(ctx context.Context, r instruments.Reading) error {
	if r.Status == instruments.Held {
		e.warn("the meter's display is held: these are old values, release the hold key")
	}
	if r.Status != instruments.Overload {
		e.overloads = 0
		return nil
	}
	e.overloads++
	in := r.Range
	if in == "" {
		in = e.keyed // what sends by itself doesn't say its range with an overload
	}
	ranges, top := e.currentRanges(), e.rangeMax(in)
	if most := e.out.point.MaxA; top > 0 && top >= most {
		return &tripError{volts: e.out.volts, reason: fmt.Sprintf(
			"at %.2f V it draws more than %s, the whole range of the meter, where at most %s is allowed", e.out.volts,
			amps(top), amps(most))}
	}
	if f, ok := e.b.Meter.(instruments.Ranger); ok && e.overloads <= readTries {
		for _, x := range ranges {
			// The smallest range that lies above the one that was too small.
			if x.Max > top && x.Max > e.out.point.MaxA {
				if _, err := f.FixRange(ctx, instruments.Current, x.Max); !errors.Is(err, instruments.ErrNotSet) {
					e.warn("the meter's range was too small, it was changed to " + x.Name)
					return of(theMeter, err)
				}
				break
			}
		}
	}
	if len(ranges) > 1 && e.overloads < readTries {
		return nil // it may be changing its range by itself
	}
	return &tripError{volts: e.out.volts, reason: fmt.Sprintf(
		"the meter shows overload at %.2f V and has no larger range: too much current, or the wrong jack",
		e.out.volts)}
}

// rangeCheck notes a change of the meter's range within the trace: offsets and
// burden differ from range to range, so the trace is not one measurement.
func (e *engine) rangeCheck() {
	first := ""
	for _, r := range e.rec.Readings {
		if r.Instrument != e.mainName() || r.Quantity != instruments.Current || r.Range == "" ||
			r.At.Before(e.rec.Settled) {
			continue
		}
		if first == "" {
			first = r.Range
		}
		if r.Range != first {
			e.warn(fmt.Sprintf("the meter changed its range within the trace, from %s to %s", first, r.Range))
			e.keyed = ""
			return
		}
	}
	if first != "" && e.keyed != "" && first != e.keyed {
		e.warn(fmt.Sprintf("the meter is on its range %s, not on %s as asked for", first, e.keyed))
		e.keyed = "" // ask for the key again
	}
}

// mainName is the instrument that reads the draw.
func (e *engine) mainName() string {
	if e.b.Meter == nil {
		return e.b.SupplyName
	}
	return e.b.MeterName
}

// currentRanges gives the meter's current ranges, the smallest first.
func (e *engine) currentRanges() []instruments.Range {
	var out []instruments.Range
	for _, r := range e.desc[e.mainName()].Ranges {
		if r.Quantity == instruments.Current {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b instruments.Range) int { return cmp.Compare(a.Max, b.Max) })
	return out
}

// rangeMax gives the top of a range by its name, 0 where it is unknown.
func (e *engine) rangeMax(name string) float64 {
	for _, r := range e.currentRanges() {
		if r.Name == name {
			return r.Max
		}
	}
	return 0
}
