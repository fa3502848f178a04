package wire_test

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

var (
	background = context.Background()
	start      = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
)

// ends gives both ends of a line of each kind on both clocks.
func ends(t *testing.T, f func(t *testing.T, c clock.Clock, a, b instruments.Port)) {
	for _, k := range []struct {
		name string
		c    func() clock.Clock
	}{{"wall", func() clock.Clock { return clock.Wall{} }},
		{"simulated", func() clock.Clock { return clock.NewSimulated(start) }}} {
		t.Run(k.name+" memory", func(t *testing.T) {
			c := k.c()
			a, b := wire.Pair(c, "memory:1")
			defer a.Close()
			f(t, c, a, b)
		})
		t.Run(k.name+" stream", func(t *testing.T) {
			c := k.c()
			x, y := net.Pipe()
			there, back := wire.NewFlight(c), wire.NewFlight(c)
			a, b := wire.New(c, x, back, there), wire.New(c, y, there, back)
			defer a.Close()
			defer b.Close()
			f(t, c, a, b)
		})
	}
}

func TestReadUntil(t *testing.T) {
	ends(t, func(t *testing.T, c clock.Clock, a, b instruments.Port) {
		buf := make([]byte, 4)
		if n, err := a.ReadUntil(background, buf, c.Now().Add(5*time.Millisecond)); n != 0 ||
			!errors.Is(err, clock.ErrDeadline) {
			t.Errorf("nothing sent: %d, %v", n, err)
		}
		if n, err := a.ReadUntil(background, nil, c.Now()); n != 0 || err == nil {
			t.Errorf("empty buffer: %d, %v", n, err)
		}
		if err := b.Write(background, []byte("123456")); err != nil {
			t.Fatal(err)
		}
		n, err := a.ReadUntil(background, buf, c.Now().Add(time.Second))
		if err != nil || string(buf[:n]) != "1234" {
			t.Errorf("got %q, %v", buf[:n], err)
		}
		// What has arrived is handed out even past the deadline.
		n, err = a.ReadUntil(background, buf, c.Now().Add(-time.Second))
		if err != nil || string(buf[:n]) != "56" {
			t.Errorf("got %q, %v", buf[:n], err)
		}
		if err := b.Write(background, []byte("old")); err != nil {
			t.Fatal(err)
		}
		if n, err := a.ReadUntil(background, buf[:1], c.Now().Add(time.Second)); err != nil || buf[0] != 'o' {
			t.Errorf("got %q, %v", buf[:n], err)
		}
		a.Discard()
		if _, err := a.ReadUntil(background, buf, c.Now().Add(5*time.Millisecond)); !errors.Is(err,
			clock.ErrDeadline) {
			t.Errorf("after Discard: %v", err)
		}
		ctx, cancel := context.WithCancel(background)
		cancel()
		if _, err := a.ReadUntil(ctx, buf, time.Time{}); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled: %v", err)
		}
		if err := a.Write(ctx, []byte("x")); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled write: %v", err)
		}
	})
}

func TestOtherEndHangsUp(t *testing.T) {
	ends(t, func(t *testing.T, c clock.Clock, a, b instruments.Port) {
		if err := b.Write(background, []byte("last")); err != nil {
			t.Fatal(err)
		}
		if h, ok := b.(interface{ HangUp() error }); !ok || h.HangUp() != nil {
			t.Fatal("can't hang up")
		}
		buf := make([]byte, 16)
		// An hour that must not pass: the hang-up is noticed at once.
		if n, err := a.ReadUntil(background, buf, c.Now().Add(time.Hour)); err != nil || string(buf[:n]) != "last" {
			t.Errorf("before the end: %q, %v", buf[:n], err)
		}
		_, err := a.ReadUntil(background, buf, c.Now().Add(time.Hour))
		var pe *instruments.PortError
		if !errors.Is(err, instruments.ErrPortGone) || !errors.As(err, &pe) || pe.Hint == "" {
			t.Errorf("after it: %v", err)
		}
		if err := a.Write(background, []byte("x")); !errors.Is(err, instruments.ErrPortGone) {
			t.Errorf("write after it: %v", err)
		}
		if c.Simulated() && !c.Now().Equal(start) {
			t.Errorf("%v of simulated time went by", c.Now().Sub(start))
		}
	})
}

func TestOwnCloseIsNoLostPort(t *testing.T) {
	ends(t, func(t *testing.T, c clock.Clock, a, b instruments.Port) {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
		a.Close()
		_, err := a.ReadUntil(background, make([]byte, 1), c.Now().Add(time.Second))
		if !errors.Is(err, wire.ErrClosed) || errors.Is(err, instruments.ErrPortGone) {
			t.Errorf("read: %v", err)
		}
		if err := a.Write(background, []byte("x")); !errors.Is(err, wire.ErrClosed) {
			t.Errorf("write: %v", err)
		}
	})
}

// slow is a stream whose reads and writes do what a test wants.
type slow struct {
	read  func([]byte) (int, error)
	write func([]byte) (int, error)
	ended chan struct{}
}

func (s *slow) Read(b []byte) (int, error)  { return s.read(b) }
func (s *slow) Write(b []byte) (int, error) { return s.write(b) }
func (s *slow) Close() error                { close(s.ended); return nil }

func untilEnd(s *slow) func([]byte) (int, error) {
	return func([]byte) (int, error) { <-s.ended; return 0, io.EOF }
}

func TestBlockedWriteIsAbandoned(t *testing.T) {
	s := &slow{ended: make(chan struct{})}
	s.read = untilEnd(s)
	s.write = func([]byte) (int, error) { <-s.ended; return 0, io.ErrClosedPipe }
	p := wire.New(clock.Wall{}, s, nil, nil)
	defer p.Close()
	ctx, cancel := context.WithCancel(background)
	cancel()
	if err := p.Write(ctx, []byte("OUTP OFF\n")); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if err := p.Write(background, []byte("OUTP OFF\n")); !errors.Is(err, wire.ErrStuck) ||
		!errors.Is(err, instruments.ErrPortGone) {
		t.Errorf("first: %v", err)
	}
	if err := p.Write(background, []byte("OUTP OFF\n")); !errors.Is(err, wire.ErrStuck) {
		t.Errorf("second: %v", err)
	}
}

func TestPartialWritesAreFinished(t *testing.T) {
	var got []byte
	s := &slow{ended: make(chan struct{})}
	s.read = untilEnd(s)
	s.write = func(b []byte) (int, error) { got = append(got, b[0]); return 1, nil }
	p := wire.New(clock.Wall{}, s, nil, nil)
	defer p.Close()
	if err := p.Write(background, []byte("VOLT 12\n")); err != nil || string(got) != "VOLT 12\n" {
		t.Errorf("%q, %v", got, err)
	}
}

func TestPanicInTheReaderIsALostPort(t *testing.T) {
	s := &slow{ended: make(chan struct{})}
	s.read = func([]byte) (int, error) { panic("index out of range [16] with length 16") }
	p := wire.New(clock.Wall{}, s, nil, nil)
	defer p.Close()
	_, err := p.ReadUntil(background, make([]byte, 1), time.Time{})
	if !errors.Is(err, instruments.ErrPortGone) {
		t.Error(err)
	}
}

func TestTimeoutsOfTheStreamAreNoEnd(t *testing.T) {
	n := 0
	s := &slow{ended: make(chan struct{})}
	s.read = func(b []byte) (int, error) {
		if n++; n < 500 {
			return 0, nil
		}
		if n == 500 {
			return copy(b, "+1.2E-3\n"), nil
		}
		<-s.ended
		return 0, io.EOF
	}
	p := wire.New(clock.Wall{}, s, nil, nil)
	defer p.Close()
	buf := make([]byte, 32)
	if n, err := p.ReadUntil(background, buf, time.Time{}); err != nil || string(buf[:n]) != "+1.2E-3\n" {
		t.Errorf("%q, %v", buf[:n], err)
	}
}

func TestEndlessBytesDontFillTheMemory(t *testing.T) {
	c := clock.NewSimulated(start)
	a, b := wire.Pair(c, "memory:1")
	for range 1000 {
		b.Write(background, make([]byte, 1000))
	}
	b.Write(background, []byte{7})
	buf := make([]byte, 1<<20)
	n, err := a.ReadUntil(background, buf, c.Now())
	if err != nil || n > 64<<10 || buf[n-1] != 7 {
		t.Errorf("kept %d bytes, the last %d, %v", n, buf[n-1], err)
	}
}

func TestTapShowsEachByte(t *testing.T) {
	c := clock.NewSimulated(start)
	a, b := wire.Pair(c, "memory:1")
	var seen string
	open := func(context.Context, string, instruments.Line) (instruments.Port, error) { return a, nil }
	p, err := wire.Tapped(c, open, func(at time.Time, port string, d wire.Direction, x []byte) {
		seen += port + " " + string(d) + " " + string(x) + ";"
	})(background, "memory:1", instruments.Line{})
	if err != nil {
		t.Fatal(err)
	}
	p.Write(background, []byte("READ?"))
	b.Write(background, []byte("+1"))
	p.ReadUntil(background, make([]byte, 8), c.Now())
	if seen != "memory:1 sent READ?;memory:1 got +1;" {
		t.Error(seen)
	}
}

// Bytes that nobody gets must not hold the clock for ever.
func TestFlightFallsToZero(t *testing.T) {
	c := clock.NewSimulated(start)
	x, y := net.Pipe()
	there, back := wire.NewFlight(c), wire.NewFlight(c)
	a := wire.New(c, x, back, there)
	defer a.Close()
	// The other end counts as a reader, but never reads: a dead peer.
	dead := &slow{ended: make(chan struct{})}
	dead.read = func(b []byte) (int, error) { <-dead.ended; return 0, io.EOF }
	b := wire.New(c, dead, there, back)
	got := make(chan struct{})
	go func() { // takes the bytes off the line and drops them
		buf := make([]byte, 8)
		y.Read(buf)
		close(got)
	}()
	if err := a.Write(background, []byte("12345678")); err != nil {
		t.Fatal(err)
	}
	<-got
	if n := there.UnderWay(); n != 8 {
		t.Errorf("%d bytes under way", n)
	}
	b.Close()
	if n := there.UnderWay(); n != 0 {
		t.Errorf("%d bytes under way after the reader is gone", n)
	}
	if err := c.Wait(background, nil, start.Add(time.Hour)); err != nil {
		t.Error(err)
	}
}

// The reader is there and finds nothing, again and again: the bytes are lost.
func TestLostBytesDontHoldTheClock(t *testing.T) {
	c := clock.NewSimulated(start)
	lossy := &slow{ended: make(chan struct{})}
	lossy.read = untilEnd(lossy)
	lossy.write = func(b []byte) (int, error) { return len(b), nil }
	idle := &slow{ended: make(chan struct{})}
	idle.read = func([]byte) (int, error) {
		select {
		case <-idle.ended:
			return 0, io.EOF
		case <-time.After(time.Millisecond):
			return 0, nil
		}
	}
	there := wire.NewFlight(c)
	a, b := wire.New(c, lossy, nil, there), wire.New(c, idle, there, nil)
	defer a.Close()
	defer b.Close()
	if err := a.Write(background, []byte("READ?\n")); err != nil {
		t.Fatal(err)
	}
	if n := there.UnderWay(); n != 6 {
		t.Errorf("%d bytes under way", n)
	}
	_, err := b.ReadUntil(background, make([]byte, 8), start.Add(time.Hour))
	if !errors.Is(err, clock.ErrDeadline) || there.UnderWay() != 0 {
		t.Errorf("%v, %d bytes under way", err, there.UnderWay())
	}
}
