package compare

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/words"
)

// weigher gathers what speaks against closing a part.
type weigher struct {
	failed, open, dark, accepted []string
	// colourless were looked at by somebody who can't judge colours.
	colourless []string
	// rests is the latest reading or look that the verdict rests on.
	rests     capture.Order
	simulated bool
}

// rest takes what a finding rests on.
func (w *weigher) rest(f Finding) {
	w.rests = max(w.rests, f.rests)
	w.simulated = w.simulated || f.Simulated
}

// add weighs a group that the closure hides itself.
func (w *weigher) add(f Finding) {
	w.rest(f)
	line := func(what string) string { return rowOf(f) + ": " + what }
	if accepted(f) {
		w.accepted = append(w.accepted, line(acceptedAs(f)))
		return
	}
	switch {
	case fails(f.Verdict):
		w.failed = append(w.failed, line(failure(f)))
		return
	case f.Verdict == InBand && !isStage(f.Stage):
		w.open = append(w.open, line("measured at no known stage"))
	case f.Verdict == InBand && f.Stage == Loose:
		w.open = append(w.open, line("measured loose only: measure it at stage fitted"))
	case f.Verdict != InBand:
		w.open = append(w.open, line(doubt(f)))
	}
	if f.Seen != "" && !f.Looked {
		w.failed = append(w.failed, line("seen: "+f.Seen))
	} else if !f.Looked && !f.Sealed {
		w.dark = append(w.dark, f.Group)
	} else if f.NoColours && !f.Sealed {
		w.colourless = append(w.colourless, f.Group)
	}
}

// rowOf names a group with its pace.
func rowOf(f Finding) string {
	if f.Pace != "" {
		return f.Group + ", pace " + f.Pace
	}
	return f.Group
}

// accepted: the maker took the group as it is, and there is something to take.
func accepted(f Finding) bool { return f.Accepted != "" && (f.Verdict != InBand || seenWrong(f)) }

func seenWrong(f Finding) bool { return f.Seen != "" && !f.Looked }

func acceptedAs(f Finding) string {
	what := string(f.Verdict)
	if f.Verdict == InBand {
		what = "seen: " + f.Seen
	}
	return what + ", accepted: " + f.Accepted
}

func failure(f Finding) string {
	if len(f.Causes) > 0 {
		return string(f.Verdict) + because(f.Causes[0].Text)
	}
	return string(f.Verdict)
}

// doubt says what isn't known of a group that didn't fail.
func doubt(f Finding) string {
	switch f.Verdict {
	case CantTell:
		return "can't tell" + because(first(whyOf(f)))
	case NotMeasured:
		return "not measured" + because(first(f.Notes))
	}
	return "no verdict"
}

func isStage(stage string) bool { return slices.Contains(Stages(), stage) }

// whyOf is the reason of a can't tell, or what would settle it.
func whyOf(f Finding) []string {
	if f.Why != "" {
		return []string{f.Why}
	}
	return f.Settle
}

func first(s []string) string {
	if len(s) == 0 {
		return ""
	}
	return s[0]
}

// because puts a reason behind a verdict: a sentence of its own, or what is left to
// do.
func because(reason string) string {
	switch {
	case reason == "":
		return ""
	case words.IsSentence(reason):
		return ". " + reason
	}
	return " (" + reason + ")"
}

// addThrough weighs the groups elsewhere that are fed through what the closure
// hides. They needn't be looked at, but what is wrong with them may lie in here.
func (w *weigher) addThrough(h hidden, rows map[string][]Finding) {
	var unmeasured []string
	for _, t := range h.through {
		for _, f := range rows[t.group] {
			w.rest(f)
			line := func(what string) string {
				return fmt.Sprintf("the feed of %s (in %s) runs through %s: %s", rowOf(f), f.Closure, list(t.by), what)
			}
			switch {
			case accepted(f):
				w.accepted = append(w.accepted, line(acceptedAs(f)))
			case fails(f.Verdict) && causedIn(f, h):
				w.failed = append(w.failed, line(failure(f)))
			case fails(f.Verdict):
				w.open = append(w.open, line(failure(f)))
			case f.Verdict == InBand && seenWrong(f):
				w.open = append(w.open, line("seen: "+f.Seen))
			case f.Verdict == NotMeasured && len(f.Notes) == 0, f.Verdict == InBand && f.Stage == Loose:
				unmeasured = append(unmeasured, f.Group)
			case f.Verdict != InBand || !isStage(f.Stage):
				w.open = append(w.open, line(doubt(f)))
			}
		}
	}
	if names := unique(unmeasured); len(names) > 0 {
		w.open = append(w.open, "fed through it, and not measured yet: "+list(names))
	}
}

// causedIn: what is likely wrong with a group lies at a hidden place, or shows
// in what a hidden board does.
func causedIn(f Finding, h hidden) bool {
	if len(f.Causes) > 0 && slices.ContainsFunc(f.Causes[0].Places, h.holds) {
		return true
	}
	return paceFailed(f.Verdict) && h.holds(f.Board)
}

// addInner weighs a closure that closes inside this one.
func (w *weigher) addInner(c ClosureFinding) {
	line := fmt.Sprintf("%s, which closes inside: %s", c.Closure, c.Verdict)
	w.simulated = w.simulated || c.Simulated
	switch c.Verdict {
	case KeepOpen:
		w.failed = append(w.failed, line)
	case ReadyToClose:
	case LookFirst:
		w.dark = append(w.dark, c.Closure+" (closes inside)")
	case ClosedByChoice:
		w.accepted = append(w.accepted, line)
	default:
		w.open = append(w.open, line)
	}
}

// sayTouched is what is asked of the maker before anything is ready.
const sayTouched = "say what was touched since it was measured and looked at: sealworthy measure BUILD --touched " +
	"nothing, or name the places"

// result is the verdict with its reasons, the gravest first. answered says that
// the maker was asked what was touched after the last reading and look.
func (w *weigher) result(c ClosureFinding, answered bool) (ClosureVerdict, []string) {
	dark := unique(w.dark)
	switch {
	case len(w.failed) > 0:
		return KeepOpen, slices.Concat(w.failed, w.open, w.accepted)
	case len(w.open) > 0:
		return NotSettled, slices.Concat(w.open, w.accepted)
	case len(dark)+len(w.colourless) > 0 && len(w.accepted) == 0:
		return LookFirst, w.toLookAt(dark)
	case w.rests != 0 && !answered:
		return NotSettled, append([]string{sayTouched}, w.accepted...)
	case len(w.accepted) > 0:
		reasons := w.accepted
		if len(dark) > 0 {
			reasons = append(reasons, "not looked at: "+strings.Join(dark, ", "))
		}
		if len(w.colourless) > 0 {
			reasons = append(reasons, w.coloursUnseen())
		}
		return ClosedByChoice, reasons
	case len(c.Items) == 0:
		return ReadyToClose, []string{"all that closes inside it is ready"}
	case len(c.Groups) == 0:
		return ReadyToClose, []string{"it hides no group of its own, and all that is fed through it passed"}
	}
	var yet []string
	for _, f := range c.Groups {
		if why := YetInBand(f); why != "" {
			if why != words.EdgeOfBand && why != words.NotByItAlone { // which say so themselves
				why = "outside of its band, " + why
			}
			yet = append(yet, rowOf(f)+": "+why)
		}
	}
	if yet != nil {
		return ReadyToClose, append([]string{"every group passed, is on pace, and was looked at"}, yet...)
	}
	return ReadyToClose, []string{"every group is in band and on pace, and was looked at"}
}

// toLookAt says what is still to be looked at, and why.
func (w *weigher) toLookAt(dark []string) (out []string) {
	if len(dark) > 0 {
		out = append(out, "not looked at: "+strings.Join(dark, ", "),
			"current can't see a swapped colour, a wrong window or a broken fibre: look once, then say all right")
	}
	if len(w.colourless) > 0 {
		out = append(out, w.coloursUnseen())
	}
	return append(out, "to be asked for it: sealworthy measure BUILD --resume")
}

// coloursUnseen names what was looked at by somebody who can't judge colours.
func (w *weigher) coloursUnseen() string {
	return "colours not judged, so a swapped one would still be in there: let somebody look who can judge them: " +
		strings.Join(unique(w.colourless), ", ")
}

func unique(s []string) []string {
	var out []string
	for _, x := range s {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}
