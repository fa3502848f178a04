package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare"
)

// aged makes all files under a folder look as if they were written some time ago.
func aged(t testing.TB, dir string) {
	t.Helper()
	at := time.Now().Add(-time.Hour)
	must(t, filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
		must(t, err)
		return os.Chtimes(path, at, at)
	}))
}

// looking gives the work of a page on a build that is measured, and how often all of its
// files were read.
func looking(t testing.TB) (w *pageWork, id string, read *atomic.Int64) {
	t.Helper()
	v := measuredPage(t, "testdata/plans/gig", false)
	read = &atomic.Int64{}
	v.work.looks.read = func(e env, b build) (string, error) {
		read.Add(1)
		return filesOf(e, b)
	}
	home := t.TempDir()
	v.work.e.getenv = func(name string) string { return map[string]string{"SEALWORTHY_HOME": home}[name] }
	return v.work, v.id, read
}

// Whether files have changed is looked for without reading them, where they look as they did when they
// were read. Whatever looks otherwise is read, and so is what was written just now: it could be
// written again and look the same.
func TestFilesAreReadWhereTheyLookOtherwise(t *testing.T) {
	t.Parallel()
	w, id, read := looking(t)
	dir, home := w.only, w.e.getenv("SEALWORTHY_HOME")
	files := func() string {
		t.Helper()
		got, err := w.Files(t.Context(), id)
		must(t, err)
		return got
	}
	fresh := files()
	if again := files(); read.Load() != 2 || again != fresh {
		t.Fatalf("what was written just now was read %d times of 2", read.Load())
	}
	aged(t, dir)
	was := files()
	for range 5 {
		if got := files(); got != was || got != fresh {
			t.Fatal("it stands for something else")
		}
	}
	if n := read.Load(); n != 3 {
		t.Fatalf("read %d times, want once more than before", n-2)
	}
	plan := filepath.Join(dir, planFile)
	edit := func() {
		src, err := os.ReadFile(plan)
		must(t, err)
		must(t, os.WriteFile(plan, bytes.Replace(src, []byte("# "), []byte("#-"), 1), 0o644))
	}
	for _, c := range []struct {
		name string
		do   func()
		all  bool // else where the system tells more than names, lengths and times
	}{
		{"a file that is new", func() {
			must(t, os.WriteFile(filepath.Join(dir, priorsFile), []byte("# none\n"), 0o644))
		}, true},
		{"another text of the same length", edit, true},
		{"another text of the same length and time", func() {
			info, err := os.Stat(plan)
			must(t, err)
			edit()
			must(t, os.Chtimes(plan, info.ModTime(), info.ModTime()))
		}, false},
		{"the maker's own parts", func() { must(t, os.WriteFile(filepath.Join(home, partsFile), nil, 0o644)) }, true},
		{"a line of the record", func() {
			b, err := openBuild(quiet(), dir)
			must(t, err)
			must(t, writeMarks(quiet(), b, compare.Fitted, []capture.Mark{{Kind: capture.MarkReworked, Feed: "keel",
				Groups: []string{"bow lamps"}, Reason: "soldered anew"}}, sittingBegan.AddDate(0, 0, 1)))
		}, true},
	} {
		aged(t, dir)
		was := files()
		c.do()
		if got := files(); got == was && (c.all || runtime.GOOS == "linux") {
			t.Errorf("%s isn't seen", c.name)
		}
	}
	must(t, os.Remove(plan))
	if _, err := w.Files(t.Context(), id); err == nil {
		t.Error("a build without its plan looks as it did")
	}
}

// What is judged is read, however it looks; and who looks next is told what was read then.
func TestJudgingReadsEveryByte(t *testing.T) {
	t.Parallel()
	w, id, read := looking(t)
	aged(t, w.only)
	was, err := w.Files(t.Context(), id)
	must(t, err)
	for _, judge := range []func() (string, error){
		func() (string, error) { f, err := w.Judge(t.Context(), id); return f.Files, err },
		func() (string, error) { o, err := w.Overview(t.Context(), id); return o.Files, err },
		func() (string, error) {
			return was, w.Tell(t.Context(), id, page.Told{Kind: page.ToldGlued, Names: []string{"locker"}})
		},
	} {
		n := read.Load()
		if files, _ := judge(); files != was || read.Load() == n {
			t.Errorf("judged without being read (%d times), of %q", read.Load()-n, files)
		}
	}
	// As if what the files look like told nothing.
	like, settled := w.like(w.only)
	if !settled {
		t.Fatal("it isn't settled")
	}
	w.looks.hold(w.only, lookedAt{like, "something else"})
	if files, err := w.Files(t.Context(), id); err != nil || files != "something else" {
		t.Fatalf("%q, %v: it isn't looked at", files, err)
	}
	if f, err := w.Judge(t.Context(), id); err != nil || f.Files != was {
		t.Errorf("judged of %q, want %q: %v", f.Files, was, err)
	}
	if files, err := w.Files(t.Context(), id); err != nil || files != was {
		t.Errorf("after it was judged the look says %q, want %q: %v", files, was, err)
	}
}

// BenchmarkLook tells how long a look takes, of a build whose record has some megabytes.
func BenchmarkLook(b *testing.B) {
	w, id, _ := looking(b)
	for i := range 10 {
		name := filepath.Join(w.only, readingDir, fmt.Sprintf("old %d.txt", i))
		must(b, os.WriteFile(name, bytes.Repeat([]byte{'x'}, 1<<20), 0o644))
	}
	for _, c := range []struct {
		name string
		age  bool
	}{{"read", false}, {"looked", true}} {
		b.Run(c.name, func(b *testing.B) {
			if c.age {
				aged(b, w.only)
			}
			for b.Loop() {
				_, err := w.Files(b.Context(), id)
				must(b, err)
			}
		})
	}
}
