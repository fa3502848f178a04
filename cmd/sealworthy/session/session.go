// Package session is one bench in use for one build: it opens the bench, proves
// it, runs the steps of a test, keeps the record and asks the maker. It has no
// words for a person and no terminal: what happens is an Event, what is asked a
// numbered Question, what the maker says an Answer, and all of them are plain
// data. A Face shows them; the terminal is one, a stream of lines another.
//
// Start at Session: open its bench, then its methods are what can be done on it.
// Desk stands between the engine and the faces.
//
// It refuses an answer that names another question than the one that is open, or
// a choice that isn't offered: such an answer is told and changes nothing.
//
// Units: V, A, ohm, s. Time comes from the World's clock.
package session

import (
	"context"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments/bench"
)

// Session is one bench in use for one build.
type Session struct {
	World  World
	Record Record
	Judge  *compare.Judge // nil where nothing is judged
	Guard  *capture.Guard // of the World's clock
	Desk   *Desk
	// Cautions are told with the bench: what to be careful with.
	Cautions []string
	Bench    *Bench  // nil: not open yet
	Beside   *Beside // nil: nothing comes from beside a test

	fuse *statedFuse // to be kept with the next sitting; nil: nothing was stated

	onClip string // what the proof left on the clip; empty: nothing, as far as anyone knows
}

// OpenBench opens the bench that cfg and over name. Where somebody is there an
// instrument that says nothing is asked for. Close the Bench at the end.
func (s *Session) OpenBench(ctx context.Context, cfg *bench.Config, over bench.Overrides) error {
	b, err := OpenAwake(ctx, s.World, s.Record.Plan, cfg, over, s.Desk, s.Guard)
	if err != nil {
		return err
	}
	s.Bench = b
	on := OnBench{Who: b.Who(), Simulated: b.Simulated(), LeadsOhm: b.Leads.Ohm, Relays: b.Relays != nil,
		Meter: b.Meter != nil, ByHand: b.byHand()}
	s.Desk.Tell(Event{What: Opened, Bench: &on})
	for _, c := range s.Cautions {
		s.Desk.Tell(Event{What: Cautioned, Text: c})
	}
	return nil
}

// ask asks between two tests. Its bench is off: that is read back meanwhile.
func (s *Session) ask(ctx context.Context, q Question) (capture.Answer, error) {
	if s.Bench == nil {
		return s.Desk.ask(ctx, q)
	}
	return capture.AskOff(ctx, s.Bench.Bench, aboutIt{s.Desk, q.About}, s.Guard, q.Question)
}

// aboutIt is the face of a question with what it's about.
type aboutIt struct {
	*Desk
	about *About
}

func (a aboutIt) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if q.Kind == capture.AskPlug { // an instrument that is lost meanwhile
		return a.Desk.Ask(ctx, q)
	}
	return a.Desk.ask(ctx, Question{Question: q, About: a.about})
}

func (s *Session) now() time.Time { return s.World.Clock.Now() }

// Prove proves the bench before the model is suspected of anything. handsFree feels what
// the maker holds.
func (s *Session) Prove(ctx context.Context, handsFree bool) (*capture.Proof, error) {
	p, err := capture.Prove(ctx, s.Bench.Bench, s.Desk, capture.ProveOptions{HandsFree: handsFree, Guard: s.Guard})
	if err != nil {
		return nil, err
	}
	if slices.Contains(p.Parts, "resistor") && s.Bench.Relays == nil {
		s.onClip = "the known resistor"
	}
	told := p
	told.Readings = nil
	s.Desk.Tell(Event{What: Proved, Proof: &told})
	return &p, nil
}
