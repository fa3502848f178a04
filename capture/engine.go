package capture

import (
	"context"
	"errors"
)

// Run carries out the steps that g gives, one after another, and returns what
// became of them: first those of o.Done, then its own. Records that a redo
// replaced are in the record only.
func Run(ctx context.Context, b Bench, g Guide, f Face, r Record, o Options) ([]StepRecord, error) {
	return nil, errors.New("not written yet")
}
