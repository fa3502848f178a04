package capture

import "sealworthy/instruments"

// What the engine asks of a Guide that can answer it. capture doesn't know the
// plan: names, lights and what hangs on what are known above.

// Looker is a Guide that understands what a maker types at a look.
type Looker interface {
	// Understand reads words said of groups that were lit together.
	Understand(groups []string, typed string) Understood
}

// Understood is what was made of a maker's words.
type Understood struct {
	Seen  []GroupSeen // what was said, group by group
	Whole bool        // nothing of it was left over: a group, how many, what
	Text  string      // the same in plain words; empty: nothing was understood
}

// GroupSeen is what was seen of one group.
type GroupSeen struct {
	Group string `json:"group"`
	Words string `json:"words"` // in the maker's words
}

// Toucher is a Guide that knows what hangs on what.
type Toucher interface {
	// Places lists what can be touched: joints, returns, boards, groups; those on which
	// something of closures hangs first, the others as Elsewhere. No closures: all of them.
	Places(closures []string) []Place
	// Behind names the groups that must be measured anew when a place was touched.
	Behind(place string) []string
}

// Hearer is a Guide that hears what was told of the model while a test runs:
// what was touched, and what of that was taken back.
type Hearer interface {
	Hear(m Mark)
}

// Previewer is a Guide that tells what a step comes to by what was read of it so far.
type Previewer interface {
	// Preview is Judge of a step that isn't over, and leaves everything as it was: nothing that is
	// judged later knows of it.
	Preview(r StepRecord) []Said
}

// Feeler is a Guide that knows how a clip can be felt, and what it may be on.
type Feeler interface {
	// Feeling says how to feel for what is left after done.
	Feeling(done []StepRecord, by FeltBy) Feeling
	// TakenFor says what draws so at each of some voltages.
	TakenFor(done []StepRecord, felt []Felt) Taken
}

// Pacer is a Guide that knows the paces of boards by their draw.
type Pacer interface {
	// Runs tells whether what was drawn last is surely the board of a step at the step's
	// pace, and at no other of its own.
	Runs(s Step, drew []instruments.Reading) bool
}

// FeltBy is what the bench feels with.
type FeltBy struct {
	LeastA  float64 // the meter feels it and more, A
	OutputF float64 // across the supply's output, F; 0: not stated
	// LimitOff is how far the current may be above the limit that was set; zero: not stated.
	LimitOff instruments.Accuracy
}

// Feeling is how a clip may be felt for.
type Feeling struct {
	// Points are voltages with a limit, rising. Below the lowest no LED conducts; the
	// highest, and the limit, harm no part that is left, turned round or without its
	// resistor. Empty: nothing can be felt, and Why says so in a line.
	Points []RampPoint
	Why    string // in plain words
	// Left is what the clip may go on next: the first step of each feed.
	Left []Step
	// Felt are the feeds of Left that are felt at the highest point, when healthy.
	Felt []string
}

// Felt is a draw at a voltage.
type Felt struct {
	Volts, Amps, HalfWidth float64 // A // V
	Limited                bool    // it would draw more
}

// Taken is what a draw fits.
type Taken struct {
	Left []Step   // of Feeling.Left
	Done []string // feeds that are measured already
}

// Place is something that a maker can touch.
type Place struct {
	Name string `json:"name"`
	Kind string `json:"kind"` // joint, return, board, group
	// Elsewhere: nothing of the closures at hand hangs on it, so that it's shown behind what does,
	// once something else is asked for.
	Elsewhere bool `json:"elsewhere,omitempty"`
}

// TheClip is what was touched where it was only the clip or the leads: the
// readings of this feed count no more, what was seen of it does.
const TheClip = "the clip"

// Placed is a Record that knows where it put the last mark: what is taken back
// later names that place.
type Placed interface {
	LastMark() Order
}
