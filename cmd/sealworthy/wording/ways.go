package wording

import (
	"cmp"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// Want is what a choice needs beside its name.
type Want string

// What a choice can need.
const (
	Nothing Want = ""
	Reason  Want = "reason" // why, in a few words
	Lights  Want = "lights" // groups, how many of their lights, and what they are like
	Places  Want = "places" // of those that the question lists
	Name    Want = "name"   // the name of a check, letter by letter
	Number  Want = "number" // a value, as a meter shows it
	Value   Want = "value"  // a number, between the question's least and most
	Words   Want = "words"  // what is seen or said
)

// Way is one way to answer a question.
type Way struct {
	Choice string // as an answer names it
	Key    string // what is typed for it; "": the words themselves are
	Says   string // what it means, in a few words
	Typed  string // how a terminal offers it; "": Key and Says
	Button string // what stands on a button; "": Says
	Wants  Want   // what has to be said with it
}

// Label is what stands on a button.
func (w Way) Label() string {
	if w.Button != "" {
		return w.Button
	}
	return w.Says
}

// Line offers a way on a terminal.
func (w Way) Line() string {
	switch {
	case w.Typed != "":
		return w.Typed
	case w.Wants == Reason:
		return w.Key + " REASON: " + w.Says
	}
	return w.Key + ": " + w.Says
}

// enter is typed for what a pedal, or the key alone, answers.
const enter = "Enter"

// Entered is the choice that Enter alone makes; "": it makes none.
func Entered(q session.Question) string {
	for _, w := range Ways(q) {
		if w.Key == enter {
			return w.Choice
		}
	}
	return ""
}

var (
	undo = Way{Choice: capture.Undo, Key: "u", Says: "undo"}
	stop = Way{Choice: "stop", Key: "q", Says: "stop"}
	done = Way{Choice: "done", Key: enter, Says: "done"}
	skip = Way{Choice: "skip", Key: "s", Says: "skip", Wants: Reason}
	pass = Way{Choice: "skip", Key: "s", Says: "skip"} // without a reason
)

// Ways lists the ways to answer a question, the one that goes on first, undo and
// stop last. A choice that is new to it is called by its name.
func Ways(q session.Question) []Way {
	out := inquired(q)
	if q.About == nil || out == nil {
		out = own(q.Question)
	}
	if q.Kind == capture.AskAgain && q.About != nil && q.About.Stopped {
		out[0].Says, out[1].Says = "end it here", "try it once more"
	}
	for _, c := range q.Choices {
		if c != capture.Undo && c != "stop" && !slices.ContainsFunc(out, func(w Way) bool { return w.Choice == c }) {
			out = append(out, Way{Choice: c, Key: c, Says: c})
		}
	}
	out = slices.DeleteFunc(out, func(w Way) bool { return !slices.Contains(q.Choices, w.Choice) })
	for _, w := range []Way{undo, stop} {
		if slices.Contains(q.Choices, w.Choice) {
			out = append(out, w)
		}
	}
	return out
}

// own are the ways that are of a kind of question.
func own(q capture.Question) []Way {
	switch q.Kind {
	case capture.AskLook:
		return []Way{
			{Choice: "right", Key: "a", Says: "all right"},
			{Choice: "wrong", Says: "something isn't right", Typed: "or type which isn't", Wants: Lights},
			{Choice: capture.Press, Key: "p", Says: "its button: the next pace", Wants: Places},
			{Choice: capture.NoColours, Key: "c", Says: "I can't judge colours"},
			{Choice: capture.Colours, Key: "c", Says: "somebody looks who can judge colours"}, pass,
		}
	case capture.AskUnderstood:
		anew := Way{Choice: "wrong", Says: "say it anew", Typed: "or type it anew", Wants: Lights}
		if !slices.Contains(q.Choices, "right") {
			anew.Typed = "type the group, how many and what"
		}
		return []Way{{Choice: "right", Key: "a", Says: "yes, that's it"}, anew, pass}
	case capture.AskTouched:
		what := Way{Choice: "touched", Says: "these", Typed: "or numbers, names", Wants: Places}
		if q.Step != nil {
			what.Typed += ", the clip"
		}
		return []Way{{Choice: "nothing", Key: "n", Says: "nothing"}, what}
	case capture.AskPlug:
		return []Way{
			{Choice: "done", Key: enter, Says: "done", Button: "go on"},
			{Choice: capture.Another, Key: "a", Says: "another " + cmp.Or(q.Which, "one") + " now"},
		}
	case session.AskMeter:
		return []Way{
			{Choice: "done", Key: enter, Says: "it is plugged in and on"},
			{Choice: session.Typed, Key: "t", Says: "I type what it shows"},
			{Choice: session.KeepOld, Key: "k", Says: "keep the old one"},
		}
	case capture.AskAgain:
		out := []Way{
			{Choice: "redo", Key: "r", Says: "redo"}, {Choice: "next", Key: "n", Says: "go on"},
			{Choice: "accept", Key: "a", Says: "accept as it is", Wants: Reason},
		}
		if slices.Index(q.Choices, "next") < slices.Index(q.Choices, "redo") {
			out[0], out[1] = out[1], out[0]
		}
		out[0].Key = enter
		return out
	case capture.AskNumber:
		return []Way{
			{Choice: "number", Says: "what it shows", Typed: "type what it shows, as 38.2 (mA) or 0.04 A or OL",
				Wants: Number},
			{Choice: "overload", Key: "OL", Says: "OL, overload"},
		}
	case capture.AskSense:
		out := []Way{
			{Choice: "done", Key: enter, Says: "it's on"}, {Choice: "sense", Key: "f", Says: "feel again"},
			{Choice: "pick", Says: "it's on another", Typed: "NUMBER: that", Wants: Places},
			{Choice: "solder", Key: "o", Says: "OFF, TO SOLDER"}, skip,
		}
		if q.Step != nil {
			out[0].Button = "it's on " + q.Step.Feed
		}
		switch felt := !slices.Contains(q.Choices, "done"); {
		case felt && slices.Contains(q.Choices, "skip"):
			out[1].Key, out[2].Says = enter, "it's on"
		case felt: // one of some
			out[1], out[2] = out[2], out[1]
			out[1].Says = "it's on"
		}
		return out
	case capture.AskHazard:
		return []Way{
			{Choice: "skip", Key: enter, Says: "leave it out"},
			{Choice: "allow", Says: "power it", Typed: "its NAME: power it", Wants: Name},
		}
	case capture.AskReason:
		return []Way{
			{Choice: "reason", Says: "because", Typed: "type why", Wants: Reason},
			{Choice: "skip", Key: "s", Says: "leave it out"},
		}
	}
	if slices.Contains(q.Choices, "keep") {
		return []Way{{Choice: "done", Key: enter, Says: "moved it"}, {Choice: "keep", Key: "k", Says: "it's right"},
			skip}
	}
	if q.Kind == capture.AskWiggle {
		return []Way{done, pass}
	}
	return []Way{done, skip}
}

// MoreLight is typed at a look for two minutes more, or to light it again.
const MoreLight = "l"

// SomethingElse is what lies elsewhere than in the closures at hand; Else is typed to have it listed.
const (
	SomethingElse = "something else"
	Else          = "else"
)

// HasElse: a question has places that lie elsewhere.
func HasElse(q capture.Question) bool {
	return slices.ContainsFunc(q.Places, func(p capture.Place) bool { return p.Elsewhere })
}

// Keys offers the ways to answer on a line of a terminal, where q always stops.
func Keys(q capture.Question) string {
	var out, last []string
	switch q.Kind {
	case capture.AskLook, capture.AskUnderstood:
		last = []string{MoreLight + ": more light", "?"}
	case capture.AskTouched:
		if last = []string{"?"}; HasElse(q) {
			last = []string{Else + ": " + SomethingElse, "?"}
		}
	}
	for _, w := range Ways(session.Question{Question: q}) {
		switch {
		case w.Choice == stop.Choice, w.Choice == "overload": // it's typed as a number is
		case q.Kind == capture.AskWiggle && w.Choice == pass.Choice: // it's gone on with as well
		case w.Choice == capture.Undo:
			last = append(last, w.Line())
		default:
			out = append(out, w.Line())
		}
	}
	return strings.Join(append(append(out, last...), stop.Line()), "   ")
}

// Reasons are the commonest reasons for a choice that needs one; any other may be
// typed (common practice, no source).
func Reasons(choice string) []string {
	switch choice {
	case "skip":
		return []string{"not soldered yet", "can't be reached now", "is measured later"}
	case "accept":
		return []string{"it is meant so", "the owner knows", "it can't be seen"}
	case "reason":
		return []string{"it was tried loose", "it is on for a moment only", "the part bears it"}
	}
	return nil
}

// Unlike is how lights can be that aren't right, as a look is told.
func Unlike(noColours bool) []string {
	out := []string{"dark", "dim", "flickers"}
	if !noColours {
		out = append(out, "wrong colour")
	}
	return out
}
