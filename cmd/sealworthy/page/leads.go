package page

import (
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
		"In series: supply plus, red lead, meter 10 A; meter COM to the plus of the model's jack; its minus to supply " +
			"minus.",
		"The whole model. Only where it draws more than the mA jack bears, the red lead goes to 10 A. Say so then: " +
			"another meter, with the fuse of that jack."}
	leadsVolts = Lead{"bench-volts.svg",
		"An adapter, alone: its plus to the meter's V jack, its minus to COM; loaded, a resistor across it, too.",
		"An adapter, alone, on DC volts. Never with a lead in mA or 10 A: there the meter is a short across it."}
)

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
