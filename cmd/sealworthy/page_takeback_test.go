//go:build unix

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// What was accepted, and that nothing was touched, is taken back on the page by what it's listed as, once. The record
// grows by that and loses nothing.
func TestPageTakesBack(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gig")
	must(t, os.CopyFS(dir, os.DirFS("testdata/plans/gig")))
	b, err := openBuild(quiet(), dir)
	must(t, err)
	sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 3}, sittingBegan, "locker lamp=bad joint")
	w := &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom}}
	id := buildID(dir)
	said := func() []page.Said {
		t.Helper()
		o, err := w.Overview(t.Context(), id)
		must(t, err)
		return o.Said
	}
	lines := func() (n int) {
		t.Helper()
		all, err := filepath.Glob(filepath.Join(dir, record.FilesDir, "*"))
		must(t, err)
		for _, x := range all {
			src, err := os.ReadFile(x)
			must(t, err)
			n += bytes.Count(src, []byte("\n"))
		}
		return n
	}
	first := len(said())
	must(t, w.Tell(t.Context(), id, page.Told{Kind: page.ToldAccepted, Names: []string{"locker lamp"},
		Reason: "meant so"}))
	accepted := said()
	if len(accepted) != first+1 || accepted[0].What != "Accepted as it is: locker lamp. Why: meant so" {
		t.Fatalf("%+v", accepted)
	}
	kept := lines()
	back := page.Told{Kind: page.ToldBack, Names: []string{accepted[0].Of}}
	must(t, w.Tell(t.Context(), id, back))
	f, err := record.ReadDir(dir)
	must(t, err)
	if len(f.Accepted) != 0 || len(said()) != first || lines() <= kept {
		t.Errorf("taken back: %+v, %+v, %d lines of %d", f.Accepted, said(), lines(), kept)
	}
	if err := w.Tell(t.Context(), id, back); err == nil {
		t.Error("it's taken back twice")
	}
	if err := w.Tell(t.Context(), id, page.Told{Kind: page.ToldBack, Names: []string{"1"}}); err == nil {
		t.Error("what isn't listed is taken back")
	}
	must(t, w.Tell(t.Context(), id, page.Told{Kind: page.ToldTouched}))
	if s := said(); len(s) == 0 || s[0].What != "Nothing was touched" {
		t.Fatalf("%+v", s)
	}
	n, _ := record.ReadDir(dir)
	must(t, w.Tell(t.Context(), id, page.Told{Kind: page.ToldBack, Names: []string{said()[0].Of}}))
	if f, err = record.ReadDir(dir); err != nil {
		t.Fatal(err)
	}
	if len(f.TouchedNothing) != len(n.TouchedNothing)-1 {
		t.Errorf("nothing was touched: %+v, before %+v", f.TouchedNothing, n.TouchedNothing)
	}
	mustBeWhole(t, dir)
}
