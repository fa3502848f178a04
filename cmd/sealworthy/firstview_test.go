package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"maps"
	"net"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
)

// viewer looks at the page of a build that is measured, as a browser with scripts does.
type viewer struct {
	t       testing.TB
	work    *pageWork
	at, id  string
	browser *http.Client
}

// measuredPage serves the page of a build that is measured.
func measuredPage(t testing.TB, from string, sweep bool) *viewer {
	t.Helper()
	dir := filepath.Join(t.TempDir(), filepath.Base(from))
	must(t, os.CopyFS(dir, os.DirFS(from)))
	b, err := openBuild(quiet(), dir)
	must(t, err)
	sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 3, Sweep: sweep}, sittingBegan)
	w := &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom},
		seed: func() uint64 { return 1 }, sims: map[string]*simulatedBuild{}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	s, err := page.New(ctx, page.Options{Work: w, Plans: w, Now: time.Now, Hosts: []string{l.Addr().String()}})
	must(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() { cancel(); must(t, <-ended) })
	jar, err := cookiejar.New(nil)
	must(t, err)
	v := &viewer{t, w, "http://" + l.Addr().String(), buildID(dir), &http.Client{Jar: jar}}
	v.get(page.Entry(s.Code()))
	return v
}

func (v *viewer) answer(path string) *http.Response {
	v.t.Helper()
	r, err := v.browser.Get(v.at + path)
	must(v.t, err)
	if r.StatusCode != http.StatusOK {
		src, _ := io.ReadAll(r.Body)
		v.t.Fatalf("%s: %s\n%s", path, r.Status, src)
	}
	return r
}

func (v *viewer) get(path string) string {
	v.t.Helper()
	r := v.answer(path)
	defer r.Body.Close()
	src, err := io.ReadAll(r.Body)
	must(v.t, err)
	return string(src)
}

// first looks at a path of the build, as it is served first; "" is the build itself.
func (v *viewer) first(path string) string {
	v.t.Helper()
	return v.get("/build/" + v.id + path)
}

// whole looks at it and fetches what came later, once the stream tells that it's there.
func (v *viewer) whole(path string) string {
	v.t.Helper()
	src := v.first(path)
	stream := v.answer("/stream")
	defer stream.Body.Close()
	for lines := bufio.NewScanner(stream.Body); strings.Contains(src, "data-awaits"); {
		nth, err := strconv.ParseUint(betweenOf(src, `data-nth="`, `"`), 10, 64)
		must(v.t, err)
		from := html.UnescapeString(betweenOf(src, `data-from="`, `"`))
		lines.Buffer(nil, 1<<20)
		for told := uint64(0); told < nth; {
			if !lines.Scan() {
				v.t.Fatalf("the stream ends before it tells of judgement %d: %v", nth, lines.Err())
			}
			var x struct{ Judged map[string]uint64 }
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				must(v.t, json.Unmarshal([]byte(data), &x))
				told = max(told, x.Judged[v.id])
			}
		}
		var regions map[string]string
		must(v.t, json.Unmarshal([]byte(v.get(from)), &regions))
		src = strings.Join(slices.Collect(maps.Values(regions)), "\n")
	}
	return src
}

// betweenOf is what stands between two marks; "": they aren't there.
func betweenOf(s, from, to string) string {
	_, s, _ = strings.Cut(s, from)
	s, _, _ = strings.Cut(s, to)
	return s
}

// forget drops what is held.
func (v *viewer) forget() {
	v.work.held.mu.Lock()
	defer v.work.held.mu.Unlock()
	v.work.held.of = nil
}

// BenchmarkFirstView tells how long the page of a build and of its plan take, of Brackwater with all of
// its groups measured: until it's to be seen, where nothing was judged yet, until all of it is
// there, and where it was judged ahead.
func BenchmarkFirstView(b *testing.B) {
	v := measuredPage(b, "../../testdata/brackwater", true)
	for _, path := range []string{"", "/plan", "/plan?at=group+cabin+windows"} {
		b.Run(fmt.Sprintf("%q/unjudged,first", path), func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				v.whole(path) // what is judged in the background doesn't go on into the next one
				v.forget()
				b.StartTimer()
				v.first(path)
			}
		})
		b.Run(fmt.Sprintf("%q/unjudged,whole", path), func(b *testing.B) {
			for b.Loop() {
				v.forget()
				v.whole(path)
			}
		})
		b.Run(fmt.Sprintf("%q/judged", path), func(b *testing.B) {
			v.whole(path)
			for b.Loop() {
				v.first(path)
			}
		})
	}
}

// What was found is held as long as every file that it's made of is as it was, byte for byte,
// and no longer: neither a file's time nor its length tells.
func TestFoundIsHeldWhileTheFilesAreTheSame(t *testing.T) {
	t.Parallel()
	v := measuredPage(t, "testdata/plans/gig", false)
	w, look := v.work, v.whole
	dir, home := w.only, t.TempDir()
	w.e.getenv = func(name string) string { return map[string]string{"SEALWORTHY_HOME": home}[name] }
	now := func() *judgedAs {
		t.Helper()
		w.held.mu.Lock()
		defer w.held.mu.Unlock()
		return w.held.of[dir]
	}
	unjudged := look("")
	held := now()
	for _, second := range []string{v.first(""), v.first("")} {
		if held == nil || now() != held || strings.Contains(second, "data-awaits") ||
			!strings.Contains(second, `<article class="closure`) ||
			!strings.Contains(unjudged, `<article class="closure`) {
			t.Fatal("it isn't held, or says something else")
		}
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

// That a closure was glued is taken where it's ready by the files as they are now, whatever an older page still
// offered.
func TestGluedIsTakenWhereItIsReady(t *testing.T) {
	t.Parallel()
	v := measuredPage(t, "testdata/plans/gig", false)
	glue := func() error {
		return v.work.Tell(t.Context(), v.id, page.Told{Kind: page.ToldGlued, Names: []string{"locker"}})
	}
	if err := glue(); err == nil || !strings.Contains(err.Error(),
		"locker isn't ready to close now, it is look first") {
		t.Errorf("before a look: %v", err)
	}
	f, err := record.ReadDir(v.work.only)
	must(t, err)
	if len(f.Notes) > 0 {
		t.Errorf("it's written down: %+v", f.Notes)
	}
}

// A closure of which something was touched after the glue isn't called glued any more; what is outside it is.
func TestGlueIsOverOnceItIsOpened(t *testing.T) {
	t.Parallel()
	v := measuredPage(t, "testdata/plans/gig", false)
	b, err := openBuild(quiet(), v.work.only)
	must(t, err)
	must(t, b.glued(quiet(), []string{"hull", "locker"}, nil))
	glued := func() (out []string) {
		o, err := v.work.Overview(t.Context(), v.id)
		must(t, err)
		return slices.Sorted(maps.Keys(o.Glued))
	}
	if got := glued(); !slices.Equal(got, []string{"hull", "locker"}) {
		t.Fatalf("glued: %v", got)
	}
	must(t, v.work.Tell(t.Context(), v.id, page.Told{Kind: page.ToldTouched, Names: []string{"bow lamps"}}))
	if got := glued(); !slices.Equal(got, []string{"locker"}) {
		t.Errorf("the hull was opened: %v", got)
	}
	must(t, b.glued(quiet(), []string{"hull"}, nil))
	if got := glued(); !slices.Equal(got, []string{"hull", "locker"}) {
		t.Errorf("glued anew: %v", got)
	}
}
