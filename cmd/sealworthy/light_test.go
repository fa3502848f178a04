package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
)

// TestPicturesAreLight: every picture of a build carries its own letters, so that it looks
// the same everywhere, and weighs less than 100 kB.
func TestPicturesAreLight(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine, and slow")
	}
	dir := filepath.Join(t.TempDir(), "gig")
	if err := measureInto(dir, func(e env, dir string) (build, []string, error) {
		if err := os.CopyFS(dir, os.DirFS("testdata/plans/gig")); err != nil {
			return build{}, nil, err
		}
		b, err := openBuild(e, dir)
		return b, []string{"bow lamps=open branch"}, err
	}); err != nil {
		t.Fatal(err)
	}
	for format, want := range map[string]string{"svg": "@font-face", "pdf": "/FontFile2"} {
		into := filepath.Join(t.TempDir(), format)
		if status := run(context.Background(), []string{"plot", dir, "--format", format, "--into", into},
			silent()); status != exitReady {
			t.Fatalf("%s: status %d", format, status)
		}
		files, err := filesIn(into, "."+format)
		if err != nil || len(files) < 5 {
			t.Fatalf("%v, %v", files, err)
		}
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil || len(b) > 100<<10 || !bytes.Contains(b, []byte(want)) {
				t.Errorf("%s: %d bytes, with its letters: %v, %v", filepath.Base(f), len(b),
					bytes.Contains(b, []byte(want)), err)
			}
		}
	}
}
