package driver

import (
	"context"
	"errors"
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

// errBrokenOff is a switching off that ended in a panic.
var errBrokenOff = errors.New("switching off broke off")

// do calls off, or waits for the one under way, if the output wasn't told to go on
// since that one began: ons counts these. One that didn't find the output off is no
// answer to whoever came while it ran: none of its commands may have gone out since. He
// switches off himself, or waits for the next, which began after he came.
func (u *underway) do(c clock.Clock, ons uint64, off func(ons uint64) error) error {
	f, ended := u.enter(ons)
	if ended != nil {
		// Off is never given up; it ends at its own deadlines.
		if err := c.Wait(context.Background(), ended, time.Time{}); err == nil && f.err == nil {
			return nil
		}
		if f, ended = u.enter(ons); ended != nil {
			if err := c.Wait(context.Background(), ended, time.Time{}); err != nil {
				return err
			}
			return f.err
		}
	}
	return u.run(c, f, off)
}

// enter gives the switching off to wait for, with what opens at its end, or a new one.
func (u *underway) enter(ons uint64) (f *flight, ended *clock.Gate) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if f := u.now; f != nil && f.ons == ons {
		ended = new(clock.Gate)
		f.waiting = append(f.waiting, ended)
		return f, ended
	}
	u.now = &flight{ons: ons, err: errBrokenOff}
	return u.now, nil
}

// run lets go of those who wait, even though off panics: a later one would else wait for
// it for ever, and send nothing.
func (u *underway) run(c clock.Clock, f *flight, off func(ons uint64) error) error {
	defer func() {
		u.mu.Lock()
		if u.now == f {
			u.now = nil
		}
		waiting := f.waiting
		u.mu.Unlock()
		for _, g := range waiting {
			c.Open(g)
		}
	}()
	f.err = off(f.ons)
	return f.err
}
