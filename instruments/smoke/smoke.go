// Package smoke goes through what a driver promises with one real instrument, in the
// hands of somebody who watches: its first day on the bench.
//
// Start with Try. A supply is set to 1 V and 10 mA with its output off, read back,
// and, after a yes, switched on for a second, read, and switched off. Relays are
// closed one by one, with a question before the first. A meter is read. Nothing may
// be connected to the supply or behind the relays meanwhile. Whatever happens, the
// last word to a supply is off.
package smoke

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// What a supply is tried with: too little to hurt anything that was left on it.
const (
	tryVolts = 1.0
	tryAmps  = 0.010
	onFor    = time.Second
)

// Watcher is who watches. Tell gets one sentence of what was found; Ask is asked
// before anything is switched on, and a no leaves it off. Output says what a supply's
// output was told, and confirmed.
type Watcher interface {
	Tell(text string)
	Ask(ctx context.Context, q Question) (yes bool, err error)
	Output(o Output)
}

// Question is what is asked before anything is switched on.
type Question string

// The questions: is nothing connected to the supply, and is nothing powered behind the
// relays?
const (
	NothingOnSupply     Question = "supply"
	NothingBehindRelays Question = "relays"
)

// Output is what an output was told.
type Output struct {
	On     bool    // it was told to be on
	Volts  float64 // V, as it's set
	LimitA float64 // A, as it's set
	// Unsure: it was told to go off, and didn't confirm that.
	Unsure bool
}

// Found is what a trial tells that no question does.
type Found struct {
	// LimitStepA is the step of a supply's limit where it is coarser than its profile
	// says; 0: it is as the profile says.
	LimitStepA float64
}

// Try goes through one instrument.
func Try(ctx context.Context, c clock.Clock, x *bench.Connected, p *profile.Profile,
	w Watcher) (found Found, err error) {
	switch {
	case x.Supply != nil:
		return trySupply(ctx, c, x.Supply, w)
	case x.Meter != nil:
		return found, tryMeter(ctx, x.Meter, p, w)
	}
	return found, tryRelays(ctx, c, x.Relays, p, w)
}

// Limits that tell a coarse step: with one of 10 mA the first comes out wrong and the
// second right (common practice, no source).
const (
	betweenStepsA = 0.013
	onStepsA      = 0.020
	coarseStepA   = 0.010
)

// limitStep finds out whether a limit goes in coarser steps than the profile says.
func limitStep(ctx context.Context, s instruments.Supply) (stepA float64, err error) {
	if err = s.Set(ctx, tryVolts, betweenStepsA); err == nil || !errors.Is(err, instruments.ErrNotSet) {
		return 0, err
	}
	if s.Set(ctx, tryVolts, onStepsA) != nil {
		return 0, err // something else is wrong
	}
	return coarseStepA, s.Set(ctx, tryVolts, tryAmps)
}

// ErrMayBeOn: the supply didn't confirm the off at the end.
var ErrMayBeOn = errors.New("THE OUTPUT MAY BE ON: switch the supply off by hand")

func trySupply(ctx context.Context, c clock.Clock, s instruments.Supply, w Watcher) (found Found, err error) {
	// Whatever happens from here on, the last word is off.
	defer func() {
		off := s.Off(context.WithoutCancel(ctx))
		w.Output(Output{Volts: tryVolts, LimitA: tryAmps, Unsure: off != nil})
		if off != nil {
			err = errors.Join(err, fmt.Errorf("%w: %w", ErrMayBeOn, off))
		}
	}()
	if err := s.Off(ctx); err != nil {
		return found, err
	}
	w.Output(Output{})
	say(w, "The output is off, confirmed.")
	if err := s.Set(ctx, tryVolts, tryAmps); err != nil {
		return found, err
	}
	say(w, "Set to %.1f V and %.0f mA with the output off, and read back.", tryVolts, tryAmps*1000)
	if found.LimitStepA, err = limitStep(ctx, s); err != nil {
		return found, err
	}
	if found.LimitStepA > 0 {
		say(w, "Its limit goes in steps of %.0f mA: its profile needs step_amps = %g.", 1000*found.LimitStepA,
			found.LimitStepA)
	}
	if err := s.Set(ctx, tryVolts, tryAmps); err != nil {
		return found, err
	}
	if pr, ok := s.(instruments.Protector); ok {
		switch err := pr.Protect(ctx, 2*tryVolts, 5*tryAmps); {
		case errors.Is(err, instruments.ErrNoProtection):
			say(w, "Its profile has no over-voltage or over-current protection.")
		case err != nil:
			return found, err
		default:
			say(w, "Its protection is set to %.1f V and %.0f mA, and read back.", 2*tryVolts, 5*tryAmps*1000)
		}
	}
	if err := readings(ctx, s, 1, w, instruments.Voltage, instruments.Current); err != nil {
		return found, err
	}
	yes, err := w.Ask(ctx, NothingOnSupply)
	if err != nil {
		return found, err
	}
	if !yes {
		say(w, "The output was left off.")
		return found, nil
	}
	// While that was asked somebody may have turned a knob, or the supply lost its power.
	if err := s.Set(ctx, tryVolts, tryAmps); err != nil {
		return found, err
	}
	w.Output(Output{On: true, Volts: tryVolts, LimitA: tryAmps}) // shown before it's so
	if err := s.On(ctx); err != nil {
		return found, err
	}
	say(w, "The output is ON.")
	if err := c.Wait(ctx, nil, c.Now().Add(onFor)); err != nil {
		return found, err
	}
	if err := readings(ctx, s, 3, w, instruments.Voltage, instruments.Current); err != nil {
		return found, err
	}
	limiting, err := s.Limiting(ctx)
	if err != nil {
		return found, err
	}
	say(w, "%s", holdsBack(limiting))
	if err := s.Off(ctx); err != nil {
		return found, err
	}
	w.Output(Output{Volts: tryVolts, LimitA: tryAmps})
	say(w, "The output is off, confirmed.")
	return found, readings(ctx, s, 1, w, instruments.Voltage)
}

func tryMeter(ctx context.Context, m instruments.Meter, p *profile.Profile, w Watcher) error {
	var errs []error
	for _, q := range []instruments.Quantity{instruments.Current, instruments.Voltage} {
		errs = append(errs, tryQuantity(ctx, m, p.RangesOf(q), q, w))
	}
	return errors.Join(errs...)
}

// tryQuantity reads in each range, then with free choice.
func tryQuantity(ctx context.Context, m instruments.Meter, ranges []instruments.Range, q instruments.Quantity,
	w Watcher) error {
	if len(ranges) == 0 {
		return nil
	}
	if r, ok := m.(instruments.Ranger); ok {
		for _, x := range ranges {
			if _, err := r.FixRange(ctx, q, x.Max); err != nil {
				say(w, "Range %s: %v.", x.Name, err)
				continue
			}
			say(w, "Range %s is fixed.", x.Name)
			if err := readings(ctx, m, 1, w, q); err != nil {
				return err
			}
		}
		if _, err := r.FixRange(ctx, q, 0); err != nil {
			return err
		}
	}
	return readings(ctx, m, 3, w, q)
}

func tryRelays(ctx context.Context, c clock.Clock, r instruments.Relays, p *profile.Profile, w Watcher) (err error) {
	yes, err := w.Ask(ctx, NothingBehindRelays)
	if err != nil {
		return err
	}
	if !yes {
		say(w, "The relays were left alone.")
		return nil
	}
	defer func() { err = errors.Join(err, r.Close(context.WithoutCancel(ctx))) }()
	for ch := p.Relays.First; ch < p.Relays.First+p.Relays.Channels; ch++ {
		if err := r.Close(ctx, ch); err != nil {
			return fmt.Errorf("channel %d: %w", ch, err)
		}
		say(w, "Relay %d is closed, all others are open, read back.", ch)
		if err := c.Wait(ctx, nil, c.Now().Add(300*time.Millisecond)); err != nil {
			return err
		}
	}
	return nil
}

// holdsBack says what an open output tells of constant current.
func holdsBack(on bool) string {
	if on {
		return "It says that it holds the current back, and with nothing connected it can't: the line limiting of its " +
			"profile is wrong " +
			"(another bit, or not = true)."
	}
	return "It says that it doesn't hold the current back, as it must with nothing connected."
}

// readings takes n readings of each quantity and shows them.
func readings(ctx context.Context, m instruments.Meter, n int, w Watcher, of ...instruments.Quantity) error {
	for _, q := range of {
		for range n {
			r, err := m.Read(ctx, q)
			if err != nil {
				return err
			}
			if v, ok := r.Float(); ok {
				size, unit := 1.0, r.Unit
				if q == instruments.Current {
					size, unit = 1000, "mA"
				}
				say(w, "It reads %s %.6g %s, at most %.2g %s off, range %s, after %d ms.", q, size*v, unit,
					size*r.HalfWidth, unit, r.Range, r.Latency.Milliseconds())
			} else {
				say(w, "It reads %s: %s.", q, r.Status)
			}
		}
	}
	return nil
}

func say(w Watcher, format string, a ...any) { w.Tell(fmt.Sprintf(format, a...)) }
