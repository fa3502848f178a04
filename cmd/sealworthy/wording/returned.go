package wording

import (
	"fmt"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/fault"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
)

// StepLabel says what a step is for.
func StepLabel(s capture.Step, p session.Purpose) string {
	switch p {
	case session.WarmUp:
		return fmt.Sprintf("warm, at %.1f V", s.Volts)
	case session.Probe:
		return fmt.Sprintf("at %.1f V", s.Volts)
	case session.ByEye:
		return "by eye"
	case session.ForRecord:
		return "for the record"
	case session.MetersApart:
		return "a resistor in its place"
	}
	return string(p)
}

// PurposeText says what comes with the first step of a purpose.
func PurposeText(s capture.Step, p session.Purpose) string {
	switch p {
	case session.LittleFirst:
		first := s.Ramp[0]
		return fmt.Sprintf("Little current first: a return may be shorted. It begins at %.1f V with at most %s, "+
			"goes up step by step, and off at once if more flows than the plan allows.",
			first.Volts, words.Milliamps(first.LimitA, 0.05*first.LimitA))
	case session.WarmUp, session.WarmAgain:
		return fmt.Sprintf("Now it warms up for %s, as when its signature was taken; then it is read.",
			lasting(s.Settle.Min))
	case session.ByEye:
		return "Now a look while it's lit: it tells more than a reading does."
	case session.Probe:
		return "Now single voltages, each time the one that tells most. The output goes off in between."
	}
	if p == session.MetersApart {
		return "Last, the resistor that was read when it left: it tells what this meter and the one of then differ by."
	}
	return "Now all of it for the record: a trace, then the sweep over all voltages."
}

// ToldBy is what a step of a return told, in one line.
func ToldBy(r session.ReturnStep) string {
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
	flows := fmt.Sprintf("%s; when it left %s", words.Milliamps(x.Amps, 0.002*x.Amps),
		words.Milliamps(x.ThenA, 0.002*x.Amps))
	switch {
	case r.Purpose == session.ForRecord:
		return ""
	case r.Purpose == session.WarmAgain, r.Purpose == session.MetersApart:
		return flows
	case r.Purpose == session.LittleFirst && x.Nothing:
		return flows + ": next to nothing. Are the clips on, is the meter in its mA jack, is its fuse whole? If so, " +
			"the model's own jack or its first wire is open"
	case r.Purpose == session.LittleFirst:
		return flows + ". No short"
	}
	return flows + ". " + possible
}

// LookQuestion asks for what is seen of groups that are warm and lit.
func LookQuestion(groups []string, about session.About) (text, help string) {
	what := "dark, dim or flickers"
	if about.Colours {
		what = "dark, dim, flickers or has the wrong colour"
	}
	text = "It's warm and lit; some lights flash. What is " + what + "? What can't be seen from outside?"
	if about.Rest {
		text = "And the others, are they all right?"
	}
	return text, "Say the group, how many, and what, as: " + groups[0] + ": 2 dark. What can't be seen: " +
		groups[len(groups)-1] +
		": not seen. The groups: " + strings.Join(groups, ", ") + "."
}

// stillPossible says in one line what can be wrong yet.
func stillPossible(d *returns.Diagnosis) string {
	switch d.Verdict {
	case returns.AsItLeft:
		return "So far nothing wrong that shows (" + words.Sureness(d.PNothing+d.PSlight) + ")"
	case returns.OnePlace:
		return "One cause stands out: " + d.Named.Text + " (" + words.Sureness(d.Named.P) + ")"
	case returns.NotListed:
		return "It fits nothing in the list"
	}
	var names []string
	for _, c := range d.Set[:min(mostNames, len(d.Set))] {
		// one word, for the line break
		names = append(names, shortly(c)+" "+strings.ReplaceAll(words.Sureness(c.P), " %", "%"))
	}
	line := "Still possible: " + strings.Join(names, ", ")
	if n := len(d.Set) - len(names); n > 0 {
		line += fmt.Sprintf(", and %d more", n)
	}
	return line
}

// shortly names a cause by its place and what may be wrong there.
func shortly(c returns.Cause) string {
	if about := fault.AboutKind(c.Best().Class); hasPlace(about) && c.Second == "" {
		return c.Place + " (" + about.Short + ")"
	}
	return PlaceOf(c)
}

// PlaceOf names a cause by its place alone, and what has none by what it is.
func PlaceOf(c returns.Cause) string {
	switch about := fault.AboutKind(c.Best().Class); {
	case !hasPlace(about):
		return about.Short
	case c.Second != "":
		return c.Place + " with " + c.Second
	}
	return c.Place
}

func hasPlace(k fault.About) bool { return k.At != fault.Nowhere && k.At != fault.AtJack }

// lasting writes a time as one says it.
func lasting(d time.Duration) string {
	if d < 90*time.Second {
		return fmt.Sprintf("%.0f seconds", d.Seconds())
	}
	return fmt.Sprintf("%.0f minutes", d.Minutes())
}

// mostNames is how many places one line names.
const mostNames = 3
