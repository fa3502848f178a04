package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare/plan"
)

// A name that a new build can't have is refused with one that it can: that is taken as it stands, and nothing was
// written for the first.
func TestPageProposesAName(t *testing.T) {
	w := &pageWork{e: quiet(), w: machine(), dir: t.TempDir(), flags: benchFlags{room: noRoom},
		sims: map[string]*simulatedBuild{}}
	must(t, makeFolder(filepath.Join(w.dir, "gig")))
	if _, err := w.New(t.Context(), "Brackwater"); err != nil {
		t.Fatal(err)
	}
	for name, better := range map[string]string{
		"": "My model", "Brackwater": "Brackwater 2", "bow/stern": "", `a\b`: "", "-q": "q", "tug.": "", "v1.2": "v1-2",
		"...": "", "nul": "", "two; three": "", strings.Repeat("long ", 40): "", "../gig": "",
	} {
		for what, begin := range map[string]func(string) (string, error){
			"new":   func(s string) (string, error) { return w.New(t.Context(), s) },
			"asked": func(s string) (string, error) { return w.BeginAsking(t.Context(), s) },
		} {
			_, err := begin(name)
			no := (*page.NameError)(nil)
			if !errors.As(err, &no) || better != "" && no.Better != better {
				t.Errorf("%s %q: %v", what, name, err)
				continue
			}
			if is, _ := plan.NameProblem("build", no.Better); is != "" {
				t.Errorf("%s %q: %q is proposed, which %s", what, name, no.Better, is)
			}
			if _, err := w.newFolder(no.Better); err != nil {
				t.Errorf("%s %q: %q isn't taken: %v", what, name, no.Better, err)
			}
		}
	}
	all, err := os.ReadDir(w.dir)
	must(t, err)
	if len(all) != 2 {
		t.Errorf("there are now %v", all)
	}
}

// A plan that is broken is told with each line that is, to a page.
func TestPageOfABrokenPlan(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gig")
	must(t, os.CopyFS(dir, os.DirFS("testdata/plans/gig")))
	src, err := os.ReadFile(filepath.Join(dir, planFile))
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, planFile), append(src, "\n[[group]]\nname = 7\n"...), 0o600))
	w := &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom},
		sims: map[string]*simulatedBuild{}}
	_, err = w.Overview(t.Context(), buildID(dir))
	wrong := (*page.PlanError)(nil)
	if !errors.As(err, &wrong) || wrong.Problems[0].Pos.Line < strings.Count(string(src), "\n") {
		t.Fatalf("%v", err)
	}
	all, err := w.Builds(t.Context())
	must(t, err)
	if len(all) != 1 || strings.Contains(all[0].Problem, "\n") ||
		!strings.Contains(all[0].Problem, "plan can't be read") {
		t.Errorf("%+v", all)
	}
}
