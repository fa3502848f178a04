package session

import (
	"context"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/returns"
)

// Purpose is what a step of a return is for.
type Purpose string

// The purposes, in the order in which they come.
const (
	LittleFirst Purpose = "little current first"
	WarmUp      Purpose = "warm"
	WarmAgain   Purpose = "warm again"
	ByEye       Purpose = "look"
	Probe       Purpose = "probe"  // a single voltage that tells most
	ForRecord   Purpose = "record" // all of it
	// a resistor that was read when the model left, for what this meter and that differ by
	MetersApart Purpose = "resistor"
)

// ReturnStep says what a step of a return is for and, at its end, what it told.
type ReturnStep struct {
	Purpose Purpose `json:"purpose"`
	First   bool    `json:"first,omitempty"`   // the first of its purpose
	Stopped bool    `json:"stopped,omitempty"` // by its limit
	// Read is what flowed; nil: too few readings, or it isn't over yet.
	Read *ReturnRead `json:"read,omitempty"`
	// Standing is what can be wrong yet, after a single voltage; nil: it can't be told.
	Standing *returns.Diagnosis `json:"standing,omitempty"`
}

// ReturnRead is what flowed, beside what did when the model left.
type ReturnRead struct {
	Amps    float64 `json:"amps"` // A
	ThenA   float64 `json:"then_a"`
	Nothing bool    `json:"nothing,omitempty"` // next to nothing flows
}

var (
	_ capture.Interrupter = (*returnFace)(nil)
	_ capture.Watcher     = (*returnFace)(nil)
	_ capture.Lighter     = (*returnFace)(nil)
)

// returnFace adds to what the engine shows what a step of a return is for.
type returnFace struct {
	desk    *Desk
	face    capture.Face // answers for the clips where nobody is there
	g       *returnGuide
	begun   map[Purpose]bool
	stopped bool // the step under way was
}

// Nobody is true where nobody can be asked.
func (f *returnFace) Nobody() bool { return f.desk.Nobody() }

// Interrupted tells what the maker wants beside a question.
func (f *returnFace) Interrupted() error { return f.desk.Interrupted() }

// Lights tells, once, whether more light is wanted.
func (f *returnFace) Lights() bool { return f.desk.Lights() }

// Watched tells whether somebody could see it.
func (f *returnFace) Watched() bool { return f.desk.Watched() }

// Ask says with the question after a step that was stopped that it was.
func (f *returnFace) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	var about About
	switch {
	case q.Kind == capture.AskAgain && f.stopped:
		about.Stopped = true
		q.Choices = endsFirst(q.Choices)
	case q.Kind == capture.AskLook:
		about.Colours = f.g.said[AskColours] != JudgesNot
		q.NoColours = !about.Colours
		about.Rest = len(q.Groups) < len(f.g.steps.Look.Groups)
	default:
		return f.face.Ask(ctx, q)
	}
	return f.desk.ask(ctx, Question{Question: q, About: &about})
}

// endsFirst puts going on before trying once more: what may be shorted isn't fed again by a slip of a finger.
func endsFirst(choices []string) []string {
	out := slices.DeleteFunc(slices.Clone(choices), func(c string) bool { return c == "next" })
	return append([]string{"next"}, out...)
}

// Show tells what the engine shows, with its step's purpose.
func (f *returnFace) Show(e capture.Event) {
	e.Total = f.g.total
	told := Event{What: Shown, Test: &e}
	if e.Step != nil {
		r := ReturnStep{Purpose: f.g.purpose(*e.Step)}
		switch e.What {
		case capture.StepBegins:
			f.stopped = false
			r.First = !f.begun[r.Purpose]
			f.begun[r.Purpose] = true
		case capture.Trip:
			f.stopped = true
		case capture.StepEnds:
			r.Read, r.Standing = f.g.read, f.g.standing
		}
		r.Stopped = f.stopped
		told.Return = &r
	}
	f.desk.Tell(told)
}

// purpose is what a step is for.
func (g *returnGuide) purpose(s capture.Step) Purpose {
	switch {
	case s.ID == g.steps.Limit.ID:
		return LittleFirst
	case s.ID == g.steps.Warm.ID:
		return WarmUp
	case returns.IsWarmUp(s):
		return WarmAgain
	case s.ID == g.steps.Look.ID:
		return ByEye
	case returns.IsProbe(s):
		return Probe
	case s.Kind == capture.Resistor:
		return MetersApart
	}
	return ForRecord
}
