package wire

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// ErrClosed is returned by a port that was closed by its owner.
var ErrClosed = errors.New("the port was closed")

// ErrStuck is an ErrPortGone: a write was not taken within its time, so nothing
// more can be said on this port.
var ErrStuck = fmt.Errorf("%w: it takes no more bytes", instruments.ErrPortGone)

// Port is a byte stream as an instruments.Port. Goroutines of its own read and
// write, so neither can block a caller for longer than it allows. One caller
// at a time may be in ReadUntil, and one in Write; Close may come at any time.
type Port struct {
	c       clock.Clock
	rw      io.ReadWriteCloser
	name    string
	char    time.Duration // of one byte on the line
	in, out *Flight
	inbox   inbox

	closing  atomic.Bool
	stuck    atomic.Bool
	busy     atomic.Bool // a write is in the system's hands
	once     sync.Once
	readDone chan struct{}
}

// writing is one Write in the system's hands.
type writing struct {
	bytes []byte
	gate  clock.Gate
	err   error
}

var _ instruments.Port = (*Port)(nil)

// New makes a port of rw. Close of rw must end a Read under way; a Read may
// return 0, nil as a timeout. in and out count the bytes under way; nil where
// the other end is not in this process.
func New(c clock.Clock, rw io.ReadWriteCloser, in, out *Flight) *Port {
	return newPort(c, rw, in, out, "port", time.Millisecond)
}

func newPort(c clock.Clock, rw io.ReadWriteCloser, in, out *Flight, name string, char time.Duration) *Port {
	p := &Port{c: c, rw: rw, name: name, char: char, in: in, out: out, inbox: inbox{c: c},
		readDone: make(chan struct{})}
	in.attach()
	instruments.Go(p.read, func(err error) {
		p.inbox.end(&instruments.PortError{Port: p.name, Op: "read", Err: gone(err)})
	})
	return p
}

// ReadUntil returns as soon as at least one byte is there; at the deadline it
// returns clock.ErrDeadline. A port that is gone answers with a PortError that
// wraps ErrPortGone, after what had arrived was read.
func (p *Port) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	return p.inbox.readUntil(ctx, b, deadline)
}

// ReadStamped is ReadUntil with the time at which the bytes came, which may be
// well before they are read.
func (p *Port) ReadStamped(ctx context.Context, b []byte, deadline time.Time) (int, time.Time, error) {
	return p.inbox.readStamped(ctx, b, deadline)
}

// Discard throws away what has arrived and was not read.
func (p *Port) Discard() { p.inbox.discard() }

// Write hands b to the system. It doesn't wait for the line, but gives up when
// the system takes the bytes in four times their time on the line, and 200 ms;
// a port that blocked once is gone.
func (p *Port) Write(ctx context.Context, b []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if p.closing.Load() {
		return p.fail("write", ErrClosed)
	}
	if err := p.inbox.ended(); err != nil {
		return err
	}
	if p.stuck.Load() || len(b) > 0 && !p.busy.CompareAndSwap(false, true) {
		return p.fail("write", ErrStuck)
	}
	if len(b) == 0 {
		return nil
	}
	p.out.sent(len(b))
	if p.c.Simulated() {
		// The other end is in this process and reads; and while this party waited
		// for a write that blocks, time would be held, so no deadline could come.
		err := writeAll(p.rw, b)
		p.busy.Store(false)
		if err != nil {
			p.out.got(len(b))
			return p.fail("write", gone(err))
		}
		return nil
	}
	w := &writing{bytes: append([]byte(nil), b...)}
	limit := p.c.Now().Add(200*time.Millisecond + 4*time.Duration(len(b))*p.char)
	instruments.Go(func() { p.carry(w) }, func(err error) {
		p.stuck.Store(true) // nobody knows what of it went out
		w.err = err
		p.c.Open(&w.gate)
	})
	switch err := p.c.Wait(ctx, &w.gate, limit); {
	case errors.Is(err, clock.ErrDeadline):
		p.stuck.Store(true)
		return p.fail("write", ErrStuck)
	case err != nil:
		return err
	}
	if w.err != nil {
		return p.fail("write", gone(w.err))
	}
	return nil
}

// HangUp closes as a pulled cable does: simulated time waits until the other
// end, in the same process, has noticed.
func (p *Port) HangUp() error {
	p.out.hangingUp()
	return p.Close()
}

// Close ends the port and waits for its reader, but not for a write that blocks.
func (p *Port) Close() error {
	var err error
	p.once.Do(func() {
		p.closing.Store(true)
		err = p.rw.Close()
		<-p.readDone
	})
	return err
}

func (p *Port) read() {
	defer close(p.readDone)
	defer p.in.detach()
	// The serial library panics on Linux when its descriptor is 1024 or higher:
	// select(2) takes no more (FD_SET in its unixutils). Left alone it would end
	// the program with the output on. Here it is a port that is gone.
	defer func() {
		if r := recover(); r != nil {
			p.inbox.end(&instruments.PortError{Port: p.name, Op: "read", Hint: "too many files or ports are open in " +
				"this program; close some and start it again",
				Err: fmt.Errorf("%w: %v", instruments.ErrPortGone, r)})
		}
	}()
	buf := make([]byte, 4096)
	for {
		n, err := p.rw.Read(buf)
		if n > 0 {
			p.inbox.put(buf[:n])
			p.in.got(n) // after the one who waits was woken
		} else if err == nil {
			p.in.idle()
		}
		switch {
		case p.closing.Load():
			p.inbox.end(p.fail("read", ErrClosed))
			return
		case err != nil:
			p.inbox.end(p.fail("read", gone(err)))
			return
		}
	}
}

// carry does one write in a goroutine of its own, which may block for ever.
func (p *Port) carry(w *writing) {
	w.err = writeAll(p.rw, w.bytes)
	if w.err != nil {
		p.out.got(len(w.bytes))
	}
	p.busy.Store(false)
	p.c.Open(&w.gate)
}

// writeAll writes all of b: the serial library may take a part of it.
func writeAll(w io.Writer, b []byte) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("write: %v", r)
		}
	}()
	for len(b) > 0 {
		n, err := w.Write(b)
		if err != nil {
			return err
		}
		if n <= 0 {
			return io.ErrShortWrite
		}
		b = b[n:]
	}
	return nil
}

func (p *Port) fail(op string, err error) error {
	e := &instruments.PortError{Port: p.name, Op: op, Err: err}
	if errors.Is(err, instruments.ErrPortGone) {
		e.Hint = "check the cable and the instrument's power, then go on"
	}
	return e
}

// gone makes every error of an open port an ErrPortGone: the library's codes
// differ by system, and none of them lets the handle be used again.
func gone(err error) error {
	if errors.Is(err, instruments.ErrPortGone) {
		return err
	}
	return fmt.Errorf("%w: %w", instruments.ErrPortGone, err)
}
