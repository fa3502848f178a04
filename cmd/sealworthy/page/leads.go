package page

import (
	"fmt"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/smoke"
)

// Lead is a picture of which lead goes where.
type Lead struct {
	File string // in static
	Alt  string // the same for who can't see it
	Says string // what stands below it
}

var (
	leadsSupply = Lead{"bench-supply.svg",
		"The supply's sockets: the black lead from minus to the minus clip, the red lead from plus to the meter's mA " +
			"jack; the earth socket stays empty.",
		"The supply. Black in minus, red in plus. The green or yellow socket, earth, stays empty."}
	leadsFree = Lead{leadsSupply.File, leadsSupply.Alt,
		"Take both leads out of these sockets, or let the clips hang apart, on nothing."}
	leadsMeter = Lead{"bench-meter.svg",
		"The meter's jacks: the red lead from the supply's plus in mA, the lead to the clip on the group's plus in COM; " +
			"10 A and V stay empty.",
		"The meter. mA has a fuse: what it bears is printed beside it. 10 A is too coarse for one group. V isn't for " +
			"current."}
	leadsGroup = Lead{"bench-series.svg",
		"In series: supply plus, red lead, meter mA; meter COM, clip, plus of one group; minus of the group, clip, " +
			"black lead, supply minus.",
		"One group, in series: all that flows in the group flows through the meter. Plus to plus: turned round it stays " +
			"dark."}
	leadsWhole = Lead{"bench-whole.svg",
		"In series: supply plus, red lead, meter mA; meter COM to the plus of the model's jack; its minus to supply " +
			"minus.",
		"The whole model. Where it draws more than the mA jack bears, the red lead goes to 10 A. Say so then: " +
			"another meter, with the fuse of that jack."}
	leadsVolts = Lead{"bench-volts.svg",
		"An adapter, alone: its plus to the meter's V jack, its minus to COM; loaded, a resistor across it, too.",
		"An adapter, alone, on DC volts. Never with a lead in mA or 10 A: there the meter is a short across it."}
)

// leadsClips is a group without a meter in its plus lead.
var leadsClips = Lead{"bench-clips.svg",
	"Supply plus, red lead, clip, plus of one group; minus of the group, clip, black lead, supply minus. No meter is " +
		"between.",
	"One group on the supply alone, whose own reading is taken. Plus to plus: turned round it stays dark."}

// clipsOf is where the clips go that a question asks to be put on: of a group, or a board; nil: hands
// clip nothing, or relays stand between, which no picture has.
func clipsOf(q session.Question, on *session.OnBench) *Lead {
	if q.Kind != capture.AskClip && q.Kind != capture.AskSense || q.Step == nil || on == nil || on.Relays {
		return nil
	}
	switch {
	case q.Step.Kind == capture.Whole && on.Meter:
		return &leadsWhole
	case q.Step.Kind != capture.Power || q.Step.Feed == "":
		return nil
	}
	x, plus := leadsGroup, "the clip of the meter's COM lead"
	jack := " The red lead is in the meter's mA jack; in 10 A only where it draws more than mA bears."
	if !on.Meter {
		x, plus, jack = leadsClips, "the red clip", " The supply's own reading is taken."
	}
	x.Says = fmt.Sprintf("Of %q: %s on its plus, the black clip on its minus. Where the model has one minus for all, "+
		"the black clip stays there.%s", q.Step.Feed, plus, jack)
	return &x
}

// leadsOf are the pictures that go with a question.
func leadsOf(q session.Question) []Lead {
	switch q.Kind {
	case session.AskFree:
		if q.About != nil && q.About.Instrument == string(smoke.NothingOnSupply) {
			return []Lead{leadsFree}
		}
	case session.AskTry, session.AskOutput:
		return []Lead{leadsSupply}
	case session.AskJack, session.AskFuse, session.AskMeter:
		return []Lead{leadsMeter}
	case session.AskPolarity, session.AskOpen, session.AskLoaded:
		return []Lead{leadsVolts}
	case capture.AskSupply, capture.AskNumber:
		return []Lead{leadsGroup}
	}
	return nil
}
