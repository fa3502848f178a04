//go:build unix

package main

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/clock"
)

// quickClock is the clock of a test's bench and of its session: at most ten times as fast as the machine's while nobody
// is asked, and twice as fast as hands are while somebody is. On a busy machine it runs slower and nothing comes late:
// it stands still while any party of it is at work. The session takes it for the machine's, and does all that it does
// by that.
type quickClock struct {
	*simulated
	times *atomic.Int64 // as fast as the machine's
}

type simulated = clock.Simulated

// Times as fast as the machine's clock, and how far it goes at once.
const (
	whileMeasured = 10
	whileAsked    = 2
	quickTick     = 20 * time.Millisecond
)

func newQuickClock(t *testing.T) quickClock {
	made := make(chan quickClock)
	ctx, over := context.WithCancel(context.Background())
	t.Cleanup(over)
	go func() { // who makes it is a party of it: while it sleeps, time stands still
		c := quickClock{clock.NewSimulated(time.Now()), new(atomic.Int64)}
		c.times.Store(whileMeasured)
		made <- c
		for c.Wait(ctx, nil, c.Now().Add(quickTick)) == nil {
			time.Sleep(quickTick / time.Duration(c.times.Load()))
		}
	}()
	return <-made
}

// Simulated implements clock.Clock.
func (quickClock) Simulated() bool { return false }

var _ session.Face = quickClock{}

// Tell implements session.Face.
func (c quickClock) Tell(e session.Event) {
	switch e.What {
	case session.Asked:
		c.times.Store(whileAsked)
	case session.Answered, session.Withdrawn:
		c.times.Store(whileMeasured)
	}
}

// quickWork does all tests as a party of that clock.
type quickWork struct {
	*pageWork
	c quickClock
}

// Do implements page.Work.
func (q quickWork) Do(ctx context.Context, o page.Order, d *session.Desk, g *capture.Guard) (r page.Result) {
	done := make(chan struct{})
	q.c.Go(func() {
		defer close(done)
		r = q.pageWork.Do(ctx, o, d, g)
	})
	<-done
	return r
}
