package capture

// QuestionKind says what is asked.
type QuestionKind string

// What can be asked. Each says which choices an Answer may have.
const (
	AskClip  QuestionKind = "clip"  // done, skip (Text is the reason), stop; with a wrong clip supposed also: keep
	AskPress QuestionKind = "press" // done, skip, stop
	// AskLook: right (never by Enter alone), wrong (Text says which), skip, stop; NoColours or
	// Colours, about who looks, and it's asked anew; where a board has a button also Press
	// (Text is a number or name of Places; empty where there is one).
	AskLook   QuestionKind = "look"
	AskWiggle QuestionKind = "wiggle" // done, skip, stop
	// AskAgain follows a bad verdict: redo, next, accept (Text is the reason), stop. The first choice is
	// what is to be done: redo once it's mended, next where nothing is known to be wrong.
	AskAgain QuestionKind = "again"
	// AskUnderstood follows a look that was not understood whole, with what was:
	// right (that is it), wrong (Text says it anew), stop.
	AskUnderstood QuestionKind = "understood"
	// AskHazard comes before what may burn: skip, stop, or allow with the check's
	// name in Text. AskReason follows it: reason (Text is it), skip, stop.
	AskHazard QuestionKind = "hazard"
	AskReason QuestionKind = "reason"
	// AskTouched asks what was touched: nothing, touched (Text names places of
	// Question.Places by number or name, or TheClip), stop.
	AskTouched QuestionKind = "touched"
	AskNumber  QuestionKind = "number" // Number in SI, or overload
	AskSupply  QuestionKind = "supply" // done, stop: set the supply by hand
	// AskSense goes with sensing: done (the clip is on the feed of Step), pick (Text is
	// a number or name of Places: it's on that), solder (switch off to solder), sense
	// (feel for it once more), skip (of Step, Text is the reason), stop. The first
	// choice is the plainest.
	AskSense  QuestionKind = "sense"
	AskSolder QuestionKind = "solder" // the output is off to solder: done (feel for a clip again), stop
	// AskPlug: an instrument is gone: done, stop; where a stranger is in its place also
	// Another, which ends the test with an AnotherError; of a meter always.
	AskPlug QuestionKind = "plug"
)

// Question is asked of the maker. Where its Choices hold Undo the last answer
// can be taken back instead.
type Question struct {
	Kind    QuestionKind `json:"kind"`
	Text    string       `json:"text"`    // in plain words, as it is asked
	Choices []string     `json:"choices"` // the words that Answer.Choice can be
	Step    *Step        `json:"step,omitempty"`
	Groups  []string     `json:"groups,omitempty"` // those that a look is at: the answer is theirs alone
	Help    string       `json:"help,omitempty"`   // what is said when the maker asks what is meant
	// NoColours: whoever looks can't judge colours.
	NoColours bool   `json:"no_colours,omitempty"`
	Which     string `json:"which,omitempty"` // the instrument that AskPlug is about: supply, meter, relays
	// what may have been touched, in the order in which they are numbered
	Places []Place `json:"places,omitempty"`
}

// Press is the choice that steps a board to its next pace while its lights are looked at.
const Press = "press"

// Undo is the choice that takes the last answer back.
const Undo = "undo"

// Answer is the maker's.
type Answer struct {
	Choice string `json:"choice"` // one of the question's Choices
	// what was said with it: names, a reason, what was seen
	Text string `json:"text,omitempty"`
	// in the unit of the question; nil: no number was asked for
	Number *float64 `json:"number,omitempty"`
}
