package clock

import (
	"context"
	"sync"
	"time"
)

// Lock is a mutex that a party may hold over a Wait: those who want it wait on
// the clock, so simulated time goes on. First come, first served. The zero Lock
// is free.
type Lock struct {
	mu    sync.Mutex
	taken bool
	queue []*Gate
}

// Acquire takes the lock. It returns ErrDeadline at until (zero: no deadline)
// and ctx.Err when cancelled; then the lock is not held.
func (l *Lock) Acquire(ctx context.Context, c Clock, until time.Time) error {
	l.mu.Lock()
	if !l.taken {
		l.taken = true
		l.mu.Unlock()
		return nil
	}
	g := new(Gate)
	l.queue = append(l.queue, g)
	l.mu.Unlock()
	err := c.Wait(ctx, g, until)
	if err == nil {
		return nil // Release handed it over
	}
	l.mu.Lock()
	for i, q := range l.queue {
		if q == g {
			l.queue = append(l.queue[:i], l.queue[i+1:]...)
			l.mu.Unlock()
			return err
		}
	}
	l.mu.Unlock()
	// It was handed over while the wait ended: pass it on.
	l.Release(c)
	return err
}

// Release gives the lock to who waits longest.
func (l *Lock) Release(c Clock) {
	l.mu.Lock()
	if len(l.queue) == 0 {
		l.taken = false
		l.mu.Unlock()
		return
	}
	g := l.queue[0]
	l.queue = l.queue[1:]
	l.mu.Unlock()
	c.Open(g)
}
