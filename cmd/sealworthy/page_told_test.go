package main

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// meanwhile does something at the page of a build while its test is under way.
type meanwhile struct {
	alone
	beside *session.Beside
	do     func()
}

func (m *meanwhile) Beside() *session.Beside { return m.beside }
func (m *meanwhile) Show(e capture.Event) {
	if do := m.do; do != nil && e.What == capture.StepEnds {
		m.do = nil
		do()
	}
}

// What is told on a build's page while its own test is under way is kept in that sitting: a soak lasts for
// hours, and what was ticked would be lost.
func TestToldDuringATest(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "gig")
	must(t, os.CopyFS(dir, os.DirFS("testdata/plans/gig")))
	b, err := openBuild(quiet(), dir)
	must(t, err)
	w := &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom}}
	id := buildID(dir)
	beside, done := w.under(id)
	defer done()
	m := &meanwhile{beside: beside}
	m.do = func() {
		for _, told := range []page.Told{{Kind: page.ToldTouched, Names: []string{"locker lamp"}},
			{Kind: page.ToldAccepted, Names: []string{"stern lamp"}, Reason: "shown dark"},
			{Kind: page.ToldTouched}} {
			if err := w.Tell(context.Background(), id, told); err != nil {
				t.Errorf("%s: %v", told.Kind, err)
			}
		}
	}
	sitBefore(t, m, b, session.Sitting{Stage: compare.Fitted, Seed: 3}, time.Now())
	f, err := record.ReadDir(dir)
	must(t, err)
	if len(f.Sittings) != 1 || len(f.TouchedNothing) != 1 || len(f.Accepted) != 1 ||
		!slices.ContainsFunc(f.Reworked, func(r record.Rework) bool { return r.Place == "locker lamp" }) {
		t.Errorf("%d sittings, touched %+v, accepted %+v, nothing %+v", len(f.Sittings), f.Reworked, f.Accepted,
			f.TouchedNothing)
	}
	must(t, w.Tell(t.Context(), id, page.Told{Kind: page.ToldTouched}))
	if f, err = record.ReadDir(dir); err != nil || len(f.Sittings) != 2 {
		t.Errorf("after it: %d sittings, %v", len(f.Sittings), err)
	}
}
