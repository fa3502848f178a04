package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
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

// What is said before a look is lit, and where it isn't for what came meanwhile.
const (
	litSoon    = "It is lit in a second: hands off."
	staysDark  = "It stays dark. Ask for light once more when your hands are off."
	darkUnseen = "It stays dark: nobody could see the test meanwhile."
	darkUnsure = "It stays dark: the supply doesn't say whether its output is off. Ask for light once more when it does."
	darkTaken  = "It stays dark: somebody switched the output on at the supply meanwhile, and it's off again. " +
		"Ask for light once more when your hands are off."
)

// errLight: something has to be done by hand before the look is gone on with.
var errLight = errors.New("the supply of a look is switched by hand")

// errFirstPace: a board was powered anew, and is at its first pace again.
var errFirstPace = errors.New("the board of a look began anew")

// askLit asks about what is lit. After lookLasts it goes dark by itself with the question open
// still; the maker may have it lit again. A supply that is set by hand is switched by its maker
// alone: there the question is taken back meanwhile.
func (l *looking) askLit(ctx context.Context, q Question) (Answer, error) {
	l.lightWanted() // what was asked for before doesn't count
	defer func() { l.litUntil, l.lightAt = time.Time{}, time.Time{} }()
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

// mindLight watches what is lit, ends it in time, and lights it again where that is wanted: after
// a second, for hands to let go. What comes in that second leaves it dark: an answer, a further
// touch, nobody who sees it, a supply that says nothing any more, a hand at the supply's key.
func (l *looking) mindLight(ctx context.Context) error {
	wanted := l.lightWanted()
	switch now := l.b.Clock.Now(); {
	case !l.out.on && !l.lightAt.IsZero():
		return l.mindSecond(ctx, wanted)
	case !l.out.on && !wanted:
		l.mind = watch{} // the machine may sleep while nothing is on
		_, err := l.mindDarkBeside(ctx)
		return err
	case byHand(l.b.Supply) && (!l.out.on || !now.Before(l.litUntil)): // its maker switches, and knows
		return errLight
	case !l.out.on:
		l.lightAt = l.handsOff(l.s, litSoon)
		return nil
	case wanted:
		l.litUntil = now.Add(lookLasts)
		l.show(Event{What: Lit, Text: "Two minutes more."})
	case !now.Before(l.litUntil):
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

// mindSecond minds the second before it's lit again.
func (l *looking) mindSecond(ctx context.Context, wanted bool) error {
	w, watches := l.f.(Watcher)
	over := !l.b.Clock.Now().Before(l.lightAt)
	if over {
		l.dark = time.Time{} // a key that was pressed since it was read back last counts, too
	}
	switch found, err := l.mindDarkBeside(ctx); {
	case err != nil:
		return err
	case l.out.unsure: // before what was found: it may be on still
		return l.stayDark(darkUnsure)
	case found:
		return l.stayDark(darkTaken)
	case wanted:
		return l.stayDark(staysDark)
	case watches && !w.Watched():
		return l.stayDark(darkUnseen)
	case !over:
		return nil
	}
	l.lightAt = time.Time{}
	return l.turnLight(ctx)
}

// stayDark gives up lighting it again, and says why.
func (l *looking) stayDark(why string) error {
	l.lightAt = time.Time{}
	l.show(Event{What: Lit, Text: why})
	return nil
}

// turnLight switches what is lit off, or lights it again.
func (l *looking) turnLight(ctx context.Context) error {
	if l.out.on {
		l.drew = l.drewLit()
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
	if changed, err := l.changedInTheDark(ctx); changed || err != nil {
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

// drewLit is the least and the most that was drawn since what is lit settled, A; nil: nobody
// read it.
func (l *looking) drewLit() []float64 {
	var all []float64
	for _, r := range l.readSince(l.rec.Settled) {
		if v, ok := r.Float(); ok {
			all = append(all, v)
		}
	}
	if len(all) == 0 || byHand(l.b.Meter) {
		return nil
	}
	return []float64{slices.Min(all), slices.Max(all)}
}

// changedInTheDark switches what was lit again off where it draws more than it ever did before
// it went dark, or less, whatever of it blinks: hands were at it. Asked for once more it's lit.
func (l *looking) changedInTheDark(ctx context.Context) (bool, error) {
	was := l.drew
	m, _ := l.lately(l.s)
	if was == nil || m.n == 0 {
		return false, nil
	}
	least, most, now := was[0], was[1], m.value()
	if now >= (1-feelRel)*least && now <= (1+feelRel)*most {
		return false, nil
	}
	l.drew = nil // what it draws now is right, if it's lit once more
	if err := l.off(ctx); err != nil {
		return true, err
	}
	l.lightWanted() // of what was lit
	l.show(Event{What: Lit, Text: fmt.Sprintf("It draws %s now, and drew %s to %s before it went dark: something "+
		"was changed, so it is off. See to it; then light it again.", amps(now), amps(least), amps(most))})
	return true, nil
}
