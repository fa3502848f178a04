package record

import (
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// The measurements of a record.
const (
	readingMeasurement = "reading"
	stepMeasurement    = "step"
)

// Record is one line of a file: exactly one of Reading and Mark is set. The
// names in them become tags: UTF-8 without control characters and backslashes;
// an empty one is left out. Build and the stage must be given.
type Record struct {
	Build string // the plan's build

	// Reading's time is the end of its window and must not be zero. Step says
	// what it belongs to; its Groups stand in the step's begin only.
	Reading *instruments.Reading
	Step    capture.StepRef

	Mark *capture.Mark

	// Shift is how far the recorder moved the time of this line forward because
	// the clock had been set back. The instant on that clock is At less Shift.
	Shift time.Duration
}

// At is the time of the record.
func (r Record) At() time.Time {
	switch {
	case r.Reading != nil:
		return r.Reading.At
	case r.Mark != nil:
		return r.Mark.At
	}
	return time.Time{}
}

// Keeper is a recorder for one build, as the power-on test wants it.
type Keeper struct {
	build string
	to    *Recorder
}

var _ capture.Record = (*Keeper)(nil)

// Keep gives a keeper that appends to r.
func Keep(r *Recorder, build string) *Keeper { return &Keeper{build, r} }

// Append implements capture.Record.
func (k *Keeper) Append(x instruments.Reading, of capture.StepRef) error {
	_, err := k.to.Append(Record{Build: k.build, Reading: &x, Step: of})
	return err
}

// Mark implements capture.Record.
func (k *Keeper) Mark(m capture.Mark) error {
	_, err := k.to.Append(Record{Build: k.build, Mark: &m})
	return err
}

// Sync implements capture.Record.
func (k *Keeper) Sync() error { return k.to.Flush() }

// Kept implements capture.Record.
func (k *Keeper) Kept() uint64 { return k.to.Kept() }
