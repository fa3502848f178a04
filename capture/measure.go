package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"sealworthy/instruments"
)

// measure does a step until it has ended somehow, and leaves its record at the
// end of e.done. An error ends the test.
func (e *engine) measure(ctx context.Context, s Step) error {
	warm, losses, refused := false, 0, 0
	for {
		s = e.withoutAllowed(s)
		if err := e.begin(s); err != nil {
			return err
		}
		err := e.attempt(ctx, s, warm)
		warm = false
		var (
			trip  *tripError
			skip  *skipError
			again *againError
			lost  *lostError
			slept *sleptError
			blind *unseenError
			bad   *brokenError
			kept  *keptError
			gone  *letGoError
		)
		if err == nil {
			return e.finish(Measured, "")
		}
		hold := errors.As(err, &lost) && e.mayHold(lost)
		if !hold {
			// Before anything else.
			if offErr := e.off(ctx); offErr != nil && !errors.As(offErr, &lost) {
				return errors.Join(err, offErr)
			}
		}
		if ctx.Err() != nil && trip == nil && !errors.As(err, &trip) {
			return context.Cause(ctx)
		}
		if lost != nil && ctx.Err() == nil {
			losses++
			perr := e.pauseLost(ctx, lost, hold, losses)
			if errors.As(perr, &trip) {
				perr = e.off(ctx)
			}
			if perr != nil {
				return perr // Run switches off
			}
			warm = e.out.on
		}
		switch {
		case trip != nil || errors.As(err, &trip):
			return e.tripped(trip)
		case lost != nil:
			err = e.redone(fmt.Sprintf("the %s was lost and came back", lost.which), false)
		case errors.As(err, &slept):
			if perr := e.pauseAway(ctx, slept); perr != nil {
				return perr
			}
			err = e.redone(slept.Error(), false)
		case errors.As(err, &blind):
			if perr := e.pauseAway(ctx, blind); perr != nil {
				return perr
			}
			err = e.redone(blind.Error(), false)
		case errors.As(err, &again):
			err = e.redone(again.reason, false)
		case errors.As(err, &gone):
			e.clip, e.felt = "", nil
			e.slips++
			e.show(Event{What: Told, Text: "The contact was lost: " + gone.Error() + ". The output is off."})
			if err = e.redone(gone.Error(), false); err == nil {
				return errLetGo
			}
		case errors.As(err, &kept) && !kept.final:
			if serr := e.synced(ctx); serr != nil {
				return serr
			}
			if refused++; refused > tooOften {
				return kept
			}
			err = e.redone("the record couldn't be kept for a while", false)
		case errors.Is(err, errTakenBack):
			err := e.redone(errTakenBack.Error(), false)
			e.carry = nil
			return errors.Join(errTakenBack, err)
		case errors.Is(err, ErrStopped):
			return err
		case errors.Is(err, ErrUnattended):
			return e.skipped("unattended")
		case errors.As(err, &skip):
			return e.skipped(skip.reason)
		case errors.As(err, &bad):
			return e.finish(Failed, notMeasured+bad.Error())
		}
		if err != nil {
			return err
		}
	}
}

// mayHold tells whether the output stays on at its limit while the meter is
// away: the maker chose it, he is there, and the step had come to its voltage.
// Not while relays are away: a board that comes back may have moved them.
func (e *engine) mayHold(l *lostError) bool {
	s := e.rec.Step
	return e.o.HoldWhenLost && l.which == theMeter && !unattended(e.f) && e.out.on &&
		s.Kind == Power && s.Way != Added && e.out.volts == s.Volts
}

func (e *engine) tripped(t *tripError) error {
	e.rec.TripVolts = t.volts
	e.show(Event{What: Trip, Text: t.reason})
	if err := e.mark(Mark{Kind: MarkTripped, Reason: t.reason, TripVolts: t.volts}); err != nil {
		return err
	}
	return e.finish(Tripped, t.reason)
}

func (e *engine) skipped(reason string) error {
	if err := e.mark(Mark{Kind: MarkSkipped, Reason: reason}); err != nil {
		return err
	}
	return e.finish(Skipped, reason)
}

// redone drops the step under way; its begin comes again.
func (e *engine) redone(reason string, byMaker bool) error {
	if err := e.mark(Mark{Kind: MarkRedone, Reason: reason, ByMaker: byMaker}); err != nil {
		return err // what was begun stands as it is
	}
	e.carry = e.rec.Warnings
	if again := "measured again: " + reason; !slices.Contains(e.carry, again) {
		e.carry = append(e.carry, again)
	}
	if e.undo.in(e.rec.Step) {
		e.undo = nil // it went with the attempt
	}
	e.rec = nil
	return nil
}

// attempt does a step once. With warm the output is on at the step's voltage
// already and stays so.
func (e *engine) attempt(ctx context.Context, s Step, warm bool) error {
	e.mind = watch{}
	s, err := e.cleared(ctx, s)
	if err != nil {
		return err
	}
	switch s.Kind {
	case Power, Whole, Resistor:
	case Look:
		return e.look(ctx, s)
	case Wiggle:
		return e.wiggle(ctx, s)
	default:
		return &brokenError{which: "step", err: fmt.Errorf("of unknown kind %q", s.Kind)}
	}
	if err := e.prepare(ctx, s, warm); err != nil {
		return err
	}
	byClip := false
	switch {
	case warm: // it has been on since before the begin
		e.rec.On = e.out.since
		if err := e.mark(Mark{Kind: MarkOn, At: e.out.since}); err != nil {
			return err
		}
	case s.Way == Added && len(without(s.On, s.Feed)) > 0:
		if err := e.added(ctx, s); err != nil {
			return err
		}
	default:
		if byClip, err = e.connect(ctx, s, s.On); err != nil {
			return err
		}
		if err := e.letHandsGo(ctx, s, fmt.Sprintf("%s: hands off.", s.Feed)); err != nil {
			return err
		}
		if err := e.ramp(ctx, s); err != nil {
			return err
		}
	}
	if err := e.press(ctx, s); err != nil {
		return err
	}
	if err := e.settle(ctx, s); err != nil {
		return err
	}
	if err := e.stillOn(); err != nil {
		return err
	}
	e.felt = nil // from here on what it draws is measured
	early := byClip && e.isKnownEarly(s)
	if early {
		if err := e.recognise(ctx, s); err != nil {
			return err
		}
	}
	if err := e.sample(ctx, s, sampling{span: s.For, enough: s.Enough, early: s.Early, readBack: true,
		mind: true}); err != nil {
		return err
	}
	if byClip && !early {
		if err := e.recognise(ctx, s); err != nil {
			return err
		}
	}
	if err := e.stoodAlone(s); err != nil {
		return err
	}
	e.crossCheck()
	e.rangeCheck()
	e.paceOf[s.Board] = s.Pace
	e.sayEarly(s, e.rec.Settled)
	if err := e.sweep(ctx, s); err != nil {
		return err
	}
	return e.off(ctx)
}

// added reads what is on without the feed, then puts the feed on top. By relay
// the output stays on; with a clip it goes off in between.
func (e *engine) added(ctx context.Context, s Step) error {
	under := without(s.On, s.Feed)
	if _, err := e.connect(ctx, s, under); err != nil {
		return err
	}
	if err := e.ramp(ctx, s); err != nil {
		return err
	}
	if err := e.settle(ctx, s); err != nil {
		return err
	}
	e.base = true
	if err := e.sample(ctx, s, sampling{span: s.For, readBack: true}); err != nil {
		return err
	}
	e.base = false
	e.rec.Settled = time.Time{}
	if !e.byRelay(s.Feed) {
		if err := e.off(ctx); err != nil {
			return err
		}
		if _, err := e.connect(ctx, s, s.On); err != nil {
			return err
		}
		return e.ramp(ctx, s)
	}
	e.out.inrushUntil = e.b.Clock.Now().Add(max(s.Inrush, addedInrush))
	if _, err := e.connect(ctx, s, s.On); err != nil {
		return err
	}
	// The feed came at full voltage, without a ramp: look at it at once.
	return e.dwell(ctx, s, e.out.point, e.out.inrushUntil)
}

// addedInrush is what a feed's own capacitance may take when it is switched on
// at full voltage (common practice, no source).
const addedInrush = 100 * time.Millisecond

// prepare fixes the range, sets protection and refuses what the bench can't do.
func (e *engine) prepare(ctx context.Context, s Step, warm bool) error {
	if len(s.Ramp) == 0 || s.LimitA() <= 0 {
		return &brokenError{which: "step", err: errors.New("has no limit for the supply, so it isn't powered")}
	}
	if err := e.bearable(s); err != nil {
		return err
	}
	last := s.Ramp[len(s.Ramp)-1]
	if f := e.fuse(); f > 0 && last.ExpectA > f {
		return &brokenError{which: theMeter, err: fmt.Errorf(
			"the feed draws about %s, the fuse behind the meter's jack is %s: use the jack with the larger fuse",
			amps(last.ExpectA), amps(f))}
	}
	if !warm {
		if err := e.isOffNow(ctx); err != nil {
			return err
		}
	}
	if err := e.fixRange(ctx, s, last.MaxA); err != nil {
		return err
	}
	if !warm {
		return e.protect(ctx, s)
	}
	return nil
}

// protect sets the supply's own protection, a little above what the step needs:
// a second line behind the limit, where the supply has one.
func (e *engine) protect(ctx context.Context, s Step) error {
	p, ok := e.b.Supply.(instruments.Protector)
	if !ok {
		return nil
	}
	volts, most := e.guardVolts(s.Volts), e.clamp(maxLimit(s))*1.5
	if e.out.volts == 0 || e.out.volts > volts {
		// A supply may refuse a protection below the voltage that it is set to.
		if err := e.set(ctx, s.Ramp[0]); err != nil {
			return err
		}
	}
	err := p.Protect(ctx, volts, most)
	switch {
	case err == nil, errors.Is(err, instruments.ErrNoProtection):
	case errors.Is(err, instruments.ErrPortGone):
		return of(theSupply, err)
	case ctx.Err() != nil:
		return context.Cause(ctx)
	default:
		e.warn(fmt.Sprintf("the supply's own protection could not be set: %v", err))
	}
	return nil
}

// fuse is the fuse behind the meter's jack in A, 0 where unknown.
func (e *engine) fuse() float64 {
	if e.b.Meter == nil {
		return 0
	}
	if e.b.MeterFuseAmps > 0 {
		return e.b.MeterFuseAmps
	}
	return e.desc[e.b.MeterName].JackFuseAmps
}

// clamp keeps a limit below the meter's fuse, what the supply can give, and what
// this bench never goes above.
func (e *engine) clamp(limit float64) float64 {
	if f := e.fuse(); f > 0 {
		limit = min(limit, f)
	}
	if m := e.desc[e.b.SupplyName].MaxAmps; m > 0 {
		limit = min(limit, m)
	}
	if e.b.MostAmps > 0 {
		limit = min(limit, e.b.MostAmps)
	}
	return limit
}

func maxLimit(s Step) float64 {
	m := 0.0
	for _, p := range s.Ramp {
		m = max(m, p.LimitA)
	}
	return m
}
