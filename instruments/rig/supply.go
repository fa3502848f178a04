package rig

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig/odd"
)

// supply is one output with voltage, current limit and protection.
type supply struct {
	device
	o    SupplyOptions
	m    *model
	rand *rand.Rand

	volts, amps float64 // set
	ovp, ocp    float64
	ovpTripped  bool
	remote      bool
	dog         watchdog
	setV, setA  deviation // of setting
	readV       deviation // of reading back
	readA       deviation
}

// deviation is what an instrument has against the truth, constant over a bench.
type deviation struct{ gain, offset float64 }

func (e deviation) of(v float64) float64 { return v*(1+e.gain) + e.offset }

// drawn takes errors from within an accuracy, so that a value rounded to step
// with a little noise never leaves it.
func drawn(r *rand.Rand, a instruments.Accuracy, spare float64) deviation {
	gain, offset := 2*r.Float64()-1, 2*r.Float64()-1
	return deviation{gain: gain * a.OfReading, offset: offset * max(0, a.Floor-spare)}
}

func newSupply(c clock.Clock, o Options, m *model, r *rand.Rand) *supply {
	s := &supply{device: device{c: c, name: Supply, opt: o.Supply.LineOptions}, o: o.Supply, m: m, rand: r}
	s.setV = drawn(r, o.Supply.SetVolts, 0)
	s.setA = drawn(r, o.Supply.SetAmps, 0)
	s.readV = drawn(r, o.Supply.ReadVolts, o.Supply.ReadVoltStep/2)
	s.readA = drawn(r, o.Supply.ReadAmps, o.Supply.ReadAmpStep/2)
	if o.Exact {
		s.setV, s.setA, s.readV, s.readA = deviation{}, deviation{}, deviation{}, deviation{}
	}
	fix(&s.setV.gain, o.Supply.VoltGain)
	fix(&s.setV.offset, o.Supply.VoltOffset)
	fix(&s.readA.gain, o.Supply.AmpGain)
	fix(&s.readA.offset, o.Supply.AmpOffset)
	s.defaults()
	s.addCommon(fmt.Sprintf("SIMULATED BENCH,SUPPLY,SN%06d,1.0", r.IntN(1e6)), s.reset)
	s.addCommands()
	return s
}

func fix(to *float64, from *float64) {
	if from != nil {
		*to = *from
	}
}

func (s *supply) defaults() {
	s.volts, s.amps = 0, min(0.1, s.o.MaxAmps)
	s.ovp, s.ocp = s.o.MaxVolts*1.1, 0
	s.ovpTripped = false
}

func (s *supply) reset() {
	s.defaults()
	s.m.change(s.c.Now(), func() {
		s.m.switchOff(s.m.last, "reset")
		s.m.ocpA, s.m.tripped = 0, false
		s.apply()
	})
}

// apply hands the settings to the model. It runs within model.change.
func (s *supply) apply() {
	now := s.m.last
	s.m.setV, s.m.setA = s.volts, s.amps
	v := s.m.src.volts(now)
	s.m.src = source{on: s.m.src.on, from: v, target: max(0, s.setV.of(s.volts)), began: now, tau: s.o.Slew,
		limitA: max(0, s.setA.of(s.amps))}
	if s.volts == 0 {
		s.m.src.target = 0 // an offset doesn't light anything
	}
	if s.m.src.on && s.volts > s.ovp {
		s.ovpTripped = true
		s.m.switchOff(now, "over-voltage protection")
	}
}

// output switches; a tripped protection keeps it off until it is cleared.
func (s *supply) output(on bool) error {
	if on && (s.ovpTripped || s.ocpTripped()) {
		return errConflict
	}
	s.switched(on, "command")
	return nil
}

// switched switches the output, by a command or by the key beside it.
func (s *supply) switched(on bool, why string) {
	s.m.change(s.c.Now(), func() {
		now := s.m.last
		switch {
		case !on:
			s.m.switchOff(now, why)
		case !s.m.src.on:
			s.m.src.on = true
			s.m.src.from, s.m.src.began = s.m.capV, now
			s.m.started = now
			s.m.events = append(s.m.events, OutputEvent{At: now, On: true, Volts: s.m.setV, LimitA: s.m.setA, Why: why})
			s.applyOn()
		}
	})
}

// applyOn lets the output rise from what the capacitor still holds.
func (s *supply) applyOn() {
	from := s.m.src.from
	s.apply()
	s.m.src.from = from
}

func (s *supply) ocpTripped() bool {
	s.m.now(s.c.Now())
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	return s.m.tripped
}

func (s *supply) isOn() bool {
	s.m.now(s.c.Now())
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	return s.m.src.on
}

// measure reads back over the window.
func (s *supply) measure(ctx context.Context) (volts, amps float64, err error) {
	start := s.c.Now()
	w := s.m.open(start, start.Add(s.o.Window))
	if err := s.c.Wait(ctx, nil, w.end); err != nil {
		s.m.drop(w)
		return 0, 0, err
	}
	s.m.done(w)
	return rounded(s.readV.of(w.mean(w.supply)), s.o.ReadVoltStep),
		rounded(s.readA.of(w.mean(w.amps)), s.o.ReadAmpStep), nil
}

// rounded gives the nearest step, and never less than nothing.
func rounded(v, step float64) float64 { return max(0, math.Round(v/step)*step) }

func (s *supply) addCommands() {
	setting := func(unit string, lo, hi func() float64, set func(float64) error) func(context.Context,
		[]string) error {
		return func(_ context.Context, args []string) error {
			if s.o.NeedsRemote && !s.remote {
				return errProtected
			}
			a, err := one(args)
			if err != nil {
				return err
			}
			v, err := number(a, unit, lo(), hi(), 0)
			if err != nil {
				return err
			}
			return set(v)
		}
	}
	value := func(get func() float64, max float64) func(context.Context, []string) (string, error) {
		return func(_ context.Context, args []string) (string, error) {
			v := get()
			if len(args) == 1 { // VOLT? MAX
				var err error
				if v, err = number(args[0], "", 0, max, 0); err != nil {
					return "", err
				}
			} else if err := none(args); err != nil {
				return "", err
			}
			return fmt.Sprintf("%.4f", v), nil
		}
	}
	zero := func() float64 { return 0 }
	changed := func(f func()) error {
		f()
		s.m.change(s.c.Now(), s.apply)
		return nil
	}
	s.add("[SOURce]:VOLTage[:LEVel][:IMMediate][:AMPLitude]", setting("V", zero, func() float64 {
		return s.o.MaxVolts
	}, func(v float64) error {
		return changed(func() { s.volts = rounded(v, s.o.VoltStep) })
	}), value(func() float64 { return s.volts }, s.o.MaxVolts))
	s.add("[SOURce]:CURRent[:LEVel][:IMMediate][:AMPLitude]", setting("A", zero, func() float64 {
		return s.o.MaxAmps
	}, func(v float64) error {
		return changed(func() { s.amps = rounded(v, s.o.AmpStep) })
	}), value(func() float64 { return s.amps }, s.o.MaxAmps))
	s.add("[SOURce]:VOLTage:PROTection[:LEVel]", setting("V", zero, func() float64 {
		return s.o.MaxVolts * 1.1
	}, func(v float64) error {
		return changed(func() { s.ovp = v })
	}), value(func() float64 { return s.ovp }, s.o.MaxVolts*1.1))
	s.add("[SOURce]:CURRent:PROTection[:LEVel]", setting("A", zero, func() float64 {
		return s.o.MaxAmps * 1.1
	}, func(v float64) error {
		s.ocp = v
		s.m.change(s.c.Now(), func() { s.m.ocpA = v })
		return nil
	}), value(func() float64 { return s.ocp }, s.o.MaxAmps*1.1))
	s.add("[SOURce]:VOLTage:PROTection:TRIPped", nil, s.flag(func() bool { return s.ovpTripped }))
	s.add("[SOURce]:CURRent:PROTection:TRIPped", nil, s.flag(s.ocpTripped))
	clear := func(_ context.Context, args []string) error {
		s.m.change(s.c.Now(), func() { s.m.tripped, s.ovpTripped = false, false })
		return none(args)
	}
	s.add("[SOURce]:VOLTage:PROTection:CLEar", clear, nil)
	s.add("[SOURce]:CURRent:PROTection:CLEar", clear, nil)
	s.add("OUTPut[:STATe]", func(_ context.Context, args []string) error {
		a, err := one(args)
		if err != nil {
			return err
		}
		on, err := boolean(a)
		if err != nil {
			return err
		}
		if s.o.NeedsRemote && !s.remote {
			return errProtected
		}
		return s.output(on)
	}, s.flag(s.isOn))
	s.add("MEASure[:SCALar]:VOLTage[:DC]", nil, func(ctx context.Context, args []string) (string, error) {
		v, _, err := s.measure(ctx)
		return fmt.Sprintf("%.3f", v), cmp.Or(none(args), err)
	})
	s.add("MEASure[:SCALar]:CURRent[:DC]", nil, func(ctx context.Context, args []string) (string, error) {
		_, i, err := s.measure(ctx)
		return fmt.Sprintf("%.4f", i), cmp.Or(none(args), err)
	})
	if s.o.Odd.Has(odd.Watchdog) {
		s.addWatchdog()
	}
	if !s.o.Odd.Has(odd.NoLimiting) {
		s.addLimiting()
	}
	remote := func(on bool) func(context.Context, []string) error {
		return func(_ context.Context, args []string) error {
			s.remote = on
			return none(args)
		}
	}
	s.add("SYSTem:REMote", remote(true), nil)
	s.add("SYSTem:LOCal", remote(false), nil)
}

// addLimiting: bit 1 is constant current, as supplies commonly have it (common
// practice, no source).
func (s *supply) addLimiting() {
	s.add("STATus:QUEStionable:CONDition", nil, func(_ context.Context, args []string) (string, error) {
		v := 0
		if s.m.now(s.c.Now()).limiting {
			v = 2
		}
		return fmt.Sprint(v), none(args)
	})
}

func (s *supply) flag(get func() bool) func(context.Context, []string) (string, error) {
	return func(_ context.Context, args []string) (string, error) { return onOff(get()), none(args) }
}
