package session

import (
	"context"
	"errors"

	"sealworthy/capture"
	"sealworthy/compare/returns"
)

// About holds the figures of a question.
type About struct {
	Plug    string  `json:"plug,omitempty"`     // of the model's jack
	Volts   float64 `json:"volts,omitempty"`    // that its adapter should give
	LoadOhm float64 `json:"load_ohm,omitempty"` // that draws what the model draws
	LoadW   float64 `json:"load_w,omitempty"`
	Seen    string  `json:"seen,omitempty"` // what was seen by eye
	// Least and Most bound a number that may be answered; both 0: none may.
	Least float64 `json:"least,omitempty"`
	Most  float64 `json:"most,omitempty"`
	// Stopped: the step that the question follows was stopped by its limit.
	Stopped bool `json:"stopped,omitempty"`
	// Of a look: whether colours are asked for, and whether others were told already.
	Colours bool `json:"colours,omitempty"`
	// others were told already: this look is at what is left
	Rest bool `json:"rest,omitempty"`
	// Along: the adapter is the one that goes along with the model, not one that came back.
	Along bool `json:"along,omitempty"`
	// FuseA is that of the meter before, which limits stay below where the new one's isn't
	// known, A; 0: it isn't known either.
	FuseA float64 `json:"fuse_a,omitempty"`
	// Of a search for instruments: the port, what kind is on it, which kinds are meant, and
	// why what is there isn't known.
	Port        string   `json:"port,omitempty"`
	Instrument  string   `json:"instrument,omitempty"`  // supply, meter, relays
	Instruments []string `json:"instruments,omitempty"` // the same, of several
	Why         string   `json:"why,omitempty"`         // why what is there isn't known
}

// holds: a number is one that may be answered.
func (a About) holds(v *float64) bool { return v != nil && *v >= a.Least && *v <= a.Most }

// ErrHeldBack: the maker didn't give the model current because of what he saw.
var ErrHeldBack = errors.New("stopped before the model got any current: open it where it shows")

// mostVolts is what an adapter can be asked about: beyond 60 V DC is no longer
// extra-low voltage (IEC 61140).
const mostVolts = 60.0

// mostLoadOhm bounds the resistor that an adapter is tried with (our own choice).
const mostLoadOhm = 1e5

// asker is whoever puts a question: a Desk, or a Session that minds its bench meanwhile.
type asker interface {
	ask(ctx context.Context, q Question) (capture.Answer, error)
}

// inquirer leads through what is looked at and measured before the model gets
// current. What was answered already isn't asked again.
type inquirer struct {
	desk  asker
	about About // of the jack
	have  ReturnAnswers
	// heard says why a client's words aren't understood whole; "": they are. Nil: nobody knows.
	heard func(ReturnAnswers) (why string)
	keep  func(q capture.QuestionKind, answer string) error
}

// all asks what wasn't answered yet, in order.
func (q *inquirer) all(ctx context.Context) error {
	if err := q.eye(ctx); err != nil {
		return err
	}
	if err := q.client(ctx); err != nil {
		return err
	}
	if err := q.one(ctx, AskColours, q.about, Judges, JudgesNot); err != nil {
		return err
	}
	return q.adapter(ctx)
}

// client asks for the client's words, and once more where they aren't understood whole: what is
// left at that counts as far as it's understood.
func (q *inquirer) client(ctx context.Context) error {
	if _, ok := q.have[AskClient]; ok {
		return nil
	}
	if err := q.one(ctx, AskClient, q.about, NothingSaid, Said, DontKnow); err != nil || q.heard == nil {
		return err
	}
	about := q.about
	if about.Why = q.heard(q.have); about.Why == "" {
		return nil
	}
	a, err := q.ask(ctx, AskClient, about, NothingSaid, Said)
	if err != nil || a.Choice != Said {
		return err
	}
	q.have[AskClient] = a.Text
	return q.keep(AskClient, a.Text)
}

// adapter asks for an adapter, alone, idle and loaded.
func (q *inquirer) adapter(ctx context.Context) error {
	if err := q.one(ctx, AskAdapter, q.about, WasSent, NotSent, DontKnow); err != nil ||
		q.have[AskAdapter] != WasSent {
		return err
	}
	if err := q.one(ctx, AskPolarity, q.about, PlusRight, TurnedRound, DontKnow); err != nil {
		return err
	}
	volts := q.about
	volts.Least, volts.Most = -mostVolts, mostVolts
	if err := q.one(ctx, AskOpen, volts, "number", DontKnow); err != nil {
		return err
	}
	if q.have.Adapter().Reversed {
		return nil // whatever else it does, it doesn't fit this model
	}
	// Less than a quarter would take more than any adapter for this model gives.
	load := q.about
	load.Least, load.Most = load.LoadOhm/4, mostLoadOhm
	if err := q.one(ctx, AskLoad, load, "number", DontKnow); err != nil || q.have.Number(AskLoad) == nil {
		return err
	}
	volts.Least = 0
	return q.one(ctx, AskLoaded, volts, "number", DontKnow)
}

// one asks a question that has no answer yet, and keeps the answer.
func (q *inquirer) one(ctx context.Context, kind capture.QuestionKind, about About, choices ...string) error {
	if _, ok := q.have[kind]; ok {
		return nil
	}
	a, err := q.ask(ctx, kind, about, choices...)
	if err != nil {
		return err
	}
	answer := a.Choice
	switch {
	case a.Choice == Seen || a.Choice == Said:
		answer = a.Text
	case a.Number != nil:
		answer = NumberText(*a.Number)
	}
	q.have[kind] = answer
	return q.keep(kind, answer)
}

func (q *inquirer) ask(ctx context.Context, kind capture.QuestionKind, about About, choices ...string) (
	capture.Answer, error) {
	a, err := q.desk.ask(ctx, Question{Question: capture.Question{Kind: kind, Choices: append(choices, "stop")},
		About: &about})
	if err == nil && a.Choice == "stop" {
		err = capture.ErrStopped
	}
	return a, err
}

// eye is the first look. Something seen stops it unless the maker wants to go on.
func (q *inquirer) eye(ctx context.Context) error {
	if err := q.one(ctx, AskEye, q.about, NothingSeen, Seen); err != nil || q.have[AskEye] == NothingSeen {
		return err
	}
	about := q.about
	about.Seen = q.have[AskEye]
	a, err := q.ask(ctx, AskGoOn, about, StopHere, GoOn)
	if err == nil && a.Choice != GoOn {
		return ErrHeldBack
	}
	return err
}

// aboutJack are the figures of the jack that a signature is of.
func aboutJack(r Record, s *returns.Signature) About {
	j := returns.JackOf(r.Plan, s)
	ohm, watt := returns.AdapterLoad(r.Plan, s)
	return About{Plug: j.Plug, Volts: j.Volts, LoadOhm: ohm, LoadW: watt}
}
