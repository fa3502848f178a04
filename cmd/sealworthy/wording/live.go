package wording

import (
	"fmt"
	"math"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// Title says which step of how many, and of what.
func Title(e capture.Event) string {
	return fmt.Sprintf("[%d/%d] ", e.Done+1, max(e.Total, e.Done+1)) + Subject(*e.Step)
}

// Subject says what a step is of.
func Subject(s capture.Step) string {
	switch {
	case s.Kind == capture.Look:
		return s.Feed + ": look"
	case s.Kind == capture.Wiggle:
		return s.Feed + ": wiggle"
	case s.Pace != "":
		return subject(s) + ", pace " + s.Pace
	}
	return subject(s)
}

// subject is what hangs on the clip: the name of a jack says nothing to who never gave it one.
func subject(s capture.Step) string {
	if s.Kind == capture.Whole && s.Feed == plan.MainJack {
		return "the whole model"
	}
	return s.Feed
}

// Turn is who is to do something while the output is off.
const (
	YourTurn  = "your turn: see below"
	GetsReady = "getting ready: hands off"
)

// What goes on while no hand is wanted.
const (
	Curve    = "measuring its curve for returns, at lower voltages: hands off"
	AtLower  = "reading it at a lower voltage, too: hands off"
	SetsNext = "what to set the supply to comes next"
)

// SetByHand stands where the voltage of an output does that is set by hand: what it's turned
// to just now is known to its maker alone.
const SetByHand = "as you set it"

// Doing says in plain words what goes on and what hands may do. asked: a question is
// open; drops of the draw were seen in a wiggle so far.
func Doing(e capture.Event, asked bool, drops int) string {
	switch {
	case !e.OutputOn && e.What == capture.HandsOff:
		return "hands off: it's powered in a second"
	case !e.OutputOn && asked:
		return YourTurn
	case !e.OutputOn || e.Step == nil:
		return GetsReady
	case e.Sensing && e.What == capture.HandsOff:
		return "found it: hands off"
	case e.Sensing && e.ToTap:
		return "clip on, then tap or pedal; it's live: don't solder"
	case e.Sensing:
		return "clip on, it's felt by itself; it's live: don't solder"
	case e.Step.Kind == capture.Wiggle && drops > 0:
		return fmt.Sprintf("drops so far: %d. Which wire was it? Go on moving them", drops)
	case e.Step.Kind == capture.Wiggle:
		return "move the wires gently, one after another; a tone means the draw dropped"
	case e.Step.Kind == capture.Look:
		return "look at the lights; don't solder now"
	case asked:
		return YourTurn + "; don't solder now"
	}
	if text := waiting(e); text != "" {
		return text
	}
	switch {
	case e.Sweeping && len(e.Step.Sweep) == 1:
		return AtLower
	case e.Sweeping, e.What == capture.SoFar:
		return Curve
	case e.ByHand && (e.What == capture.RampStep || e.What == capture.OutputOn):
		return SetsNext
	}
	switch e.What {
	case capture.RampStep, capture.OutputOn:
		return "raising the voltage step by step: hands off"
	case capture.Settling:
		return "waiting until the draw is steady: hands off"
	}
	return "reading: hands off"
}

// SoFar says of a verdict what it rests on while the curve of its group is measured.
const SoFar = "So far. It counts once its curve for returns is measured, too."

// ChangedBy says what was told before a verdict: what was measured since made another one of it; "":
// it's what was told.
func ChangedBy(x capture.Said) string {
	if x.Before == "" {
		return ""
	}
	return fmt.Sprintf("So far it was said to be %s: what was read since changed that.", x.Before)
}

// What is said while a clip is felt for, in the place of what is asked: it goes before that.
const (
	FeltSomething = "Felt something: hold still."
	NothingYet    = "Nothing felt. Clip on? Tap its group."
	DrawsNothing  = "An open or reversed group draws nothing, so it can't be felt."
)

// longWait is from when on it's said what is waited for and how long in all (our own choice: from about there on
// somebody turns to other work).
const longWait = 2 * time.Minute

// waiting says what a long wait with the model on is for; "": nothing is waited for so long.
func waiting(e capture.Event) string {
	switch s := e.Step; {
	case s.Kind != capture.Whole || e.Sweeping:
		return ""
	case e.What == capture.Settling && s.Settle.Min >= longWait:
		return "warming up for " + Lasting(s.Settle.Min) + ", then it's read: hands off"
	case e.What == capture.Sampling && s.For >= longWait:
		return "it stays on for " + Lasting(s.For) + " and is watched: each drop is noted"
	}
	return ""
}

// Soak is what it's called to leave a model on for hours and to watch it.
const Soak = "Soak"

// Lasting says how long something takes, as a clock on the wall is read.
func Lasting(d time.Duration) string {
	h, min := int(d.Round(time.Minute)/time.Hour), int(d.Round(time.Minute)%time.Hour/time.Minute)
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case min == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, min)
}

// TimeLeft says how long a test will take yet.
func TimeLeft(d time.Duration) string { return Lasting(d) + " left" }

// LitFor says how long a look stays lit yet.
func LitFor(d time.Duration) string {
	s := int(math.Ceil(d.Seconds()))
	return fmt.Sprintf("lit for %d:%02d more", s/60, s%60)
}

// What the light of a look can be asked for.
const (
	LightMore  = "two minutes more"
	LightAgain = "light it again"
	WentDark   = "dark now: answer, or light it again"
)

// The output's states.
const (
	OutputOn  = "OUTPUT ON"
	Sensing   = "SENSING"
	OutputOff = "output off"
	NotKnown  = "NOT KNOWN" // the supply didn't confirm that it is off
)

// BenchProof is what is under way before any step of the model.
const BenchProof = "proof of the bench"

// BenchProved says that a proof found nothing.
func BenchProved(p capture.Proof) string {
	return fmt.Sprintf("bench proved: leads, clips and meter together %.2f ohm", p.SeriesOhm)
}

// WrongInPlan says which closures a check of the plan holds.
func WrongInPlan(text string, closures []string) string {
	return fmt.Sprintf("%s. It holds %s.", text, strings.Join(closures, ", "))
}
