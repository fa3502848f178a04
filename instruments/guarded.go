package instruments

import (
	"fmt"
	"runtime/debug"
)

// PanicError is a panic that was caught on its way out.
type PanicError struct {
	Value any    // what was panicked with
	Stack []byte // as the runtime prints it
}

func (e *PanicError) Error() string {
	return fmt.Sprintf("internal error, please report it: %v", e.Value)
}

// Runner starts a goroutine under a guard: a panic in f doesn't end the program
// with an output on. died, if it isn't nil, is told of it after what can be
// switched off was.
type Runner func(f func(), died func(error))

// Go is the Runner of whoever has nothing to switch off itself: the one place
// from where drivers and what lives beside them start goroutines.
func Go(f func(), died func(error)) {
	go func() {
		defer func() {
			if p := recover(); p != nil && died != nil { // nil: nothing waits for it
				died(&PanicError{Value: p, Stack: debug.Stack()})
			}
		}()
		f()
	}()
}
