package capture

import (
	"errors"
	"fmt"
	"time"

	"sealworthy/instruments"
)

// Errors that callers branch on.
var (
	// ErrStopped: the maker ended the test.
	ErrStopped = errors.New("stopped by the maker")
	// ErrUnattended: a person was needed and nobody is there. A Face returns it.
	ErrUnattended = errors.New("unattended")
)

// role is an instrument's part on the bench.
type role string

const (
	theSupply role = "supply"
	theMeter  role = "meter"
	theRelays role = "relays"
)

// tripError ends a step: the output must go off at once.
type tripError struct {
	volts  float64
	reason string
}

func (e *tripError) Error() string { return e.reason }

// skipError ends a step by the maker's wish, or because nobody is there.
type skipError struct{ reason string }

func (e *skipError) Error() string { return "skipped: " + e.reason }

// againError begins the step anew.
type againError struct{ reason string }

func (e *againError) Error() string { return e.reason }

// lostError pauses the test until an instrument is back.
type lostError struct {
	which  role
	silent bool // the port is there, the instrument doesn't answer
	asked  bool // while a question stood with the output off
	err    error
}

func (e *lostError) Error() string { return fmt.Sprintf("%s lost: %v", e.which, e.err) }
func (e *lostError) Unwrap() error { return e.err }

// sleptError pauses the test: the machine slept or its clock was set.
type sleptError struct{ jump time.Duration }

func (e *sleptError) Error() string {
	return fmt.Sprintf("the computer slept or its clock was set (%v)", e.jump.Round(time.Second))
}

// brokenError ends a step as failed: an instrument doesn't do its work.
type brokenError struct {
	which role
	err   error
}

func (e *brokenError) Error() string { return fmt.Sprintf("%s: %v", e.which, e.err) }
func (e *brokenError) Unwrap() error { return e.err }

// of says which instrument an error came from.
func of(which role, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, instruments.ErrPortGone) {
		return &lostError{which: which, err: err}
	}
	return &brokenError{which: which, err: err}
}
