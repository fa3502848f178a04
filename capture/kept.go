package capture

import (
	"context"
	"errors"
	"fmt"
)

// keptError says that the record refuses what was measured.
type keptError struct {
	err   error
	final bool // nobody wants to try again
}

func (e *keptError) Error() string { return fmt.Sprintf("the record can't be kept: %v", e.err) }
func (e *keptError) Unwrap() error { return e.err }

// keptTries is how often the maker may try again.
const keptTries = 20

// synced waits until all that was measured is on disk. Where the record can't be
// kept - the disk is full, its file was removed - the test pauses with the output
// off until the maker has mended that; with nobody there it ends.
func (e *engine) synced(ctx context.Context) error {
	for try := 0; ; try++ {
		err := e.r.Sync()
		if err == nil {
			return nil
		}
		kept := &keptError{err, true}
		if off := e.off(ctx); off != nil || try == keptTries || unattended(e.f) || ctx.Err() != nil {
			return errors.Join(kept, off)
		}
		text := kept.Error() + ". The output is off. When that is mended it is tried again."
		e.show(Event{What: Paused, Text: text})
		a, aerr := e.ask(ctx, Question{Kind: AskPlug, Text: text, Choices: []string{"done", "stop"}})
		if aerr != nil || a.Choice == "stop" {
			return errors.Join(kept, aerr)
		}
	}
}
