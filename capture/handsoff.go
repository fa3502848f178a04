package capture

import (
	"context"
	"time"
)

// handsOff tells, for a tone, that a step is about to be powered, and gives the time until which
// hands have to let go.
func (e *engine) handsOff(s Step, text string) (until time.Time) {
	e.show(Event{What: HandsOff, Step: &s, Text: text})
	return e.b.Clock.Now().Add(handsOffFor)
}

// handsNear: what is powered now follows on what the maker did so closely that his hands may be
// at the clip still: a pedal is pressed, or a page touched, with the other hand there. A supply
// that he sets he switches himself. Where nothing is felt, and no look is lit, the low voltages
// at which a ramp begins are all the time that a hand on a key needs.
func (e *engine) handsNear(s Step) bool {
	return (s.Kind == Look || e.o.HandsFree) && !byHand(e.b.Supply) && !unattended(e.f) &&
		e.b.Clock.Now().Sub(e.heardAt) < handsOffFor
}

// letHandsGo gives hands a second where they may be near, with the output off.
func (e *engine) letHandsGo(ctx context.Context, s Step, text string) error {
	if !e.handsNear(s) {
		return nil
	}
	return e.wait(ctx, e.handsOff(s, text), RampStep) // the tone isn't told twice
}
