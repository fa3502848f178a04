package capture

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sealworthy/instruments"
)

// How long the wall clock may part from the monotonic one, or a wait overrun,
// before the machine is taken to have slept.
const (
	sleptAfter   = 2 * time.Second
	overrunAfter = 5 * time.Second
	retryEvery   = time.Second
	tooOften     = 3 // losses in one step
)

// watch notices that the machine slept while the output was on.
type watch struct {
	now, wall time.Time
}

func (e *engine) times() (now, wall time.Time) {
	now = e.b.Clock.Now()
	if e.o.Wall != nil {
		return now, e.o.Wall()
	}
	return now, now.Round(0) // without the monotonic part
}

// mindTime looks whether the maker wants something else, and minds what mindSeen does.
func (e *engine) mindTime() error {
	if err := e.interrupted(); err != nil {
		return err
	}
	return e.mindSeen()
}

// mindSeen looks whether the test is seen, and compares both clocks with the last time. On
// some systems the monotonic clock stands still in suspend; a step of the wall clock looks
// the same, and after either the times of a trace can't be trusted.
func (e *engine) mindSeen() error {
	if err := e.seen(); err != nil {
		return err
	}
	now, wall := e.times()
	last := e.mind
	e.mind = watch{now, wall}
	if last.now.IsZero() {
		return nil
	}
	jump := wall.Sub(last.wall) - now.Sub(last.now)
	if jump > sleptAfter || jump < -sleptAfter {
		return &sleptError{jump}
	}
	return nil
}

// wait sleeps until a time, with a sign of life each second.
func (e *engine) wait(ctx context.Context, until time.Time, what EventKind) error {
	for {
		now := e.b.Clock.Now()
		if !now.Before(until) {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			return nil
		}
		next := now.Add(e.lookedAt())
		if next.After(until) {
			next = until
		}
		if err := e.b.Clock.Wait(ctx, nil, next); err != nil {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			return err
		}
		if over := e.b.Clock.Now().Sub(next); over > overrunAfter {
			return &sleptError{over}
		}
		if err := e.mindTime(); err != nil {
			return err
		}
		if next.Before(until) {
			e.show(Event{What: what})
		}
	}
}

// pauseAway waits for the maker after a sleep, or when nobody saw the test. The
// output is off. Nobody there: it goes on by itself, since the step begins anew.
func (e *engine) pauseAway(ctx context.Context, why error) error {
	var s *sleptError
	if errors.As(why, &s) && s.jump >= longPause {
		e.away = max(e.away, s.jump)
	}
	e.show(Event{What: Paused, Text: why.Error() + ". The output is off; the step is measured again."})
	a, err := e.ask(ctx, Question{Kind: AskPlug, Text: why.Error() + ". The output is off. Begin this step " +
		"once more?",
		Choices: []string{"done", "stop"}})
	if errors.Is(err, ErrUnattended) {
		return nil
	}
	if err != nil {
		return err
	}
	return choice(a)
}

// pauseLost waits until a lost instrument is back and is the same one. With hold
// the output stays on at its limit and the supply is watched meanwhile.
//
// The engine tries by itself each second; after tooOften only when the maker
// says so, since a cable that is loose would go in circles.
func (e *engine) pauseLost(ctx context.Context, lost *lostError, hold bool, times int) error {
	state := "The output is off."
	switch {
	case lost.which == theSupply && !e.out.on && lost.asked:
		state = "Its output was off when it last answered; whether it is now isn't known: don't solder."
	case lost.which == theSupply && !e.out.on:
		state = "Its output was off when it last answered."
	case lost.which == theSupply:
		state = "Its output may still be on at its limit of " + amps(e.out.limit) +
			": switch it off by hand if you can."
	case hold:
		state = "The output is held on at its limit of " + amps(e.out.limit) + "."
	}
	text, mend := fmt.Sprintf("The %s's cable is out.", lost.which),
		"Plug it in; the step is measured again from its start."
	if lost.silent {
		text, mend = fmt.Sprintf("The %s says nothing. Has it switched itself off?", lost.which),
			"Switch it on; the step is measured again from its start."
	}
	if lost.asked {
		if lost.silent {
			text = fmt.Sprintf("The %s can't be read back.", lost.which)
		}
		mend = "Once it answers it's switched off, and what was asked is asked again."
	}
	e.show(Event{What: Paused, Text: text + " " + state})
	q := Question{Kind: AskPlug, Which: string(lost.which), Text: text + " " + state + " " + mend,
		Help: fmt.Sprintf("It was lost with: %v.", lost.err), Choices: offered(lost, nil)}
	var stranger *StrangerError
	if unattended(e.f) {
		if times > tooOften {
			return fmt.Errorf("the %s was lost %d times in one step: %w", lost.which, times, lost.err)
		}
		return e.retryAlone(ctx, lost)
	}
	for {
		back := false
		a, err := e.askWhile(ctx, q, retryEvery, 0, func() (bool, error) {
			if hold {
				limiting, err := e.limiting(ctx)
				if err != nil {
					return false, err
				}
				if limiting {
					return false, e.tripOn(nil, true)
				}
			}
			if lost.which != theSupply && !hold {
				if _, err := e.mindDarkBeside(ctx); err != nil {
					return false, err
				}
			}
			if (!lost.silent || lost.asked) && times <= tooOften {
				known := stranger != nil
				err := e.back(ctx, lost)
				back = err == nil
				if errors.As(err, &stranger) && !known {
					return true, nil // whether that is the new one is to be asked
				}
			}
			return back, nil
		})
		if err != nil {
			return err
		}
		if back {
			return e.sameToTheEye(ctx, lost)
		}
		switch {
		case a.Choice == Another && stranger != nil:
			return &AnotherError{stranger, false}
		case a.Choice == Another:
			return &AnotherError{&StrangerError{Which: string(lost.which), Was: e.ids[lost.which]}, false}
		}
		if err := choice(a); err != nil {
			return err
		}
		if a.Choice != "" { // else the question was taken back for one about a stranger
			stranger = nil
			if err = e.back(ctx, lost); err == nil {
				return e.sameToTheEye(ctx, lost)
			}
			errors.As(err, &stranger)
		} else {
			err = stranger
		}
		q.Choices = offered(lost, stranger)
		q.Text = fmt.Sprintf("The %s isn't back: %v. %s", lost.which, err, state)
		if stranger != nil {
			q.Text += fmt.Sprintf(" Is it another %s now? Then this test ends here, and goes on once the bench is "+
				"proved with it.", lost.which)
		}
	}
}

// retryAlone tries for a while where nobody can be asked.
func (e *engine) retryAlone(ctx context.Context, lost *lostError) error {
	end := e.b.Clock.Now().Add(e.o.ReplugFor)
	for {
		err := e.back(ctx, lost)
		if err == nil {
			return nil
		}
		if !e.b.Clock.Now().Before(end) {
			return fmt.Errorf("the %s is gone and didn't come back within %s: %w", lost.which, roughly(e.o.ReplugFor),
				err)
		}
		e.mind = watch{}
		if err := e.wait(ctx, e.b.Clock.Now().Add(retryEvery), Paused); err != nil {
			return err
		}
	}
}

// back opens a lost instrument again and checks that it is the same one. A
// supply that is back is switched off at once.
func (e *engine) back(ctx context.Context, lost *lostError) error {
	if lost.silent {
		return e.speaks(ctx, lost)
	}
	var (
		x   any
		err error
	)
	switch lost.which {
	case theMeter:
		if e.b.ReopenMeter == nil {
			return fmt.Errorf("it can't be opened again: %w", lost.err)
		}
		var m instruments.Meter
		if m, err = e.b.ReopenMeter(ctx); err == nil {
			x = m
		}
	case theSupply:
		// It may have been opened again already, to switch it off (rescue): its
		// port is in use then, by us.
		if _, lerr := e.b.Supply.Limiting(ctx); lerr == nil {
			return e.off(ctx)
		}
		if e.b.ReopenSupply == nil {
			return fmt.Errorf("it can't be opened again: %w", lost.err)
		}
		var s instruments.Supply
		if s, err = e.b.ReopenSupply(ctx); err == nil {
			x = s
		}
	case theRelays:
		if e.b.ReopenRelays == nil {
			return fmt.Errorf("it can't be opened again: %w", lost.err)
		}
		var r instruments.Relays
		if r, err = e.b.ReopenRelays(ctx); err == nil {
			x = r
		}
	}
	if err != nil {
		return err
	}
	if x == nil {
		return errors.New("it isn't there")
	}
	if err := e.same(ctx, lost.which, x); err != nil {
		return err
	}
	switch v := x.(type) {
	case instruments.Supply:
		e.release()
		e.b.Supply = v
		e.release = e.guard.Register(e.b.SupplyName, v)
		return e.off(ctx)
	case instruments.Meter:
		e.b.Meter = v
	case instruments.Relays:
		e.b.Relays = v
	}
	return nil
}

// speaks reads a silent instrument once.
func (e *engine) speaks(ctx context.Context, lost *lostError) error {
	var err error
	if lost.which == theMeter {
		_, err = e.b.Meter.Read(ctx, instruments.Current)
	} else {
		_, err = e.b.Supply.Limiting(ctx)
	}
	return err
}
