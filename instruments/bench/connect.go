package bench

import (
	"context"
	"errors"
	"fmt"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/scpi"
)

// Connected is one instrument, open and identified: exactly one of Supply,
// Meter and Relays is not nil.
type Connected struct {
	Supply   instruments.Supply
	Meter    instruments.Meter
	Relays   instruments.Relays
	Identity string
	Port     instruments.Port
}

// Connect opens a port and identifies the instrument that the profile
// describes. On an error the port is closed again.
func Connect(ctx context.Context, c clock.Clock, open instruments.Opener, portName string, p *profile.Profile) (*Connected, error) {
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

func connect(ctx context.Context, c clock.Clock, port instruments.Port, portName string, p *profile.Profile) (*Connected, error) {
	// A board that resets when the port opens says nothing sensible until it is up.
	if boot := p.Boot(); boot > 0 {
		if err := c.Wait(ctx, nil, c.Now().Add(boot)); err != nil {
			return nil, err
		}
	}
	x := &Connected{Port: port}
	driver, err := drive(port, portName, c, p)
	if err != nil {
		return nil, err
	}
	x.take(driver)
	if x.Identity, err = identify(ctx, driver); err != nil {
		return nil, err
	}
	return x, nil
}

func (x *Connected) take(driver any) {
	switch d := driver.(type) {
	case instruments.Supply:
		x.Supply = d
	case instruments.Relays:
		x.Relays = d
	case instruments.Meter:
		x.Meter = d
	}
}

// identify asks twice: the first answer may be spoiled by what was left on the line.
func identify(ctx context.Context, driver any) (string, error) {
	i, ok := driver.(instruments.Identifier)
	if !ok {
		return "", nil
	}
	id, err := i.Identify(ctx)
	if err != nil && ctx.Err() == nil && !errors.Is(err, instruments.ErrPortGone) {
		id, err = i.Identify(ctx)
	}
	return id, err
}

// drive makes the driver that a profile asks for.
func drive(port instruments.Port, name string, c clock.Clock, p *profile.Profile) (any, error) {
	switch p.Speaks {
	case profile.SCPI:
		switch p.Kind {
		case profile.SupplyKind:
			return scpi.NewSupply(port, name, c, p)
		case profile.MeterKind:
			return scpi.NewMeter(port, name, c, p)
		case profile.RelaysKind:
			return scpi.NewRelays(port, name, c, p)
		}
	}
	return nil, fmt.Errorf("profile %q: no driver for a %s that speaks %s", p.Name, p.Kind, p.Speaks)
}
