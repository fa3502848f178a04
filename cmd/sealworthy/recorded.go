package main

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime/debug"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/instruments/hold"
)

// files is the machine's file system, for a record.
func (e env) files() record.OS { return record.OS{Locks: hold.User(e.getenv)} }

// program is this program with its version, as it was built.
func program() string {
	version := "unknown version"
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" {
		version = b.Main.Version
	}
	return "sealworthy " + version
}

// randomness draws the identities of builds.
func randomness() io.Reader { return rand.Reader }

// begin opens a new sitting of a build, and says what was found on the way.
func (b build) begin(e env, o record.Opening) (*record.Recorder, error) {
	o.Dir, o.Build, o.PlanRevision = b.dir, b.plan.Build, b.plan.Revision
	return beginIn(e, o)
}

// beginIn opens a new sitting in a folder.
func beginIn(e env, o record.Opening) (*record.Recorder, error) {
	o.Program, o.Random = program(), randomness()
	rec, warnings, err := record.Begin(e.files(), o)
	for _, w := range warnings {
		w.File = filepath.Join(o.Dir, filepath.FromSlash(w.File))
		wrap(e.stderr, "note: ", "  ", fmt.Sprint(w))
	}
	if errors.Is(err, record.ErrInUse) {
		return nil, withHint(err, "end that one first: two at once would mix their readings")
	}
	return rec, err
}

// runner starts what lives beside a test: under its guard, where it has one.
func runner(g *capture.Guard) instruments.Runner {
	if g == nil {
		return instruments.Go
	}
	return g.Go
}

// tell keeps something in a sitting of its own, at the stage that the build is at.
func (b build) tell(e env, do func(rec *record.Recorder, now time.Time, stage string) error) (err error) {
	f, err := record.ReadDir(b.dir)
	if err != nil {
		return err
	}
	o := record.Opening{Stage: compare.Fitted, What: record.ForWords, Now: time.Now()}
	if n := len(f.Sittings); n > 0 {
		o.Stage = f.Sittings[n-1].Stage
	}
	o.GoesOn = lastOf(f.Series(o.Stage))
	rec, err := b.begin(e, o)
	if err != nil {
		return err
	}
	return errors.Join(do(rec, o.Now, o.Stage), rec.Close())
}

// lastOf gives the last of some sittings; 0: there are none.
func lastOf(sittings []int) int {
	if len(sittings) == 0 {
		return 0
	}
	return sittings[len(sittings)-1]
}

// notKept: what was measured isn't all on disk under its name.
func notKept(err error) bool {
	var waiting *record.NotKeptError
	var gone *record.GoneError
	return errors.As(err, &waiting) || errors.As(err, &gone)
}

// keepProof keeps what the proof of a bench came to, with its readings.
func keepProof(k *record.Keeper, p *capture.Proof, stage string) error {
	if p == nil {
		return nil
	}
	told := *p
	told.Readings = nil // they are lines of their own
	b, err := json.Marshal(told)
	if err != nil {
		return err
	}
	return k.Note("proof", string(b), stage, p.At, p.Readings...)
}
