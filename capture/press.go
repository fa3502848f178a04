package capture

import (
	"context"
	"fmt"
	"slices"
	"time"

	"sealworthy/instruments"
)

// A button must be down for at least 100 ms to be seen by a slow board (common
// practice, no source).
const (
	pressDown  = 150 * time.Millisecond
	pressApart = 250 * time.Millisecond
)

// press steps the board's pace by relay or with the maker.
func (e *engine) press(ctx context.Context, s Step) error {
	n := e.presses(s)
	if n <= 0 {
		return nil
	}
	defer func() { e.paceOf[s.Board] = s.Pace }()
	button, ok := e.b.Buttons[s.Board]
	if !ok || e.b.Relays == nil {
		text := fmt.Sprintf("Press the button of %q %s", s.Board, times(n))
		if s.Pace != "" {
			text += fmt.Sprintf(", for the pace %q", s.Pace)
		}
		a, err := e.askPress(ctx, Question{Kind: AskPress, Text: text + ". The output is on.",
			Choices: []string{"done", "skip", "stop"}, Step: &s})
		if err != nil {
			return err
		}
		e.out.presses += n
		return choice(a)
	}
	for range n {
		if err := e.tap(ctx, s.On, button); err != nil {
			return err
		}
	}
	return nil
}

// tap presses a button by its relay once, with what is on beside it.
func (e *engine) tap(ctx context.Context, on []string, button int) error {
	channels, _ := e.channels(on)
	if err := e.b.Relays.Close(ctx, append(slices.Clone(channels), button)...); err != nil {
		return of(theRelays, err)
	}
	e.out.presses++
	if err := e.wait(ctx, e.b.Clock.Now().Add(pressDown), Settling); err != nil {
		return err
	}
	if err := e.b.Relays.Close(ctx, channels...); err != nil {
		return of(theRelays, err)
	}
	return e.wait(ctx, e.b.Clock.Now().Add(pressApart), Settling)
}

// presses tells how often to press now. A board that forgets its pace starts at
// the first one when it gets power, and what was pressed since then counts. For
// one that keeps it the pace of its last step counts: done again, none is needed.
func (e *engine) presses(s Step) int {
	switch {
	case s.Board == "":
		return 0
	case s.PressFromOn > 0:
		return s.PressFromOn - e.out.presses
	case s.Pace != "" && e.paceOf[s.Board] == s.Pace:
		return 0
	}
	return s.Press
}

// What was drawn for so long is held against the pace of a board; a longer one tells
// nothing more (our own choice).
const mostPressed = 30 * time.Second

// askPress has the maker press a button. Hands-free the change of pace is felt, and
// answers the question.
func (e *engine) askPress(ctx context.Context, q Question) (Answer, error) {
	s := *q.Step
	g, ok := e.g.(Pacer)
	if !ok || !e.o.HandsFree || s.Pace == "" || e.b.Meter == nil || byHand(e.b.Meter) {
		return e.askWatched(ctx, q)
	}
	q.Text += " The change is felt: then it goes on by itself."
	q, began := e.offered(q), e.b.Clock.Now()
	asking, takeBack := context.WithCancel(ctx)
	defer takeBack()
	answers := e.askBeside(asking, q)
	var drew []instruments.Reading
	for {
		select {
		case r := <-answers:
			return e.answered(ctx, q, r, began)
		default:
		}
		now := e.b.Clock.Now()
		if most := s.MaxTotal; most > 0 && now.Sub(began) > most {
			return Answer{}, &skipError{"no answer within " + roughly(most)}
		}
		if e.b.Clock.Simulated() && now.Sub(began) > senseFor { // nobody moves while hours of it go by in a second
			select {
			case r := <-answers:
				return e.answered(ctx, q, r, began)
			case <-ctx.Done():
				return Answer{}, context.Cause(ctx)
			}
		}
		r, err := e.watched(ctx, Sampling)
		if err != nil {
			return Answer{}, err
		}
		if r == nil || r.Instrument != e.mainName() || r.Quantity != instruments.Current {
			continue
		}
		drew = slices.DeleteFunc(append(drew, *r),
			func(x instruments.Reading) bool { return r.At.Sub(x.At) > mostPressed })
		if g.Runs(s, drew) {
			e.show(Event{What: Told, Step: &s, Text: fmt.Sprintf("%q runs at %q now.", s.Board, s.Pace)})
			if now.Sub(began) >= longPause {
				e.away = max(e.away, now.Sub(began)) // it answered itself, and hands had time
			}
			return Answer{Choice: "done"}, nil
		}
	}
}
