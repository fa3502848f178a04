package capture

import (
	"context"
	"errors"
	"time"
)

// lookLasts is how long a look is lit before it goes dark by itself: enough to count what is
// in a window, and no lamp is forgotten in a closed hull (our own choice, no source). The maker
// may have as much again, as often as he wants.
const lookLasts = 2 * time.Minute

// Lighter is a Face that hears from its maker, while a look is asked about, that he wants more
// light: lookLasts more from then on, or dark that it's lit again. It's given once. The question
// stays open meanwhile: what was chosen in it so far isn't lost.
type Lighter interface {
	Lights() bool
}

// lightWanted tells whether the maker wants more light.
func (e *engine) lightWanted() bool {
	l, ok := e.f.(Lighter)
	return ok && l.Lights()
}

// errLight: something has to be done by hand before the look is gone on with.
var errLight = errors.New("the supply of a look is switched by hand")

// errFirstPace: a board was powered anew, and is at its first pace again.
var errFirstPace = errors.New("the board of a look began anew")

// askLit asks about what is lit. After lookLasts it goes dark by itself with the question open
// still; the maker may have it lit again. A supply that is set by hand is switched by its maker
// alone: there the question is taken back meanwhile.
func (l *looking) askLit(ctx context.Context, q Question) (Answer, error) {
	l.lightWanted() // what was asked for before doesn't count
	defer func() { l.litUntil = time.Time{} }()
	for {
		if l.out.on {
			l.litUntil = l.b.Clock.Now().Add(lookLasts)
		}
		a, err := l.askWhile(ctx, l.withLight(q), watchEvery, 0, func() (bool, error) { return false, l.mindLight(ctx) })
		if !errors.Is(err, errLight) {
			return a, err
		}
		if err := l.turnLight(ctx); err != nil {
			return Answer{}, err
		}
	}
}

// withLight says of a question that it's dark; how long it's lit each face counts down.
func (l *looking) withLight(q Question) Question {
	if !l.out.on {
		q.Text += " It is dark now: to look once more, light it again."
	}
	return q
}

// mindLight watches what is lit, ends it in time, and lights it again where that is wanted.
func (l *looking) mindLight(ctx context.Context) error {
	wanted := l.lightWanted()
	switch {
	case !l.out.on && !wanted:
		l.mind = watch{} // the machine may sleep while nothing is on
		return l.mindDarkBeside(ctx)
	case wanted && l.out.on:
		l.litUntil = l.b.Clock.Now().Add(lookLasts)
		l.show(Event{What: Lit, Text: "Two minutes more."})
	case wanted || !l.b.Clock.Now().Before(l.litUntil):
		if byHand(l.b.Supply) {
			return errLight
		}
		return l.turnLight(ctx)
	}
	l.show(Event{What: Lit})
	if byHand(l.b.Meter) {
		_, err := l.limiting(ctx) // don't ask for numbers while asking
		return err
	}
	_, err := l.watched(ctx, Sampling)
	return err
}

// turnLight switches what is lit off, or lights it again.
func (l *looking) turnLight(ctx context.Context) error {
	if l.out.on {
		if err := l.off(ctx); err != nil {
			return err
		}
		l.lightWanted() // of what was lit: nothing goes on again by a touch that was to keep it on
		l.show(Event{What: Lit, Text: "It was lit for " + roughly(lookLasts) + ", so it is off now. What you saw " +
			"counts; to look once more, light it again."})
		return nil
	}
	if err := l.ramp(ctx, l.s); err != nil {
		return err
	}
	if err := l.settle(ctx, l.s); err != nil {
		return err
	}
	stepped := len(l.pressed) > 0
	l.litUntil, l.pressed = l.b.Clock.Now().Add(lookLasts), map[string]int{}
	l.show(Event{What: Lit, Text: "It is lit again."})
	if stepped {
		return errFirstPace
	}
	return nil
}
