package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// A plan isn't changed while a test of its build is running, here or in another
// process, measured or not: the readings would be of one plan and the file another.
func TestPlanStaysWhileItsTestRuns(t *testing.T) {
	t.Parallel()
	for _, measured := range []bool{false, true} {
		b := gig(t)
		if measured {
			sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 3}, sittingBegan)
		}
		p := &pageWork{e: quiet(), w: machine(), only: b.dir, flags: benchFlags{room: noRoom},
			sims: map[string]*simulatedBuild{}}
		changed := []byte(string(b.src) + "\n# by hand\n")
		save := func() error {
			return p.SavePlan(t.Context(), buildID(b.dir), b.src, changed, []string{"a remark"})
		}
		file := func() string {
			src, err := os.ReadFile(filepath.Join(b.dir, planFile))
			must(t, err)
			return string(src)
		}
		end, err := p.e.files().Lock(b.dir) // as a test holds it
		must(t, err)
		if err := save(); !errors.Is(err, record.ErrInUse) || !strings.Contains(err.Error(), "nothing was saved") {
			t.Errorf("measured %v: %v", measured, err)
		}
		if file() != string(b.src) {
			t.Errorf("measured %v: it was written", measured)
		}
		_, err = changePlan(p.e, b, `group."bow lamps".lights[0].count = 2`)
		if !errors.Is(err, record.ErrInUse) || file() != string(b.src) {
			t.Errorf("from the command line: %v", err)
		}
		must(t, end())
		must(t, save())
		f, err := record.ReadDir(b.dir)
		must(t, err)
		if file() != string(changed) || measured != (len(f.Notes) == 1 && f.Notes[0].Name == "plan corrected") {
			t.Errorf("measured %v: %+v", measured, f.Notes)
		}
	}
}

// Whoever has gone has nothing read or reckoned for him.
func TestPlanForOneWhoHasGone(t *testing.T) {
	t.Parallel()
	b := gig(t)
	p := &pageWork{e: quiet(), w: machine(), only: b.dir, sims: map[string]*simulatedBuild{}}
	ctx, gone := context.WithCancel(t.Context())
	gone()
	_, planErr := p.Plan(ctx, buildID(b.dir))
	_, knownErr := p.PlanKnown(ctx, buildID(b.dir))
	_, reckonErr := p.Reckon(ctx, buildID(b.dir), b.plan)
	for _, err := range []error{planErr, knownErr, reckonErr} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%v", err)
		}
	}
}
