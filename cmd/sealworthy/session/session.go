// Package session is one bench in use for one build: it opens the bench, proves
// it, runs the steps of a test, keeps the record and asks the maker. It has no
// words for a person and no terminal: what happens is an Event, what is asked a
// numbered Question, what the maker says an Answer, and all of them are plain
// data. A Face shows them; the terminal is one, a stream of lines another.
//
// Start at Open, which gives a Session; its methods are what can be done on a
// bench. Desk is between the engine and the faces.
//
// It refuses an answer that names another question than the one that is open, or
// a choice that isn't offered: such an answer is told and changes nothing.
//
// Units: V, A, ohm, s. Time comes from the World's clock.
package session

import (
	"context"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments/bench"
)

// Session is one bench in use for one build.
type Session struct {
	Record Record
	Judge  *compare.Judge
	Guard  *capture.Guard // of the same clock as the bench
	Desk   *Desk
	Bench  *Bench
}

// Open opens the bench that cfg and over name. Where somebody is there an
// instrument that says nothing is asked for. j judges what is measured; nil where
// nothing is. Close the session's Bench at its end.
func Open(ctx context.Context, w World, r Record, j *compare.Judge, cfg *bench.Config, over bench.Overrides, d *Desk, g *capture.Guard) (*Session, error) {
	b, err := OpenAwake(ctx, w, r.Plan, cfg, over, d, g)
	if err != nil {
		return nil, err
	}
	d.Tell(Event{What: Opened, Bench: &OnBench{Who: b.Who(), Simulated: b.Simulated(), LeadsOhm: b.Leads.Ohm, Relays: b.Relays != nil}})
	return &Session{Record: r, Judge: j, Guard: g, Desk: d, Bench: b}, nil
}

func (s *Session) now() time.Time { return s.Bench.Clock.Now() }

// Prove proves the bench before the model is suspected of anything.
func (s *Session) Prove(ctx context.Context) (*capture.Proof, error) {
	p, err := capture.Prove(ctx, s.Bench.Bench, s.Desk, capture.ProveOptions{Guard: s.Guard})
	if err != nil {
		return nil, err
	}
	told := p
	told.Readings = nil
	s.Desk.Tell(Event{What: Proved, Proof: &told})
	return &p, nil
}
