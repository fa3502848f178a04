package record

import (
	"errors"
	"fmt"
)

// errJoin is errors.Join that gives a lone error back as it is.
func errJoin(a, b error) error {
	switch {
	case a == nil:
		return b
	case b == nil:
		return a
	}
	return errors.Join(a, b)
}

// NotKeptError says that lines could not be brought to disk. They are still
// queued; Flush tries again.
type NotKeptError struct {
	Path   string // of the file that is written to
	Offset int64  // the file is whole up to here
	Lines  int    // that wait
	Err    error  // what the disk said; Unwrap gives it
}

func (e *NotKeptError) Error() string {
	return fmt.Sprintf("%s: %d lines not on disk yet: %v (make room on the disk; they are kept in memory until then)",
		e.Path, e.Lines, e.Err)
}

// Unwrap gives the cause.
func (e *NotKeptError) Unwrap() error { return e.Err }

// NotKept: what was measured isn't all on disk under its name.
func NotKept(err error) bool {
	var waiting *NotKeptError
	var gone *GoneError
	return errors.As(err, &waiting) || errors.As(err, &gone)
}

// GoneError says that the file that is written to no longer has its name: it was
// removed, renamed or replaced meanwhile. What was in it isn't kept.
type GoneError struct {
	Path string // that it had
}

func (e *GoneError) Error() string {
	return fmt.Sprintf("%s was removed or replaced while the test ran: what was measured is not kept (put it back "+
		"from wherever it was moved to, and begin the test anew)", e.Path)
}
