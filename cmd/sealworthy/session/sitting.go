package session

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/scene"
)

// Sitting is one test: of what, and how.
type Sitting struct {
	Stage   string
	Closure string   // "": all of them
	Feeds   []string // only these; nil: all
	Way     capture.Way
	Redo    []string // groups to be measured anew
	Resume  bool     // go on with the latest test of the stage
	Seed    uint64   // of the spacing of readings; 0: drawn by the time
	// HandsFree feels for what is clipped on, where that is safe; boards come first then.
	HandsFree bool
	Hold      bool     // keep the output on at its limit when the meter is lost
	RoomC     *float64 // nil: not known
	// Replug is how long an unattended test waits for a lost instrument; 0: the
	// engine's own.
	Replug     time.Duration
	OneVoltage bool                  // leave out the second voltage of a group with several kinds of branches
	Sweep      bool                  // keep the curve of each feed as built
	Whole      *compare.WholeOptions // nil: feeds, else the whole model at its jack
	Prove      bool                  // prove the bench first
	Reprove    bool                  // prove it where another instrument is there than before
	More       bool                  // others follow: what was touched is asked after them
	Last       bool                  // the others are over: nothing but that is asked

	pieces bool                                                              // loose ones, of a part
	one    func(*budget.Budget, compare.StepOptions) ([]capture.Step, error) // nil: the steps of the closure
}

// touchFirst says why it is asked what was touched before anything is measured.
func (s Sitting) touchFirst() string {
	switch {
	case s.Last:
		return "All is measured."
	case s.Whole == nil && (s.Resume || len(s.Redo) > 0):
		return "This test goes on with an earlier one."
	}
	return ""
}

// touchLast: it is asked what was touched once all is measured. Of what was glued shut,
// too: without an answer its retest would unsettle what was ready.
func (s Sitting) touchLast() bool {
	return (s.Stage == compare.Fitted || s.Stage == compare.Closed) && s.Whole == nil && !s.More
}

// Run carries out a test and returns the file that it was recorded in. Its maker may take
// another meter in the middle of it.
func (s *Session) Run(ctx context.Context, t Sitting) (file string, err error) {
	return s.withMeters(ctx, &t, func(p *capture.Proof) (string, error) { return s.sit(ctx, t, p) })
}

// sit is Run with the meter that is there.
func (s *Session) sit(ctx context.Context, t Sitting, proof *capture.Proof) (file string, err error) {
	s.Bench.AmbientC = t.RoomC
	bud, allowed, steps, err := s.stepsOf(t)
	if err != nil {
		return "", err
	}
	for _, c := range bud.Binding(t.Closure, allowed) {
		s.Desk.Tell(Event{What: WrongInPlan, Wrong: &Wrong{c.Text, c.Closures}})
	}
	rec, done, redone, err := s.begin(t, steps)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, rec.End(err)) }()
	defer s.Beside.open(rec, t.Stage)()
	file, keeper := rec.Path(), record.Keep(rec)
	s.Desk.Tell(Event{What: Recording, File: file})
	if err := errors.Join(keepProof(keeper, proof, t.Stage), s.keepFuse(keeper, t.Stage)); err != nil {
		return file, err
	}
	for _, r := range redone {
		m := capture.Mark{Kind: capture.MarkRedone, At: s.now(), StepID: r.Step.ID, Closure: r.Step.Closure,
			Feed: r.Step.Feed, Groups: r.Step.Groups, Pace: r.Step.Pace, Stage: t.Stage,
			Reason: "asked for", ByMaker: true, Simulated: s.Bench.Simulated()}
		if err := keeper.Mark(m); err != nil {
			return file, err
		}
	}
	before, err := s.Record.folded()
	if err != nil {
		return file, err
	}
	guide := compare.NewGuide(s.Judge, bud, steps, s.Bench.Relays == nil).After(compare.HistoryOf(before))
	if s.Desk.Nobody() {
		guide.Unattended()
	}
	o := s.options(t, done, len(steps))
	judges, known := JudgesColours(before)
	o.NoColours = known && !judges
	_, err = capture.Run(ctx, s.Bench.Bench, guide, s.face(t, bud), keeper, o)
	return file, err
}

// options are the engine's for a test.
func (s *Session) options(t Sitting, done []capture.StepRecord, total int) capture.Options {
	if t.Seed == 0 {
		t.Seed = uint64(s.now().UnixNano())
	}
	onClip := s.onClip
	s.onClip = "" // after a test nobody knows
	return capture.Options{
		Stage: t.Stage, Done: done, Total: total, Rand: rand.New(rand.NewPCG(t.Seed, 0x5ea1)),
		HandsFree: t.HandsFree, OnClip: onClip, HoldWhenLost: t.Hold, ReplugFor: t.Replug, Guard: s.Guard,
		// A whole model has nothing left that could be touched.
		Touch: t.Whole == nil, TouchAtEnd: t.touchLast(), TouchFirst: t.touchFirst(),
	}
}

// face is the engine's for a test. Of a whole model with nobody there the clips
// are on its plug already.
func (s *Session) face(t Sitting, b *budget.Budget) capture.Face {
	switch {
	case t.Whole == nil && b != nil:
		return &expecting{Desk: s.Desk, b: b}
	case s.Desk.Nobody():
		return clipped{s.Desk}
	}
	return s.Desk
}

// expecting tells with each step what a healthy feed draws in it, and with each point of its
// sweep what it draws there.
type expecting struct {
	*Desk
	b     *budget.Budget
	swept map[float64]*Band // by V, of the step under way
}

func (x *expecting) Show(e capture.Event) {
	told := Event{What: Shown, Test: &e}
	switch {
	case e.What == capture.StepBegins && e.Step != nil:
		told.Band = bandOf(x.b, *e.Step, e.Step.Volts)
		x.swept = map[float64]*Band{}
		for _, p := range e.Step.Sweep { // now, with the output off: it takes time
			x.swept[p.Volts] = bandOf(x.b, *e.Step, p.Volts)
		}
	case e.Sweeping && e.What == capture.RampStep:
		told.Band = x.swept[e.SetVolts]
	}
	x.Tell(told)
}

// bandOf is what a healthy feed draws at a voltage of a step that powers it alone; nil: it
// isn't known, or other feeds are on as well.
func bandOf(b *budget.Budget, s capture.Step, volts float64) *Band {
	f, ok := b.FeedNamed(s.Feed)
	if !ok || f.AsFound || s.Kind != capture.Power || s.Way == capture.Added || s.Way == capture.Joined {
		return nil
	}
	c, err := b.Curve(f.Feed, volts)
	if err != nil || len(c) != 1 {
		return nil
	}
	return &Band{c[0].LowA, c[0].HighA}
}

// clipped answers for the clips where nobody is there.
type clipped struct{ *Desk }

func (c clipped) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if q.Kind == capture.AskClip {
		return capture.Answer{Choice: "done"}, nil
	}
	return c.Desk.Ask(ctx, q)
}

// stepsOf makes the steps of a sitting, with the budget that they're made by and the
// checks that were accepted.
func (s *Session) stepsOf(t Sitting) (*budget.Budget, compare.Allowed, []capture.Step, error) {
	l := s.Bench.Leads
	bud, err := s.Judge.Expected.At(scene.Scene{Loose: t.Stage == compare.Loose, LeadsOhm: l.Ohm,
		LeadsHalfOhm: l.HalfOhm, Room: scene.Measured(t.RoomC)})
	if err != nil {
		return nil, nil, nil, err
	}
	accepted, err := s.Record.Accepted()
	if err != nil {
		return nil, nil, nil, err
	}
	allowed := compare.AllowedBy(accepted)
	steps, err := s.steps(t, bud, allowed)
	return bud, allowed, steps, err
}

func (s *Session) steps(t Sitting, bud *budget.Budget, allowed compare.Allowed) ([]capture.Step, error) {
	b := s.Bench
	if t.Whole != nil {
		o := *t.Whole
		o.Allowed = allowed
		o.Stage, o.JackFuseAmps, o.SupplyMaxAmps, o.MeterWindow = t.Stage, b.MeterFuseAmps, b.MaxA, b.Window
		return compare.WholeSteps(s.Record.Plan, bud, o)
	}
	o := compare.StepOptions{
		Stage: t.Stage, Closure: t.Closure, Feeds: t.Feeds, Way: t.Way, JackFuseAmps: b.MeterFuseAmps,
		SupplyMaxAmps: b.MaxA,
		MeterWindow:   b.Window, Sweep: t.Sweep, OneVoltage: t.OneVoltage, Allowed: allowed,
	}
	switch {
	case t.Last:
		return nil, nil
	case t.one != nil:
		return t.one(bud, o)
	}
	steps, err := compare.Steps(s.Record.Plan, bud, o)
	if t.HandsFree && b.Relays == nil {
		steps = compare.UnfeltFirst(bud, steps)
	}
	return steps, err
}

// begin opens the record of a sitting. A resumed test goes on with the latest of
// its stage; what that holds of these steps counts as done.
func (s *Session) begin(t Sitting, steps []capture.Step) (
	rec *record.Recorder, done, redone []capture.StepRecord, err error) {
	var series []int
	if t.Resume || len(t.Redo) > 0 {
		var have []capture.StepRecord
		if series, have, err = s.Record.GoesOn(t.Stage); err != nil {
			return nil, nil, nil, err
		}
		f, err := record.ReadDir(s.Record.Dir)
		if err != nil {
			return nil, nil, nil, err
		}
		done, redone = t.sort(s.Bench.sameMeter(t, have), steps)
		done = compare.StillDone(s.Record.Plan, compare.HistoryOf(f), steps, done)
	}
	rec, err = s.Record.Begin(record.Opening{Stage: t.Stage, What: record.ForTest, Bench: s.Bench.Who(), Now: s.now(),
		Simulated: s.Bench.Simulated(), GoesOn: LastOf(series), Go: s.Guard.Go})
	return rec, done, redone, err
}

// sort parts what was recorded into what counts and what is to be done again.
func (t Sitting) sort(have []capture.StepRecord, steps []capture.Step) (done, redone []capture.StepRecord) {
	for _, r := range have {
		switch {
		case !slices.ContainsFunc(steps, func(x capture.Step) bool { return x.ID == r.Step.ID }):
		case t.redoes(r.Step):
			redone = append(redone, r)
		case counts(r):
			done = append(done, r)
		}
	}
	return done, redone
}

// redoes: a step is to be done anew, for its feed or for a group that it powers.
func (t Sitting) redoes(s capture.Step) bool {
	return slices.Contains(t.Redo, s.Feed) || s.Kind == capture.Power &&
		slices.ContainsFunc(s.Groups, func(g string) bool { return slices.Contains(t.Redo, g) })
}

// counts: a step that was recorded needn't be done again. What was left out because
// nobody was there is asked again, and so is what may burn, which may have been
// mended, and each look.
func counts(r capture.StepRecord) bool {
	switch r.Outcome {
	case capture.Measured, capture.Tripped:
		return true
	case capture.Skipped:
		return r.Step.Kind != capture.Look && !leftOutAlone(r)
	}
	return false
}

// leftOutAlone: nobody decided to leave it out.
func leftOutAlone(r capture.StepRecord) bool {
	return r.Reason == "unattended" || strings.HasPrefix(r.Reason, capture.NotPowered)
}
