package page

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// foundFrom is what a test has found, and of which files.
type foundFrom struct {
	cs    []compare.ClosureFinding
	files string
}

func (f foundFrom) Findings() []compare.ClosureFinding { return f.cs }
func (f foundFrom) Files() string                      { return f.files }

// READY stands on a page only while the files that it was judged from are the present ones: on the page of the
// build and on that of the last test, before and after it's loaded again. While a test of it is under
// way nothing stands there.
func TestReadyIsWithdrawn(t *testing.T) {
	const ready, since = "READY TO CLOSE", "Changed since"
	w := &fakeWork{name: "launch", verdict: compare.ReadyToClose, files: "before"}
	x := newSite(t, w, swiftly)
	cookie := x.enter()
	get := func(path string) string {
		t.Helper()
		_, src := x.send(x.request("GET", path, "", cookie))
		return between(src, "<main", "</main>")
	}
	judgedBy := func(f func() (Findings, error)) {
		w.mu.Lock()
		w.judges = f
		w.mu.Unlock()
	}
	becomes := func(files string, v compare.ClosureVerdict) {
		w.mu.Lock()
		w.files, w.verdict = files, v
		w.mu.Unlock()
		x.s.lookAtAll(t.Context())
	}
	closures := func() string { r, _, _, _ := x.s.regions(); return r["closures"] }
	tested := func() {
		x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
		until(t, func() bool { _, _, d := w.count(); return d != nil })
	}

	open := get("/build/b1")
	if !strings.Contains(open, ready) || !strings.Contains(open, `data-files="before"`) {
		t.Fatalf("at first: %s", open)
	}
	becomes("touched", compare.NotSettled)
	if state, _ := x.s.present.all(); state["b1"] != "touched" {
		t.Errorf("it isn't told: %v", state)
	}
	anew := func() string {
		from := strings.ReplaceAll(between(open, `data-anew="`, `"`), "&amp;", "&")
		a, src := x.send(x.request("GET", from, "", cookie))
		if a.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s", from, a.Status)
		}
		return src
	}
	if got := anew(); !strings.Contains(got, since) || strings.Contains(got, ready) ||
		!strings.Contains(got, "NOT SETTLED") {
		t.Errorf("judged again: %s", got)
	}

	becomes("mended", compare.ReadyToClose)
	tested()
	for _, src := range []string{get("/build/b1"), anew()} {
		if strings.Contains(src, ready) || !strings.Contains(src, "A test of it is under way") {
			t.Errorf("under test: %s", src)
		}
	}
	_, _, d := w.count()
	d.Tell(session.Event{What: session.Found, Result: foundFrom{w.findings().Closures, "mended"}})
	x.s.bench.close()
	if src := get("/bench"); !strings.Contains(src, ready) || strings.Contains(src, since) {
		t.Fatalf("the last test: %s", src)
	}
	get("/build/b1")
	judgedBy(func() (Findings, error) { return Findings{}, fmt.Errorf("no plan any more") })
	becomes("broken", compare.ReadyToClose)
	for _, src := range []string{closures(), get("/bench"), get("/build/b1")} {
		if strings.Contains(src, ready) {
			t.Errorf("of other files: %s", src)
		}
	}
	if !strings.Contains(closures(), since) {
		t.Errorf("it isn't said: %s", closures())
	}
	judgedBy(nil)
	becomes("touched again", compare.NotSettled)
	until(t, func() bool { return strings.Contains(closures(), "NOT SETTLED") })
	becomes("and mended", compare.ReadyToClose)
	until(t, func() bool { return strings.Contains(closures(), ready) })
}

// Files that are written all the time are judged once they stand still; none is looked at beyond a bound, and a page
// of one that isn't is told so.
func TestFilesThatChange(t *testing.T) {
	p, now := newPresent(), time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)
	if p.saw("b", "0", false, now) || p.stillTrue("b", "0") {
		t.Error("what no page shows is looked at")
	}
	p.saw("b", "0", true, now)
	if p.stillTrue("b", underTest) || p.stillTrue("b", "") || !p.stillTrue("b", "0") {
		t.Error("what is true")
	}
	for i := range 2 * mostAgain {
		now = now.Add(lookedEvery)
		if !p.saw("b", fmt.Sprint("x", i), false, now) || p.saw("b", fmt.Sprint("x", i), false, now) {
			t.Error("a change isn't told once")
		}
	}
	if p.at("b").again <= mostAgain {
		t.Error("they are judged while they're written")
	}
	if p.saw("b", "still", true, now.Add(2*standStill)); p.at("b").again != 0 {
		t.Error("a change after a while isn't judged at once")
	}
	for i := range 2 * mostPresent {
		p.saw(fmt.Sprint(i), "1", true, now.Add(time.Duration(i+20)*time.Second))
	}
	if all, _ := p.all(); len(all) != mostPresent || p.stillTrue("b", "still") {
		t.Errorf("%d are looked at", len(all))
	}
}
