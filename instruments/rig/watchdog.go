package rig

import (
	"context"
	"fmt"
	"sync"
	"time"

	"sealworthy/instruments/clock"
)

// watchdog switches the output off when nothing was said for a while. Its command,
// OUTPut:WATChdog SECONDS, is invented: no standard has one.
type watchdog struct {
	mu    sync.Mutex
	after time.Duration // 0: it sleeps
	heard time.Time
	moved clock.Gate
}

// looksEvery is how often it looks whether the output is on.
const looksEvery = 500 * time.Millisecond

// hears notes that something was said.
func (w *watchdog) hears(c clock.Clock) {
	w.mu.Lock()
	w.heard = c.Now()
	w.mu.Unlock()
	c.Open(&w.moved)
}

func (w *watchdog) set(c clock.Clock, after time.Duration) {
	w.mu.Lock()
	w.after = after
	w.mu.Unlock()
	w.hears(c)
}

func (w *watchdog) due() (at time.Time, awake bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.heard.Add(w.after), w.after > 0
}

// watch switches off whenever it is due, until ctx ends.
func (s *supply) watch(ctx context.Context) {
	for ctx.Err() == nil {
		at, awake := s.dog.due()
		switch {
		case !awake:
			if s.c.Wait(ctx, &s.dog.moved, time.Time{}) != nil {
				return
			}
		case !s.isOn(): // it looks again: a command is heard before it's carried out
			_ = s.c.Wait(ctx, nil, s.c.Now().Add(looksEvery))
		case s.c.Now().Before(at):
			_ = s.c.Wait(ctx, &s.dog.moved, at) // it may have heard something meanwhile
		default:
			s.m.change(s.c.Now(), func() { s.m.switchOff(s.m.last, "watchdog") })
		}
	}
}

func (s *supply) addWatchdog() {
	s.before = func() { s.dog.hears(s.c) }
	s.add("OUTPut:WATChdog", func(_ context.Context, args []string) error {
		a, err := one(args)
		if err != nil {
			return err
		}
		const most = 3600
		v, err := number(a, "S", 0, most, 0)
		if err != nil {
			return err
		}
		s.dog.set(s.c, time.Duration(v*float64(time.Second)))
		return nil
	}, func(_ context.Context, args []string) (string, error) {
		s.dog.mu.Lock()
		defer s.dog.mu.Unlock()
		return fmt.Sprint(s.dog.after.Seconds()), none(args)
	})
}
