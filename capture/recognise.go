package capture

import (
	"context"
	"fmt"
	"strings"

	"sealworthy/instruments"
)

// Fit is a feed and what a healthy one draws, A.
type Fit struct {
	Feed        string // a group or a board
	LowA, HighA float64
}

func (f Fit) String() string {
	return fmt.Sprintf("%q (%.1f to %.1f mA)", f.Feed, 1e3*f.LowA, 1e3*f.HighA)
}

func either(fits []Fit) string {
	var out []string
	for _, f := range fits {
		out = append(out, f.String())
	}
	return strings.Join(out, " or ")
}

// lately is what it drew since it settled, and the widest of its errors, A. Until it's
// read again, what it settled by counts; of an instrument that answers late that may be
// older than this.
func (e *engine) lately(s Step) (m mean, halfWidth float64) {
	from := e.rec.Settled.Add(-max(s.Settle.Window, settleSpacing))
	if from.Before(e.out.stands) {
		from = e.out.stands // what was read before is of another voltage
	}
	for _, r := range e.rec.Readings {
		if r.Instrument != e.mainName() || r.Quantity != instruments.Current || r.At.Before(from) {
			continue
		}
		if v, ok := r.Float(); ok {
			m.add(v)
			halfWidth = max(halfWidth, r.HalfWidth)
		}
	}
	return m, halfWidth
}

// isKnownEarly: what is on is told by what it settled by, before it's measured. A number
// typed in is asked for once, so it serves for both.
func (e *engine) isKnownEarly(s Step) bool {
	m, _ := e.lately(s)
	return m.n > 0 && !byHand(e.b.Meter)
}

// recognise asks whether the clip is on the wrong feed: the draw fits another
// one and not this.
func (e *engine) recognise(ctx context.Context, s Step) error {
	if e.trusted[s.ID] {
		return nil
	}
	m, half := e.lately(s)
	if m.n == 0 {
		return nil
	}
	own, fits := e.g.Recognise(s, m.value(), half)
	if len(fits) == 0 {
		return nil
	}
	if err := e.off(ctx); err != nil {
		return err
	}
	text := fmt.Sprintf("That draws %s at %.2f V, like %s and not like %s: wrong clip? The output is off.",
		amps(m.value()), s.Volts, either(fits), own)
	a, err := e.ask(ctx, Question{Kind: AskClip, Text: text, Choices: []string{"done", "keep", "skip", "stop"},
		Step: &s})
	if err != nil {
		return err
	}
	switch a.Choice {
	case "keep":
		e.trusted[s.ID] = true
		return &againError{"the maker says that the clip is right"}
	case "done":
		return &againError{"wrong clip: it drew like " + either(fits)}
	}
	return choice(a)
}
