package driver

import (
	"context"
	"fmt"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// told is what a supply was told and confirmed.
type told struct {
	mu          sync.Mutex
	volts, amps float64 // as read back; 0 with amps 0: nothing yet
	timesOn     uint64
	knownOff    bool
}

func (t *told) set(volts, amps float64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.volts, t.amps = volts, amps
}

func (t *told) settings() (volts, amps float64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.volts, t.amps
}

// on is called before the output is told to go on.
func (t *told) on() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.timesOn++
	t.knownOff = false
}

// ons counts the times that it was told to go on.
func (t *told) ons() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.timesOn
}

// off: the output was found off. It stands unless the output was told to go on
// since ons was taken.
func (t *told) off(ons uint64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.knownOff = t.timesOn == ons
}

// foundOn: the output is on, whoever switched it on.
func (t *told) foundOn() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.knownOff = false
}

// KnownOff is true where the output was confirmed to be off and wasn't told to go
// on since.
func (s *Supply) KnownOff() bool {
	s.out.mu.Lock()
	defer s.out.mu.Unlock()
	return s.out.knownOff
}

// How long Off may take: a pending exchange, and this many commands: those of its
// tries, with what brings the line into step before each.
const (
	pendingOff  = 350 * time.Millisecond
	commandsOff = offTries * 5
)

// OffWithin is how long Off may take, by how slow the supply has shown itself to be.
func (s *Supply) OffWithin() time.Duration {
	return pendingOff + commandsOff*s.proto.Shown()
}

// Settings asks what the supply is set to.
func (s *Supply) Settings(ctx context.Context) (volts, limitAmps float64, err error) {
	const op = "what is it set to?"
	for _, x := range []struct {
		pt *profile.Point
		to *float64
	}{{&s.s.GetVolts, &volts}, {&s.s.GetAmps, &limitAmps}} {
		a, err := s.proto.Ask(ctx, op, x.pt, s.args(profile.Args{}), false)
		if err != nil {
			return 0, 0, err
		}
		if a.Number.Mark != Finite {
			s.proto.Doubt()
			return 0, 0, fmt.Errorf("%s: %s: %w: %q", s.name, op, instruments.ErrGarbled, a.Raw)
		}
		*x.to = a.Number.Value
	}
	return volts, limitAmps, nil
}

// watchdog sets after how long without a word from here the supply switches its
// output off by itself, where it can. It covers what no program can: to be killed
// outright, and a cable that is pulled. It is set before the output goes on and read
// back; one that isn't confirmed keeps the output off.
func (s *Supply) watchdog(ctx context.Context) error {
	if !s.s.Watchdog.Given() {
		return nil
	}
	const op = "set the watchdog"
	if err := s.proto.Tell(ctx, op, &s.s.Watchdog, s.args(profile.Args{Seconds: s.s.WatchdogS}), false); err != nil {
		return notSet(err)
	}
	if err := s.proto.Check(ctx, op); err != nil {
		return notSet(err)
	}
	const stepS = 1
	return s.readBack(ctx, "watchdog", &s.s.GetWatchdog, s.s.WatchdogS, stepS, "s")
}

// LimitStep is the step in which the limit goes, A.
func (s *Supply) LimitStep() float64 { return s.s.StepAmps }

// VoltStep is the step in which the voltage is set, V.
func (s *Supply) VoltStep() float64 { return s.s.StepVolts }

// A supply holds back where its voltage sags while most of its limit flows: at a
// few milliamperes the limit in force may well lie below the one that was set
// (common practice, no source).
const mostOfTheLimit = 0.7

// heldBack tells constant current from the read-back and the settings.
func (s *Supply) heldBack(ctx context.Context) (bool, error) {
	i, err := s.Read(ctx, instruments.Current)
	if err != nil {
		return false, err
	}
	v, err := s.Read(ctx, instruments.Voltage)
	if err != nil {
		return false, err
	}
	volts, amps := s.out.settings()
	nowA, gotA := i.Float()
	nowV, gotV := v.Float()
	if !gotA || !gotV {
		return false,
			fmt.Errorf("%s: %w: its read-back shows no value, and nothing else tells constant current", s.name,
				instruments.ErrGarbled)
	}
	set := s.profile.Describe().SetAccuracy
	sags := nowV < volts-set.HalfWidth(volts)-v.HalfWidth-s.s.StepVolts
	return amps > 0 && sags && nowA+i.HalfWidth >= mostOfTheLimit*amps, nil
}

// coarseA is the step of a limit above which it is worth a word, A.
const coarseA = 0.0015

// Notes say what this supply does without, and what it does by itself.
func (s *Supply) Notes() []string {
	var out []string
	if !s.s.Limiting.Given() {
		out = append(out,
			"The supply can't be asked whether it holds the current back: that is told from the voltage "+
				"and current that it reads back.")
	}
	if s.s.StepAmps > coarseA {
		out = append(out, fmt.Sprintf("The supply's limit goes in steps of %.0f mA: the limit in force may be up to "+
			"that much above the one asked for.",
			1e3*s.s.StepAmps))
	}
	if s.s.Watchdog.Given() {
		out = append(out,
			fmt.Sprintf("The supply switches its output off by itself when nothing is said to it for %g s.",
				s.s.WatchdogS))
	}
	return out
}
