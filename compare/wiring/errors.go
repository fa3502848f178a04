package wiring

import "fmt"

// Error is a circuit problem with its place in the plan.
type Error struct {
	Where string // "group cabin windows", "joint keel", …
	Line  int    // in the plan file; 0: made by the program
	Err   error  // *circuit.Error where the circuit said it
}

func (e *Error) Error() string {
	if e.Line > 0 {
		return fmt.Sprintf("%s (plan line %d): %v", e.Where, e.Line, e.Err)
	}
	return e.Where + ": " + e.Err.Error()
}

// Unwrap is the cause.
func (e *Error) Unwrap() error { return e.Err }
