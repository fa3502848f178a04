package clock

import (
	"context"
	"sync"
	"time"
)

// gateState serves both clocks: Wall signals through wall, Simulated keeps open
// and waiter under its own mutex.
type gateState struct {
	once sync.Once
	wall chan struct{}

	open   bool
	waiter *waiter
}

func (s *gateState) signal() chan struct{} {
	s.once.Do(func() { s.wall = make(chan struct{}, 1) })
	return s.wall
}

// Wall is the machine's clock.
type Wall struct{}

var _ Clock = Wall{}

// Now is the machine's time.
func (Wall) Now() time.Time { return time.Now() }

// Wait waits for the gate, the time or the context.
func (Wall) Wait(ctx context.Context, g *Gate, until time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	var opened chan struct{}
	if g != nil {
		opened = g.state.signal()
		select {
		case <-opened:
			return nil
		default:
		}
	}
	var due <-chan time.Time
	if !until.IsZero() {
		d := time.Until(until)
		if d <= 0 {
			return reached(g)
		}
		t := time.NewTimer(d)
		defer t.Stop()
		due = t.C
	}
	select {
	case <-opened:
		return nil
	case <-due:
		return reached(g)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// reached is the answer when time is up: a sleep is done, a wait has failed.
func reached(g *Gate) error {
	if g == nil {
		return nil
	}
	return ErrDeadline
}

// Open wakes the Wait on g, now or later.
func (Wall) Open(g *Gate) {
	select {
	case g.state.signal() <- struct{}{}:
	default:
	}
}

// Hold does nothing: the machine's time can't be held.
func (Wall) Hold() (release func()) { return func() {} }

// Go starts f.
func (Wall) Go(f func()) { go f() }

// Outside calls f.
func (Wall) Outside(f func()) { f() }

// Simulated is false.
func (Wall) Simulated() bool { return false }
