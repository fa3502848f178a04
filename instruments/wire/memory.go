package wire

import (
	"context"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Memory is one end of a line in memory. Bytes arrive at once.
type Memory struct {
	name  string
	inbox inbox
	peer  *Memory
	once  sync.Once
}

var _ instruments.Port = (*Memory)(nil)

// Pair returns the two ends of a line called name.
func Pair(c clock.Clock, name string) (a, b *Memory) {
	a, b = &Memory{name: name, inbox: inbox{c: c}}, &Memory{name: name, inbox: inbox{c: c}}
	a.peer, b.peer = b, a
	return a, b
}

// Write hands b to the other end.
func (m *Memory) Write(ctx context.Context, b []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := m.inbox.ended(); err != nil {
		return err
	}
	if len(b) > 0 {
		m.peer.inbox.put(b)
	}
	return nil
}

// ReadUntil returns as soon as at least one byte is there.
func (m *Memory) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	return m.inbox.readUntil(ctx, b, deadline)
}

// ReadStamped is ReadUntil with the time at which the bytes came.
func (m *Memory) ReadStamped(ctx context.Context, b []byte, deadline time.Time) (int, time.Time, error) {
	return m.inbox.readStamped(ctx, b, deadline)
}

// Discard throws away what has arrived and was not read.
func (m *Memory) Discard() { m.inbox.discard() }

// Close ends the line; to the other end the port is gone.
func (m *Memory) Close() error {
	m.once.Do(func() {
		m.inbox.end(&instruments.PortError{Port: m.name, Op: "use", Err: ErrClosed})
		m.peer.inbox.end(&instruments.PortError{Port: m.name, Op: "read", Err: instruments.ErrPortGone,
			Hint: "check the cable and the instrument's power, then go on"})
	})
	return nil
}

// HangUp is Close.
func (m *Memory) HangUp() error { return m.Close() }

// Open reports whether neither end has been closed.
func (m *Memory) Open() bool { return m.inbox.ended() == nil }
