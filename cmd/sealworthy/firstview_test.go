package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
)

// measuredPage serves the page of a build that is measured, and gives its work and a way to look
// at a path of it; "" is the build itself.
func measuredPage(t testing.TB, from string, sweep bool) (w *pageWork, look func(path string) string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), filepath.Base(from))
	must(t, os.CopyFS(dir, os.DirFS(from)))
	b, err := openBuild(quiet(), dir)
	must(t, err)
	sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 3, Sweep: sweep}, sittingBegan)
	w = &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	at := "http://" + l.Addr().String()
	ctx, cancel := context.WithCancel(t.Context())
	s, err := page.New(ctx, page.Options{Work: w, Plans: w, Now: time.Now, Hosts: []string{l.Addr().String()}})
	must(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() { cancel(); must(t, <-ended) })
	jar, err := cookiejar.New(nil)
	must(t, err)
	browser := &http.Client{Jar: jar}
	get := func(address string) string {
		r, err := browser.Get(address)
		must(t, err)
		defer r.Body.Close()
		src, err := io.ReadAll(r.Body)
		must(t, err)
		if r.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s\n%s", address, r.Status, src)
		}
		return string(src)
	}
	get(at + page.Entry(s.Code()))
	return w, func(path string) string { return get(at + "/build/" + buildID(dir) + path) }
}

// BenchmarkFirstView tells how long the page of a build and of its plan take to be made, of
// Brackwater with all of its groups measured: where nothing was judged yet, and after that.
func BenchmarkFirstView(b *testing.B) {
	w, look := measuredPage(b, "../../testdata/brackwater", true)
	for _, path := range []string{"", "/plan", "/plan?at=group+cabin+windows"} {
		for _, judged := range []bool{false, true} {
			b.Run(fmt.Sprintf("%q/judged=%v", path, judged), func(b *testing.B) {
				look(path)
				for b.Loop() {
					if !judged {
						w.found.mu.Lock()
						w.found.of = nil
						w.found.mu.Unlock()
					}
					look(path)
				}
			})
		}
	}
}

// What was found is held as long as every file that it's made of is as it was, byte for byte,
// and no longer: neither a file's time nor its length tells.
func TestFoundIsHeldWhileTheFilesAreTheSame(t *testing.T) {
	t.Parallel()
	w, look := measuredPage(t, "testdata/plans/gig", false)
	dir, home := w.only, t.TempDir()
	w.e.getenv = func(name string) string { return map[string]string{"SEALWORTHY_HOME": home}[name] }
	now := func() *judgedAs {
		t.Helper()
		w.found.mu.Lock()
		defer w.found.mu.Unlock()
		return w.found.of[dir]
	}
	first := look("")
	held := now()
	if second := look(""); held == nil || now() != held || second != first {
		t.Fatal("it isn't held, or says something else")
	}
	look("/plan")
	must(t, makeFolder(filepath.Join(dir, photoDir)))
	must(t, os.WriteFile(filepath.Join(dir, photoDir, "x.jpg"), []byte("no photo"), 0o644))
	look("")
	if now() != held {
		t.Error("it's judged anew for the plan's page, or for a photo")
	}
	edited := func(path string, change func(src []byte) []byte) func() {
		return func() {
			src, err := os.ReadFile(path)
			must(t, err)
			info, err := os.Stat(path)
			must(t, err)
			must(t, os.WriteFile(path, change(src), 0o644))
			must(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
		}
	}
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"plan", edited(filepath.Join(dir, planFile), func(src []byte) []byte {
			return bytes.Replace(src, []byte("# "), []byte("#-"), 1)
		})},
		{"priors", func() {
			must(t, os.WriteFile(filepath.Join(dir, priorsFile), []byte(fault.PriorsText()), 0o644))
		}},
		{"the maker's priors", func() {
			must(t, os.WriteFile(filepath.Join(home, priorsFile), []byte(fault.PriorsText()), 0o644))
		}},
		{"leads", edited(filepath.Join(dir, benchFile), func(src []byte) []byte {
			return bytes.Replace(src, []byte("ohms = 0"), []byte("ohms = 1"), 1)
		})},
		{"record", func() {
			b, err := openBuild(quiet(), dir)
			must(t, err)
			must(t, writeMarks(quiet(), b, compare.Fitted, []capture.Mark{{Kind: capture.MarkReworked, Feed: "keel",
				Groups: []string{"bow lamps"}, Reason: "soldered anew"}}, sittingBegan.AddDate(0, 0, 1)))
		}},
	} {
		was := now()
		c.do()
		look("")
		if now() == was {
			t.Errorf("%s: what was found of it before is shown", c.name)
		}
	}
}

// Who asks for what is being judged waits for that: it's judged once.
func TestFoundIsJudgedOnce(t *testing.T) {
	var c heldFindings
	x, mine := c.begin("a", "as it is")
	y, again := c.begin("a", "as it is")
	if !mine || again || x != y {
		t.Error("two judge the same")
	}
	if _, mine := c.begin("a", "otherwise"); !mine {
		t.Error("what its files don't say any more is held")
	}
	c.forget("a", x)
	if _, mine := c.begin("a", "otherwise"); mine {
		t.Error("what is newer was forgotten")
	}
	for i := range 3 * mostFound {
		c.begin(fmt.Sprint(i), "")
	}
	if len(c.of) > mostFound {
		t.Errorf("%d builds are held", len(c.of))
	}
}
