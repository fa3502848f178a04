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

	mu   sync.Mutex
	buf  []byte
	came []stretch // when the bytes of buf came, in order
	err  error     // why nothing comes any more
}

// stretch is bytes that came at the same time.
type stretch struct {
	n  int
	at time.Time
}

// put adds bytes and wakes the reader.
func (b *inbox) put(p []byte) {
	at := b.c.Now()
	b.mu.Lock()
	b.buf = append(b.buf, p...)
	if last := len(b.came) - 1; last >= 0 && b.came[last].at.Equal(at) {
		b.came[last].n += len(p)
	} else {
		b.came = append(b.came, stretch{len(p), at})
	}
	if over := len(b.buf) - maxUnread; over > 0 {
		b.take(over)
	}
	b.mu.Unlock()
	b.c.Open(&b.gate)
}

// take removes the first n bytes. mu is held.
func (b *inbox) take(n int) {
	b.buf = append(b.buf[:0], b.buf[n:]...)
	for n > 0 {
		if b.came[0].n > n {
			b.came[0].n -= n
			return
		}
		n -= b.came[0].n
		b.came = append(b.came[:0], b.came[1:]...)
	}
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
	b.buf, b.came = b.buf[:0], b.came[:0]
	b.mu.Unlock()
}

// readUntil hands out what has arrived, before any error.
func (b *inbox) readUntil(ctx context.Context, p []byte, deadline time.Time) (int, error) {
	n, _, err := b.readStamped(ctx, p, deadline)
	return n, err
}

// readStamped is readUntil with the time at which these bytes had come.
func (b *inbox) readStamped(ctx context.Context, p []byte, deadline time.Time) (int, time.Time, error) {
	if len(p) == 0 {
		return 0, time.Time{}, errNoRoom
	}
	for {
		b.mu.Lock()
		if len(b.buf) > 0 {
			at := b.came[0].at
			n := copy(p, b.buf[:b.came[0].n])
			b.take(n)
			b.mu.Unlock()
			return n, at, nil
		}
		err := b.err
		b.mu.Unlock()
		if err != nil {
			return 0, time.Time{}, err
		}
		if err := b.c.Wait(ctx, &b.gate, deadline); err != nil {
			return 0, time.Time{}, err
		}
	}
}
