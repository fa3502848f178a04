package main

import (
	"context"
	"errors"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// guided is a sitting in which a return is led through: what was asked of it
// and what was read goes into one record.
type guided struct {
	session.Sitting
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
func (g *guided) open(e env, b build, c clock.Clock, run instruments.Runner, given answers) error {
	var err error
	if g.weigh, err = b.returnOptions(e); err != nil {
		return err
	}
	var series []int
	var steps []capture.StepRecord
	if g.Resume {
		if series, steps, err = b.record(e).GoesOn(g.Stage); err != nil {
			return err
		}
	}
	now := c.Now()
	rec, err := b.record(e).Begin(record.Opening{Stage: g.Stage, What: record.ForTest, Now: now, Simulated: c.Simulated(), GoesOn: session.LastOf(series), Go: run})
	if err != nil {
		return err
	}
	g.file, g.rec, g.keep = rec.Path(), rec, record.Keep(rec)
	for _, r := range steps {
		if (r.Step.Kind == capture.Whole || r.Step.Kind == capture.Look) && session.Counts(r) {
			g.done = append(g.done, r)
		}
	}
	g.said = answersIn(steps)
	if _, known := g.said[askedColours]; !known { // said once, it holds for every return
		if f, err := b.history(e); err == nil {
			if a, ok := answersIn(f.Kept())[askedColours]; ok {
				g.said[askedColours] = a
			}
		}
	}
	for _, q := range allAsked {
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
func (g *guided) ask(ctx context.Context, b build, at seat, now func() time.Time) error {
	if at.desk.Nobody() {
		return nil
	}
	ctx, cancel := at.guard.Context(ctx) // a signal ends a question
	defer cancel()
	q := inquirer{face: at.face, p: b.plan, s: g.sig, have: g.said,
		keep: func(question, answer string) error { return keepAnswer(g.keep, b, question, answer, now()) }}
	return q.all(ctx)
}

// steps makes the steps of the guide for a bench.
func (g *guided) steps(b build, u *session.Session) (returns.Guided, error) {
	s := g.Sitting
	o := *g.Whole
	s.Whole = &o
	_, _, warm, err := u.Steps(s)
	if err != nil {
		return returns.Guided{}, err
	}
	o.Warm = 0 // what comes after the warm-up finds it warm
	_, _, plain, err := u.Steps(s)
	if err != nil {
		return returns.Guided{}, err
	}
	for i := range plain {
		plain[i].Ask = "Now the clips onto the model's own jack" + clipsTo(b, g.sig) + ", the meter in the plus lead, back in its mA jack."
	}
	return returns.NewGuided(plain, warm[0].Settle, g.sig.Names())
}

// clipsTo names the plug of the jack, where the plan does.
func clipsTo(b build, s *returns.Signature) string {
	if plug := returns.JackOf(b.plan, s).Plug; plug != "" {
		return " (" + plug + ")"
	}
	return ""
}

// run measures on a bench that is open.
func (g *guided) run(ctx context.Context, b build, u *session.Session) error {
	u.Bench.AmbientC = g.RoomC
	steps, err := g.steps(b, u)
	if err != nil {
		return err
	}
	guide := newReturnGuide(b, g.sig, u.Bench.Leads, steps, g.Whole.Warm)
	guide.weigh, guide.nobody, guide.said = g.weigh, u.Desk.Nobody(), g.said
	guide.byHand = u.Bench.Relays == nil && !u.Desk.Nobody()
	o := u.Options(g.Sitting, g.done, 0)
	_, err = capture.Run(ctx, u.Bench.Bench, guide, &returnFace{Face: u.Face(g.Sitting), g: guide, told: map[string]bool{}}, g.keep, o)
	return err
}

// measure leads through a return on the bench that the flags name.
func (a *atJack) measureReturn(ctx context.Context, e env, b build, o compare.WholeOptions, given answers) (file string, err error) {
	cfg, err := a.config(e, b.dir)
	if err != nil {
		return "", err
	}
	sig, err := b.signature()
	if err != nil {
		return "", err
	}
	at, leave := sitDown(e, a.world, !a.unattended)
	defer leave()
	g := guided{Sitting: a.sitting(compare.Returned, o), sig: sig}
	if err := g.open(e, b, a.world.Clock, at.guard.Go, given); err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, g.close()) }()
	if err := g.ask(ctx, b, at, a.world.Clock.Now); err != nil {
		return g.file, err
	}
	u, err := at.use(ctx, e, a.world, b, cfg, a.over)
	if err != nil {
		return g.file, err
	}
	defer u.Bench.Close()
	return g.file, g.run(ctx, b, u)
}
