package capture

import (
	"context"
	"fmt"
	"slices"

	"sealworthy/instruments"
)

// recognise asks whether the clip is on the wrong feed: the draw fits another
// one and not this.
func (e *engine) recognise(ctx context.Context, s Step) error {
	if s.Board != "" || e.trusted[s.ID] {
		return nil // a blinker's moment says nothing
	}
	var m mean
	half := 0.0
	from := e.rec.Settled.Add(-max(s.Settle.Window, settleSpacing))
	for _, r := range e.rec.Readings {
		if r.Instrument != e.mainName() || r.Quantity != instruments.Current || r.At.Before(from) {
			continue
		}
		if v, ok := r.Float(); ok {
			m.add(v)
			half = max(half, r.HalfWidth)
		}
	}
	if m.n == 0 {
		return nil
	}
	fits := e.g.Recognise(s.Volts, m.value(), half)
	if len(fits) == 0 || slices.Contains(fits, s.Feed) {
		return nil
	}
	for _, g := range s.Groups {
		if slices.Contains(fits, g) {
			return nil
		}
	}
	if err := e.off(ctx); err != nil {
		return err
	}
	text := fmt.Sprintf("That draws like %s (%s at %.2f V), not like '%s': wrong clip? The output is off.",
		quoted(fits), amps(m.value()), s.Volts, s.Feed)
	a, err := e.ask(ctx, Question{Kind: AskClip, Text: text, Choices: []string{"done", "keep", "skip", "stop"}, Step: &s})
	if err != nil {
		return err
	}
	switch a.Choice {
	case "keep":
		e.trusted[s.ID] = true
		return &againError{"the maker says that the clip is right"}
	case "done":
		return &againError{"wrong clip: it drew like " + quoted(fits)}
	}
	return choice(a)
}
