// Package clock is the one source of time for capture, drivers, wire and rig.
//
// Wall is the machine's clock. Simulated is a discrete-event clock: each party
// (engine, each instrument of the rig) runs or waits, and when all wait and
// nothing is held, time jumps to the earliest deadline. Contexts only cancel;
// deadlines are times on the clock.
//
// A party must not block on another party in any way that the clock can't see:
// a channel, a sync.Mutex that is held over a Wait, a WaitGroup. Use a Gate, a
// Lock, or Outside for that.
package clock

import (
	"context"
	"errors"
	"time"
)

// ErrDeadline is returned by a wait whose time came before its gate opened.
var ErrDeadline = errors.New("deadline reached")

// ErrNoParty is returned by a wait on a simulated clock when all parties wait
// already: the caller was never counted. Start it with Go.
var ErrNoParty = errors.New("wait on a simulated clock by a goroutine that is no party of it")

// Clock tells time and waits.
type Clock interface {
	// Now is the time, with a monotonic reading as time.Now has it: a machine's clock that is
	// set meanwhile doesn't change how far two of it are apart.
	Now() time.Time
	// Wait returns nil when the gate opens, ErrDeadline at until, ctx.Err when
	// cancelled. With a nil gate it sleeps and returns nil at until. The zero
	// until is no deadline. An open gate comes before a deadline that has passed,
	// and a cancelled context before both.
	Wait(ctx context.Context, g *Gate, until time.Time) error
	// Open wakes the Wait on g, now or later. Any goroutine may call it.
	Open(g *Gate)
	// Hold keeps simulated time still: work that the clock can't see is under
	// way. Any goroutine may call it; release may be called twice.
	Hold() (release func())
	// Go runs f as a party: while it runs, simulated time stands still. Any
	// goroutine may call it.
	Go(f func())
	// Outside runs f while its caller, a party, is not counted: f may block on
	// what the clock can't see, and time goes on meanwhile.
	Outside(f func())
	// Simulated is true where time is not the machine's.
	Simulated() bool
}

// Gate is opened by one goroutine and waited on by one other. It is binary: an
// Open before the Wait is kept, two count as one. The zero Gate is ready. A
// Gate belongs to the first clock that it is used with and must not be copied.
type Gate struct {
	state gateState
}
