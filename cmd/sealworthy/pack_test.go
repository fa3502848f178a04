//go:build unix

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// Photos and the client's page are left out of a parcel, or taken away by hand, and no
// verdict changes: what a build says of itself without them is what it said with them.
func TestWithoutTheClient(t *testing.T) {
	t.Parallel()
	b := gig(t)
	sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 1}, time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC),
		"bow lamps=open branch")
	in := t.TempDir()
	runs := func(want int, args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		e := quiet()
		e.stdin, e.stdout, e.stderr, e.exit = strings.NewReader(""), &out, &errs, func(int) {}
		if got := run(t.Context(), args, e); got != want {
			t.Fatalf("%q: status %d, want %d: %s", args, got, want, errs.String())
		}
		return out.String()
	}
	own := filepath.Join(in, "deck.jpg")
	must(t, os.WriteFile(own, turned(t), 0o600))
	before := runs(exitKeepOpen, "compare", b.dir, "--json")
	runs(exitReady, "photo", b.dir, own, "--client")
	runs(exitReady, "sheet", b.dir, "--form", "delivery")
	if said := runs(exitKeepOpen, "compare", b.dir, "--json"); said != before {
		t.Errorf("a photo changes what is said: %s", said)
	}
	whole, without := filepath.Join(in, "whole.zip"), filepath.Join(in, "without.zip")
	runs(exitReady, "pack", b.dir, "--into", whole)
	said := runs(exitReady, "pack", b.dir, "--without-client", "--into", without)
	for _, s := range []string{"photos/", "delivery.html: it concerns the client (on purpose)"} {
		if !strings.Contains(said, s) {
			t.Errorf("it doesn't say that %s is left out: %s", s, said)
		}
	}
	for parcel, photos := range map[string]int{whole: 1, without: 0} {
		dir := strings.TrimSuffix(parcel, ".zip")
		runs(exitReady, "unpack", parcel, "--into", dir)
		found, err := filepath.Glob(filepath.Join(dir, photoDir, "*"))
		must(t, err)
		if _, err := os.Stat(filepath.Join(dir, deliveryFile)); len(found) != photos || (err == nil) != (photos > 0) {
			t.Errorf("%s: %d photos, the client's page: %v", parcel, len(found), err)
		}
		if said := runs(exitKeepOpen, "compare", dir, "--json"); said != before {
			t.Errorf("%s says %s", parcel, said)
		}
		runs(exitReady, "check", dir)
	}
	must(t, os.RemoveAll(filepath.Join(b.dir, photoDir)))
	must(t, os.Remove(filepath.Join(b.dir, deliveryFile)))
	if said := runs(exitKeepOpen, "compare", b.dir, "--json"); said != before {
		t.Errorf("taken away by hand: %s", said)
	}
	runs(exitReady, "check", b.dir)
}
