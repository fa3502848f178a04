package session

import (
	"context"

	"sealworthy/capture"
)

// Event is one thing that happened. They come in order, and none is left out.
type Event struct {
	N    uint64 `json:"n"` // 1, 2, 3 … of the session
	What What   `json:"what"`
	// Version is that of the events, of Hello.
	Version int `json:"version,omitempty"`
	// Test is what the engine shows, of Shown.
	Test *capture.Event `json:"test,omitempty"`
	// StepID is that of the step that Test is of, where the step itself isn't written.
	StepID string `json:"step_id,omitempty"`
	// Band is what a healthy feed draws in the step that begins, where that is known.
	Band *Band `json:"band,omitempty"`
	// Return says what Test's step is for, of a return.
	Return *ReturnStep `json:"return,omitempty"`
	// Ask is what is asked, of Asked.
	Ask *Question `json:"ask,omitempty"`
	// Of is the number of the question that an answer, a refusal or a withdrawal is of.
	Of     int             `json:"of,omitempty"`
	Answer *capture.Answer `json:"answer,omitempty"` // of Answered
	Why    Refusal         `json:"why,omitempty"`    // of Refused
	Bench  *OnBench        `json:"bench,omitempty"`  // of Opened
	Proof  *capture.Proof  `json:"proof,omitempty"`  // of Proved, without its readings
	Wrong  *Wrong          `json:"wrong,omitempty"`  // of WrongInPlan
	Next   *Next           `json:"next,omitempty"`   // of Chosen
	Meter  *NewMeter       `json:"meter,omitempty"`  // of Remetered
	File   string          `json:"file,omitempty"`   // of Recording and Written
	Text   string          `json:"text,omitempty"`   // of Noted, Cautioned, Trying, Tried and Over
	Port   string          `json:"port,omitempty"`   // of Looking and Trying
	Looked *Looked         `json:"looked,omitempty"` // of LookedAt
	// Result is what was found, of Found: as the verb prints it with --json.
	Result any `json:"result,omitempty"`
	// Status is the exit status, of Over; Hints say what to do about its Text.
	Status *int     `json:"status,omitempty"`
	Hints  []string `json:"hints,omitempty"`
}

// What says what an Event is about.
type What string

// What can be told.
const (
	Hello       What = "hello"     // the first: Version, and Text is the program
	Opened      What = "opened"    // the bench stands, its output is off
	Cautioned   What = "caution"   // Text is what to be careful with
	Noted       What = "note"      // Text is something about the record that isn't as it should be
	Proved      What = "proved"    // the bench was tried before the model
	WrongInPlan What = "wrong"     // a check of the plan that holds closures
	Recording   What = "recording" // File is where it is kept
	Remetered   What = "meter"     // another meter is in use: Meter
	Chosen      What = "next"      // what is measured next, of a diagnosis
	Looking     What = "looking"   // an instrument is looked for on Port
	LookedAt    What = "looked"    // what is known of a port now: Looked
	Trying      What = "trying"    // what is on Port is tried in the maker's hands; Text is its kind
	Tried       What = "tried"     // Text is one thing that a trial found
	Written     What = "written"   // the instruments were written down in File
	Shown       What = "test"      // what the engine shows
	Asked       What = "asked"     // a question is open
	Answered    What = "answered"  // it was answered, by whichever face
	Withdrawn   What = "withdrawn" // it needs no answer any more
	Refused     What = "refused"   // an answer that changes nothing, and why
	Found       What = "found"     // Result
	Over        What = "over"      // the last: Status, and Text where it failed
)

// OnBench is a bench that was opened, in a few words.
type OnBench struct {
	Who       string  `json:"who"`       // its instruments, as they call themselves
	Simulated bool    `json:"simulated"` // it, or its time, is
	LeadsOhm  float64 `json:"leads_ohm"`
	Relays    bool    `json:"relays"` // they switch the feeds; else hands do
	Meter     bool    `json:"meter"`  // one sits in the plus lead; else the supply's own reading is taken
	// ByHand: nothing here can switch the supply, the maker does.
	ByHand bool `json:"by_hand,omitempty"`
}

// Band is where the draw of a healthy feed lies, A: that of a board from its lowest
// to its highest level.
type Band struct {
	LowA  float64 `json:"low_a"`
	HighA float64 `json:"high_a"`
}

// Wrong is a check of the plan that wasn't accepted.
type Wrong struct {
	Text     string   `json:"text"`     // in plain words, with what to do
	Closures []string `json:"closures"` // that it holds
}

// Next is the measurement that a diagnosis makes next.
type Next struct {
	Group string  `json:"group"`
	What  string  `json:"what"` // in plain words
	Bits  float64 `json:"bits"` // what it is expected to tell
}

// Question is what is asked, with its number in the session: an answer names it.
type Question struct {
	Number int `json:"number"` // 1, 2, 3 … of the session
	capture.Question
	About *About `json:"about,omitempty"` // nil: nothing goes with it
}

// Answer is the maker's, to the question of that number.
type Answer struct {
	Question int `json:"question"` // the number of the question
	capture.Answer
}

// Face is where a session is followed: a terminal, a page, a stream of lines.
type Face interface {
	// Tell shows an event and returns at once. Calls come one after another. It must
	// not call the session in turn.
	Tell(Event)
}

// Watcher is a Face that knows whether somebody could see what it shows.
type Watcher interface {
	Face
	// Watched: somebody could see it just now.
	Watched() bool
}

// Asker is a Face that waits for its maker's answer by itself. Others give
// theirs through Desk.Answer.
type Asker interface {
	Face
	// Ask waits for the answer to q. ctx ends when none is wanted any more.
	Ask(ctx context.Context, q Question) (capture.Answer, error)
}
