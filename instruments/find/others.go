package find

import (
	"context"
	"fmt"

	"sealworthy/instruments"
	"sealworthy/instruments/modbus"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/stream"
)

// sender knows a meter by what it sends unasked.
func (f Finder) sender(heard []byte, name string, line instruments.Line) *Found {
	for _, p := range f.Profiles {
		if (p.Speaks == profile.Text || p.Speaks == profile.LCD) && p.Line.Baud == line.Baud &&
			stream.Knows(p, heard) {
			return &Found{Port: name, Kind: p.Kind, Speaks: p.Speaks, Profile: p.Name,
				Notes: []string{"It sends by itself and can't say who it is: whether it is the same one again is " +
					"for you to see."}}
		}
	}
	return nil
}

// modbusAddress is asked: modules come with it from the maker (common practice, no
// source).
const modbusAddress = 1

// modbus reads one register, and where nothing comes one coil: a relay board may know
// nothing else. Neither changes anything.
func (f Finder) modbus(ctx context.Context, a *asker, name string, line instruments.Line) (*Found, error) {
	for _, function := range []modbus.Function{modbus.ReadHolding, modbus.ReadCoils} {
		answered, err := a.answers(ctx, name, modbus.Request{Address: modbusAddress, Function: function, Quantity: 1})
		if err != nil {
			return nil, err
		}
		if answered {
			return modbusAt(name, line), nil
		}
	}
	return nil, nil
}

// answers tells whether a Modbus server answers a request, if only to refuse it.
func (a *asker) answers(ctx context.Context, name string, r modbus.Request) (bool, error) {
	split := r.Split
	m, err := r.Encode()
	if _, network := instruments.Network(name); network {
		const transaction = 1
		split = r.SplitTCP(transaction)
		m, err = r.EncodeTCP(transaction)
	}
	if err != nil {
		return false, err
	}
	got, err := a.raw(ctx, m)
	if err != nil {
		return false, err
	}
	n, _, _ := split(got)
	return n > 0, nil
}

func modbusAt(name string, line instruments.Line) *Found {
	at := fmt.Sprintf("at address %d", modbusAddress)
	if line.Baud > 0 {
		at += fmt.Sprintf(" and %d baud", line.Baud)
	}
	return &Found{Port: name, Speaks: profile.Modbus, Notes: []string{
		"A Modbus module answers " + at +
			". Its registers say nothing of what it is: choose the profile for it with " +
			"--profile, and put those of its manual into one of your own where they differ.",
	}}
}
