package wire

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/hold"
)

// readTimeout is how long one read of the serial library lasts. It is set once
// after opening: changing it during a read is a data race in the library. Long
// enough to cost no processor time, short enough to close soon.
const readTimeout = 50 * time.Millisecond

// How long a port that the system calls busy is tried again. A modem manager
// looks at fresh ports for about ten seconds.
const (
	busyRetry = 500 * time.Millisecond
	busyTries = 20
)

// Serial returns the opener of the system's serial ports, and of what is reached
// over a network as tcp://host:port, where the Line means nothing. in and out give the
// counts of bytes under way for a port whose other end is in this process; both
// may be nil.
//
// An opened port is locked against other processes of ours, empty of what had
// arrived before, and leaves DTR and RTS as the system sets them unless the
// Line says otherwise. Errors are PortErrors that wrap ErrNoSuchPort, ErrBusy,
// ErrNotAllowed, ErrNotSerial or ErrLine.
func Serial(c clock.Clock, in, out func(port string) *Flight) instruments.Opener {
	o := opener{c: c, in: in, out: out, system: runtime.GOOS, locks: hold.User(os.Getenv), open: serial.Open}
	return o.port
}

// opener has what differs in tests.
type opener struct {
	c       clock.Clock
	in, out func(port string) *Flight
	system  string
	locks   hold.Folder
	open    func(name string, m *serial.Mode) (serial.Port, error)
}

func (o opener) port(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
	if address, is := instruments.Network(name); is {
		return o.network(ctx, name, address)
	}
	mode, l, err := lineMode(l)
	if err != nil {
		return nil, &instruments.PortError{Port: name, Op: "open", Err: err, Hint: openHint(o.system, name, ErrLine)}
	}
	path := portPath(o.system, name)
	unlock, err := lockPort(o.locks, path)
	if err != nil {
		return nil, err
	}
	p, err := o.try(ctx, path, mode)
	if err != nil {
		return nil, errors.Join(err, unlock())
	}
	if err := p.SetReadTimeout(readTimeout); err != nil {
		_, _ = p.Close(), unlock()
		return nil, openError(o.system, name, err)
	}
	// A banner or a late reply from before looks like the next answer.
	_ = p.ResetInputBuffer()
	var in, out *Flight
	if o.in != nil {
		in = o.in(name)
	}
	if o.out != nil {
		out = o.out(name)
	}
	return newPort(o.c, &serialStream{p: p, unlock: unlock}, in, out, name, l.CharTime()), nil
}

// try opens, again and again while a fresh port is busy.
func (o opener) try(ctx context.Context, path string, mode *serial.Mode) (serial.Port, error) {
	for n := 1; ; n++ {
		p, err := o.open(path, mode)
		if err == nil {
			return p, nil
		}
		err = openError(o.system, path, err)
		fresh := o.system == "linux" && strings.Contains(path, "ttyACM")
		if !errors.Is(err, ErrBusy) || !fresh || n == busyTries {
			return nil, err
		}
		if werr := o.c.Wait(ctx, nil, o.c.Now().Add(busyRetry)); werr != nil {
			return nil, errors.Join(werr, err)
		}
	}
}

// lineMode turns a Line into the library's mode; bits left out are 8 and 1.
func lineMode(l instruments.Line) (*serial.Mode, instruments.Line, error) {
	if l.DataBits == 0 {
		l.DataBits = 8
	}
	if l.StopBits == 0 {
		l.StopBits = 1
	}
	m := &serial.Mode{BaudRate: l.Baud, DataBits: l.DataBits}
	if l.Baud <= 0 {
		return nil, l, fmt.Errorf("%w: a speed of %d baud", ErrLine, l.Baud)
	}
	if l.DataBits < 5 || l.DataBits > 8 {
		return nil, l, fmt.Errorf("%w: %d data bits", ErrLine, l.DataBits)
	}
	switch l.Parity {
	case "", "none":
		m.Parity = serial.NoParity
	case "even":
		m.Parity = serial.EvenParity
	case "odd":
		m.Parity = serial.OddParity
	default:
		return nil, l, fmt.Errorf("%w: parity %q; it can be none, even or odd", ErrLine, l.Parity)
	}
	switch l.StopBits {
	case 1:
		m.StopBits = serial.OneStopBit
	case 2:
		m.StopBits = serial.TwoStopBits
	default:
		return nil, l, fmt.Errorf("%w: %d stop bits", ErrLine, l.StopBits)
	}
	// A pseudo terminal has no such lines and refuses them (ENOTTY), so they
	// are left alone unless asked for.
	if l.DTR != nil || l.RTS != nil {
		m.InitialStatusBits = &serial.ModemOutputBits{DTR: l.DTR == nil || *l.DTR, RTS: l.RTS == nil || *l.RTS}
	}
	return m, l, nil
}

// portPath turns the name that was typed into the one to open. On macOS a tty.
// port waits for a carrier that no instrument raises; its cu. twin doesn't.
func portPath(system, name string) string {
	if system == "darwin" && strings.HasPrefix(name, "/dev/tty.") {
		return "/dev/cu." + strings.TrimPrefix(name, "/dev/tty.")
	}
	return name
}

// serialStream is a port of the library as a stream. Its Close waits for the
// read under way: the library frees the descriptor before the reader is out,
// and the number may be given out again meanwhile (serial_unix.go, Close).
type serialStream struct {
	p       serial.Port
	unlock  func() error
	closing atomic.Bool
	reading sync.Mutex
}

// Read returns 0, nil after readTimeout.
func (s *serialStream) Read(b []byte) (int, error) {
	s.reading.Lock()
	defer s.reading.Unlock()
	if s.closing.Load() {
		return 0, ErrClosed
	}
	return s.p.Read(b)
}

// Write may block for ever.
func (s *serialStream) Write(b []byte) (int, error) { return s.p.Write(b) }

// closeLimit bounds the wait for a system that doesn't let go of a port.
const closeLimit = time.Second

// Close ends the read under way, closes and unlocks. Closing some legacy ports
// hangs for about 30 s while bytes are unsent; that goes on by itself.
func (s *serialStream) Close() error {
	s.closing.Store(true)
	s.reading.Lock()
	defer s.reading.Unlock()
	done := make(chan error, 2)
	instruments.Go(func() {
		err := s.p.Close()
		done <- errors.Join(err, s.unlock())
	}, func(err error) { done <- err })
	// The system's own time: it is the system that may hang, not the instrument.
	limit, cancel := context.WithCancel(context.Background())
	defer cancel()
	instruments.Go(func() {
		if (clock.Wall{}).Wait(limit, nil, clock.Wall{}.Now().Add(closeLimit)) == nil {
			done <- fmt.Errorf("the system did not close the port within %v", closeLimit)
		}
	}, nil)
	return <-done
}
