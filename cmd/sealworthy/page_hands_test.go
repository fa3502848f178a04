//go:build unix

package main

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sealworthy/capture"
)

// Hands free, a whole test: nothing is touched but the clip, where it can be felt. The page says sensing while it feels
// for it, powers nothing that it doesn't know, takes the groups in the order of the hands, goes off to solder by one
// touch, and asks for a tap where a feed draws nothing. What to do just then is the largest.
func TestPageHandsFree(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender", "stern light=reversed LED")
	hand := func(line string) {
		t.Helper()
		must(t, p.work.Hand(buildID(p.dir), line))
	}
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=hands]').checked = true`))
	b.tap(".orders button.first")
	b.await("#output", "SENSING")
	b.shots(t, "sensing")
	hand("resistor 330") // a wrong clip
	b.await(".ask", "fits nothing that is left: it isn't powered")
	b.await("#output", "OUTPUT OFF")
	b.shots(t, "fitsnone")
	hand("open")
	b.tap(`.ask button[data-choice=sense]`)
	b.await("#output", "SENSING")
	b.tap(`[data-hand] button[value="clip cabin lamps"]`)                     // the plan has the stern light first
	b.await(".ask", "It could be \"stern light\" or \"cabin lamps\": which?") // they draw alike
	b.await("#output", "OUTPUT OFF")
	b.shots(t, "which")
	b.tap(`.ask form[data-choice=pick] button[value="2"]`)
	b.await("[data-region=last]", "cabin lamps: in band")
	if s := b.text("[data-region=rows]"); !strings.Contains(s, "not measured") {
		t.Errorf("the stern light, too?\n%s", s)
	}
	b.await(".ask .do", "Take the clip off.")
	b.shots(t, "sense")
	b.tap(`[data-hand] button[value=open]`)
	b.await(".ask .do", `Clip the plus lead to "stern light".`)
	b.await("#output", "SENSING")
	b.tap(`.ask button.solder`)
	b.await("#output", "OUTPUT OFF")
	b.await(".ask", "solder")
	b.shots(t, "solder")
	b.do(chromedp.WaitEnabled(".ask button[data-enter]"), chromedp.KeyEvent(kb.Enter)) // a pedal types it
	b.await(".ask", "touch")
	b.tap(`.ask button[data-choice=nothing]`)
	b.await("#output", "SENSING")
	b.tap(`[data-hand] button[value="clip stern light"]`)
	b.await(".ask .do", "Nothing felt. Clip on? Tap its group.")
	b.shots(t, "nothingfelt")
	b.tap(`.ask button[data-choice=done]`)
	b.await(".ask .verdict", "stern light: low")
	b.shots(t, "low")
	for last := ""; b.text("[data-region=closures]") == ""; time.Sleep(50 * time.Millisecond) {
		if kind, number := b.kind(); kind != "" && number != last {
			last = number
			b.answers(kind, 2)
		}
	}
	b.await("[data-region=closures]", "hull: KEEP OPEN")
	b.await("[data-region=rows]", "low")
	b.await("#output", "NO TEST")
	f := mustBeWhole(t, p.dir)
	var order []string
	for _, s := range f.Steps {
		if s.Step.Kind == capture.Power && s.Outcome == capture.Measured {
			order = append(order, s.Step.Feed)
		}
	}
	if !slices.Equal(slices.Compact(order), []string{"cabin lamps", "stern light"}) {
		t.Errorf("measured: %q", order)
	}
}
