package session

import (
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/sample"
)

// Sample measures loose pieces of a part, learns from them under a name, and keeps
// what was read, and what it taught, in the session's record: that of the part
// book, not of a build.
func (s *Session) Sample(ctx context.Context, x sample.Sampling, name string) (got sample.Learned, err error) {
	rec, err := s.Record.Begin(record.Opening{Build: "part book", Stage: compare.Loose, What: record.ForSample,
		Bench: s.Bench.Who(), Now: s.now(), Simulated: s.Bench.Simulated(), Go: s.Guard.Go})
	if err != nil {
		return got, err
	}
	defer func() { err = errors.Join(err, rec.Close()) }()
	s.Desk.Tell(Event{What: Recording, File: rec.Path()})
	keeper := record.Keep(rec)
	if got, err = s.learn(ctx, keeper, x, name); err != nil {
		return got, err
	}
	told, err := json.Marshal(got)
	if err != nil {
		return got, err
	}
	return got, errors.Join(keeper.Note("sample", string(told), compare.Loose, s.now()), keeper.Sync())
}

// learn measures the pieces and learns from them.
func (s *Session) learn(ctx context.Context, keeper capture.Record, x sample.Sampling, name string) (
	sample.Learned, error) {
	x.Bench.LeadsOhm, x.Bench.Window = s.Bench.Leads.Ohm, s.Bench.Window
	steps, err := sample.Steps(x)
	if err != nil {
		return sample.Learned{}, err
	}
	o := capture.Options{Stage: compare.Loose, Total: len(steps), Guard: s.Guard,
		Rand: rand.New(rand.NewPCG(uint64(len(steps)), 1))}
	recs, err := capture.Run(ctx, s.Bench.Bench, pieceGuide{steps}, s.Desk, keeper, o)
	if err != nil {
		return sample.Learned{}, err
	}
	return sample.Learn(x, name, recs, compare.MeterName)
}

// pieceGuide walks the pieces; there is nothing to judge them by yet.
type pieceGuide struct{ steps []capture.Step }

// Next gives the first piece that isn't measured.
func (g pieceGuide) Next(done []capture.StepRecord) (capture.Step, bool) {
	for _, s := range g.steps {
		if !slices.ContainsFunc(done, func(r capture.StepRecord) bool { return r.Step.ID == s.ID }) {
			return s, true
		}
	}
	return capture.Step{}, false
}

// Recognise names no clip: a piece is no feed.
func (g pieceGuide) Recognise(capture.Step, float64, float64) (own capture.Fit, others []capture.Fit) {
	return own, nil
}

// Judge says nothing.
func (g pieceGuide) Judge(capture.StepRecord) []capture.Said { return nil }

// Remaining tells how long the pieces that are left take.
func (g pieceGuide) Remaining(done []capture.StepRecord) time.Duration {
	var d time.Duration
	for _, s := range g.steps[min(len(done), len(g.steps)):] {
		d += compare.Lasts(s)
	}
	return d
}
