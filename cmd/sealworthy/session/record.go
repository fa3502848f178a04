package session

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// Record is where what is measured and told of a build is kept. Its lock is taken
// with each sitting that is begun, against other runs of the program.
type Record struct {
	Dir   string // the build's folder
	Plan  *plan.Plan
	Files record.OS // where bytes go: the machine's own, or one of a test
	// Note is told what was found not to be as it should when a sitting was begun;
	// nil: nobody is.
	Note func(record.Warning)
}

// partBook is what a record is of that is of no build: of loose pieces.
const partBook = "part book"

// Begin opens a new sitting of the build.
func (r Record) Begin(o record.Opening) (*record.Recorder, error) {
	if r.Plan != nil {
		o.Build, o.PlanRevision = r.Plan.Build, r.Plan.Revision
	}
	o.Dir, o.Program, o.Random = r.Dir, Program(), rand.Reader
	rec, warnings, err := record.Begin(r.Files, o)
	for _, w := range warnings {
		w.File = filepath.Join(o.Dir, filepath.FromSlash(w.File))
		if r.Note != nil {
			r.Note(w)
		}
	}
	return rec, err
}

// Program is this program with its version, as it was built.
func Program() string {
	version := "unknown version"
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" {
		version = b.Main.Version
	}
	return "sealworthy " + version
}

// folded reads all sittings. What is wrong with them stands in it.
func (r Record) folded() (record.Folded, error) {
	f, err := record.ReadDir(r.Dir)
	f.ExpectBuild(r.Plan.Build)
	return f, err
}

// Accepted lists the checks of the plan that the maker accepted by name.
func (r Record) Accepted() ([]record.ByName, error) {
	f, err := r.folded()
	return f.Allowed, err
}

// NoTestError: there is no test to go on with.
type NoTestError struct{ Stage string }

func (e *NoTestError) Error() string {
	return fmt.Sprintf("no test at stage %s was begun yet", e.Stage)
}

// GoesOn gives the sittings of the latest test of a stage, and their steps.
func (r Record) GoesOn(stage string) ([]int, []capture.StepRecord, error) {
	f, err := record.ReadDir(r.Dir)
	if err != nil {
		return nil, nil, err
	}
	series := f.Series(stage)
	if len(series) == 0 {
		return nil, nil, &NoTestError{stage}
	}
	return series, f.StepsOf(series), nil
}

// Tell keeps something in a sitting of its own, at the stage that the build is at.
func (r Record) Tell(do func(rec *record.Recorder, now time.Time, stage string) error) error {
	f, err := record.ReadDir(r.Dir)
	if err != nil {
		return err
	}
	stage := compare.Fitted
	if n := len(f.Sittings); n > 0 {
		stage = f.Sittings[n-1].Stage
	}
	return r.words(f, stage, time.Now(), do)
}

// Mark keeps marks in a sitting of their own, that goes on with the latest test of
// the stage. They come after all that is recorded, whatever the clock says.
func (r Record) Mark(stage string, marks []capture.Mark, now time.Time) error {
	f, err := record.ReadDir(r.Dir)
	if err != nil {
		return err
	}
	return r.words(f, stage, now, func(rec *record.Recorder, now time.Time, stage string) error {
		return keepMarks(rec, now, stage, marks)
	})
}

// keepMarks keeps marks in a sitting that is open.
func keepMarks(rec *record.Recorder, now time.Time, stage string, marks []capture.Mark) error {
	k := record.Keep(rec)
	for i, m := range marks {
		m.At, m.Stage = now.Add(time.Duration(i)*time.Millisecond), stage
		if err := k.Mark(m); err != nil {
			return err
		}
	}
	return k.Sync()
}

// words keeps what is told, not measured.
func (r Record) words(f record.Folded, stage string, now time.Time,
	do func(rec *record.Recorder, now time.Time, stage string) error) error {
	rec, err := r.Begin(record.Opening{Build: partBook, Stage: stage, What: record.ForWords, Now: now,
		GoesOn: LastOf(f.Series(stage))})
	if err != nil {
		return err
	}
	return errors.Join(do(rec, now, stage), rec.Close())
}

// LastOf gives the last of some sittings; 0: there are none.
func LastOf(sittings []int) int {
	if len(sittings) == 0 {
		return 0
	}
	return sittings[len(sittings)-1]
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
