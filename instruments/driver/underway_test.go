package driver

import (
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

// Those who want the output off while it's being switched off get that answer, if it's
// off; one who comes after the output was told to go on again has it switched off anew.
func TestSwitchingOffIsShared(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC))
	var u underway
	var calls atomic.Int32
	failed := errors.New("no answer")
	type answer struct{ who, err string }
	answers := make(chan answer, 4)
	go1 := func(who string, after time.Duration, ons uint64, takes time.Duration, err error) {
		c.Go(func() {
			start := time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC)
			_ = c.Wait(t.Context(), nil, start.Add(after))
			got := u.do(c, ons, func(uint64) error {
				calls.Add(1)
				_ = c.Wait(t.Context(), nil, c.Now().Add(takes))
				return err
			})
			answers <- answer{who, errText(got)}
		})
	}
	never := errors.New("never called")
	go1("first", 0, 1, time.Second, nil)
	go1("joined", 100*time.Millisecond, 1, time.Second, never)
	go1("on again", 200*time.Millisecond, 2, time.Second, nil)
	go1("joined that", 300*time.Millisecond, 2, time.Second, never)
	// One that found nothing out is no answer to who came while it ran: the first of
	// them tries anew, and what comes of that holds for the others.
	go1("fails", 5*time.Second, 3, time.Second, failed)
	go1("tries anew", 5100*time.Millisecond, 3, time.Second, nil)
	go1("tries anew, too", 5200*time.Millisecond, 3, time.Second, nil)
	want := map[string]string{"first": "", "joined": "", "on again": "", "joined that": "",
		"fails": failed.Error(), "tries anew": "", "tries anew, too": ""}
	c.Outside(func() {
		for range want {
			a := <-answers
			if a.err != want[a.who] {
				t.Errorf("%s: got %q, want %q", a.who, a.err, want[a.who])
			}
		}
	})
	if calls.Load() != 4 {
		t.Errorf("switched off %d times, want 4", calls.Load())
	}
}

// A switching off that panics holds nobody up: who waited for it, and who comes later,
// switch off.
func TestSwitchingOffThatPanics(t *testing.T) {
	start := time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC)
	c := clock.NewSimulated(start)
	var u underway
	done := make(chan any, 3)
	go1 := func(after time.Duration, off func() error) {
		c.Go(func() {
			defer func() {
				if p := recover(); p != nil {
					done <- p
				}
			}()
			_ = c.Wait(t.Context(), nil, start.Add(after))
			done <- u.do(c, 0, func(uint64) error { return off() })
		})
	}
	var calls atomic.Int32
	go1(0, func() error {
		_ = c.Wait(t.Context(), nil, start.Add(time.Second))
		panic("a broken driver")
	})
	for _, after := range []time.Duration{100 * time.Millisecond, 2 * time.Second} {
		go1(after, func() error { calls.Add(1); return nil })
	}
	c.Outside(func() {
		for range 3 {
			select {
			case x := <-done:
				if x != nil && x != "a broken driver" {
					t.Errorf("got %v", x)
				}
			case <-time.After(10 * time.Second):
				t.Error("somebody waits for the one that panicked")
				return
			}
		}
	})
	if calls.Load() != 2 {
		t.Errorf("switched off %d times after the panic, want 2", calls.Load())
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
