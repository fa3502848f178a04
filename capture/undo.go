package capture

import (
	"context"
	"errors"
	"slices"
	"time"
)

// errTakenBack: the maker takes the last answer back.
var errTakenBack = errors.New("the last answer is taken back")

// undo is the last answer, as long as it can be taken back: until the question
// after it is answered.
type undo struct {
	what string  // in the maker's words
	of   []Order // the marks that it left
	// A look: the step and the groups that were seen.
	step   string
	groups []string
	// What was touched: what counted as done before it was told.
	touch bool
	done  []StepRecord
	// accepted is the step that was accepted against its verdict; "": none was.
	accepted string
}

// in tells whether the answer was given within the step under way.
func (u *undo) in(s Step) bool { return u != nil && !u.touch && u.accepted == "" && u.step == s.ID }

// offered adds the choice of taking back to a question.
func (e *engine) offered(q Question) Question {
	if e.undo != nil && q.Kind != AskPlug && q.Kind != AskHazard && q.Kind != AskReason {
		q.Choices = append(slices.Clone(q.Choices), Undo)
	}
	return q
}

// heeded takes note of an answer, and of how long the question was open.
func (e *engine) heeded(q Question, a Answer, since time.Time) error {
	if open := e.b.Clock.Now().Sub(since); open >= longPause && q.Kind != AskTouched {
		e.away = max(e.away, open)
	}
	if a.Choice == Undo {
		if e.undo == nil {
			return errors.New("there is no answer to take back")
		}
		return errTakenBack
	}
	switch q.Kind {
	case AskClip, AskPress:
		if e.rec != nil && e.undo.in(e.rec.Step) {
			return nil // between two looks of one step: the second can still take back the first
		}
		e.undo = nil
	case AskLook, AskUnderstood, AskTouched, AskPlug, AskHazard, AskReason: // they leave one of their own, or none
	default:
		e.undo = nil
	}
	return nil
}

// takeBack marks that the last answer is taken back. Both stay on the record.
func (e *engine) takeBack() error {
	u := e.undo
	e.undo = nil
	for _, of := range u.of {
		if err := e.note(Mark{Kind: MarkTakenBack, Of: of, Reason: u.what}); err != nil {
			return err
		}
	}
	e.anew = true
	e.show(Event{What: Told, Text: "Taken back: " + u.what + "."})
	return nil
}

// backTo takes the last answer back between two steps: what was seen is asked
// again, what was touched at once; what was accepted isn't any more.
func (e *engine) backTo(ctx context.Context) error {
	u := e.undo
	if err := e.takeBack(); err != nil {
		return err
	}
	if u.touch {
		e.done = u.done
		_, err := e.touch(ctx, "Once more.", nil)
		return err
	}
	if u.accepted != "" {
		e.unaccept(u.accepted)
		return nil
	}
	e.unsee(u.step, u.groups)
	return nil
}

// unaccept takes back that the latest record of a step was accepted.
func (e *engine) unaccept(step string) {
	for i := len(e.done) - 1; i >= 0; i-- {
		if e.done[i].Step.ID == step {
			e.done[i].Accepted = ""
			return
		}
	}
}

// unsee takes groups out of a look that counts as done.
func (e *engine) unsee(step string, groups []string) {
	e.done = slices.Clone(e.done)
	for i := len(e.done) - 1; i >= 0; i-- {
		r := &e.done[i]
		if r.Step.Kind != Look || step != "" && r.Step.ID != step {
			continue
		}
		r.Step.Groups = slices.DeleteFunc(slices.Clone(r.Step.Groups),
			func(g string) bool { return slices.Contains(groups, g) })
		if len(r.Step.Groups) == 0 {
			e.done = slices.Delete(e.done, i, i+1)
		}
	}
}

// lastMark is where the record put the last mark; 0 where it can't say.
func (e *engine) lastMark() Order {
	if p, ok := e.r.(Placed); ok {
		return p.LastMark()
	}
	return 0
}
