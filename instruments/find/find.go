// Package find asks on a port who is there, with what can do no harm: it listens,
// asks for the identity at the usual speeds, and reads one Modbus register at ordinary
// addresses and parities. What it says switches and sets nothing, but for remote mode,
// which a supply needs before it takes settings.
//
// Start with Port. It gives the profile that drives what answered, with the keys that
// are to be changed in it: speed, prompt, echo, how numbers are written. Speeds and
// the order of questions are common practice, no source; the questions themselves
// are of IEEE 488.2, SCPI-1999 and Modbus.
package find

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// Found is an instrument on a port.
type Found struct {
	Port     string           `json:"port"` // the system's name of it, or tcp://host:port
	Kind     profile.Kind     `json:"kind"`
	Speaks   profile.Speaks   `json:"speaks"`
	Identity string           `json:"identity,omitempty"` // as it answered; "": it can't say
	Profile  string           `json:"profile"`            // that drives it, or that Changes are made to
	Changes  []profile.Change `json:"changes,omitempty"`  // what it needs in a profile of its own
	Bus      *OnBus           `json:"bus,omitempty"`      // where a Modbus module answers; nil: it's none
	Notes    []string         `json:"notes,omitempty"`    // sentences: what was found besides, or couldn't be
}

// Looked is what came of one port: an instrument, or why there is none.
type Looked struct {
	Port  string `json:"port"` // the system's name of it, or tcp://host:port
	Found *Found `json:"found,omitempty"`
	Why   string `json:"why,omitempty"`   // a clause without full stop
	Heard string `json:"heard,omitempty"` // what came that nothing was made of, quoted
	// Opened: the port could be; without that nobody on it can be asked anything.
	Opened bool `json:"opened,omitempty"`
	// Asked is what was asked where nobody answered, and what wasn't: sentences.
	Asked []string `json:"asked,omitempty"`
}

// Finder looks for instruments.
type Finder struct {
	Clock clock.Clock
	Open  instruments.Opener // opens a port by its name
	// Profiles are those that may fit; the maker's own go first.
	Profiles []*profile.Profile
	// Own tells which of them are the maker's, by name.
	Own map[string]bool
}

// Port looks who is on one port. The error is an end of ctx only: what goes wrong
// with the port is its Why.
func (f Finder) Port(ctx context.Context, name string) (Looked, error) {
	out := Looked{Port: name, Why: nobody}
	over, err := f.try(ctx, &out, usual(name))
	if err != nil || over || out.Heard != "" { // what speaks otherwise is no silent module
		return out, err
	}
	further := f.further(name)
	over, err = f.try(ctx, &out, further)
	if err == nil && !over && out.Why == nobody {
		out.Asked = asked(usual(name), further)
	}
	return out, err
}

const nobody = "nobody answers"

// try makes attempts until one finds somebody, or the port is of no use: then it's over.
func (f Finder) try(ctx context.Context, out *Looked, attempts []attempt) (over bool, err error) {
	for _, s := range attempts {
		port, err := f.Open(ctx, out.Port, s.line())
		if err != nil {
			if ctx.Err() != nil {
				return true, ctx.Err()
			}
			out.Why = err.Error()
			return true, nil
		}
		out.Opened = true
		found, heard, err := f.at(ctx, port, out.Port, s)
		cerr := port.Close()
		switch {
		case ctx.Err() != nil:
			return true, ctx.Err()
		case err != nil && errors.Is(err, instruments.ErrPortGone) && s.baud == 0:
			out.Why = err.Error() // a server hangs up on what it doesn't know
			continue
		case err != nil:
			out.Why = err.Error()
			return true, nil
		case found != nil:
			*out = Looked{Port: out.Port, Found: found, Opened: true}
			return true, nil
		case cerr != nil:
			out.Why = cerr.Error()
			return true, nil
		}
		if len(heard) > 0 && (out.Heard == "" || readable(heard)) {
			out.Heard = fmt.Sprintf("%+q", heard[:min(len(heard), 60)])
			out.Why = fmt.Sprintf("something came at %d baud, and no profile knows what", s.baud)
		}
	}
	return false, nil
}

// at looks at one speed.
func (f Finder) at(ctx context.Context, port instruments.Port, name string, s attempt) (
	found *Found, heard []byte, err error) {
	a, line := &asker{c: f.Clock, port: port, end: "\n"}, s.line()
	if heard, err = a.hear(ctx, s.listen, 2*answerEnds); err != nil {
		return nil, heard, err
	}
	if x := f.sender(heard, name, line); x != nil {
		return x, heard, nil
	}
	for _, end := range []string{"\n", "\r"} {
		if !s.text {
			break
		}
		a.end = end
		got, err := a.raw(ctx, []byte(whoIsThere+end))
		if err != nil {
			return nil, heard, err
		}
		if len(got) == 0 {
			continue
		}
		if unasked(heard, got) {
			continue
		}
		x, err := f.scpi(ctx, a, name, line, got)
		if x != nil || err != nil {
			return x, got, err
		}
		heard = got
	}
	x, err := f.modbus(ctx, a, name, s)
	return x, heard, err
}

// unasked: what came as an answer is what comes anyway.
func unasked(heard, got []byte) bool {
	for _, line := range bytes.FieldsFunc(heard, func(r rune) bool { return r == '\r' || r == '\n' }) {
		if len(bytes.TrimSpace(line)) > 0 && bytes.Contains(got, line) {
			return true
		}
	}
	return false
}

// whoIsThere asks for the identity (IEEE 488.2, 10.14).
const whoIsThere = "*IDN?"
