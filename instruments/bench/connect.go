package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/modbus"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/scpi"
	"sealworthy/instruments/stream"
	"sealworthy/instruments/terse"
)

// Connected is one instrument, open and identified: exactly one of Supply,
// Meter and Relays is not nil.
type Connected struct {
	Supply   instruments.Supply
	Meter    instruments.Meter
	Relays   instruments.Relays
	Identity string // as it answered; empty: it can't say
	Port     instruments.Port
}

// Connect opens a port and identifies the instrument that the profile
// describes. On an error the port is closed again.
func Connect(ctx context.Context, c clock.Clock, open instruments.Opener, portName string,
	p *profile.Profile) (*Connected, error) {
	port, err := open(ctx, portName, p.SerialLine())
	if err != nil {
		return nil, err
	}
	x, err := connect(ctx, c, port, portName, p)
	if err != nil {
		return nil, errors.Join(err, port.Close())
	}
	return x, nil
}

func connect(ctx context.Context, c clock.Clock, port instruments.Port, portName string,
	p *profile.Profile) (*Connected, error) {
	// A board that resets when the port opens says nothing sensible until it is up.
	if boot := p.Boot(); boot > 0 {
		if err := c.Wait(ctx, nil, c.Now().Add(boot)); err != nil {
			return nil, err
		}
	}
	if err := undisguised(ctx, c, port, portName, p); err != nil {
		return nil, err
	}
	x := &Connected{Port: port}
	d, err := drive(port, portName, c, p)
	if err != nil {
		return nil, err
	}
	x.take(d)
	x.Port = leaving{Port: port, driver: d}
	if x.Identity, err = identify(ctx, d); err != nil {
		return nil, err
	}
	return x, nil
}

// leaving is a port whose instrument gets its front panel back when it is closed,
// where its profile says how.
type leaving struct {
	instruments.Port
	driver any
}

// Close lets the driver close the port, if it does that itself.
func (l leaving) Close() error {
	if d, ok := l.driver.(io.Closer); ok {
		return d.Close()
	}
	return l.Port.Close()
}

func (x *Connected) take(driven any) {
	switch d := driven.(type) {
	case instruments.Supply:
		x.Supply = d
	case instruments.Relays:
		x.Relays = d
	case instruments.Meter:
		x.Meter = d
	}
}

// identify asks twice: the first answer may be spoiled by what was left on the line. A name
// that an instrument sent counts once it came twice; that of its profile wasn't sent.
func identify(ctx context.Context, driven any) (string, error) {
	i, ok := driven.(instruments.Identifier)
	if !ok {
		return "", nil
	}
	id, err := i.Identify(ctx)
	if err != nil && ctx.Err() == nil && !errors.Is(err, instruments.ErrPortGone) {
		id, err = i.Identify(ctx)
	}
	if err != nil {
		return "", err
	}
	if d, ok := driven.(instruments.Describer); ok {
		if own := d.Describe().Profile; own != "" && strings.HasPrefix(id, own) {
			return id, nil
		}
	}
	if again, err := i.Identify(ctx); err == nil && again == id {
		return id, nil
	}
	return instruments.Who(ctx, i, "")
}

// drive makes the driver that a profile asks for.
func drive(port instruments.Port, name string, c clock.Clock, p *profile.Profile) (any, error) {
	var speak func(instruments.Port, string, clock.Clock, *profile.Profile) (driver.Protocol, error)
	switch p.Speaks {
	case profile.SCPI:
		speak = scpi.New
	case profile.Terse:
		speak = terse.New
	case profile.Modbus:
		speak = modbus.New
	case profile.Text, profile.LCD:
		return stream.New(port, name, c, p)
	default:
		return nil, fmt.Errorf("profile %q: no driver for a %s that speaks %s", p.Name, p.Kind, p.Speaks)
	}
	proto, err := speak(port, name, c, p)
	if err != nil {
		return nil, err
	}
	return driver.New(p, proto, c)
}
