package bench

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// ErrSimulated: a simulated bench stands behind a port, and the profile doesn't
// ask who is there, so that its readings would be taken for those of a real one.
var ErrSimulated = errors.New("a simulated bench is on this port, and the profile doesn't ask for that")

const (
	whoIsThere = "*IDN?" // IEEE 488.2, 10.14
	// simulated begins the identity of every instrument of the rig.
	simulated = "SIMULATED BENCH"
	// whoTimeout is enough for the rig, whose line is as slow as a real one.
	whoTimeout = 500 * time.Millisecond
)

// undisguised refuses the rig behind a profile that wouldn't know it. Only pseudo
// terminals are asked: no cable of a real instrument ends in one.
func undisguised(ctx context.Context, c clock.Clock, port instruments.Port, name string, p *profile.Profile) error {
	if p.Identity.Ask.Send == whoIsThere || !isPseudo(name) {
		return nil
	}
	if err := port.Write(ctx, []byte(whoIsThere+"\n")); err != nil {
		return err
	}
	deadline := c.Now().Add(whoTimeout)
	var got []byte
	for !strings.Contains(string(got), simulated) && len(got) < 4096 {
		b := make([]byte, 256)
		n, err := port.ReadUntil(ctx, b, deadline)
		got = append(got, b[:n]...)
		if err != nil || n == 0 {
			break // whoever says nothing to that is no rig
		}
	}
	port.Discard()
	if strings.Contains(string(got), simulated) { // what was left on the line may stand before it
		return fmt.Errorf("%s: %w: take a built-in profile, or write [identity] ask = { send = %q } into %q", name,
			ErrSimulated, whoIsThere, p.Name)
	}
	return ctx.Err()
}

// isPseudo: a port's name, or what it links to, is that of a pseudo terminal, as
// Linux and macOS name them.
func isPseudo(name string) bool {
	if to, err := filepath.EvalSymlinks(name); err == nil {
		name = to
	}
	name = filepath.ToSlash(name)
	return strings.HasPrefix(name, "/dev/pts/") || strings.HasPrefix(name, "/dev/ttys")
}
