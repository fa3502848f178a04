package page

import (
	"errors"
	"html"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// lastTest is a site on which a test of its build has ended with what was found of it, from its files.
func lastTest(t *testing.T, w *fakeWork) (x *site, cookie string) {
	t.Helper()
	x = newSite(t, w, swiftly)
	cookie = x.enter()
	x.send(x.request("GET", "/build/b1", "", cookie))
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	_, _, d := w.count()
	f := w.findings()
	d.Tell(session.Event{What: session.Found, Result: foundFrom{f.Closures, f.Files}})
	x.s.bench.close()
	x.s.lookAtAll(t.Context())
	return x, cookie
}

// becomes changes the files of the build, and has them looked at.
func (x *site) becomes(files string, unread error) {
	x.work.mu.Lock()
	x.work.files, x.work.unread = files, unread
	x.work.mu.Unlock()
	x.s.lookAtAll(x.t.Context())
}

func (x *site) closures() string { r, _, _, _ := x.s.regions(); return r["closures"] }

// judged waits until no judgement is under way nor followed by another.
func (x *site) judged(made *atomic.Int32) int32 {
	x.t.Helper()
	was := made.Load()
	for settled := 0; settled < 20; settled++ {
		x.ended()
		time.Sleep(time.Millisecond)
		if n := made.Load(); n != was {
			was, settled = n, 0
		}
		if was > 100 {
			x.t.Fatal("it is judged without end")
		}
	}
	return was
}

// Files that can't all be read are judged by nobody: what was found is withdrawn with the reason, and judged once when
// they can be read. One that couldn't be read only while it was judged is judged again at the next look, no sooner.
func TestWhatCantBeReadIsJudgedOnceItCan(t *testing.T) {
	var made atomic.Int32
	var lost atomic.Bool
	w := &fakeWork{name: "launch", verdict: compare.ReadyToClose, files: "before"}
	w.judges = func() (Findings, error) {
		made.Add(1)
		f := *w.findings()
		if lost.Load() {
			f.Files = ""
		}
		return f, nil
	}
	x, _ := lastTest(t, w)
	if !strings.Contains(x.closures(), "READY TO CLOSE") {
		t.Fatalf("the last test: %s", x.closures())
	}
	lost.Store(true)
	n := x.judged(&made)
	x.becomes("before", errors.New("priors.toml is locked"))
	if more := x.judged(&made) - n; more != 0 {
		t.Errorf("unread it's judged %d times", more)
	}
	if c := x.closures(); strings.Contains(c, "READY TO CLOSE") || strings.Contains(c, "judged again") ||
		!strings.Contains(html.UnescapeString(c), "can't be judged now: not all files in its folder can be read") {
		t.Errorf("unread: %s", c)
	}
	x.becomes("others", nil) // and one goes while it's judged
	if more := x.judged(&made) - n; more != 1 {
		t.Errorf("one that goes is judged %d times before it's looked at again", more)
	}
	lost.Store(false)
	x.s.lookAtAll(t.Context())
	until(t, func() bool { return strings.Contains(x.closures(), "READY TO CLOSE") })
}

// What couldn't be judged of files as they were isn't said of them as they are.
func TestAnOldErrorIsntSaidOfNewFiles(t *testing.T) {
	broken := errors.New("priors.toml is broken")
	var fails atomic.Bool
	w := &fakeWork{name: "launch", verdict: compare.ReadyToClose, files: "broken"}
	w.judges = func() (Findings, error) {
		if fails.Load() {
			return Findings{}, broken
		}
		return *w.findings(), nil
	}
	fails.Store(true)
	x := newSite(t, w)
	cookie := x.enter()
	_, src := x.send(x.request("GET", "/build/b1", "", cookie))
	x.ended()
	if got, _ := x.fetched(src, cookie); !strings.Contains(got["awaited"], broken.Error()) {
		t.Fatalf("broken: %v", got)
	}
	fails.Store(false)
	x.becomes("mended", nil)
	_, src = x.send(x.request("GET", html.UnescapeString(between(src, `data-anew="`, `"`)), "", cookie))
	if strings.Contains(src, broken.Error()) || !strings.Contains(src, "Working out") {
		t.Fatalf("mended: %s", src)
	}
	x.ended()
	_, src = x.send(x.request("GET", "/build/b1/judged?nth=0", "", cookie))
	if !strings.Contains(src, "READY TO CLOSE") {
		t.Errorf("judged: %s", src)
	}
}

// What was told to be glued since the test isn't offered to be glued beside what it found.
func TestGlueIsntOfferedTwiceAfterATest(t *testing.T) {
	w := &fakeWork{name: "launch", verdict: compare.ReadyToClose, files: "before"}
	x, _ := lastTest(t, w)
	if c := html.UnescapeString(x.closures()); !strings.Contains(c, "I've glued it") {
		t.Fatalf("before the glue: %s", c)
	}
	w.mu.Lock()
	w.glued = Glued{"launch": time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)}
	w.mu.Unlock()
	x.becomes("with the glue", nil)
	until(t, func() bool { return strings.Contains(x.closures(), "GLUED") })
	if c := html.UnescapeString(x.closures()); strings.Contains(c, "I've glued it") {
		t.Errorf("after it: %s", c)
	}
}
