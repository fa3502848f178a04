package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
)

// benchSet is a bench that is open, with what the command knows of it.
type benchSet struct {
	capture.Bench
	opened map[string]*bench.Opened // by "supply", "meter", "relays"
	at     map[string]string        // the port that each is on now
	leads  compare.Leads
	window time.Duration
	maxA   float64 // of the supply; 0: unknown
}

// who says which instruments stand on the bench, as they call themselves.
func (b *benchSet) who() string {
	var out []string
	for _, which := range []string{theSupply, theMeter, theRelays} {
		if o := b.opened[which]; o != nil && o.Identities[which] != "" {
			out = append(out, which+": "+o.Identities[which])
		}
	}
	return strings.Join(out, "; ")
}

// simulated tells whether time or an instrument is.
func (b *benchSet) simulated() bool {
	for _, x := range []any{b.Supply, b.Meter, b.Relays} {
		if d, ok := x.(instruments.Describer); ok && d.Describe().Simulated {
			return true
		}
	}
	return b.Clock.Simulated()
}

func (b *benchSet) Close() error {
	var errs []error
	for _, o := range b.opened {
		errs = append(errs, o.Close())
	}
	return errors.Join(errs...)
}

// readBench reads the build's bench.toml; without one it's a bench of nothing.
func (b build) readBench() (*bench.Config, error) {
	file := filepath.Join(b.dir, benchFile)
	src, err := readFile(file, mostBytes)
	if errors.Is(err, os.ErrNotExist) {
		return bench.Default(), nil
	}
	if err != nil {
		return nil, err
	}
	return bench.Parse(file, src)
}

// leads gives the resistance of the leads that bench.toml states.
func (b build) leads() (compare.Leads, error) {
	c, err := b.readBench()
	if err != nil {
		return compare.Leads{}, err
	}
	return compare.Leads{Ohm: c.Leads.Ohms, HalfOhm: c.Leads.HalfWidthOhm}, nil
}

// channels maps terminals and buttons to relays: as bench.toml says, else
// feeds in the order of the plan, then buttons.
func channels(p *plan.Plan, c *bench.Config) (feeds, buttons map[string]int) {
	feeds, buttons = map[string]int{}, map[string]int{}
	if len(c.Relay) > 0 {
		for _, r := range c.Relay {
			if r.Feed != "" {
				feeds[r.Feed] = r.Channel
			} else {
				buttons[r.Button] = r.Channel
			}
		}
		return feeds, buttons
	}
	n := 0
	for _, t := range wiring.Terminals(p) {
		n++
		feeds[t.Name] = n
	}
	for _, b := range p.Boards {
		if b.Button {
			n++
			buttons[b.Name] = n
		}
	}
	return feeds, buttons
}

// sitting is one test: where it is recorded and what it goes through.
type sitting struct {
	stage      string
	closure    string
	feeds      []string
	way        capture.Way // empty: each feed alone
	redo       []string
	resume     bool
	seed       uint64
	hold       bool
	ambient    *float64
	limit      time.Duration  // of waiting for a lost instrument; 0: the engine's
	guard      *capture.Guard // nil: the engine makes one
	oneVoltage bool
	one        func(*budget.Budget, compare.StepOptions) ([]capture.Step, error) // nil: the steps of the closure
	sweep      bool                                                              // keep the curve of each feed as built
	allowed    compare.Allowed                                                   // checks of the plan that were accepted by name
	whole      *compare.WholeOptions                                             // nil: feeds, else the whole model at its jack
	proof      *capture.Proof                                                    // of the bench, right before it; nil: none was made
	more       bool                                                              // others follow: what was touched is asked after them
	last       bool                                                              // the others are over: nothing but that is asked
}

// touchFirst says why it is asked what was touched before anything is measured.
func (s sitting) touchFirst() string {
	switch {
	case s.last:
		return "All is measured."
	case s.whole == nil && (s.resume || len(s.redo) > 0):
		return "This test goes on with an earlier one."
	}
	return ""
}

// run carries out a test and returns the file that it was recorded in.
func (s sitting) run(ctx context.Context, e env, b build, bs *benchSet, f capture.Face) (string, error) {
	j, err := b.judge(e, bs.leads)
	if err != nil {
		return "", err
	}
	exp := j.Expected
	bs.AmbientC = s.ambient
	bud, err := exp.At(compare.Conditions{Stage: s.stage, LeadsOhm: bs.leads.Ohm, LeadsHalfOhm: bs.leads.HalfOhm, AmbientC: s.ambient})
	if err != nil {
		return "", err
	}
	accepted, err := b.accepted()
	if err != nil {
		return "", err
	}
	s.allowed = compare.AllowedBy(accepted)
	steps, err := s.steps(b, bud, bs)
	if err != nil {
		return "", err
	}
	sayWrong(e, bud, s.closure, s.allowed)
	rec, done, redone, err := s.begin(e, b, bs, steps)
	if err != nil {
		return "", err
	}
	file, keeper := rec.Path(), record.Keep(rec)
	if err := keepProof(keeper, s.proof, s.stage); err != nil {
		return file, errors.Join(err, rec.Close())
	}
	for _, r := range redone {
		if err := keeper.Mark(capture.Mark{Kind: capture.MarkRedone, At: bs.Clock.Now(), StepID: r.Step.ID, Closure: r.Step.Closure,
			Feed: r.Step.Feed, Groups: r.Step.Groups, Pace: r.Step.Pace, Stage: s.stage, Reason: "asked for", ByMaker: true, Simulated: bs.simulated()}); err != nil {
			return file, errors.Join(err, rec.Close())
		}
	}
	before, err := b.history(env{stderr: io.Discard}) // what is wrong with the record is said with the findings
	if err != nil {
		return file, errors.Join(err, rec.Close())
	}
	guide := compare.NewGuide(j, bud, steps, bs.Relays == nil).After(compare.HistoryOf(before))
	if n, ok := f.(interface{ Nobody() bool }); ok && n.Nobody() {
		guide.Unattended()
	}
	_, err = capture.Run(ctx, bs.Bench, guide, f, keeper, capture.Options{
		Stage: s.stage, Done: done, Total: len(steps), Rand: rand.New(rand.NewPCG(s.seed, 0x5ea1)), HoldWhenLost: s.hold, ReplugFor: s.limit, Guard: s.guard,
		// A whole model has nothing left that could be touched.
		Touch: s.whole == nil, TouchAtEnd: s.stage == compare.Fitted && !s.more, TouchFirst: s.touchFirst(),
	})
	return file, errors.Join(err, rec.Close())
}

// steps makes the steps of a sitting.
func (s sitting) steps(b build, bud *budget.Budget, bs *benchSet) ([]capture.Step, error) {
	if s.whole != nil {
		o := *s.whole
		o.Allowed = s.allowed
		o.Stage, o.JackFuseAmps, o.SupplyMaxAmps, o.MeterWindow = s.stage, bs.MeterFuseAmps, bs.maxA, bs.window
		return compare.WholeSteps(b.plan, bud, o)
	}
	o := compare.StepOptions{
		Stage: s.stage, Closure: s.closure, Feeds: s.feeds, Way: s.way, JackFuseAmps: bs.MeterFuseAmps, SupplyMaxAmps: bs.maxA,
		MeterWindow: bs.window, Sweep: s.sweep, OneVoltage: s.oneVoltage, Allowed: s.allowed,
	}
	if s.last {
		return nil, nil
	}
	if s.one != nil {
		return s.one(bud, o)
	}
	return compare.Steps(b.plan, bud, o)
}

// begin opens the record of a sitting. A resumed test goes on with the latest of
// its stage; what that holds of these steps counts as done.
func (s sitting) begin(e env, b build, bs *benchSet, steps []capture.Step) (rec *record.Recorder, done, redone []capture.StepRecord, err error) {
	var series []int
	if s.resume || len(s.redo) > 0 {
		var have []capture.StepRecord
		if series, have, err = b.goesOn(s.stage); err != nil {
			return nil, nil, nil, err
		}
		f, err := record.ReadDir(b.dir)
		if err != nil {
			return nil, nil, nil, err
		}
		done, redone = s.sort(have, steps)
		done = compare.StillDone(b.plan, compare.HistoryOf(f), steps, done)
	}
	rec, err = b.begin(e, record.Opening{Stage: s.stage, What: record.ForTest, Bench: bs.who(), Now: bs.Clock.Now(), Simulated: bs.simulated(), GoesOn: lastOf(series), Go: runner(s.guard)})
	return rec, done, redone, err
}

// goesOn gives the sittings of the latest test of a stage, and their steps.
func (b build) goesOn(stage string) ([]int, []capture.StepRecord, error) {
	f, err := record.ReadDir(b.dir)
	if err != nil {
		return nil, nil, err
	}
	series := f.Series(stage)
	if series == nil {
		return nil, nil, withHint(fmt.Errorf("no test at stage %s was begun yet", stage), "leave out --resume and --redo to begin one")
	}
	return series, f.StepsOf(series), nil
}

// sort parts what was recorded into what counts and what is to be done again.
func (s sitting) sort(have []capture.StepRecord, steps []capture.Step) (done, redone []capture.StepRecord) {
	for _, r := range have {
		if !slices.ContainsFunc(steps, func(x capture.Step) bool { return x.ID == r.Step.ID }) {
			continue
		}
		switch {
		case slices.Contains(s.redo, r.Step.Feed) || slices.ContainsFunc(r.Step.Groups, func(g string) bool { return r.Step.Kind == capture.Power && slices.Contains(s.redo, g) }):
			redone = append(redone, r)
		case r.Outcome == capture.Measured || r.Outcome == capture.Tripped || (r.Outcome == capture.Skipped && r.Step.Kind != capture.Look && !isUnattendedSkip(r)):
			done = append(done, r)
		}
	}
	return done, redone
}

// isUnattendedSkip: what was left out because nobody was there is asked again, and
// so is what may burn, which may have been mended.
func isUnattendedSkip(r capture.StepRecord) bool {
	return r.Reason == "unattended" || strings.HasPrefix(r.Reason, capture.NotPowered)
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
