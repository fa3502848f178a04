package page

import (
	"context"
	"encoding/json"
	"errors"
	"html"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"sealworthy/capture"
)

// fetched is what a page that waits gets from the address it was given.
func (x *site) fetched(page, cookie string) (regions map[string]string, status int) {
	x.t.Helper()
	from := html.UnescapeString(between(page, `data-from="`, `"`))
	r, src := x.send(x.request("GET", from, "", cookie))
	if r.StatusCode == http.StatusOK {
		if err := json.Unmarshal([]byte(src), &regions); err != nil {
			x.t.Fatalf("%s: %v: %s", from, err, src)
		}
	}
	return regions, r.StatusCode
}

// ended waits until the latest judgement of the build has ended.
func (x *site) ended() {
	x.s.judgements.mu.Lock()
	j := x.s.judgements.byID["b1"]
	x.s.judgements.mu.Unlock()
	<-j.done
}

// What can't be judged is said where the verdicts would stand; it isn't tried again by itself, nor is
// what was judged once while the record goes on.
func TestWhatComesOfAJudgement(t *testing.T) {
	let := make(chan struct{})
	var made atomic.Int32
	var failure atomic.Bool
	w := &fakeWork{name: "launch"}
	w.judges = func() (Findings, error) {
		made.Add(1)
		<-let
		if failure.Load() {
			return Findings{}, errors.New("the bench burned")
		}
		return *w.findings(), nil
	}
	x := newSite(t, w)
	cookie := x.enter()
	look := func() string { _, src := x.send(x.request("GET", "/build/b1", "", cookie)); return src }
	first, second := look(), look()
	for _, src := range []string{first, second} {
		if !strings.Contains(src, "Working out what the readings say") || !strings.Contains(src, `id="stop"`) ||
			strings.Contains(src, `class="closure`) || !strings.Contains(src, `<a href="">load the page again</a>`) {
			t.Fatalf("before it's judged: %s", src)
		}
	}
	if early, _ := x.fetched(first, cookie); !strings.Contains(early["awaited"], "Working out") ||
		early["known"] != "" || made.Load() != 1 {
		t.Errorf("before it's judged %d times it's told: %v", made.Load(), early)
	}
	close(let)
	x.ended()
	for _, src := range []string{first, second} {
		if got, _ := x.fetched(src, cookie); !strings.Contains(got["known"], "launch: <strong>KEEP OPEN") ||
			!strings.Contains(got["awaited"], "is worked out") || !strings.Contains(got["expected"], "launch") {
			t.Errorf("after that: %v", got)
		}
	}
	failure.Store(true)
	third := look()
	x.ended()
	for range 3 {
		if got, _ := x.fetched(third, cookie); !strings.Contains(got["awaited"],
			"can't be worked out: the bench burned") ||
			got["known"] != "" {
			t.Errorf("what fails: %v", got)
		}
	}
	if n := made.Load(); n != 2 {
		t.Errorf("judged %d times", n)
	}
	if _, status := x.fetched(strings.ReplaceAll(third, "b1", "b2"), cookie); status == http.StatusOK {
		t.Error("what is no build is judged")
	}
}

// No more is held than a bound, however many builds are looked at.
func TestJudgementsAreBounded(t *testing.T) {
	x := newJudgements(t.Context(), &fakeWork{}, func(context.Context, string) string { return "" })
	for i := range 3 * mostJudged {
		<-x.begin(string(rune('A' + i))).done
	}
	if n := len(x.byID); n > mostJudged {
		t.Errorf("%d are held", n)
	}
}

// A plan's page is shown before anything is judged; what was found is offered once it's known, and made
// only of the draft that the page shows.
func TestPlanOffersOnceItIsJudged(t *testing.T) {
	x := newPlanSite(t, PlanKnown{Measured: map[string]int{"bow": 3}})
	x.plans.known.Findings = nil
	let := make(chan struct{})
	x.work.judges = func() (Findings, error) {
		<-let
		return Findings{Offers: []Offer{{Edit: "group.stern.lights[0].segments = 4", For: "stern"}}}, nil
	}
	_, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie))
	if !strings.Contains(src, "Working out") || strings.Contains(src, "fits a change") {
		t.Fatalf("before it's judged: %s", between(src, "<main", "</main>"))
	}
	close(let)
	x.ended()
	if got, _ := x.fetched(src, x.cookie); !strings.Contains(got["offers"], "group stern: segments 4") {
		t.Errorf("it's offered: %v", got)
	}
	x.does("offer", "edit", "group.stern.lights[0].segments = 4")
	if got, _ := x.fetched(src, x.cookie); got["offers"] != "" {
		t.Errorf("of another draft it's offered: %v", got)
	}
}

// A test begins without waiting for what was found before it; that joins what the test has found since.
func TestATestBeginsBeforeItIsJudged(t *testing.T) {
	let := make(chan struct{})
	w := &fakeWork{name: "launch"}
	w.judges = func() (Findings, error) { <-let; return *w.findings(), nil }
	x := newSite(t, w)
	a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure", x.enter()))
	if a.StatusCode != http.StatusSeeOther {
		t.Fatalf("%d: %s", a.StatusCode, src)
	}
	x.s.watch.change(func(s *State) { s.row(Row{Said: capture.Said{Group: "bow", Verdict: "in band"}}) })
	close(let)
	for {
		x.s.watch.mu.Lock()
		rows, changed := x.s.watch.state.Rows, x.s.watch.changed
		x.s.watch.mu.Unlock()
		if len(rows) < 2 {
			<-changed
			continue
		}
		if rows[0].Group != "launch" || !rows[0].Earlier || rows[1].Group != "bow" || rows[1].Earlier {
			t.Errorf("%+v", rows)
		}
		break
	}
}
