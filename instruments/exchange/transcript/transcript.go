// Package transcript keeps what went over a port and plays it back in tests.
//
// Record wraps a real port. Playback is a port that expects exactly the bytes of
// a transcript: the first wrong byte is an error, and so is what is left over at
// Close.
package transcript

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Turn is one write and what came back before the next one.
type Turn struct {
	Sent string // bytes to the instrument
	Got  string // bytes from it; empty: none came
}

// Record notes all that goes over a port.
type Record struct {
	instruments.Port
	mu    sync.Mutex
	turns []Turn
}

// Write notes a turn.
func (r *Record) Write(ctx context.Context, p []byte) error {
	r.mu.Lock()
	r.turns = append(r.turns, Turn{Sent: string(p)})
	r.mu.Unlock()
	return r.Port.Write(ctx, p)
}

// ReadUntil notes what came.
func (r *Record) ReadUntil(ctx context.Context, p []byte, deadline time.Time) (int, error) {
	n, err := r.Port.ReadUntil(ctx, p, deadline)
	r.mu.Lock()
	defer r.mu.Unlock()
	if n > 0 {
		if len(r.turns) == 0 {
			r.turns = append(r.turns, Turn{})
		}
		r.turns[len(r.turns)-1].Got += string(p[:n])
	}
	return n, err
}

// Turns gives what was noted so far.
func (r *Record) Turns() []Turn {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]Turn{}, r.turns...)
}

// Playback plays a transcript. A read with nothing to hand out waits on the
// clock until its deadline.
type Playback struct {
	c     clock.Clock
	mu    sync.Mutex
	turns []Turn
	ready string
	err   error
}

var _ instruments.Port = (*Playback)(nil)

// NewPlayback plays turns on a clock.
func NewPlayback(c clock.Clock, turns ...Turn) *Playback {
	return &Playback{c: c, turns: turns}
}

// Write compares with the next turn.
func (p *Playback) Write(ctx context.Context, b []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.turns) == 0 {
		p.err = errors.Join(p.err, fmt.Errorf("sent %q after the end of the transcript", b))
		return nil
	}
	t := p.turns[0]
	p.turns = p.turns[1:]
	if t.Sent != string(b) {
		p.err = errors.Join(p.err, fmt.Errorf("sent %q, the transcript has %q", b, t.Sent))
	}
	p.ready += t.Got
	return nil
}

// ReadUntil hands out what the transcript answers.
func (p *Playback) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	p.mu.Lock()
	n := copy(b, p.ready)
	p.ready = p.ready[n:]
	p.mu.Unlock()
	if n > 0 {
		return n, nil
	}
	if err := p.c.Wait(ctx, nil, deadline); err != nil {
		return 0, err
	}
	return 0, clock.ErrDeadline
}

// Discard throws away what was not read.
func (p *Playback) Discard() { p.mu.Lock(); p.ready = ""; p.mu.Unlock() }

// Close tells what went wrong and what is left over.
func (p *Playback) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	err := p.err
	if len(p.turns) > 0 {
		err = errors.Join(err, fmt.Errorf("left over in the transcript: %q", p.turns))
	}
	if p.ready != "" {
		err = errors.Join(err, fmt.Errorf("never read: %q", p.ready))
	}
	p.err, p.turns, p.ready = nil, nil, ""
	return err
}
