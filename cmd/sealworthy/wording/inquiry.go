package wording

import (
	"fmt"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// Inquired is how a question of a return, or about the instruments of a bench, is asked,
// the question first, then what to mind. Those questions have no text of their own; nil: it's none of them.
func Inquired(q session.Question) []string {
	if q.About == nil {
		return nil
	}
	about := *q.About
	switch q.Kind {
	case session.AskEye:
		return []string{
			"First by eye. Nothing is connected yet.",
			"- Smell at the jack and along the seams: burnt?",
			"- Brown, melted or bulging spots? Traces of liquid, green or white crust?",
			"- The jack: bent, loose, dirty? Tilt the model: does anything rattle?",
			"- A battery inside? If it's swollen or warm: take it outside, onto stone; don't press or charge it.",
		}
	case session.AskGoOn:
		return []string{
			"That is kept: " + about.Seen + ".",
			"A model that was hot or wet gets no current: open it where it shows. Only what can't burn, as a bent " +
				"plug, is gone on with.",
		}
	case session.AskClient:
		if about.Why != "" {
			return []string{"What the client said, " + about.Why + "."}
		}
		return []string{"What does the client say is wrong?", "In their words, as: the bow light is dark."}
	case session.AskColours:
		return []string{"Can you tell the colours of lights apart?",
			"It's asked once. If you can't, no look asks for them."}
	case session.AskAdapter:
		if about.Along {
			return []string{
				"The adapter that goes along: is it here?",
				"It's measured alone: what it gives now tells later whether it has tired.",
				"Never open it. If its case or cable is cracked, it doesn't go along.",
			}
		}
		return []string{
			"The client's own adapter: is it here?",
			"It's measured alone: it's the commonest cause.",
			"Never open it. If its case or cable is cracked, don't plug it in: say that it wasn't sent.",
		}
	case session.AskPolarity:
		return []string{
			"Plug the adapter in alone, the meter on its plug. Does it show a minus?",
			"Meter on DC volts: red " + plusOf(about) + ", black to the other.",
			"Its leads in the volts jacks: in the mA jack the meter is a short.",
		}
	case session.AskOpen:
		return []string{"How many volts does it show?"}
	case session.AskLoad:
		return []string{
			"Now with a load, a resistor. How many ohms has yours?",
			fmt.Sprintf("One of about %.3g ohm, %.3g W or more, draws what the model draws.", about.LoadOhm, about.LoadW),
			"Don't put it on yet.",
		}
	case session.AskFuse:
		if about.Instrument != "" { // at a search: there is none that was known before
			return []string{
				"What fuse is behind the jack that its lead is in?",
				"It's printed beside it. Limits stay well below.",
			}
		}
		below := "The output is off. Limits stay well below it."
		if about.FuseA > 0 {
			below += fmt.Sprintf(" Not known: they stay below that of the meter before, %g A.", about.FuseA)
		}
		return []string{"What fuse is behind the jack that the lead is in?",
			"It's printed beside the jack, or on the fuse.", below}
	case session.AskLoaded:
		return []string{
			"With the resistor on its plug: how many volts after five seconds?",
			"The meter stays beside it. Then take it off.",
			"It gets hot: hold it with pliers, away from plastic.",
		}
	}
	return benchAsked(q)
}

// ValueWanted says which values a question of a return takes; "": it takes none.
func ValueWanted(q session.Question) string {
	if q.About == nil {
		return ""
	}
	least, most := q.About.Least, q.About.Most
	switch q.Kind {
	case session.AskOpen, session.AskLoaded:
		return fmt.Sprintf("Volts, as 12.1 or 12.1 V, from %.0f to %.0f: see what the meter is set to.", least, most)
	case session.AskLoad:
		return fmt.Sprintf("Ohms, as 24 or 1k: less than %.3g ohm would take more than any adapter for this model gives.",
			least)
	case session.AskFuse:
		return fmt.Sprintf("Amperes, as 0.4 or 0.4 A, or 400 mA: no meter's jack has a fuse below %.0f mA or above %.0f A.",
			1000*least, most)
	}
	return ""
}

// Units are those that a question takes a number in, the one of a bare number first; nil: it takes
// none.
func Units(k capture.QuestionKind) []string {
	switch k {
	case capture.AskNumber:
		return []string{"mA", "A"}
	case session.AskFuse:
		return []string{"A", "mA"}
	case session.AskLoad:
		return []string{"ohm", "kohm"}
	case session.AskOpen, session.AskLoaded:
		return []string{"V"}
	}
	return nil
}

// plusOf says where plus of a plug should be.
func plusOf(about session.About) string {
	if about.Plug != "" {
		return "where plus should be (" + about.Plug + ")"
	}
	return "where plus should be"
}

// NotThere says of an adapter that there is none to be measured.
func NotThere(q session.Question) string {
	if q.About.Along {
		return "none goes along"
	}
	return "not sent"
}

// StoppedByLimit is asked after a step of a return that its limit stopped.
const StoppedByLimit = "The output is off. Look at the plug and the clips: does plus touch minus?"

// inquired are the ways of a return's questions; nil: it's none of them.
func inquired(q session.Question) []Way {
	unknown := Way{Choice: session.DontKnow, Key: "d", Says: "don't know"}
	switch q.Kind {
	case session.AskEye:
		return []Way{{Choice: session.NothingSeen, Key: "a", Says: "none of these"},
			{Choice: session.Seen, Says: "I see or smell something", Wants: Words}}
	case session.AskGoOn:
		return []Way{{Choice: session.StopHere, Key: enter, Says: "stop here"},
			{Choice: session.GoOn, Key: "g", Says: "go on all the same"}}
	case session.AskClient:
		if q.About.Why != "" {
			return []Way{{Choice: session.Said, Says: "once more", Wants: Words},
				{Choice: session.NothingSaid, Key: enter, Says: "leave it at that"}}
		}
		return []Way{{Choice: session.Said, Says: "they say", Wants: Words},
			{Choice: session.NothingSaid, Key: enter, Says: "nothing was said"}, unknown}
	case session.AskColours:
		return []Way{{Choice: session.Judges, Key: enter, Says: "yes"},
			{Choice: session.JudgesNot, Key: "n", Says: "no"}}
	case session.AskAdapter:
		return []Way{{Choice: session.WasSent, Key: enter, Says: "it is here"},
			{Choice: session.NotSent, Key: "n", Says: NotThere(q)}, unknown}
	case session.AskPolarity:
		return []Way{{Choice: session.PlusRight, Key: enter, Says: "no minus"},
			{Choice: session.TurnedRound, Key: "m", Says: "a minus, turned round"}, unknown}
	case session.AskOpen, session.AskLoaded:
		return []Way{{Choice: "number", Says: "volts, as 12.1", Wants: Value}, unknown}
	case session.AskFuse:
		return []Way{{Choice: "number", Says: "amperes, as 0.4, or 400 mA", Wants: Value},
			{Choice: session.DontKnow, Key: enter, Says: "don't know"}}
	case session.AskLoad:
		return []Way{{Choice: "number", Says: "ohms, as 24 or 1k", Wants: Value},
			{Choice: session.DontKnow, Key: "d", Says: "I have none"}}
	}
	return benchWays(q)
}
