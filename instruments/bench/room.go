package bench

import (
	"sealworthy/instruments/profile"
)

// seat is where an instrument stands in a bench.
type seat struct {
	what, port, profile string
	address             *int
	leave               func()
}

// seats are those of the instruments that have a port.
func (c *Config) seats() (out []seat) {
	for _, s := range []seat{
		{"supply", c.Supply.Port, c.Supply.Profile, &c.Supply.Address, func() { c.Supply = Supply{} }},
		{"meter", c.Meter.Port, c.Meter.Profile, &c.Meter.Address, func() { c.Meter = Meter{} }},
		{"relays", c.Relays.Port, c.Relays.Profile, &c.Relays.Address, func() { c.Relays = Relays{} }},
	} {
		if s.port != "" {
			out = append(out, s)
		}
	}
	return out
}

// MakeRoom takes out of a bench what can't be on a port where an instrument was found that
// found drives. A Modbus module that can be on one line with that stays, its address written
// down, where its profile alone had it, too: two on a line need it in the bench. left are those
// that leave, and one of the same kind that could be there still: its place is taken. folder is
// that of the maker's own profiles.
func (c *Config) MakeRoom(port string, found *profile.Profile, folder string) (left []string) {
	for _, s := range c.seats() {
		if s.port != port {
			continue
		}
		address, taken := s.beside(found, folder), s.what == string(found.Kind)
		switch {
		case taken && address == 0: // it's the same one, or none that could be there
			continue
		case !taken && address > 0:
			*s.address = address
			continue
		}
		s.leave()
		left = append(left, s.what)
	}
	return left
}

// beside is the address that an instrument has on the line of another one; 0: it can't be on
// it. A profile that can't be read tells nothing against the address that the bench gives.
func (s seat) beside(other *profile.Profile, folder string) int {
	address := *s.address
	own, err := profile.Load(s.profile, folder)
	switch {
	case other.Bus == nil:
		return 0
	case err != nil:
	case own.Bus == nil, own.Bus.Frames != other.Bus.Frames, !sameLine(own.LineOn(s.port), other.LineOn(s.port)):
		return 0
	case address == 0:
		address = own.Bus.Address
	}
	if address == other.Bus.Address {
		return 0
	}
	return address
}
