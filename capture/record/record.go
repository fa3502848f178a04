package record

import (
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// The measurements of a record.
const (
	readingMeasurement    = "reading"
	stepMeasurement       = "step"
	sittingMeasurement    = "sitting"
	instrumentMeasurement = "instrument"
	fileMeasurement       = "file"
	damageMeasurement     = "damage"
)

// Record is what one line of a file says: exactly one of its pointers is set.
// The names in it become tags: UTF-8 without control characters and backslashes;
// an empty one is left out.
type Record struct {
	// Build is the name that a line of before the chain carries; in the chain it
	// stands in the sitting's first line.
	Build string

	// Reading's time is the end of its window and must not be zero. Step says
	// what it belongs to; its Groups stand in the step's begin only.
	Reading *instruments.Reading
	Step    capture.StepRef // of Reading

	Mark *capture.Mark

	Sitting    *SittingLine // the first or last line of a sitting
	Instrument *Described   // what an instrument is
	File       *Attached    // of a file beside the chain
	Found      *Found

	// Simulated is what the line says of itself.
	Simulated bool
	// Order is where the line stands; filled in on reading.
	Order capture.Order
}

// SittingLine is the first or, with End, the last line of a sitting.
type SittingLine struct {
	At  time.Time
	End bool // it is the last line
	// BrokeOff is what broke the sitting off, in words; of the last line. Empty: nothing did.
	BrokeOff string
	Stage    string
	What     string // what it was opened for: test, told, check, ...

	Name         string        // the build's, for people
	PlanRevision string        // of the plan as it stood then
	Program      string        // and its version
	Bench        string        // which instruments stand there, as they call themselves
	GoesOn       int           // the number of the sitting that it goes on with; 0: none
	Behind       time.Duration // how far its start lies before the last time of the sitting before it
	From         string        // of a conversion: the file of before the chain, and its SHA-256
}

// Described says what an instrument is.
type Described struct {
	Name  string
	Is    instruments.Description // as the instrument itself or its profile says
	At    time.Time
	Stage string
}

// Attached is a file that lies beside the chain. Whoever takes it away harms
// nothing; whoever changes it is seen.
type Attached struct {
	Name   string        `json:"name"`   // relative to the build's folder, with slashes
	Bytes  int64         `json:"bytes"`  // its length when it was attached
	SHA256 string        `json:"sha256"` // in hex, of the whole file
	At     time.Time     `json:"at"`
	Stage  string        `json:"-"`
	Order  capture.Order `json:"order"`
}

// Found is damage to the head that was seen when the sitting began and can't be
// seen any more.
type Found struct {
	Name, What string // by which it is answered, and what was wrong, in plain words
	At         time.Time
	Stage      string
}

// At is the time of the record.
func (r Record) At() time.Time {
	switch {
	case r.Reading != nil:
		return r.Reading.At
	case r.Mark != nil:
		return r.Mark.At
	case r.Sitting != nil:
		return r.Sitting.At
	case r.Instrument != nil:
		return r.Instrument.At
	case r.File != nil:
		return r.File.At
	case r.Found != nil:
		return r.Found.At
	}
	return time.Time{}
}

// withAt gives the record with another time. What a record points to is shared,
// so it's copied first.
func (r Record) withAt(at time.Time) Record {
	switch {
	case r.Reading != nil:
		x := *r.Reading
		x.At, r.Reading = at, &x
	case r.Mark != nil:
		x := *r.Mark
		x.At, r.Mark = at, &x
	case r.Sitting != nil:
		x := *r.Sitting
		x.At, r.Sitting = at, &x
	case r.Instrument != nil:
		x := *r.Instrument
		x.At, r.Instrument = at, &x
	case r.File != nil:
		x := *r.File
		x.At, r.File = at, &x
	case r.Found != nil:
		x := *r.Found
		x.At, r.Found = at, &x
	}
	return r
}

// Keeper is a recorder as the power-on test wants it.
type Keeper struct {
	to     *Recorder
	mu     sync.Mutex
	marked capture.Order
}

var (
	_ capture.Record = (*Keeper)(nil)
	_ capture.Placed = (*Keeper)(nil)
)

// Keep gives a keeper that appends to r.
func Keep(r *Recorder) *Keeper { return &Keeper{to: r} }

// Append implements capture.Record.
func (k *Keeper) Append(x instruments.Reading, of capture.StepRef) error {
	_, err := k.to.Append(Record{Reading: &x, Step: of})
	return err
}

// Mark implements capture.Record.
func (k *Keeper) Mark(m capture.Mark) error {
	seq, err := k.to.Append(Record{Mark: &m})
	if seq > 0 {
		k.mu.Lock()
		k.marked = capture.OrderAt(k.to.Number(), int(seq))
		k.mu.Unlock()
	}
	return err
}

// LastMark implements capture.Placed.
func (k *Keeper) LastMark() capture.Order {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.marked
}

// Note keeps words, or JSON, that judge nothing, with the readings they rest on.
func (k *Keeper) Note(name, text, stage string, at time.Time, readings ...instruments.Reading) error {
	id := noteStep + name
	for _, x := range readings {
		if err := k.Append(x, capture.StepRef{StepID: id, Stage: stage}); err != nil {
			return err
		}
	}
	return k.Mark(capture.Mark{Kind: capture.MarkNote, At: at, StepID: name, Stage: stage, Reason: text})
}

// Sync implements capture.Record.
func (k *Keeper) Sync() error { return k.to.Flush() }

// Kept implements capture.Record.
func (k *Keeper) Kept() uint64 { return k.to.Kept() }
