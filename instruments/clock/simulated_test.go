package clock_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

var start = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

var background = context.Background()

func TestSimulatedJumpsToTheEarliestDeadline(t *testing.T) {
	c := clock.NewSimulated(start)
	var order []string
	var done clock.Gate
	for _, d := range []time.Duration{3, 1, 2} {
		c.Go(func() {
			if err := c.Wait(background, nil, start.Add(d*time.Hour)); err != nil {
				t.Error(err)
			}
			order = append(order, c.Now().Sub(start).String())
			if d == 3 {
				c.Open(&done)
			}
		})
	}
	if err := c.Wait(background, &done, time.Time{}); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(order); got != "[1h0m0s 2h0m0s 3h0m0s]" {
		t.Errorf("order %s", got)
	}
}

func TestSameDeadlineRunsInOrderOneAtATime(t *testing.T) {
	for range 200 {
		c := clock.NewSimulated(start)
		var order []int
		var running atomic.Int32
		at := start.Add(time.Second)
		for n := range 5 {
			var ready clock.Gate
			c.Go(func() {
				c.Open(&ready)
				c.Wait(background, nil, at)
				if running.Add(1) != 1 {
					t.Error("two parties run at once")
				}
				order = append(order, n)
				running.Add(-1)
			})
			c.Wait(background, &ready, time.Time{})
			// The party is on its way to its wait: let it get there.
			c.Wait(background, nil, c.Now().Add(time.Millisecond))
		}
		c.Wait(background, nil, at.Add(1))
		if fmt.Sprint(order) != "[0 1 2 3 4]" {
			t.Fatalf("order %v", order)
		}
	}
}

// clocks runs a test of what both clocks promise.
func clocks(t *testing.T, f func(t *testing.T, c clock.Clock)) {
	t.Run("wall", func(t *testing.T) { f(t, clock.Wall{}) })
	t.Run("simulated", func(t *testing.T) { f(t, clock.NewSimulated(start)) })
}

func TestWait(t *testing.T) {
	clocks(t, func(t *testing.T, c clock.Clock) {
		soon := func() time.Time { return c.Now().Add(2 * time.Millisecond) }
		past := c.Now().Add(-time.Hour)
		cancelled, cancel := context.WithCancel(background)
		cancel()
		var g clock.Gate
		if err := c.Wait(background, &g, soon()); !errors.Is(err, clock.ErrDeadline) {
			t.Errorf("closed gate: %v", err)
		}
		if err := c.Wait(background, nil, soon()); err != nil {
			t.Errorf("sleep: %v", err)
		}
		if err := c.Wait(background, nil, past); err != nil {
			t.Errorf("sleep till a time that has passed: %v", err)
		}
		c.Open(&g)
		c.Open(&g)
		if err := c.Wait(background, &g, past); err != nil {
			t.Errorf("gate that was opened before, deadline that has passed: %v", err)
		}
		if err := c.Wait(background, &g, past); !errors.Is(err, clock.ErrDeadline) {
			t.Errorf("two openings must count as one: %v", err)
		}
		c.Open(&g)
		if err := c.Wait(cancelled, &g, time.Time{}); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled before: %v", err)
		}
		if err := c.Wait(background, &g, time.Time{}); err != nil {
			t.Errorf("a cancelled wait must leave the gate open: %v", err)
		}
		ctx, cancel := context.WithCancel(background)
		began := c.Now()
		c.Go(func() {
			c.Wait(background, nil, began.Add(time.Millisecond))
			cancel()
		})
		if err := c.Wait(ctx, &g, time.Time{}); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled in the wait: %v", err)
		}
		c.Go(func() { c.Open(&g) })
		if err := c.Wait(background, &g, c.Now().Add(time.Hour)); err != nil {
			t.Errorf("opened in the wait: %v", err)
		}
	})
}

// A cancelled wait ends at the moment of cancelling, not at a later deadline.
func TestCancelTakesNoSimulatedTime(t *testing.T) {
	for range 300 {
		c := clock.NewSimulated(start)
		ctx, cancel := context.WithCancel(background)
		ended := make(chan time.Time, 1)
		c.Go(func() {
			c.Wait(ctx, nil, start.Add(time.Hour))
			ended <- c.Now()
		})
		c.Wait(background, nil, start.Add(time.Second))
		cancel()
		c.Wait(background, nil, start.Add(time.Minute))
		if at := <-ended; !at.Equal(start.Add(time.Second)) {
			t.Fatalf("ended %v after the start", at.Sub(start))
		}
	}
}

func TestHoldKeepsTimeStill(t *testing.T) {
	c := clock.NewSimulated(start)
	release := c.Hold()
	woke := make(chan struct{})
	var g, tick clock.Gate
	c.Go(func() {
		c.Wait(background, nil, start.Add(time.Second))
		close(woke)
	})
	// Parties that a gate wakes still run while time is held.
	c.Go(func() { c.Wait(background, &g, time.Time{}); c.Open(&tick) })
	c.Open(&g)
	if err := c.Wait(background, &tick, start.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	select {
	case <-woke:
		t.Fatal("time went on while it was held")
	default:
	}
	if !c.Now().Equal(start) {
		t.Fatalf("held, and it is %v", c.Now())
	}
	release()
	release() // twice is once
	c.Wait(background, nil, start.Add(time.Minute))
	<-woke
}

func TestStuckIsSeenAndEnds(t *testing.T) {
	c := clock.NewSimulated(start)
	var g clock.Gate
	var done sync.WaitGroup
	done.Add(1)
	c.Go(func() { defer done.Done(); c.Wait(background, &g, time.Time{}) })
	if c.Stuck() {
		t.Error("its caller runs, and it calls itself stuck")
	}
	c.Outside(func() {
		for !c.Stuck() {
			clock.Wall{}.Wait(background, nil, time.Now().Add(time.Millisecond))
		}
		c.Open(&g) // from outside: on it goes
		done.Wait()
	})
	if c.Stuck() {
		t.Error("nobody waits, and it calls itself stuck")
	}
}

func TestWaitByAStrangerIsRefused(t *testing.T) {
	c := clock.NewSimulated(start)
	c.Outside(func() {
		if err := c.Wait(background, nil, start.Add(time.Hour)); !errors.Is(err, clock.ErrNoParty) {
			t.Errorf("got %v", err)
		}
	})
	if err := c.Wait(background, nil, start.Add(time.Hour)); err != nil {
		t.Errorf("and the party itself: %v", err)
	}
}

func TestPaceBoundsSimulatedTime(t *testing.T) {
	c := clock.NewSimulated(start)
	c.Pace(100)
	wall := time.Now()
	for range 40 {
		c.Wait(background, nil, c.Now().Add(100*time.Millisecond))
	}
	// 4 s at most 100 times as fast take 40 ms; a late timer makes it more, and a
	// jump may come a grain of 1 ms early.
	if got := time.Since(wall); got < 38*time.Millisecond {
		t.Errorf("4 s went by in %v", got)
	}
	c.Pace(1)
	var g clock.Gate
	go func() { // a stranger raises the pace while all wait
		time.Sleep(5 * time.Millisecond)
		c.Pace(0)
	}()
	if err := c.Wait(background, &g, c.Now().Add(24*time.Hour)); !errors.Is(err, clock.ErrDeadline) {
		t.Error(err)
	}
}

func TestLockIsFairAndEndsAtItsDeadline(t *testing.T) {
	clocks(t, func(t *testing.T, c clock.Clock) {
		var l clock.Lock
		if err := l.Acquire(background, c, time.Time{}); err != nil {
			t.Fatal(err)
		}
		if err := l.Acquire(background, c, c.Now().Add(3*time.Millisecond)); !errors.Is(err, clock.ErrDeadline) {
			t.Errorf("second: %v", err)
		}
		var done clock.Gate
		c.Go(func() {
			if err := l.Acquire(background, c, time.Time{}); err != nil {
				t.Error(err)
			}
			l.Release(c)
			c.Open(&done)
		})
		c.Wait(background, nil, c.Now().Add(2*time.Millisecond))
		l.Release(c)
		if err := c.Wait(background, &done, c.Now().Add(10*time.Second)); err != nil {
			t.Error(err)
		}
	})
}

// Many parties, gates from outside, holds, cancels: nothing is lost and time
// never goes back. Worth most under -race.
func TestStress(t *testing.T) {
	c := clock.NewSimulated(start)
	const parties, rounds = 8, 300
	gates := make([]clock.Gate, parties)
	var outside, inside sync.WaitGroup
	var last atomic.Int64
	stop := make(chan struct{})
	for n := range 2 {
		outside.Go(func() {
			r := rand.New(rand.NewPCG(1, uint64(n)))
			for {
				select {
				case <-stop:
					return
				default:
				}
				release := c.Hold()
				c.Open(&gates[r.IntN(parties)])
				release()
			}
		})
	}
	for n := range parties {
		inside.Add(1)
		c.Go(func() {
			defer inside.Done()
			r := rand.New(rand.NewPCG(2, uint64(n)))
			for range rounds {
				ctx, cancel := context.WithCancel(background)
				if r.IntN(4) == 0 {
					go cancel()
				}
				err := c.Wait(ctx, &gates[n], c.Now().Add(time.Duration(r.IntN(1000))*time.Microsecond))
				if err != nil && !errors.Is(err, clock.ErrDeadline) && !errors.Is(err, context.Canceled) {
					t.Error(err)
				}
				cancel()
				now := c.Now().UnixNano()
				if was := last.Swap(now); was > now {
					t.Errorf("time went back by %d ns", was-now)
				}
			}
		})
	}
	c.Outside(inside.Wait)
	close(stop)
	outside.Wait()
}
