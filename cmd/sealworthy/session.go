package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/hold"
	"sealworthy/instruments/plainfile"
)

// world is where instruments are opened and time comes from, and whether somebody
// can be asked: the machine's own, or a simulated bench.
type world struct {
	session.World
	terminal func(x any) bool // somebody can be asked on x
}

// machine is the world of a command that was typed.
func machine() world { return world{session.Machine(), isTerminal} }

// readBench reads the build's bench.toml; without one it's a bench of nothing.
func (b build) readBench() (*bench.Config, error) { return session.ReadBench(b.dir) }

// leads gives the resistance of the leads that bench.toml states.
func (b build) leads() (compare.Leads, error) {
	c, err := b.readBench()
	if err != nil {
		return compare.Leads{}, err
	}
	return session.LeadsOf(c), nil
}

// files is the machine's file system, for a record.
func (e env) files() record.OS { return record.OS{Locks: hold.User(e.getenv)} }

// recordIn is the record in a folder; what isn't as it should be there is said.
func recordIn(e env, dir string) session.Record {
	return session.Record{Dir: dir, Files: e.files(),
		Note: func(w record.Warning) { wrap(e.stderr, "note: ", "  ", fmt.Sprint(w)) }}
}

// record is the build's.
func (b build) record(e env) session.Record {
	r := recordIn(e, b.dir)
	r.Plan = b.plan
	return r
}

// accepted lists the checks that the maker accepted by name.
func (b build) accepted() ([]record.ByName, error) {
	return session.Record{Dir: b.dir, Plan: b.plan}.Accepted()
}

// seat is where somebody sits before a bench: what shows it and asks, and what
// switches off at the end.
type seat struct {
	desk   *session.Desk
	guard  *capture.Guard
	beside *session.Beside // nil: nothing comes from beside a test
}

// sitDown makes a seat, or takes the one that is there. leave gives the signals back.
func sitDown(e env, w world, attended bool) (s seat, leave func()) {
	if e.at != nil {
		return *e.at, watchSignals(e, e.at.guard)
	}
	s.guard = capture.NewGuard(w.Clock)
	s.desk = session.NewDesk(!attended, s.guard.Go, newFace(e, attended, s.guard.Go,
		func() { s.guard.Stop(capture.ErrStopped) }))
	return s, watchSignals(e, s.guard)
}

// session is one for a build, on a bench that isn't open yet.
func (s seat) session(e env, w world, b build, cfg *bench.Config) (*session.Session, error) {
	j, err := b.judge(session.LeadsOf(cfg))
	if err != nil {
		return nil, err
	}
	return &session.Session{World: w.World, Record: b.record(e), Judge: j, Guard: s.guard, Desk: s.desk,
		Beside:   s.beside,
		Cautions: cautionsFor(e, b.plan, w.Clock.Now())}, nil
}

// use opens the bench of a session for a build.
func (s seat) use(ctx context.Context, e env, w world, b build, cfg *bench.Config,
	over bench.Overrides) (*session.Session, error) {
	u, err := s.session(e, w, b, cfg)
	if err != nil {
		return nil, err
	}
	return u, u.OpenBench(ctx, cfg, over)
}

// explained adds to an error what to do about it, where the session says what
// happened and no more.
func explained(err error) error {
	var none *session.NoTestError
	var h *hinted
	err = inPlainWords(err)
	switch {
	case errors.As(err, &h) && slices.Contains(h.hints, mayBeOn):
	case errors.Is(err, session.ErrNotOpened):
		return withHint(err, "sealworthy ports lists the ports and tries an instrument on one")
	case errors.Is(err, session.ErrNoSupply):
		return withHint(err, "give its port: --supply PORT", "or set it yourself: --supply-by-hand")
	case errors.Is(err, record.ErrInUse):
		return withHint(err, "end that one first: two at once would mix their readings")
	case errors.As(err, &none):
		return withHint(err, "leave out --resume and --redo to begin one")
	case errors.Is(err, plainfile.ErrTooLarge), errors.Is(err, plainfile.ErrNotPlain):
		return withHint(err, "is it the right file? A plain one of a person's size is read there")
	case errors.Is(err, capture.ErrOffNotConfirmed):
		return withHint(err, mayBeOn)
	}
	return err
}

// inPlainWords says that a file isn't there in words that are the same on every system.
func inPlainWords(err error) error {
	var at *fs.PathError
	if !errors.Is(err, fs.ErrNotExist) || !errors.As(err, &at) || !strings.Contains(err.Error(), at.Error()) {
		return err
	}
	said := strings.Replace(err.Error(), at.Error(), "there is no file "+at.Path, 1)
	return &plainError{err, strings.TrimPrefix(said, at.Path+": ")}
}

// plainError is an error in other words.
type plainError struct {
	err  error
	said string
}

func (p *plainError) Error() string { return p.said }
func (p *plainError) Unwrap() error { return p.err }
