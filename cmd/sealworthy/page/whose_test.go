package page

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
)

// What stands above every page is of the test under way, and names it; whether a page's own build has a
// simulated bench stands beneath and apart. Neither is said of the other.
func TestWhoseBenchIsSimulated(t *testing.T) {
	const says = "SIMULATED BENCH"
	w := &fakeWork{name: "launch"}
	x := newSite(t, w)
	cookie := x.enter()
	parts := func(path string) (head, page string) {
		t.Helper()
		_, src := x.send(x.request("GET", path, "", cookie))
		return between(src, "<header>", "</header>"), between(src, "<main", "</main>")
	}
	begun := func(simulated bool) {
		t.Helper()
		w.mu.Lock()
		w.simulated, w.desk = simulated, nil
		w.mu.Unlock()
		x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
		until(t, func() bool { _, _, d := w.count(); return d != nil })
		_, _, d := w.count()
		d.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{Simulated: simulated}})
		w.mu.Lock()
		w.simulated = !simulated // what is looked at is another one
		w.mu.Unlock()
	}
	is := func(path string, inHead, inPage bool) {
		t.Helper()
		head, page := parts(path)
		if strings.Contains(head, says) != inHead || strings.Contains(page, says) != inPage {
			t.Errorf("%s: want it above %v, on the page %v:\n%s\n%s", path, inHead, inPage, head, page)
		}
	}
	begun(false)
	is("/build/b1", false, true)
	if head, _ := parts("/build/b1"); !strings.Contains(head, "Under test: <strong>launch</strong>") {
		t.Errorf("it isn't named: %s", head)
	}
	x.s.bench.close()
	begun(true)
	is("/build/b1", true, false)
	is("/bench", true, false)
	x.s.bench.close()
	is("/build/b1", false, false)
	is("/", false, false)
	is("/bench", false, true)
}

// A build is told from others by its latest photo of all of it, else by its latest.
func TestPhotoOfABuild(t *testing.T) {
	for want, all := range map[string][]Photo{
		"":    {{Name: "gone", Missing: "missing"}},
		"all": {{Name: "old"}, {Name: "all"}, {Name: "hull", Of: "hull"}, {Name: "gone", Missing: "changed"}},
		"bow": {{Name: "hull", Of: "hull"}, {Name: "bow", Of: "bow"}},
	} {
		if got := (Overview{Photos: all}).photo(); got != want {
			t.Errorf("%q of %+v, want %q", got, all, want)
		}
	}
}

// Who begins a second test is led to the one that is under way.
func TestBusyLeadsToTheTest(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	begin := func() (int, string) {
		a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
		return a.StatusCode, between(src, "<main", "</main>")
	}
	begin()
	if status, src := begin(); status != http.StatusConflict || !strings.Contains(src, `href="/bench">To the test`) {
		t.Errorf("%d: %s", status, src)
	}
}

// Simulated hands can press what a board's test asks for.
func TestHandsPressButtons(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	st := State{Running: true, Order: Order{Hands: true}, Feeds: []string{"bow"}, Buttons: []string{"lamp driver"}}
	got := x.s.write(st)["hands"]
	for _, want := range []string{`value="press lamp driver">press the button of lamp driver`, `value="together"`,
		`value="resistor 1000"`} { // what the proof of a bench asks for
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
}

// A test that was begun is offered to go on with, in sight, and told when it was; one that isn't there isn't.
func TestLastTestIsOffered(t *testing.T) {
	w := &fakeWork{name: "launch"}
	x := newSite(t, w)
	cookie := x.enter()
	orders := func() string {
		_, src := x.send(x.request("GET", "/build/b1", "", cookie))
		return between(between(src, `class="orders"`, "</form>"), ">", "<summary>More")
	}
	if got := orders(); strings.Contains(got, "go on with") {
		t.Errorf("before the first: %s", got)
	}
	w.past = []Past{{What: "told"},
		{At: time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC), What: "test", Stage: "fitted",
			Ended: "it broke off: stopped by the maker"}}
	const on = `value="resume"> go on with the last one: 2026-11-28 09:00 UTC, fitted; it broke off: stopped by the maker`
	if got := orders(); !strings.Contains(got, on) {
		t.Error(got)
	}
}
