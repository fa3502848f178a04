package driver

import (
	"context"
	"sync"
	"time"

	"sealworthy/instruments/clock"
)

// underway is the switching off that goes on, for those who want the same.
type underway struct {
	mu  sync.Mutex
	now *flight
}

// flight is one switching off. Those who wait get its answer.
type flight struct {
	ons     uint64 // how often the output had been told to go on before it
	waiting []*clock.Gate
	err     error
}

// do calls off, or waits for the one under way, if the output wasn't told to go on
// since that one began: ons counts these.
func (u *underway) do(c clock.Clock, ons uint64, off func(ons uint64) error) error {
	u.mu.Lock()
	if f := u.now; f != nil && f.ons == ons {
		g := new(clock.Gate)
		f.waiting = append(f.waiting, g)
		u.mu.Unlock()
		// Off is never given up; it ends at its own deadlines.
		if err := c.Wait(context.Background(), g, time.Time{}); err != nil {
			return err
		}
		return f.err
	}
	f := &flight{ons: ons}
	u.now = f
	u.mu.Unlock()

	f.err = off(ons)

	u.mu.Lock()
	if u.now == f {
		u.now = nil
	}
	waiting := f.waiting
	u.mu.Unlock()
	for _, g := range waiting {
		c.Open(g)
	}
	return f.err
}
