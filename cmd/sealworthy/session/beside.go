package session

import (
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
)

// Beside reaches the sitting that is under way from outside of its test: what comes from
// beside it, a photo, is kept in the same sitting, since no other can be begun meanwhile.
// A nil Beside reaches none.
type Beside struct {
	now func() time.Time

	mu    sync.Mutex
	rec   *record.Recorder // nil: no sitting is under way
	stage string
}

// NewBeside makes one whose times are now's.
func NewBeside(now func() time.Time) *Beside { return &Beside{now: now} }

// Keep keeps something in the sitting that is under way; false: none is.
func (b *Beside) Keep(do func(rec *record.Recorder, now time.Time, stage string) error) (bool, error) {
	if b == nil {
		return false, nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.rec == nil {
		return false, nil
	}
	return true, do(b.rec, b.now(), b.stage)
}

// Mark keeps what was told in the sitting that is under way; false: none is.
func (b *Beside) Mark(marks []capture.Mark) (bool, error) {
	return b.Keep(func(rec *record.Recorder, now time.Time, stage string) error {
		return keepMarks(rec, now, stage, marks)
	})
}

// open says that a sitting is under way; shut, before it ends, that it isn't any more.
func (b *Beside) open(rec *record.Recorder, stage string) (shut func()) {
	if b == nil {
		return func() {}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.rec, b.stage = rec, stage
	return func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.rec = nil
	}
}
