package capture

import (
	"context"
	"errors"
	"fmt"

	"sealworthy/instruments"
)

// FoundOn is said where a supply's output was on as its bench was opened.
const FoundOn = "The supply's output was on. It is off now."

// Quiet switches the output of a supply off as its bench is opened, before
// anything else is done with it, and has that confirmed. It tells whether the
// output was found on; a supply that can't be asked is switched off all the same.
// A supply set by hand is switched off when a test begins: it costs a person.
//
// The error is ErrOffNotConfirmed where the supply didn't confirm it.
func (g *Guard) Quiet(ctx context.Context, s instruments.Supply) (foundOn bool, err error) {
	if byHand(s) {
		return false, nil
	}
	if t, ok := s.(instruments.OutputTeller); ok {
		foundOn, err = t.OutputIs(ctx)
		if again := err != nil && ctx.Err() == nil && !errors.Is(err, instruments.ErrPortGone); again {
			foundOn, err = t.OutputIs(ctx) // a question may be asked again
		}
	}
	if off := g.off(ctx, s); off != nil {
		return foundOn, fmt.Errorf("the supply: %w", off)
	}
	return foundOn && err == nil, nil
}
