// Package clock is the one source of time for capture, drivers, wire and rig.
//
// Wall is the machine's clock. Simulated is a discrete-event clock: each party
// (engine, each instrument of the rig) runs or waits, and when all wait and
// nothing is held, time jumps to the earliest deadline. Contexts only cancel;
// deadlines are times on the clock.
package clock

import (
	"context"
	"errors"
	"time"
)

// ErrDeadline is returned by a wait whose time came before its gate opened.
var ErrDeadline = errors.New("deadline reached")

// Clock tells time and waits.
type Clock interface {
	Now() time.Time
	// Wait returns nil when the gate opens, ErrDeadline at until, ctx.Err when
	// cancelled. With a nil gate it sleeps and returns nil at until.
	Wait(ctx context.Context, g *Gate, until time.Time) error
	// Open wakes the Wait on g, now or later.
	Open(g *Gate)
	// Hold keeps simulated time still: work that the clock can't see is under way.
	Hold() (release func())
	// Go runs f as a party: while it runs, simulated time stands still.
	Go(f func())
	// Simulated is true where time is not the machine's.
	Simulated() bool
}

// Gate is opened by one goroutine and waited on by one other. It is binary: an
// Open before the Wait is kept, two count as one. The zero Gate is ready.
type Gate struct {
	state gateState
}

type gateState struct{}
