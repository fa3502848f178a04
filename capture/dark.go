package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"sealworthy/instruments"
)

// While a question stands with the output off, somebody may switch it on at the supply, or
// pull its cable: that it was read back off when the question came says nothing of a minute
// later. So it's read back as long as the question stands. How often is our own choice: hands
// that go to a joint take longer.
const darkEvery = time.Second

// What is said of an output that is on though nothing here switched it on.
const (
	switchedOn   = "The supply's output is on: somebody switched it on there, nothing here did. It's switched off."
	switchedBack = "The supply's output was on: somebody switched it on there, nothing here did. " +
		"It's off again, read back."
	solderNot = switchedBack + " So keep the iron away from what is clipped on. Go on when the iron is back."
)

// readableOff: this supply can be asked whether its output is off, and time goes on while the
// maker is asked. One set by hand has nothing to read; simulated time stands still.
func (e *engine) readableOff() bool {
	_, ok := e.b.Supply.(instruments.OutputTeller)
	return ok && !byHand(e.b.Supply) && !e.b.Clock.Simulated() && !unattended(e.f)
}

// askDark asks with the output off, and reads back once in darkEvery that it still is. What was
// said before isn't said any longer once that isn't so: the question is taken back, and comes
// again with what was found.
func (e *engine) askDark(ctx context.Context, q Question) (Answer, error) {
	for losses := 0; ; {
		found := false
		a, err := e.askWhile(ctx, q, darkEvery, 0, func() (bool, error) {
			var err error
			found, err = e.mindDark(ctx)
			return found, err
		})
		var lost *lostError
		switch {
		case err == nil && found:
			q.Text = toldOn(q)
			continue
		case !errors.As(err, &lost) || ctx.Err() != nil:
			return a, err
		}
		if err := e.pauseDark(ctx, lost, &losses); err != nil {
			return a, err
		}
	}
}

// pauseDark waits until what was lost while a question stood is back and switched off, whatever
// it was switched to meanwhile. What goes again before it's off is waited for once more: a plug
// that is loose ends no test.
func (e *engine) pauseDark(ctx context.Context, lost *lostError, losses *int) error {
	for {
		*losses++
		if err := e.pauseLost(ctx, lost, false, *losses); err != nil {
			return err
		}
		err := e.off(ctx)
		var again *lostError
		if !errors.As(err, &again) || ctx.Err() != nil {
			return err
		}
		lost = &lostError{which: again.which, asked: true, err: again.err}
	}
}

// toldOn is what is asked once the output was found on.
func toldOn(q Question) string {
	switch {
	case q.Kind == AskSolder:
		return solderNot
	case strings.HasPrefix(q.Text, switchedBack):
		return q.Text
	}
	return switchedBack + " " + q.Text
}

// mindDark reads back that the output is off, where it's time to. found: it was on, and is off
// again. A *lostError means that it isn't known any more.
func (e *engine) mindDark(ctx context.Context) (found bool, err error) {
	now := e.b.Clock.Now()
	if e.out.on && !e.out.unsure || !e.readableOff() {
		return false, nil
	}
	if now.Before(e.dark) {
		return false, nil
	}
	on, err := e.outputIs(ctx)
	e.dark = e.b.Clock.Now().Add(darkEvery)
	switch {
	case err != nil && ctx.Err() != nil:
		return false, context.Cause(ctx)
	case err != nil:
		e.out.unsure = true // whoever shows it says so
		return false, &lostError{which: theSupply, asked: true,
			silent: !errors.Is(err, instruments.ErrPortGone), err: err}
	case !on && e.out.unsure:
		e.out.on, e.out.unsure = false, false
		e.show(Event{What: OutputOff})
	case on:
		return true, e.switchedOn(ctx)
	}
	return false, nil
}

// outputIs asks whether the output is on. A question may be asked again; on is asked twice,
// since one bit makes it of off.
func (e *engine) outputIs(ctx context.Context) (on bool, err error) {
	s := e.b.Supply.(instruments.OutputTeller)
	for range readTries {
		on, err = s.OutputIs(ctx)
		if err == nil || ctx.Err() != nil || errors.Is(err, instruments.ErrPortGone) {
			break
		}
	}
	if on && err == nil {
		if sure, again := s.OutputIs(ctx); again == nil {
			on = sure
		} // else nothing speaks against it
	}
	return on, err
}

// switchedOn takes an output that was found on for what it is: shows it, switches it off, and
// keeps with what was measured that somebody else powered it.
func (e *engine) switchedOn(ctx context.Context) error {
	e.out.on, e.out.sensing = true, false
	e.show(Event{What: Warning, Text: switchedOn})
	if err := e.off(ctx); err != nil {
		return err
	}
	if e.rec == nil {
		return e.note(Mark{Kind: MarkNote, StepID: "output", Reason: switchedBack})
	}
	if !slices.Contains(e.rec.Warnings, switchedBack) {
		e.rec.Warnings = append(e.rec.Warnings, switchedBack)
	}
	return nil
}

// mindDarkBeside is mindDark while another question stands that says nothing of soldering: it
// stays, and what was found is told beside it.
func (e *engine) mindDarkBeside(ctx context.Context) (found bool, err error) {
	was := e.out.unsure
	found, err = e.mindDark(ctx)
	var lost *lostError
	if errors.As(err, &lost) && e.out.unsure {
		if !was {
			e.show(Event{What: Warning, Text: fmt.Sprintf(
				"The supply can't be read back any more, so whether its output is off isn't known: %v.", lost.err)})
		}
		return found, nil
	}
	return found, err
}

// AskOff asks between two tests, with the output of a bench off, and minds that as within one:
// g has the supply under it meanwhile.
func AskOff(ctx context.Context, b Bench, f Face, g *Guard, q Question) (Answer, error) {
	e, err := newEngine(b, noGuide{}, f, noRecord{}, Options{Guard: g})
	if err != nil {
		return Answer{}, err
	}
	if !e.readableOff() {
		return f.Ask(ctx, q)
	}
	ctx, cancel := e.guard.Context(ctx)
	defer cancel()
	e.release = e.guard.Register(e.b.SupplyName, e.b.Supply)
	defer func() { e.release() }()
	return e.ask(ctx, q)
}
