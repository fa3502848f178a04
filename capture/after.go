package capture

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
)

// after says what became of the last step and, where that isn't good, asks
// what to do. redo drops the step's record from what is done.
func (e *engine) after(ctx context.Context, s Step) (redo bool, err error) {
	last := &e.done[len(e.done)-1]
	if err := e.synced(ctx); err != nil {
		return false, err
	}
	var said []Said
	if last.Outcome == Measured || last.Outcome == Tripped {
		said = changedBy(e.g.Judge(*last), e.early.said)
	}
	e.remaining, e.began = e.g.Remaining(e.done), e.b.Clock.Now()
	e.show(Event{What: StepEnds, Step: &s, Said: said, Text: endText(*last)})
	good := last.Outcome == Measured || last.Outcome == Skipped
	for _, x := range said {
		good = good && x.Good
	}
	if good && e.away > 0 {
		return false, e.touchAgain(ctx, awayText(e.away))
	}
	if good {
		return false, nil
	}
	for {
		if redo, err = e.askAgain(ctx, s, last, said); err != nil {
			return false, err
		}
		if isFault(*last, said) {
			_, err = e.touch(ctx, "Something was wrong.", &s)
		}
		if !errors.Is(err, errTakenBack) || e.undo.accepted == "" {
			return redo, err
		}
		if err := e.backTo(ctx); err != nil { // that it was accepted: it's asked again
			return false, err
		}
	}
}

// isFault tells a step that showed something wrong, after which hands go to the
// model, from one that only couldn't be settled.
func isFault(r StepRecord, said []Said) bool {
	if r.Outcome != Measured {
		return true
	}
	return slices.ContainsFunc(said, func(x Said) bool { return !x.Good && !x.Undecided })
}

func (e *engine) askAgain(ctx context.Context, s Step, last *StepRecord, said []Said) (redo bool, err error) {
	text := againText(*last, said) + " The output is off."
	choices := []string{"redo", "next", "accept", "stop"}
	if !isFault(*last, said) { // there is nothing to mend, so the same would be read once more
		choices[0], choices[1] = "next", "redo"
	}
	for try := 0; ; try++ {
		a, err := e.ask(ctx, Question{Kind: AskAgain, Text: text, Choices: choices, Step: &s})
		if errors.Is(err, ErrUnattended) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		switch a.Choice {
		case "stop":
			return false, ErrStopped
		case "redo":
			e.rec = last
			reason := strings.TrimSpace(a.Text)
			if reason == "" {
				reason = "the maker measures it again"
			}
			err := e.redone(reason, true)
			e.carry = nil // what was wrong then needn't be wrong now
			e.done = e.done[:len(e.done)-1]
			return true, err
		case "accept":
			reason := strings.TrimSpace(a.Text)
			if reason == "" && try < 3 {
				text = "To accept it against the verdict needs a reason, for the sheet."
				continue
			}
			if reason == "" {
				return false, nil
			}
			last.Accepted = reason
			e.rec = last
			err := e.mark(Mark{Kind: MarkAccepted, Reason: reason})
			e.rec = nil
			e.undo = &undo{what: "that you accept it as it is", of: []Order{e.lastMark()}, accepted: s.ID}
			return false, err
		}
		return false, nil
	}
}

// notMeasured begins the reason of a step that failed.
const notMeasured = "not measured: "

func endText(r StepRecord) string {
	switch r.Outcome {
	case Measured:
		return ""
	case Skipped:
		return "skipped: " + r.Reason
	}
	return r.Reason
}

func againText(r StepRecord, said []Said) string {
	if r.Outcome != Measured {
		why := strings.TrimSuffix(r.Reason, ".") + "."
		if bad, ok := strings.CutPrefix(why, notMeasured); ok {
			return "Not measured. The reason: " + bad
		}
		return why
	}
	var wrong, open []string
	for _, x := range said {
		switch {
		case x.Undecided:
			open = append(open, strconv.Quote(x.Group))
		case !x.Good:
			wrong = append(wrong, strconv.Quote(x.Group)+" is "+x.Verdict)
		}
	}
	var out []string
	if len(wrong) > 0 {
		out = append(out, strings.Join(wrong, ", ")+".")
	}
	if len(open) > 0 {
		out = append(out, "The current alone can't settle "+strings.Join(open, ", ")+".")
	}
	return strings.Join(out, " ")
}
