package driver

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"sync/atomic"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// identity is what an instrument said it is.
type identity struct {
	mu sync.Mutex
	s  string
}

func (i *identity) set(s string) { i.mu.Lock(); i.s = s; i.mu.Unlock() }
func (i *identity) get() string  { i.mu.Lock(); defer i.mu.Unlock(); return i.s }

// Supply is a bench supply.
type Supply struct {
	base
	s    *profile.Supply
	offs atomic.Uint64 // calls of Off so far
	out  told
	off  underway
}

var (
	_ instruments.Supply     = (*Supply)(nil)
	_ instruments.Identifier = (*Supply)(nil)
	_ instruments.Protector  = (*Supply)(nil)

	_ instruments.OutputTeller = (*Supply)(nil)
	_ instruments.Describer    = (*Supply)(nil)
	_ instruments.LimitStepper = (*Supply)(nil)
	_ instruments.VoltStepper  = (*Supply)(nil)
	_ instruments.OffKnower    = (*Supply)(nil)
	_ instruments.OffTimer     = (*Supply)(nil)
	_ instruments.Noter        = (*Supply)(nil)

	_ instruments.SettingsTeller = (*Supply)(nil)
)

// Set sets the limit, then the voltage, and reads both back. The limit comes
// first so that no voltage ever stands with a limit meant for a higher one.
func (s *Supply) Set(ctx context.Context, volts, limitAmps float64) error {
	v, err := s.onStep("voltage", volts, s.s.StepVolts, s.s.MaxVolts, "V")
	if err != nil {
		return err
	}
	// A limit that the supply can't set exactly is the next one above: one below
	// would hold a healthy draw back.
	limit := math.Ceil(limitAmps/s.s.StepAmps-1e-6) * s.s.StepAmps
	i, err := s.onStep("current limit", min(limit, max(limitAmps, s.s.MaxAmps)), s.s.StepAmps, s.s.MaxAmps, "A")
	if err != nil {
		return err
	}
	const op = "set voltage and limit"
	args := s.args(profile.Args{Volts: v, Amps: i})
	if err := s.proto.Tell(ctx, op, &s.s.SetAmps, args, false); err != nil {
		return notSet(err)
	}
	if err := s.proto.Tell(ctx, op, &s.s.SetVolts, args, false); err != nil {
		return notSet(err)
	}
	if err := s.proto.Check(ctx, op); err != nil {
		return notSet(err)
	}
	err = errors.Join(
		s.readBack(ctx, "current limit", &s.s.GetAmps, i, s.s.StepAmps, "A"),
		s.readBack(ctx, "voltage", &s.s.GetVolts, v, s.s.StepVolts, "V"),
	)
	if err == nil {
		s.out.set(v, i)
	}
	return err
}

// onStep rounds to the setting resolution and refuses what the supply can't do.
func (s *Supply) onStep(what string, x, step, most float64, unit string) (float64, error) {
	if math.IsNaN(x) || x < 0 || x > most {
		return 0, fmt.Errorf("%s: %w: %s %v %s is outside 0 to %v %s", s.name, instruments.ErrNotSet, what, x, unit,
			most, unit)
	}
	n := math.Round(x / step)
	if n == 0 && x > 0 {
		return 0, fmt.Errorf("%s: %w: %s %v %s is below the supply's smallest step of %v %s", s.name,
			instruments.ErrNotSet, what, x, unit, step, unit)
	}
	return n * step, nil
}

// readBack asks for a setting.
func (s *Supply) readBack(ctx context.Context, what string, pt *profile.Point, want, step float64, unit string) error {
	return confirmed(ctx, func() error {
		a, err := s.proto.Ask(ctx, "read back "+what, pt, s.args(profile.Args{}), false)
		if err != nil {
			return err
		}
		if a.Number.Mark != Finite || !(math.Abs(a.Number.Value-want) <= 0.51*step) {
			s.proto.Doubt()
			return fmt.Errorf("%s: %w: %s should be %.6g %s, the supply says %q", s.name, instruments.ErrNotSet, what,
				want, unit, a.Raw)
		}
		return nil
	})
}

// ErrSwitchedOff is On meeting an Off that came after it was called.
var ErrSwitchedOff = errors.New("switched off meanwhile")

// On switches the output on and has it confirmed. After an error the output may
// be on: call Off. An Off that comes while On runs wins.
func (s *Supply) On(ctx context.Context) error {
	const op = "output on"
	before := s.offs.Load()
	if err := s.watchdog(ctx); err != nil {
		return err
	}
	s.out.on()
	err := s.proto.Tell(ctx, op, &s.s.On, s.args(profile.Args{}), false)
	s.out.on() // an Off that began meanwhile may have gone out before it
	if err != nil {
		return notSet(err)
	}
	if s.offs.Load() != before {
		// Off may have gone out before On did: say it again.
		return errors.Join(fmt.Errorf("%s: %s: %w", s.name, op, ErrSwitchedOff), s.Off(ctx))
	}
	if err := s.proto.Check(ctx, op); err != nil {
		return notSet(err)
	}
	err = confirmed(ctx, func() error {
		on, err := s.output(ctx, op, false)
		if err == nil && !on && s.offs.Load() == before {
			err = fmt.Errorf("%s: %s: %w: the supply says that its output is off", s.name, op, instruments.ErrNotSet)
		}
		return err
	})
	if err == nil && s.offs.Load() != before {
		err = fmt.Errorf("%s: %s: %w", s.name, op, ErrSwitchedOff)
	}
	return err
}

// offTries is how often Off is sent until it is confirmed. It is the one
// command that may be repeated: it does no harm twice.
const offTries = 3

// Off switches the output off, whatever ctx says, and has it confirmed. An
// error means that the output may still be on: pull the plug.
//
// Several at once are one: commands that pile up in front of a slow supply would
// keep each other's answers away.
func (s *Supply) Off(ctx context.Context) error {
	s.offs.Add(1)
	return s.off.do(s.clk, s.out.ons(), func(ons uint64) error {
		return s.switchOff(context.WithoutCancel(ctx), ons)
	})
}

// switchOff is one Off from the first command to the answer. ons is what was counted
// before it.
func (s *Supply) switchOff(ctx context.Context, ons uint64) error {
	const op = "output off"
	var last error
	for range offTries {
		for range s.offTwice() {
			last = s.proto.Tell(ctx, op, &s.s.Off, s.args(profile.Args{}), true)
			if errors.Is(last, instruments.ErrPortGone) {
				return notSet(last)
			}
		}
		on, err := s.output(ctx, op, true)
		switch {
		case err == nil && !on:
			s.out.off(ons)
			return nil
		case err == nil:
			last = fmt.Errorf("%s: %s: %w: the supply says that its output is on", s.name, op, instruments.ErrNotSet)
		case errors.Is(err, instruments.ErrPortGone):
			return notSet(err)
		default:
			last = err
		}
	}
	return notSet(last)
}

// offTwice is how often Off is sent before it is asked for: twice where there is
// no checksum. A command that a fault ate, and an answer that a fault turned
// from 1 to 0, which is one bit in ASCII, would else leave the output on.
func (s *Supply) offTwice() int {
	if s.profile.Speaks == profile.Modbus {
		return 1
	}
	return 2
}

func (s *Supply) output(ctx context.Context, op string, urgent bool) (bool, error) {
	a, err := s.proto.Ask(ctx, op+": read back", &s.s.GetOutput, s.args(profile.Args{}), urgent)
	if err != nil {
		return false, err
	}
	return s.yes(&s.s.GetOutput, a)
}

// OutputIs asks whether the output is on.
func (s *Supply) OutputIs(ctx context.Context) (bool, error) {
	ons := s.out.ons()
	on, err := s.output(ctx, "is the output on?", false)
	switch {
	case err == nil && on:
		s.out.foundOn()
	case err == nil:
		s.out.off(ons)
	}
	return on, err
}

// Read reads the output back.
func (s *Supply) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	var pt *profile.Point
	switch q {
	case instruments.Voltage:
		pt = &s.s.MeasureVolts
	case instruments.Current:
		pt = &s.s.MeasureAmps
	default:
		return instruments.Reading{}, fmt.Errorf("%s: can't read %q", s.name, q)
	}
	a, err := s.proto.Ask(ctx, "read "+string(q), pt, s.args(profile.Args{}), false)
	if err != nil {
		return instruments.Reading{}, err
	}
	return s.reading(q, a, nil)
}

// Limiting reports constant-current operation: what the supply says of it, or
// where it can't be asked what follows from its read-back.
func (s *Supply) Limiting(ctx context.Context) (bool, error) {
	if !s.s.Limiting.Given() {
		return s.heldBack(ctx)
	}
	a, err := s.proto.Ask(ctx, "constant current?", &s.s.Limiting, s.args(profile.Args{}), false)
	if err != nil {
		return false, err
	}
	return s.yes(&s.s.Limiting, a)
}

// Protect sets over-voltage and over-current protection, whichever the profile
// has, and reads them back. It returns instruments.ErrNoProtection if it has
// neither.
func (s *Supply) Protect(ctx context.Context, volts, amps float64) error {
	if !s.s.ProtectVolts.Given() && !s.s.ProtectAmps.Given() {
		return instruments.ErrNoProtection
	}
	const op = "set protection"
	args := s.args(profile.Args{Volts: volts, Amps: amps})
	for _, pt := range []*profile.Point{&s.s.ProtectVolts, &s.s.ProtectAmps} {
		if pt.Given() {
			if err := s.proto.Tell(ctx, op, pt, args, false); err != nil {
				return notSet(err)
			}
		}
	}
	if err := s.proto.Check(ctx, op); err != nil {
		return notSet(err)
	}
	var errs []error
	if s.s.ProtectVolts.Given() {
		errs = append(errs, s.readBack(ctx, "over-voltage protection", &s.s.GetProtectV, volts, s.s.StepVolts, "V"))
	}
	if s.s.ProtectAmps.Given() {
		errs = append(errs, s.readBack(ctx, "over-current protection", &s.s.GetProtectA, amps, s.s.StepAmps, "A"))
	}
	return errors.Join(errs...)
}

func (s *Supply) args(a profile.Args) profile.Args {
	a.Channel = s.profile.Channel.Number
	return a
}
