package capture

import (
	"context"
	"fmt"
	"math"
	"time"

	"sealworthy/instruments"
)

// At each point of a ramp the draw gets a moment before it is judged: a supply's
// output capacitor and the relays have to come to rest (common practice, no source).
const (
	rampDwell  = 200 * time.Millisecond
	inrushPoll = 50 * time.Millisecond
)

// ramp brings the output to the step's voltage. Each point sets voltage and
// limit together, the first before the output goes on, and is a test: too much
// already ends it with a tripError while little energy has flowed.
func (e *engine) ramp(ctx context.Context, s Step) error {
	for i, p := range s.Ramp {
		if err := e.set(ctx, p); err != nil {
			return err
		}
		if i == 0 {
			if err := e.on(ctx); err != nil {
				return err
			}
		}
		e.show(Event{What: RampStep})
		e.out.inrushUntil = e.b.Clock.Now().Add(s.Inrush)
		if err := e.dwell(ctx, s, p, e.out.inrushUntil); err != nil {
			return err
		}
	}
	return nil
}

// set sends voltage and limit of a point.
func (e *engine) set(ctx context.Context, p RampPoint) error {
	if err := e.within(p.Volts); err != nil {
		return err
	}
	limit, err := e.stepped(e.clamp(p.LimitA))
	if err != nil {
		return err
	}
	e.out.volts, e.out.limit, e.out.point = p.Volts, limit, p
	return of(theSupply, e.b.Supply.Set(ctx, p.Volts, limit))
}

// stepped is the limit that the supply will have in force for one asked for: the
// next of its steps above, or where that is more than the bench allows the one below.
func (e *engine) stepped(limit float64) (float64, error) {
	s, ok := e.b.Supply.(instruments.LimitStepper)
	if !ok || !(s.LimitStep() > 0) {
		return limit, nil
	}
	const exact = 1e-6 // of a step: a limit that is a whole number of them
	step := s.LimitStep()
	up := math.Ceil(limit/step-exact) * step
	if e.clamp(up) >= up-exact*step {
		return up, nil
	}
	down := math.Floor(limit/step+exact) * step
	if !(down > 0) {
		return 0, &brokenError{which: theSupply, err: fmt.Errorf("has no limit as low as %s: its smallest is %s", amps(limit), amps(step))}
	}
	return down, nil
}

// on switches on. The output counts as on from before the command.
func (e *engine) on(ctx context.Context) error {
	if err := e.uncleared(); err != nil {
		return err
	}
	if e.rec != nil && e.rec.On.IsZero() {
		// What is about to get current stands on disk before it does.
		if err := e.synced(ctx); err != nil {
			return err
		}
	}
	e.out.on, e.fresh = true, true
	e.out.since, e.out.presses = e.b.Clock.Now(), 0
	if err := e.guard.on(ctx, e.b.Supply); err != nil {
		if err == ErrStopping {
			return err
		}
		return of(theSupply, err)
	}
	if e.rec.On.IsZero() {
		e.rec.On = e.out.since
	}
	e.show(Event{What: OutputOn})
	return e.mark(Mark{Kind: MarkOn, At: e.out.since})
}

// dwell waits at a point of the ramp and judges its draw. Constant current or
// too much is a trip once inrush is over.
func (e *engine) dwell(ctx context.Context, s Step, p RampPoint, inrush time.Time) error {
	if err := e.wait(ctx, e.b.Clock.Now().Add(rampDwell), RampStep); err != nil {
		return err
	}
	blind := 0
	for {
		r, err := e.rampReading(ctx, p.Volts == s.Volts)
		if err != nil {
			return err
		}
		charging := e.b.Clock.Now().Before(inrush)
		over := r != nil && (above(*r, p.MaxA) || charging && r.Status == instruments.Overload)
		limiting, err := e.limiting(ctx)
		if err != nil {
			return err
		}
		if !over && !limiting {
			if r == nil || r.Status == instruments.OK {
				return nil
			}
			if err := e.overload(ctx, *r); err != nil {
				return err
			}
			if blind++; blind > readTries {
				return &brokenError{which: theMeter, err: fmt.Errorf("shows no value (%s)", r.Status)}
			}
			continue // what wasn't read wasn't tested
		}
		if !charging {
			return e.tripOn(r, limiting)
		}
		if err := e.wait(ctx, e.b.Clock.Now().Add(inrushPoll), RampStep); err != nil {
			return err
		}
	}
}

// rampReading reads the draw at a point. A meter whose number the maker types
// in is asked only where nothing else can tell.
func (e *engine) rampReading(ctx context.Context, last bool) (*instruments.Reading, error) {
	if !byHand(e.b.Meter) {
		return e.read(ctx, RampStep)
	}
	if !byHand(e.b.Supply) {
		return e.readBack(ctx, instruments.Current)
	}
	if last {
		return e.read(ctx, RampStep)
	}
	return nil, nil
}

// above tells whether a reading lies above most for sure.
func above(r instruments.Reading, most float64) bool {
	v, ok := r.Float()
	return ok && most > 0 && v-r.HalfWidth > most
}

// tripOn makes the reason of a trip in the maker's words. What is suspected
// depends on the voltage: up to 1.5 V, below the forward voltage of any LED, only
// something that isn't an LED conducts, up to 4 V one LED without its resistor
// does (common practice, no source).
func (e *engine) tripOn(r *instruments.Reading, limiting bool) error {
	v, read, who := e.out.volts, "", "the meter"
	if byHand(e.b.Meter) && !byHand(e.b.Supply) {
		who = "it" // its own reading: see rampReading
	}
	if r != nil {
		if a, ok := r.Float(); ok {
			read = amps(a)
		}
	}
	what := "it draws " + read
	if limiting || read == "" {
		what = "the supply is at its limit of " + amps(e.out.limit)
		if read != "" {
			what += " (" + who + " last read " + read + ")"
		}
	}
	cause := "a short, a missing resistor, or more hangs on it than the plan says"
	switch {
	case v <= 1.5:
		cause = "a short: no LED conducts at so little"
	case v <= 4:
		cause = "a missing resistor, or a short"
	}
	return &tripError{volts: v, reason: fmt.Sprintf("at %.2f V %s where at most %s is allowed; likely %s",
		v, what, amps(e.out.point.MaxA), cause)}
}
