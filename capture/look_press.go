package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// askStepping asks what is seen of groups, as often as a button steps one of their boards to
// its next pace: what should be seen then is said each time. What is answered at last is of
// the groups. With more than one of them lit the draw is a sum, which tells no pace: that the
// button was pressed is known from its relay or from the maker.
func (l *looking) askStepping(ctx context.Context, p lookPart, groups []string) (Answer, error) {
	for {
		a, err := l.askLit(ctx, l.question(p, groups))
		if errors.Is(err, errFirstPace) {
			continue // what should be seen is another now
		}
		if err == nil && (a.Choice == NoColours || a.Choice == Colours) {
			if err := l.judges(a.Choice == Colours); err != nil {
				return a, err
			}
			continue
		}
		if err != nil || a.Choice != Press {
			return a, err
		}
		if !l.out.on {
			l.show(Event{What: Told, Text: "It is dark: light it first, then press the button."})
			continue
		}
		b, ok := buttonNamed(l.buttons(groups), a.Text)
		if !ok {
			l.show(Event{What: Told, Text: "Which button was it? Say the number of its board, or its name."})
			continue
		}
		if channel, byRelay := l.b.Buttons[b.Board]; byRelay && l.b.Relays != nil {
			if err := l.tap(ctx, p.on, channel); err != nil {
				return a, err
			}
		}
		l.pressed[b.Board]++
		delete(l.paceOf, b.Board) // at which it is left isn't that of a step
	}
}

// buttons are those of the boards that light groups.
func (l *looking) buttons(groups []string) []Button {
	return slices.DeleteFunc(slices.Clone(l.s.Buttons), func(b Button) bool {
		return len(b.See) < 2 ||
			!slices.ContainsFunc(b.Groups, func(g string) bool { return slices.Contains(groups, g) })
	})
}

// buttonNamed finds a button by its number from 1 on, or its board's name; nothing said is the
// only one.
func buttonNamed(all []Button, said string) (Button, bool) {
	said = strings.TrimSpace(said)
	if said == "" && len(all) == 1 {
		return all[0], true
	}
	for i, b := range all {
		if said == b.Board || said == strconv.Itoa(i+1) {
			return b, true
		}
	}
	return Button{}, false
}

// withButtons says at which pace each board is to be seen, and offers the next one.
func (l *looking) withButtons(q Question, groups []string) Question {
	all := l.buttons(groups)
	if len(all) == 0 {
		return q
	}
	byHand := false
	for _, b := range all {
		n := l.pressed[b.Board] % len(b.See)
		q.Text += fmt.Sprintf(" %q should be %s.", b.Board, b.See[n])
		q.Places = append(q.Places, Place{Name: b.Board, Kind: "board"})
		_, byRelay := l.b.Buttons[b.Board]
		byHand = byHand || !byRelay || l.b.Relays == nil
	}
	if byHand {
		q.Text += " For its next pace press the button, and say so."
	}
	q.Choices = slices.Insert(slices.Clone(q.Choices), 2, Press)
	return q
}
