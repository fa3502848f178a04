// Package tones says which sound goes with what happens in a session, for every face
// alike: a page plays the recorded tones of page/static/tones, a terminal rings its bell
// in the rhythm of Bell. A maker with both hands full tells by it what came.
//
// The sounds are our own; go generate makes the recordings anew from the table below.
package tones

import (
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

//go:generate go test -run TestRecordings -update-tones

// Name names a tone.
type Name string

// The tones.
const (
	Contact  Name = "contact"   // something was felt at the clip
	HandsOff Name = "hands off" // it's ramped in a moment
	Good     Name = "good"
	NotGood  Name = "not good"
	CantTell Name = "can't tell"
	YourTurn Name = "your turn" // something is asked
	Trip     Name = "trip"
	Drop     Name = "drop" // of the draw, while wires are moved
	// The three states of the output.
	OutputOff Name = "output off"
	Sensing   Name = "sensing"
	OutputOn  Name = "output on"
)

// strike is one note of a tone: struck, then dying away.
type strike struct {
	hz    float64
	after time.Duration // the one before began
	lasts time.Duration
	soft  bool
}

// tone is how one sounds, and when a bell is rung for it, since its begin.
type tone struct {
	name    Name
	strikes []strike
	bell    []time.Duration
}

const ms = time.Millisecond

// A terminal's bell has one pitch and no length: it's told by count and rhythm. So far
// apart they are heard as several, by a terminal that drops what comes too fast, too
// (our own choice, no source).
const (
	quick = 180 * ms
	slow  = 520 * ms
)

// all are the tones: what is well rises, what isn't falls, the states of the output are
// soft.
var all = []tone{
	{Contact, []strike{{880, 0, 120 * ms, false}}, []time.Duration{0}},
	{HandsOff, []strike{{587, 0, 130 * ms, false}, {587, 150 * ms, 180 * ms, false}}, []time.Duration{0, quick}},
	{Good, []strike{{523, 0, 150 * ms, false}, {659, 110 * ms, 150 * ms, false}, {784, 110 * ms, 260 * ms, false}},
		[]time.Duration{0, quick, 2 * quick}},
	{NotGood, []strike{{330, 0, 220 * ms, false}, {247, 200 * ms, 320 * ms, false}}, []time.Duration{0, slow,
		2 * slow}},
	{CantTell, []strike{{440, 0, 160 * ms, false}, {440, 190 * ms, 160 * ms, false}, {415, 190 * ms, 220 * ms, false}},
		[]time.Duration{0, quick, quick + slow}},
	{YourTurn, []strike{{988, 0, 100 * ms, false}, {784, 120 * ms, 180 * ms, false}}, []time.Duration{0, slow}},
	{Trip, []strike{{294, 0, 180 * ms, false}, {220, 150 * ms, 180 * ms, false}, {294, 150 * ms, 180 * ms, false},
		{220, 150 * ms, 260 * ms, false}}, []time.Duration{0, quick, 2 * quick, 3 * quick, 4 * quick}},
	{Drop, []strike{{1175, 0, 80 * ms, false}}, []time.Duration{0}},
	{OutputOff, []strike{{392, 0, 90 * ms, true}, {262, 80 * ms, 140 * ms, true}}, nil},
	{Sensing, []strike{{349, 0, 90 * ms, true}, {349, 140 * ms, 90 * ms, true}}, nil},
	{OutputOn, []strike{{262, 0, 90 * ms, true}, {392, 80 * ms, 140 * ms, true}}, nil},
}

// Bell gives when a terminal's bell is rung for a tone, since its begin. The states of
// the output have none: what goes with them has, and the words stand there all the time.
func Bell(n Name) []time.Duration {
	for _, t := range all {
		if t.name == n {
			return t.bell
		}
	}
	return nil
}

// Names are those of all tones.
func Names() (out []Name) {
	for _, t := range all {
		out = append(out, t.name)
	}
	return out
}

// Ear tells which tones go with what happens, one event after the other. The zero value
// has heard nothing.
type Ear struct {
	now    Name // the output's state
	warned bool // hands off was said before the output goes on
}

// Hear gives the tones of an event, in the order in which they sound.
func (x *Ear) Hear(e session.Event) []Name {
	switch {
	case e.What == session.Asked:
		return []Name{YourTurn}
	case e.What == session.Shown && e.Test != nil:
		return x.shown(*e.Test)
	}
	return nil
}

// shown gives the tones of what the engine shows.
func (x *Ear) shown(e capture.Event) (out []Name) {
	switch e.What {
	case capture.OutputOn:
		if !x.warned { // it said so a moment ago
			out = append(out, HandsOff)
		}
	case capture.HandsOff:
		x.warned = true
		out = append(out, HandsOff)
	case capture.Contact:
		out = append(out, Contact)
	case capture.NothingYet: // whoever looks at the model has to look up
		out = append(out, YourTurn)
	case capture.Trip:
		out = append(out, Trip)
	case capture.DropSeen:
		out = append(out, Drop)
	case capture.Paused:
		out = append(out, NotGood)
	case capture.StepEnds:
		out = append(out, verdict(e.Said)...)
	}
	if cameToNothing(e) {
		x.warned = false
	}
	return append(out, x.state(e)...)
}

// cameToNothing: what hands were told to let go of isn't powered after all.
func cameToNothing(e capture.Event) bool {
	switch e.What {
	case capture.Lit, capture.Paused, capture.StepEnds:
		return !e.OutputOn
	}
	return false
}

// state is the tone of the output's new state. Between sensing and the ramp it's off for
// a moment: that isn't told.
func (x *Ear) state(e capture.Event) []Name {
	now := OutputOff
	switch {
	case e.OutputOn && e.Sensing:
		now = Sensing
	case e.OutputOn:
		now, x.warned = OutputOn, false
	}
	was := x.now
	if now == OutputOff && x.warned && was == Sensing &&
		(e.What == capture.OutputOff || e.What == capture.StepBegins) {
		return nil
	}
	if x.now = now; now == was {
		return nil
	}
	if now != OutputOn {
		x.warned = false
	}
	if was == "" && now == OutputOff {
		return nil
	}
	return []Name{now}
}

// verdict is the tone of what is said of the groups of a step: that of the worst.
func verdict(said []capture.Said) []Name {
	worst := Name("")
	for _, x := range said {
		switch {
		case !x.Good && !x.Undecided:
			return []Name{NotGood}
		case x.Undecided:
			worst = CantTell
		case worst == "":
			worst = Good
		}
	}
	if worst == "" {
		return nil
	}
	return []Name{worst}
}
