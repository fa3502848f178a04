package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// With both hands at the clips nobody has one for a key: what they hold is felt, too, at a
// volt, where no LED conducts, and under a small limit. Clips apart draw nothing, clips
// together are held back at the limit, the known resistor draws what it must. It is read as
// it always is after that; what is never felt, as with a blown fuse, the maker says is there,
// and the reading tells what is wrong.
//
// A clip that hangs on a group draws nothing at a volt, as clips apart do, and 5 V would go
// to it. So it begins with a sign of the maker's: the clips touch once.
//
// How much, and how often it must be felt, is our own choice, no source.
const (
	proveFeelV     = 1.0
	proveFeelA     = 0.010
	proveFeelMostA = 0.020 // that the supply's protection stands by: a limit as small may be off by a third
	proveFeelRel   = 0.3   // of what the known resistor draws
	proveFeelTimes = 3     // readings in a row
)

// held is what hands hold between the clips.
type held int

// What a proof asks for.
const (
	heldApart held = iota
	heldTogether
	heldResistor
)

// signs are what is felt one after the other until hands are as they should be.
func (h held) signs() []held {
	if h == heldApart {
		return []held{heldTogether, heldApart}
	}
	return []held{h}
}

// fitsHeld tells whether what is felt is what was asked for.
func (l *sensing) fitsHeld(f Felt, want held, knownOhm float64) bool {
	must := f.Volts / knownOhm
	switch want {
	case heldApart:
		return !l.some(f)
	case heldTogether:
		return f.Limited
	}
	return !f.Limited && l.some(f) && math.Abs(f.Amps-must) <= proveFeelRel*must
}

// hands has the maker arrange the clips. Hands-free it goes on by itself once they are so.
func (pr *proving) hands(ctx context.Context, ask string, want held) error {
	for {
		done, err := pr.felt(ctx, ask, want)
		if off := pr.off(ctx); off != nil {
			return errors.Join(err, off)
		}
		var slept *sleptError
		var unseen *unseenError
		switch {
		case err == nil && done:
			return nil
		case err == nil: // it can't be felt for, or nothing came for long
			a, err := pr.ask(ctx, Question{Kind: AskClip, Text: ask + " The output is off.",
				Choices: []string{"done", "skip", "stop"}})
			if err != nil {
				return err
			}
			return choice(a)
		case ctx.Err() == nil && (errors.As(err, &slept) || errors.As(err, &unseen)):
			err = pr.pauseAway(ctx, err)
		}
		if err != nil {
			return err
		}
	}
}

// feeler gives what hands are felt with; nil: the bench can't, or isn't to.
func (pr *proving) feeler(ctx context.Context) (*sensing, error) {
	if !pr.o.HandsFree || unattended(pr.f) || byHand(pr.b.Supply) || pr.b.Meter == nil || byHand(pr.b.Meter) {
		return nil, nil
	}
	pt := RampPoint{Volts: pr.atMost(proveFeelV), LimitA: pr.noMore(proveFeelA)}
	most := RampPoint{Volts: pt.Volts, LimitA: pr.clamp(proveFeelMostA)}
	l := &sensing{engine: pr.engine, f: Feeling{Points: []RampPoint{pt, most}}}
	count, err := pr.feelRange(ctx, most.LimitA)
	must := pt.Volts / pr.o.KnownOhm
	if err != nil || !(count > 0) || !(feelCounts*count < must/2) || !(pt.LimitA > 2*must) {
		return nil, err
	}
	return l, nil
}

// felt asks for hands and feels for them; false: what was asked for didn't come for long, or
// can't be felt for. The output is live when it returns.
func (pr *proving) felt(ctx context.Context, ask string, want held) (bool, error) {
	pr.rec = &StepRecord{Step: Step{ID: "bench proof", Volts: proveFeelV}}
	defer func() { pr.rec = nil }()
	l, err := pr.feeler(ctx)
	if l == nil || err != nil {
		return false, err
	}
	if err := l.live(ctx); err != nil {
		return false, err
	}
	p, began := l.f.Points[0], pr.b.Clock.Now()
	if want == heldApart {
		ask = "Touch the clips together, then hold them apart."
	}
	q := pr.offered(Question{Kind: AskClip, Choices: []string{"done", "skip", "stop"},
		Text: ask + fmt.Sprintf(" It's felt, and goes on by itself. Sensing, live with %.1f V and %s: don't solder.",
			p.Volts, amps(p.LimitA))})
	asking, takeBack := context.WithCancel(ctx)
	defer takeBack()
	l.answers = pr.askBeside(asking, q)
	signs := want.signs()
	for n := 0; pr.b.Clock.Now().Sub(began) < senseFor; {
		f, err := l.once(ctx)
		switch {
		case errors.Is(err, errHeard):
			a, err := pr.answered(ctx, q, *l.reply, began)
			if err == nil {
				err = choice(a)
			}
			return true, err
		case err != nil:
			return false, err
		case !l.fitsHeld(f, signs[0], pr.o.KnownOhm):
			n = 0
			continue
		}
		if n++; n < proveFeelTimes {
			continue
		}
		if signs, n = signs[1:], 0; len(signs) == 0 {
			pr.show(Event{What: Contact, Text: "Felt. Hold it like that."})
			return true, nil
		}
		pr.show(Event{What: Contact, Text: "Felt. Now hold them apart."})
	}
	return false, nil
}
