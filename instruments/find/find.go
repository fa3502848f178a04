// Package find asks on a port who is there, with what can do no harm: it listens,
// asks for the identity at the usual speeds, and reads one Modbus register. What it
// says switches and sets nothing, but for remote mode, which a supply needs before it
// takes settings.
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
	"strings"
	"time"

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
	Notes    []string         `json:"notes,omitempty"`    // sentences: what was found besides, or couldn't be
}

// Looked is what came of one port: an instrument, or why there is none.
type Looked struct {
	Port  string `json:"port"` // the system's name of it, or tcp://host:port
	Found *Found `json:"found,omitempty"`
	Why   string `json:"why,omitempty"`   // a clause without full stop
	Heard string `json:"heard,omitempty"` // what came that nothing was made of, quoted
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

// attempt is one way in which a port is opened and asked.
type attempt struct {
	baud         int
	listen       time.Duration // before anything is asked
	text, modbus bool          // what is asked
}

// attempts in the order in which they are made: the usual speeds, the first two of
// which meters have that send by themselves. Over a network lines of text would
// confuse a Modbus server, and it gets a connection of its own.
func attempts(name string) []attempt {
	if address, network := instruments.Network(name); network {
		modbusOnly := attempt{listen: listenShort, modbus: true}
		if strings.HasSuffix(address, ":502") { // Modbus Messaging on TCP/IP guide, 4.2
			return []attempt{modbusOnly}
		}
		return []attempt{{listen: listenShort, text: true}, modbusOnly}
	}
	const sends = 1100 * time.Millisecond
	return []attempt{
		{9600, sends, true, true}, {2400, sends, true, true},
		{115200, listenShort, true, true}, {19200, listenShort, true, true}, {57600, listenShort, true, true},
		{38400, listenShort, true, true}, {4800, listenShort, true, true},
	}
}

const listenShort = 100 * time.Millisecond

// Port looks who is on one port. The error is an end of ctx only: what goes wrong
// with the port is its Why.
func (f Finder) Port(ctx context.Context, name string) (Looked, error) {
	out := Looked{Port: name, Why: "nobody answers"}
	for _, s := range attempts(name) {
		line := instruments.Line{Baud: s.baud, DataBits: 8, Parity: "none", StopBits: 1}
		port, err := f.Open(ctx, name, line)
		if err != nil {
			if ctx.Err() != nil {
				return out, ctx.Err()
			}
			out.Why = err.Error()
			return out, nil
		}
		found, heard, err := f.at(ctx, port, name, line, s)
		cerr := port.Close()
		switch {
		case ctx.Err() != nil:
			return out, ctx.Err()
		case err != nil && errors.Is(err, instruments.ErrPortGone) && s.baud == 0:
			out.Why = err.Error() // a server hangs up on what it doesn't know
			continue
		case err != nil:
			out.Why = err.Error()
			return out, nil
		case found != nil:
			return Looked{Port: name, Found: found}, nil
		case cerr != nil:
			out.Why = cerr.Error()
			return out, nil
		}
		if len(heard) > 0 && (out.Heard == "" || readable(heard)) {
			out.Heard = fmt.Sprintf("%+q", heard[:min(len(heard), 60)])
			out.Why = fmt.Sprintf("something came at %d baud, and no profile knows what", s.baud)
		}
	}
	return out, nil
}

// at looks at one speed.
func (f Finder) at(ctx context.Context, port instruments.Port, name string, line instruments.Line, s attempt) (
	found *Found, heard []byte, err error) {
	a := &asker{c: f.Clock, port: port, end: "\n"}
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
	if !s.modbus {
		return nil, heard, nil
	}
	x, err := f.modbus(ctx, a, name, line)
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

// speed is the change that a profile needs for a line.
func speed(p *profile.Profile, name string, line instruments.Line) []profile.Change {
	if _, network := instruments.Network(name); network || p.Line.Baud == line.Baud {
		return nil
	}
	return []profile.Change{{Table: "line", Key: "baud", Value: fmt.Sprint(line.Baud)}}
}
