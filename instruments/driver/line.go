package driver

import (
	"time"

	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// LineOptions are those of the line that the instrument of a profile is on, as far as the profile
// says them; wake is sent to one that may be in the middle of a line.
func LineOptions(p *profile.Profile, portName string, wake []byte) exchange.Options {
	t := p.Talk
	return exchange.Options{
		Line: p.LineOn(portName), Echo: t.Echo, Gap: time.Duration(t.GapMs) * time.Millisecond,
		Timeout: p.Timeout(), Quiet: time.Duration(t.QuietMs) * time.Millisecond, Longest: t.Longest, Wake: wake,
	}
}
