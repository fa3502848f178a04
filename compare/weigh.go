package compare

import (
	"fmt"
	"slices"
	"strings"
)

// weigher gathers what speaks against closing a part.
type weigher struct {
	failed, open, dark, accepted []string
}

func (w *weigher) add(f Finding) {
	name := f.Group
	if f.Pace != "" {
		name += ", pace " + f.Pace
	}
	line := func(what string) string { return name + ": " + what }
	if f.Accepted != "" && f.Verdict != InBand {
		w.accepted = append(w.accepted, line(string(f.Verdict)+", accepted: "+f.Accepted))
		return
	}
	switch f.Verdict {
	case Low, High, StuckLit, StuckDark, OffPace:
		why := string(f.Verdict)
		if len(f.Causes) > 0 {
			why += " - " + f.Causes[0].Text
		}
		w.failed = append(w.failed, line(why))
		return
	case CantTell:
		w.open = append(w.open, line("can't tell"+because(whyOf(f))))
	case NotMeasured:
		w.open = append(w.open, line("not measured"+because(f.Notes)))
	case InBand:
		switch f.Stage {
		case Loose:
			w.open = append(w.open, line("measured loose only: measure it at stage fitted"))
		case Fitted, Closed, Delivered, Returned:
		default:
			w.open = append(w.open, line("measured at no known stage"))
		}
	default:
		w.open = append(w.open, line("no verdict"))
	}
	if f.Seen != "" && !f.Looked {
		w.failed = append(w.failed, line("seen: "+f.Seen))
	} else if !f.Looked {
		w.dark = append(w.dark, f.Group)
	}
}

// whyOf is the reason of a can't tell, or what would settle it.
func whyOf(f Finding) []string {
	if f.Why != "" {
		return []string{f.Why}
	}
	return f.Settle
}

func because(s []string) string {
	if len(s) == 0 {
		return ""
	}
	return " (" + s[0] + ")"
}

// addInner weighs a closure that closes inside this one.
func (w *weigher) addInner(c ClosureFinding) {
	line := fmt.Sprintf("%s, which closes inside: %s", c.Closure, c.Verdict)
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

// result is the verdict with its reasons, the gravest first.
func (w *weigher) result(rows int) (ClosureVerdict, []string) {
	reasons := slices.Concat(w.failed, w.open, w.accepted)
	dark := unique(w.dark)
	switch {
	case len(w.failed) > 0:
		return KeepOpen, reasons
	case len(w.open) > 0:
		return NotSettled, reasons
	case rows == 0 && len(dark) == 0 && len(w.accepted) == 0:
		return ReadyToClose, []string{"it hides no group of its own"}
	case len(w.accepted) > 0:
		if len(dark) > 0 {
			reasons = append(reasons, "not looked at: "+strings.Join(dark, ", "))
		}
		return ClosedByChoice, reasons
	case len(dark) > 0:
		return LookFirst, []string{"not looked at: " + strings.Join(dark, ", "),
			"current can't see a swapped colour, a wrong window or a broken fibre: look once, then say all right"}
	}
	return ReadyToClose, []string{"every group is in band and on pace, and was looked at"}
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

// SeenOf says what a look at groups tells of one of them. A look is "all
// right", or the names of the groups that are not, with or without words of
// the maker: "cabin windows: 2 of 12 dark; port beacon". Words that name none
// of the groups speak of all of them, or of those that aren't named beside them:
// a slip in a name must call no group right.
func SeenOf(seen, group string, groups []string) string {
	if seen == SeenRight {
		return SeenRight
	}
	named, stray, of := false, false, ""
	for part := range strings.SplitSeq(seen, ";") {
		name, what, _ := strings.Cut(part, ":")
		name = strings.TrimSpace(name)
		if !slices.Contains(groups, name) {
			stray = stray || strings.TrimSpace(part) != ""
			continue
		}
		named = true
		if name == group {
			if of = strings.TrimSpace(what); of == "" {
				of = "not all right"
			} else if strings.EqualFold(of, SeenRight) {
				of = SeenRight
			}
		}
	}
	switch {
	case of != "":
		return of
	case named && !stray:
		return SeenRight
	}
	return seen
}
