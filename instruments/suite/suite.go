// Package suite is the contract of package instruments as tests. Run puts one
// driver through it; every driver here does so, and one written elsewhere can.
//
// A Subject is a fresh driver over an instrument that the test controls, in
// simulated time. Each test gets its own.
package suite

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Control is the instrument's side, in the hands of a test. Values are SI.
type Control interface {
	// True sets what there is to measure.
	True(volts, amps float64)
	// Overload makes the meter show an overload.
	Overload(on bool)
	// Settings tells what the supply is set to.
	Settings() (volts, amps float64, on bool)
	// Closed tells which relays are closed, in rising order.
	Closed() []int
	// Ignore makes it accept settings without obeying.
	Ignore(on bool)
	// Silence makes it answer nothing.
	Silence(on bool)
	// Garble spoils each reply so that it isn't well formed.
	Garble(on bool)
	// Delay makes each reply come so much later.
	Delay(d time.Duration)
	// HangUp ends the line.
	HangUp()
}

// Subject is a driver under test: one of Meter, Supply and Relays.
type Subject struct {
	Clock   clock.Clock
	Control Control
	Meter   instruments.Meter
	Supply  instruments.Supply
	Relays  instruments.Relays
	// Timeout is the longest wait for one reply.
	Timeout time.Duration
	// Takes is how long the instrument takes for each command; 0: no time.
	Takes time.Duration
	// Sends is true for a meter that sends by itself.
	Sends bool
}

// Factory makes a fresh Subject; it cleans up through t.
type Factory func(t *testing.T) Subject

// Run puts a driver through the contract.
func Run(t *testing.T, fresh Factory) {
	s := fresh(t)
	switch {
	case s.Supply != nil:
		runReads(t, fresh)
		runSupply(t, fresh)
	case s.Meter != nil:
		runReads(t, fresh)
		runMeter(t, fresh)
	case s.Relays != nil:
		runRelays(t, fresh)
	default:
		t.Fatal("the factory made no driver")
	}
}

func (s Subject) read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	if s.Supply != nil {
		return s.Supply.Read(ctx, q)
	}
	return s.Meter.Read(ctx, q)
}

// bound is how long one call may take: it may bring the line into step, switch
// the quantity and ask, each within the timeout, and wait to settle.
func (s Subject) bound() time.Duration { return 8*s.Timeout + time.Second + 20*s.Takes }

// in runs f and checks that it took no longer than the bound.
func (s Subject) in(t *testing.T, f func() error) error {
	t.Helper()
	began := s.Clock.Now()
	err := f()
	if took := s.Clock.Now().Sub(began); took > s.bound() {
		t.Errorf("took %v, the bound is %v", took, s.bound())
	}
	return err
}

func (s Subject) is(t *testing.T, r instruments.Reading, want float64) {
	t.Helper()
	v, ok := r.Float()
	if !ok || math.Abs(v-want) > 1e-6+0.002*math.Abs(want) {
		t.Errorf("read %+v (%v), want %v", r, v, want)
	}
}

func runReads(t *testing.T, fresh Factory) {
	bg := context.Background()
	t.Run("fresh reading", func(t *testing.T) {
		s := fresh(t)
		for _, amps := range []float64{0.01, 0.02, 0.038} {
			s.Control.True(5, amps)
			asked := s.Clock.Now()
			r, err := s.read(bg, instruments.Current)
			if err != nil {
				t.Fatal(err)
			}
			s.is(t, r, amps)
			switch {
			case r.Unit != "A" || r.Quantity != instruments.Current || r.Instrument == "" || r.Raw == "":
				t.Errorf("reading %+v", r)
			case !(r.HalfWidth > 0) || r.Range == "" || r.Window <= 0:
				t.Errorf("a reading needs half-width, range and window: %+v", r)
			case r.At.Before(asked) || r.At.After(s.Clock.Now()):
				t.Errorf("at %v, asked at %v, now %v", r.At, asked, s.Clock.Now())
			case r.Latency < 0 || s.Sends && r.At.Add(-r.Window).Before(asked):
				t.Errorf("latency %v, window from %v, asked at %v", r.Latency, r.At.Add(-r.Window), asked)
			}
		}
	})
	t.Run("silence is an error by the deadline", func(t *testing.T) {
		s := fresh(t)
		s.Control.Silence(true)
		err := s.in(t, func() error { _, err := s.read(bg, instruments.Current); return err })
		if !errors.Is(err, instruments.ErrNoReply) {
			t.Errorf("silence: %v", err)
		}
	})
	t.Run("garbled is an error, then all is well", func(t *testing.T) {
		s := fresh(t)
		s.Control.True(5, 0.02)
		s.Control.Garble(true)
		for range 3 {
			err := s.in(t, func() error { _, err := s.read(bg, instruments.Current); return err })
			if err == nil {
				t.Fatal("a garbled reply became a reading")
			}
		}
		s.Control.Garble(false)
		eventually(t, s, 0.02)
	})
	t.Run("stale is never handed out", func(t *testing.T) {
		for part := 1; part <= 6; part++ {
			s := fresh(t)
			s.Control.True(5, 0.011)
			if s.Sends { // what it sent before piles up
				_ = s.Clock.Wait(bg, nil, s.Clock.Now().Add(time.Duration(part)*s.Timeout/3))
				s.Control.True(5, 0.033)
				eventually(t, s, 0.033)
				continue
			}
			s.Control.Delay(s.Timeout * time.Duration(part) / 2)
			_, _ = s.read(bg, instruments.Current) // times out or not
			s.Control.Delay(0)
			s.Control.True(5, 0.033)
			eventually(t, s, 0.033)
		}
	})
	t.Run("port gone", func(t *testing.T) {
		s := fresh(t)
		s.Control.HangUp()
		for range 2 {
			if _, err := s.read(bg, instruments.Current); !errors.Is(err, instruments.ErrPortGone) {
				t.Errorf("hung up: %v", err)
			}
		}
	})
	t.Run("cancelled", func(t *testing.T) {
		s := fresh(t)
		ctx, cancel := context.WithCancel(bg)
		cancel()
		err := s.in(t, func() error { _, err := s.read(ctx, instruments.Current); return err })
		if !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled: %v", err)
		}
		s.Control.True(5, 0.02)
		eventually(t, s, 0.02)
	})
}

// eventually reads until a value comes; errors are allowed a few times, another value never.
func eventually(t *testing.T, s Subject, want float64) {
	t.Helper()
	var last error
	for range 8 {
		r, err := s.read(context.Background(), instruments.Current)
		if err == nil {
			s.is(t, r, want)
			return
		}
		last = err
	}
	t.Errorf("no reading any more: %v", last)
}

func runMeter(t *testing.T, fresh Factory) {
	t.Run("overload is no value", func(t *testing.T) {
		s := fresh(t)
		s.Control.Overload(true)
		r, err := s.Meter.Read(context.Background(), instruments.Current)
		if err != nil || r.Status != instruments.Overload || r.Value != nil {
			t.Errorf("overload: %+v, %v", r, err)
		}
		if _, ok := r.Float(); ok {
			t.Error("an overload has a value")
		}
	})
}

func runRelays(t *testing.T, fresh Factory) {
	bg := context.Background()
	t.Run("exactly these are closed", func(t *testing.T) {
		s := fresh(t)
		for _, want := range [][]int{{1, 3}, {3, 4}, {}, {2}, {2, 5, 1}} {
			if err := s.Relays.Close(bg, want...); err != nil {
				t.Fatal(err)
			}
			sorted := slices.Clone(want)
			slices.Sort(sorted)
			if got := s.Control.Closed(); !slices.Equal(got, sorted) {
				t.Errorf("asked for %v, closed are %v", want, got)
			}
		}
	})
	t.Run("not confirmed", func(t *testing.T) {
		s := fresh(t)
		s.Control.Ignore(true)
		if err := s.Relays.Close(bg, 1); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("ignored: %v", err)
		}
		if err := s.Relays.Close(bg, 5000); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("no such channel: %v", err)
		}
	})
	t.Run("silence, garbled, gone", func(t *testing.T) {
		s := fresh(t)
		s.Control.Silence(true)
		if err := s.in(t, func() error { return s.Relays.Close(bg, 1) }); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("silence: %v", err)
		}
		s.Control.Silence(false)
		s.Control.Garble(true)
		if err := s.in(t, func() error { return s.Relays.Close(bg, 1) }); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("garbled: %v", err)
		}
		s.Control.HangUp()
		if err := s.Relays.Close(bg, 1); !errors.Is(err, instruments.ErrPortGone) {
			t.Errorf("hung up: %v", err)
		}
	})
}
