//go:build unix

package main

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// through answers whatever is asked as a maker does whose model is all right, until the
// test is over.
func (b *browser) through() {
	b.t.Helper()
	last := ""
	if !b.within(4*patience, func() bool {
		if b.text("[data-region=closures]") != "" {
			return true
		}
		kind, number := b.kind()
		if kind == "" || number == last {
			return false
		}
		last = number
		switch kind {
		case "look", "understood":
			b.tap(".ask button[data-choice=right]")
		case "touched":
			b.tap(".ask button[data-choice=nothing]")
		case "again":
			b.tap(".ask button[data-choice=next]")
		default:
			b.tap(".ask button[data-choice=done]")
		}
		return false
	}) {
		b.t.Fatalf("it doesn't end:\n%s", b.text("main"))
	}
}

// After READY: which part, as of when, and what comes next, each by one touch: its photo,
// the sheet, "I've glued it", and once it has cured the short retest; then both stages
// stand side by side.
func TestPageReady(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	b.through()
	b.await("[data-region=closures]", "hull: READY TO CLOSE")
	b.await(".ready h4", "hull is ready, as of "+time.Now().UTC().Format("2006-01-02"))
	for _, want := range []string{"Take its photo", "Print the sheet", "I've glued it", "A short recheck first"} {
		b.await(".ready", want)
	}
	b.shots(t, "ready")
	b.tap(`.ready form[action="/tell"] button`)
	b.await(".ready", "You glued it: "+time.Now().UTC().Format("2006-01-02"))
	b.shots(t, "glued")
	began := time.Now()
	b.tap(`.ready form[action="/begin"] button`)
	b.await("[data-region=running]", "Test of Tender")
	b.through()
	t.Logf("the short retest took %.0f s", time.Since(began).Seconds())
	b.await("[data-region=closures]", "hull: READY TO CLOSE")
	b.shots(t, "retested")
	f := mustBeWhole(t, p.dir)
	for _, s := range f.Kept() {
		if s.Stage == "closed" && len(s.Step.Sweep) > 0 {
			t.Errorf("%s is swept in the short retest", s.Step.Feed)
		}
	}
	b.tap("a.button") // go on with it
	b.await("main", "Stage by stage")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('img[src$=trend]').scrollIntoView()`))
	if !b.within(patience, func() bool {
		return evaluated[int64](b, `document.querySelector('img[src$=trend]').naturalWidth`) > 0
	}) {
		t.Error("no picture of the stages")
	}
	b.shots(t, "stages")
	build := "http://" + p.at + "/build/" + buildID(p.dir)
	b.do(chromedp.Navigate(build + "/sheet/label"))
	b.await("body", "polarity not stated")
	s := evaluated[string](b, `document.querySelector("svg").textContent`)
	if !strings.Contains(s, "5 V") || !strings.Contains(s, "Tender") {
		t.Errorf("the label says %q", s)
	}
	b.shots(t, "label")
}
