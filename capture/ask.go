package capture

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"sealworthy/instruments/clock"
)

// ask waits for the maker with the output off. That it's off is all that is watched meanwhile,
// where it can be. Simulated time stands still. ctx ends it even where the face doesn't.
func (e *engine) ask(ctx context.Context, q Question) (Answer, error) {
	if e.readableOff() {
		e.dark = e.b.Clock.Now().Add(darkEvery)
		a, err := e.askDark(ctx, q)
		e.mind = watch{} // the machine may sleep while nothing is on
		return a, err
	}
	q = e.offered(q)
	began := e.b.Clock.Now()
	got := e.askBeside(ctx, q)
	select {
	case r := <-got:
		e.mind = watch{} // the machine may sleep while nothing is on
		return e.answered(ctx, q, r, began)
	case <-ctx.Done():
		return Answer{}, context.Cause(ctx)
	}
}

type reply struct {
	answer Answer
	err    error
}

// askBeside asks in a goroutine of its own, under the guard.
func (e *engine) askBeside(ctx context.Context, q Question) <-chan reply {
	got := make(chan reply, 2)
	e.guard.Go(func() {
		if err := ctx.Err(); err != nil {
			got <- reply{err: err}
			return // taken back before it was asked
		}
		a, err := e.f.Ask(ctx, q)
		got <- reply{a, err}
	}, func(err error) { got <- reply{err: err} })
	return got
}

// answered is an answer that was heeded.
func (e *engine) answered(ctx context.Context, q Question, r reply, began time.Time) (Answer, error) {
	if err := e.asked(ctx, r.err); err != nil {
		return r.answer, err
	}
	e.heardAt = e.b.Clock.Now()
	return r.answer, e.heeded(q, r.answer, began)
}

func (e *engine) asked(ctx context.Context, err error) error {
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case errors.As(err, new(*AnotherError)):
		return err
	}
	return fmt.Errorf("the question could not be asked: %w", err)
}

// choice turns an answer that isn't "go on" into an error.
func choice(a Answer) error {
	switch a.Choice {
	case "stop":
		return ErrStopped
	case "skip":
		if strings.TrimSpace(a.Text) == "" {
			a.Text = "no reason given"
		}
		return &skipError{a.Text}
	}
	return nil
}

// askWhile asks and calls tick meanwhile, each so often, until the answer comes
// or tick is done (then the question is taken back and Answer is zero) or
// fails. On a simulated clock it ticks for atLeast and then waits with time
// standing still: nobody moves while hours of it go by in a second.
func (e *engine) askWhile(ctx context.Context, q Question, every, atLeast time.Duration,
	tick func() (bool, error)) (Answer, error) {
	q = e.offered(q)
	qctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var answered clock.Gate
	got := make(chan reply, 2)
	e.guard.Go(func() {
		defer e.b.Clock.Open(&answered)
		if err := qctx.Err(); err != nil {
			got <- reply{err: err}
			return // taken back before it was asked
		}
		a, err := e.f.Ask(qctx, q)
		got <- reply{a, err}
	}, func(err error) { got <- reply{err: err} })
	began := e.b.Clock.Now()
	for {
		done, err := tick()
		now := e.b.Clock.Now()
		if done && now.Sub(began) >= longPause {
			e.away = max(e.away, now.Sub(began)) // it answered itself, and hands had time
		}
		if err != nil || done {
			return Answer{}, err
		}
		if e.b.Clock.Simulated() {
			if now.Sub(began) < atLeast {
				if err := e.wait(ctx, now.Add(every), Sampling); err != nil {
					return Answer{}, err
				}
				continue
			}
			select {
			case r := <-got:
				return e.answered(ctx, q, r, began)
			case <-ctx.Done():
				return Answer{}, context.Cause(ctx)
			}
		}
		err = e.b.Clock.Wait(ctx, &answered, now.Add(every))
		switch {
		case err == nil:
			select {
			case r := <-got:
				return e.answered(ctx, q, r, began)
			case <-ctx.Done(): // a panic opened the gate
				return Answer{}, context.Cause(ctx)
			}
		case ctx.Err() != nil:
			return Answer{}, context.Cause(ctx)
		case !errors.Is(err, clock.ErrDeadline):
			return Answer{}, err
		}
		if err := e.interrupted(); err != nil { // it's given once: lit or dark, it counts
			return Answer{}, err
		}
		if err := e.mindSeen(); err != nil && e.out.on {
			return Answer{}, err
		}
	}
}

// askWatched asks with the output on and reads meanwhile. Whoever doesn't answer
// for the step's longest time has gone away: the output goes off.
func (e *engine) askWatched(ctx context.Context, q Question) (Answer, error) {
	most := e.rec.Step.MaxTotal
	return e.askWhile(ctx, q, watchEvery, 0, func() (bool, error) {
		if most > 0 && e.b.Clock.Now().Sub(e.powered()) > most {
			return false, &skipError{"no answer within " + roughly(most)}
		}
		if byHand(e.b.Meter) {
			_, err := e.limiting(ctx) // don't ask for numbers while asking
			return false, err
		}
		_, err := e.watched(ctx, Sampling)
		return false, err
	})
}

// watchEvery is the time between readings while the maker is asked.
const watchEvery = 500 * time.Millisecond

// unattended tells whether nobody is there to be asked.
func unattended(f Face) bool {
	u, ok := f.(interface{ Nobody() bool })
	return ok && u.Nobody()
}
