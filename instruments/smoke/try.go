package main

import (
	"context"
	"errors"
	"fmt"
	"io"
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

// try goes through one instrument. ask is asked before anything is switched on.
func try(ctx context.Context, c clock.Clock, x *bench.Connected, p *profile.Profile, ask func(string) bool, out io.Writer) error {
	switch {
	case x.Supply != nil:
		return trySupply(ctx, c, x.Supply, ask, out)
	case x.Meter != nil:
		return tryMeter(ctx, x.Meter, p, out)
	}
	return tryRelays(ctx, c, x.Relays, p, ask, out)
}

func trySupply(ctx context.Context, c clock.Clock, s instruments.Supply, ask func(string) bool, out io.Writer) (err error) {
	// Whatever happens from here on, the last word is off.
	defer func() {
		if off := s.Off(context.WithoutCancel(ctx)); off != nil {
			err = errors.Join(err, fmt.Errorf("THE OUTPUT MAY BE ON, switch it off by hand: %w", off))
		}
	}()
	if err := s.Off(ctx); err != nil {
		return err
	}
	say(out, "output off, confirmed")
	if err := s.Set(ctx, tryVolts, tryAmps); err != nil {
		return err
	}
	say(out, "set to %.1f V and %.0f mA with the output off, read back", tryVolts, tryAmps*1000)
	if pr, ok := s.(instruments.Protector); ok {
		switch err := pr.Protect(ctx, 2*tryVolts, 5*tryAmps); {
		case errors.Is(err, instruments.ErrNoProtection):
			say(out, "no over-voltage or over-current protection in its profile")
		case err != nil:
			return err
		default:
			say(out, "protection set to %.1f V and %.0f mA, read back", 2*tryVolts, 5*tryAmps*1000)
		}
	}
	if err := readings(ctx, s, 1, out, instruments.Voltage, instruments.Current); err != nil {
		return err
	}
	if !ask("Nothing is connected to the supply? Then its output goes on at 1 V and 10 mA for a second.") {
		say(out, "left off")
		return nil
	}
	if err := s.On(ctx); err != nil {
		return err
	}
	say(out, "output ON")
	if err := c.Wait(ctx, nil, c.Now().Add(onFor)); err != nil {
		return err
	}
	if err := readings(ctx, s, 3, out, instruments.Voltage, instruments.Current); err != nil {
		return err
	}
	limiting, err := s.Limiting(ctx)
	if err != nil {
		return err
	}
	say(out, "constant current: %v (with nothing connected it should be false)", limiting)
	if err := s.Off(ctx); err != nil {
		return err
	}
	say(out, "output off, confirmed")
	return readings(ctx, s, 1, out, instruments.Voltage)
}

func tryMeter(ctx context.Context, m instruments.Meter, p *profile.Profile, out io.Writer) error {
	var errs []error
	for _, q := range []instruments.Quantity{instruments.Current, instruments.Voltage} {
		ranges := p.RangesOf(q)
		if len(ranges) == 0 {
			continue
		}
		// Fixed ranges one by one, then free again.
		if r, ok := m.(instruments.Ranger); ok {
			for _, x := range ranges {
				if _, err := r.FixRange(ctx, q, x.Max); err != nil {
					say(out, "range %s: %v", x.Name, err)
					continue
				}
				say(out, "range %s is fixed", x.Name)
				errs = append(errs, readings(ctx, m, 1, out, q))
			}
			if _, err := r.FixRange(ctx, q, 0); err != nil {
				errs = append(errs, err)
			}
		}
		errs = append(errs, readings(ctx, m, 3, out, q))
	}
	return errors.Join(errs...)
}

func tryRelays(ctx context.Context, c clock.Clock, r instruments.Relays, p *profile.Profile, ask func(string) bool, out io.Writer) (err error) {
	if !ask("Nothing is powered behind the relays? Then they are closed one by one.") {
		say(out, "left alone")
		return nil
	}
	defer func() { err = errors.Join(err, r.Close(context.WithoutCancel(ctx))) }()
	for ch := p.Relays.First; ch < p.Relays.First+p.Relays.Channels; ch++ {
		if err := r.Close(ctx, ch); err != nil {
			return fmt.Errorf("channel %d: %w", ch, err)
		}
		say(out, "relay %d closed, all others open, read back", ch)
		if err := c.Wait(ctx, nil, c.Now().Add(300*time.Millisecond)); err != nil {
			return err
		}
	}
	return nil
}

// readings takes n readings of each quantity and shows them.
func readings(ctx context.Context, m instruments.Meter, n int, out io.Writer, of ...instruments.Quantity) error {
	for _, q := range of {
		for range n {
			r, err := m.Read(ctx, q)
			if err != nil {
				return err
			}
			if v, ok := r.Float(); ok {
				say(out, "%s %.6g %s, at most %.2g %s off, range %s, after %v", q, v, r.Unit, r.HalfWidth, r.Unit, r.Range, r.Latency.Round(time.Millisecond))
			} else {
				say(out, "%s: %s", q, r.Status)
			}
		}
	}
	return nil
}

func say(out io.Writer, format string, a ...any) { fmt.Fprintf(out, "\n* "+format+"\n", a...) }
