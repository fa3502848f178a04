package main

import (
	"context"
	"fmt"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
)

// returnFace names the steps of a return by what they are for, and says at the
// first of each kind what it does.
type returnFace struct {
	capture.Face
	g       *returnGuide
	told    map[string]bool
	tripped bool // the step under way was stopped, and that was said
}

// Ask doesn't say once more why a step was stopped.
func (f *returnFace) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if q.Kind == capture.AskAgain && f.tripped {
		q.Text = "The output is off. Look at the plug and the clips: does plus touch minus? r tries it once more; Enter ends it here."
	}
	if q.Kind == capture.AskLook {
		q.Text, q.Help = f.g.lookQuestion(q.Groups)
	}
	return f.Face.Ask(ctx, q)
}

// lookQuestion asks for what is seen of groups that are warm and lit.
func (g *returnGuide) lookQuestion(groups []string) (text, help string) {
	what, all := "dark, dim or flickers", len(groups) == len(g.steps.Look.Groups)
	if g.said[askedColours] != judgesNot {
		what = "dark, dim, flickers or has the wrong colour"
	}
	text = "It's warm and lit; some lights flash. What is " + what + "? What can't be seen from outside?"
	if !all {
		text = "And the others, are they all right?"
	}
	return text, "Say the group, how many, and what, as: " + groups[0] + ": 2 dark. What can't be seen: " + groups[len(groups)-1] +
		": not seen. The groups: " + strings.Join(groups, ", ") + "."
}

// Show renames the step and adds what the guide makes of it.
func (f *returnFace) Show(e capture.Event) {
	e.Total = f.g.total
	if e.Step != nil {
		s := *e.Step
		switch {
		case e.What == capture.StepBegins:
			f.tripped = false
			f.explain(s)
		case e.What == capture.Trip:
			f.tripped = true
		case e.What == capture.StepEnds && f.tripped:
			e.Text = "stopped"
		case e.What == capture.StepEnds && e.Text == "":
			e.Text = f.g.text
		}
		s.Feed = f.g.label(s)
		e.Step = &s
	}
	f.Face.Show(e)
}

// label says what a step is for.
func (g *returnGuide) label(s capture.Step) string {
	switch {
	case s.ID == g.steps.Limit.ID:
		return "little current first"
	case s.ID == g.steps.Warm.ID:
		return fmt.Sprintf("warm, at %.1f V", s.Volts)
	case returns.IsWarmUp(s):
		return "warm again"
	case s.ID == g.steps.Look.ID:
		return "by eye"
	case returns.IsProbe(s):
		return fmt.Sprintf("at %.1f V", s.Volts)
	}
	return "for the record"
}

// explain says once for each kind of step what comes.
func (f *returnFace) explain(s capture.Step) {
	kind, text := "", ""
	switch {
	case s.ID == f.g.steps.Limit.ID:
		first := s.Ramp[0]
		kind, text = "limit", fmt.Sprintf("Little current first: a return may be shorted. It begins at %.1f V with at most %s, goes up step by step, and off at once if more flows than the plan allows.",
			first.Volts, words.Milliamps(first.LimitA, 0.05*first.LimitA))
	case returns.IsWarmUp(s):
		kind, text = "warm", fmt.Sprintf("Now it warms up for %s, as when its signature was taken; then it is read.", lasting(s.Settle.Min))
	case s.ID == f.g.steps.Look.ID:
		kind, text = "look", "Now a look while it's lit: it tells more than a reading does."
	case returns.IsProbe(s):
		kind, text = "probe", "Now single voltages, each time the one that tells most. The output goes off in between."
	default:
		kind, text = "whole", "Now all of it for the record: a trace, then the sweep over all voltages."
	}
	if !f.told[kind] {
		f.told[kind] = true
		f.Face.Show(capture.Event{What: capture.Told, Text: text})
	}
}
