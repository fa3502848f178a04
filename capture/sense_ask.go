package capture

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// places are the feeds that are left, to be named.
func (l *sensing) places(of []Step) (out []Place) {
	for _, s := range of {
		kind := "group"
		if s.Board != "" {
			kind = "board"
		}
		out = append(out, Place{Name: s.Feed, Kind: kind})
	}
	return out
}

// question is asked while the output is live: with both hands full it is answered by
// clipping on.
func (l *sensing) question() Question {
	text := fmt.Sprintf("Clip the plus lead to %q", l.named.Feed)
	if l.clip != "" {
		text = fmt.Sprintf("Take the clip off. Next: clip the plus lead to %q", l.named.Feed)
	}
	text += "."
	if len(l.f.Left) > 1 {
		text += " Any other that is left will do."
	}
	p := l.top()
	if !l.feels() {
		text += fmt.Sprintf(" It draws next to nothing at %.1f V, healthy or not: once it's on, tap it.", p.Volts)
	}
	text += fmt.Sprintf(" Sensing, live with up to %.1f V and %s: don't solder.", p.Volts, amps(p.LimitA))
	help := "What you clip on is felt by itself, announced, and measured a second later."
	if !l.feels() {
		help = fmt.Sprintf("%q isn't felt: once it's on, tap it, or press the pedal. Any other is felt by itself.",
			l.named.Feed)
	}
	return Question{Kind: AskSense, Text: text, Choices: []string{"done", "pick", "solder", "skip", "stop"},
		Step: &l.named, Places: l.places(l.f.Left),
		Help: help + " What isn't felt: say which it is. To solder, switch off first."}
}

// feels: what is asked for is felt when it's healthy. Else that nothing is felt tells nothing of it.
func (l *sensing) feels() bool { return slices.Contains(l.f.Felt, l.named.Feed) }

func (l *sensing) nothingText() string {
	return fmt.Sprintf("Nothing felt. Clip on? Then say that it's on %q, or on which other: "+
		"an open or reversed one draws nothing.", l.named.Feed)
}

func handsOffText(s Step) string { return fmt.Sprintf("I take it for %q. Hands off.", s.Feed) }

// heard is what the maker said while it was felt for.
func (l *sensing) heard(ctx context.Context, q Question, r reply, began time.Time) (sensed, error) {
	a, err := l.answered(ctx, q, r, began)
	if err != nil {
		return sensed{}, err
	}
	x, err := l.said(a, l.f.Left)
	if x.how == tapped && l.hangs {
		x = sensed{how: misnamed, text: "The clip hangs where it did: take it off first."}
	}
	return x, err
}

// said is what an answer means. of is what could be picked.
func (l *sensing) said(a Answer, of []Step) (sensed, error) {
	switch a.Choice {
	case "done":
		return sensed{how: tapped, step: l.named}, nil
	case "solder":
		return sensed{how: toSolder}, nil
	case "sense":
		return sensed{how: misnamed}, nil
	case "skip":
		reason := strings.TrimSpace(a.Text)
		if reason == "" {
			reason = "no reason given"
		}
		return sensed{how: leaveOut, text: reason}, nil
	case "pick":
		names, problem := placesIn(a.Text, l.places(of), false)
		if problem == "" && len(names) == 1 {
			i := slices.IndexFunc(of, func(s Step) bool { return s.Feed == names[0] })
			return sensed{how: tapped, step: of[i]}, nil
		}
		if problem == "" {
			problem = "That names more than one."
		}
		return sensed{how: misnamed, text: problem}, nil
	}
	return sensed{}, ErrStopped
}

// then does what follows, with the output off.
func (l *sensing) then(ctx context.Context, x sensed) (Step, what, error) {
	for {
		switch x.how {
		case tookIt:
			l.clip = clipOn(x.step.On, nil)
			l.felt = &contact{volts: x.felt.Volts, amps: x.felt.Amps, free: x.free, until: x.until}
			return x.step, begin, nil
		case tapped:
			l.clip = clipOn(x.step.On, nil)
			if x.felt.Amps > 0 {
				l.felt = &contact{volts: x.felt.Volts, amps: x.felt.Amps}
			}
			return x.step, begin, l.handsAway(ctx, x.step)
		case leaveOut:
			l.clip, l.leaves = "", &skipError{x.text}
			return l.named, begin, nil
		case letGo:
			l.slips++
			l.show(Event{What: Told, Text: fmt.Sprintf("%q let go, or changed, before it was measured: "+
				"the output is off. It's felt for once more.", x.step.Feed)})
			return l.named, senseAgain, nil
		case misnamed:
			if x.text != "" {
				l.show(Event{What: Told, Text: x.text})
			}
			return l.named, senseAgain, nil
		case toSolder:
			return l.soldering(ctx)
		}
		q, of := l.offQuestion(x)
		if x.how != timeOut && x.how != several {
			if err := l.note(Mark{Kind: MarkNote, StepID: "sensing", Reason: q.Text}); err != nil {
				return l.named, senseAgain, err
			}
		}
		a, err := l.ask(ctx, q)
		if err != nil {
			return l.named, senseAgain, err
		}
		l.slips = 0
		was := x
		if x, err = l.said(a, of); err != nil {
			return l.named, senseAgain, err
		}
		if x.how == tapped && was.how == several {
			x.felt = was.felt // the same contact, whichever it is
		}
	}
}

// handsAway gives hands a second to let go of what the maker said it's on, with the
// output off.
func (l *sensing) handsAway(ctx context.Context, s Step) error {
	err := l.b.Clock.Wait(ctx, nil, l.engine.handsOff(s, fmt.Sprintf("You say it's %q. Hands off.", s.Feed)))
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return err
}

// offQuestion asks what is to be done where nothing is known to be ramped.
func (l *sensing) offQuestion(x sensed) (q Question, of []Step) {
	q = Question{Kind: AskSense, Step: &l.named}
	of = l.f.Left
	felt := fmt.Sprintf("%s at %.2f V", amps(x.felt.Amps), x.felt.Volts)
	switch x.how {
	case timeOut:
		q.Text = fmt.Sprintf("%s, so sensing has ended. Next: clip the plus lead to %q.", x.text, l.named.Feed)
		q.Choices = []string{"done", "sense", "pick", "solder", "skip", "stop"}
	case slipping:
		q.Text = fmt.Sprintf("It let go %s before it was measured: the clip, or a joint behind it, doesn't hold. "+
			"Clip the plus lead to %q anew.", times(l.slips), l.named.Feed)
		q.Choices = []string{"done", "sense", "pick", "solder", "skip", "stop"}
	case several:
		of = x.of
		q.Text = fmt.Sprintf("That draws %s. It could be %s: which?", felt, orOf(of))
		q.Choices = []string{"pick", "sense", "stop"}
	case aShort:
		// Whatever the plan says, this gets no more current.
		q.Text = fmt.Sprintf("A SHORT: it draws %s, where no LED conducts. It isn't powered. Take the clip off.", felt)
		q.Choices, of = []string{"sense", "skip", "stop"}, nil
	case fitsDone:
		q.Text = fmt.Sprintf("It's like %s, measured already, and like none that is left: it isn't powered. "+
			"It draws %s. Take the clip off, or say what it's on.", x.text, felt)
		q.Choices = []string{"sense", "pick", "skip", "stop"}
	default:
		q.Text = fmt.Sprintf("It fits nothing that is left: it isn't powered. It draws %s. "+
			"Two at once, a wrong part or a fault: take the clip off, or say what it's on.", felt)
		q.Choices = []string{"sense", "pick", "skip", "stop"}
	}
	q.Text += " The output is off."
	if of != nil {
		q.Places = l.places(of)
	}
	return q, of
}

// orOf lists feeds as a choice.
func orOf(of []Step) string {
	var out []string
	for _, s := range of {
		out = append(out, strconv.Quote(s.Feed))
	}
	return strings.Join(out, " or ")
}

// maySolderText is said only of an output that is off, was read back, and is as long as it stands.
const maySolderText = "off: you may solder. Go on when the iron is back."

// soldering waits while the maker solders, with the output off: that was confirmed.
// Then what was soldered counts as touched.
func (l *sensing) soldering(ctx context.Context) (Step, what, error) {
	a, err := l.ask(ctx, Question{Kind: AskSolder, Text: maySolderText,
		Choices: []string{"done", "stop"}})
	if err == nil {
		err = choice(a)
	}
	if err != nil {
		return l.named, senseAgain, err
	}
	if len(l.done) == 0 {
		return l.named, senseAgain, nil
	}
	_, err = l.touch(ctx, "You soldered.", nil)
	return l.named, askAnew, err
}
