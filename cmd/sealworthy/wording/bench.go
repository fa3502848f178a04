package wording

import (
	"fmt"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/words"
	"sealworthy/instruments/smoke"
)

// benchAsked is how a question about the instruments of a bench is asked; nil: it's none
// of them.
func benchAsked(q session.Question) []string {
	about := *q.About
	switch q.Kind {
	case session.AskProfile:
		return []string{"How does what is on " + about.Port + " speak?",
			"By itself it isn't known: " + about.Why + ".",
			"Its manual says so. What is chosen is asked who it is; nothing is switched."}
	case session.AskWhich:
		return []string{"There are several: which " + about.Instrument + " is meant?"}
	case session.AskOutput:
		return []string{"Which output of the supply are the leads in?",
			"Only that one is set and switched."}
	case session.AskTry:
		return []string{"Try the " + words.List(about.Instruments) + " now?",
			"A minute each. Before anything goes on you are asked."}
	case session.AskFree:
		if about.Instrument == string(smoke.NothingBehindRelays) {
			return []string{"Is nothing powered behind the relays?",
				"Take the model off. Then they are closed one by one, each for a moment."}
		}
		return []string{"Is nothing connected to the supply?",
			"Take the clips off the model. Then its output goes on at 1 V and 10 mA for a second."}
	case session.AskJack:
		return []string{"Which jack of the meter is the red lead in?",
			"The one for mA, which has a fuse; the black lead is in COM. Only ranges of that jack are used then."}
	case session.AskWritten:
		return []string{"Write down the " + words.List(about.Instruments) + ", for all builds?"}
	}
	return nil
}

// benchWays are the ways to answer them; nil: it's none of them.
func benchWays(q session.Question) []Way {
	leave := Way{Choice: session.Leave, Key: enter, Says: "leave it"}
	pick := Way{Choice: session.Pick, Says: "it's this", Wants: Places}
	switch q.Kind {
	case session.AskProfile:
		return []Way{leave, pick}
	case session.AskWhich, session.AskOutput:
		return []Way{pick}
	case session.AskJack:
		return []Way{pick, {Choice: session.DontKnow, Key: enter, Says: "don't know"}}
	case session.AskTry:
		return []Way{{Choice: session.TryThem, Key: "y", Says: "yes, try"},
			{Choice: session.Leave, Key: enter, Says: "not now"}}
	case session.AskFree:
		return []Way{{Choice: session.Free, Key: "yes", Says: "yes, nothing is on it"},
			{Choice: session.NotFree, Key: enter, Says: "no: leave it off"}}
	case session.AskWritten:
		return []Way{{Choice: session.Write, Key: enter, Says: "yes, for all builds"},
			{Choice: session.Leave, Key: "n", Says: "no"}}
	}
	return nil
}

// LooksAt says at which port is looked.
func LooksAt(port string) string { return "looks at " + port + " …" }

// Tries says what is tried.
func Tries(kind, port string) string { return fmt.Sprintf("Tries the %s on %s.", kind, port) }

// Looked is what is said of one port: who is there, or that nobody is, and why.
type Looked struct {
	Head  string   // the instrument, and how it's spoken to; "": none was found
	Why   string   // why none was, or why it isn't used; "": it is
	More  []string // what else was found, or was asked in vain
	Taken bool     // it can be driven, and is taken
}

// LookedText says what came of a port.
func LookedText(x session.Looked) (out Looked) {
	if x.Found == nil {
		out.Why = x.Why + "."
		if x.Heard != "" {
			out.More = append(out.More, "It was "+x.Heard+".")
		}
		out.More = append(out.More, x.Asked...)
		return out
	}
	who := x.Identity()
	if who == "" {
		who = "it can't say who it is"
	}
	if x.DrivenBy != "" {
		who += fmt.Sprintf("; %s, profile %q", x.Found.Speaks, x.DrivenBy)
	}
	kind := string(x.Found.Kind)
	if kind == "" {
		kind = "an instrument"
	}
	out.Head, out.Taken = kind+": "+who, x.Use != nil && !x.Spare
	switch {
	case x.Use == nil && x.Why != "":
		out.Why = x.Why + "."
		out.More = append(out.More, x.Asked...)
	case x.Spare:
		out.Why = "Another " + kind + " is taken."
	case x.Why != "":
		out.Why = x.Why + "."
	}
	var own []string
	for _, c := range x.Found.Changes {
		own = append(own, c.String())
	}
	if own != nil {
		out.More = append(out.More, "That profile was made for it, with "+words.List(own)+".")
	}
	out.More = append(out.More, x.Found.Notes...)
	if x.Channel > 0 {
		out.More = append(out.More, fmt.Sprintf("Its output %d is used.", x.Channel))
	}
	if x.FuseA > 0 {
		out.More = append(out.More, fmt.Sprintf("The fuse of its jack: %g A. Limits stay well below it.", x.FuseA))
	}
	if x.Tried && x.Use != nil {
		out.More = append(out.More, "It was tried, and keeps what its driver promises.")
	}
	return out
}
