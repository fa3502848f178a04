package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare/plan"
	"sealworthy/plots"
)

// Plan reads a build's plan for the page.
func (p *pageWork) Plan(ctx context.Context, id string) (page.PlanFile, error) {
	if err := ctx.Err(); err != nil {
		return page.PlanFile{}, err
	}
	b, err := p.open(id)
	if err != nil {
		return page.PlanFile{}, err
	}
	return page.PlanFile{Name: b.plan.Build, Where: b.file, Src: b.src, Options: plan.Options{Book: b.book},
		Simulated: p.simulated(id) != nil}, nil
}

// PlanKnown tells what was measured.
func (p *pageWork) PlanKnown(ctx context.Context, id string) (page.PlanKnown, error) {
	if err := ctx.Err(); err != nil {
		return page.PlanKnown{}, err
	}
	b, err := p.open(id)
	if err != nil {
		return page.PlanKnown{}, err
	}
	f := page.PlanKnown{Measured: map[string]int{}}
	leads, err := b.leads()
	if err != nil {
		return f, err
	}
	r, err := p.evidence(b, leads)
	if err != nil {
		return f, err
	}
	f.Findings = p.held.known(r)
	for _, s := range r.record.Steps {
		if n, _ := s.Count(); n > 0 && s.Step.Feed != "" {
			f.Measured[s.Step.Feed] += n
			for _, g := range s.Step.Groups {
				if g != s.Step.Feed {
					f.Measured[g] += n
				}
			}
		}
	}
	return f, nil
}

// SavePlan writes a changed plan, and that into the record where something was measured;
// while a test of the build is running it writes nothing.
func (p *pageWork) SavePlan(_ context.Context, id string, was, src []byte, changes []string) error {
	e := p.quiet()
	b, err := p.open(id)
	if err != nil {
		return err
	}
	if !bytes.Equal(b.src, was) {
		return page.ErrPlanChanged
	}
	h, err := b.history(e)
	if err != nil {
		return err
	}
	if len(h.Steps) == 0 {
		err = b.replan(e, src)
	} else {
		_, err = b.correct(e, src, strings.Join(changes, "; "))
	}
	if errors.Is(err, record.ErrInUse) {
		return fmt.Errorf("nothing was saved: %w. Save it when that has ended", err)
	}
	return err
}

// Reckon makes the budget of a plan that isn't saved, and grades its test.
func (p *pageWork) Reckon(ctx context.Context, id string, changed *plan.Plan) (page.Reckoned, error) {
	if err := ctx.Err(); err != nil {
		return page.Reckoned{}, err
	}
	b, err := p.open(id)
	if err != nil {
		return page.Reckoned{}, err
	}
	b.plan = changed
	cfg, err := b.readBench()
	if err != nil {
		return page.Reckoned{}, err
	}
	bud, err := budgetOn(p.quiet(), b, cfg)
	if err != nil {
		return page.Reckoned{}, err
	}
	r := page.Reckoned{Budget: bud}
	if err := ctx.Err(); err != nil { // grading takes longer than the budget
		return r, err
	}
	graded, err := b.graded(p.quiet(), bud)
	if err != nil {
		return r, err
	}
	if graded.TestCoverageError != "" {
		r.Coverage = []string{"What the test lets pass can't be computed: " + graded.TestCoverageError}
	}
	for _, c := range graded.TestCoverage {
		if text := gradeText(c); text != "" {
			r.Coverage = append(r.Coverage, c.Closure+": "+text)
		}
	}
	return r, nil
}

// BuyList writes what a build's plan takes.
func (p *pageWork) BuyList(_ context.Context, id string, w io.Writer) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	d, err := b.buyData(time.Now())
	if err != nil {
		return err
	}
	return plots.Buy(w, d)
}
