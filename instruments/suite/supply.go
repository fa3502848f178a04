package suite

import (
	"context"
	"errors"
	"math"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
)

func runSupply(t *testing.T, fresh Factory) {
	bg := context.Background()
	t.Run("set is read back", func(t *testing.T) {
		s := fresh(t)
		for _, x := range [][2]float64{{12, 0.1}, {3, 0.02}, {0, 0.5}} {
			if err := s.Supply.Set(bg, x[0], x[1]); err != nil {
				t.Fatal(err)
			}
			v, a, _ := s.Control.Settings()
			if math.Abs(v-x[0]) > 0.006 || math.Abs(a-x[1]) > 0.0006 {
				t.Errorf("asked for %v, set are %v V, %v A", x, v, a)
			}
		}
	})
	t.Run("not confirmed", func(t *testing.T) {
		s := fresh(t)
		s.Control.Ignore(true)
		if err := s.Supply.Set(bg, 12, 0.1); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("set: %v", err)
		}
		if err := s.Supply.On(bg); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("on: %v", err)
		}
		for _, x := range [][2]float64{{-1, 0.1}, {1e6, 0.1}, {math.NaN(), 0.1}, {12, 1e6}, {12, -1}, {12, 1e-7}} {
			if err := s.Supply.Set(bg, x[0], x[1]); !errors.Is(err, instruments.ErrNotSet) {
				t.Errorf("set %v: %v", x, err)
			}
		}
	})
	t.Run("silence leaves nothing set in doubt", func(t *testing.T) {
		s := fresh(t)
		s.Control.Silence(true)
		if err := s.in(t, func() error { return s.Supply.Set(bg, 12, 0.1) }); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("set: %v", err)
		}
		if err := s.in(t, func() error { return s.Supply.Off(bg) }); !errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("off: %v", err)
		}
	})
	t.Run("off twice, and when cancelled", func(t *testing.T) {
		s := fresh(t)
		ctx, cancel := context.WithCancel(bg)
		on(t, s)
		cancel()
		for range 2 {
			if err := s.Supply.Off(ctx); err != nil {
				t.Error(err)
			}
			isOff(t, s)
		}
	})
	t.Run("off meanwhile", func(t *testing.T) {
		s := fresh(t)
		on(t, s)
		offFromElsewhere(t, s)
	})
	t.Run("off is not held up by a reply that doesn't come", func(t *testing.T) {
		for _, later := range []time.Duration{0, time.Millisecond, 150 * time.Millisecond, 299 * time.Millisecond,
			310 * time.Millisecond} {
			s := fresh(t)
			on(t, s)
			began := s.Clock.Now()
			s.Control.Delay(10 * time.Second) // replies, not commands
			done := make(chan struct{}, 2)
			s.Clock.Go(func() {
				for range 3 { // others wait, too
					_, _ = s.Supply.Read(bg, instruments.Current)
				}
				done <- struct{}{}
			})
			s.Clock.Go(func() {
				_ = s.Clock.Wait(bg, nil, began.Add(later))
				_ = s.Supply.Off(bg)
				done <- struct{}{}
			})
			// One exchange of 300 ms, the gaps, and the command itself; a slow
			// instrument carries out first what it was sent before.
			_ = s.Clock.Wait(bg, nil, began.Add(later+300*time.Millisecond+100*time.Millisecond+3*s.Takes))
			isOff(t, s)
			s.Clock.Outside(func() { <-done; <-done })
			_ = s.Clock.Wait(bg, nil, began.Add(30*time.Second))
		}
	})
	t.Run("limiting", func(t *testing.T) {
		s := fresh(t)
		got, err := s.Supply.Limiting(bg)
		if err != nil || got {
			t.Errorf("limiting %v, %v", got, err)
		}
	})
	t.Run("port gone", func(t *testing.T) {
		s := fresh(t)
		s.Control.HangUp()
		if err := s.Supply.Set(bg, 5, 0.1); !errors.Is(err, instruments.ErrPortGone) ||
			!errors.Is(err, instruments.ErrNotSet) {
			t.Errorf("set: %v", err)
		}
		if err := s.Supply.Off(bg); !errors.Is(err, instruments.ErrPortGone) {
			t.Errorf("off: %v", err)
		}
	})
}

func on(t *testing.T, s Subject) {
	t.Helper()
	bg := context.Background()
	if err := s.Supply.Set(bg, 5, 0.1); err != nil {
		t.Fatal(err)
	}
	if err := s.Supply.On(bg); err != nil {
		t.Fatal(err)
	}
	if _, _, on := s.Control.Settings(); !on {
		t.Fatal("on, and it is off")
	}
}

func isOff(t *testing.T, s Subject) {
	t.Helper()
	if _, _, on := s.Control.Settings(); on {
		t.Error("the output is on")
	}
}

// offFromElsewhere reads and sets without a pause while others switch off.
func offFromElsewhere(t *testing.T, s Subject) {
	bg := context.Background()
	var offs, bad atomic.Int32
	all := make(chan struct{}, 4)
	for i := range 3 {
		s.Clock.Go(func() {
			defer func() { all <- struct{}{} }()
			_ = s.Clock.Wait(bg, nil, s.Clock.Now().Add(time.Duration(i*7)*time.Millisecond))
			began := s.Clock.Now()
			if err := s.Supply.Off(bg); err != nil {
				bad.Add(1)
			}
			if s.Clock.Now().Sub(began) < s.bound() {
				offs.Add(1)
			}
		})
	}
	s.Clock.Go(func() {
		defer func() { all <- struct{}{} }()
		for range 5 {
			_, _ = s.Supply.Read(bg, instruments.Current)
			_ = s.Supply.Set(bg, 3, 0.05)
		}
	})
	s.Clock.Outside(func() {
		for range 4 {
			<-all
		}
	})
	if offs.Load() != 3 || bad.Load() != 0 {
		t.Errorf("%d of 3 switched off in time, %d with an error", offs.Load(), bad.Load())
	}
	isOff(t, s)
}
