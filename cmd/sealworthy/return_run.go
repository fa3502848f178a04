package main

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/instruments/clock"
)

// guided is a sitting in which a return is led through: what was asked of it
// and what was read goes into one record.
type guided struct {
	sitting
	sig *returns.Signature

	file string // empty before the record is open
	rec  *record.Recorder
	keep *record.Keeper
	done []capture.StepRecord // of the same sitting, before it was cut
	said answers
	// weigh holds how probable faults are held before anything is measured.
	weigh returns.Options
}

// open opens the record: it goes on with the latest test of this stage where it
// is resumed. What given says is put on top of what was answered there.
func (g *guided) open(e env, b build, c clock.Clock, given answers) error {
	var err error
	if g.weigh, err = b.returnOptions(e); err != nil {
		return err
	}
	var series []int
	var steps []capture.StepRecord
	if g.resume {
		if series, steps, err = b.goesOn(g.stage); err != nil {
			return err
		}
	}
	now := c.Now()
	rec, err := b.begin(e, record.Opening{Stage: g.stage, What: record.ForTest, Now: now, Simulated: c.Simulated(), GoesOn: lastOf(series), Go: runner(g.guard)})
	if err != nil {
		return err
	}
	g.file, g.rec, g.keep = rec.Path(), rec, record.Keep(rec)
	for _, r := range steps {
		if r.Step.Kind == capture.Whole && (r.Outcome == capture.Measured || r.Outcome == capture.Tripped || r.Outcome == capture.Skipped && !isUnattendedSkip(r)) {
			g.done = append(g.done, r)
		}
	}
	g.said = answersIn(steps)
	for _, q := range []string{askedEye, askedAdapter, askedPolarity, askedOpen, askedOhms, askedLoaded} {
		if a, ok := given[q]; ok && g.said[q] != a {
			g.said[q] = a
			if err := keepAnswer(g.keep, b, q, a, now); err != nil {
				return errors.Join(err, rec.Close())
			}
		}
	}
	return nil
}

// close ends the record.
func (g *guided) close() error {
	if g.rec == nil {
		return nil
	}
	err := g.rec.Close()
	g.rec = nil
	return err
}

// ask leads through what is looked at and measured before the model gets
// current. What was answered already isn't asked again.
func (g *guided) ask(ctx context.Context, b build, f *face, now func() time.Time) error {
	if f.Nobody() {
		return nil
	}
	ctx, cancel := g.guard.Context(ctx) // a signal ends a question
	defer cancel()
	q := inquirer{face: f, p: b.plan, s: g.sig, have: g.said,
		keep: func(question, answer string) error { return keepAnswer(g.keep, b, question, answer, now()) }}
	return q.all(ctx)
}

// steps makes the steps of the guide for a bench.
func (g *guided) steps(b build, bs *benchSet) (returns.Guided, error) {
	bud, err := compare.NewExpected(b.plan).At(compare.Conditions{Stage: g.stage, LeadsOhm: bs.leads.Ohm, LeadsHalfOhm: bs.leads.HalfOhm, AmbientC: g.ambient})
	if err != nil {
		return returns.Guided{}, err
	}
	accepted, err := b.accepted()
	if err != nil {
		return returns.Guided{}, err
	}
	s := g.sitting
	s.allowed = compare.AllowedBy(accepted)
	o := *g.whole
	s.whole = &o
	warm, err := s.steps(b, bud, bs)
	if err != nil {
		return returns.Guided{}, err
	}
	o.Warm = 0 // what comes after the warm-up finds it warm
	plain, err := s.steps(b, bud, bs)
	if err != nil {
		return returns.Guided{}, err
	}
	for i := range plain {
		plain[i].Ask = "Now the clips onto the model's own jack" + clipsTo(b, g.sig) + ", the meter in the plus lead, back in its mA jack."
	}
	return returns.NewGuided(plain, warm[0].Settle)
}

// clipsTo names the plug of the jack, where the plan does.
func clipsTo(b build, s *returns.Signature) string {
	if plug := returns.JackOf(b.plan, s).Plug; plug != "" {
		return " (" + plug + ")"
	}
	return ""
}

// run measures on a bench that is open.
func (g *guided) run(ctx context.Context, b build, bs *benchSet, f *face) error {
	bs.AmbientC = g.ambient
	steps, err := g.steps(b, bs)
	if err != nil {
		return err
	}
	guide := newReturnGuide(b, g.sig, bs.leads, steps, g.whole.Warm)
	guide.weigh = g.weigh
	guide.byHand = bs.Relays == nil && !f.Nobody()
	_, err = capture.Run(ctx, bs.Bench, guide, &returnFace{jackFace: jackFace{f}, g: guide, told: map[string]bool{}}, g.keep, capture.Options{
		Stage: g.stage, Done: g.done, Rand: rand.New(rand.NewPCG(g.seed, 0x5ea1)), HoldWhenLost: g.hold, ReplugFor: g.limit, Guard: g.guard,
	})
	return err
}

// measure leads through a return on the bench that the flags name.
func (a *atJack) measureReturn(ctx context.Context, e env, b build, o compare.WholeOptions, given answers) (file string, err error) {
	if err := a.somebody(e); err != nil {
		return "", err
	}
	sig, err := b.signature()
	if err != nil {
		return "", err
	}
	guard := capture.NewGuard(a.world.clock)
	face := newFace(e, !a.unattended, guard.Go)
	defer watchSignals(e, guard)()
	g := guided{sitting: a.sitting(compare.Returned, o, guard, a.world.clock.Now()), sig: sig}
	if err := g.open(e, b, a.world.clock, given); err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, g.close()) }()
	if err := g.ask(ctx, b, face, a.world.clock.Now); err != nil {
		return g.file, err
	}
	bs, err := a.open(ctx, e, b, face, guard)
	if err != nil {
		return g.file, err
	}
	defer bs.Close()
	return g.file, g.run(ctx, b, bs, face)
}
