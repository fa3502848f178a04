package driver

import (
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

// Those who want the output off while it's being switched off get that answer; one who
// comes after the output was told to go on again has it switched off anew.
func TestSwitchingOffIsShared(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC))
	var u underway
	var calls atomic.Int32
	slow := errors.New("the slow one")
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
	go1("first", 0, 1, time.Second, slow)
	go1("joined", 100*time.Millisecond, 1, time.Second, nil)
	go1("on again", 200*time.Millisecond, 2, time.Second, nil)
	go1("joined that", 300*time.Millisecond, 2, time.Second, errors.New("never called"))
	want := map[string]string{"first": slow.Error(), "joined": slow.Error(), "on again": "", "joined that": ""}
	c.Outside(func() {
		for range want {
			a := <-answers
			if a.err != want[a.who] {
				t.Errorf("%s: got %q, want %q", a.who, a.err, want[a.who])
			}
		}
	})
	if calls.Load() != 2 {
		t.Errorf("switched off %d times, want 2", calls.Load())
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
