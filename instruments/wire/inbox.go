package wire

import (
	"context"
	"errors"
	"sync"
	"time"

	"sealworthy/instruments/clock"
)

// maxUnread bounds what is kept for a reader that doesn't come; the oldest goes
// first. It is far more than any frame.
const maxUnread = 64 << 10

// errNoRoom is a mistake of the caller: the serial library would report a
// closed port for it.
var errNoRoom = errors.New("read into an empty buffer")

// inbox keeps the bytes that have arrived for one reader at a time.
type inbox struct {
	c    clock.Clock
	gate clock.Gate

	mu  sync.Mutex
	buf []byte
	err error // why nothing comes any more
}

// put adds bytes and wakes the reader.
func (b *inbox) put(p []byte) {
	b.mu.Lock()
	b.buf = append(b.buf, p...)
	if over := len(b.buf) - maxUnread; over > 0 {
		b.buf = append(b.buf[:0], b.buf[over:]...)
	}
	b.mu.Unlock()
	b.c.Open(&b.gate)
}

// end wakes the reader for good; the first cause stands.
func (b *inbox) end(err error) {
	b.mu.Lock()
	if b.err == nil {
		b.err = err
	}
	b.mu.Unlock()
	b.c.Open(&b.gate)
}

func (b *inbox) ended() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.err
}

func (b *inbox) discard() {
	b.mu.Lock()
	b.buf = b.buf[:0]
	b.mu.Unlock()
}

// readUntil hands out what has arrived, before any error.
func (b *inbox) readUntil(ctx context.Context, p []byte, deadline time.Time) (int, error) {
	if len(p) == 0 {
		return 0, errNoRoom
	}
	for {
		b.mu.Lock()
		if n := copy(p, b.buf); n > 0 {
			b.buf = append(b.buf[:0], b.buf[n:]...)
			b.mu.Unlock()
			return n, nil
		}
		err := b.err
		b.mu.Unlock()
		if err != nil {
			return 0, err
		}
		if err := b.c.Wait(ctx, &b.gate, deadline); err != nil {
			return 0, err
		}
	}
}
