package main

import (
	"encoding/json"
	"fmt"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare/plan"
)

// correct changes the plan's file to src and keeps in the record that it did, in a
// sitting that is begun first: while a test of the build is running, its plan stays.
// After page.ErrNotNoted the file is changed all the same.
func (b build) correct(e env, src []byte, change string) (build, error) {
	p, problems := plan.ParseWith(b.file, src, plan.Options{Book: b.book})
	if len(problems) > 0 {
		return b, planError(b.file, problems)
	}
	told, err := json.Marshal(struct {
		Change string `json:"change"`
		Was    string `json:"was"` // the plan's revision before it
		Is     string `json:"is"`
	}{change, b.plan.Revision, p.Revision})
	if err != nil {
		return b, err
	}
	is, written := b, false
	is.plan, is.src = p, src
	err = is.record(e).Tell(func(rec *record.Recorder, now time.Time, stage string) error {
		if err := writeEdited(b.file, b.src, src); err != nil {
			return err
		}
		written = true
		return record.Keep(rec).Note("plan corrected", string(told), stage, now)
	})
	switch {
	case !written:
		return b, err
	case err != nil:
		return is, fmt.Errorf("%w: %w", page.ErrNotNoted, err)
	}
	return is, nil
}

// replan changes the plan's file of a build of which nothing was measured: there is
// nothing to note, but a test that is running keeps its plan.
func (b build) replan(e env, src []byte) (err error) {
	unlock, err := e.files().Lock(b.dir)
	if err != nil {
		return err
	}
	err = writeEdited(b.file, b.src, src)
	if uerr := unlock(); err == nil && uerr != nil { // the file is changed
		err = fmt.Errorf("%w: %w", page.ErrNotNoted, uerr)
	}
	return err
}
