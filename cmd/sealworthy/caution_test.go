package main

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"sealworthy/compare/plan"
)

// Cautions are shown in full once a day, those of an adapter when there is one for the
// first time, and whenever it can't be known.
func TestCautionsInFullOnceADay(t *testing.T) {
	home := t.TempDir()
	e := env{getenv: func(k string) string {
		if k == "SEALWORTHY_HOME" {
			return home
		}
		return ""
	}}
	battery, adapter := &plan.Plan{}, &plan.Plan{Jacks: []plan.Jack{{Source: "adapter"}}}
	day := time.Date(2026, 11, 27, 9, 0, 0, 0, time.Local)
	full := func(p *plan.Plan, at time.Time) bool { return slices.Equal(cautionsFor(e, p, at), cautions(p)) }
	if !full(battery, day) {
		t.Error("not in full the first time")
	}
	if got := cautionsFor(e, battery, day.Add(time.Hour)); len(got) != 1 {
		t.Errorf("the second time: %q", got)
	}
	if !full(adapter, day.Add(2*time.Hour)) {
		t.Error("those of an adapter weren't shown yet")
	}
	if !full(adapter, day.Add(24*time.Hour)) {
		t.Error("not in full on the next day")
	}
	if full(adapter, day.Add(25*time.Hour)) {
		t.Error("in full twice on the next day")
	}
	file := filepath.Join(home, cautionedFile)
	if err := os.WriteFile(file, []byte("2026-11-28"), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if !full(adapter, day.Add(26*time.Hour)) {
			t.Error("a file that isn't ours was believed")
		}
	}
}
