package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/stages"
	"sealworthy/plots"
)

// gluedNote begins the name of a note that says when a closure was glued.
const gluedNote = "glued/"

// besideOf reaches the sitting of a build that is under way; nil: none is.
func (p *pageWork) besideOf(id string) *session.Beside {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.besides[id]
}

// under says that a build is under test, until done is called.
func (p *pageWork) under(id string) (b *session.Beside, done func()) {
	b = session.NewBeside(time.Now)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.besides == nil {
		p.besides = map[string]*session.Beside{}
	}
	p.besides[id] = b
	return b, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.besides, id)
	}
}

// Photo keeps a photo beside the record.
func (p *pageWork) Photo(_ context.Context, id, closure string, src []byte) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	_, err = b.keepPhoto(p.quiet(), closure, src, p.besideOf(id), time.Now())
	return err
}

// PhotoFile writes a photo that the record names.
func (p *pageWork) PhotoFile(_ context.Context, id, name string, w io.Writer) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	f, err := b.history(p.quiet())
	if err != nil {
		return err
	}
	all, err := b.photos(f)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(x madePhoto) bool { return x.Name == name })
	if i < 0 {
		return fmt.Errorf("there is no such photo: %w", fs.ErrNotExist)
	}
	src, err := b.readPhoto(all[i])
	if err == nil {
		_, err = w.Write(src)
	}
	return err
}

// Sheet writes a page that is printed and kept.
func (p *pageWork) Sheet(_ context.Context, id, form string, w io.Writer) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	if form != formTest {
		_, write, err := b.page(p.quiet(), form, clientFlags{}, p.w.Clock.Now())
		if err != nil {
			return err
		}
		return write(w)
	}
	r, found, err := p.judged(b)
	if err != nil {
		return err
	}
	d, err := sheetData(b, slices.Clone(found.Closures), r.record, r.leads, p.w.Clock.Now())
	if err != nil {
		return err
	}
	return plots.Sheet(w, d)
}

// later fills in what comes after a test: photos, what was glued, a return.
func later(o *page.Overview, b build, f record.Folded) error {
	all, err := b.photos(f)
	if err != nil {
		return err
	}
	for _, x := range all {
		shown := page.Photo{Name: x.Name, Of: x.Of, Stage: x.Stage, At: x.At, Client: x.Client}
		if x.State != record.FileThere {
			shown.Missing = string(x.State)
		}
		o.Photos = append(o.Photos, shown)
	}
	o.Glued = page.Glued{}
	h := compare.HistoryOf(f)
	for _, n := range f.Notes {
		if c, ok := strings.CutPrefix(n.Name, gluedNote); ok && !h.OpenedSince(b.plan, c, n.Order) {
			o.Glued[c] = n.At
		}
	}
	_, err = b.lastReturn()
	o.Returned = err == nil
	return nil
}

// stagesShown is the whole model stage by stage, as a page shows it.
func stagesShown(changes []stages.Change, t plots.TrendData) (out []page.StageChange, trend *page.Picture) {
	for _, c := range changes {
		out = append(out, page.StageChange{Stage: c.Stage, Before: c.Before, Verdict: string(c.Verdict), Text: c.Text,
			Good: c.Verdict == stages.Unchanged, Bad: c.Verdict == stages.Changed})
	}
	if len(t.Series) > 0 {
		trend = &page.Picture{Name: trendPicture, Says: "What each group and the whole model draw, stage by stage"}
	}
	return out, trend
}

// severalStages: something was measured at two stages.
func severalStages(steps []capture.StepRecord) bool {
	first := ""
	for _, r := range steps {
		if r.Outcome != capture.Measured || r.Step.Kind != capture.Power && r.Step.Kind != capture.Whole {
			continue
		}
		if first != "" && r.Stage != first {
			return true
		}
		first = r.Stage
	}
	return false
}

// mayBeGlued: closures are ready, judged by the files as they are now. No command records glue otherwise: one that
// was glued all the same is measured so.
func (p *pageWork) mayBeGlued(b build, names []string) error {
	_, found, err := p.judged(b)
	if err != nil {
		return err
	}
	for _, c := range found.Closures {
		if slices.Contains(names, c.Closure) && c.Verdict != compare.ReadyToClose {
			return fmt.Errorf("%s isn't ready to close now, it is %s: nothing was written down. If it's glued all the "+
				"same, measure it as glued shut", c.Closure, c.Verdict)
		}
	}
	return nil
}

// glued keeps that closures were glued.
func (b build) glued(e env, names []string, beside *session.Beside) error {
	for _, n := range names {
		if !slices.ContainsFunc(b.plan.Closures, func(c plan.Closure) bool { return c.Name == n }) {
			return errors.New("the plan has no closure " + n)
		}
	}
	return b.tellBeside(e, beside, func(rec *record.Recorder, now time.Time, stage string) error {
		k := record.Keep(rec)
		for _, n := range names {
			if err := k.Note(gluedNote+n, "glued", stage, now); err != nil {
				return err
			}
		}
		return k.Sync()
	})
}
