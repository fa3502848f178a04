package main

import (
	"fmt"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/words"
)

// showReturn shows what the engine shows of a return: its steps are called by what
// they are for, the first of each kind says what it does, and each ends with what
// it told.
func (f *face) showReturn(e capture.Event, r session.ReturnStep) {
	s := *e.Step
	switch {
	case e.What == capture.StepBegins && r.First:
		f.wrapped("  ", purposeText(s, r.Purpose))
	case e.What == capture.StepEnds && r.Stopped:
		e.Text = "stopped"
	case e.What == capture.StepEnds && e.Text == "":
		e.Text = toldBy(r)
	}
	s.Feed = stepLabel(s, r.Purpose)
	e.Step = &s
	f.show(e)
}

// stepLabel says what a step is for.
func stepLabel(s capture.Step, p session.Purpose) string {
	switch p {
	case session.WarmUp:
		return fmt.Sprintf("warm, at %.1f V", s.Volts)
	case session.Probe:
		return fmt.Sprintf("at %.1f V", s.Volts)
	case session.ByEye:
		return "by eye"
	case session.ForRecord:
		return "for the record"
	}
	return string(p)
}

// purposeText says what comes with the first step of a purpose.
func purposeText(s capture.Step, p session.Purpose) string {
	switch p {
	case session.LittleFirst:
		first := s.Ramp[0]
		return fmt.Sprintf("Little current first: a return may be shorted. It begins at %.1f V with at most %s, goes up step by step, and off at once if more flows than the plan allows.",
			first.Volts, words.Milliamps(first.LimitA, 0.05*first.LimitA))
	case session.WarmUp, session.WarmAgain:
		return fmt.Sprintf("Now it warms up for %s, as when its signature was taken; then it is read.", lasting(s.Settle.Min))
	case session.ByEye:
		return "Now a look while it's lit: it tells more than a reading does."
	case session.Probe:
		return "Now single voltages, each time the one that tells most. The output goes off in between."
	}
	return "Now all of it for the record: a trace, then the sweep over all voltages."
}

// toldBy is what a step of a return told, in one line.
func toldBy(r session.ReturnStep) string {
	possible := "What is still possible can't be told before the full sweep"
	if r.Standing != nil {
		possible = stillPossible(r.Standing)
	}
	if r.Purpose == session.ByEye {
		return possible
	}
	if r.Read == nil {
		return "too few readings to say anything of it"
	}
	x := *r.Read
	flows := fmt.Sprintf("%s; when it left %s", words.Milliamps(x.Amps, 0.002*x.Amps), words.Milliamps(x.ThenA, 0.002*x.Amps))
	switch {
	case r.Purpose == session.ForRecord:
		return ""
	case r.Purpose == session.WarmAgain:
		return flows
	case r.Purpose == session.LittleFirst && x.Nothing:
		return flows + ": next to nothing. Are the clips on, is the meter in its mA jack, is its fuse whole? If so, the model's own jack or its first wire is open"
	case r.Purpose == session.LittleFirst:
		return flows + ". No short"
	}
	return flows + ". " + possible
}

// lookQuestion asks for what is seen of groups that are warm and lit.
func lookQuestion(groups []string, about session.About) (text, help string) {
	what := "dark, dim or flickers"
	if about.Colours {
		what = "dark, dim, flickers or has the wrong colour"
	}
	text = "It's warm and lit; some lights flash. What is " + what + "? What can't be seen from outside?"
	if about.Rest {
		text = "And the others, are they all right?"
	}
	return text, "Say the group, how many, and what, as: " + groups[0] + ": 2 dark. What can't be seen: " + groups[len(groups)-1] +
		": not seen. The groups: " + strings.Join(groups, ", ") + "."
}
