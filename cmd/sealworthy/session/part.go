package session

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/sample"
)

// sampleNote and samplingNote are what a record of pieces says besides readings: what
// they taught, at its end, and what was to be measured, at its begin.
const (
	sampleNote   = "sample"
	samplingNote = "sampling"
)

// NoSampleError: there is no sample of this name and kind that was broken off.
type NoSampleError struct{ Name string }

// Error says so.
func (e *NoSampleError) Error() string {
	return fmt.Sprintf("no sample of %q was broken off that this would go on with", e.Name)
}

// Sample measures loose pieces of a part, learns from them under a name, and keeps
// what was read, and what it taught, in the session's record: that of the part
// book, not of a build. Of t it takes whether to resume, which goes on with the latest one
// that was broken off, if that is the same (other pieces behind another resistor are another
// sample), and whether another meter is proved.
func (s *Session) Sample(ctx context.Context, x sample.Sampling, name string, t Sitting) (got sample.Learned,
	err error) {
	t.Stage, t.pieces = compare.Loose, true
	_, err = s.withMeters(ctx, &t, func(p *capture.Proof) (file string, err error) {
		got, file, err = s.sampled(ctx, x, name, t.Resume, p)
		return file, err
	})
	return got, err
}

// sampled is Sample with the meter that is there.
func (s *Session) sampled(ctx context.Context, x sample.Sampling, name string, resume bool, proof *capture.Proof) (
	got sample.Learned, file string, err error) {
	what, err := json.Marshal(struct {
		Name     string
		Sampling sample.Sampling
	}{name, x})
	if err != nil {
		return got, file, err
	}
	var done []capture.StepRecord
	goesOn := 0
	if resume {
		if done, goesOn, err = s.brokenOff(string(what), name); err != nil {
			return got, file, err
		}
	}
	rec, err := s.Record.Begin(record.Opening{Build: partBook, Stage: compare.Loose, What: record.ForSample,
		GoesOn: goesOn,
		Bench:  s.Bench.Who(), Now: s.now(), Simulated: s.Bench.Simulated(), Go: s.Guard.Go})
	if err != nil {
		return got, "", err
	}
	file = rec.Path()
	defer func() { err = errors.Join(err, rec.End(err)) }()
	s.Desk.Tell(Event{What: Recording, File: file})
	keeper := record.Keep(rec)
	if err := errors.Join(keepProof(keeper, proof, compare.Loose), s.keepFuse(keeper, compare.Loose)); err != nil {
		return got, file, err
	}
	if err := keeper.Note(samplingNote, string(what), compare.Loose, s.now()); err != nil {
		return got, file, err
	}
	if got, err = s.learn(ctx, keeper, x, name, done); err != nil {
		return got, file, err
	}
	told, err := json.Marshal(got)
	if err != nil {
		return got, file, err
	}
	return got, file, errors.Join(keeper.Note(sampleNote, string(told), compare.Loose, s.now()), keeper.Sync())
}

// brokenOff gives the steps of the latest sample, and its last sitting, if it came to no
// end and was to measure the same.
func (s *Session) brokenOff(what, name string) ([]capture.StepRecord, int, error) {
	f, err := record.ReadDir(s.Record.Dir)
	if err != nil {
		return nil, 0, err
	}
	var series []int
	for _, x := range slices.Backward(f.Sittings) {
		if x.What == record.ForSample {
			if series = append(series, x.Number); x.GoesOn == 0 {
				break
			}
		}
	}
	same := false
	for _, n := range f.Notes {
		if !slices.Contains(series, n.Order.Sitting()) {
			continue
		}
		if n.Name == sampleNote || n.Name == samplingNote && n.Text != what {
			return nil, 0, &NoSampleError{name}
		}
		same = same || n.Name == samplingNote
	}
	if !same {
		return nil, 0, &NoSampleError{name}
	}
	done := slices.DeleteFunc(f.StepsOf(series),
		func(r capture.StepRecord) bool { return r.Outcome != capture.Measured })
	return done, series[0], nil
}

// learn measures the pieces that aren't done and learns from all of them.
func (s *Session) learn(ctx context.Context, keeper capture.Record, x sample.Sampling, name string,
	done []capture.StepRecord) (
	sample.Learned, error) {
	x.Bench.LeadsOhm, x.Bench.Window = s.Bench.Leads.Ohm, s.Bench.Window
	steps, err := sample.Steps(x)
	if err != nil {
		return sample.Learned{}, err
	}
	done = s.Bench.wholePieces(steps, done)
	o := capture.Options{Stage: compare.Loose, Total: len(steps), Guard: s.Guard, Done: done,
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
