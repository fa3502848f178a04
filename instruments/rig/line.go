package rig

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

// line is a cable between an instrument and a port name.
type line struct {
	c      clock.Clock
	name   string
	device *device
	pty    *pseudo // nil in memory
	link   bool    // name is a link to the pty
	strict bool

	toRig, toDriver *wire.Flight

	mu   sync.Mutex
	gone bool
	held *wire.Memory // the driver's end of an open memory port
}

// plug makes a line for d and connects it. A pseudo terminal gets another name
// than not, which a system likes to give out again at once.
func plug(c clock.Clock, d *device, o Options, not string) (*line, error) {
	l := &line{c: c, name: d.opt.Name, device: d, strict: o.StrictLine}
	if o.MemoryPorts {
		return l, nil
	}
	p, err := newPseudo()
	if err != nil {
		return nil, fmt.Errorf("no pseudo terminal for the %s: %w; use memory ports", d.name, err)
	}
	if p.name == not {
		first := p
		p, err = newPseudo()
		if err = errors.Join(err, first.Close()); err != nil {
			return nil, fmt.Errorf("no other pseudo terminal for the %s: %w", d.name, err)
		}
	}
	l.pty, l.name, d.lastPty = p, p.name, p.name
	if o.Folder != "" {
		l.name, l.link = filepath.Join(o.Folder, d.name), true
		_ = os.Remove(l.name) // of a cable that was pulled before
		if err := os.Symlink(p.name, l.name); err != nil {
			return nil, errors.Join(fmt.Errorf("no lasting name for the %s: %w", d.name, err), p.Close())
		}
	}
	l.toRig, l.toDriver = wire.NewFlight(c), wire.NewFlight(c)
	d.attach(wire.New(c, p, l.toRig, l.toDriver))
	return l, nil
}

// open gives the driver's end and tells the device.
func (l *line) open(ctx context.Context, set instruments.Line) (instruments.Port, error) {
	p, err := l.connect(ctx, set)
	if err == nil && l.strict && differs(set, l.device.opt.Line) {
		p = &garbled{Port: p}
	}
	if err == nil && l.device.opened != nil {
		l.device.opened()
	}
	return p, err
}

func (l *line) connect(ctx context.Context, set instruments.Line) (instruments.Port, error) {
	if l.pty != nil {
		count := func(f *wire.Flight) func(string) *wire.Flight { return func(string) *wire.Flight { return f } }
		return wire.Serial(l.c, count(l.toDriver), count(l.toRig))(ctx, l.name, set)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.gone {
		return nil, noSuchPort(l.name)
	}
	if l.held != nil && l.held.Open() {
		return nil, &instruments.PortError{Port: l.name, Op: "open", Err: wire.ErrBusy, Hint: "close it first"}
	}
	here, there := wire.Pair(l.c, l.name)
	l.held = here
	l.device.attach(there)
	return here, nil
}

// cut says that nobody may open it any more.
func (l *line) cut() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.gone = true
	if l.link {
		_ = os.Remove(l.name) // a pulled cable has no port
	}
}

func noSuchPort(name string) error {
	return &instruments.PortError{Port: name, Op: "open", Err: wire.ErrNoSuchPort,
		Hint: "the bench names its ports when it is put up; an unplugged instrument has none"}
}

// pseudo is the rig's end of a pseudo terminal.
type pseudo struct {
	io.ReadWriteCloser
	name string
}
